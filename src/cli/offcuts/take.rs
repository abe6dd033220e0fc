//! `settlay offcuts take`.

use std::path::{Path, PathBuf};

use crate::job::{self, Job};
use crate::offcuts::{self, Offcut, Place, Shelf, State};
use crate::say::Trouble;

use super::said;
use crate::cli::{folder, tell};
use crate::files::{system, write_whole};

/// Words of `settlay offcuts take`.
#[derive(clap::Args, Debug)]
pub struct TakeArgs {
    /// The offcuts, by id
    #[arg(required = true, value_name = "ID")]
    ids: Vec<String>,
    /// What they are for
    #[arg(long = "for", value_name = "TEXT", default_value = "")]
    taken_for: String,
    /// A job to cut from them; with --out
    #[arg(long, value_name = "JOB", requires = "out")]
    job: Option<PathBuf>,
    /// Where that job is written with the offcuts as its cloths; without --job, where the cloths are written
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// They are discarded: says their weight
    #[arg(long = "discard", alias = "compost", conflicts_with_all = ["job", "out", "back"])]
    discard: bool,
    /// They were taken and not used: back on the shelf
    #[arg(long, conflicts_with_all = ["job", "out"])]
    back: bool,
}

pub(super) fn run(args: &TakeArgs, place: &Place) -> Result<u8, Vec<Trouble>> {
    let job = args.job.as_deref().map(job::read).transpose()?;
    let (taken, notes) = place.change(|shelf| {
        let mut taken: Vec<Offcut> = Vec::new();
        let mut troubles = Vec::new();
        for id in &args.ids {
            match shelf.named(id).and_then(|o| change(o, args)) {
                Ok(offcut) => taken.push(offcut),
                Err(t) => troubles.push(t),
            }
        }
        if !troubles.is_empty() {
            return Err(troubles);
        }
        // Written before the shelf is: a file too many does less harm than an offcut lost.
        if let (Some(out), false) = (&args.out, args.back || args.discard) {
            let text = match (&job, &args.job) {
                (Some(job), Some(path)) => {
                    offcuts::job_text(&moved(offcuts::into_job(job, &taken)?, path, out))
                        .map_err(|t| vec![t])?
                }
                _ => cloths_text(&taken)?,
            };
            folder::settled(folder::beside(out))?;
            write_whole(out, text.as_bytes()).map_err(|t| vec![t])?;
        }
        Ok(taken)
    })?;
    said(&notes);
    if !args.back && !args.discard {
        said(&Shelf::marks_unknown(taken.iter(), place.file()));
    }
    let mut text = String::new();
    let printed = args.out.is_none() && !args.back && !args.discard;
    if printed {
        text = cloths_text(&taken)?;
    } else {
        for offcut in &taken {
            text.push_str(&format!("{}\n", offcut.line()));
        }
        let weight: f64 = taken.iter().filter_map(|o| o.weight_g).sum();
        match &args.out {
            Some(out) => text.push_str(&format!("Wrote {}\n", out.display())),
            None if args.discard => text.push_str(&format!("discarded: {weight:.0} g\n")),
            None => text.push_str("Back on the shelf.\n"),
        }
    }
    tell::out(&text).map(|()| 0)
}

/// Marks the offcut and gives it back.
fn change(offcut: &mut Offcut, args: &TakeArgs) -> Result<Offcut, Trouble> {
    let about = format!("offcut {}", offcut.id);
    match (offcut.state, args.back) {
        (State::Kept, true) => return Err(Trouble::cannot(about, "it is on the shelf")),
        (State::Taken | State::Discarded, false) => {
            let what = match offcut.taken_for.as_str() {
                "" => "it was taken already".to_owned(),
                work => format!("it was taken for {work}"),
            };
            return Err(
                Trouble::cannot(about, what).hint("settlay offcuts take ID --back puts an unused one back")
            );
        }
        _ => {}
    }
    let (state, taken_for) = match (args.back, args.discard) {
        (true, _) => (State::Kept, String::new()),
        (_, true) => (State::Discarded, args.taken_for.clone()),
        _ => (State::Taken, args.taken_for.clone()),
    };
    (offcut.state, offcut.taken_for) = (state, taken_for);
    match offcut.fault() {
        Some(fault) => Err(Trouble::bad_input("--for", fault)),
        None => Ok(offcut.clone()),
    }
}

/// The cloths, one a line, as they stand in a job's `cloths`.
fn cloths_text(taken: &[Offcut]) -> Result<String, Vec<Trouble>> {
    let texts: Result<Vec<String>, Trouble> =
        taken.iter().map(|o| offcuts::cloth_text(&o.as_cloth())).collect();
    texts.map(|t| t.concat()).map_err(|t| vec![t])
}

/// The job with its drawing named so that it is found from where the new file lies.
fn moved(mut job: Job, from: &Path, to: &Path) -> Job {
    let folder = |p: &Path| {
        let folder = p.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
        system::whole_path(folder).unwrap_or_else(|_| folder.to_owned())
    };
    let (from, to) = (folder(from), folder(to));
    if from != to {
        job.drawing = from.join(&job.drawing).to_string_lossy().into_owned();
    }
    job
}
