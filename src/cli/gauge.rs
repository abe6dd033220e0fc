//! `settlay gauge`: a kerf and squareness gauge as cut files, and what callipers say of it.

use std::collections::BTreeSet;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::burn;
use crate::burn::gauge::{Found, Value, found};
use crate::job::{self, Cutter};
use crate::plan::{self, PlanPass, gauge_pass};
use crate::say::Trouble;
use crate::write;

use super::{folder, summary, tell};

/// Bytes of a megabyte.
const MB: u64 = 1 << 20;
/// Largest file of readings, bytes.
const LARGEST: u64 = MB;

/// Words of `settlay gauge`.
#[derive(clap::Args, Debug)]
#[command(group(clap::ArgGroup::new("what").required(true).args(["out", "measured"])))]
pub struct GaugeArgs {
    /// Write the gauge's cut files into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// The job whose cutter it is for
    #[arg(long, value_name = "JOB", conflicts_with = "cutter")]
    job: Option<PathBuf>,
    /// The cutter's own file
    #[arg(long, value_name = "FILE")]
    cutter: Option<PathBuf>,
    /// What it is cut in: the name under which power and speed are in the cutter's tested list
    #[arg(long, value_name = "NAME", default_value = "gauge")]
    cloth: String,
    /// Reckon from the readings in this file, as `readings-to-fill-in.json` beside the gauge has them
    #[arg(long, value_name = "FILE", conflicts_with = "out")]
    measured: Option<PathBuf>,
    /// Print what the readings say as JSON
    #[arg(long, requires = "measured")]
    json: bool,
}

/// Writes the gauge, or reckons from its readings.
///
/// # Errors
/// Files that cannot be read or written, readings that make no sense.
pub fn run(args: &GaugeArgs) -> Result<u8, Vec<Trouble>> {
    if let Some(file) = &args.measured {
        let text = readings(file).map_err(|t| vec![t])?;
        let found = found(&burn::readings::read(&text, &file.display().to_string())?).map_err(|t| vec![t])?;
        let json = || serde_json::to_string_pretty(&found).unwrap_or_default() + "\n";
        tell::out(&if args.json { json() } else { told(&found) })?;
    }
    if let Some(out) = &args.out {
        let cutter = cutter_of(args)?;
        let pass = gauge_pass(&cutter, &args.cloth).map_err(|t| vec![t])?;
        let whole = write::gauge_files(&pass, &cutter, &form()).map_err(|t| vec![t])?;
        folder::settled(out)?;
        let files = whole.move_in(out).map_err(|t| vec![t])?;
        let hold = HOLD.join("\n");
        tell::out(&format!("Wrote {} files to {}.\n{HOW}{hold}\n{FILL}", files.len(), out.display()))?;
        if let Some(missing) = untested(&pass, &cutter) {
            tell::out(&missing)?;
        }
        tell::out(summary::CAUTION)?;
    }
    Ok(0)
}

/// The cutter the gauge is for.
fn cutter_of(args: &GaugeArgs) -> Result<Cutter, Vec<Trouble>> {
    match (&args.job, &args.cutter) {
        (Some(job), _) => job::read(job).map(|job| job.cutter),
        (None, Some(file)) => job::read_cutter(file),
        (None, None) => Ok(Cutter::default()),
    }
}

/// Why there is no G-code but a rehearsal, where that is so, and what to do.
fn untested(pass: &PlanPass, cutter: &Cutter) -> Option<String> {
    cutter.gcode.as_ref()?;
    let missing: Vec<&str> = plan::without_power(pass, cutter).into_iter().collect();
    let first = missing.first()?;
    let known: BTreeSet<&str> = cutter.tested.iter().filter_map(|t| t.cloth.as_deref()).collect();
    let tested = |cloth: &&str| pass.burns.iter().all(|b| cutter.tested_for(cloth, &b.kind).is_some());
    let known: Vec<&str> = known.into_iter().filter(tested).collect();
    let or = match known.get(..known.len().min(MOST_CLOTHS)) {
        Some(some) if !some.is_empty() => {
            format!(" Or cut it in what was tested and name that with --cloth: {}.", some.join(", "))
        }
        _ => String::new(),
    };
    Some(format!(
        "caution: cloth {}: No power and speed found by test are given for {} on it, so there is no gauge.gcode, only a \
         rehearsal with the beam off. Find them on a scrap of what the gauge is cut in and write them into the cutter's \
         tested list, each as {{ \"cloth\": {}, \"kind\": \"{first}\", \"power\": …, \"mm_per_s\": … }}.{or}\n",
        pass.cloth,
        missing.join(" and "),
        serde_json::Value::from(pass.cloth.as_str())
    ))
}

/// Cloths with a tested power that are named one by one.
const MOST_CLOTHS: usize = 5;

const BLANK: &str = r#"  "callipers_mm": 0.02,
  "plug_x_mm": [],
  "plug_y_mm": [],
  "hole_x_mm": [],
  "hole_y_mm": [],
  "diagonal_rising_mm": [],
  "diagonal_falling_mm": [],
  "gap_mm": []
}
"#;

/// The form for readings, with how to hold the gauge on top.
fn form() -> String {
    let lines = HOLD.map(|line| format!("    {}", serde_json::Value::from(line))).join(",\n");
    let program = serde_json::Value::from(crate::PROGRAM);
    format!("{{\n  \"program\": {program},\n  \"how_to_hold\": [\n{lines}\n  ],\n{BLANK}")
}

const HOW: &str = "Cut it in card or firm cloth, flat on the bed.\n";

/// How to hold the gauge once it is out of the machine.
const HOLD: [&str; 5] = [
    "Square and surround each have an arrow cut out: lay them so that it is at the near left and points to the right.",
    "That is how they lay on the bed. If the arrow can only be had pointing right at the far left, turn the piece over.",
    "x runs along the arrow, to the right; y runs away from you.",
    "Rising is the square's diagonal from near left, the arrow's corner, to far right.",
    "Falling is the one from near right to far left.",
];

const FILL: &str = "\
Measure, several times each: the square along x and y (plug), the hole it leaves (hole), both diagonals of the square;
push the ten blocks of the strip together in their hole and measure the gap they leave. Write the lengths into a copy
of readings-to-fill-in.json, each list at least one, and run settlay gauge --measured COPY.
";

/// The text of a filled-in form.
fn readings(file: &Path) -> Result<String, Trouble> {
    let name = file.display().to_string();
    let cannot = |e: io::Error| {
        let what = match e.kind() {
            io::ErrorKind::NotFound => "there is no such file".into(),
            io::ErrorKind::PermissionDenied => "the file may not be read (permission denied)".into(),
            _ => format!("the file cannot be read: {e}"),
        };
        Trouble::bad_input(&name, what).hint(FORM_HINT)
    };
    let about = fs::metadata(file).map_err(cannot)?;
    if about.is_dir() {
        let what = "this is a folder, not a file of readings";
        return Err(Trouble::bad_input(&name, what).hint("name the file of readings in it"));
    }
    if !about.is_file() {
        // A pipe would keep the run waiting for a writer that never comes.
        return Err(Trouble::bad_input(&name, "this is no plain file").hint("save the readings to a file"));
    }
    let mut bytes = Vec::new();
    fs::File::open(file).and_then(|f| f.take(LARGEST + 1).read_to_end(&mut bytes)).map_err(cannot)?;
    if bytes.len() as u64 > LARGEST {
        let size = about.len().max(LARGEST + 1) as f64 / MB as f64;
        let what = format!("the file is too large for readings: {size:.1} MB, {} MB at most", LARGEST / MB);
        return Err(Trouble::bad_input(&name, what).hint("is this the right file?"));
    }
    let text = String::from_utf8(bytes)
        .map_err(|_| Trouble::bad_input(&name, "the file is not text in UTF-8").hint(FORM_HINT))?;
    Ok(text.strip_prefix('\u{feff}').map_or(text.clone(), str::to_owned))
}

const FORM_HINT: &str = "fill in a copy of readings-to-fill-in.json, which settlay gauge --out DIR writes";

fn told(f: &Found) -> String {
    let line = |name: &str, v: Value, decimals: usize, unit: &str| {
        format!("{name:<22} {:>9.decimals$} ± {:.decimals$}{unit}\n", v.value, v.plus_minus)
    };
    let mut text = line("kerf_mm", f.kerf_mm, 3, " mm");
    text.push_str(&line("multiply x lengths by", f.correct_x, 5, ""));
    text.push_str(&line("multiply y lengths by", f.correct_y, 5, ""));
    text.push_str(&line("y leans towards x by", f.lean_mm_per_100, 3, " mm in 100 mm"));
    text.push_str("The uncertainties are expanded, coverage factor 2 (about 95 %), after JCGM 100:2008.\n");
    text.push_str(&format!("Write \"kerf_mm\": {:.3} into the cutter's settings.\n", f.kerf_mm.value));
    let off = |v: Value, true_: f64| (v.value - true_).abs() > v.plus_minus;
    let ways = [
        ("the scale of x", off(f.correct_x, 1.0)),
        ("the scale of y", off(f.correct_y, 1.0)),
        ("squareness", off(f.lean_mm_per_100, 0.0)),
    ];
    let off: Vec<&str> = ways.iter().filter(|(_, off)| *off).map(|(name, _)| *name).collect();
    if off.is_empty() {
        text.push_str(
            "Scale and squareness are true within what was measured: leave the machine as it is.\n",
        );
    } else {
        text.push_str(&format!(
            "Off by more than the uncertainty: {}. Set it right at the machine.\n",
            off.join(", ")
        ));
    }
    text
}
