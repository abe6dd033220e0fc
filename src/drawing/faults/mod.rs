//! What is wrong with a drawing, before any cloth is cut.
//!
//! In: a [`Drawing`], and the pieces a job makes of it. Out: [`Fault`]s, in stacking order, each with its
//! place and what to do. Nothing is mended here and nothing refused: whoever asks decides.
//!
//! Cost: about the number of sides times its logarithm; pairs are only ever looked for among neighbours.

mod crossings;
mod crumbs;
mod doubled;
mod fault;
mod fold;
mod lost;
mod necks;
mod open;
mod overlaps;
mod oversize;
mod sides;
mod stretches;
mod subject;
mod thickness;
mod unpicked;

#[cfg(test)]
mod drawn;
#[cfg(test)]
mod necks_tests;
#[cfg(test)]
mod pieces_tests;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use rayon::prelude::*;

pub use fault::{Fault, FaultKind, FaultLimits, Severity};
pub use fold::sort;

use super::{Drawing, Piece};
use subject::Subject;

/// What pieces have to fit into.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizes {
    /// Name, usable width and usable length of every cloth of the job, mm; `None` where it has no end.
    pub cloths: Vec<(String, Option<f64>, Option<f64>)>,
    /// What one pass can reach, mm: across the cloth, along the cloth.
    pub window_mm: [f64; 2],
    /// Turns allowed on the cloth, by rule of the job; a rule that is missing allows any.
    pub turns: Vec<Turns>,
}

/// The turns a rule allows.
#[derive(Clone, Debug, PartialEq)]
pub enum Turns {
    /// These, degrees counter-clockwise.
    Only(Vec<f64>),
    /// All.
    Any,
}

/// The faults of the drawn elements: open and doubled outlines, crossings, crumbs and necks, and what the
/// drawing loses; sorted and folded. Coordinates that are not finite or beyond
/// [`FARTHEST_MM`](crate::shape::tol::FARTHEST_MM) are passed over.
pub fn of_drawing(drawing: &Drawing, limits: &FaultLimits) -> Vec<Fault> {
    let pairs = doubled::pairs(drawing, limits);
    let within = doubled::within_elements(&pairs);
    let none = BTreeSet::new();
    let mut whole: Vec<Vec<Fault>> = vec![Vec::new(); drawing.elements.len()];
    for pair in &pairs {
        whole[pair.upper.0].push(doubled::tell(drawing, pair));
    }
    let by_element: Vec<Vec<Fault>> = drawing
        .elements
        .par_iter()
        .zip(whole)
        .enumerate()
        .map(|(stacking, (element, doubled))| {
            let subject = Subject { stacking, element };
            let known = within.get(&stacking).unwrap_or(&none);
            let sides = subject.sides(limits);
            let mut twice = doubled;
            twice.extend(stretches::find(&subject, &sides, known, limits));
            let families = [
                open::find(&subject, limits),
                twice,
                crossings::find(&subject, &sides, known),
                crumbs::find(&subject, limits),
                necks::find(&subject, limits),
            ];
            families.into_iter().flat_map(fold::fold).collect()
        })
        .collect();
    let mut faults: Vec<Fault> = by_element.into_iter().flatten().collect();
    faults.extend(lost::find(drawing));
    sort(&mut faults);
    faults
}

/// The faults of pieces: overlaps of pieces of one cloth, pieces larger than their cloth ([`Severity::Stops`])
/// and larger than the bed; sorted and folded. Lines of the file are 0.
pub fn of_pieces(pieces: &[Piece], sizes: &Sizes) -> Vec<Fault> {
    let mut faults = fold::fold_runs(overlaps::find(pieces));
    faults.extend(fold::fold_runs(oversize::find(pieces, sizes)));
    sort(&mut faults);
    faults
}

/// The elements that no rule of the job makes a piece of.
pub fn unpicked(drawing: &Drawing, pieces: &[Piece]) -> Vec<Fault> {
    unpicked::find(drawing, pieces)
}

/// An area for people: mm² up to a square centimetre, cm² beyond.
pub fn area_words(mm2: f64) -> String {
    if mm2 < 100.0 { format!("{mm2:.1} mm²") } else { format!("{:.1} cm²", mm2 / 100.0) }
}
