//! How the plan in the job's folder stands to the work on the table: does it still fit, is it partly cut?

use std::path::Path;
use std::sync::{Arc, Mutex};

use serde_json::Value;

use super::disk::{self, fingerprint};
use super::planned::{Parts, Planned, contradicted};
use super::readable;
use super::store::Store;
use super::surface::{Table, plan_folder};
use super::understood::photos_of;
use super::working_copy::WorkingCopy;
use crate::job::Job;

/// A job as it was read last, under a fingerprint of its text; none where it makes no sense.
/// With it the cloths that a photograph contradicts.
pub type ReadLast = Mutex<Option<(String, Option<Arc<(Job, Vec<String>)>>)>>;

/// How the plan in the job's folder stands to the work on the table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Standing {
    /// There is one.
    pub is_there: bool,
    /// Passes of it are recorded as cut.
    pub is_cut: bool,
    /// What its cut lines depend on that has changed since, in words.
    pub changed: Vec<String>,
    /// What else has changed since: its report and sheets tell it as it was.
    pub retold: Vec<String>,
}

impl Table {
    /// How the plan in the job's folder stands to the work on the table.
    pub fn standing(&self, store: &Store) -> Standing {
        let there = plan_folder(store).filter(|f| f.join(crate::plan::PLAN_FILE).is_file());
        let Some(folder) = there else { return Standing::default() };
        let mut standing = Standing {
            is_there: true,
            is_cut: crate::realign::nothing_cut(&folder).is_err(),
            ..Standing::default()
        };
        let copy = &store.copy;
        match &copy.planned {
            Some(Planned::Whole(print)) if *print == work_print(copy, &store.folder) => {}
            Some(Planned::Parts(made_of)) => match self.parts(copy, &store.folder) {
                Some(now) => {
                    standing.changed = made_of.cut_changed(&now);
                    standing.retold = made_of.told_changed(&now);
                }
                None => standing.changed = vec!["the job, which is not right yet".into()],
            },
            Some(Planned::Whole(_)) => standing.changed = vec!["the job or the lay".into()],
            None => standing.changed = vec!["the lay, for it was not made here".into()],
        }
        standing
    }

    /// The parts of the work that a plan is made of; `None` where the job makes no sense.
    pub fn parts(&self, copy: &WorkingCopy, folder: &Path) -> Option<Parts> {
        let value = copy.work.job.as_ref()?;
        let text = readable::text(value);
        let cutter = value.get("cutter").and_then(Value::as_str).map(|c| folder.join(c));
        let cutter = cutter.and_then(|c| disk::read_limited(&c, crate::job::LARGEST_FILE).ok());
        let photos: String =
            photos_of(value).map(|f| format!("{:?};", disk::signature(&folder.join(f)))).collect();
        let key = fingerprint(&[text.as_bytes(), &cutter.unwrap_or_default(), photos.as_bytes()]);
        let mut held = self.read.lock().unwrap_or_else(|e| e.into_inner());
        let known = held.as_ref().filter(|(k, _)| *k == key).map(|(_, job)| job.clone());
        let job = match known {
            Some(job) => job,
            None => {
                let job = crate::job::parse_beside(&text, "the job", Some(folder)).ok().map(|job| {
                    let shown = contradicted(&job, folder);
                    Arc::new((job, shown))
                });
                *held = Some((key, job.clone()));
                job
            }
        }?;
        let drawing = copy.drawing_base.clone().unwrap_or_default();
        Some(Parts::of(&job.0, &drawing, &copy.work.lies, &job.1))
    }
}

/// A fingerprint of everything a plan is made of, as earlier versions took it: job and lay, the drawing looked at, a
/// cutter's own file.
fn work_print(copy: &WorkingCopy, folder: &Path) -> String {
    let work = &copy.work;
    let cutter = work.job.as_ref().and_then(|j| j.get("cutter")).and_then(Value::as_str);
    let cutter = cutter.and_then(|c| disk::read_limited(&folder.join(c), crate::job::LARGEST_FILE).ok());
    let drawing = copy.drawing_base.clone().unwrap_or_default();
    let job = work.job.as_ref().map(Value::to_string).unwrap_or_default();
    let lies = serde_json::to_string(&work.lies.iter().collect::<Vec<_>>()).unwrap_or_default();
    fingerprint(&[job.as_bytes(), lies.as_bytes(), drawing.as_bytes(), &cutter.unwrap_or_default()])
}
