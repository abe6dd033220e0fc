//! How long interlaced bands take: `cargo run --release --example knots`.
//!
//! Makes a job of knot bands, each an annulus waved with thousands of corners and pierced by cut-outs, and prints the
//! time of every stage. `--bands N`, `--corners N`, `--cutouts N` change the job; the target is for two cores.
#![allow(clippy::print_stdout, missing_docs)]

use std::fmt::Write as _;
use std::process::ExitCode;
use std::time::Instant;

use clap::Parser;
use settlay::lay;
use settlay::plan;
use settlay::say::{Quiet, Trouble};
use settlay::shape::turn_cos_sin;

#[derive(Parser)]
struct Args {
    #[arg(long, default_value_t = 20)]
    bands: usize,
    #[arg(long, default_value_t = 8000)]
    corners: usize,
    #[arg(long, default_value_t = 20)]
    cutouts: usize,
    /// Thousands of moves.
    #[arg(long, default_value_t = 2)]
    effort: u32,
}

/// A closed line round (0, 0), waved in and out.
fn waved(radius: f64, wave: f64, waves: f64, corners: usize, counter_clockwise: bool) -> String {
    let mut d = String::new();
    for k in 0..corners {
        let share = k as f64 / corners as f64;
        let turn = if counter_clockwise { 360.0 * share } else { -360.0 * share };
        let (c, s) = turn_cos_sin(turn);
        let (_, up) = turn_cos_sin(turn * waves);
        let r = radius + wave * up;
        let word = if k == 0 { 'M' } else { 'L' };
        let _ = write!(d, "{word}{:.4} {:.4}", r * c, r * s);
    }
    d + "Z"
}

fn drawing(args: &Args) -> String {
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"2000mm\" height=\"2000mm\" viewBox=\"0 0 2000 2000\"><g id=\"bands\">",
    );
    for b in 0..args.bands {
        let (x, y) = (200.0 + 380.0 * (b % 5) as f64, 200.0 + 380.0 * (b / 5) as f64);
        let radius = 130.0 + 2.0 * b as f64;
        let half = args.corners / 2;
        let mut d = waved(radius, 6.0, 9.0 + b as f64, half, true);
        d += &waved(radius - 34.0, 6.0, 9.0 + b as f64, args.corners - half, false);
        for c in 0..args.cutouts {
            let (cos, sin) = turn_cos_sin(360.0 * c as f64 / args.cutouts as f64);
            let (cx, cy) = ((radius - 17.0) * cos, (radius - 17.0) * sin);
            let _ = write!(d, "M{:.3} {:.3}l0 4l4 0l0 -4Z", cx - 2.0, cy - 2.0);
        }
        let _ = write!(
            svg,
            "<path id=\"band-{b}\" fill-rule=\"evenodd\" transform=\"translate({x} {y})\" d=\"{d}\"/>"
        );
    }
    svg + "</g></svg>"
}

fn job(effort: u32) -> String {
    format!(
        r##"{{ "settlay": 1, "title": "Knot bands", "drawing": "knots.svg",
  "cloths": [ {{ "name": "fell", "width_mm": 1480, "length_mm": null, "edge_mm": 12, "weave": "plain", "colour": "#335544" }} ],
  "pieces": [ {{ "select": {{ "layer": "bands" }}, "cloth": "fell", "allowance_mm": 1.5 }} ],
  "cutter": {{ "bed_mm": [900, 600], "feed": "along-y" }},
  "lay": {{ "gap_mm": 3, "effort": {effort} }} }}"##
    )
}

fn main() -> ExitCode {
    match run(&Args::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(troubles) => {
            troubles.iter().for_each(|t| println!("{t}"));
            ExitCode::FAILURE
        }
    }
}

fn run(args: &Args) -> Result<(), Vec<Trouble>> {
    let failed = |e: std::io::Error| vec![Trouble::cannot("a temporary folder", e.to_string())];
    let folder = tempfile::tempdir().map_err(failed)?;
    let path = folder.path().join("knots.job.json");
    std::fs::write(folder.path().join("knots.svg"), drawing(args)).map_err(failed)?;
    std::fs::write(&path, job(args.effort)).map_err(failed)?;
    let start = Instant::now();
    let told = |what: &str, from: Instant| println!("{what:<8} {:6.2} s", from.elapsed().as_secs_f64());
    let prepared = plan::prepare(&path, &Quiet)?;
    let corners: usize =
        prepared.pieces.iter().map(|p| p.cut.rings().map(|r| r.points.len()).sum::<usize>()).sum();
    told("read", start);
    println!("         {} bands, {corners} corners as cut", prepared.pieces.len());
    let begun = Instant::now();
    let request = lay::Request {
        pieces: &prepared.pieces,
        rules: &prepared.job.pieces,
        cloths: &prepared.cloths,
        spec: &prepared.job.lay,
        kept_clear: &[],
        struck: None,
        keep: 1,
        live: None,
    };
    let lay = lay::lay(&request, &Quiet)?;
    told("lay", begun);
    println!("         {:.1} mm long", lay.cloths[0].used_length_mm);
    told("in all", start);
    println!("         at most 30 s are wanted");
    Ok(())
}
