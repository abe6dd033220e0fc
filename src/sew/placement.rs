//! Lines of a piece: where it is placed, where it is tacked down, where its border runs.

use crate::shape::{Join, Point, Region, Ring, distance, lerp, offset, tol};

/// Stretches of edge shorter than this between two covers get no border of their own, mm.
const LEAST_STRETCH_MM: f64 = 1.0;

/// A line to stitch.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its points; the first is not repeated when closed.
    pub points: Vec<Point>,
    /// True when it ends where it begins.
    pub closed: bool,
}

impl Line {
    /// The whole ring.
    pub fn round(ring: &Ring) -> Line {
        Line { points: ring.points.clone(), closed: true }
    }

    /// Its sides.
    pub fn sides(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        let closing = self.points.last().copied().zip(self.points.first().copied()).filter(|_| self.closed);
        self.points.iter().copied().zip(self.points.iter().copied().skip(1)).chain(closing)
    }

    /// Its length, mm.
    pub fn length(&self) -> f64 {
        self.sides().map(|(p, q)| distance(p, q)).sum()
    }
}

/// The lines of one piece.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Lines {
    /// The drawn edge, stitched on the ground: here the piece goes.
    pub placement: Vec<Line>,
    /// Inside it, stitched through the laid piece.
    pub tack: Vec<Line>,
    /// The drawn edge where no piece lies above it or along it: the middle of its border.
    pub border: Vec<Line>,
}

/// The lines of `drawn` beneath `above`, the pieces that lie over it. A piece too narrow for a tack-down line inside
/// its edge is tacked along its edge.
pub(super) fn lines(drawn: &Region, above: &[Region], tack_in_mm: f64) -> Lines {
    let placement: Vec<Line> = drawn.rings().map(Line::round).collect();
    let inner = offset(std::slice::from_ref(drawn), -tack_in_mm, Join::Round);
    let tack: Vec<Line> = inner.iter().flat_map(Region::rings).map(Line::round).collect();
    let cover = offset(above, tol::ALONGSIDE_MM, Join::Round);
    let border = drawn.rings().flat_map(|ring| in_the_open(ring, &cover)).collect();
    Lines { tack: if tack.is_empty() { placement.clone() } else { tack }, placement, border }
}

/// The stretches of `ring` that lie outside `cover`.
fn in_the_open(ring: &Ring, cover: &[Region]) -> Vec<Line> {
    let near = ring.bounds();
    let edges: Vec<(Point, Point)> = cover
        .iter()
        .flat_map(Region::rings)
        .flat_map(Ring::sides)
        .filter(|(a, b)| crate::shape::Bounds::of([*a, *b]).meets(near))
        .collect();
    let mut runs: Vec<Vec<Point>> = Vec::new();
    let (mut open, mut begins_open, mut hidden) = (false, None, false);
    for (p, q) in ring.sides() {
        let mut cuts = vec![0.0, 1.0];
        cuts.extend(edges.iter().filter_map(|&(a, b)| crossing(p, q, a, b)));
        cuts.sort_by(f64::total_cmp);
        for w in cuts.windows(2) {
            let (from, to) = (w[0], w[1]);
            if to <= from {
                continue;
            }
            let shows = !cover.iter().any(|r| r.contains(lerp(p, q, (from + to) / 2.0)));
            begins_open.get_or_insert(shows);
            hidden |= !shows;
            if shows {
                match runs.last_mut().filter(|_| open) {
                    Some(run) => run.push(lerp(p, q, to)),
                    None => runs.push(vec![lerp(p, q, from), lerp(p, q, to)]),
                }
            }
            open = shows;
        }
    }
    if !hidden {
        return vec![Line::round(ring)];
    }
    // A run over the ring's first point is one run.
    if open && begins_open == Some(true) && runs.len() > 1 {
        let first = runs.remove(0);
        if let Some(last) = runs.last_mut() {
            last.extend(first.into_iter().skip(1));
        }
    }
    let lines = runs.into_iter().map(|points| Line { points, closed: false });
    lines.filter(|l| l.length() >= LEAST_STRETCH_MM).collect()
}

/// The share of p–q at which a–b crosses it.
fn crossing(p: Point, q: Point, a: Point, b: Point) -> Option<f64> {
    let (d, e, w) = (q - p, b - a, a - p);
    let cross = |u: Point, v: Point| u.x * v.y - u.y * v.x;
    let turn = cross(d, e);
    if turn == 0.0 {
        return None;
    }
    let (t, s) = (cross(w, e) / turn, cross(w, d) / turn);
    (t > 0.0 && t < 1.0 && (0.0..=1.0).contains(&s)).then_some(t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Bounds, pt};

    fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)))
    }

    #[test]
    fn a_piece_with_nothing_above_has_its_border_all_round_and_its_tack_down_inside() {
        let found = lines(&rect(0.0, 0.0, 60.0, 40.0), &[], 1.0);
        assert_eq!(found.border, found.placement);
        assert!((found.placement[0].length() - 200.0).abs() < 1e-9);
        assert!((found.tack[0].length() - 192.0).abs() < 1e-6);
    }

    #[test]
    fn an_edge_beneath_a_piece_or_along_its_edge_has_no_border_of_its_own() {
        // Beneath: 20 mm of the right end and the end itself.
        let beneath = lines(&rect(0.0, 0.0, 60.0, 40.0), &[rect(40.0, -50.0, 90.0, 90.0)], 1.0);
        let total: f64 = beneath.border.iter().map(Line::length).sum();
        assert_eq!(beneath.border.len(), 1);
        assert!((total - (200.0 - 80.0 - 1.0)).abs() < 0.02, "{total}");
        // Along: the right edge only, and half a millimetre round its ends.
        let along = lines(&rect(0.0, 0.0, 60.0, 40.0), &[rect(60.0, -50.0, 90.0, 90.0)], 1.0);
        let total: f64 = along.border.iter().map(Line::length).sum();
        assert!((total - (160.0 - 1.0)).abs() < 0.02, "{total}");
    }

    #[test]
    fn a_stem_too_narrow_for_a_line_inside_is_tacked_along_its_edge() {
        let found = lines(&rect(0.0, 0.0, 60.0, 1.5), &[], 1.0);
        assert_eq!(found.tack, found.placement);
    }
}
