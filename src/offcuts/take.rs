//! An offcut taken from the shelf becomes a cloth of a job.

use serde_json::Value;

use crate::job::{ClothSpec, Job};
use crate::say::Trouble;

use super::model::{Offcut, same_fabric};

/// The job with `offcuts` in place of the cloths of their fabrics: each becomes a cloth under its own id with its
/// fabric as the stock, so that the rules for the fabric hold for it.
///
/// # Errors
/// An offcut whose fabric the job does not use, or another fabric of the same name.
pub fn into_job(job: &Job, offcuts: &[Offcut]) -> Result<Job, Vec<Trouble>> {
    let mut troubles = Vec::new();
    let mut new = job.clone();
    for offcut in offcuts {
        let fabric = &offcut.cloth.name;
        let about = format!("offcut {}", offcut.id);
        let of_fabric: Vec<&ClothSpec> = job.cloths.iter().filter(|c| is_of(c, fabric)).collect();
        let Some(first) = of_fabric.first() else {
            let mut names: Vec<&str> = job.cloths.iter().map(fabric_of).collect();
            names.dedup();
            let what = format!("it is of {fabric}, which the job does not use: it has {}", names.join(", "));
            troubles.push(Trouble::cannot(about, what));
            continue;
        };
        if let Err(other) = same_fabric(first, &offcut.cloth) {
            let what = format!("it is called {fabric} as the job's cloth is, but has {other}");
            troubles.push(Trouble::cannot(about, what).hint("give one of the two fabrics another name"));
            continue;
        }
        new.cloths.retain(|c| !is_of(c, fabric) || offcuts.iter().any(|o| o.id == c.name));
        new.cloths.push(offcut.as_cloth());
    }
    new.lay.locked.clear();
    let mut names: Vec<&str> = new.cloths.iter().map(|c| c.name.as_str()).collect();
    names.sort_unstable();
    if let Some(twice) = names.windows(2).find(|w| w[0] == w[1]) {
        let what = "a cloth of the job has the same name as an offcut";
        troubles.push(Trouble::cannot(format!("cloth {}", twice[0]), what).hint("rename the job's cloth"));
    }
    for rule in &new.pieces {
        let known = new.cloths.iter().any(|c| c.name == rule.cloth || c.stock.as_ref() == Some(&rule.cloth));
        if !known && troubles.is_empty() {
            let what = "a rule names it itself, not its fabric, so an offcut cannot stand in for it";
            troubles.push(
                Trouble::cannot(format!("cloth {}", rule.cloth), what).hint("let the rule name the stock"),
            );
        }
    }
    if troubles.is_empty() { Ok(new) } else { Err(troubles) }
}

/// The fabric a cloth is of: its stock, or itself.
pub fn fabric_of(cloth: &ClothSpec) -> &str {
    cloth.stock.as_deref().unwrap_or(&cloth.name)
}

fn is_of(cloth: &ClothSpec, fabric: &str) -> bool {
    cloth.name == fabric || cloth.stock.as_deref() == Some(fabric)
}

/// A job as text for a person to read.
///
/// # Errors
/// A number JSON cannot hold.
pub fn job_text(job: &Job) -> Result<String, Trouble> {
    let said = serde_json::to_value(job).map(|mut v| {
        leave_unsaid(job, &mut v);
        v
    });
    let value = said.and_then(|v| serde_json::to_string_pretty(&without_nulls(v)));
    value.map(|t| t + "\n").map_err(|e| Trouble::cannot("the job", format!("it cannot be written: {e}")))
}

/// Takes out what stands there only because something has to: the copy says no more than its maker did.
fn leave_unsaid(job: &Job, value: &mut Value) {
    let unsaid = job.cutter.unsaid;
    if let Some(cutter) = value.get_mut("cutter").and_then(Value::as_object_mut) {
        cutter.retain(|field, _| !(unsaid.bed && field == "bed_mm" || unsaid.kerf && field == "kerf_mm"));
    }
    if let Some(job_fields) = value.as_object_mut().filter(|_| !job.scale_said) {
        job_fields.shift_remove("drawing_scale");
    }
}

/// A cloth as text for a job.
///
/// # Errors
/// A number JSON cannot hold.
pub fn cloth_text(cloth: &ClothSpec) -> Result<String, Trouble> {
    let value = serde_json::to_value(cloth).and_then(|v| serde_json::to_string(&without_nulls(v)));
    value.map(|t| t + "\n").map_err(|e| Trouble::cannot("the cloth", format!("it cannot be written: {e}")))
}

/// A field left out says the same as null.
fn without_nulls(value: Value) -> Value {
    match value {
        Value::Object(fields) => fields
            .into_iter()
            .filter(|(_, v)| !v.is_null())
            .map(|(k, v)| (k, without_nulls(v)))
            .collect::<serde_json::Map<_, _>>()
            .into(),
        Value::Array(items) => items.into_iter().map(without_nulls).collect(),
        other => other,
    }
}
