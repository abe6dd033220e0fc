//! `settlay check DRAWING|JOB`: the faults of a drawing, told, counted and drawn.

mod gather;
mod picture;
mod report;
mod table;

use std::path::PathBuf;

use super::tell;
use crate::say::Trouble;

/// Finds the faults of a drawing, or of the drawing and pieces of a job.
#[derive(clap::Args, Clone, Debug)]
pub struct CheckArgs {
    /// The drawing (SVG), or a job that names one (JSON).
    pub path: PathBuf,

    /// Width of the page in millimetres, where the drawing states none or the wrong one.
    #[arg(long, value_name = "MM", value_parser = width)]
    pub width_mm: Option<f64>,

    /// Places narrower than this are necks; 0 looks for none.
    #[arg(long, value_name = "MM", default_value = "3", value_parser = neck)]
    pub neck_mm: f64,

    /// Draw the faults into this file, an SVG or a PNG by its ending.
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,

    /// Print one JSON object instead of text.
    #[arg(long)]
    pub json: bool,
}

fn number(text: &str) -> Result<f64, String> {
    text.parse()
        .ok()
        .filter(|v: &f64| v.is_finite())
        .ok_or_else(|| "expected a number of millimetres".to_string())
}

fn width(text: &str) -> Result<f64, String> {
    number(text).and_then(|v| if v > 0.0 { Ok(v) } else { Err("expected more than 0".into()) })
}

fn neck(text: &str) -> Result<f64, String> {
    let most = crate::drawing::faults::FaultLimits::WIDEST_NECK_MM;
    number(text)
        .and_then(|v| if (0.0..=most).contains(&v) { Ok(v) } else { Err(format!("expected 0 to {most}")) })
}

/// Checks, prints to stdout and draws the picture if asked. 0: nothing stops the work; 1: something does.
///
/// # Errors
/// Input that cannot be read, rules that contradict the drawing or the cloth (after what was found has been
/// printed), a picture that cannot be written.
pub fn run(args: &CheckArgs) -> Result<u8, Vec<Trouble>> {
    let picture = args.picture.as_deref().map(picture::Target::of).transpose().map_err(|t| vec![t])?;
    let checked = gather::gather(args)?;
    let mut text = if args.json { report::json(&checked) } else { report::text(&checked) };
    if let Some(target) = picture {
        target.write(&checked).map_err(|t| vec![t])?;
        if !args.json {
            text.push_str(&format!("\nwrote {}\n", target.path().display()));
        }
    }
    tell::out(&text)?;
    if checked.troubles.is_empty() { Ok(checked.exit_code()) } else { Err(checked.troubles) }
}

#[cfg(test)]
mod tests;
