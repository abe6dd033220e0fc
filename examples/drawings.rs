//! Writes the small drawings of `tests/drawings`, each beside what is read of it, for other renderers:
//! `cargo run --release --example drawings -- DIR`.
//!
//! `NNN.svg` is the drawing, `NNN.json` its name, page, notes and painted regions, the lowest first, in mm with y up.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used)]

#[path = "../tests/drawings/table.rs"]
mod table;

use std::path::PathBuf;

use serde_json::{Value, json};
use settlay::drawing::{ReadOptions, parse};
use settlay::shape::Region;

fn main() {
    let folder = PathBuf::from(std::env::args_os().nth(1).expect("a folder to write to"));
    std::fs::create_dir_all(&folder).expect("the folder");
    let drawings = table::all();
    for (k, small) in drawings.iter().enumerate() {
        let stem = folder.join(format!("{k:03}"));
        std::fs::write(stem.with_extension("svg"), &small.svg).expect("a drawing written");
        let value = match parse(small.svg.as_bytes(), "small.svg", &ReadOptions::default()) {
            Err(trouble) => json!({"name": small.name, "trouble": trouble.to_string()}),
            Ok(drawing) => {
                let mut painted = Vec::new();
                for e in &drawing.elements {
                    painted.extend(paint(e.fill.as_deref(), &e.filled));
                    painted.extend(paint(e.stroke.as_deref(), &e.band));
                }
                json!({
                    "name": small.name, "page_mm": drawing.page_mm, "painted": painted, "told": small.told,
                    "notes": drawing.notes.iter().map(|n| &n.text).collect::<Vec<_>>(),
                })
            }
        };
        std::fs::write(stem.with_extension("json"), value.to_string()).expect("what was read");
    }
    println!("{} drawings", drawings.len());
}

/// A colour and the rings it fills by the even-odd rule.
fn paint(colour: Option<&str>, regions: &[Region]) -> Option<Value> {
    let rings: Vec<Vec<[f64; 2]>> = regions
        .iter()
        .flat_map(Region::rings)
        .map(|r| r.points.iter().map(|p| [p.x, p.y]).collect())
        .collect();
    Some(json!({"colour": colour, "rings": rings})).filter(|_| !regions.is_empty())
}
