//! The plan of the lay on the table: every piece exactly where it lies.

use std::path::{Component, Path};
use std::sync::Arc;

use serde_json::{Value, json};

use super::ask::{Answer, Asked};
use super::cutter::unsaid;
use crate::files;
use crate::job::LockedSpec;
use crate::lay::Laid;
use crate::plan::{self, PLAN_FILE, Prepared};
use crate::table::heavy;
use crate::table::planned::Planned;
use crate::table::problem::Problem;
use crate::table::readable;
use crate::table::surface::{Table, hand, laid, plan_folder};
use crate::table::understood::Understood;
use crate::table::working_copy::WorkingCopy;
use crate::{realign, write};

/// The job a plan was made of, beside it: every piece locked where it lay.
pub const AS_LAID: &str = "as-laid.job.json";

/// `POST api/plan`.
pub fn make(table: &Arc<Table>, asked: &Asked) -> Result<Answer, Problem> {
    let revision = asked.revision()?;
    let _held = table.record();
    let (work, folder, parts) = {
        let store = table.store();
        store.expect(revision)?;
        (store.copy.work.clone(), plan_folder(&store), table.parts(&store.copy, &store.folder))
    };
    let folder = folder.ok_or_else(|| Problem::clash("There is no job yet").hint("begin with a drawing"))?;
    let understood = table.understood()?;
    let prepared = understood.prepared()?;
    confirmed(&understood)?;
    let pieces = laid(&work, prepared);
    let wanted: usize = prepared.pieces.iter().map(|p| p.count as usize).sum();
    if pieces.len() < wanted {
        let detail = format!("{} of {wanted} pieces lie on no cloth yet", wanted - pieces.len());
        return Err(Problem::clash(detail).hint("lay them first"));
    }
    files::may_move_in(&folder)?;
    realign::nothing_cut(&folder)?;
    let locked = locked(&pieces, prepared);
    let as_laid = as_laid(work.job.clone().unwrap_or_default(), &locked);
    let mut all_locked: Prepared = prepared.clone();
    all_locked.job.lay.locked = locked;
    heavy::start(table, "plan", Some(revision), move |table, progress| {
        let run = plan::run(all_locked, progress)?;
        // A pass may have been marked as cut by another run meanwhile.
        let _held = files::hold(&folder)?;
        realign::nothing_cut(&folder)?;
        let job = &run.prepared.job;
        let text = readable::text(&as_laid);
        let files = write::all_with(job, &run.plan, &run.prepared.cloths, &folder, &[(AS_LAID, &text)])?;
        let passes: Vec<(String, usize)> = run
            .plan
            .cloths
            .iter()
            .map(|c| (c.name.clone(), run.plan.passes.iter().filter(|p| p.cloth == c.name).count()))
            .collect();
        let mut store = table.store();
        let copy = WorkingCopy { planned: parts.map(Planned::Parts), ..store.copy.clone() };
        store.put(copy)?;
        let name = folder.file_name().map(|n| n.to_string_lossy().into_owned());
        Ok(json!({"folder": name, "files": files.len(), "passes": passes, "revision": store.copy.revision}))
    })?;
    Ok(Answer::Begun(json!({"busy": "plan"})))
}

/// Refuses measures that nobody has given: a plan is made for one bed, one kerf and one size of drawing.
fn confirmed(understood: &Understood) -> Result<(), Problem> {
    let unsaid = unsaid(understood);
    if unsaid.is_empty() {
        return Ok(());
    }
    let names: Vec<&str> = unsaid.iter().map(|u| u.what).collect();
    let (last, first) = names.split_last().map_or(("", &names[..]), |(l, f)| (*l, f));
    let listed = if first.is_empty() { last.to_owned() } else { format!("{} and {last}", first.join(", ")) };
    Err(Problem::clash(format!("Nobody has said yet {listed}"))
        .hint("measure and say it once; it is kept with the job")
        .with("unsaid", unsaid.iter().map(|u| u.field).collect::<Vec<_>>()))
}

/// Every piece as it lies, locked there.
fn locked(pieces: &[Laid], prepared: &Prepared) -> Vec<LockedSpec> {
    let hand = hand(prepared);
    let one = |l: &Laid| LockedSpec {
        piece: prepared.pieces[l.piece].id.clone(),
        copy: l.copy,
        cloth: (hand.choices(l.piece).len() > 1).then(|| prepared.cloths[l.cloth].name.clone()),
        turn_deg: l.pose.turn_deg,
        shift_mm: [l.pose.shift.x, l.pose.shift.y],
    };
    pieces.iter().map(one).collect()
}

/// The job with every piece locked, to lie in the plan's folder one below its own.
fn as_laid(mut job: Value, locked: &[LockedSpec]) -> Value {
    for field in ["drawing", "cutter"] {
        let file = job.get(field).and_then(Value::as_str).map(str::to_owned);
        if let Some(file) = file.filter(|f| {
            Path::new(f).components().all(|c| !matches!(c, Component::RootDir | Component::Prefix(_)))
        }) {
            job[field] = format!("../{file}").into();
        }
    }
    for cloth in job.get_mut("cloths").and_then(Value::as_array_mut).into_iter().flatten() {
        if let Some(photo) = cloth.pointer_mut("/pattern/photo/file")
            && let Some(file) = photo.as_str().filter(|f| Path::new(f).is_relative())
        {
            *photo = format!("../{file}").into();
        }
    }
    if !job.get("lay").is_some_and(Value::is_object) {
        job["lay"] = json!({});
    }
    job["lay"]["locked"] = serde_json::to_value(locked).unwrap_or_default();
    job
}

/// `GET api/plan`: the plan in the job's folder, as it is there.
pub fn get(table: &Table) -> Result<Answer, Problem> {
    let folder = plan_folder(&table.store());
    let file = folder.map(|f| f.join(PLAN_FILE)).filter(|f| f.is_file());
    let file = file.ok_or_else(|| Problem::none("There is no plan yet").hint("make one of the lay"))?;
    let bytes = crate::table::disk::read_limited(&file, 256 << 20)?;
    Ok(Answer::File("application/json", bytes, None))
}

/// `POST api/plan/words`: report, sheets, pictures and sewing of the plan that is there, as the job tells them now. Passes,
/// their files and the record of what is cut stay as they are.
pub fn words(table: &Arc<Table>, asked: &Asked) -> Result<Answer, Problem> {
    let revision = asked.revision()?;
    let _held = table.record();
    let (work, folder, parts, standing) = {
        let store = table.store();
        store.expect(revision)?;
        let parts = table.parts(&store.copy, &store.folder);
        (store.copy.work.clone(), plan_folder(&store), parts, table.standing(&store))
    };
    let folder = folder.filter(|_| standing.is_there);
    let folder = folder.ok_or_else(|| Problem::none("There is no plan yet").hint("make one of the lay"))?;
    if !standing.changed.is_empty() {
        return Err(Problem::clash(format!(
            "The plan no longer fits the job: changed {}",
            standing.changed.join(", ")
        ))
        .hint("undo that, and the plan can be told anew"));
    }
    let understood = table.understood()?;
    let prepared = understood.prepared()?;
    let lay = table.looked(&understood)?.lay;
    files::may_move_in(&folder)?;
    let locked = locked(&laid(&work, prepared), prepared);
    let as_laid = readable::text(&as_laid(work.job.unwrap_or_default(), &locked));
    heavy::start(table, "words", Some(revision), move |table, progress| {
        let prepared = understood.prepared()?;
        let _held = files::hold(&folder)?;
        let (plan, _) = plan::read(&folder)?;
        let done = realign::read_done(&folder, &plan)?;
        let new = plan::reworded(&plan, prepared, &lay, progress)?;
        let done = done.of_retitled(&new);
        let new = done.seen_in(&new);
        let done = (!done.passes.is_empty()).then(|| done.text());
        let mut further = vec![(AS_LAID, as_laid.as_str())];
        further.extend(done.as_deref().map(|text| (realign::DONE_FILE, text)));
        let files = write::told_anew(&prepared.job, &new, &prepared.cloths, &folder, &further)?;
        let mut store = table.store();
        let copy = WorkingCopy { planned: parts.map(Planned::Parts), ..store.copy.clone() };
        store.put(copy)?;
        Ok(json!({"files": files.len(), "revision": store.copy.revision}))
    })?;
    Ok(Answer::Begun(json!({"busy": "words"})))
}
