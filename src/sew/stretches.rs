//! The edges of pieces in stretches that are each sewn in one go.

use rstar::RTree;
use rstar::primitives::GeomWithData;

use super::placement::Lines;
use crate::shape::{Bounds, Point, Region, Ring, distance, lerp, tol};

/// Length of a stretch of edge, mm: a hand-over between two hoopings may lie at any end of one.
const STRETCH_MM: f64 = 8.0;

/// A stretch is no longer than this share of a field's smaller side.
const STRETCH_SHARE: f64 = 1.0 / 8.0;

/// Steps in which edges are looked at, mm.
pub(super) const STEP_MM: f64 = 2.0;

/// A whole piece's edges, or one stretch of an edge of a piece that no field holds.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretch {
    /// The piece.
    pub piece: usize,
    /// Points along it, ends included.
    pub points: Vec<Point>,
    /// What a field must hold of placement lines, tack-down lines and border.
    pub bounds: Bounds,
}

/// Points, each with its stretch.
type Near = RTree<GeomWithData<[f64; 2], usize>>;

/// All stretches of a work, those of a piece together, and where each piece has them.
#[derive(Debug)]
pub(super) struct Stretches {
    /// In stacking order of the pieces, along each edge in turn.
    pub all: Vec<Stretch>,
    /// By piece: its first stretch and the one after its last.
    pub of: Vec<(usize, usize)>,
    /// Successive stretches of every edge of the pieces that no field holds.
    pub rings: Vec<Vec<usize>>,
    /// By piece that no field holds: its points with the stretch of each.
    near: Vec<Option<Near>>,
}

impl Stretches {
    /// The edges of `drawn`, sewn by `lines` in fields of `size`.
    pub fn new(drawn: &[&Region], lines: &[Lines], size: Point) -> Stretches {
        let fits =
            |b: Bounds| b.width() <= size.x + tol::SAME_POINT_MM && b.height() <= size.y + tol::SAME_POINT_MM;
        let longest = STRETCH_MM.min(size.x.min(size.y) * STRETCH_SHARE);
        let mut made = Stretches { all: vec![], of: vec![], rings: vec![], near: vec![] };
        for (piece, (region, lines)) in drawn.iter().zip(lines).enumerate() {
            let first = made.all.len();
            if fits(region.bounds()) {
                let points = region.rings().flat_map(|r| along(&r.sides().collect::<Vec<_>>())).collect();
                made.all.push(Stretch { piece, points, bounds: region.bounds() });
                made.of.push((first, first + 1));
                made.near.push(None);
                continue;
            }
            for ring in region.rings() {
                let begin = made.all.len();
                made.all.extend(cut_up(ring, longest).into_iter().map(|points| Stretch {
                    piece,
                    bounds: Bounds::of(points.iter().copied()),
                    points,
                }));
                made.rings.push((begin..made.all.len()).collect());
            }
            made.of.push((first, made.all.len()));
            let points = made.all[first..].iter().enumerate();
            let points = points
                .flat_map(|(k, s)| s.points.iter().map(move |p| GeomWithData::new([p.x, p.y], first + k)));
            made.near.push(Some(RTree::bulk_load(points.collect())));
            let all = lines.placement.iter().chain(&lines.tack).chain(&lines.border);
            for p in all.flat_map(|l| along(&l.sides().collect::<Vec<_>>())) {
                let own = made.nearest(piece, p);
                made.all[own].bounds.include(p);
            }
        }
        made
    }

    /// True when a field holds the whole piece.
    pub fn whole(&self, piece: usize) -> bool {
        self.near.get(piece).is_none_or(Option::is_none)
    }

    /// The stretch of `piece` nearest to `p`.
    pub fn nearest(&self, piece: usize, p: Point) -> usize {
        let first = self.of.get(piece).map_or(0, |of| of.0);
        let tree = self.near.get(piece).and_then(Option::as_ref);
        // Of points that are equally near, the one of the earlier stretch.
        let Some(tree) = tree else { return first };
        let mut best = (f64::INFINITY, first);
        for (found, far) in tree.nearest_neighbor_iter_with_distance_2(&[p.x, p.y]) {
            if far > best.0 {
                break;
            }
            best = if best.0.is_infinite() { (far, found.data) } else { (far, best.1.min(found.data)) };
        }
        best.1
    }
}

/// Points along sides, near enough to one another to tell where they run; the last side's end included.
pub(super) fn along(sides: &[(Point, Point)]) -> Vec<Point> {
    let mut points = Vec::new();
    for &(p, q) in sides {
        let count = (distance(p, q) / STEP_MM).ceil().clamp(1.0, 1.0e5) as u32;
        points.extend((0..count).map(|k| lerp(p, q, f64::from(k) / f64::from(count))));
    }
    points.extend(sides.last().map(|s| s.1));
    points
}

/// A ring in stretches of about one length, none longer than `longest`; each begins where the last one ends.
fn cut_up(ring: &Ring, longest: f64) -> Vec<Vec<Point>> {
    let sides: Vec<(Point, Point)> = ring.sides().collect();
    let total: f64 = sides.iter().map(|s| distance(s.0, s.1)).sum();
    let each = total / (total / longest).ceil().max(1.0);
    let mut out = Vec::new();
    let mut now: Vec<(Point, Point)> = Vec::new();
    let mut left = each;
    for (mut p, q) in sides {
        loop {
            let far = distance(p, q);
            if far < left {
                left -= far;
                now.push((p, q));
                break;
            }
            let at = lerp(p, q, if far > 0.0 { left / far } else { 1.0 });
            now.push((p, at));
            out.push(along(&now));
            now.clear();
            left = each;
            p = at;
            if distance(p, q) <= tol::SAME_POINT_MM {
                break;
            }
        }
    }
    if !now.is_empty() {
        // Rounding leaves a crumb at most; it goes with the last stretch.
        match out.last_mut() {
            Some(last) if distance_of(&now) < each / 2.0 => last.extend(along(&now)),
            _ => out.push(along(&now)),
        }
    }
    out
}

fn distance_of(sides: &[(Point, Point)]) -> f64 {
    sides.iter().map(|s| distance(s.0, s.1)).sum()
}

#[cfg(test)]
mod tests {
    use super::super::placement::lines;
    use super::*;
    use crate::shape::pt;

    #[test]
    fn a_ring_is_cut_into_stretches_that_follow_each_other_round() {
        let long = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(500.0, 30.0)));
        let found = Stretches::new(&[&long], &[lines(&long, &[], 1.0)], pt(200.0, 100.0));
        let length: f64 =
            found.all.iter().map(|s| s.points.windows(2).map(|w| distance(w[0], w[1])).sum::<f64>()).sum();
        assert!((length - 1060.0).abs() < 1e-6, "{length}");
        assert_eq!(found.rings.len(), 1);
        let n = found.all.len();
        assert_eq!((n, found.of[0]), (133, (0, 133)));
        for k in 0..n {
            let (end, next) = (found.all[k].points.last().unwrap(), found.all[(k + 1) % n].points[0]);
            assert!(distance(*end, next) < 1e-3, "{k}");
        }
        // The line inside the edge is held with the stretch beside it.
        assert!(found.all[10].bounds.max.y >= 1.0 - 1e-9);
        assert_eq!(found.nearest(0, pt(-1.0, -1.0)), 0);
    }

    #[test]
    fn a_piece_that_a_field_holds_is_one_stretch() {
        let small = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(50.0, 30.0)));
        let found = Stretches::new(&[&small], &[lines(&small, &[], 1.0)], pt(200.0, 100.0));
        assert_eq!((found.all.len(), found.rings.len(), found.whole(0)), (1, 0, true));
    }
}
