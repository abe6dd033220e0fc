//! `settlay realign PLAN --pass N --marks FILE`, and its kin `--mark-done` and `--from-burn K`.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use clap::ValueEnum;

use crate::plan::{self, PLAN_FILE, Plan};
use crate::realign::{
    self, Aligned, DONE_FILE, Done, FitKind, LARGEST_MARKS_FILE, PieceOutOfStep, Report, Request,
};
use crate::say::Trouble;
use crate::write;

use super::{summary, tell};

mod cut;

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
    #[arg(long, value_name = "FILE", required_unless_present_any = ["mark_done", "from_burn"])]
    marks: Option<PathBuf>,
    /// Take this fit instead of the one the marks justify
    #[arg(long, value_enum, requires = "marks")]
    fit: Option<FitWord>,
    /// Write only what is left of a pass that broke off, from burn K (counted from 1) on; the plan stays as it is
    #[arg(long, value_name = "K", conflicts_with = "mark_done")]
    from_burn: Option<usize>,
    /// Record the pass as cut: from then on it is never changed. With the last pass of a cloth its leftovers go on the
    /// offcut shelf
    #[arg(long, conflicts_with_all = ["marks", "out"])]
    mark_done: bool,
    /// The shelf's file or folder for leftovers, in place of the usual one
    #[arg(long, value_name = "PATH", requires = "mark_done")]
    shelf: Option<PathBuf>,
    /// Where leftovers are kept
    #[arg(long, value_name = "TEXT", default_value = "", requires = "mark_done")]
    place: String,
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

Passes before the realigned one count as cut. Later passes take over a stretch, not the place.";

/// Pieces out of step that are named in words; JSON has all.
const NAMED_PIECES: usize = 8;

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
    let (plan, folder) = plan::read(&args.plan).map_err(|t| vec![t])?;
    let pass = realign::find(&plan, args.cloth.as_deref(), args.pass).map_err(|t| vec![t])?;
    let record = read_done(&folder, &plan).map_err(|t| vec![t])?;
    if args.mark_done {
        return cut::mark_done(args, &plan, pass, record, &folder);
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
    let measured = realign::parse(&text_of(file, &name)?, &name)?;
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

fn text_of(file: &Path, name: &str) -> Result<String, Trouble> {
    let cannot = |e: std::io::Error| Trouble::bad_input(name, format!("the file cannot be read: {e}"));
    if !fs::metadata(file).map_err(cannot)?.is_file() {
        return Err(
            Trouble::bad_input(name, "this is no plain file").hint("save what was measured to a file")
        );
    }
    let mut bytes = Vec::new();
    let limit = LARGEST_MARKS_FILE;
    fs::File::open(file).map_err(cannot)?.take(limit + 1).read_to_end(&mut bytes).map_err(cannot)?;
    if bytes.len() as u64 > limit {
        return Err(
            Trouble::bad_input(name, "the file is too large for a few marks").hint("is this the right file?")
        );
    }
    String::from_utf8(bytes)
        .map_err(|_| Trouble::bad_input(name, "the file is not UTF-8 text").hint("save it again as UTF-8"))
}

fn read_done(folder: &Path, plan: &Plan) -> Result<Done, Trouble> {
    let file = folder.join(DONE_FILE);
    let name = file.display().to_string();
    if file.symlink_metadata().is_err() {
        return Ok(Done::none(plan));
    }
    Done::parse(&text_of(&file, &name)?, &name, plan)
}

/// Refuses a folder whose plan is partly cut: a new plan there would take the old one's place.
///
/// # Errors
/// It records passes that are cut.
pub fn nothing_cut(out: &Path) -> Result<(), Trouble> {
    let file = out.join(DONE_FILE);
    if file.symlink_metadata().is_err() {
        return Ok(());
    }
    let name = file.display().to_string();
    let done: Option<Done> = serde_json::from_str(&text_of(&file, &name)?).ok();
    if done.is_some_and(|d| d.passes.is_empty()) {
        return Ok(());
    }
    Err(Trouble::cannot(
        name,
        "passes of the plan in this folder are cut already; a new plan would take its place",
    )
    .hint("name another folder, or, if that work is finished, move the record elsewhere"))
}

fn take_up(
    plan: &Plan,
    pass: usize,
    from: usize,
    aligned: Option<Aligned>,
    out: &Path,
) -> Result<(String, String), Trouble> {
    let planned = &plan.passes[pass];
    let lies = aligned.as_ref().map_or(planned, |a| &a.plan.passes[pass]);
    let rest = realign::rest_of(lies, from, &plan.cutter).ok_or_else(|| {
        let what = format!(
            "pass {} has burns 1 to {}; there is no burn {from}",
            planned.number,
            planned.burns.len()
        );
        Trouble::bad_input("--from-burn", what)
    })?;
    let files = write::rest_of_pass(plan, &rest, from)?.move_in(out)?;
    let first = rest.burns.first().map_or_else(String::new, |b| {
        let copy = if b.copy > 1 { format!(" (copy {})", b.copy) } else { String::new() };
        let at = b
            .path
            .first()
            .map_or_else(String::new, |p| format!(", from ({:.1}, {:.1}) mm on the bed", p[0], p[1]));
        format!("{} of {}{copy}{at}", b.kind, b.piece)
    });
    let mut text = aligned.as_ref().map_or_else(String::new, |a| found(&a.report));
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
    mut record: Done,
    aligned: Aligned,
    folder: &Path,
    out: &Path,
) -> Result<(String, String), Trouble> {
    let all: Vec<usize> = (0..plan.passes.len()).collect();
    let mut whole = write::passes(&aligned.plan, if args.out.is_some() { &all } else { &aligned.changed })?;
    // Its marks were found on the cloth: what burnt them is cut.
    let now = realign::stamp(SystemTime::now());
    let earlier =
        plan.passes.iter().filter(|p| p.cloth == aligned.report.cloth && p.number < aligned.report.pass);
    for pass in earlier {
        record.record(pass, &now);
    }
    if !record.passes.is_empty() {
        whole.add(DONE_FILE, record.text());
    }
    if args.out.is_none() {
        keep_as_planned(&mut whole, plan, folder)?;
    }
    let files = whole.move_in(out)?;
    let mut text = found(&aligned.report);
    text.push_str(&listed(out, &files));
    text.push_str(summary::CAUTION);
    let mut json = serde_json::to_value(&aligned.report)
        .map_err(|e| Trouble::cannot("the report", format!("it cannot be printed: {e}")))?;
    json["files"] = files.iter().map(|f| f.display().to_string()).collect::<Vec<_>>().into();
    Ok((text, format!("{json:#}\n")))
}

/// Name of the plan as it was before anything was realigned.
const AS_PLANNED: &str = "plan-as-planned.json";

/// Keeps the plan as it was first made beside the corrected one, once.
fn keep_as_planned(whole: &mut write::Whole, plan: &Plan, folder: &Path) -> Result<(), Trouble> {
    let kept = plan::read(&folder.join(AS_PLANNED)).ok();
    if kept.is_some_and(|(kept, _)| Done::none(&kept) == Done::none(plan)) {
        return Ok(());
    }
    let file = folder.join(PLAN_FILE);
    let bytes = fs::read(&file)
        .map_err(|e| Trouble::cannot(file.display().to_string(), format!("the file cannot be read: {e}")))?;
    whole.add(AS_PLANNED, bytes);
    Ok(())
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

/// The report in words.
fn found(report: &Report) -> String {
    let mut s = format!(
        "Pass {} of cloth {}: moved {:.1} mm to the {} and {:.1} mm {}, turned {:.2}° {} ({} fit)\n",
        report.pass,
        report.cloth,
        report.shift_mm[0].abs(),
        if report.shift_mm[0] < 0.0 { "left" } else { "right" },
        report.shift_mm[1].abs(),
        if report.shift_mm[1] < 0.0 { "towards you" } else { "away from you" },
        report.turn_deg.abs(),
        if report.turn_deg < 0.0 { "clockwise" } else { "counter-clockwise" },
        report.fit.word()
    );
    if report.fit != FitKind::Rigid && report.repeat.is_none() {
        s.push_str(&format!(
            "  stretched {:+.2} % across, {:+.2} % along the cloth, {:.2}° out of square\n",
            report.stretch_percent[0],
            report.stretch_percent[1],
            report.shear_deg.abs()
        ));
    }
    if let Some(repeat) = &report.repeat {
        s.push_str(&format!(
            "  repeat across {:.2} mm, noted {:.2}; along {:.2} mm, noted {:.2}; skew {:.1} mm/m, noted {:.1}\n",
            repeat.across_mm[1],
            repeat.across_mm[0],
            repeat.along_mm[1],
            repeat.along_mm[0],
            repeat.skew_mm_per_m[1],
            repeat.skew_mm_per_m[0]
        ));
        let named = |p: &PieceOutOfStep| {
            let copy = if p.copy > 1 { format!(" (copy {})", p.copy) } else { String::new() };
            format!("{}{copy} {:.2} mm", p.piece, p.mismatch_mm)
        };
        let mut named: Vec<String> = repeat.pieces.iter().take(NAMED_PIECES).map(named).collect();
        let more = repeat.pieces.len().saturating_sub(NAMED_PIECES);
        if more > 0 {
            named.push(format!("{more} more by less"));
        }
        if !named.is_empty() {
            s.push_str(&format!("  the pattern is then out of step by: {}\n", named.join(", ")));
        }
    }
    s.push_str("\n  mark             planned           measured       off\n");
    for mark in &report.marks {
        s.push_str(&format!(
            "  {:<10} {:>8.2} {:>8.2}  {:>8.2} {:>8.2}  {:>6.2} mm{}\n",
            mark.name,
            mark.planned_mm[0],
            mark.planned_mm[1],
            mark.measured_mm[0],
            mark.measured_mm[1],
            mark.off_mm,
            if mark.used { "" } else { "  left out" }
        ));
    }
    if let Some(worst) = report.joints.iter().max_by(|a, b| a.within_95_mm.total_cmp(&b.within_95_mm)) {
        let copy = if worst.copy > 1 { format!(" (copy {})", worst.copy) } else { String::new() };
        s.push_str(&format!(
            "\n  joints with earlier passes: {}; the worst, on {}{copy}: {:.2} mm to expect, within {:.2} mm in 95 of 100: {}\n",
            report.joints.len(),
            worst.piece,
            worst.expected_mm,
            worst.within_95_mm,
            worst.verdict
        ));
    }
    if !report.later.is_empty() {
        let later: Vec<String> = report.later.iter().map(ToString::to_string).collect();
        s.push_str(&format!("  the stretch is carried on to pass {}\n", later.join(", ")));
    }
    s.push('\n');
    for caution in &report.cautions {
        s.push_str(&format!("caution: {caution}\n"));
    }
    s
}
