//! Lays open strip-packing instances through the same search that lays cloth, and prints densities.
//!
//! `cargo run --release --example strip -- INSTANCE.json --seconds S --seed N --out PLACEMENTS.json` lays one and prints
//! its density as time goes; `--all DIR` lays every instance of a folder and prints a table, beside the published
//! figures where a `literature.json` lies in the folder above. `--times N` takes every piece N times as often;
//! `--curve` shows what a move costs as the number of pieces grows.
#![allow(clippy::print_stdout, missing_docs)]

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use clap::Parser;
use serde::Deserialize;
use settlay::lay::{Budget, StripLay, StripPiece, lay_strip};
use settlay::shape::{Region, Ring, pt};

#[derive(Parser)]
struct Args {
    /// The instance file.
    instance: Option<PathBuf>,
    /// A folder of instances, all laid one after the other.
    #[arg(long, value_name = "DIR", conflicts_with = "instance")]
    all: Option<PathBuf>,
    /// How long to search, each.
    #[arg(long, default_value_t = 60.0)]
    seconds: f64,
    /// Where chance starts.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Where the placements are written: a file, or with --all a folder.
    #[arg(long)]
    out: Option<PathBuf>,
    /// Every piece this many times as often as the instance says.
    #[arg(long, default_value_t = 1)]
    times: usize,
    /// Show what a move costs with the instance taken 1, 2, 4, … times.
    #[arg(long)]
    curve: bool,
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
    match (&args.all, &args.instance) {
        (Some(folder), _) => all(args, folder),
        (None, Some(path)) if args.curve => curve(args, &Instance::read(path, 1)?),
        (None, Some(path)) => {
            let instance = Instance::read(path, args.times)?;
            let lay = instance.lay(args.seconds, args.seed, true)?;
            let density = instance.density(lay.length);
            println!("{}: {density:.3} % at length {:.4}, {} moves", instance.name, lay.length, lay.moves);
            args.out.as_ref().map_or(Ok(()), |out| instance.write(&lay, out))
        }
        (None, None) => Err("name an instance file, or a folder of them with --all".into()),
    }
}

/// Every instance of a folder, in order of their names, beside the published figures.
fn all(args: &Args, folder: &Path) -> Result<(), String> {
    let entries = std::fs::read_dir(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let mut paths: Vec<PathBuf> = entries.filter_map(|e| e.ok().map(|e| e.path())).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == "json"));
    paths.sort();
    let published = folder.parent().map(|up| up.join("literature.json"));
    let published = published.and_then(|p| std::fs::read_to_string(p).ok());
    if published.is_none() {
        println!("(no literature.json beside {}: no published figures)", folder.display());
    }
    let published: serde_json::Value = published
        .map_or(Ok(serde_json::Value::Null), |text| serde_json::from_str(&text))
        .map_err(|e| e.to_string())?;
    println!(
        "{:<12} {:>7} {:>10} {:>10} {:>11}  (percent, {} s each)",
        "instance", "pieces", "here", "best", "average", args.seconds
    );
    for path in paths {
        let instance = Instance::read(&path, args.times)?;
        let lay = instance.lay(args.seconds, args.seed, false)?;
        let figure = |field: &str| {
            best_of(&published, &instance.name, field).map_or("-".into(), |v| format!("{v:.2}"))
        };
        println!(
            "{:<12} {:>7} {:>10.3} {:>10} {:>11}",
            instance.name,
            lay.spots.len(),
            instance.density(lay.length),
            figure("best"),
            figure("average")
        );
        if let Some(out) = &args.out {
            std::fs::create_dir_all(out).map_err(|e| format!("{}: {e}", out.display()))?;
            instance.write(&lay, &out.join(format!("{}.json", instance.name)))?;
        }
    }
    Ok(())
}

/// The greatest published figure of an instance whose field's name begins with `field`.
fn best_of(published: &serde_json::Value, name: &str, field: &str) -> Option<f64> {
    let rows = published.as_array().or_else(|| published.as_object()?.values().find_map(|v| v.as_array()))?;
    rows.iter()
        .filter(|row| row.get("instance").and_then(|v| v.as_str()) == Some(name))
        .filter_map(|row| row.as_object()?.iter().find(|(k, _)| k.starts_with(field))?.1.as_f64())
        .fold(None, |most: Option<f64>, v| Some(most.map_or(v, |m| m.max(v))))
}

/// What a move costs as the number of pieces grows.
fn curve(args: &Args, instance: &Instance) -> Result<(), String> {
    println!("{:>8} {:>12} {:>16}", "pieces", "moves", "µs a move");
    for times in [1, 2, 4, 8, 16, 32] {
        let more = instance.times(times);
        let begun = Instant::now();
        let lay = more.lay(args.seconds, args.seed, false)?;
        let us = begun.elapsed().as_secs_f64() * 1e6 / lay.moves.max(1) as f64;
        println!("{:>8} {:>12} {:>16.1}", lay.spots.len(), lay.moves, us);
    }
    Ok(())
}

impl Instance {
    fn read(path: &Path, times: usize) -> Result<Instance, String> {
        let text = std::fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))?;
        let instance: Instance =
            serde_json::from_str(&text).map_err(|e| format!("{}: {e}", path.display()))?;
        Ok(instance.times(times))
    }

    fn times(&self, times: usize) -> Instance {
        Instance {
            name: self.name.clone(),
            strip_width: self.strip_width,
            area_total: self.area_total * times as f64,
            pieces: self
                .pieces
                .iter()
                .map(|p| InstancePiece {
                    id: p.id.clone(),
                    count: p.count * times,
                    rotations_deg: p.rotations_deg.clone(),
                    outline: p.outline.clone(),
                    holes: p.holes.clone(),
                })
                .collect(),
        }
    }

    fn density(&self, length: f64) -> f64 {
        100.0 * self.area_total / (self.strip_width * length)
    }

    /// Lays it; `tell` prints the density now and then.
    fn lay(&self, seconds: f64, seed: u64, tell: bool) -> Result<StripLay, String> {
        // The strip's open direction is x; the lay's is y: turn everything by a quarter.
        let turned = |ring: &[[f64; 2]]| Ring::new(ring.iter().map(|p| pt(-p[1], p[0])).collect());
        let pieces: Vec<StripPiece> = self
            .pieces
            .iter()
            .map(|p| StripPiece {
                region: Region::new(turned(&p.outline), p.holes.iter().map(|h| turned(h)).collect()),
                count: p.count,
                turns_deg: p.rotations_deg.clone(),
            })
            .collect();
        let begun = Instant::now();
        let next = Mutex::new(0.0);
        let budget = Budget { time: Some(Duration::from_secs_f64(seconds)), moves: None };
        let hear = |_: f64, length: f64| {
            let s = begun.elapsed().as_secs_f64();
            if let Ok(mut next) = next.lock()
                && tell
                && s >= *next
            {
                println!("{s:>8.1} s  {:>8.3} %", self.density(length));
                *next = (s * 1.5).max(s + 0.5);
            }
        };
        lay_strip(&pieces, self.strip_width, budget, seed, &hear)
            .map_err(|p| format!("piece {} is wider than the strip", self.pieces[p].id))
    }

    fn write(&self, lay: &StripLay, out: &Path) -> Result<(), String> {
        let placements: Vec<_> = lay
            .spots
            .iter()
            .map(|(p, copy, pose)| {
                // Back by a quarter turn.
                serde_json::json!({
                    "piece": self.pieces[*p].id, "copy": copy, "rotation_deg": pose.turn_deg,
                    "x": pose.shift.y, "y": self.strip_width - pose.shift.x
                })
            })
            .collect();
        let file = serde_json::json!({ "strip_length": lay.length, "placements": placements });
        std::fs::write(out, file.to_string()).map_err(|e| format!("{}: {e}", out.display()))
    }
}
