//! `settlay recut JOB --piece ID`.

use std::path::{Path, PathBuf};

use serde_json::json;

use crate::offcuts::{self, Asked, Recut, Source};
use crate::plan::{self, Plan};
use crate::say::{Trouble, Watch};
use crate::write;

use super::offcuts::{place_of, said};
use super::progress::Terminal;
use super::{folder, summary, tell};

/// Words of `settlay recut`.
#[derive(clap::Args, Debug)]
pub struct RecutArgs {
    /// The job file
    job: PathBuf,
    /// The spoilt piece
    #[arg(long, value_name = "ID")]
    piece: String,
    /// Which copy of it
    #[arg(long, value_name = "N", default_value_t = 1)]
    copy: u32,
    /// The plan it was cut by: the folder or its plan.json
    #[arg(long, value_name = "PLAN")]
    plan: Option<PathBuf>,
    /// A plan of a piece cut again since, from the same cloth or from an offcut; give it once for each
    #[arg(long, value_name = "PLAN", requires = "plan")]
    since: Vec<PathBuf>,
    /// The shelf's file or folder, in place of the usual one
    #[arg(long, value_name = "PATH")]
    shelf: Option<PathBuf>,
    /// The folder the cut files are written to
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Print the figures as JSON
    #[arg(long)]
    json: bool,
}

/// Refuses to write over a plan that is to be read.
fn other_folder(out: &Path, named: &Path) -> Result<(), Trouble> {
    let folder = if named.is_file() { named.parent().unwrap_or(named) } else { named };
    let whole = |p: &Path| std::fs::canonicalize(p).ok();
    if whole(out).is_none() || whole(out) != whole(folder) {
        return Ok(());
    }
    let what = format!("{} holds a plan that this one must keep clear of", out.display());
    Err(Trouble::bad_input("--out", what).hint("name another folder for the plan"))
}

/// Cuts a piece again.
///
/// # Errors
/// Why it cannot be.
pub fn run(args: &RecutArgs) -> Result<u8, Vec<Trouble>> {
    let watch = Terminal::new();
    let prepared = plan::prepare(&args.job, &watch)?;
    folder::ready(&args.out)?;
    for named in args.plan.iter().chain(&args.since) {
        other_folder(&args.out, named).map_err(|t| vec![t])?;
    }
    let read = folder::plan_at;
    let plan = args.plan.as_deref().map(read).transpose().map_err(|t| vec![t])?;
    let since: Result<Vec<Plan>, Trouble> = args.since.iter().map(|p| read(p)).collect();
    let since = since.map_err(|t| vec![t])?;
    let place = place_of(args.shelf.as_deref()).map_err(|t| vec![t])?;
    let (shelf, notes) = place.read().map_err(|t| vec![t])?;
    said(&notes);
    let asked = Asked {
        prepared,
        plan: plan.as_ref(),
        since: &since,
        piece: &args.piece,
        copy: args.copy,
        shelf: &shelf.offcuts,
    };
    let recut = offcuts::recut(asked, &watch)?;
    let _held = folder::held(&args.out)?;
    watch.step("write", 0.0, &args.out.display().to_string());
    let prepared = &recut.run.prepared;
    let files =
        write::all(&prepared.job, &recut.run.plan, &prepared.cloths, &args.out).map_err(|t| vec![t])?;
    watch.done();
    if args.json {
        let Recut { source, off_mm, drift_mm, looked_at, .. } = &recut;
        let (offcut, from) = (if let Source::Shelf(id) = source { Some(id) } else { None }, source.words());
        let placed =
            recut.run.plan.pieces.first().map(|p| json!({ "turn_deg": p.turn_deg, "shift": p.shift }));
        let said = json!({
            "piece": args.piece, "copy": args.copy, "from": from, "offcut": offcut, "off_mm": off_mm,
            "drift_mm": drift_mm, "looked_at": looked_at, "placed": placed,
        });
        return tell::out(&format!("{said:#}\n")).map(|()| 0);
    }
    tell::out(&format!("piece {} is cut again from {}\n", args.piece, recut.source.words()))?;
    tell::out(&match recut.off_mm {
        None => "No pattern binds it.\n".to_owned(),
        Some(0.0) => "Its pattern is exactly in step with the one it replaces.\n".to_owned(),
        Some(off) => format!(
            "None of {} cloths has a place exactly in step; this one is {off:.2} mm off, the best found.\n",
            recut.looked_at
        ),
    })?;
    if recut.drift_mm > 0.0 {
        let text = format!("The repeat there differs: up to {:.1} mm over the piece.\n", recut.drift_mm);
        tell::out(&text)?;
    }
    tell::out(&summary::of(&recut.run.plan))?;
    if let Source::Shelf(id) = &recut.source {
        tell::out(&format!(
            "Once it is cut: settlay realign {} --pass 1 --mark-done takes {id} off the shelf and puts what is left of it \
             there\n",
            args.out.display()
        ))?;
    }
    tell::out(&summary::written(&args.out, files.len()))?;
    tell::out(summary::CAUTION)?;
    Ok(0)
}
