//! How fast a shelf of ten thousand offcuts answers: `cargo run --release --example shelf`.
//!
//! Makes a shelf of offcuts of all sizes of the fabrics of two example jobs and asks what each job could be laid on,
//! from reading the shelf's file to the answer; the target is for a machine with two cores.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used)]

use std::path::Path;
use std::time::Instant;

use settlay::job::ClothSpec;
use settlay::offcuts::{self, Effort, Offcut, Place};
use settlay::plan;
use settlay::say::Quiet;
use settlay::shape::turn_cos_sin;

const ENTRIES: usize = 10_000;
const CORNERS: usize = 40;
const TARGET_S: f64 = 1.0;

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    for name in ["offcut", "one-way", "reed-bed"] {
        let job = root.join(name).join(format!("{name}.job.json"));
        let prepared = plan::prepare(&job, &Quiet).expect("an example job");
        let folder = tempfile::tempdir().expect("a temporary folder");
        let place = Place::at(folder.path());
        let began = Instant::now();
        place
            .change(|shelf| {
                for k in 0..ENTRIES {
                    let cloths = &prepared.job.cloths;
                    shelf.put(offcut(&cloths[k % cloths.len()], k));
                }
                Ok(())
            })
            .expect("the shelf written");
        let size = std::fs::metadata(place.file()).expect("the shelf").len() as f64 / 1e6;
        println!(
            "{name}: {ENTRIES} offcuts, {size:.1} MB, made and written in {:.2} s",
            began.elapsed().as_secs_f64()
        );
        let began = Instant::now();
        let (shelf, _) = place.read().expect("the shelf read");
        let kept: Vec<&Offcut> = shelf.kept().collect();
        let read_s = began.elapsed().as_secs_f64();
        let found = offcuts::find(
            &prepared.job,
            &prepared.pieces,
            &prepared.cloths,
            &kept,
            Effort::default(),
            &Quiet,
        );
        let all_s = began.elapsed().as_secs_f64();
        for f in &found {
            let laid = f.whole.iter().filter(|w| w.laid).count();
            println!(
                "  {}: {} pieces, {} offcuts take all ({laid} laid), {} some",
                f.fabric,
                f.pieces,
                f.whole.len(),
                f.part.len()
            );
        }
        let met = if all_s <= TARGET_S { "met" } else { "MISSED" };
        println!("  read {read_s:.2} s, all {all_s:.2} s   target {TARGET_S} s   {met}");
    }
}

/// An uneven outline of many corners, sizes from a hand's breadth to a metre and a half.
fn offcut(like: &ClothSpec, k: usize) -> Offcut {
    let size = 80.0 + ((k * 7919) % 1400) as f64;
    let corners = (0..CORNERS).map(|i| {
        let (c, s) = turn_cos_sin(360.0 * i as f64 / CORNERS as f64);
        let r = size * (0.42 + 0.08 * (((k + i) * 31) % 17) as f64 / 17.0);
        [size + r * c, size + r * s * (0.6 + (k % 5) as f64 * 0.1)]
    });
    let spec = ClothSpec { outline_mm: Some(corners.collect()), flaws_mm: Vec::new(), ..like.clone() };
    Offcut::new(&spec, "2026-11-25", "drawer", "other work").expect("a sound outline")
}
