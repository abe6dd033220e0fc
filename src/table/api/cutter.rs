//! The cutter as the job has it, and what nobody has said of cutter and drawing yet.

use serde_json::{Value, json};

use super::ask::Asked;
use crate::job;
use crate::table::problem::Problem;
use crate::table::surface::Table;
use crate::table::understood::Understood;

/// A measure that stands in no file, so that a usual one or a guess stands for it.
pub struct Unsaid {
    /// The job's field that says it.
    pub field: &'static str,
    /// What it is, in words that follow "nobody has said".
    pub what: &'static str,
}

/// What nobody has said that a plan depends on.
pub fn unsaid(understood: &Understood) -> Vec<Unsaid> {
    let mut all = Vec::new();
    let Ok(job) = &understood.job else { return all };
    let mut lacks = |is: bool, field, what| {
        if is {
            all.push(Unsaid { field, what });
        }
    };
    lacks(job.cutter.unsaid.bed, "bed_mm", "how large the cutter’s bed is");
    lacks(job.cutter.unsaid.kerf, "kerf_mm", "how wide the kerf is");
    let guessed = matches!(&understood.drawing, Some(Ok(drawing)) if !drawing.measured);
    lacks(guessed && !job.scale_said, "drawing_scale", "whether the drawing’s size is true");
    all
}

/// `GET api/cutter`: its first measures, where it is described, and what nobody has said.
pub fn get(table: &Table) -> Result<Value, Problem> {
    let understood = table.understood()?;
    let own = own_file(table);
    let job = understood.job.as_ref().map_err(Clone::clone)?;
    let page = match &understood.drawing {
        Some(Ok(drawing)) => json!(drawing.page_mm),
        _ => Value::Null,
    };
    let fields: Vec<&str> = unsaid(&understood).iter().map(|u| u.field).collect();
    Ok(json!({
        "file": own, "bed_mm": job.cutter.bed_mm, "kerf_mm": job.cutter.kerf_mm, "home": job.cutter.home,
        "home_words": job.cutter.home.words(), "unsaid": fields, "page_mm": page,
    }))
}

/// The name of the cutter's own file, where the job names one.
fn own_file(table: &Table) -> Option<String> {
    let store = table.store();
    store.copy.work.job.as_ref()?.get("cutter")?.as_str().map(str::to_owned)
}

/// `POST api/cutter/own`: the cutter's description moves from its own file into the job, every field as it is written there.
pub fn own(table: &Table, asked: &Asked) -> Result<Value, Problem> {
    let folder = table.folder();
    let (revision, ()) = table.change("cutter", asked.revision()?, |work| {
        let file = work.job.as_ref().and_then(|j| j.get("cutter")?.as_str().map(str::to_owned));
        let Some(file) = file else {
            return Err(Problem::clash("The cutter stands in the job already"));
        };
        let described = job::cutter_as_written(&folder.join(&file))?;
        if let Some(job) = work.job.as_mut() {
            job["cutter"] = described;
        }
        Ok(())
    })?;
    Ok(json!({"revision": revision}))
}
