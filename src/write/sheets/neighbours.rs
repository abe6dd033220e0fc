//! Which pieces lie beside which in the drawing.

use crate::plan::PlanPiece;
use crate::shape::{Bounds, Point, to_side};

use super::view::point;

/// Drawn edges nearer than this are neighbours, mm: what a border stitch bridges.
const BESIDE: f64 = 4.0;
/// Corners an edge is thinned to.
const CORNERS: usize = 90;

/// For every piece of the plan the indices of its neighbours, nearest order of stacking first. Further copies
/// of a piece have those of the first.
pub(super) fn neighbours(pieces: &[PlanPiece]) -> Vec<Vec<usize>> {
    let edges: Vec<(Bounds, Vec<Point>)> = pieces
        .iter()
        .map(|p| {
            let ring = &p.drawn.outline;
            let step = ring.len().div_ceil(CORNERS).max(1);
            let thin: Vec<Point> = ring.iter().step_by(step).map(|&q| point(q)).collect();
            (Bounds::of(thin.iter().copied()), thin)
        })
        .collect();
    let firsts: Vec<usize> =
        (0..pieces.len()).filter(|&i| pieces.get(i).is_some_and(|p| p.copy == 1)).collect();
    let mut beside = vec![Vec::new(); pieces.len()];
    for (i, ((b, edge), piece)) in edges.iter().zip(pieces).enumerate() {
        let near = b.grown(BESIDE);
        for &j in &firsts {
            let Some(((c, other), q)) = edges.get(j).zip(pieces.get(j)) else { continue };
            if i != j
                && q.id != piece.id
                && near.meets(*c)
                && (meet(edge, other) || meet(other, edge))
                && let Some(list) = beside.get_mut(i)
            {
                list.push(j);
            }
        }
    }
    for (list, piece) in beside.iter_mut().zip(pieces) {
        list.sort_by_key(|&j| pieces.get(j).map_or(usize::MAX, |q| q.order.abs_diff(piece.order)));
    }
    beside
}

fn meet(corners: &[Point], edge: &[Point]) -> bool {
    let next = edge.iter().cycle().skip(1);
    edge.iter().zip(next).any(|(&a, &b)| {
        let near = Bounds::of([a, b]).grown(BESIDE);
        corners.iter().any(|&p| near.contains(p) && to_side(p, a, b) < BESIDE)
    })
}
