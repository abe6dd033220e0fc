//! Underlap: extra cloth along edges that tuck beneath a neighbour.
//!
//! The drawing's stacking says what lies beneath what: a shape drawn later lies above. Bands that go over and under one
//! another are drawn in segments, each with its own place in the stacking, so every crossing keeps its own over and
//! under.

use super::allowance;
use super::model::Piece;
use crate::job::PieceRule;
use crate::say::Note;
use crate::shape::booleans::{intersection, union};
use crate::shape::{Join, Region, offset, tol};

/// Adds the underlap of each piece's rule to its cut region, and says where a rule's underlap found nothing to tuck
/// beneath. `pieces` stand in stacking order.
///
/// An edge tucks where it lies beneath a piece drawn later or runs along its edge, within
/// [`tol::ALONGSIDE_MM`]. The extra stays within the drawn regions of the pieces above; away from the tucked
/// edge it keeps [`tol::TUCKED_IN_MM`] inside them, so that it does not peep out on the other side.
pub(super) fn tuck(pieces: &mut [Piece], rules: &[PieceRule]) -> Vec<Note> {
    let mut tucked = vec![false; rules.len()];
    let grown: Vec<Option<Region>> = pieces
        .iter()
        .map(|piece| {
            let underlap = rules.get(piece.rule).map_or(0.0, |r| r.underlap_mm);
            if !(underlap > tol::SAME_POINT_MM && underlap.is_finite()) {
                return None;
            }
            let above = above(piece, pieces);
            let allowance = rules.get(piece.rule).map_or(0.0, |r| r.allowance_mm);
            with_extra(piece, &above, allowance + underlap)
        })
        .collect();
    for (piece, cut) in pieces.iter_mut().zip(grown) {
        if let Some(cut) = cut {
            piece.cut = cut;
            if let Some(t) = tucked.get_mut(piece.rule) {
                *t = true;
            }
        }
    }
    let idle = rules.iter().enumerate().filter(|(k, r)| r.underlap_mm > 0.0 && !tucked[*k]);
    let idle = idle.filter(|(k, _)| pieces.iter().any(|p| p.rule == *k));
    idle.map(|(k, r)| {
        let text = format!(
            "Its underlap_mm, {}, is not used: no piece is drawn above any of its edges. Pieces drawn later lie above.",
            r.underlap_mm
        );
        Note::advice(format!("rule pieces[{k}]"), text)
    })
    .collect()
}

/// The underlap a piece was given, mm: its rule's, or 0 where nothing of it tucks beneath a neighbour.
pub fn underlap_of(piece: &Piece, rule: &PieceRule) -> f64 {
    if rule.underlap_mm <= tol::SAME_POINT_MM {
        return 0.0;
    }
    let plain = allowance::grown(&piece.drawn, rule.allowance_mm, "").ok();
    match plain {
        Some(plain) if piece.cut.area() > plain.area() + tol::SLIVER_MM2 => rule.underlap_mm,
        _ => 0.0,
    }
}

/// What the pieces drawn above `piece` cover together, near it.
fn above(piece: &Piece, pieces: &[Piece]) -> Vec<Region> {
    let near = piece.drawn.bounds().grown(tol::ALONGSIDE_MM);
    let over: Vec<Region> = pieces
        .iter()
        .filter(|p| p.element > piece.element && p.drawn.bounds().meets(near))
        .map(|p| p.drawn.clone())
        .collect();
    union(&over)
}

/// The cut region with extra reaching `reach_mm` from the drawn edges that tuck beneath `above`; `None` when none does.
fn with_extra(piece: &Piece, above: &[Region], reach_mm: f64) -> Option<Region> {
    let alone = std::slice::from_ref(&piece.drawn);
    // The part of the piece that is covered, or lies along the edge of what covers it. Its own inner ends lie at the
    // edge of the cover, so growing it adds nothing along edges that are in the open.
    let covered = intersection(alone, &offset(above, tol::ALONGSIDE_MM, Join::Round));
    if covered.is_empty() {
        return None;
    }
    let reach = offset(&covered, reach_mm, Join::Round);
    let beside = intersection(above, &offset(alone, tol::TUCKED_IN_MM, Join::Round));
    let deep = offset(above, -tol::TUCKED_IN_MM, Join::Round);
    let shelter = union(&[beside, deep].concat());
    let extra = intersection(&reach, &shelter);
    let base = piece.cut.bounds().grown(-tol::CLEAR_MM);
    let whole = union(&[vec![piece.cut.clone()], extra].concat());
    // What is cut off from the piece by a gap would be a scrap of its own.
    let held = whole.into_iter().filter(|r| r.bounds().holds(base));
    let mut cut = held.max_by(|a, b| a.area().total_cmp(&b.area()))?;
    if cut.area() <= piece.cut.area() + tol::SLIVER_MM2 {
        return None;
    }
    // A pocket that only the extra encloses and the cover hides is no cut-out.
    let drawn = |p| piece.drawn.cutouts.iter().any(|c| c.contains(p));
    let hidden = |p| above.iter().any(|a| a.contains(p));
    cut.cutouts.retain(|c| c.points.iter().any(|&p| drawn(p)) || !c.points.iter().all(|&p| hidden(p)));
    Some(cut)
}

#[cfg(test)]
#[path = "underlap_tests.rs"]
mod tests;
