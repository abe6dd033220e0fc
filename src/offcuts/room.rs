//! The usable part of a cloth, made ready for many questions: whether a point lies in it, how deep, and what no
//! disc can lie on.

use rstar::primitives::Line;
use rstar::{AABB, PointDistance, RTree};

use crate::cloth::Cloth;
use crate::shape::{Bounds, Join, Point, Region, Ring, offset, pt, tol};

use super::raster::Raster;

/// How far a piece may lie over the edge, mm: half of what the exact test of a lay forgives. Places are looked for in
/// steps of no more than twice as much, so that one within the true edge is never stepped over.
pub(super) const FORGIVEN_MM: f64 = tol::CLEAR_MM / 2.0;

/// The usable part of a cloth.
pub(super) struct Room {
    /// Box round it.
    pub bounds: Bounds,
    sides: RTree<Line<[f64; 2]>>,
    rows: Rows,
    raster: Raster,
    /// A corner of every ring, and the box round the ring.
    rings: Vec<(Bounds, Point)>,
}

impl Room {
    /// The room on `cloth`. A piece may touch its edge.
    pub fn new(cloth: &Cloth) -> Room {
        Room::of(&offset(&cloth.usable(), FORGIVEN_MM, Join::Mitre))
    }

    /// The room within `parts`, which do not overlap.
    pub fn of(parts: &[Region]) -> Room {
        let bounds = parts.iter().fold(Bounds::EMPTY, |b, r| b.union(r.bounds()));
        let sides: Vec<(Point, Point)> =
            parts.iter().flat_map(Region::rings).flat_map(Ring::sides).filter(|(p, q)| p != q).collect();
        let lines = sides.iter().map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y])).collect();
        let rings = parts.iter().flat_map(Region::rings);
        Room {
            bounds,
            raster: Raster::new(bounds, &sides),
            rows: Rows::new(bounds, &sides),
            sides: RTree::bulk_load(lines),
            rings: rings.filter_map(|r| Some((r.bounds(), *r.points.first()?))).collect(),
        }
    }

    /// True when `p` lies inside, by the even-odd rule with exact orientation.
    pub fn holds(&self, p: Point) -> bool {
        self.rows.holds(p)
    }

    /// How deep `p` lies in the room, mm; how far outside, less than nothing.
    pub fn depth(&self, p: Point) -> f64 {
        let at = [p.x, p.y];
        let near = self.sides.nearest_neighbor(&at).map_or(f64::INFINITY, |s| s.distance_2(&at).sqrt());
        if self.holds(p) { near } else { -near }
    }

    /// No disc about `p` that is larger than this lies in the room, mm.
    pub fn most(&self, p: Point) -> f64 {
        self.raster.most(p)
    }

    /// No disc larger than this lies anywhere in the room, mm.
    pub fn most_anywhere(&self) -> f64 {
        self.raster.most_anywhere()
    }

    /// By how much [`Room::most`] may say too much, mm.
    pub fn coarse_mm(&self) -> f64 {
        self.raster.coarse_mm()
    }

    /// True when an edge of the room meets the side from `p` to `q`.
    pub fn crosses(&self, p: Point, q: Point) -> bool {
        let b = Bounds::of([p, q]);
        let near = AABB::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y]);
        self.sides.locate_in_envelope_intersecting(&near).any(|s| {
            let at = |c: [f64; 2]| pt(c[0], c[1]);
            meet((p, q), (at(s.from), at(s.to)))
        })
    }

    /// A corner of every ring of the room that lies wholly within `b`.
    pub fn rings_within(&self, b: Bounds) -> impl Iterator<Item = Point> + '_ {
        self.rings.iter().filter(move |(own, _)| b.holds(*own)).map(|(_, corner)| *corner)
    }
}

/// True when two sides have a point in common, by exact orientation.
fn meet(one: (Point, Point), other: (Point, Point)) -> bool {
    let side = |(a, b): (Point, Point), p: Point| {
        let at = |p: Point| robust::Coord { x: p.x, y: p.y };
        robust::orient2d(at(a), at(b), at(p))
    };
    let (p, q) = (side(one, other.0), side(one, other.1));
    let (r, s) = (side(other, one.0), side(other, one.1));
    if p == 0.0 && q == 0.0 {
        return Bounds::of([one.0, one.1]).meets(Bounds::of([other.0, other.1]));
    }
    let apart = |u: f64, v: f64| (u > 0.0 && v > 0.0) || (u < 0.0 && v < 0.0);
    !apart(p, q) && !apart(r, s)
}

/// The sides sorted by the rows they run through, to count those left of a point.
struct Rows {
    near: f64,
    high: f64,
    sides: Vec<Vec<(Point, Point)>>,
}

/// Most rows, and sides a row should have about.
const MOST_ROWS: usize = 4096;

impl Rows {
    fn new(bounds: Bounds, sides: &[(Point, Point)]) -> Rows {
        if bounds.is_empty() {
            return Rows { near: 0.0, high: 1.0, sides: Vec::new() };
        }
        let count = sides.len().clamp(1, MOST_ROWS);
        let high = (bounds.height() / count as f64).max(tol::SAME_POINT_MM);
        let mut rows = Rows { near: bounds.min.y, high, sides: vec![Vec::new(); count + 1] };
        for &(p, q) in sides {
            let (low, top) = if p.y <= q.y { (p, q) } else { (q, p) };
            let (first, last) = (rows.row(low.y), rows.row(top.y));
            for row in &mut rows.sides[first..=last] {
                row.push((low, top));
            }
        }
        rows
    }

    fn row(&self, y: f64) -> usize {
        (((y - self.near) / self.high).floor().max(0.0) as usize).min(self.sides.len().saturating_sub(1))
    }

    fn holds(&self, p: Point) -> bool {
        let Some(row) = self.sides.get(self.row(p.y)) else { return false };
        let at = |p: Point| robust::Coord { x: p.x, y: p.y };
        let mut inside = false;
        for (low, top) in row.iter().filter(|(low, top)| (low.y > p.y) != (top.y > p.y)) {
            if low.x.min(top.x) > p.x {
                inside = !inside;
            } else if low.x.max(top.x) > p.x {
                let turn = robust::orient2d(at(*low), at(*top), at(p));
                inside ^= turn > 0.0;
            }
        }
        inside
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
    }

    #[test]
    fn depth_is_the_way_to_the_nearest_edge() {
        let room = Room::of(&rect(0.0, 0.0, 200.0, 100.0).minus(&[rect(80.0, 40.0, 20.0, 20.0)]));
        assert_eq!(room.depth(pt(30.0, 50.0)), 30.0);
        assert_eq!(room.depth(pt(75.0, 50.0)), 5.0);
        assert_eq!(room.depth(pt(90.0, 50.0)), -10.0);
        assert_eq!(room.depth(pt(-3.0, 104.0)), -5.0);
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

        /// Against the regions' own test, and against the exact depth.
        #[test]
        fn points_are_told_apart_and_no_depth_is_called_less_than_it_is(
            blocks in prop::collection::vec((0.0..260.0f64, 0.0..180.0f64, 3.0..90.0f64, 3.0..90.0f64), 0..9),
            spots in prop::collection::vec((-20.0..320.0f64, -20.0..240.0f64), 40),
        ) {
            let blocks: Vec<Region> = blocks.iter().map(|&(x, y, w, h)| rect(x, y, w, h)).collect();
            let free = rect(0.0, 0.0, 300.0, 220.0).minus(&blocks);
            let room = Room::of(&free);
            for (x, y) in spots {
                let p = pt(x, y);
                // On the edge it is neither.
                if room.depth(p) != 0.0 {
                    prop_assert_eq!(room.holds(p), free.iter().any(|r| r.contains(p)));
                }
                let depth = room.depth(p).max(0.0);
                let most = room.most(p);
                prop_assert!(most >= depth && most <= depth + room.coarse_mm(), "{most} for {depth} at {p:?}");
            }
        }
    }
}
