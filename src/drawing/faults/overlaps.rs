//! Pieces of the same cloth that lie on each other in the drawing.

use rayon::prelude::*;
use rstar::{
    AABB, RTree, RTreeObject,
    primitives::{GeomWithData, Rectangle},
};

use super::{Fault, FaultKind, Severity};
use crate::drawing::Piece;
use crate::shape::{Bounds, Region, booleans, tol};

/// Overlaps thinner than this on average are two flattenings of one shared edge, mm.
const THINNEST_MM: f64 = 2.0 * tol::DRAWN_MM;

/// More overlaps than this are not looked for.
const MOST: usize = 5_000;

/// Pieces looked at before the number found is counted.
const BLOCK: usize = 256;

/// The overlaps of pieces of the same cloth, each told once, of the upper piece.
pub(super) fn find(pieces: &[Piece]) -> Vec<Fault> {
    let sane: Vec<usize> = (0..pieces.len()).filter(|&i| pieces[i].drawn.is_sane()).collect();
    let boxes = |i: usize| Rectangle::from_aabb(envelope(pieces[i].drawn.bounds()));
    let tree = RTree::bulk_load(sane.iter().map(|&i| GeomWithData::new(boxes(i), i)).collect());
    let of_piece = |&upper: &usize| {
        let piece = &pieces[upper];
        let mut beneath: Vec<usize> = tree
            .locate_in_envelope_intersecting(&boxes(upper).envelope())
            .map(|g| g.data)
            .filter(|&lower| lower < upper && pieces[lower].cloth == piece.cloth)
            .collect();
        beneath.sort_unstable();
        beneath.into_iter().filter_map(|lower| overlap(&pieces[lower], piece)).collect::<Vec<_>>()
    };
    let mut faults = Vec::new();
    for block in sane.chunks(BLOCK) {
        let found: Vec<Vec<Fault>> = block.par_iter().map(of_piece).collect();
        for mut of_one in found {
            of_one.sort_by(|a, b| b.size_mm.total_cmp(&a.size_mm));
            faults.extend(of_one);
        }
        if faults.len() > MOST {
            break;
        }
    }
    faults
}

fn envelope(b: Bounds) -> AABB<[f64; 2]> {
    AABB::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y])
}

fn overlap(lower: &Piece, upper: &Piece) -> Option<Fault> {
    let common =
        booleans::intersection(std::slice::from_ref(&lower.drawn), std::slice::from_ref(&upper.drawn));
    let thick: Vec<&Region> =
        common.iter().filter(|r| 2.0 * r.area() > THINNEST_MM * r.edge_length()).collect();
    let area: f64 = thick.iter().map(|r| r.area()).sum();
    let largest = thick.iter().max_by(|a, b| a.area().total_cmp(&b.area()))?;
    Some(Fault {
        kind: FaultKind::Overlap,
        element: upper.id.clone(),
        stacking: upper.element,
        line: 0,
        at: largest.bounds().centre(),
        size_mm: area.sqrt(),
        severity: Severity::Mend,
        text: format!(
            "It overlaps {} of the same cloth by {}. Both are cut whole, so the cloth lies double there.",
            lower.id,
            crate::drawing::faults::area_words(area)
        ),
        advice: "If an edge is to be tucked beneath its neighbour this is right; otherwise cut one of them \
                 back in the drawing."
            .to_string(),
        more: 0,
        also: Vec::new(),
    })
}
