//! Where results go, and what becomes of them when they cannot.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;

use crate::desk::*;

#[test]
fn a_cloth_with_a_strange_name_gets_files_with_a_tame_one() {
    let desk = Desk::new();
    let name = "<script>/../🐟 \\ CON";
    let mut job = job();
    job["cloths"][0]["name"] = name.into();
    job["pieces"][0]["cloth"] = name.into();
    desk.put("a.job.json", job.to_string());
    let ended = desk.run(&["plan", "a.job.json", "--out", "plan"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let cut: Vec<String> = fs::read_dir(desk.at("plan/cut"))
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(!cut.is_empty());
    let tame = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
    assert!(cut.iter().all(|n| n.chars().all(tame) && !n.starts_with('.')), "{cut:?}");
    assert!(!fs::read_to_string(desk.at("plan/report.html")).unwrap().contains("<script"));
    desk.is_tidy();
}

#[test]
fn a_folder_that_cannot_be_written_leaves_nothing_behind() {
    let desk = Desk::new();
    desk.put("a.job.json", job().to_string());
    desk.refuses(&["plan", "a.job.json", "--out", "leaf.svg"], 2, "this is a file, not a folder");
    desk.refuses(&["plan", "a.job.json", "--out", "leaf.svg/plan"], 1, "a part of the path is a file");
    if Path::new("/proc/self").exists() {
        desk.refuses(&["plan", "a.job.json", "--out", "/proc/plan"], 1, "/proc");
    }
    desk.refuses(&["check", "leaf.svg", "--picture", "nowhere/leaf.svg"], 2, "cannot be written");
    desk.refuses(&["check", "leaf.svg", "--picture", "leaf.gif"], 2, "end the file's name in .svg or .png");
}

/// Runs the program where no file may be larger than so many blocks of 512 or 1024 bytes: the shell's limit stands for the
/// disk; its signal is ignored, so that writing fails as on a full one.
#[cfg(unix)]
fn on_a_full_disk(desk: &Desk, words: &str, blocks: u32) -> std::process::Output {
    Command::new("sh")
        .arg("-c")
        .arg(format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" {words}"))
        .arg(assert_cmd::cargo::cargo_bin("settlay"))
        .current_dir(desk.0.path())
        .timeout(PATIENCE)
        .output()
        .unwrap()
}

/// A disk that is full in the middle of writing: the plan of before is left as it was, and nothing half written lies about.
#[cfg(unix)]
#[test]
fn a_full_disk_leaves_the_old_files_as_they_were() {
    let desk = Desk::new();
    desk.put("a.job.json", job().to_string());
    assert_eq!(desk.run(&["plan", "a.job.json", "--out", "plan"]).code, Some(0));
    let before = contents(&desk.at("plan"));
    assert!(before.len() > 5);
    let mut changed = job();
    changed["title"] = "Another".into();
    desk.put("a.job.json", changed.to_string());
    // The largest file needs more than any of these.
    for blocks in [0, 1, 4, 16] {
        let out = on_a_full_disk(&desk, "plan a.job.json --out plan", blocks);
        // What it says goes through a pipe, which has no size.
        let said = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(1), "{blocks}: {said}");
        assert!(said.contains("error: ") && said.contains("cannot be written"), "{blocks}: {said}");
        assert_eq!(contents(&desk.at("plan")), before, "{blocks} blocks");
        desk.is_tidy();
    }
}

/// Whatever is written, a disk that takes no more is no bad usage: exit code 1.
#[cfg(unix)]
#[test]
fn a_full_disk_is_exit_code_one_wherever_something_is_written() {
    let desk = Desk::new();
    desk.put("a.job.json", job().to_string());
    desk.put("fen.json", r#"{"name": "fen", "outline_mm": [[0, 0], [300, 0], [300, 210]]}"#);
    assert_eq!(desk.run(&["offcuts", "--shelf", "s", "add", "fen.json"]).code, Some(0));
    let shelf = contents(&desk.at("s"));
    for words in [
        "check leaf.svg --picture leaf.png",
        "check leaf.svg --picture leaf.svg",
        "gauge --out gauge",
        "offcuts --shelf s add fen.json",
        "offcuts --shelf s take fen-1",
        "offcuts --shelf s take fen-1 --out cloths.json",
        "buy a.job.json --effort 1 --picture curve.svg",
    ] {
        let out = on_a_full_disk(&desk, words, 0);
        let said = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(1), "{words}: {said}");
        assert!(said.contains("written") && !said.contains("os error"), "{words}: {said}");
        assert_eq!(contents(&desk.at("s")), shelf, "{words}");
        desk.is_tidy();
    }
}

/// What is printed may go to a file on a full disk, too.
#[cfg(target_os = "linux")]
#[test]
fn results_that_cannot_be_printed_are_exit_code_one() {
    let desk = Desk::new();
    desk.put("a.job.json", job().to_string());
    for words in [
        "--version",
        "--help",
        "schema job",
        "check leaf.svg",
        "check leaf.svg --json",
        "gauge --out gauge",
        "offcuts --shelf s list",
    ] {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let out = std::process::Command::new(assert_cmd::cargo::cargo_bin("settlay"))
            .args(words.split(' '))
            .current_dir(desk.0.path())
            .stdout(full)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(1), "{words}: {said}");
        assert!(!said.contains("os error"), "{words}: {said}");
    }
}

#[test]
fn results_go_to_stdout_and_the_exit_code_says_how_it_went() {
    let desk = Desk::new();
    let done = desk.run(&["check", "leaf.svg"]);
    assert_eq!((done.code, done.err.as_str()), (Some(0), ""));
    assert!(done.out.contains("2 shapes"));
    desk.put("a.job.json", job().to_string());
    let laid = desk.run(&["lay", "a.job.json", "--json"]);
    assert_eq!(laid.code, Some(0));
    let rows: Value = serde_json::from_str(&laid.out).unwrap();
    assert_eq!(rows[0]["pieces"], 2);
    for words in
        [&["frob"][..], &["check"], &["plan", "a.job.json"], &["schema", "plam"], &["lay", "--seconds"]]
    {
        let ended = desk.run(words);
        assert_eq!((ended.code, ended.out.as_str()), (Some(2), ""), "{words:?}");
    }
    for words in [&["--help"][..], &["--version"], &["schema", "job"]] {
        let ended = desk.run(words);
        assert_eq!((ended.code, ended.err.as_str()), (Some(0), ""), "{words:?}");
    }
}
