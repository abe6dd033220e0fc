//! The job on the table understood: its drawing read, its pieces picked. Worked out once for every state of them.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use serde_json::Value;

use super::disk::{Signature, fingerprint, signature};
use super::planned::{as_cut, is_contradicted};
use super::readable;
use crate::drawing::{self, Drawing, ReadOptions};
use crate::job::{self, Job};
use crate::plan::{self, Prepared};
use crate::say::{Quiet, Trouble};

/// A job and its drawing, as far as they can be understood.
#[derive(Debug)]
pub struct Understood {
    /// The job, where it makes sense.
    pub job: Result<Job, Vec<Trouble>>,
    /// The drawing; `None` while the job names none.
    pub drawing: Option<Result<Arc<Drawing>, Trouble>>,
    /// Everything up to the lay, where both make sense.
    pub prepared: Result<Prepared, Vec<Trouble>>,
    /// Fingerprint of what decides the pieces and where they may lie.
    pub laid_for: String,
}

impl Understood {
    /// Everything up to the lay.
    ///
    /// # Errors
    /// Why there are no pieces yet.
    pub fn prepared(&self) -> Result<&Prepared, Vec<Trouble>> {
        self.prepared.as_ref().map_err(Clone::clone)
    }

    /// Everything wrong with job and drawing.
    pub fn troubles(&self) -> Vec<Trouble> {
        match (&self.job, &self.drawing, &self.prepared) {
            (Err(t), _, _) => {
                let drawing = self.drawing.iter().filter_map(|d| d.as_ref().err().cloned());
                t.iter().cloned().chain(drawing).collect()
            }
            (Ok(_), _, Err(t)) => t.clone(),
            _ => Vec::new(),
        }
    }
}

/// A drawing as it was read.
struct Read {
    path: PathBuf,
    signature: Option<Signature>,
    /// The factor on its size, and whether its maker stands for it.
    size: (f64, bool),
    drawing: Result<Arc<Drawing>, Trouble>,
    fingerprint: String,
}

/// What was understood last.
#[derive(Default)]
pub struct Cache {
    drawing: Mutex<Option<Read>>,
    whole: Mutex<Option<(String, Arc<Understood>)>>,
}

impl Cache {
    /// The job understood, with its files looked for in `folder`.
    pub fn understand(&self, job: &Value, folder: &Path) -> Arc<Understood> {
        // One at a time: others wait for the same answer rather than work it out again.
        let mut whole = self.whole.lock().unwrap_or_else(|e| e.into_inner());
        let text = readable::text(job);
        let (drawing, drawn) = self.drawing(job, folder);
        let cutter = job.get("cutter").and_then(Value::as_str).map(|c| folder.join(c));
        let cutter = cutter.and_then(|c| std::fs::read(c).ok()).unwrap_or_default();
        let photos: Vec<String> =
            photos_of(job).map(|f| format!("{:?};", signature(&folder.join(f)))).collect();
        let key = fingerprint(&[text.as_bytes(), drawn.as_bytes(), &cutter, photos.concat().as_bytes()]);
        if let Some((_, known)) = whole.as_ref().filter(|(k, _)| *k == key) {
            return known.clone();
        }
        let read = job::parse_beside(&text, "the job", Some(folder));
        let prepared = match (&read, &drawing) {
            (Ok(job), Some(Ok(drawing))) => plan::prepare_with(job.clone(), (**drawing).clone(), &Quiet)
                .and_then(|mut prepared| {
                    plan::take_up_photos(&mut prepared, folder)?;
                    Ok(prepared)
                }),
            (Err(t), _) => Err(t.clone()),
            (_, Some(Err(t))) => Err(vec![t.clone()]),
            (_, None) => Err(vec![Trouble::bad_input("drawing", "the job names no drawing yet")]),
        };
        let laid_for = read.as_ref().map_or(String::new(), |j| {
            // Neither prices nor looks move a piece.
            let cloths: Vec<_> = j.cloths.iter().map(|c| as_cut(c, false)).collect();
            let decides = serde_json::json!([j.drawing_scale, cloths, j.pieces, j.lay.gap_mm]);
            // But a photograph may show that a cloth is not to be turned by half.
            let seen = prepared.as_ref().map_or(&[][..], |p| &p.cloths);
            let against = j.cloths.iter().zip(seen).filter(|(spec, cloth)| is_contradicted(spec, cloth));
            let shown: String = against.map(|(spec, _)| spec.name.as_str()).collect();
            fingerprint(&[drawn.as_bytes(), decides.to_string().as_bytes(), shown.as_bytes()])
        });
        let known = Arc::new(Understood { job: read, drawing, prepared, laid_for });
        *whole = Some((key, known.clone()));
        known
    }

    /// The job's drawing, and the fingerprint of its file.
    fn drawing(&self, job: &Value, folder: &Path) -> (Option<Result<Arc<Drawing>, Trouble>>, String) {
        let Some(name) = job.get("drawing").and_then(Value::as_str).filter(|n| !n.is_empty()) else {
            return (None, String::new());
        };
        let path = folder.join(name);
        let said = job.get("drawing_scale").and_then(Value::as_f64);
        let (scale, confirmed) = (said.unwrap_or(1.0), said.is_some());
        let mut last = self.drawing.lock().unwrap_or_else(|e| e.into_inner());
        let now = signature(&path);
        let size = (scale, confirmed);
        if let Some(r) = last.as_ref().filter(|r| r.path == path && r.signature == now && r.size == size) {
            return (Some(r.drawing.clone()), r.fingerprint.clone());
        }
        let options = ReadOptions { drawing_scale: scale, confirmed, ..ReadOptions::default() };
        let drawing = drawing::read(&path, &options).map(Arc::new);
        let bytes = std::fs::read(&path).unwrap_or_default();
        let fingerprint = fingerprint(&[&bytes]);
        let read =
            Read { path, signature: now, size, drawing: drawing.clone(), fingerprint: fingerprint.clone() };
        *last = Some(read);
        (Some(drawing), fingerprint)
    }

    /// Fingerprint of the drawing's file as it is now; empty where there is none.
    pub fn drawing_fingerprint(&self, job: &Value, folder: &Path) -> String {
        self.drawing(job, folder).1
    }
}

/// The photographs that a job's cloths name.
pub fn photos_of(job: &Value) -> impl Iterator<Item = &str> {
    let cloths = job.get("cloths").and_then(Value::as_array).into_iter().flatten();
    cloths.filter_map(|c| c.pointer("/pattern/photo/file")?.as_str())
}
