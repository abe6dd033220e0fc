//! What a plan tells of its realigned passes.

use super::model::{Plan, PlanPass};
use crate::say::Note;

/// What a note on a realigned pass begins with.
pub const REALIGNED_BY: &str = "Realigned by ";

/// What a note on a pass is about: as its other notes have it, so that it stands with the pass wherever that is shown.
pub fn about_pass(cloth: &str, number: usize) -> String {
    format!("{cloth}, pass {number}")
}

/// True for a plan's note that says by what pass `number` of `cloth` was realigned.
pub fn says_realigned(note: &Note, cloth: &str, number: usize) -> bool {
    // Plans of earlier versions have it the second way.
    let ours = [about_pass(cloth, number), format!("pass {number} of cloth {cloth}")];
    ours.contains(&note.about) && note.text.starts_with(REALIGNED_BY)
}

/// True when `pass` itself was realigned.
pub fn is_realigned(plan: &Plan, pass: &PlanPass) -> bool {
    plan.notes.iter().any(|n| says_realigned(n, &pass.cloth, pass.number))
}
