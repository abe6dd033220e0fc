//! `settlay demo`: a whole job that comes with the program.

use std::path::PathBuf;

use crate::drawing::{self, ReadOptions};
use crate::job;
use crate::plan;
use crate::say::{Trouble, Watch};
use crate::write;

use super::progress::Terminal;
use super::{folder, summary, tell};

const DRAWING: &str = include_str!("../../examples/reed-bed/reed-bed.svg");
const JOB: &str = include_str!("../../examples/reed-bed/reed-bed.job.json");

/// Words of `settlay demo`.
#[derive(clap::Args, Debug)]
pub struct DemoArgs {
    /// The folder everything is written to
    #[arg(long, value_name = "DIR", default_value = "reed-bed")]
    out: PathBuf,
}

/// Makes the demonstration hanging from drawing to cut files.
///
/// # Errors
/// The folder cannot be written.
pub fn run(args: &DemoArgs) -> Result<u8, Vec<Trouble>> {
    let watch = Terminal::new();
    folder::ready(&args.out)?;
    let job = job::parse(JOB, "reed-bed.job.json")?;
    let drawing =
        drawing::parse(DRAWING.as_bytes(), "reed-bed.svg", &ReadOptions::default()).map_err(|t| vec![t])?;
    tell::out(&format!(
        "{}: a hanging of {:.0} × {:.0} mm, {} cloths, cut on a bed of {:.0} × {:.0} mm\n",
        job.title,
        drawing.page_mm[0],
        drawing.page_mm[1],
        job.cloths.len(),
        job.cutter.bed_mm[0],
        job.cutter.bed_mm[1]
    ))?;
    let prepared = plan::prepare_with(job, drawing, &watch)?;
    let run = plan::run(prepared, &watch)?;
    let _held = folder::held(&args.out)?;
    watch.step("write", 0.0, &args.out.display().to_string());
    let own = [("reed-bed.svg", DRAWING), ("reed-bed.job.json", JOB)];
    let files = write::all_with(&run.prepared.job, &run.plan, &run.prepared.cloths, &args.out, &own)
        .map_err(|t| vec![t])?;
    watch.done();
    tell::out(&summary::of(&run.plan))?;
    tell::out(&summary::curves(&run.plan, &run.prepared.job.cutter))?;
    tell::out(&summary::written(&args.out, files.len()))?;
    tell::out(summary::CAUTION)?;
    Ok(0)
}
