//! The working copy: the job as it stands on the table, the lay, and the way back.

use std::collections::BTreeMap;

use serde::{Deserialize, Deserializer, Serialize};
use serde_json::Value;

use super::planned::Planned;
use crate::say::json;

/// Version of the working copy's format.
pub const FORMAT: u32 = 1;

/// Most changes that can be undone, and most bytes of jobs kept for it.
const MOST_CHANGES: usize = 200;
const MOST_BYTES: usize = 2 << 20;

/// One copy of one piece as it lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lies {
    /// The cloth's name.
    pub cloth: String,
    /// Turn about the drawing's origin, degrees counter-clockwise.
    pub turn_deg: f64,
    /// Shift after the turn, mm.
    pub shift: [f64; 2],
}

/// A piece by name, and which copy of it.
pub type Name = (String, u32);

/// What a maker changes: job and lay.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Work {
    /// The job; `None` before there is a drawing.
    pub job: Option<Value>,
    /// How the pieces lie.
    pub lies: BTreeMap<Name, Lies>,
    /// Fingerprint of the pieces and cloths the lay was last held against; empty without a lay.
    pub laid_for: String,
}

/// What to put back to undo a change (or to do it again).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// What was done, a word or two.
    pub what: String,
    /// The job as it was, null where there was none; left out where it stayed.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "given")]
    job: Option<Value>,
    /// Pieces that lay otherwise, or not at all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    lies: Vec<(Name, Option<Lies>)>,
    /// What the lay was held against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    laid_for: Option<String>,
}

/// A field that is there, be it null: null is a job that was not there, a field left out a job that stayed.
fn given<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Value>, D::Error> {
    Value::deserialize(from).map(Some)
}

impl Change {
    /// What leads from `new` back to `old`; `None` where nothing differs.
    fn back(what: &str, old: &Work, new: &Work) -> Option<Change> {
        if old == new {
            return None;
        }
        let mut lies: Vec<(Name, Option<Lies>)> = old
            .lies
            .iter()
            .filter(|(name, l)| new.lies.get(*name) != Some(*l))
            .map(|(name, l)| (name.clone(), Some(l.clone())))
            .collect();
        lies.extend(new.lies.keys().filter(|n| !old.lies.contains_key(*n)).map(|n| (n.clone(), None)));
        Some(Change {
            what: what.to_owned(),
            job: (old.job != new.job).then(|| old.job.clone().unwrap_or(Value::Null)),
            lies,
            laid_for: (old.laid_for != new.laid_for).then(|| old.laid_for.clone()),
        })
    }

    /// The work with this put back.
    fn applied(&self, work: &Work) -> Work {
        let mut new = work.clone();
        if let Some(job) = &self.job {
            new.job = Some(job.clone()).filter(|j| !j.is_null());
        }
        for (name, lies) in &self.lies {
            match lies {
                Some(l) => drop(new.lies.insert(name.clone(), l.clone())),
                None => drop(new.lies.remove(name)),
            }
        }
        if let Some(laid_for) = &self.laid_for {
            new.laid_for.clone_from(laid_for);
        }
        new
    }

    fn bytes(&self) -> usize {
        64 * self.lies.len() + self.job.as_ref().map_or(0, |j| j.to_string().len())
    }
}

/// The working copy of one job.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WorkingCopy {
    /// Goes up by one with every change.
    pub revision: u64,
    /// Job and lay.
    pub work: Work,
    /// Fingerprint of the job file as it was last read or written; `None` where there was none.
    pub base: Option<String>,
    /// Fingerprint of the drawing as it was last looked at.
    pub drawing_base: Option<String>,
    /// What the plan that was written last is made of.
    pub planned: Option<Planned>,
    /// The last change is the last.
    pub undo: Vec<Change>,
    /// Changes undone.
    pub redo: Vec<Change>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct OnDisk {
    settlay_table: u32,
    /// Which program wrote it; the first did not say.
    #[serde(default)]
    program: String,
    revision: u64,
    base: Option<String>,
    drawing_base: Option<String>,
    planned: Option<Planned>,
    job: Option<Value>,
    laid_for: String,
    lies: Vec<(Name, Lies)>,
    undo: Vec<Change>,
    redo: Vec<Change>,
}

impl WorkingCopy {
    /// As it is kept on disk.
    pub fn text(&self) -> String {
        let on_disk = OnDisk {
            settlay_table: FORMAT,
            program: crate::PROGRAM.into(),
            revision: self.revision,
            base: self.base.clone(),
            drawing_base: self.drawing_base.clone(),
            planned: self.planned.clone(),
            job: self.work.job.clone(),
            laid_for: self.work.laid_for.clone(),
            lies: self.work.lies.iter().map(|(n, l)| (n.clone(), l.clone())).collect(),
            undo: self.undo.clone(),
            redo: self.redo.clone(),
        };
        // Strings, numbers and lists of them: nothing in it can fail to be written.
        serde_json::to_string(&on_disk).unwrap_or_default()
    }

    /// Reads what [`text`](WorkingCopy::text) wrote.
    ///
    /// # Errors
    /// In words, why it is none.
    pub fn parse(bytes: &[u8]) -> Result<WorkingCopy, String> {
        let d: OnDisk = json::read_bytes(bytes).map_err(|wrong| wrong.to_string())?;
        if d.settlay_table != FORMAT {
            return Err(format!("it is in format {}, this program reads format {FORMAT}", d.settlay_table));
        }
        let job = d.job.filter(|j| !j.is_null());
        let work = Work { job, lies: d.lies.into_iter().collect(), laid_for: d.laid_for };
        Ok(WorkingCopy {
            revision: d.revision,
            work,
            base: d.base,
            drawing_base: d.drawing_base,
            planned: d.planned,
            undo: d.undo,
            redo: d.redo,
        })
    }

    /// The copy after a change to `new`; the same revision where nothing differs.
    pub fn changed(&self, what: &str, new: Work) -> WorkingCopy {
        let Some(back) = Change::back(what, &self.work, &new) else { return self.clone() };
        let mut copy =
            WorkingCopy { work: new, revision: self.revision + 1, redo: Vec::new(), ..self.clone() };
        copy.undo.push(back);
        let mut bytes = 0;
        let kept = copy.undo.iter().rev().take(MOST_CHANGES).take_while(|c| {
            bytes += c.bytes();
            bytes <= MOST_BYTES
        });
        // The last one is always kept.
        let kept = kept.count().max(1);
        copy.undo.drain(..copy.undo.len() - kept);
        copy
    }

    /// The copy with the last change undone; `None` where there is none.
    pub fn undone(&self) -> Option<WorkingCopy> {
        let mut copy = self.clone();
        let change = copy.undo.pop()?;
        copy.work = change.applied(&self.work);
        copy.revision += 1;
        copy.redo.extend(Change::back(&change.what, &self.work, &copy.work));
        Some(copy)
    }

    /// The copy with the last undone change done again; `None` where there is none.
    pub fn redone(&self) -> Option<WorkingCopy> {
        let mut copy = self.clone();
        let change = copy.redo.pop()?;
        copy.work = change.applied(&self.work);
        copy.revision += 1;
        copy.undo.extend(Change::back(&change.what, &self.work, &copy.work));
        Some(copy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    fn work(job: u8, lies: &[(u8, i16)]) -> Work {
        let one = |&(name, x): &(u8, i16)| {
            let lies = Lies { cloth: "reed".into(), turn_deg: 0.0, shift: [f64::from(x), 0.5] };
            ((format!("p{name}"), 1), lies)
        };
        Work {
            job: (job > 0).then(|| json!({"settlay": 1, "title": job})),
            lies: lies.iter().map(one).collect(),
            laid_for: String::new(),
        }
    }

    proptest! {
        /// Any row of changes undone to the start and done again to the end passes through the same works, and what is
        /// on disk at any time reads back the same.
        #[test]
        fn every_change_can_be_undone_and_done_again(
            steps in prop::collection::vec((0u8..4, prop::collection::vec((0u8..6, -50i16..50), 0..6)), 1..12)
        ) {
            let mut copies = vec![WorkingCopy::default()];
            for (job, lies) in &steps {
                let next = copies[copies.len() - 1].changed("x", work(*job, lies));
                if next.revision > copies[copies.len() - 1].revision {
                    copies.push(next);
                }
            }
            let mut now = copies[copies.len() - 1].clone();
            for before in copies.iter().rev().skip(1) {
                now = now.undone().unwrap();
                prop_assert_eq!(&now.work, &before.work);
                prop_assert_eq!(&WorkingCopy::parse(now.text().as_bytes()).unwrap(), &now);
            }
            prop_assert!(now.undone().is_none());
            for after in copies.iter().skip(1) {
                let revision = now.revision;
                now = now.redone().unwrap();
                prop_assert_eq!(&now.work, &after.work);
                prop_assert_eq!(now.revision, revision + 1);
            }
            prop_assert!(now.redone().is_none());
        }
    }

    #[test]
    fn the_way_back_is_long_but_not_endless() {
        let mut copy = WorkingCopy::default();
        for k in 0..1000 {
            let mut new = copy.work.clone();
            new.job = Some(json!({"title": "x".repeat(if k % 2 == 0 { 60_000 } else { 10 }), "k": k}));
            copy = copy.changed("job", new);
        }
        assert!(copy.undo.len() > 20 && copy.text().len() < 4 << 20, "{}", copy.undo.len());
    }

    #[test]
    fn what_is_no_working_copy_is_refused_in_words() {
        assert!(WorkingCopy::parse(b"{").is_err());
        let other = WorkingCopy::default().text().replace("\"settlay_table\":1", "\"settlay_table\":9");
        assert!(WorkingCopy::parse(other.as_bytes()).unwrap_err().contains("format 9"));
    }
}
