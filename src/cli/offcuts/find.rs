//! `settlay offcuts find JOB`.

use std::path::PathBuf;

use serde_json::{Value, json};

use crate::offcuts::{self, Effort, Found, Offcut, Place, Tried};
use crate::plan;
use crate::say::Trouble;

use super::said;
use crate::cli::progress::Terminal;
use crate::cli::tell;

/// Words of `settlay offcuts find`.
#[derive(clap::Args, Debug)]
pub struct FindArgs {
    /// The job file
    job: PathBuf,
    /// How hard to search for each lay tried first, thousands of moves, in place of 0.08; what failed is taken up again with
    /// ten times as many
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    effort: Option<u64>,
    /// How long to try offcuts of each fabric by laying, the likeliest first
    #[arg(long, value_name = "S", default_value_t = 5.0)]
    seconds: f64,
    /// How many lays to try for each fabric, however long it takes; the same number gives the same answer
    #[arg(long, value_name = "N", conflicts_with = "seconds")]
    tries: Option<usize>,
    /// How many to list of each sort
    #[arg(long, value_name = "N", default_value_t = 6)]
    most: usize,
    /// Print the list as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &FindArgs, place: &Place) -> Result<u8, Vec<Trouble>> {
    let watch = Terminal::new();
    let prepared = plan::prepare(&args.job, &watch)?;
    let (shelf, notes) = place.read().map_err(|t| vec![t])?;
    let kept: Vec<&Offcut> = shelf.kept().collect();
    if !(args.seconds >= 0.0 && args.seconds <= LONGEST_S) {
        let what = format!("{}: expected from 0 to {LONGEST_S} seconds", args.seconds);
        return Err(vec![Trouble::bad_input("--seconds", what)]);
    }
    let effort = Effort {
        tries: args.tries.unwrap_or(usize::MAX),
        moves: args.effort.map_or(Effort::default().moves, |e| e * 1000),
        seconds: args.tries.is_none().then_some(args.seconds),
    };
    let found = offcuts::find(&prepared.job, &prepared.pieces, &prepared.cloths, &kept, effort, &watch);
    watch.done();
    said(&notes);
    if args.json {
        let all: Vec<Value> = found.iter().map(|f| figures(f, args.most)).collect();
        return tell::out(&format!("{:#}\n", Value::from(all))).map(|()| 0);
    }
    for found in &found {
        tell::out(&words(found, args.most))?;
    }
    Ok(0)
}

/// Longest time to try, s.
const LONGEST_S: f64 = 86_400.0;

fn words(found: &Found, most: usize) -> String {
    let s = |n: usize| if n == 1 { "" } else { "s" };
    let mut text = format!(
        "{}: {} piece{}, {:.3} m²; {} offcut{} of it on the shelf\n",
        found.fabric,
        found.pieces,
        s(found.pieces),
        found.area_mm2 / 1.0e6,
        found.looked_at,
        s(found.looked_at)
    );
    let (laid, sized): (Vec<_>, Vec<_>) = found.whole.iter().partition(|f| f.laid);
    for (what, fits) in
        [("all of them were laid on", laid), ("all of them by size and area, not tried", sized)]
    {
        if !fits.is_empty() {
            text.push_str(&format!("  {what}\n"));
        }
        for fit in fits.iter().take(most) {
            text.push_str(&format!("    {}; {:.3} m² left\n", fit.offcut.line(), fit.left_mm2 / 1.0e6));
        }
        text.push_str(&more(fits.len(), most));
    }
    if !found.part.is_empty() {
        text.push_str("  some of them, by size alone\n");
        for part in found.part.iter().take(most) {
            text.push_str(&format!(
                "    {}; up to {} piece{}{}\n",
                part.offcut.line(),
                part.pieces,
                s(part.pieces),
                if part.tried { "; all were tried in vain" } else { "" }
            ));
        }
        text.push_str(&more(found.part.len(), most));
    }
    text.push_str(&tried_words(found));
    for (offcut, why) in found.others.iter().take(most) {
        text.push_str(&format!("  {} is another fabric of this name: it has {why}\n", offcut.id));
    }
    text.push_str(&more(found.others.len(), most));
    if found.whole.is_empty() && found.part.is_empty() {
        text.push_str("  none takes any of them\n");
    }
    text
}

/// What was tried, and what was not.
fn tried_words(found: &Found) -> String {
    let Tried { large_enough, laid, in_vain, smaller_untried } = found.tried;
    if large_enough == 0 {
        return String::new();
    }
    let s = if large_enough == 1 { " is" } else { "s are" };
    let mut text = format!(
        "  {large_enough} offcut{s} large enough for all; tried by laying, the likeliest first: {laid} take all, {in_vain} \
         tried in vain, {} not tried",
        large_enough - laid - in_vain
    );
    if smaller_untried > 0 && laid > 0 {
        text.push_str(&format!(
            " ({smaller_untried} of them smaller than the smallest that does: --seconds tries longer)"
        ));
    }
    text.push('\n');
    text
}

fn more(all: usize, most: usize) -> String {
    if all > most { format!("    and {} more\n", all - most) } else { String::new() }
}

fn figures(found: &Found, most: usize) -> Value {
    json!({
        "fabric": found.fabric, "pieces": found.pieces, "area_mm2": found.area_mm2, "looked_at": found.looked_at,
        "tried": { "large_enough": found.tried.large_enough, "laid": found.tried.laid, "in_vain": found.tried.in_vain,
            "smaller_untried": found.tried.smaller_untried },
        "whole": found.whole.iter().take(most).map(|f| {
            json!({ "id": f.offcut.id, "laid": f.laid, "left_mm2": f.left_mm2, "place": f.offcut.place })
        }).collect::<Vec<_>>(),
        "part": found.part.iter().take(most).map(|p| {
            json!({ "id": p.offcut.id, "pieces": p.pieces, "area_mm2": p.area_mm2, "tried": p.tried, "place": p.offcut.place })
        }).collect::<Vec<_>>(),
        "others": found.others.iter().take(most).map(|(o, why)| json!({ "id": o.id, "why": why })).collect::<Vec<_>>(),
    })
}
