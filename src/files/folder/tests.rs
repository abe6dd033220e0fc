use super::*;

fn place() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

fn files(names: &[&str]) -> Whole {
    let mut whole = Whole::new();
    names.iter().for_each(|n| whole.add(*n, format!("new {n}")));
    whole
}

/// Everything in the place: path → content; folders end in `/`.
fn all(root: &Path) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    let mut open = vec![root.to_owned()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
            let path = entry.path();
            let name = path.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
            if path.is_dir() {
                found.insert(format!("{name}/"), String::new());
                open.push(path);
            } else {
                found.insert(name, fs::read_to_string(&path).unwrap());
            }
        }
    }
    found
}

#[test]
fn a_new_folder_appears_with_its_parents_and_nothing_else() {
    let place = place();
    let out = place.path().join("deep/er/out");
    let paths = files(&["plan.json", "cut/a.svg"]).move_in(&out).unwrap();
    assert_eq!(paths, [out.join("cut/a.svg"), out.join("plan.json")]);
    let names: Vec<_> = all(place.path()).into_keys().collect();
    assert_eq!(
        names,
        [
            "deep/",
            "deep/er/",
            "deep/er/out/",
            "deep/er/out/cut/",
            "deep/er/out/cut/a.svg",
            "deep/er/out/plan.json"
        ]
    );
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let probe = place.path().join("probe");
        fs::write(&probe, "").unwrap();
        fs::create_dir(place.path().join("folder")).unwrap();
        let mode = |p: &Path| fs::metadata(p).unwrap().permissions().mode();
        assert_eq!(mode(&out.join("plan.json")), mode(&probe), "as any other file of the maker's");
        assert_eq!(mode(&out), mode(&place.path().join("folder")));
    }
}

#[test]
fn files_of_an_earlier_plan_go_and_the_makers_own_stay() {
    for notes in [false, true] {
        let place = place();
        let out = place.path().join("out");
        files(&["plan.json", "cut/a.svg", "cut/a-pass-3.svg"]).move_in(&out).unwrap();
        if notes {
            fs::write(out.join("cut/my notes.txt"), "keep").unwrap();
        }
        let mut next = files(&["plan.json", "cut/a.svg"]);
        next.replace("cut/a-pass-3.svg");
        next.replace("cut/never-there.svg");
        next.move_in(&out).unwrap();
        let found = all(place.path());
        assert!(!found.contains_key("out/cut/a-pass-3.svg"));
        assert_eq!(found.get("out/cut/my notes.txt").map(String::as_str), notes.then_some("keep"));
        assert_eq!(found.len(), 4 + usize::from(notes), "{found:?}");
    }
}

#[test]
fn a_strangers_file_of_another_name_is_never_taken() {
    let place = place();
    let out = place.path().join("out");
    fs::create_dir(&out).unwrap();
    fs::write(out.join("cut-list.txt"), "mine").unwrap();
    files(&["plan.json"]).move_in(&out).unwrap();
    assert_eq!(all(place.path())["out/cut-list.txt"], "mine");
    assert_eq!(all(place.path())["out/plan.json"], "new plan.json");
}

#[test]
fn when_something_is_in_the_way_nothing_changes() {
    let cases: [fn(&Path); 4] = [
        |out| fs::write(out, "a file").unwrap(),
        |out| fs::create_dir_all(out.join("plan.json/inside")).unwrap(),
        |out| {
            fs::create_dir(out).unwrap();
            fs::write(out.join("cut"), "a file").unwrap();
        },
        |out| {
            fs::write(out.with_file_name("other"), "").unwrap();
            #[cfg(unix)]
            std::os::unix::fs::symlink("leads nowhere", out).unwrap();
            #[cfg(not(unix))]
            fs::write(out, "a file").unwrap();
        },
    ];
    for prepare in cases {
        let place = place();
        let out = place.path().join("out");
        prepare(&out);
        let listing =
            || fs::read_dir(place.path()).unwrap().map(|e| e.unwrap().file_name()).collect::<BTreeSet<_>>();
        let before = listing();
        let trouble = files(&["plan.json", "cut/a.svg"]).move_in(&out).unwrap_err();
        assert!(!trouble.what.is_empty() && trouble.about.contains("out"), "{trouble}");
        assert_eq!(listing(), before);
    }
    let place = place();
    fs::write(place.path().join("file"), "").unwrap();
    assert!(files(&["plan.json"]).move_in(&place.path().join("file/out")).is_err());
    assert!(files(&["plan.json"]).move_in(Path::new("")).is_err());
}

#[test]
fn a_move_that_fails_half_way_is_undone() {
    let place = place();
    let out = place.path().join("out");
    fs::create_dir(&out).unwrap();
    for name in ["a.txt", "gone.txt", "plan.json", "notes"] {
        fs::write(out.join(name), format!("old {name}")).unwrap();
    }
    let before = all(&out);
    let mut whole = files(&["a.txt", "b/c.txt", "plan.json"]);
    whole.replace("gone.txt");
    let staging = Staging::within(&out).unwrap();
    whole.write_to(&staging.new_folder(), &out).unwrap();
    let kept = whole.keep_old(&staging, &out).unwrap();
    assert_eq!(kept, ["a.txt", "plan.json", "gone.txt"]);
    let journal = Journal::new(Way::FileByFile, whole.coming(), whole.going(), kept);
    journal.write(&staging).unwrap();
    fs::remove_file(staging.new_folder().join("plan.json")).unwrap();
    fs::remove_file(out.join("plan.json")).unwrap();
    assert!(journal.forward(&staging, &out).is_err(), "a file is gone that should come");
    assert!(out.join("b/c.txt").exists());
    // Undone twice, as when the first time was cut off.
    journal.back(&staging, &out).unwrap();
    journal.back(&staging, &out).unwrap();
    drop(staging);
    assert_eq!(all(&out), before);
}

#[cfg(unix)]
#[test]
fn what_came_at_the_last_moment_is_brought_over() {
    let place = place();
    let (old, out) = (place.path().join("old"), place.path().join("out"));
    for folder in ["cut", "late", "sewing"] {
        fs::create_dir_all(old.join(folder)).unwrap();
    }
    fs::create_dir_all(out.join("cut")).unwrap();
    for (name, text) in [
        ("plan.json", "old"),
        ("cut/mine.txt", "changed"),
        ("late/new.txt", "came"),
        ("sewing/hooping-1.svg", "goes"),
        ("same.txt", "same"),
    ] {
        fs::write(old.join(name), text).unwrap();
    }
    fs::hard_link(old.join("same.txt"), out.join("same.txt")).unwrap();
    fs::write(out.join("plan.json"), "new").unwrap();
    fs::write(out.join("cut/mine.txt"), "as it was").unwrap();
    // The maker has saved these anew since, in the new folder, and taken one away there.
    let mut kept = journal::Kept::new();
    for name in ["saved.txt", "taken away.txt", "same.txt"] {
        fs::write(old.join(name), "same").unwrap();
        kept.extend(system::identity(&old.join(name)).map(|i| (name.to_owned(), i)));
    }
    fs::write(out.join("saved.txt"), "saved anew").unwrap();
    one_step::bring_over(&old, &out, &BTreeSet::from(["plan.json", "sewing/hooping-1.svg"]), &kept).unwrap();
    let found = all(&out);
    let texts: Vec<_> =
        ["plan.json", "cut/mine.txt", "late/new.txt", "same.txt"].map(|n| found[n].as_str()).into();
    assert_eq!(texts, ["new", "changed", "came", "same"]);
    assert!(!out.join("sewing").exists() && !out.join("taken away.txt").exists());
    assert_eq!(found["saved.txt"], "saved anew");
}
