//! Runs ended at every step that changes a folder: what is there afterwards, and after the next run.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, exit};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::{Whole, replace_file, settle};

const AT: &str = "SETTLAY_TEST_ENDS_AT";
const PLACE: &str = "SETTLAY_TEST_PLACE";
const ENDED: i32 = 99;

/// Ends a run that was begun by [`ended_at_every_moment`], when its moment has come: nothing is tidied up.
pub(super) fn moment() {
    static ENDS_AT: OnceLock<Option<usize>> = OnceLock::new();
    static PASSED: AtomicUsize = AtomicUsize::new(1);
    let Some(at) = *ENDS_AT.get_or_init(|| std::env::var(AT).ok().and_then(|n| n.parse().ok())) else {
        return;
    };
    if PASSED.fetch_add(1, Ordering::SeqCst) == at {
        exit(ENDED);
    }
}

/// The place a run that is ended works in; `None` in a run of the tests themselves.
pub fn place() -> Option<std::path::PathBuf> {
    std::env::var_os(PLACE).map(Into::into)
}

/// Runs the ignored test `child` in a process of its own on a place that `prepare` makes, ended at its first moment, then at
/// its second and so on until it ends by itself; `look` looks at the place each time. Gives how many moments there were.
pub fn ended_at_every_moment(child: &str, prepare: &dyn Fn(&Path), look: &dyn Fn(&Path)) -> usize {
    for n in 1..2000 {
        let place = tempfile::tempdir().unwrap();
        prepare(place.path());
        let run = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", child, "--ignored", "--test-threads", "1"])
            .env(AT, n.to_string())
            .env(PLACE, place.path())
            .output()
            .unwrap();
        look(place.path());
        match run.status.code() {
            Some(ENDED) => {}
            Some(0) => return n - 1,
            code => {
                panic!("{child} ended with {code:?} at moment {n}: {}", String::from_utf8_lossy(&run.stdout))
            }
        }
    }
    panic!("{child} never ends by itself");
}

/// Every file in a folder by its name, but for what lies in hidden places of ours.
fn files(root: &Path) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    let mut open = vec![root.to_owned()];
    while let Some(folder) = open.pop() {
        for path in fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
            if path.file_name().unwrap().to_string_lossy().starts_with(".settlay-") {
                continue;
            }
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
                found.insert(name, fs::read_to_string(&path).unwrap());
            }
        }
    }
    found
}

/// True when nothing hidden of ours is left in a place.
fn is_tidy(place: &Path) -> bool {
    let hidden = |p: &Path| {
        fs::read_dir(p).unwrap().any(|e| e.unwrap().file_name().to_string_lossy().starts_with(".settlay-"))
    };
    !(hidden(place) || place.join("out").is_dir() && hidden(&place.join("out")))
}

fn filled(word: &str, names: &[&str]) -> Whole {
    let mut whole = Whole::new();
    names.iter().for_each(|n| whole.add(*n, format!("{word} {n}")));
    whole
}

const OLD: [&str; 5] =
    ["plan.json", "done.json", "cut/a-pass-1.svg", "cut/a-pass-2.svg", "keys/a-pass-2.svg"];

/// The change that is made: two files are replaced, two go, one with its folder, and one comes.
fn changed() -> Whole {
    let mut whole = filled("new", &["plan.json", "done.json", "cut/a-pass-1.svg", "sewing/hooping-1.svg"]);
    whole.replace("cut/a-pass-2.svg");
    whole.replace("keys/a-pass-2.svg");
    whole
}

#[test]
#[ignore = "run by the others, in a process that is ended"]
fn changes_a_folder() {
    if let Some(place) = place() {
        changed().move_in(&place.join("out")).unwrap();
    }
}

#[test]
#[ignore = "run by the others, in a process that is ended"]
fn replaces_a_file() {
    if let Some(place) = place() {
        replace_file(&place.join("out/plan.json"), b"new plan.json").unwrap();
    }
}

/// Old or new and nothing between, at every moment when `in_one_step`, and in any case after the next run.
fn old_or_new(child: &str, prepare: &dyn Fn(&Path), in_one_step: bool) -> usize {
    let (before, after) = {
        let place = tempfile::tempdir().unwrap();
        prepare(place.path());
        let before = files(place.path());
        match child.rsplit("::").next() {
            Some("replaces_a_file") => {
                replace_file(&place.path().join("out/plan.json"), b"new plan.json").unwrap()
            }
            _ => drop(changed().move_in(&place.path().join("out")).unwrap()),
        }
        (before, files(place.path()))
    };
    assert_ne!(before, after);
    let seen = std::cell::RefCell::new([0; 2]);
    let moments = ended_at_every_moment(child, prepare, &|place| {
        let now = files(place);
        assert!(
            !before.contains_key("out/done.json") || now.contains_key("out/done.json"),
            "the record is always there"
        );
        assert!(!in_one_step || now == before || now == after, "{now:?}");
        settle(&place.join("out")).unwrap();
        let now = files(place);
        assert!(now == before || now == after, "{now:?}");
        assert!(is_tidy(place), "something is left behind");
        seen.borrow_mut()[usize::from(now == after)] += 1;
        assert!(settle(&place.join("out")).unwrap().is_empty(), "told once");
    });
    let seen = seen.into_inner();
    assert!(seen[0] > 1 && seen[1] > 1, "the old one and the new one were both seen: {seen:?}");
    moments
}

const CHANGES: &str = "files::kill_tests::changes_a_folder";

#[test]
fn a_folder_that_is_new() {
    old_or_new(CHANGES, &|_| {}, true);
}

#[test]
#[cfg(unix)]
fn a_folder_of_ours_and_of_few_files_of_the_makers() {
    let prepare = |place: &Path| {
        filled("old", &OLD).move_in(&place.join("out")).unwrap();
        fs::write(place.join("out/cut/notes.txt"), "mine").unwrap();
        fs::write(place.join("out/lay.png"), "of the same plan").unwrap();
        fs::create_dir_all(place.join("out/photographs/of/the work")).unwrap();
        fs::write(place.join("out/photographs/of/the work/list.txt"), "mine").unwrap();
    };
    // Where the disk knows no exchange, the journal does it.
    let here = tempfile::tempdir().unwrap();
    let two = ["a", "b"].map(|n| here.path().join(n));
    two.iter().for_each(|p| fs::create_dir(p).unwrap());
    let can = super::system::exchange(&two[0], &two[1]).is_ok();
    old_or_new(CHANGES, &prepare, can);
}

#[test]
fn a_folder_that_a_maker_keeps_more_in() {
    let prepare = |place: &Path| {
        filled("old", &OLD).move_in(&place.join("out")).unwrap();
        // A folder with nothing in it cannot be had in two places.
        fs::create_dir(place.join("out/photographs")).unwrap();
    };
    let moments = old_or_new(CHANGES, &prepare, false);
    assert!(moments >= 30, "every file is a step: {moments}");
}

#[test]
fn a_single_file() {
    let prepare = |place: &Path| drop(filled("old", &OLD).move_in(&place.join("out")).unwrap());
    old_or_new("files::kill_tests::replaces_a_file", &prepare, true);
}
