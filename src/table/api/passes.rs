//! Passes at the cutter: realigned by measured marks, recorded as cut, taken up again.

use std::path::PathBuf;

use serde::Deserialize;
use serde_json::{Value, json};

use super::ask::Asked;
use crate::files::{self, Held};
use crate::offcuts::{self, Place};
use crate::plan::{self, Plan};
use crate::realign::{self, Aligned, Done, Measured, Request};
use crate::table::problem::Problem;
use crate::table::surface::{Table, plan_folder};

struct Open {
    plan: Plan,
    folder: PathBuf,
    done: Done,
    pass: usize,
    /// What a killed run had left and what the record lacked, to be told.
    found: Vec<String>,
    _held: Held,
}

fn open(table: &Table, number: usize, cloth: Option<&str>) -> Result<Open, Problem> {
    table.heavy.idle()?;
    let folder = plan_folder(&table.store()).filter(|f| f.join(plan::PLAN_FILE).is_file());
    let folder = folder.ok_or_else(|| Problem::none("There is no plan yet").hint("make one of the lay"))?;
    let held = files::hold(&folder)?;
    let (plan, folder) = plan::read(&folder)?;
    let pass = realign::find(&plan, cloth, number)?;
    let done = realign::read_done(&folder, &plan)?;
    let notes = held.found.iter().cloned().chain(realign::lacking(&folder, &done));
    let found = notes.map(|n| format!("{}: {}", n.about, n.text)).collect();
    Ok(Open { plan, folder, done, pass, found, _held: held })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Mark {
    name: String,
    x_mm: f64,
    y_mm: f64,
}

/// The form's marks, read as a file of them is.
fn measured(marks: &[Mark]) -> Result<Vec<Measured>, Problem> {
    let rows: Vec<Value> =
        marks.iter().map(|m| json!({"name": m.name, "x_mm": m.x_mm, "y_mm": m.y_mm})).collect();
    Ok(realign::parse(&Value::from(rows).to_string(), FORM)?)
}

/// What the form is called in troubles.
const FORM: &str = "the measured marks";

fn align(open: &Open, marks: &[Measured], from_burn: Option<usize>) -> Result<Aligned, Problem> {
    Ok(realign::realign(&Request {
        plan: &open.plan,
        done: &open.done,
        pass: open.pass,
        measured: marks,
        file: FORM,
        kind: None,
        from_burn,
    })?)
}

/// `POST api/passes/N/realign`: with `try` only the report. Earlier passes that are recorded as cut with it have to be agreed
/// to, by `earlier_cut`.
pub fn realign_pass(table: &Table, number: usize, asked: &Asked) -> Result<Value, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        #[serde(default)]
        cloth: Option<String>,
        marks: Vec<Mark>,
        #[serde(default, rename = "try")]
        only_try: bool,
        #[serde(default)]
        earlier_cut: bool,
    }
    let body: Body = asked.body()?;
    let _held = table.record();
    let open = open(table, number, body.cloth.as_deref())?;
    let aligned = align(&open, &measured(&body.marks)?, None)?;
    let mut said = report(&aligned)?;
    if !body.only_try {
        if !aligned.report.records.is_empty() && !body.earlier_cut {
            return Err(unasked(&aligned.report));
        }
        let files = realign::write_aligned(&open.plan, open.done, &aligned, &open.folder, None)?;
        said["files"] = names(&open.folder, &files);
        said["found"] = open.found.into();
        table.tell_state();
    }
    Ok(said)
}

/// Refuses to record passes as cut that nobody was asked about.
fn unasked(report: &realign::Report) -> Problem {
    let passes: Vec<String> = report.records.iter().map(ToString::to_string).collect();
    let (pass, is) = if passes.len() == 1 { ("pass", "is") } else { ("passes", "are") };
    let listed = passes.join(" and ");
    Problem::clash(format!(
        "Correcting pass {} of {} by its marks records {pass} {listed} as cut, for the marks are burnt with {}",
        report.pass,
        report.cloth,
        if passes.len() == 1 { "it" } else { "them" },
    ))
    .hint(format!("say that {pass} {listed} {is} cut; it can be taken back until a later pass is cut"))
    .with("records", report.records.clone())
}

fn report(aligned: &Aligned) -> Result<Value, Problem> {
    let report = &aligned.report;
    let told = serde_json::to_value(report);
    let told = told.map_err(|e| crate::table::surface::fault(format!("the report cannot be told: {e}")))?;
    let residuals: Vec<Value> = report
        .marks
        .iter()
        .map(|m| {
            json!({
                "name": m.name, "dx": m.residual_mm[0], "dy": m.residual_mm[1], "used": m.used,
                "planned": m.planned_mm, "measured": m.measured_mm, "off_mm": m.off_mm,
            })
        })
        .collect();
    let left_out: Vec<&str> = report.marks.iter().filter(|m| !m.used).map(|m| m.name.as_str()).collect();
    Ok(json!({
        "kind": report.fit.word(), "residuals": residuals, "left_out": left_out,
        "stretch": report.stretch_percent, "turn": report.turn_deg, "shift_mm": report.shift_mm,
        "joints": told["joints"], "later": report.later, "records": report.records, "cautions": report.cautions, "text": report.words(),
        "report": told, "files": [],
    }))
}

fn names(folder: &std::path::Path, files: &[PathBuf]) -> Value {
    let whole = std::fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
    let name = |f: &PathBuf| f.strip_prefix(&whole).unwrap_or(f).to_string_lossy().replace('\\', "/");
    files.iter().map(name).collect::<Vec<_>>().into()
}

/// `POST api/passes/N/done`: recorded as cut, or with `done` false taken back; with `try` only what that would do.
pub fn done(table: &Table, number: usize, asked: &Asked) -> Result<Value, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        #[serde(default)]
        cloth: Option<String>,
        done: bool,
        #[serde(default, rename = "try")]
        only_try: bool,
    }
    let body: Body = asked.body()?;
    let _held = table.record();
    let mut open = open(table, number, body.cloth.as_deref())?;
    if !body.done {
        return not_cut(table, &open, body.only_try);
    }
    if body.only_try {
        let pass = &open.plan.passes[open.pass];
        let new = open.done.of(pass).is_none();
        return Ok(
            json!({"new": new, "cloth": pass.cloth, "pass": pass.number, "done": done_of(&open.done)}),
        );
    }
    let pass = &open.plan.passes[open.pass];
    let new = realign::mark_done(&mut open.done, &open.plan, open.pass, &open.folder)?;
    table.tell_state();
    Ok(
        json!({"new": new, "cloth": pass.cloth, "pass": pass.number, "done": done_of(&open.done), "found": open.found}),
    )
}

/// Takes back that a pass is cut, with what followed from it.
fn not_cut(table: &Table, open: &Open, only_try: bool) -> Result<Value, Problem> {
    let as_planned = realign::as_planned(&open.folder, &open.plan);
    let back = realign::reopen(&open.plan, as_planned.as_ref(), &open.done, open.pass)?;
    let pass = &open.plan.passes[open.pass];
    let mut said = open.found.clone();
    said.extend(back.words());
    let mut files = Vec::new();
    let cloth = open.plan.cloths.iter().find(|c| c.name == pass.cloth);
    if !only_try {
        files = realign::write_reopened(&back, &open.folder)?;
        if let (Some(cloth), Some(left_by)) = (cloth, &back.left_by) {
            let off = Place::usual().map_err(|t| vec![t]);
            match off.and_then(|place| offcuts::unshelve(&open.plan, cloth, left_by, &place)) {
                Ok((found, notes)) => {
                    said.extend(found.words());
                    said.extend(notes.into_iter().map(|n| n.text));
                }
                // The record is taken back all the same.
                Err(troubles) => said.extend(
                    troubles
                        .iter()
                        .map(|t| format!("Its leftovers could not be taken off the offcut shelf: {t}")),
                ),
            }
        }
        table.tell_state();
    } else if back.left_by.is_some() {
        said.push(
            "Leftovers that went on the offcut shelf when its last pass was marked come off again.".into(),
        );
    }
    let again: Vec<usize> = back.changed.iter().map(|&i| open.plan.passes[i].number).collect();
    Ok(json!({
        "cloth": pass.cloth, "pass": pass.number, "was": back.was.recorded, "as_planned_again": again, "said": said,
        "done": done_of(&back.done), "files": names(&open.folder, &files),
    }))
}

fn done_of(done: &Done) -> Value {
    done.passes
        .iter()
        .map(|p| json!({"cloth": p.cloth, "pass": p.number, "recorded": p.recorded}))
        .collect::<Vec<_>>()
        .into()
}

/// `GET api/passes`: which are recorded as cut, and what can be measured before each.
pub fn get(table: &Table) -> Result<Value, Problem> {
    let folder = plan_folder(&table.store()).filter(|f| f.join(plan::PLAN_FILE).is_file());
    let folder = folder.ok_or_else(|| Problem::none("There is no plan yet").hint("make one of the lay"))?;
    let (plan, folder) = plan::read(&folder)?;
    let done = realign::read_done(&folder, &plan)?;
    let passes: Vec<Value> = plan
        .passes
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let measure: Vec<Value> = plan::to_measure(&plan, i)
                .iter()
                .map(|m| json!({"name": m.name, "bed": m.bed, "pivot": m.pivot}))
                .collect();
            let later_cut =
                plan.passes.iter().any(|q| q.cloth == p.cloth && q.number > p.number && done.of(q).is_some());
            json!({
                "cloth": p.cloth, "pass": p.number, "burns": p.burns.len(), "seconds": p.seconds,
                "done": done.of(p).map(|d| d.recorded.clone()), "realigned": plan::is_realigned(&plan, p),
                "may_take_back": done.of(p).is_some() && !later_cut, "measure": measure,
            })
        })
        .collect();
    Ok(passes.into())
}

/// `POST api/passes/N/rest`: the cut files of what is left of a pass that broke off.
pub fn rest(table: &Table, number: usize, asked: &Asked) -> Result<Value, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        #[serde(default)]
        cloth: Option<String>,
        from_burn: usize,
        #[serde(default)]
        marks: Vec<Mark>,
    }
    let body: Body = asked.body()?;
    let _held = table.record();
    let open = open(table, number, body.cloth.as_deref())?;
    let aligned = if body.marks.is_empty() {
        open.done.may_change(&open.plan.passes[open.pass])?;
        None
    } else {
        Some(align(&open, &measured(&body.marks)?, Some(body.from_burn))?)
    };
    let (rest, files) =
        realign::write_rest(&open.plan, open.pass, body.from_burn, aligned.as_ref(), &open.folder)?;
    let realigned = aligned.as_ref().map(report).transpose()?;
    Ok(json!({
        "cloth": rest.cloth, "pass": rest.number, "from_burn": body.from_burn, "burns": rest.burns.len(),
        "cut_length_mm": rest.cut_length_mm, "seconds": rest.seconds, "realigned": realigned,
        "files": names(&open.folder, &files),
    }))
}
