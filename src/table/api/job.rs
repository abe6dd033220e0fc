//! The job: taken from the page, undone, saved, taken from the disk again.

use std::path::{Component, Path};

use serde::Deserialize;
use serde_json::{Value, json};

use super::ask::Asked;
use crate::say::Trouble;
use crate::table::names;
use crate::table::problem::{Problem, troubles};
use crate::table::surface::Table;
use crate::table::working_copy::WorkingCopy;

/// `PUT api/job`: the whole job, kept even where it makes no sense yet.
pub fn put(table: &Table, asked: &Asked) -> Result<Value, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        job: Value,
    }
    let Body { job } = asked.body()?;
    if !job.is_object() {
        return Err(Problem::bad("job: expected an object").with("place", "job"));
    }
    if is_deep(&job, MOST_DEEP) {
        return Err(Problem::bad("job: lists in lists go too deep").with("place", "job"));
    }
    let (revision, ()) = table.change("job", asked.revision()?, |work| {
        if work.job.is_none() {
            return Err(Problem::clash("There is no job yet").hint("begin with a drawing"));
        }
        for field in ["drawing", "cutter"] {
            let before = work.job.as_ref().and_then(|j| j.get(field));
            if job.get(field) != before
                && let Some(file) = job.get(field).and_then(Value::as_str)
            {
                within(file, field)?;
            }
        }
        let known: Vec<Value> = work.job.as_ref().map(photos).unwrap_or_default();
        for photo in photos(&job).iter().filter(|p| !known.contains(p)) {
            within(photo.as_str().unwrap_or_default(), "photo.file")?;
        }
        work.job = Some(job);
        Ok(())
    })?;
    answer(table, revision)
}

/// Deepest a job nests: far more than its schema has a use for, far less than what cannot be read again.
const MOST_DEEP: usize = 48;

fn is_deep(value: &Value, left: usize) -> bool {
    left == 0
        || match value {
            Value::Array(all) => all.iter().any(|v| is_deep(v, left - 1)),
            Value::Object(all) => all.values().any(|v| is_deep(v, left - 1)),
            _ => false,
        }
}

/// The photographs a job's cloths name.
fn photos(job: &Value) -> Vec<Value> {
    let cloths = job.get("cloths").and_then(Value::as_array);
    cloths.into_iter().flatten().filter_map(|c| c.pointer("/pattern/photo/file").cloned()).collect()
}

/// Refuses a file outside the job's folder: what a page names is looked for there alone.
fn within(file: &str, field: &str) -> Result<(), Problem> {
    let path = Path::new(file);
    let plain = path.components().all(|c| matches!(c, Component::Normal(_))) && !file.contains('\\');
    if plain {
        return Ok(());
    }
    Err(Problem::bad(format!("{field}: \"{file}\" lies outside the job's folder"))
        .hint("copy the file into the job's folder and name it alone")
        .with("place", field))
}

/// The new revision, and everything that is wrong with the job.
fn answer(table: &Table, revision: u64) -> Result<Value, Problem> {
    let wrong: Vec<Trouble> = table.understood().map(|u| u.troubles()).unwrap_or_default();
    Ok(json!({"revision": revision, "troubles": troubles(&wrong)}))
}

/// `POST api/undo`.
pub fn undo(table: &Table, asked: &Asked) -> Result<Value, Problem> {
    step(table, asked, WorkingCopy::undone, "There is nothing to undo")
}

/// `POST api/redo`.
pub fn redo(table: &Table, asked: &Asked) -> Result<Value, Problem> {
    step(table, asked, WorkingCopy::redone, "There is nothing to do again")
}

fn step(
    table: &Table,
    asked: &Asked,
    way: fn(&WorkingCopy) -> Option<WorkingCopy>,
    none: &str,
) -> Result<Value, Problem> {
    let revision = {
        let mut store = table.store();
        store.expect(asked.revision()?)?;
        table.heavy.idle()?;
        let copy = way(&store.copy).ok_or_else(|| Problem::clash(none))?;
        store.put(copy)?;
        store.copy.revision
    };
    table.tell_state();
    answer(table, revision)
}

/// `POST api/save`: writes the job file.
pub fn save(table: &Table, asked: &Asked) -> Result<Value, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        #[serde(rename = "as", default)]
        other: Option<String>,
        #[serde(default)]
        over: bool,
    }
    let Body { other, over } = asked.body()?;
    let other = other.map(|name| {
        let lower = name.to_lowercase();
        let whole = if lower.ends_with(".json") { name } else { format!("{name}.job.json") };
        names::plain(&whole, &[".json"])
    });
    let other = other.transpose()?;
    let (name, revision) = {
        let mut store = table.store();
        store.expect(asked.revision()?)?;
        (store.save(other.as_deref(), over)?, store.copy.revision)
    };
    table.tell_state();
    Ok(json!({"revision": revision, "job_file": name, "saved": true}))
}

/// `POST api/reload`: takes job and drawing as they are on disk. What was on the table can be had back by undoing.
pub fn reload(table: &Table, asked: &Asked) -> Result<Value, Problem> {
    {
        let mut store = table.store();
        store.expect(asked.revision()?)?;
        table.heavy.idle()?;
        let mut copy = store.copy.clone();
        if copy.base.is_some() && !store.job_path().is_some_and(|p| p.exists()) {
            return Err(
                Problem::none("the job file is gone").hint("save the job: what is on the table is all there")
            );
        }
        if store.job_path().is_some_and(|p| p.exists()) {
            let (job, base) = store.read_job()?;
            let mut work = copy.work.clone();
            work.job = Some(job);
            crate::table::surface::settle(&mut work);
            copy = copy.changed("reload", work);
            copy.base = Some(base);
        }
        store.put(copy)?;
    }
    table.look_at_drawing()?;
    let revision = table.store().copy.revision;
    table.tell_state();
    answer(table, revision)
}
