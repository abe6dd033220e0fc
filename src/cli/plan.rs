//! `settlay plan JOB --out DIR`.

use std::path::PathBuf;

use crate::plan;
use crate::say::{Trouble, Watch};
use crate::write;

use super::progress::Terminal;
use super::{folder, summary, tell};

/// Words of `settlay plan`.
#[derive(clap::Args, Debug)]
pub struct PlanArgs {
    /// The job file
    job: PathBuf,
    /// The folder the plan is written to
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Print the plan as JSON instead of a summary
    #[arg(long)]
    json: bool,
}

/// Does the whole job.
///
/// # Errors
/// Why it cannot be done.
pub fn run(args: &PlanArgs) -> Result<u8, Vec<Trouble>> {
    let watch = Terminal::new();
    let prepared = plan::prepare(&args.job, &watch)?;
    // Before the search, not after it.
    folder::ready(&args.out)?;
    let run = plan::run(prepared, &watch)?;
    let _held = folder::held(&args.out)?;
    watch.step("write", 0.0, &args.out.display().to_string());
    let files =
        write::all(&run.prepared.job, &run.plan, &run.prepared.cloths, &args.out).map_err(|t| vec![t])?;
    watch.done();
    if args.json {
        let text = serde_json::to_string_pretty(&run.plan)
            .map_err(|e| vec![Trouble::cannot("the plan", e.to_string())])?;
        tell::out(&format!("{text}\n"))?;
    } else {
        tell::out(&summary::of(&run.plan))?;
        tell::out(&summary::curves(&run.plan, &run.prepared.job.cutter))?;
        tell::out(&summary::written(&args.out, files.len()))?;
        tell::out(summary::CAUTION)?;
    }
    Ok(0)
}
