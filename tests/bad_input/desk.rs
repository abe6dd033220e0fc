//! A folder to work in, runs of the program in it, and a job to spoil.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use assert_cmd::Command;
use serde_json::{Value, json};
use tempfile::TempDir;

/// Longest any of these runs may take: far more than any needs, far less than a maker's patience.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// What a run of the program ended with.
pub struct Ended {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

/// A folder to work in.
pub struct Desk(pub TempDir);

impl Desk {
    pub fn new() -> Desk {
        let desk = Desk(tempfile::tempdir().unwrap());
        desk.put(
            "leaf.svg",
            page("<path id='leaf' d='M10 10h50v50h-50z'/><path id='bud' d='M80 10h20v30z'/>"),
        );
        desk
    }

    pub fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn put(&self, name: &str, contents: impl AsRef<[u8]>) {
        fs::write(self.at(name), contents).unwrap();
    }

    pub fn run(&self, words: &[&str]) -> Ended {
        let out = Command::cargo_bin("settlay")
            .unwrap()
            .current_dir(self.0.path())
            .args(words)
            .timeout(PATIENCE)
            .output()
            .unwrap();
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        let ended = Ended { code: out.status.code(), out: text(&out.stdout), err: text(&out.stderr) };
        assert!(matches!(ended.code, Some(0..=2)), "{words:?}: {:?}\n{}", ended.code, ended.err);
        ended
    }

    /// The run ends with `code`, prints nothing on stdout, and says `part` on stderr.
    pub fn refuses(&self, words: &[&str], code: i32, part: &str) {
        let ended = self.run(words);
        assert_eq!(ended.code, Some(code), "{words:?}\n{}\n{}", ended.out, ended.err);
        assert!(ended.err.starts_with("error: ") && ended.err.contains(part), "{words:?}: {}", ended.err);
        assert!(ended.out.is_empty(), "{words:?}: {}", ended.out);
        assert!(ended.err.len() < 20_000, "{words:?}: {} bytes of error", ended.err.len());
        self.is_tidy();
    }

    /// Nothing half written lies about.
    pub fn is_tidy(&self) {
        let names = fs::read_dir(self.0.path()).unwrap().map(|e| e.unwrap().file_name());
        let left: Vec<_> = names.filter(|n| n.to_string_lossy().starts_with('.')).collect();
        assert!(left.is_empty(), "{left:?}");
    }
}

pub fn page(inside: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' width='200mm' \
         height='200mm' viewBox='0 0 200 200'>{inside}</svg>"
    )
}

pub fn job() -> Value {
    json!({ "settlay": 1, "drawing": "leaf.svg",
        "cloths": [ { "name": "check", "width_mm": 600, "length_mm": 900, "edge_mm": 12, "weave": "twill-z",
            "pattern": { "warp": "N/6 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18 } } ],
        "pieces": [ { "select": {"id": "*"}, "cloth": "check", "match": "drawn", "group": "g" } ],
        "cutter": { "bed_mm": [300, 200], "shared_band_mm": 60, "kerf_mm": 0.2 },
        "lay": { "gap_mm": 3, "effort": 1 } })
}

/// The job with the value at `path` (a JSON pointer, its last part may be new) replaced.
pub fn job_with(path: &str, value: Value) -> String {
    let mut job = job();
    let (parent, last) = path.rsplit_once('/').unwrap();
    let parent = job.pointer_mut(parent).unwrap();
    parent[last] = value;
    job.to_string()
}

/// The files of a folder and what stands in them.
pub fn contents(folder: &Path) -> std::collections::BTreeMap<PathBuf, Vec<u8>> {
    let mut all = std::collections::BTreeMap::new();
    for path in fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
        match path.is_dir() {
            true => all.extend(contents(&path)),
            false => drop(all.insert(path.clone(), fs::read(&path).unwrap())),
        }
    }
    all
}
