//! The largest inputs there may be, made here in a temporary folder: `cargo run --release --example speed -- large`.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Instant;

use settlay::drawing::faults::{self, FaultLimits};
use settlay::drawing::{self, ReadOptions};
use settlay::plan;
use settlay::say::{Trouble, Watch};
use settlay::write;

use crate::peak_mb;

/// What is measured, one process each.
pub const ALL: [&str; 4] = ["largest-drawing", "ten-thousand", "hundred-cloths", "photograph"];

/// Measures one of them.
pub fn measure(what: &str) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    match what {
        "largest-drawing" => largest_drawing(),
        "ten-thousand" => ten_thousand(folder.path()),
        "hundred-cloths" => hundred_cloths(folder.path()),
        _ => photograph(folder.path()),
    }
    match peak_mb() {
        Some(mb) => println!("  peak     {mb:6.0} MB"),
        None => println!("  peak     not known on this system"),
    }
}

/// The longest time without a word of progress, and how many words there were.
struct Heard(Mutex<(Instant, f64, String, u64)>);

impl Heard {
    fn new() -> Heard {
        Heard(Mutex::new((Instant::now(), 0.0, "read".into(), 0)))
    }

    fn told(&self) {
        let h = self.0.lock().expect("what was heard");
        println!("  progress {} words, the longest silence {:.1} s, in stage {}", h.3, h.1, h.2);
    }
}

impl Watch for Heard {
    fn step(&self, stage: &str, _share: f64, _now: &str) {
        let mut h = self.0.lock().expect("what was heard");
        let silence = h.0.elapsed().as_secs_f64();
        if silence > h.1 {
            (h.1, h.2) = (silence, stage.to_owned());
        }
        (h.0, h.3) = (Instant::now(), h.3 + 1);
    }

    fn stopped(&self) -> bool {
        false
    }
}

/// A drawing of just under 32 MB, read and looked over.
fn largest_drawing() {
    const BYTES: usize = (32 << 20) - 2_000;
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"4000mm\" height=\"4000mm\" viewBox=\"0 0 4000 4000\">\n",
    );
    let mut k = 0;
    while svg.len() < BYTES {
        star(&mut svg, k, 60, 16.0, 250);
        k += 1;
    }
    svg.push_str("</svg>\n");
    println!("drawing of {:.1} MB, {k} paths", svg.len() as f64 / f64::from(1 << 20));
    let start = Instant::now();
    match drawing::parse(svg.as_bytes(), "large.svg", &ReadOptions::default()) {
        Ok(drawing) => {
            println!(
                "  read     {:6.1} s, {} elements",
                start.elapsed().as_secs_f64(),
                drawing.elements.len()
            );
            let start = Instant::now();
            let faults = faults::of_drawing(&drawing, &FaultLimits::default());
            println!("  faults   {:6.1} s, {} found", start.elapsed().as_secs_f64(), faults.len());
        }
        Err(t) => println!("  refused after {:.1} s: {t}", start.elapsed().as_secs_f64()),
    }
}

/// A star with so many corners, so many to a row.
fn star(svg: &mut String, k: usize, corners: usize, apart: f64, row: usize) {
    let (x, y) = ((k % row) as f64 * apart + apart / 2.0, (k / row) as f64 * apart + apart / 2.0);
    let _ = write!(svg, "<path id=\"star-{k}\" d=\"M");
    for i in 0..corners {
        let a = std::f64::consts::TAU * i as f64 / corners as f64;
        let r = if i % 2 == 0 { 0.45 } else { 0.3 + (k % 13) as f64 * 0.01 } * apart;
        let _ = write!(svg, "{:.3} {:.3} ", x + r * a.cos(), y + r * a.sin());
    }
    svg.push_str("Z\"/>\n");
}

fn whole_job(folder: &Path, svg: &str, job: &str) -> PathBuf {
    std::fs::write(folder.join("large.svg"), svg).expect("a drawing");
    let path = folder.join("large.job.json");
    std::fs::write(&path, job).expect("a job");
    path
}

/// Reads, lays, splits and writes a job, as `settlay plan` does.
fn planned(path: &Path, out: &Path) {
    let watch = Heard::new();
    let told = |t: Vec<Trouble>| t.iter().map(Trouble::to_string).collect::<Vec<_>>().join("; ");
    let start = Instant::now();
    let prepared = match plan::prepare(path, &watch) {
        Ok(prepared) => prepared,
        Err(t) => return println!("  refused after {:.1} s: {}", start.elapsed().as_secs_f64(), told(t)),
    };
    println!("  read     {:6.1} s", start.elapsed().as_secs_f64());
    let start = Instant::now();
    let run = match plan::run(prepared, &watch) {
        Ok(run) => run,
        Err(t) => {
            println!("  refused after {:.1} s: {}", start.elapsed().as_secs_f64(), told(t));
            return watch.told();
        }
    };
    let (pieces, passes) = (run.plan.pieces.len(), run.plan.passes.len());
    println!("  lay etc. {:6.1} s, {pieces} pieces in {passes} passes", start.elapsed().as_secs_f64());
    let start = Instant::now();
    watch.step("write", 0.0, "");
    match write::all(&run.prepared.job, &run.plan, &run.prepared.cloths, out) {
        Ok(files) => println!("  write    {:6.1} s, {} files", start.elapsed().as_secs_f64(), files.len()),
        Err(t) => println!("  refused after {:.1} s: {t}", start.elapsed().as_secs_f64()),
    }
    watch.step("written", 1.0, "");
    watch.told();
}

/// Ten thousand pieces of a hundred shapes.
fn ten_thousand(folder: &Path) {
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400mm\" height=\"400mm\" viewBox=\"0 0 400 400\">\n",
    );
    (0..100).for_each(|k| star(&mut svg, k, 16, 40.0, 10));
    svg.push_str("</svg>\n");
    let job = r##"{ "settlay": 1, "title": "Ten thousand stars", "drawing": "large.svg",
        "cloths": [{ "name": "moss", "width_mm": 1480, "edge_mm": 10, "weave": "plain" }],
        "pieces": [{ "select": { "id": "*" }, "cloth": "moss", "count": 100 }],
        "cutter": { "bed_mm": [1600, 1000] }, "lay": { "effort": 1 } }"##;
    println!("ten thousand pieces, effort 1");
    planned(&whole_job(folder, &svg, job), &folder.join("plan"));
}

/// Five hundred pieces for a hundred scraps of one stock.
fn hundred_cloths(folder: &Path) {
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"2500mm\" height=\"2000mm\" viewBox=\"0 0 2500 2000\">\n",
    );
    (0..500).for_each(|k| star(&mut svg, k, 12, 90.0, 25));
    svg.push_str("</svg>\n");
    let scraps: Vec<String> = (0..100)
        .map(|k| {
            let (w, l) = (220 + 23 * (k % 9), 200 + 31 * (k % 7));
            format!(
                r#"{{ "name": "scrap-{k}", "stock": "scraps", "width_mm": {w}, "length_mm": {l}, "edge_mm": 5, "weave": "plain" }}"#
            )
        })
        .collect();
    let job = format!(
        r##"{{ "settlay": 1, "title": "A hundred scraps", "drawing": "large.svg", "cloths": [{}],
        "pieces": [{{ "select": {{ "id": "*" }}, "cloth": "scraps" }}],
        "cutter": {{ "bed_mm": [900, 600] }}, "lay": {{ "effort": 1 }} }}"##,
        scraps.join(", ")
    );
    println!("five hundred pieces on a hundred cloths, effort 1");
    planned(&whole_job(folder, &svg, &job), &folder.join("plan"));
}

/// A cloth shown by a photograph of 64 megapixels.
fn photograph(folder: &Path) {
    const SIDE: u32 = 8_000;
    let file = std::fs::File::create(folder.join("cloth.png")).expect("a photograph");
    let mut encoder = png::Encoder::new(std::io::BufWriter::new(file), SIDE, SIDE);
    encoder.set_color(png::ColorType::Rgb);
    let mut pixels = Vec::with_capacity((SIDE * SIDE * 3) as usize);
    for y in 0..SIDE {
        for x in 0..SIDE {
            let stripe = if x % 2000 < 700 { 150 } else { 60 };
            pixels.extend([stripe, (y / 32) as u8, (stripe / 2) + (y % 7) as u8]);
        }
    }
    let mut writer = encoder.write_header().expect("a photograph");
    writer.write_image_data(&pixels).expect("a photograph");
    writer.finish().expect("a photograph");
    drop(pixels);
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400mm\" height=\"400mm\" viewBox=\"0 0 400 400\">\n",
    );
    (0..16).for_each(|k| star(&mut svg, k, 16, 90.0, 4));
    svg.push_str("</svg>\n");
    let job = r##"{ "settlay": 1, "title": "Photographed", "drawing": "large.svg",
        "cloths": [{ "name": "moss", "width_mm": 700, "edge_mm": 10, "weave": "plain",
            "pattern": { "photo": { "file": "cloth.png", "size_mm": [200, 200] }, "symmetrical": false } }],
        "pieces": [{ "select": { "id": "*" }, "cloth": "moss" }],
        "cutter": { "bed_mm": [900, 600] }, "lay": { "effort": 1 } }"##;
    println!("a photograph of 64 megapixels; the peak holds its making, 192 MB");
    planned(&whole_job(folder, &svg, job), &folder.join("plan"));
}
