//! `settlay lay JOB`.

use std::path::PathBuf;

use crate::lay;
use crate::plan;
use crate::say::Trouble;
use crate::sew;

use super::progress::Terminal;
use super::tell;

/// Words of `settlay lay`.
#[derive(clap::Args, Debug)]
pub struct LayArgs {
    /// The job file
    job: PathBuf,
    /// How long to search, seconds, in place of the job's
    #[arg(long, value_name = "S")]
    seconds: Option<f64>,
    /// Where chance starts, in place of the job's
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Print the figures as JSON
    #[arg(long)]
    json: bool,
}

/// Lays the pieces and prints how much cloth they take.
///
/// # Errors
/// Why they cannot be laid.
pub fn run(args: &LayArgs) -> Result<u8, Vec<Trouble>> {
    let watch = Terminal::new();
    let mut prepared = plan::prepare(&args.job, &watch)?;
    let spec = &mut prepared.job.lay;
    if let Some(seconds) = args.seconds {
        if !(seconds.is_finite() && seconds > 0.0) {
            return Err(vec![Trouble::bad_input("--seconds", format!("{seconds} is not a length of time"))]);
        }
        (spec.seconds, spec.effort) = (seconds, None);
    }
    spec.seed = args.seed.unwrap_or(spec.seed);
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
    let (lay, said) = sew::lay_off_bias(&request, prepared.job.cutter.border_mm, &watch)?;
    watch.done();
    tell::cautions(&prepared.notes);
    let seams =
        sew::seams(&prepared.pieces, &prepared.job.pieces, sew::near_mm(prepared.job.cutter.border_mm));
    let judgement = sew::judge(&seams, &lay, &prepared.pieces, &prepared.cloths);
    let mut said = said;
    said.extend(lay::turned_notes(&lay, &prepared.pieces, &prepared.job.pieces, &prepared.cloths));
    said.extend(lay::choice_notes(&lay, &prepared.cloths));
    said.extend(judgement.notes(&prepared.pieces, &prepared.cloths));
    let mut rows = Vec::new();
    for (c, (cloth, on)) in prepared.cloths.iter().zip(&lay.cloths).enumerate() {
        if on.placed.is_empty() {
            continue;
        }
        let shift = |p: &lay::Placed| prepared.pieces[p.piece].id.clone();
        if args.json {
            rows.push(serde_json::json!({
                "cloth": cloth.name, "pieces": on.placed.len(), "used_length_mm": on.used_length_mm,
                "efficiency": on.efficiency(), "least_length_mm": on.least_length_mm, "proved_shortest": on.proved,
                "pattern_breaks": judgement.broken.iter().filter(|b| b.cloths[0] == c).map(|b| serde_json::json!({
                    "upper": prepared.pieces[b.upper].id, "lower": prepared.pieces[b.lower].id, "copy": b.copy,
                    "off_across_mm": b.off_mm[0], "off_along_mm": b.off_mm[1] })).collect::<Vec<_>>(),
                "placed": on.placed.iter().map(|p| serde_json::json!({
                    "id": shift(p), "copy": p.copy, "turn_deg": p.pose.turn_deg,
                    "shift": [p.pose.shift.x, p.pose.shift.y] })).collect::<Vec<_>>()
            }));
        } else {
            tell::out(&format!(
                "{:<12} {} pieces in {:.0} mm of {:.0} mm width, {:.1} % of it used\n",
                cloth.name,
                on.placed.len(),
                on.used_length_mm,
                cloth.width_mm(),
                100.0 * on.efficiency()
            ))?;
        }
    }
    if args.json {
        tell::out(&format!("{}\n", serde_json::Value::from(rows)))?;
    } else {
        for note in &said {
            tell::out(&format!("{}: {}\n", note.about, note.text))?;
        }
        tell::out(
            "The lay alone: no room is kept for marks and no passes are made. settlay plan does the whole job.\n",
        )?;
    }
    Ok(0)
}
