//! The program itself, started with a hostile file: how it ends, and that it says why.

use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::feeds::kept;
use crate::inputs::Kind;

/// Longest it may take.
pub const PATIENCE: Duration = Duration::from_secs(20);

/// A folder to work in, and the program.
pub struct Desk {
    folder: tempfile::TempDir,
    program: PathBuf,
}

impl Desk {
    /// With sound files to go with the spoilt one; `None` where the program is not built.
    pub fn lay_out() -> Option<Desk> {
        let folder = tempfile::tempdir().ok()?;
        for name in ["leaves.svg", "cutter.json", "plan.json", "leaves.job.json"] {
            fs::copy(kept(name), folder.path().join(name)).ok()?;
        }
        Some(Desk { folder, program: program()? })
    }
}

/// The program of the same build.
pub fn program() -> Option<PathBuf> {
    let here = std::env::current_exe().ok()?;
    let name = if cfg!(windows) { "settlay.exe" } else { "settlay" };
    Some(here.parent()?.parent()?.join(name)).filter(|p| p.is_file())
}

/// Gives the file to the program as a maker would.
///
/// # Errors
/// In words, what it did wrong.
pub fn run(desk: &Desk, kind: Kind, bytes: &[u8]) -> Result<(), String> {
    let at = |name: &str| desk.folder.path().join(name);
    let (file, words): (&str, &[&str]) = match kind {
        Kind::Drawing => ("fed.svg", &["check", "fed.svg"]),
        Kind::Job => ("fed.job.json", &["check", "fed.job.json"]),
        Kind::Plan => {
            ("fed.json", &["realign", "fed.json", "--pass", "2", "--marks", "marks.csv", "--out", "out"])
        }
        Kind::Marks => {
            ("fed.csv", &["realign", "plan.json", "--pass", "2", "--marks", "fed.csv", "--out", "out"])
        }
        Kind::Readings => ("fed.json", &["gauge", "--measured", "fed.json"]),
        Kind::Shelf => ("shelf/offcuts.json", &["offcuts", "list"]),
        Kind::Photograph => ("fed.png", &["check", "photo.job.json"]),
        Kind::Request | Kind::Whole => return Ok(()),
    };
    let put = |name: &str, bytes: &[u8]| fs::write(at(name), bytes).map_err(|e| format!("{name}: {e}"));
    for name in ["shelf", "out"] {
        let _ = fs::remove_dir_all(at(name));
    }
    fs::create_dir_all(at("shelf")).map_err(|e| e.to_string())?;
    put(file, bytes)?;
    if kind == Kind::Plan {
        fs::copy(kept("marks.csv"), at("marks.csv")).map_err(|e| e.to_string())?;
    }
    if kind == Kind::Photograph {
        put("photo.job.json", PHOTO_JOB)?;
    }
    ends_well(&desk.program, desk.folder.path(), words)
}

const PHOTO_JOB: &[u8] = br#"{ "settlay": 1, "drawing": "leaves.svg", "cloths": [ { "name": "fen", "width_mm": 600,
  "pattern": { "photo": { "file": "fed.png", "size_mm": [84, 92] } } } ],
  "pieces": [ { "select": { "id": "*" }, "cloth": "fen" } ], "cutter": { "bed_mm": [400, 300], "kerf_mm": 0.2 } }"#;

fn ends_well(program: &Path, folder: &Path, words: &[&str]) -> Result<(), String> {
    let mut child = Command::new(program)
        .args(words)
        .current_dir(folder)
        .env("SETTLAY_SHELF", folder.join("shelf"))
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(|e| format!("the program does not start: {e}"))?;
    let mut stderr = child.stderr.take();
    let hearing = std::thread::spawn(move || {
        let mut said = Vec::new();
        let _ = stderr.as_mut().map(|s| s.read_to_end(&mut said));
        String::from_utf8_lossy(&said).into_owned()
    });
    let began = Instant::now();
    let status = loop {
        match child.try_wait() {
            Ok(Some(status)) => break status,
            Ok(None) if began.elapsed() > PATIENCE => {
                let _ = child.kill();
                let _ = child.wait();
                return Err(format!("settlay {} hangs", words.join(" ")));
            }
            Ok(None) => std::thread::sleep(Duration::from_millis(2)),
            Err(e) => return Err(e.to_string()),
        }
    };
    let said = hearing.join().unwrap_or_default();
    let wrong = |what: &str| {
        Err(format!("settlay {}: {what}: {}", words.join(" "), said.chars().take(300).collect::<String>()))
    };
    match status.code() {
        None => wrong("it was ended by a signal"),
        Some(0) => Ok(()),
        // A check that finds faults says so on stdout.
        Some(1) if words[0] == "check" => Ok(()),
        Some(1 | 2) if said.contains("error: ") => Ok(()),
        Some(1 | 2) => wrong("it fails without a word"),
        Some(code) => wrong(&format!("it ends with {code}")),
    }
}
