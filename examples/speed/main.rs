//! How fast, and in how much memory: `cargo run --release --example speed`, and for the largest inputs there may be
//! `cargo run --release --example speed -- large`.
//!
//! Each measurement is a process of its own, so that its peak memory is its own as well. The targets are for a
//! machine with two cores. Peak memory is read from Linux's `/proc/self/status` (VmHWM, see proc(5)); elsewhere it
//! is left out.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used)]

use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use settlay::burn;
use settlay::drawing::faults::{self, FaultLimits};
use settlay::drawing::{self, ReadOptions};
use settlay::job::Cutter;
use settlay::passes;
use settlay::plan;
use settlay::say::Quiet;
use settlay::shape::{Bounds, Region, Ring, pt, turn_cos_sin};
use settlay::write;

mod large;

const TARGET_MB: f64 = 300.0;

const PATHS: usize = 5_000;
const CORNERS: usize = 20;

fn main() {
    match std::env::args().nth(1).as_deref() {
        Some("demo") => demo(),
        Some("drawing") => big_drawing(),
        Some("passes") => many_passes(),
        Some("files") => many_files(),
        Some("large") => each(&large::ALL),
        Some(what) if large::ALL.contains(&what) => large::measure(what),
        _ => each(&["demo", "drawing", "passes", "files"]),
    }
}

/// Every measurement in a process of its own.
fn each(all: &[&str]) {
    for what in all {
        let own = std::env::current_exe().expect("the path of this program");
        let status = Command::new(own).arg(what).status().expect("a second process");
        assert!(status.success(), "measuring {what} failed");
    }
}

/// The demo from job file to finished folder.
fn demo() {
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/reed-bed/reed-bed.job.json");
    let out = tempfile::tempdir().expect("a temporary folder");
    let start = Instant::now();
    let prepared = plan::prepare(&job, &Quiet).expect("the demo's job");
    let seconds = prepared.job.lay.seconds;
    let read_s = start.elapsed().as_secs_f64();
    let run = plan::run(prepared, &Quiet).expect("the demo laid and split");
    let run_s = start.elapsed().as_secs_f64();
    write::all(&run.prepared.job, &run.plan, &run.prepared.cloths, &out.path().join("plan"))
        .expect("the demo written");
    let all_s = start.elapsed().as_secs_f64();
    println!("demo, of which {seconds} s are given to the search");
    println!("  read     {read_s:6.2} s");
    println!("  lay etc. {:6.2} s", run_s - read_s);
    println!("  write    {:6.2} s", all_s - run_s);
    let (chords, nodes) = write::nodes(&run.plan, &run.prepared.job.cutter);
    println!(
        "  points   {nodes} in cut files, {chords} as chords: {:.1} times fewer",
        chords as f64 / nodes as f64
    );
    told(all_s, 15.0);
}

/// Passes for 500 pieces on a cloth larger than the bed both ways, one of them larger than the bed.
fn many_passes() {
    let round = |k: usize| {
        let centre = pt(90.0 + 60.0 * (k % 20) as f64, 90.0 + 60.0 * (k / 20) as f64);
        let at = |i: i32| {
            let (c, s) = turn_cos_sin(3.6 * f64::from(i));
            centre + pt(c, s) * 24.0
        };
        Region::new(Ring::new((0..100).map(at).collect()), Vec::new())
    };
    let box_of = |x: f64, y: f64, w: f64, h: f64| Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)));
    let mut cuts: Vec<Region> = (0..499).map(round).collect();
    cuts.push(box_of(1300.0, 30.0, 60.0, 1500.0));
    let cloth = box_of(0.0, 0.0, 1400.0, 1600.0).outline;
    let cutter = Cutter::default();
    let contours = burn::contours(&cuts, cutter.kerf_mm).contours;
    let start = Instant::now();
    let made = passes::plan(&passes::Request {
        cloth_outline: &cloth,
        edge_mm: 5.0,
        flaws: &[],
        cuts: &cuts,
        contours: &contours,
        names: &[],
        cutter: &cutter,
    })
    .expect("passes for them");
    println!("passes for {} pieces: {}", cuts.len(), made.passes.len());
    told(start.elapsed().as_secs_f64(), 2.0);
}

/// All files of a job of 500 leaves, each with two veins cut out.
fn many_files() {
    let out = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(out.path().join("leaves.svg"), leaves()).expect("a drawing");
    let job = r##"{ "settlay": 1, "title": "Five hundred leaves", "drawing": "leaves.svg",
        "cloths": [{ "name": "moss", "width_mm": 1480, "edge_mm": 10, "weave": "twill-z",
            "pattern": { "warp": "G/12 K4 W/2", "ends_per_cm": 16, "picks_per_cm": 14,
                "colours": { "G": "#47603a", "K": "#20261c", "W": "#d8d2bd" } } }],
        "pieces": [{ "select": { "id": "*" }, "cloth": "moss", "match": "free" }],
        "cutter": { "bed_mm": [900, 600] }, "lay": { "effort": 1 } }"##;
    let path = out.path().join("leaves.job.json");
    std::fs::write(&path, job).expect("a job");
    let start = Instant::now();
    let prepared = plan::prepare(&path, &Quiet).expect("the job");
    println!("files of a job");
    println!("  read     {:6.2} s", start.elapsed().as_secs_f64());
    let start = Instant::now();
    let run = plan::run(prepared, &Quiet).expect("laid and split");
    let (pieces, passes) = (run.plan.pieces.len(), run.plan.passes.len());
    println!("  lay etc. {:6.2} s, {pieces} pieces in {passes} passes", start.elapsed().as_secs_f64());
    let (chords, nodes) = write::nodes(&run.plan, &run.prepared.job.cutter);
    println!("  points   {nodes} in cut files, {chords} as chords");
    let start = Instant::now();
    let written = write::all(&run.prepared.job, &run.plan, &run.prepared.cloths, &out.path().join("plan"))
        .expect("written");
    println!("  write    {} files", written.len());
    told(start.elapsed().as_secs_f64(), 3.0);
}

/// Five hundred pointed leaves with two veins each, no two alike.
fn leaves() -> String {
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"2500mm\" height=\"2000mm\" viewBox=\"0 0 2500 2000\">\n",
    );
    for k in 0..500 {
        let (x, y) = ((k % 25) as f64 * 100.0 + 50.0, (k / 25) as f64 * 100.0 + 50.0);
        let (long, wide, lean) =
            (26.0 + (k % 7) as f64 * 3.0, 9.0 + (k % 5) as f64 * 2.0, (k % 11) as f64 * 16.0);
        let _ = write!(
            svg,
            "<path id=\"leaf-{k}\" fill-rule=\"evenodd\" transform=\"translate({x} {y}) rotate({lean})\" d=\"M{0} 0\
             C{1} {2} {3} {2} {4} 0 C{3} {5} {1} {5} {0} 0Z",
            -long,
            -long * 0.4,
            wide * 1.3,
            long * 0.5,
            long,
            -wide * 1.2
        );
        for side in [-1.0, 1.0] {
            let (low, high) = (side * wide * 0.2, side * wide * 0.45);
            let _ =
                write!(svg, " M{0} {low}Q0 {high} {1} {low}Q0 {low} {0} {low}Z", -long * 0.35, long * 0.35);
        }
        svg.push_str("\"/>\n");
    }
    svg.push_str("</svg>\n");
    svg
}

/// A drawing of thousands of paths read and looked over.
fn big_drawing() {
    let svg = generated();
    let start = Instant::now();
    let drawing = drawing::parse(svg.as_bytes(), "large.svg", &ReadOptions::default()).expect("the drawing");
    let read_s = start.elapsed().as_secs_f64();
    let faults = faults::of_drawing(&drawing, &FaultLimits::default());
    let all_s = start.elapsed().as_secs_f64();
    println!("drawing of {PATHS} paths with {} corners", PATHS * CORNERS);
    println!("  read     {read_s:6.2} s, {} elements", drawing.elements.len());
    println!("  faults   {:6.2} s, {} found", all_s - read_s, faults.len());
    told(all_s, 2.0);
}

fn told(seconds: f64, target: f64) {
    println!("  all      {seconds:6.2} s   target {target} s   {}", verdict(seconds <= target));
    match peak_mb() {
        Some(mb) => {
            println!("  peak     {mb:6.0} MB  target {TARGET_MB} MB   {}", verdict(mb <= TARGET_MB))
        }
        None => println!("  peak     not known on this system"),
    }
}

fn verdict(met: bool) -> &'static str {
    if met { "met" } else { "MISSED" }
}

fn peak_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kb| kb / 1024.0)
}

/// Stars of different shape side by side, a hundred to a row, some near enough to others to be looked at twice.
fn generated() -> String {
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"1600mm\" height=\"800mm\" viewBox=\"0 0 1600 800\">\n",
    );
    for k in 0..PATHS {
        let (x, y) = ((k % 100) as f64 * 16.0 + 8.0, (k / 100) as f64 * 16.0 + 8.0);
        let _ = write!(svg, "<path id=\"star-{k}\" d=\"M");
        for i in 0..CORNERS {
            let a = std::f64::consts::TAU * i as f64 / CORNERS as f64;
            let r = if i % 2 == 0 { 7.9 } else { 4.0 + (k % 13) as f64 * 0.2 };
            let _ = write!(svg, "{:.3} {:.3} ", x + r * a.cos(), y + r * a.sin());
        }
        svg.push_str("Z\"/>\n");
    }
    svg.push_str("</svg>\n");
    svg
}
