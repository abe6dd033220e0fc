//! Inscribed discs of a region: the largest, then the largest beside it, and so on.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use rstar::primitives::Line;
use rstar::{PointDistance, RTree};

use crate::shape::{Bounds, Point, Region, distance, pt};

/// A disc inside a region.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disc {
    /// Its centre.
    pub centre: Point,
    /// Its radius.
    pub radius: f64,
}

/// Most discs a region gets.
const MOST: usize = 24;

/// Discs stop once they cover this share of the area.
const COVERED: f64 = 0.88;

/// Discs smaller than this share of the first are left out.
const SMALLEST: f64 = 0.12;

/// A disc's radius is found to this share.
const PRECISION: f64 = 0.02;

/// Inscribed discs of `region`, the largest first, none overlapping another, until most of the area is
/// covered. At least one for a region of any area.
///
/// Each is found by halving squares, the most promising first, as poles of inaccessibility are (Garcia-
/// Castellanos and Lombardo 2007 posed the problem).
pub fn inscribed_discs(region: &Region) -> Vec<Disc> {
    let area = region.area();
    let edge = Edge::new(region);
    let mut discs: Vec<Disc> = Vec::new();
    let mut covered = 0.0;
    while discs.len() < MOST && covered < COVERED * area {
        let least = discs.first().map_or(0.0, |d| d.radius * SMALLEST);
        let Some(disc) = largest_disc(&edge, &discs, least) else { break };
        covered += std::f64::consts::PI * disc.radius * disc.radius;
        discs.push(disc);
    }
    discs
}

/// Discs side by side in memory, so that several pairs are measured at once.
#[derive(Clone, Debug, Default)]
pub struct PackedDiscs {
    x: Vec<[f32; LANES]>,
    y: Vec<[f32; LANES]>,
    r: Vec<[f32; LANES]>,
    count: usize,
}

/// Discs measured at once.
const LANES: usize = 8;

impl PackedDiscs {
    /// Packs `discs`. The last lanes are filled with discs of radius 0, which weigh nothing.
    pub fn new(discs: &[Disc]) -> PackedDiscs {
        let pack = |f: &dyn Fn(&Disc) -> f64| {
            discs
                .chunks(LANES)
                .map(|c| std::array::from_fn(|k| c.get(k).map_or(0.0, |d| f(d) as f32)))
                .collect()
        };
        PackedDiscs {
            x: pack(&|d| d.centre.x),
            y: pack(&|d| d.centre.y),
            r: pack(&|d| d.radius),
            count: discs.len(),
        }
    }

    /// Sum over all pairs of the smaller radius times the depth, the other discs shifted by `by`.
    /// A depth p counts p + `soft` when the discs overlap, and fades as soft² / (soft − p) when they do not.
    pub fn depth(&self, other: &PackedDiscs, by: Point, soft: f32) -> f32 {
        let mut sum = [0f32; LANES];
        for k in 0..self.count {
            let (row, lane) = (k / LANES, k % LANES);
            let (x, y, r) =
                (self.x[row][lane] - by.x as f32, self.y[row][lane] - by.y as f32, self.r[row][lane]);
            for ((ox, oy), or) in other.x.iter().zip(&other.y).zip(&other.r) {
                for l in 0..LANES {
                    let (dx, dy) = (x - ox[l], y - oy[l]);
                    let deep = r + or[l] - (dx * dx + dy * dy).sqrt();
                    let fading = soft * soft / (soft - deep.min(0.0));
                    let hinge = deep.max(0.0) + fading;
                    sum[l] += hinge * r.min(or[l]);
                }
            }
        }
        sum.iter().sum()
    }
}

struct Square {
    centre: Point,
    half: f64,
    radius: f64,
    best_inside: f64,
}

impl Square {
    fn new(edge: &Edge, discs: &[Disc], centre: Point, half: f64) -> Square {
        let radius = clearance(edge, discs, centre);
        Square { centre, half, radius, best_inside: radius + half * std::f64::consts::SQRT_2 }
    }
}

impl PartialEq for Square {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Square {}
impl PartialOrd for Square {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Square {
    fn cmp(&self, other: &Self) -> Ordering {
        self.best_inside
            .total_cmp(&other.best_inside)
            .then(self.centre.x.total_cmp(&other.centre.x))
            .then(self.centre.y.total_cmp(&other.centre.y))
    }
}

fn largest_disc(edge: &Edge, discs: &[Disc], least: f64) -> Option<Disc> {
    let b = edge.bounds;
    let side = b.width().min(b.height());
    if side.partial_cmp(&0.0) != Some(Ordering::Greater) {
        return None;
    }
    let across = (b.width() / side).ceil().min(40.0);
    let up = (b.height() / side).ceil().min(40.0);
    let half = (b.width() / across).max(b.height() / up) / 2.0;
    let mut queue = BinaryHeap::new();
    for i in 0..across as i32 {
        for j in 0..up as i32 {
            let centre =
                b.min + pt((f64::from(i) + 0.5) * b.width() / across, (f64::from(j) + 0.5) * b.height() / up);
            queue.push(Square::new(edge, discs, centre, half));
        }
    }
    let mut best = Disc { centre: b.centre(), radius: f64::NEG_INFINITY };
    let mut looked = 0;
    while let Some(square) = queue.pop() {
        if square.radius > best.radius {
            best = Disc { centre: square.centre, radius: square.radius };
        }
        looked += 1;
        let enough = best.radius.max(least) * (1.0 + PRECISION);
        if square.best_inside <= enough || looked > 2_000 {
            break;
        }
        let h = square.half / 2.0;
        for (dx, dy) in [(-h, -h), (h, -h), (-h, h), (h, h)] {
            queue.push(Square::new(edge, discs, square.centre + pt(dx, dy), h));
        }
    }
    (best.radius > least && best.radius > 0.0).then_some(best)
}

/// The sides of a region, ready for asking how far the edge is and whether a point is inside.
struct Edge {
    sides: Vec<(Point, Point)>,
    /// For long edges.
    index: Option<EdgeIndex>,
    bounds: Bounds,
}

struct EdgeIndex {
    nearest: RTree<Line<[f64; 2]>>,
    /// Sides by the slab of y they reach into.
    slabs: Vec<Vec<u32>>,
}

/// With at least this many sides an index is quicker than a walk over all.
const INDEXED_FROM: usize = 100;

impl Edge {
    fn new(region: &Region) -> Edge {
        let sides: Vec<(Point, Point)> = region.rings().flat_map(|r| r.sides().collect::<Vec<_>>()).collect();
        let mut edge = Edge { index: None, bounds: region.bounds(), sides };
        if edge.sides.len() >= INDEXED_FROM {
            let lines = edge.sides.iter().map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y])).collect();
            let mut slabs = vec![Vec::new(); edge.sides.len().min(4096)];
            for (k, (p, q)) in edge.sides.iter().enumerate() {
                let (low, high) =
                    (edge.slab(p.y.min(q.y), slabs.len()), edge.slab(p.y.max(q.y), slabs.len()));
                slabs[low..=high].iter_mut().for_each(|s: &mut Vec<u32>| s.push(k as u32));
            }
            edge.index = Some(EdgeIndex { nearest: RTree::bulk_load(lines), slabs });
        }
        edge
    }

    fn slab(&self, y: f64, slabs: usize) -> usize {
        let share = (y - self.bounds.min.y) / self.bounds.height().max(f64::MIN_POSITIVE);
        ((share * slabs as f64).max(0.0) as usize).min(slabs - 1)
    }

    /// Distance from `p` to the edge; negative outside.
    fn depth(&self, p: Point) -> f64 {
        let mut inside = false;
        let mut cross = |(a, b): (Point, Point)| {
            if (a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x {
                inside = !inside;
            }
        };
        let nearest2 = match &self.index {
            Some(EdgeIndex { nearest, slabs }) => {
                slabs[self.slab(p.y, slabs.len())].iter().for_each(|k| cross(self.sides[*k as usize]));
                let at = [p.x, p.y];
                nearest.nearest_neighbor(&at).map_or(0.0, |side| side.distance_2(&at))
            }
            None => {
                let mut nearest2 = f64::INFINITY;
                for &(a, b) in &self.sides {
                    cross((a, b));
                    let (ab, ap) = (b - a, p - a);
                    let l2 = ab.x * ab.x + ab.y * ab.y;
                    let t = if l2 > 0.0 { ((ap.x * ab.x + ap.y * ab.y) / l2).clamp(0.0, 1.0) } else { 0.0 };
                    let d = ap - ab * t;
                    nearest2 = nearest2.min(d.x * d.x + d.y * d.y);
                }
                nearest2
            }
        };
        nearest2.sqrt() * if inside { 1.0 } else { -1.0 }
    }
}

/// Radius of the largest disc about `p` inside the edge and clear of `discs`; negative outside.
fn clearance(edge: &Edge, discs: &[Disc], p: Point) -> f64 {
    discs.iter().fold(edge.depth(p), |r, d| {
        let v = p - d.centre;
        r.min(distance(v, pt(0.0, 0.0)) - d.radius)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::Ring;

    #[test]
    fn the_largest_disc_of_a_square_fills_it() {
        let r = Region::new(Ring::from_pairs(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]), vec![]);
        let discs = inscribed_discs(&r);
        assert!((discs[0].radius - 5.0).abs() < 0.1 && distance(discs[0].centre, pt(5.0, 5.0)) < 0.2);
    }

    #[test]
    fn discs_lie_inside_and_apart() {
        let r = Region::new(
            Ring::from_pairs(&[
                [0.0, 0.0],
                [300.0, 0.0],
                [300.0, 10.0],
                [60.0, 12.0],
                [50.0, 90.0],
                [0.0, 80.0],
            ]),
            vec![Ring::from_pairs(&[[20.0, 20.0], [30.0, 20.0], [30.0, 60.0], [20.0, 60.0]])],
        );
        let discs = inscribed_discs(&r);
        let edge = Edge::new(&r);
        assert!(discs.len() > 6);
        for (i, d) in discs.iter().enumerate() {
            assert!(edge.depth(d.centre) >= d.radius - 1e-9);
            for e in &discs[..i] {
                assert!(distance(d.centre, e.centre) >= d.radius + e.radius - 1e-9);
            }
        }
    }

    #[test]
    fn the_index_of_a_long_edge_answers_as_the_walk_over_all_sides() {
        let ring = Ring::new(
            (0..400)
                .map(|k| {
                    let (c, s) = crate::shape::turn_cos_sin(f64::from(k) * 0.9);
                    let r = 40.0 + 9.0 * f64::from(k % 3);
                    pt(r * c, r * s)
                })
                .collect(),
        );
        let region = Region::new(ring, vec![]);
        let indexed = Edge::new(&region);
        let plain = Edge { index: None, sides: indexed.sides.clone(), bounds: indexed.bounds };
        assert!(indexed.index.is_some());
        for k in 0..500 {
            let p = pt(f64::from(k % 23) * 5.1 - 57.0, f64::from(k / 23) * 5.3 - 58.0);
            let (a, b) = (indexed.depth(p), plain.depth(p));
            assert!((a - b).abs() < 1e-9, "{p:?}: {a} and {b}");
        }
    }
}
