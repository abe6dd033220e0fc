//! Hostile inputs: sound files spoilt by chance, and jobs made up by it.

use std::fs;
use std::path::Path;

use crate::chance::{Chance, spoilt};
use crate::feeds::{kept, root};

/// What is fed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// An SVG drawing.
    Drawing,
    /// A job file.
    Job,
    /// `plan.json`.
    Plan,
    /// Measured marks.
    Marks,
    /// Readings of a gauge.
    Readings,
    /// A shelf of offcuts.
    Shelf,
    /// A photograph of a cloth.
    Photograph,
    /// What a stranger or a page sends to the table.
    Request,
    /// A sound job made up by chance, planned from beginning to end.
    Whole,
}

/// All kinds, with how many of a hundred inputs are of each.
pub const KINDS: [(Kind, usize, &str); 9] = [
    (Kind::Drawing, 36, "drawings"),
    (Kind::Job, 20, "jobs"),
    (Kind::Plan, 9, "plans"),
    (Kind::Marks, 9, "marks"),
    (Kind::Readings, 7, "readings"),
    (Kind::Shelf, 7, "shelves"),
    (Kind::Photograph, 6, "photographs"),
    (Kind::Request, 4, "requests"),
    (Kind::Whole, 2, "whole jobs"),
];

/// The kind of input number `input`.
pub fn kind_of(input: u64) -> Kind {
    // Spread over the hundred, so that a short run has some of each.
    let mut k = (input as usize * 37) % 100;
    for (kind, share, _) in KINDS {
        if k < share {
            return kind;
        }
        k -= share;
    }
    Kind::Drawing
}

/// Sound files of every kind.
pub struct Sound(Vec<(Kind, Vec<Vec<u8>>)>);

impl Sound {
    /// Gathers them from the project.
    pub fn gather() -> Sound {
        let with = |kind, files: Vec<Vec<u8>>| (kind, files);
        let of = |folders: &[&str], ends: &str| -> Vec<Vec<u8>> {
            let mut found = Vec::new();
            for folder in folders {
                gather(&root().join(folder), ends, &mut found);
            }
            found
        };
        let one = |name: &str| fs::read(kept(name)).into_iter().collect::<Vec<_>>();
        Sound(vec![
            with(Kind::Drawing, of(&["fixtures/drawing", "examples", "fixtures/older"], ".svg")),
            with(Kind::Job, of(&["fixtures/jobs", "examples", "fixtures/older"], ".job.json")),
            with(Kind::Plan, one("plan.json")),
            with(Kind::Marks, [one("marks.csv"), json_marks()].concat()),
            with(Kind::Readings, one("readings.json")),
            with(Kind::Shelf, one("offcuts.json")),
            with(Kind::Photograph, photographs()),
            with(Kind::Request, requests()),
        ])
    }

    /// The sound files of a kind.
    pub fn of(&self, kind: Kind) -> &[Vec<u8>] {
        self.0.iter().find(|(k, _)| *k == kind).map_or(&[], |(_, files)| files)
    }

    /// Input number `input` of a run.
    pub fn input(&self, seed: u64, input: u64) -> (Kind, Vec<u8>) {
        let kind = kind_of(input);
        let mut chance = Chance::of(seed, input);
        if kind == Kind::Whole {
            return (kind, crate::made_up::job(&mut chance).into_bytes());
        }
        let files = self.of(kind);
        if files.is_empty() {
            return (kind, Vec::new());
        }
        let (a, b) = (chance.below(files.len()), chance.below(files.len()));
        (kind, spoilt(&files[a], &files[b], &mut chance))
    }
}

fn gather(folder: &Path, ends: &str, found: &mut Vec<Vec<u8>>) {
    let mut paths: Vec<_> = fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path()).collect();
    paths.sort();
    for path in paths {
        if path.is_dir() {
            gather(&path, ends, found);
        } else if path.to_string_lossy().ends_with(ends) {
            found.extend(fs::read(&path));
        }
    }
}

fn json_marks() -> Vec<Vec<u8>> {
    let marks =
        br#"[{"name": "A", "x_mm": 18.2, "y_mm": 111.05}, {"name": "B", "x_mm": 180.2, "y_mm": 159.05}]"#;
    vec![marks.to_vec(), b"i;j;x_mm;y_mm\n0;0;35,2;20,1\n1;0;99,7;20,0\n".to_vec()]
}

/// Small pictures in the ways a PNG may hold its pixels.
fn photographs() -> Vec<Vec<u8>> {
    use png::{BitDepth, ColorType};
    let ways = [
        (ColorType::Rgb, BitDepth::Eight, 3 * 8),
        (ColorType::Rgba, BitDepth::Eight, 4 * 8),
        (ColorType::Grayscale, BitDepth::Sixteen, 2 * 8),
        (ColorType::GrayscaleAlpha, BitDepth::Eight, 2 * 8),
        (ColorType::Grayscale, BitDepth::One, 1),
    ];
    let (wide, high) = (48u32, 40u32);
    let mut all = Vec::new();
    for (colours, depth, bits) in ways {
        let row = (wide as usize * bits).div_ceil(8);
        let pixels: Vec<u8> =
            (0..row * high as usize).map(|k| ((k / 7 * 31) ^ (k / row * 17)) as u8).collect();
        let mut file = Vec::new();
        let mut encoder = png::Encoder::new(&mut file, wide, high);
        encoder.set_color(colours);
        encoder.set_depth(depth);
        let written = encoder.write_header().and_then(|mut w| {
            w.write_image_data(&pixels)?;
            w.finish()
        });
        if written.is_ok() {
            all.push(file);
        }
    }
    all
}

/// Calls to the table; `SECRET` and `HOST` stand for its own.
fn requests() -> Vec<Vec<u8>> {
    let post = |path: &str, body: &str| {
        format!(
            "POST /SECRET/{path} HTTP/1.1\r\nHost: HOST\r\nIf-Match: 0\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\n\r\n{body}",
            body.len()
        )
    };
    let get = |path: &str| format!("GET /SECRET/{path} HTTP/1.1\r\nHost: HOST\r\nAccept: */*\r\n\r\n");
    [
        get(""),
        get("page/main.js"),
        get("api/state"),
        get("api/drawing?fresh=1"),
        get("api/lay/allowed?piece=leaf&copy=1"),
        get("api/cloths/saltmarsh/tile.png"),
        get("files/report.html"),
        "GET / HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\nSec-Fetch-Site: same-origin\r\n\r\n".into(),
        "OPTIONS * HTTP/1.1\r\nHost: HOST\r\n\r\n".into(),
        "GET http://HOST/SECRET/ HTTP/1.0\r\n\r\n".into(),
        post("api/undo", "{}"),
        post("api/lay/move", r#"{"piece": "leaf", "copy": 1, "to": [120, 80], "turn_deg": 0}"#),
        post("api/lay/lock", r#"{"piece": "leaf", "copy": 1, "locked": true}"#),
        "POST /SECRET/api/drawing?name=a.svg HTTP/1.1\r\nHost: HOST\r\nIf-Match: 0\r\nTransfer-Encoding: chunked\r\n\r\n\
         5\r\n<svg/\r\n1\r\n>\r\n0\r\n\r\n"
            .into(),
    ]
    .into_iter()
    .map(String::into_bytes)
    .collect()
}
