//! `settlay gauge`: a kerf and squareness gauge as cut files, and what callipers say of it.

use std::path::PathBuf;

use crate::burn::gauge::{Found, Measured, Value, found};
use crate::job::{self, Cutter};
use crate::plan::gauge_pass;
use crate::say::Trouble;
use crate::write;

use super::{summary, tell};

/// Largest file of readings, bytes.
const LARGEST: u64 = 1 << 20;

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
        let found = found(&readings(file).map_err(|t| vec![t])?).map_err(|t| vec![t])?;
        let json = || serde_json::to_string_pretty(&found).unwrap_or_default() + "\n";
        tell::out(&if args.json { json() } else { told(&found) })?;
    }
    if let Some(out) = &args.out {
        let cutter = match (&args.job, &args.cutter) {
            (Some(job), _) => job::read(job)?.cutter,
            (None, Some(file)) => job::read_cutter(file)?,
            (None, None) => Cutter::default(),
        };
        let pass = gauge_pass(&cutter, &args.cloth).map_err(|t| vec![t])?;
        let whole = write::gauge_files(&pass, &cutter, BLANK).map_err(|t| vec![t])?;
        let files = whole.move_in(out).map_err(|t| vec![t])?;
        tell::out(&format!("Wrote {} files to {}.\n{HOW}", files.len(), out.display()))?;
        tell::out(summary::CAUTION)?;
    }
    Ok(0)
}

const BLANK: &str = r#"{
  "callipers_mm": 0.02,
  "plug_x_mm": [],
  "plug_y_mm": [],
  "hole_x_mm": [],
  "hole_y_mm": [],
  "diagonal_rising_mm": [],
  "diagonal_falling_mm": [],
  "gap_mm": []
}
"#;

const HOW: &str = "\
Cut it in card or firm cloth, flat on the bed. x runs to the right, y away from you. Measure, several times each:
the square along x and y (plug), the hole it leaves (hole), the square's diagonals from near left to far right
(rising) and from near right to far left (falling); push the ten blocks of the strip together in their hole and
measure the gap they leave. Write the lengths into a copy of readings-to-fill-in.json, each list at least one, and
run settlay gauge --measured COPY.
";

fn readings(file: &std::path::Path) -> Result<Measured, Trouble> {
    let name = file.display().to_string();
    let about =
        std::fs::metadata(file).map_err(|e| Trouble::bad_input(&name, format!("it cannot be read: {e}")))?;
    if !about.is_file() || about.len() > LARGEST {
        return Err(Trouble::bad_input(&name, "this is no file of readings").hint("name a plain JSON file"));
    }
    let text = std::fs::read_to_string(file)
        .map_err(|e| Trouble::bad_input(&name, format!("it cannot be read as text: {e}")))?;
    serde_json::from_str(&text).map_err(|e| {
        Trouble::bad_input(&name, format!("these are no readings: {e}"))
            .hint("fill in a copy of readings-to-fill-in.json, which settlay gauge --out DIR writes")
    })
}

fn told(f: &Found) -> String {
    let line = |name: &str, v: Value, decimals: usize, unit: &str| {
        format!("{name:<22} {:>9.decimals$} ± {:.decimals$}{unit}\n", v.value, v.plus_minus)
    };
    let within = |v: Value, true_: f64| (v.value - true_).abs() <= v.plus_minus;
    let mut text = line("kerf_mm", f.kerf_mm, 3, " mm");
    text.push_str(&line("multiply x lengths by", f.correct_x, 5, ""));
    text.push_str(&line("multiply y lengths by", f.correct_y, 5, ""));
    text.push_str(&line("y leans towards x by", f.lean_mm_per_100, 3, " mm in 100 mm"));
    text.push_str("The uncertainties are expanded, coverage factor 2 (about 95 %), after JCGM 100:2008.\n");
    text.push_str(&format!("Write \"kerf_mm\": {:.3} into the cutter's settings.\n", f.kerf_mm.value));
    if within(f.correct_x, 1.0) && within(f.correct_y, 1.0) && within(f.lean_mm_per_100, 0.0) {
        text.push_str(
            "Scale and squareness are true within what was measured: leave the machine as it is.\n",
        );
    } else {
        text.push_str("Scale or squareness is off by more than was measured: set it right at the machine.\n");
    }
    text
}
