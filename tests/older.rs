//! Files written by every version of the program there has been are read by this one. Each version has a folder in
//! `fixtures/older`, kept for ever.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;

/// The folders, each with a copy of its files on a desk of its own, where they may be worked with.
fn desks() -> Vec<(PathBuf, tempfile::TempDir)> {
    let older = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/older");
    let mut folders: Vec<PathBuf> = fs::read_dir(older).unwrap().map(|e| e.unwrap().path()).collect();
    folders.sort();
    assert!(!folders.is_empty());
    let desk = |folder: PathBuf| {
        let desk = tempfile::tempdir().unwrap();
        fs::create_dir_all(desk.path().join("shelf")).unwrap();
        for file in fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()) {
            let name = file.file_name().unwrap().to_str().unwrap();
            let to = if name == "offcuts.json" { Path::new("shelf").join(name) } else { name.into() };
            fs::copy(&file, desk.path().join(to)).unwrap();
        }
        (folder, desk)
    };
    folders.into_iter().map(desk).collect()
}

fn settlay(desk: &Path, words: &[&str]) -> Output {
    let mut command = Command::cargo_bin("settlay").unwrap();
    command.current_dir(desk).env("SETTLAY_SHELF", desk.join("shelf")).args(words).output().unwrap()
}

/// What it prints, when it ends well.
fn said(desk: &Path, words: &[&str]) -> String {
    let out = settlay(desk, words);
    let told = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(0), "{words:?}: {told}");
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn a_job_with_its_drawing_and_its_cutters_own_file() {
    for (_, desk) in desks() {
        let told = said(desk.path(), &["check", "leaves.job.json"]);
        assert!(told.contains("leaf") && told.contains("wave-1"), "{told}");
    }
}

#[test]
fn a_plan_with_what_is_cut_of_it_goes_on_and_names_the_program_that_wrote_on() {
    for (folder, desk) in desks() {
        let desk = desk.path();
        // What is recorded as cut stays cut.
        let out = settlay(desk, &["realign", "plan.json", "--pass", "1", "--marks", "marks.csv"]);
        assert_eq!(out.status.code(), Some(1), "{}", String::from_utf8_lossy(&out.stderr));
        said(desk, &["realign", "plan.json", "--pass", "2", "--marks", "marks.csv"]);
        said(desk, &["realign", "plan.json", "--pass", "2", "--mark-done"]);
        let record: serde_json::Value =
            serde_json::from_slice(&fs::read(desk.join("done.json")).unwrap()).unwrap();
        assert_eq!(record["passes"].as_array().unwrap().len(), 2, "{record}");
        assert_eq!(record["passes"][0]["recorded"], first_recorded(&folder));
        assert_eq!(record["program"], settlay::PROGRAM);
    }
}

fn first_recorded(folder: &Path) -> serde_json::Value {
    let record = fs::read(folder.join("done.json")).unwrap();
    serde_json::from_slice::<serde_json::Value>(&record).unwrap()["passes"][0]["recorded"].clone()
}

#[test]
fn a_shelf_with_offcuts_kept_taken_and_gone() {
    for (_, desk) in desks() {
        let desk = desk.path();
        let told = said(desk, &["offcuts", "list"]);
        assert!(told.contains("saltmarsh-1") && told.contains("4 burnt marks"), "{told}");
        assert!(!told.contains("saltmarsh-2") && !told.contains("saltmarsh-3"), "{told}");
        said(desk, &["offcuts", "take", "saltmarsh-3", "--back"]);
        assert!(said(desk, &["offcuts", "list"]).contains("saltmarsh-3"));
        let shelf = fs::read_to_string(desk.join("shelf/offcuts.json")).unwrap();
        assert!(shelf.contains(settlay::PROGRAM) && shelf.contains("saltmarsh-2"), "{shelf}");
        // Nothing of it was taken for damage.
        assert_eq!(fs::read_dir(desk.join("shelf")).unwrap().filter(is_set_aside).count(), 0);
    }
}

fn is_set_aside(entry: &std::io::Result<fs::DirEntry>) -> bool {
    entry.as_ref().is_ok_and(|e| e.file_name().to_string_lossy().contains("damaged-"))
}

#[test]
fn readings_of_a_gauge() {
    for (_, desk) in desks() {
        let told = said(desk.path(), &["gauge", "--measured", "readings.json"]);
        assert!(told.contains("kerf"), "{told}");
    }
}

#[test]
fn the_working_copy_of_a_table_goes_on_where_it_was() {
    for (folder, desk) in desks() {
        let kept = fs::read(folder.join(".leaves.job.json.table")).unwrap();
        let kept: serde_json::Value = serde_json::from_slice(&kept).unwrap();
        let setup =
            settlay::table::Setup { job: Some(desk.path().join("leaves.job.json")), ..Default::default() };
        let table = settlay::table::open(&setup).unwrap();
        let again = fs::read(desk.path().join(".leaves.job.json.table")).unwrap();
        let again: serde_json::Value = serde_json::from_slice(&again).unwrap();
        assert_eq!(
            (&again["job"], &again["revision"]),
            (&kept["job"], &kept["revision"]),
            "{:?}",
            table.said
        );
        assert!(table.said.iter().all(|l| !l.contains("could not be read")), "{:?}", table.said);
    }
}
