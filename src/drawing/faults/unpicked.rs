//! Shapes that no rule of a job picks.

use std::collections::BTreeSet;

use super::subject::Subject;
use super::{Fault, FaultKind, Severity};
use crate::drawing::{Drawing, Piece};
use crate::shape::Bounds;

/// The elements that no piece comes from.
pub(super) fn find(drawing: &Drawing, pieces: &[Piece]) -> Vec<Fault> {
    let picked: BTreeSet<usize> = pieces.iter().map(|p| p.element).collect();
    let left = drawing.elements.iter().enumerate().filter(|(e, _)| !picked.contains(e));
    left.map(|(stacking, element)| {
        let b = Bounds::of(element.subpaths.iter().flat_map(|s| s.points.iter().copied()));
        let at = if b.is_empty() { Default::default() } else { b.centre() };
        Subject { stacking, element }.fault(
            FaultKind::Unpicked,
            Severity::Note,
            at,
            0.0,
            "No rule of the job makes a piece of it, so it is not cut.".to_string(),
            "Add a rule for it under \"pieces\" if it is to be cut.",
        )
    })
    .collect()
}
