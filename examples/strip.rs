//! Lays an open strip-packing instance through the same search that lays cloth, and prints densities.
//!
//! `cargo run --release --example strip -- INSTANCE.json --seconds S --seed N --out PLACEMENTS.json`
#![allow(clippy::print_stdout, missing_docs)]

use std::path::PathBuf;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use clap::Parser;
use serde::Deserialize;
use settlay::lay::{Budget, StripPiece, lay_strip};
use settlay::shape::{Region, Ring, pt};

#[derive(Parser)]
struct Args {
    /// The instance file.
    instance: PathBuf,
    /// How long to search.
    #[arg(long, default_value_t = 60.0)]
    seconds: f64,
    /// Where chance starts.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Where the placements are written.
    #[arg(long)]
    out: Option<PathBuf>,
}

#[derive(Deserialize)]
struct Instance {
    name: String,
    strip_width: f64,
    pieces: Vec<InstancePiece>,
    area_total: f64,
}

#[derive(Deserialize)]
struct InstancePiece {
    id: String,
    count: usize,
    rotations_deg: Vec<f64>,
    outline: Vec<[f64; 2]>,
    #[serde(default)]
    holes: Vec<Vec<[f64; 2]>>,
}

fn main() -> ExitCode {
    match run(&Args::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("error: {e}");
            ExitCode::from(2)
        }
    }
}

fn run(args: &Args) -> Result<(), String> {
    let text =
        std::fs::read_to_string(&args.instance).map_err(|e| format!("{}: {e}", args.instance.display()))?;
    let instance: Instance =
        serde_json::from_str(&text).map_err(|e| format!("{}: {e}", args.instance.display()))?;
    // The strip's open direction is x; the lay's is y: turn everything by a quarter.
    let turned = |ring: &[[f64; 2]]| Ring::new(ring.iter().map(|p| pt(-p[1], p[0])).collect());
    let pieces: Vec<StripPiece> = instance
        .pieces
        .iter()
        .map(|p| StripPiece {
            region: Region::new(turned(&p.outline), p.holes.iter().map(|h| turned(h)).collect()),
            count: p.count,
            turns_deg: p.rotations_deg.clone(),
        })
        .collect();
    let begun = Instant::now();
    let density = |length: f64| 100.0 * instance.area_total / (instance.strip_width * length);
    let budget = Budget { time: Some(Duration::from_secs_f64(args.seconds)), moves: None };
    let milestone = std::sync::Mutex::new(0.0);
    let lay = lay_strip(&pieces, instance.strip_width, budget, args.seed, &|_, length| {
        let s = begun.elapsed().as_secs_f64();
        if let Ok(mut next) = milestone.lock() {
            if s >= *next {
                println!("{:>8.1} s  {:>8.3} %", s, density(length));
                *next = (s * 1.5).max(s + 0.5);
            }
        }
    })
    .map_err(|p| format!("piece {} is wider than the strip", instance.pieces[p].id))?;
    println!(
        "{}: {:.3} % at length {:.4}, {} moves",
        instance.name,
        density(lay.length),
        lay.length,
        lay.moves
    );
    if let Some(out) = &args.out {
        let placements: Vec<_> = lay
            .spots
            .iter()
            .map(|(p, copy, pose)| {
                // Back by a quarter turn: (x, y) here is (y, width − x) … there.
                serde_json::json!({
                    "piece": instance.pieces[*p].id, "copy": copy, "rotation_deg": pose.turn_deg,
                    "x": pose.shift.y, "y": instance.strip_width - pose.shift.x
                })
            })
            .collect();
        let file = serde_json::json!({ "strip_length": lay.length, "placements": placements });
        std::fs::write(out, file.to_string()).map_err(|e| format!("{}: {e}", out.display()))?;
    }
    Ok(())
}
