//! `settlay realign PLAN --pass N --marks FILE`, and its kin `--mark-done`, `--not-cut` and `--from-burn K`.

use std::fs;
use std::path::{Path, PathBuf};

use clap::ValueEnum;

use crate::files;
use crate::plan::{self, Plan};
use crate::realign::{self, Aligned, Done, FitKind, Request};
use crate::say::Trouble;

use super::{folder, summary, tell};

mod cut;
mod not_cut;

/// Words of `settlay realign`.
#[derive(clap::Args, Debug)]
#[command(after_help = HELP)]
pub struct RealignArgs {
    /// The plan: its plan.json, or the folder it lies in
    plan: PathBuf,
    /// The pass
    #[arg(long, value_name = "N")]
    pass: usize,
    /// Its cloth, where several cloths have such a pass
    #[arg(long, value_name = "NAME")]
    cloth: Option<String>,
    /// What was measured on the bed: CSV or JSON with name, x_mm, y_mm
    #[arg(long, value_name = "FILE", required_unless_present_any = ["mark_done", "not_cut", "from_burn"])]
    marks: Option<PathBuf>,
    /// Take this fit instead of the one the marks justify
    #[arg(long, value_enum, requires = "marks")]
    fit: Option<FitWord>,
    /// Write only what is left of a pass that broke off, from burn K (counted from 1) on; the plan stays as it is
    #[arg(long, value_name = "K", conflicts_with_all = ["mark_done", "not_cut"])]
    from_burn: Option<usize>,
    /// Record the pass as cut: from then on it is not changed. With the last pass of a cloth its leftovers go on the
    /// offcut shelf
    #[arg(long, conflicts_with_all = ["marks", "out"])]
    mark_done: bool,
    /// Take back that the pass is cut, as long as no later one of its cloth is. Later passes corrected by its marks go back
    /// to where they were planned; leftovers go off the shelf again
    #[arg(long, conflicts_with_all = ["marks", "out", "mark_done"])]
    not_cut: bool,
    /// The shelf's file or folder for leftovers, in place of the usual one
    #[arg(long, value_name = "PATH", conflicts_with_all = ["marks", "from_burn"])]
    shelf: Option<PathBuf>,
    /// Where leftovers are kept
    #[arg(long, value_name = "TEXT", default_value = "", requires = "mark_done")]
    place: String,
    /// A plan of a piece cut again from the rest of the cloth: its place is taken off the leftovers; give it once for each
    #[arg(long, value_name = "PLAN", requires = "mark_done")]
    since: Vec<PathBuf>,
    /// Write the corrected plan, all its cut files and keys to this folder instead of the plan's own
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print what was found as JSON
    #[arg(long)]
    json: bool,
}

const HELP: &str = "\
The marks of the pass, burnt by an earlier one, are measured on the bed with the head or a rule: x to the right, y away
from you, in millimetres from the near left corner. Two fix the cloth, three not in a line show that one is misread or
that the cloth was turned over, four show which.

    name,x_mm,y_mm
    A,312.4,77.1
    B,688.0,79.6

For the first pass of a checked cloth give pivots in their place, by whole repeats across and along from the pattern's
origin: a name such as `pivot 2 -1`, or columns i and j.

Passes before the realigned one are recorded as cut, for their marks are on the cloth; --not-cut takes that back. Later
passes take over a stretch, not the place.";

/// Kinds of fit, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum FitWord {
    /// Turn and shift; two marks
    Rigid,
    /// And one stretch every way; three marks, or two when asked for
    Similarity,
    /// And a stretch of its own each way, and shear; four marks, or three when asked for
    Affine,
}

impl From<FitWord> for FitKind {
    fn from(word: FitWord) -> FitKind {
        match word {
            FitWord::Rigid => FitKind::Rigid,
            FitWord::Similarity => FitKind::Similarity,
            FitWord::Affine => FitKind::Affine,
        }
    }
}

/// Realigns a pass, records it as cut, or writes the rest of it.
///
/// # Errors
/// Why it cannot be done; then nothing was written.
pub fn run(args: &RealignArgs) -> Result<u8, Vec<Trouble>> {
    let (text, json) = done(args)?;
    tell::out(if args.json { &json } else { &text })?;
    Ok(0)
}

/// What to print, in words and as JSON.
fn done(args: &RealignArgs) -> Result<(String, String), Vec<Trouble>> {
    let near = if args.plan.is_dir() { &args.plan } else { folder::beside(&args.plan) };
    let held = files::hold(near).map_err(|t| vec![t])?;
    tell::cautions(&held.found);
    let (plan, folder) = plan::read(&args.plan).map_err(|t| vec![t])?;
    let pass = realign::find(&plan, args.cloth.as_deref(), args.pass).map_err(|t| vec![t])?;
    let record = realign::read_done(&folder, &plan).map_err(|t| vec![t])?;
    tell::cautions(realign::lacking(&folder, &record).as_slice());
    if args.mark_done {
        return cut::mark_done(args, &plan, pass, record, &folder);
    }
    if args.not_cut {
        return not_cut::not_cut(args, &plan, pass, &record, &folder);
    }
    realigned(args, &plan, pass, record, &folder).map_err(|t| vec![t])
}

fn realigned(
    args: &RealignArgs,
    plan: &Plan,
    pass: usize,
    record: Done,
    folder: &Path,
) -> Result<(String, String), Trouble> {
    let aligned = match &args.marks {
        Some(file) => Some(align(args, plan, pass, &record, file)?),
        None => {
            record.may_change(&plan.passes[pass])?;
            None
        }
    };
    let out = args.out.as_deref().unwrap_or(folder);
    // The plan's own folder is kept already.
    let there = (!is_same(out, folder)).then(|| files::hold(out)).transpose()?;
    tell::cautions(there.as_ref().map_or(&[], |h| &h.found));
    match (args.from_burn, aligned) {
        (Some(k), aligned) => take_up(plan, pass, k, aligned, out),
        (None, Some(aligned)) => write_aligned(args, plan, record, aligned, folder, out),
        (None, None) => {
            Err(Trouble::bad_input("settlay realign", "there is nothing to do").hint("give --marks FILE"))
        }
    }
}

fn align(args: &RealignArgs, plan: &Plan, pass: usize, done: &Done, file: &Path) -> Result<Aligned, Trouble> {
    let name = file.display().to_string();
    let measured = realign::parse(&realign::text_of(file, &name)?, &name)?;
    realign::realign(&Request {
        plan,
        done,
        pass,
        measured: &measured,
        file: &name,
        kind: args.fit.map(FitKind::from),
        from_burn: args.from_burn,
    })
}

fn take_up(
    plan: &Plan,
    pass: usize,
    from: usize,
    aligned: Option<Aligned>,
    out: &Path,
) -> Result<(String, String), Trouble> {
    let planned = &plan.passes[pass];
    let (rest, files) = realign::write_rest(plan, pass, from, aligned.as_ref(), out)?;
    let first = rest.burns.first().map_or_else(String::new, |b| {
        let copy = if b.copy > 1 { format!(" (copy {})", b.copy) } else { String::new() };
        let at = b
            .path
            .first()
            .map_or_else(String::new, |p| format!(", from ({:.1}, {:.1}) mm on the bed", p[0], p[1]));
        format!("{} of {}{copy}{at}", b.kind, b.piece)
    });
    let mut text = aligned.as_ref().map_or_else(String::new, |a| a.report.words());
    text.push_str(&format!(
        "Pass {} of cloth {}, burns {from} to {}: {:.1} m, about {:.0} min. It begins with the {first}.\nThe plan stays as it \
         is.\n",
        rest.number,
        rest.cloth,
        planned.burns.len(),
        rest.cut_length_mm / 1000.0,
        (rest.seconds / 60.0).ceil(),
    ));
    text.push_str(&listed(out, &files));
    text.push_str(summary::CAUTION);
    let report = aligned.map(|a| a.report);
    let json = serde_json::json!({
        "cloth": rest.cloth, "pass": rest.number, "from_burn": from, "burns": rest.burns.len(),
        "cut_length_mm": rest.cut_length_mm, "seconds": rest.seconds, "realigned": report,
        "files": files.iter().map(|f| f.display().to_string()).collect::<Vec<_>>()
    });
    Ok((text, format!("{json:#}\n")))
}

fn write_aligned(
    args: &RealignArgs,
    plan: &Plan,
    record: Done,
    aligned: Aligned,
    folder: &Path,
    out: &Path,
) -> Result<(String, String), Trouble> {
    let elsewhere = args.out.as_deref().filter(|out| !is_same(out, folder));
    if let Some(other) = elsewhere {
        realign::nothing_cut(other)?;
    }
    let files = realign::write_aligned(plan, record, &aligned, folder, elsewhere)?;
    let mut text = aligned.report.words();
    text.push_str(&listed(out, &files));
    text.push_str(summary::CAUTION);
    let mut json = serde_json::to_value(&aligned.report)
        .map_err(|e| Trouble::cannot("the report", format!("it cannot be printed: {e}")))?;
    json["files"] = files.iter().map(|f| f.display().to_string()).collect::<Vec<_>>().into();
    Ok((text, format!("{json:#}\n")))
}

/// True when two paths lead to the same folder.
fn is_same(one: &Path, other: &Path) -> bool {
    fs::canonicalize(one).ok().is_some_and(|one| fs::canonicalize(other).ok() == Some(one))
}

/// The files, as the folder was named.
fn listed(out: &Path, files: &[PathBuf]) -> String {
    let whole = fs::canonicalize(out).unwrap_or_else(|_| out.to_owned());
    let mut text = String::from("Wrote\n");
    for file in files {
        let shown = file.strip_prefix(&whole).map_or_else(|_| file.clone(), |name| out.join(name));
        text.push_str(&format!("  {}\n", shown.display()));
    }
    text
}
