//! What realigning writes into a plan's folder.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::done::{DONE_FILE, Done, stamp};
use super::marks::Aligned;
use super::measured::LARGEST_FILE;
use super::moved::rest_of;
use super::reopen::Reopened;
use crate::files::Whole;
use crate::plan::{self, PLAN_FILE, Plan, PlanPass};
use crate::say::{Note, Trouble};
use crate::write;

/// Reads what was measured, or a record of what is cut.
///
/// # Errors
/// It cannot be read, or is far too large.
pub fn text_of(file: &Path, name: &str) -> Result<String, Trouble> {
    let cannot = |e: std::io::Error| Trouble::bad_input(name, format!("the file cannot be read: {e}"));
    if !fs::metadata(file).map_err(cannot)?.is_file() {
        return Err(
            Trouble::bad_input(name, "this is no plain file").hint("save what was measured to a file")
        );
    }
    let mut bytes = Vec::new();
    let limit = LARGEST_FILE;
    fs::File::open(file).map_err(cannot)?.take(limit + 1).read_to_end(&mut bytes).map_err(cannot)?;
    if bytes.len() as u64 > limit {
        return Err(
            Trouble::bad_input(name, "the file is too large for a few marks").hint("is this the right file?")
        );
    }
    String::from_utf8(bytes)
        .map_err(|_| Trouble::bad_input(name, "the file is not UTF-8 text").hint("save it again as UTF-8"))
}

/// The record of what is cut in a plan's folder, with what the plan itself says of it: a record that was lost, or is of an
/// earlier time, hides nothing.
///
/// # Errors
/// It cannot be read, or is of another plan.
pub fn read_done(folder: &Path, plan: &Plan) -> Result<Done, Trouble> {
    let file = folder.join(DONE_FILE);
    let name = file.display().to_string();
    let mut done = if file.symlink_metadata().is_err() {
        Done::none(plan)
    } else {
        Done::parse(&text_of(&file, &name)?, &name, plan)?
    };
    done.take_from(plan);
    Ok(done)
}

/// What to say when the record in a plan's folder lacks passes that the plan itself says are cut.
pub fn lacking(folder: &Path, record: &Done) -> Option<Note> {
    let passes = record.lacked.iter().map(|(cloth, number)| format!("pass {number} of cloth {cloth}"));
    let passes = passes.collect::<Vec<_>>().join(", ");
    let text = format!(
        "this record does not have {passes}, which the plan beside it says is cut; that is taken as true (--not-cut takes it back)"
    );
    (!record.lacked.is_empty()).then(|| Note::caution(folder.join(DONE_FILE).display().to_string(), text))
}

/// Refuses a folder whose plan is partly cut: a new plan there would take the old one's place.
///
/// # Errors
/// It records passes that are cut.
pub fn nothing_cut(out: &Path) -> Result<(), Trouble> {
    let refused = |file: &Path| {
        Err(Trouble::cannot(
            file.display().to_string(),
            "passes of the plan in this folder are cut already; a new plan would take its place",
        )
        .hint("name another folder, or, if that work is finished, move this one elsewhere"))
    };
    let file = out.join(DONE_FILE);
    if file.symlink_metadata().is_ok() {
        let done: Option<Done> = serde_json::from_str(&text_of(&file, &file.display().to_string())?).ok();
        if !done.is_some_and(|d| d.passes.is_empty()) {
            return refused(&file);
        }
    }
    // The plan says so as well. Looked for as text: within a string of JSON these quotes would be written otherwise.
    let file = out.join(PLAN_FILE);
    let cut = fs::read_to_string(&file).is_ok_and(|text| text.contains("\"cut_on\":"));
    if cut { refused(&file) } else { Ok(()) }
}

/// Records a pass of `plan` (by index) as cut, and has report, sheets and pictures in its folder say so; false when it was
/// recorded already.
///
/// # Errors
/// There is no such pass, or the files cannot be written; then nothing was changed.
pub fn mark_done(record: &mut Done, plan: &Plan, pass: usize, folder: &Path) -> Result<bool, Trouble> {
    let pass = plan.passes.get(pass).ok_or_else(|| Trouble::cannot("the record", "there is no such pass"))?;
    let mut with = record.clone();
    if !with.record(pass, &stamp(SystemTime::now())) {
        return Ok(false);
    }
    let seen = with.seen_in(plan);
    let mut whole = write::retold(&seen, folder)?;
    whole.add(PLAN_FILE, write::plan_json(&seen)?);
    whole.add(DONE_FILE, with.text());
    whole.move_in(folder)?;
    *record = with;
    Ok(true)
}

/// The plan in `folder` as it was before anything was realigned, where that is kept.
pub fn as_planned(folder: &Path, plan: &Plan) -> Option<Plan> {
    let kept = plan::read(&folder.join(AS_PLANNED)).ok().map(|(kept, _)| kept);
    kept.filter(|kept| Done::none(kept) == Done::none(plan))
}

/// Writes a plan with a pass taken back: its record, and the files of later passes that go back to where they were
/// planned. Gives the files.
///
/// # Errors
/// They cannot be written; then nothing was changed.
pub fn write_reopened(reopened: &Reopened, folder: &Path) -> Result<Vec<PathBuf>, Trouble> {
    let seen = reopened.done.seen_in(&reopened.plan);
    let mut whole = write::passes(&seen, &reopened.changed)?;
    whole.take_in(write::retold(&seen, folder)?);
    // A record of nothing stays: it tells that there was one.
    whole.add(DONE_FILE, reopened.done.text());
    whole.move_in(folder)
}

/// Writes what is left of a pass from burn `from` (counted from 1) on, as realigned where it is. Gives that rest, and
/// the files.
///
/// # Errors
/// There is no such burn, or the files cannot be written.
pub fn write_rest(
    plan: &Plan,
    pass: usize,
    from: usize,
    aligned: Option<&Aligned>,
    out: &Path,
) -> Result<(PlanPass, Vec<PathBuf>), Trouble> {
    let planned = &plan.passes[pass];
    let lies = aligned.map_or(planned, |a| &a.plan.passes[pass]);
    let rest = rest_of(lies, from, &plan.cutter).ok_or_else(|| {
        let what = format!(
            "pass {} has burns 1 to {}; there is no burn {from}",
            planned.number,
            planned.burns.len()
        );
        Trouble::bad_input("--from-burn", what)
    })?;
    let files = write::rest_of_pass(plan, &rest, from)?.move_in(out)?;
    Ok((rest, files))
}

/// Writes a realigned plan into its own folder, or whole into another; the earlier passes that its report names are
/// recorded as cut. Gives the files.
///
/// # Errors
/// They cannot be written; then nothing was changed.
pub fn write_aligned(
    plan: &Plan,
    mut record: Done,
    aligned: &Aligned,
    folder: &Path,
    elsewhere: Option<&Path>,
) -> Result<Vec<PathBuf>, Trouble> {
    let all: Vec<usize> = (0..plan.passes.len()).collect();
    let changed = if elsewhere.is_some() { &all } else { &aligned.changed };
    // Its marks were found on the cloth: what burnt them is cut.
    let now = stamp(SystemTime::now());
    let recorded =
        |p: &&PlanPass| p.cloth == aligned.report.cloth && aligned.report.records.contains(&p.number);
    for pass in plan.passes.iter().filter(recorded) {
        record.record(pass, &now);
    }
    let seen = record.seen_in(&aligned.plan);
    let mut whole = write::passes(&seen, changed)?;
    if !record.passes.is_empty() {
        whole.add(DONE_FILE, record.text());
    }
    whole.take_in(write::retold(&seen, folder)?);
    keep_as_planned(&mut whole, plan, folder, elsewhere)?;
    whole.move_in(elsewhere.unwrap_or(folder))
}

/// Name of the plan as it was before anything was realigned.
pub const AS_PLANNED: &str = "plan-as-planned.json";

/// Keeps the plan as it was first made beside the corrected one, once.
fn keep_as_planned(
    whole: &mut Whole,
    plan: &Plan,
    folder: &Path,
    elsewhere: Option<&Path>,
) -> Result<(), Trouble> {
    let is_kept = as_planned(folder, plan).is_some();
    if is_kept && elsewhere.is_none() {
        return Ok(());
    }
    let file = folder.join(if is_kept { AS_PLANNED } else { PLAN_FILE });
    let bytes = fs::read(&file)
        .map_err(|e| Trouble::cannot(file.display().to_string(), format!("the file cannot be read: {e}")))?;
    whole.add(AS_PLANNED, bytes);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    #[test]
    fn a_record_that_is_lost_or_of_an_earlier_time_hides_no_cut_pass() {
        let place = tempfile::tempdir().unwrap();
        let (at, mut record) = (place.path(), Done::none(&sample_plan()));
        let put = |plan: &Plan| fs::write(at.join(PLAN_FILE), write::plan_json(plan).unwrap()).unwrap();
        put(&sample_plan());
        fs::write(at.join(DONE_FILE), record.text()).unwrap();
        assert!(nothing_cut(at).is_ok() && lacking(at, &record).is_none());
        record.record(&sample_plan().passes[0], "2026-05-01T14:03:00Z");
        put(&record.seen_in(&sample_plan()));
        let (plan, _) = plan::read(at).unwrap();
        // The record is still the one of before, then it is gone altogether.
        for lost in [false, true] {
            if lost {
                fs::remove_file(at.join(DONE_FILE)).unwrap();
            }
            assert!(nothing_cut(at).is_err());
            let read = read_done(at, &plan).unwrap();
            assert_eq!(read.passes, record.passes);
            assert!(read.may_change(&plan.passes[0]).is_err());
            assert!(lacking(at, &read).unwrap().text.contains("pass 1 of cloth saltmarsh"));
        }
        // The other way round: an earlier plan beside a record that knows more.
        fs::write(at.join(DONE_FILE), record.text()).unwrap();
        put(&sample_plan());
        assert_eq!(read_done(at, &sample_plan()).unwrap(), record);
        assert!(nothing_cut(at).is_err());
    }
}
