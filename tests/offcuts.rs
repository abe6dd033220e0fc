//! The offcut shelf, as a maker uses it: whole runs of the program, many at once, some of them killed.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use assert_cmd::cargo::CommandCargoExt;
use serde_json::{Value, json};

struct Ended {
    code: Option<i32>,
    out: String,
    err: String,
}

fn settlay(folder: &Path, words: &[&str]) -> Ended {
    let out = Command::cargo_bin("settlay").unwrap().current_dir(folder).args(words).output().unwrap();
    let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
    Ended { code: out.status.code(), out: text(out.stdout), err: text(out.stderr) }
}

fn done(folder: &Path, words: &[&str]) -> String {
    let ended = settlay(folder, words);
    assert_eq!(ended.code, Some(0), "{words:?}\n{}\n{}", ended.out, ended.err);
    ended.out
}

fn refused(folder: &Path, words: &[&str], code: i32, part: &str) {
    let ended = settlay(folder, words);
    assert_eq!(ended.code, Some(code), "{words:?}\n{}\n{}", ended.out, ended.err);
    assert!(ended.err.contains(part), "{words:?}: {}", ended.err);
}

fn cloth(width: f64) -> Value {
    json!({ "name": "fen", "outline_mm": [[0, 0], [width, 0], [width, 210], [0, 200]], "weight_g_per_m2": 300,
        "weave": "twill-z" })
}

fn shelf(folder: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(folder.join("offcuts.json")).unwrap()).unwrap()
}

fn ids(shelf: &Value) -> BTreeSet<String> {
    let all = shelf["offcuts"].as_array().unwrap();
    all.iter().map(|o| o["id"].as_str().unwrap().to_owned()).collect()
}

fn adding(folder: &Path) -> Child {
    Command::cargo_bin("settlay")
        .unwrap()
        .current_dir(folder)
        .args(["offcuts", "--shelf", ".", "add", "fen.json", "--json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

#[test]
fn two_hundred_runs_at_once_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("fen.json"), cloth(300.0).to_string()).unwrap();
    let runs: Vec<Child> = (0..200).map(|_| adding(folder.path())).collect();
    let mut told = BTreeSet::new();
    for run in runs {
        let out = run.wait_with_output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        let added: Value = serde_json::from_slice(&out.stdout).unwrap();
        assert!(told.insert(added[0]["id"].as_str().unwrap().to_owned()), "an id given twice");
    }
    let shelf = shelf(folder.path());
    assert_eq!((shelf["offcuts"].as_array().unwrap().len(), ids(&shelf)), (200, told));
}

#[test]
fn fifty_kills_in_mid_write_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("fen.json"), cloth(300.0).to_string()).unwrap();
    done(at, &["offcuts", "--shelf", ".", "add", "fen.json"]);
    // A shelf long enough that writing it takes a while.
    let mut long = shelf(at);
    let first = long["offcuts"][0].clone();
    for k in 2..=500 {
        let mut next = first.clone();
        next["id"] = format!("fen-{k}").into();
        long["offcuts"].as_array_mut().unwrap().push(next);
    }
    std::fs::write(at.join("offcuts.json"), long.to_string()).unwrap();
    let began = Instant::now();
    done(at, &["offcuts", "--shelf", ".", "add", "fen.json"]);
    let whole = began.elapsed();
    let mut safe = ids(&shelf(at));
    assert_eq!(safe.len(), 501);
    let (mut killed, mut torn) = (0, 0);
    for k in 0..50 {
        let mut run = adding(at);
        std::thread::sleep(whole.mul_f64(0.2 + 1.0 * f64::from(k) / 50.0));
        killed += u32::from(run.try_wait().unwrap().is_none());
        let _ = run.kill();
        let out = run.wait_with_output().unwrap();
        if out.status.success() {
            let added: Value = serde_json::from_slice(&out.stdout).unwrap();
            safe.insert(added[0]["id"].as_str().unwrap().to_owned());
        }
        torn += usize::from(names(at).iter().any(|n| n.starts_with(".offcuts.json.new-")));
        let now = ids(&shelf(at));
        assert!(now.is_superset(&safe), "kill {k} lost {:?}", safe.difference(&now));
        // A run killed between writing and telling has kept its offcut all the same.
        safe = now;
    }
    println!("{killed} killed, {torn} of them in mid-write");
    assert!(killed > 0, "no run was killed: the machine was too quick");
    done(at, &["offcuts", "--shelf", ".", "add", "fen.json"]);
    assert!(names(at).iter().all(|n| !n.starts_with('.')), "{:?}", names(at));
    assert!(ids(&shelf(at)).is_superset(&safe));
}

fn names(folder: &Path) -> Vec<String> {
    std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect()
}

/// A checked cloth, three pieces in step, one of them with a window.
fn job(folder: &Path) -> PathBuf {
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='500mm' height='400mm' viewBox='0 0 500 400'>\
        <g id='wave'><path id='one' d='M10 10h150v90h-150z'/><path id='two' d='M180 30h120v140h-120z'/></g>\
        <path id='ring' fill-rule='evenodd' d='M40 180h200v180h-200z M80 210v120h120v-120z'/></svg>";
    std::fs::write(folder.join("leaf.svg"), svg).unwrap();
    let job = json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
        "cloths": [{ "name": "fen", "width_mm": 700, "length_mm": 900, "edge_mm": 10, "weave": "twill-z",
            "weight_g_per_m2": 300, "flaws_mm": [[[600, 700], [620, 700], [620, 720], [600, 720]]],
            "pattern": { "warp": "N/6 G24 W4 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18, "skew_mm_per_m": 12,
                "origin_mm": [35, 20] } }],
        "pieces": [
            { "select": { "layer": "wave" }, "cloth": "fen", "match": "drawn", "group": "wave", "allowance_mm": 1.5 },
            { "select": { "id": "*" }, "cloth": "fen" }],
        "cutter": { "bed_mm": [900, 800], "feed": "along-y" }, "lay": { "gap_mm": 3, "effort": 1 } });
    let path = folder.join("leaf.job.json");
    std::fs::write(&path, job.to_string()).unwrap();
    path
}

#[test]
fn a_plans_leftovers_lie_on_the_shelf_with_their_pattern_in_step() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at);
    done(at, &["plan", "leaf.job.json", "--out", "leaf"]);
    let said = done(at, &["offcuts", "--shelf", "s", "add", "--plan", "leaf", "--place", "drawer 2"]);
    assert!(said.contains("fen-1") && said.contains("discarded: "), "{said}");
    let plan: Value = serde_json::from_slice(&std::fs::read(at.join("leaf/plan.json")).unwrap()).unwrap();
    let shelf = shelf(&at.join("s"));
    let first = &shelf["offcuts"][0];
    // The offcut's frame begins at the lower left corner of its box on the cloth: the pattern's origin moved by that.
    let outline = plan["cloths"][0]["offcuts"][0]["outline"].as_array().unwrap();
    let least = |k: usize| outline.iter().map(|p| p[k].as_f64().unwrap()).fold(f64::INFINITY, f64::min);
    for (k, given) in [35.0, 20.0].into_iter().enumerate() {
        let origin = first["cloth"]["pattern"]["origin_mm"][k].as_f64().unwrap();
        assert!((origin - (given - least(k))).abs() < 0.5, "{origin} of {given} less {}", least(k));
    }
    assert_eq!(first["place"], "drawer 2");
    let picture = at.join("s").join(first["picture"].as_str().unwrap());
    usvg::Tree::from_data(&std::fs::read(picture).unwrap(), &usvg::Options::default()).unwrap();
    // What is kept, cut and discarded is the whole cloth.
    let sum: f64 = shelf["offcuts"].as_array().unwrap().iter().map(|o| o["area_mm2"].as_f64().unwrap()).sum();
    let pieces = plan["cloths"][0]["pieces_area_mm2"].as_f64().unwrap();
    let discarded: f64 =
        said.split("discarded: ").nth(1).unwrap().split(" m²").next().unwrap().parse().unwrap();
    assert!((sum + pieces + discarded * 1e6 - 700.0 * 900.0).abs() < 600.0, "{sum} {pieces} {discarded}");
    refused(at, &["offcuts", "--shelf", "s", "add", "--plan", "leaf"], 1, "on it already");
}

#[test]
fn an_offcut_is_found_taken_and_laid_on() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at);
    for (outline, origin) in [
        ("0,0 240,0 240,150 0,150", "10,10"),
        ("0,0 900,0 900,800 0,800", "-20,15"),
        ("0,0 600,0 600,420 0,420", "5,5"),
    ] {
        let words = [
            "offcuts",
            "--shelf",
            "s",
            "add",
            "--job",
            "leaf.job.json",
            "--outline",
            outline,
            "--origin",
            origin,
        ];
        done(at, &words);
    }
    let found: Value =
        serde_json::from_str(&done(at, &["offcuts", "--shelf", "s", "find", "leaf.job.json", "--json"]))
            .unwrap();
    let whole = found[0]["whole"].as_array().unwrap();
    let fits: Vec<(&str, bool)> =
        whole.iter().map(|f| (f["id"].as_str().unwrap(), f["laid"].as_bool().unwrap())).collect();
    assert_eq!(fits, [("fen-3", true), ("fen-2", true)], "the least left over first");
    assert_eq!(found[0]["part"][0]["id"], "fen-1");
    assert!(found[0]["part"][0]["pieces"].as_u64().unwrap() < 3);
    done(
        at,
        &[
            "offcuts",
            "--shelf",
            "s",
            "take",
            "fen-3",
            "--for",
            "Leaf",
            "--job",
            "leaf.job.json",
            "--out",
            "from-shelf.job.json",
        ],
    );
    let planned = done(at, &["plan", "from-shelf.job.json", "--out", "from-shelf"]);
    assert!(planned.contains("fen-3"), "{planned}");
    refused(at, &["offcuts", "--shelf", "s", "take", "fen-3"], 1, "taken for Leaf");
    assert!(!done(at, &["offcuts", "--shelf", "s", "list"]).contains("fen-3"));
    assert!(done(at, &["offcuts", "--shelf", "s", "list", "--all"]).contains("taken for Leaf"));
    done(at, &["offcuts", "--shelf", "s", "take", "fen-3", "--back"]);
    let weight = done(at, &["offcuts", "--shelf", "s", "take", "fen-1", "--discard"]);
    assert!(weight.contains("discarded: 11 g"), "0.036 m² of 300 g/m²: {weight}");
}

/// The words of older programs are still understood: their shelves and their option.
#[test]
fn what_was_composted_before_is_discarded_now() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("fen.json"), cloth(300.0).to_string()).unwrap();
    done(at, &["offcuts", "--shelf", ".", "add", "fen.json"]);
    done(at, &["offcuts", "--shelf", ".", "add", "fen.json"]);
    let said = done(at, &["offcuts", "--shelf", ".", "take", "fen-1", "--compost"]);
    assert!(said.contains("discarded: "), "{said}");
    assert_eq!(shelf(at)["offcuts"][0]["state"], "discarded");
    let file = at.join("offcuts.json");
    let old = std::fs::read_to_string(&file).unwrap().replace("\"discarded\"", "\"composted\"");
    std::fs::write(&file, old).unwrap();
    let all = done(at, &["offcuts", "--shelf", ".", "list", "--all"]);
    assert!(all.contains("fen-1") && all.contains(", discarded"), "{all}");
    assert!(!done(at, &["offcuts", "--shelf", ".", "list"]).contains("fen-1"));
    done(at, &["offcuts", "--shelf", ".", "take", "fen-2", "--discard"]);
    assert_eq!(shelf(at)["offcuts"][0]["state"], "discarded");
    assert!(
        std::fs::read_dir(at).unwrap().all(|e| !e.unwrap().file_name().to_string_lossy().contains("damaged"))
    );
    let help = done(at, &["offcuts", "take", "--help"]);
    assert!(help.contains("--discard") && !help.contains("compost"), "{help}");
}

/// Half round the world from each other, two clocks never show the same day.
#[test]
fn an_offcut_has_the_day_of_the_makers_clock() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("fen.json"), cloth(300.0).to_string()).unwrap();
    let days = ["EAST-14", "WEST12"].map(|zone| {
        let added = Command::cargo_bin("settlay")
            .unwrap()
            .current_dir(at)
            .env("TZ", zone)
            .args(["offcuts", "--shelf", ".", "add", "fen.json", "--json"])
            .output()
            .unwrap();
        let added: Value = serde_json::from_slice(&added.stdout).unwrap();
        added[0]["date"].as_str().unwrap().to_owned()
    });
    assert!(days[0] > days[1], "{days:?}");
}

#[test]
fn another_fabric_of_the_same_name_is_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at);
    std::fs::write(at.join("fen.json"), cloth(900.0).to_string()).unwrap();
    done(at, &["offcuts", "--shelf", "s", "add", "fen.json"]);
    let found = done(at, &["offcuts", "--shelf", "s", "find", "leaf.job.json"]);
    assert!(found.contains("fen-1 is another fabric of this name: it has another pattern"), "{found}");
    let words =
        ["offcuts", "--shelf", "s", "take", "fen-1", "--job", "leaf.job.json", "--out", "new.job.json"];
    refused(at, &words, 1, "another pattern");
    assert!(!at.join("new.job.json").exists());
    assert!(done(at, &["offcuts", "--shelf", "s", "list"]).contains("fen-1"), "nothing was taken");
}

#[test]
fn an_offcut_measured_from_the_back_is_kept_as_seen_from_the_face() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at);
    let outline = "0,0 300,0 300,200 100,200";
    let words = [
        "offcuts",
        "--shelf",
        ".",
        "add",
        "--job",
        "leaf.job.json",
        "--outline",
        outline,
        "--origin",
        "40,25",
        "--face",
        "down",
    ];
    done(at, &words);
    let o = &shelf(at)["offcuts"][0]["cloth"];
    let corners: Vec<[f64; 2]> = serde_json::from_value(o["outline_mm"].clone()).unwrap();
    assert!(
        corners.contains(&[200.0, 200.0]) && corners.contains(&[0.0, 0.0]) && corners.contains(&[300.0, 0.0])
    );
    assert_eq!(o["pattern"]["origin_mm"], json!([260.0, 25.0]));
}

#[test]
fn bad_offcuts_and_shelves_are_refused_with_a_reason() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at);
    let bow = json!({ "name": "fen", "outline_mm": [[0, 0], [100, 100], [100, 0], [0, 120]] });
    std::fs::write(at.join("bow.json"), bow.to_string()).unwrap();
    refused(at, &["offcuts", "--shelf", "s", "add", "bow.json"], 2, "crosses or touches itself");
    let by_job = ["offcuts", "--shelf", "s", "add", "--job", "leaf.job.json", "--outline"];
    let with = |more: &[&'static str]| by_job.iter().copied().chain(more.iter().copied()).collect::<Vec<_>>();
    refused(at, &with(&["0,0 90,90 90,0 0,120", "--origin", "0,0"]), 2, "crosses or touches itself");
    refused(at, &with(&["0,0 90,0 90,90"]), 2, "where it falls on the offcut is not said");
    refused(at, &with(&["0,0 90,x 90,90", "--origin", "0,0"]), 2, "expected two numbers");
    refused(at, &["offcuts", "--shelf", "s", "add", "fog.json"], 2, "cannot be read");
    refused(
        at,
        &["offcuts", "--shelf", "s", "add", "--plan", "leaf.svg"],
        2,
        "settlay plan writes a plan.json",
    );
    refused(at, &["offcuts", "--shelf", "s", "take", "fen-9"], 1, "none of that id");
    refused(at, &["offcuts", "--shelf", "leaf.job.json", "list"], 2, "not an offcut shelf");
    std::fs::write(at.join("file"), "").unwrap();
    refused(at, &["offcuts", "--shelf", "file/s", "list"], 2, "part of the path is a file");
    assert!(!at.join("s/offcuts.json").exists(), "a shelf appears with its first offcut");
}

#[test]
fn a_damaged_shelf_is_mended_and_said_so() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("fen.json"), cloth(300.0).to_string()).unwrap();
    for _ in 0..3 {
        done(at, &["offcuts", "--shelf", ".", "add", "fen.json"]);
    }
    let text = std::fs::read_to_string(at.join("offcuts.json")).unwrap();
    std::fs::write(
        at.join("offcuts.json"),
        text.replace("{\"id\":\"fen-2\",\"state\"", "{\"id\":\"fen-2\",\u{0}\"st"),
    )
    .unwrap();
    let ended = settlay(at, &["offcuts", "--shelf", ".", "list"]);
    assert_eq!(ended.code, Some(0));
    assert!(ended.err.contains("fen-2") && ended.err.contains("damaged-1"), "{}", ended.err);
    assert!(ended.out.contains("fen-1") && ended.out.contains("fen-3") && ended.out.contains("2 offcuts"));
    assert!(std::fs::read_to_string(at.join("offcuts.json.damaged-1")).unwrap().contains("fen-2"));
    assert!(settlay(at, &["offcuts", "--shelf", ".", "list"]).err.is_empty());
}

#[cfg(unix)]
#[test]
fn without_permission_nothing_is_changed() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("fen.json"), cloth(300.0).to_string()).unwrap();
    let locked = at.join("s");
    std::fs::create_dir(&locked).unwrap();
    std::fs::set_permissions(&locked, std::fs::Permissions::from_mode(0o555)).unwrap();
    if std::fs::write(locked.join("probe"), "").is_ok() {
        return; // A superuser may write everywhere.
    }
    refused(at, &["offcuts", "--shelf", "s", "add", "fen.json"], 1, "permission is missing");
    std::fs::set_permissions(&locked, std::fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn the_usual_shelf_lies_with_the_users_data() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("fen.json"), cloth(300.0).to_string()).unwrap();
    let add = |name: &str, value: PathBuf| {
        let mut run = Command::cargo_bin("settlay").unwrap();
        run.env_remove("SETTLAY_SHELF").env_remove("XDG_DATA_HOME").env(name, value);
        assert!(
            run.current_dir(folder.path())
                .args(["offcuts", "add", "fen.json"])
                .output()
                .unwrap()
                .status
                .success()
        );
    };
    add("XDG_DATA_HOME", folder.path().join("data"));
    assert!(folder.path().join("data/settlay/offcuts.json").exists());
    add("HOME", folder.path().join("home"));
    assert!(folder.path().join("home/.local/share/settlay/offcuts.json").exists());
    add("SETTLAY_SHELF", folder.path().join("mine.json"));
    assert!(folder.path().join("mine.json").exists());
}

#[test]
fn waiting_for_the_lock_ends() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("fen.json"), cloth(300.0).to_string()).unwrap();
    let lock = std::fs::File::create(at.join("offcuts.json.lock")).unwrap();
    lock.lock().unwrap();
    let run = adding(at);
    std::thread::sleep(Duration::from_millis(150));
    assert!(!at.join("offcuts.json").exists(), "it waits its turn");
    drop(lock);
    assert!(run.wait_with_output().unwrap().status.success());
    assert_eq!(ids(&shelf(at)).len(), 1);
}

/// The last pass of a cloth marked cut puts what is left on the shelf, once.
#[test]
fn a_plan_marked_cut_puts_its_leftovers_on_the_shelf_once() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let path = job(at);
    let mut job: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
    // Ten single pieces, more than one pass reaches.
    job["cloths"][0]["length_mm"] = json!(1500);
    job["pieces"][1]["count"] = json!(8);
    job["cutter"]["bed_mm"] = json!([900, 450]);
    std::fs::write(&path, job.to_string()).unwrap();
    done(at, &["plan", "leaf.job.json", "--out", "leaf"]);
    let plan: Value = serde_json::from_slice(&std::fs::read(at.join("leaf/plan.json")).unwrap()).unwrap();
    let passes = plan["passes"].as_array().unwrap().len();
    let left = plan["cloths"][0]["offcuts"].as_array().unwrap().len();
    assert!(passes > 1 && left > 0, "{passes} passes, {left} leftovers");
    let mark = |n: usize, more: &[&str]| {
        let n = n.to_string();
        let words = ["realign", "leaf", "--pass", &n, "--mark-done", "--shelf", "s", "--place", "drawer 2"];
        done(at, &[&words[..], more].concat())
    };
    for n in 1..passes {
        assert!(!mark(n, &[]).contains("last pass"));
    }
    assert!(!at.join("s").exists(), "nothing before the last pass");
    let said = mark(passes, &[]);
    assert!(said.contains("That was the last pass of fen.") && said.contains("fen-1"), "{said}");
    assert!(said.contains("discarded: "), "{said}");
    let whole = shelf(&at.join("s"));
    assert_eq!(whole["offcuts"].as_array().unwrap().len(), left);
    assert_eq!(whole["offcuts"][0]["place"], "drawer 2");
    // Again, and after one of them was taken: nothing is added.
    done(at, &["offcuts", "--shelf", "s", "take", "fen-1"]);
    let again = mark(passes, &[]);
    assert!(again.contains("put on the shelf before: fen-1"), "{again}");
    let told: Value = serde_json::from_str(&mark(1, &["--json"])).unwrap();
    assert_eq!((&told["shelved"], told["on_the_shelf_before"].as_array().unwrap().len()), (&json!([]), left));
    refused(at, &["offcuts", "--shelf", "s", "add", "--plan", "leaf"], 1, "on it already");
    assert_eq!(shelf(&at.join("s"))["offcuts"].as_array().unwrap().len(), left);
    // The same plan cut a second time, in a folder of its own, leaves as much again.
    std::thread::sleep(Duration::from_millis(1_100));
    done(at, &["plan", "leaf.job.json", "--out", "second"]);
    for n in 1..=passes {
        let n = n.to_string();
        done(at, &["realign", "second", "--pass", &n, "--mark-done", "--shelf", "s"]);
    }
    assert_eq!(shelf(&at.join("s"))["offcuts"].as_array().unwrap().len(), 2 * left);
}

#[test]
fn a_shelf_that_cannot_be_written_leaves_the_pass_recorded_and_says_how_to_go_on() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at);
    done(at, &["plan", "leaf.job.json", "--out", "leaf"]);
    std::fs::write(at.join("file"), "").unwrap();
    let words = ["realign", "leaf", "--pass", "1", "--mark-done", "--shelf"];
    refused(at, &[&words[..], &["file/s"]].concat(), 1, "the same command puts them there");
    assert!(at.join("leaf/done.json").exists());
    let said = done(at, &[&words[..], &["s"]].concat());
    assert!(said.contains("is recorded as cut already") && said.contains("fen-1"), "{said}");
}
