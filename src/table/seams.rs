//! What the eye will see of the pattern while pieces are moved: where it was asked to run through, and whether it does.

use std::sync::{Arc, Mutex};

use serde_json::{Value, json};

use crate::lay::Lay;
use crate::plan::Prepared;
use crate::sew::{self, Judgement, Seams};

/// Where the drawing's pattern was asked to run through, and what that was worked out for: no move changes it.
#[derive(Default)]
pub struct SeamsKept(Mutex<Option<(String, Arc<Seams>)>>);

impl SeamsKept {
    /// What came of the pattern in `lay`; `laid_for` stands for the pieces and rules of `prepared`.
    pub fn judge(&self, laid_for: &str, prepared: &Prepared, lay: &Lay) -> Judgement {
        let near_mm = sew::near_mm(prepared.job.cutter.border_mm);
        let key = format!("{laid_for} {near_mm}");
        let seams = {
            let mut held = self.0.lock().unwrap_or_else(|e| e.into_inner());
            match held.as_ref().filter(|(k, _)| *k == key) {
                Some((_, known)) => known.clone(),
                None => {
                    let seams = Arc::new(sew::seams(&prepared.pieces, &prepared.job.pieces, near_mm));
                    *held = Some((key, seams.clone()));
                    seams
                }
            }
        };
        sew::judge(&seams, lay, &prepared.pieces, &prepared.cloths)
    }
}

/// At how many places the pattern was asked to run through, where it does not, and that in words.
pub fn told(prepared: &Prepared, judgement: &Judgement) -> Value {
    let broken = judgement.broken.iter().map(|b| {
        json!({"upper": b.upper, "lower": b.lower, "copy": b.copy, "cloths": b.cloths, "text": b.words(&prepared.pieces)})
    });
    let text = judgement
        .broken_words(&prepared.pieces, &prepared.cloths)
        .or_else(|| (judgement.asked > 0).then(|| judgement.through_words()));
    json!({"asked": judgement.asked, "broken": broken.collect::<Vec<Value>>(), "text": text})
}
