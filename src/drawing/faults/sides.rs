//! Sides of outlines, found quickly by where they are.

use rayon::prelude::*;
use rstar::{AABB, Envelope, PointDistance, RTree, RTreeObject};

use crate::shape::{Point, distance, lerp};

/// One straight side of one ring.
#[derive(Clone, Copy, Debug)]
pub(super) struct Side {
    /// Where it starts.
    pub a: Point,
    /// Where it ends.
    pub b: Point,
    /// Ring it belongs to, by the caller's count.
    pub ring: u32,
    /// Its own place in the list of all sides.
    pub id: u32,
    /// Way along its ring to where it starts, mm.
    pub from_mm: f64,
}

impl Side {
    /// Its length, mm; never 0.
    pub fn length(&self) -> f64 {
        distance(self.a, self.b)
    }

    /// The point of the side nearest to `p`, and its share of the way from start to end.
    pub fn nearest(&self, p: Point) -> (Point, f64) {
        let d = self.b - self.a;
        let t = ((p - self.a).x * d.x + (p - self.a).y * d.y) / (d.x * d.x + d.y * d.y);
        if t <= 0.0 {
            (self.a, 0.0)
        } else if t >= 1.0 {
            (self.b, 1.0)
        } else {
            (self.a + d * t, t)
        }
    }

    /// Distance of two sides that do not cross, mm.
    pub fn distance_to(&self, other: &Side) -> f64 {
        let to = |s: &Side, p: Point| distance(s.nearest(p).0, p);
        to(self, other.a).min(to(self, other.b)).min(to(other, self.a)).min(to(other, self.b))
    }

    /// What is left of it when its start and its end are cut back, mm; `None` when that is nothing.
    pub fn trimmed(&self, start_mm: f64, end_mm: f64) -> Option<Side> {
        let length = self.length();
        if start_mm + end_mm >= length {
            return None;
        }
        let a = lerp(self.a, self.b, start_mm / length);
        let b = lerp(self.a, self.b, 1.0 - end_mm / length);
        (a != b).then_some(Side { a, b, from_mm: self.from_mm + start_mm, ..*self })
    }

    /// Its box grown by `reach`.
    pub fn envelope_grown(&self, reach: f64) -> AABB<[f64; 2]> {
        AABB::from_corners(
            [self.a.x.min(self.b.x) - reach, self.a.y.min(self.b.y) - reach],
            [self.a.x.max(self.b.x) + reach, self.a.y.max(self.b.y) + reach],
        )
    }
}

impl RTreeObject for Side {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        self.envelope_grown(0.0)
    }
}

impl PointDistance for Side {
    fn distance_2(&self, p: &[f64; 2]) -> f64 {
        let p = Point { x: p[0], y: p[1] };
        let d = self.nearest(p).0 - p;
        d.x * d.x + d.y * d.y
    }
}

/// The sides of several rings, one list for all.
#[derive(Clone, Debug, Default)]
pub(super) struct Sides {
    /// All sides, ring by ring, in order.
    pub all: Vec<Side>,
    /// First side, number of sides and length of each ring, and whether it is closed.
    pub rings: Vec<RingSpan>,
}

/// Where a ring's sides stand in the list.
#[derive(Clone, Copy, Debug)]
pub(super) struct RingSpan {
    /// Its first side.
    pub first: usize,
    /// How many it has.
    pub count: usize,
    /// Its whole length, mm.
    pub length_mm: f64,
    /// True when its last side leads to its first.
    pub closed: bool,
}

impl Sides {
    /// Adds a ring; sides of no length are left out.
    pub fn push(&mut self, points: &[Point], closed: bool) {
        let ring = self.rings.len() as u32;
        let first = self.all.len();
        let mut from_mm = 0.0;
        let ends = if closed { points.len() } else { points.len().saturating_sub(1) };
        for (i, &a) in points.iter().enumerate().take(ends) {
            let b = points[(i + 1) % points.len()];
            if a != b {
                self.all.push(Side { a, b, ring, id: self.all.len() as u32, from_mm });
                from_mm += distance(a, b);
            }
        }
        self.rings.push(RingSpan { first, count: self.all.len() - first, length_mm: from_mm, closed });
    }

    /// The side before `i` on its ring.
    pub fn before(&self, i: usize) -> Option<usize> {
        let span = self.rings[self.all[i].ring as usize];
        if i > span.first {
            Some(i - 1)
        } else {
            (span.closed && span.count > 1).then(|| span.first + span.count - 1)
        }
    }

    /// The side after `i` on its ring.
    pub fn after(&self, i: usize) -> Option<usize> {
        let span = self.rings[self.all[i].ring as usize];
        if i + 1 < span.first + span.count {
            Some(i + 1)
        } else {
            (span.closed && span.count > 1).then_some(span.first)
        }
    }

    /// The ways along the ring between two sides, the earlier first: from its end on to the start of the
    /// later, and from the end of the later on to its start, mm. `None` on different rings.
    pub fn ways_between(&self, i: usize, j: usize) -> Option<[f64; 2]> {
        let (s, t) = (&self.all[i.min(j)], &self.all[i.max(j)]);
        if s.ring != t.ring {
            return None;
        }
        let span = self.rings[s.ring as usize];
        let there = (t.from_mm - s.from_mm - s.length()).max(0.0);
        let back = (span.length_mm - (t.from_mm + t.length() - s.from_mm)).max(0.0);
        Some([there, if span.closed { back } else { f64::INFINITY }])
    }

    /// The sides as a tree.
    pub fn tree(&self) -> RTree<Side> {
        RTree::bulk_load(self.all.clone())
    }

    /// What `found` makes of every pair of sides (the earlier first) whose boxes come within `reach` of
    /// each other, in order of the pairs. Gives up early, and says so, when more than `most` were found or
    /// more than [`MOST_PAIRS`] looked at.
    pub fn near_pairs<T: Send>(
        &self,
        reach: f64,
        most: usize,
        found: impl Fn(usize, usize) -> Option<T> + Sync,
    ) -> Found<T> {
        if self.all.len() <= FEW_SIDES {
            return Found { list: self.near_pairs_plainly(reach, found), gave_up: false };
        }
        let tree = self.tree();
        let of_side = |side: &Side| {
            let i = side.id as usize;
            let mut later: Vec<usize> = tree
                .locate_in_envelope_intersecting(&side.envelope_grown(reach))
                .map(|other| other.id as usize)
                .filter(|&j| j > i)
                .collect();
            later.sort_unstable();
            let looked_at = later.len();
            (looked_at, later.into_iter().filter_map(|j| found(i, j)).collect::<Vec<T>>())
        };
        let (mut list, mut looked_at, mut done) = (Vec::new(), 0, 0);
        for block in self.all.chunks(BLOCK) {
            let of_block: Vec<(usize, Vec<T>)> = block.par_iter().map(of_side).collect();
            done += block.len();
            for (looked, more) in of_block {
                looked_at += looked;
                list.extend(more);
            }
            if list.len() > most || looked_at > MOST_PAIRS {
                break;
            }
        }
        let gave_up = done < self.all.len() || list.len() > most;
        list.truncate(most);
        Found { list, gave_up }
    }

    fn near_pairs_plainly<T>(&self, reach: f64, found: impl Fn(usize, usize) -> Option<T>) -> Vec<T> {
        let mut out = Vec::new();
        for (i, s) in self.all.iter().enumerate() {
            let near = s.envelope_grown(reach);
            for (j, t) in self.all.iter().enumerate().skip(i + 1) {
                if near.intersects(&t.envelope()) {
                    out.extend(found(i, j));
                }
            }
        }
        out
    }
}

/// Up to this many sides every pair is looked at: quicker than growing a tree.
const FEW_SIDES: usize = 24;

/// Sides looked at side by side before it is counted how much was looked at.
const BLOCK: usize = 256;

/// At most about so many pairs are looked at: a scribble of a hundred thousand long strokes has more crossings
/// than anyone would mend, and no place in it is far from any other.
const MOST_PAIRS: usize = 10_000_000;

/// What was found among pairs of sides.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Found<T> {
    /// What was found, in order.
    pub list: Vec<T>,
    /// True when there was too much to look at all of it.
    pub gave_up: bool,
}

/// Which side of the line from `a` to `b` the point `p` lies on, exactly: above 0 left, below 0 right, 0 on it.
pub(super) fn turn(a: Point, b: Point, p: Point) -> f64 {
    let c = |p: Point| robust::Coord { x: p.x, y: p.y };
    robust::orient2d(c(a), c(b), c(p))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;
    use proptest::prelude::*;

    #[test]
    fn there_are_two_ways_between_sides_of_a_ring() {
        let mut s = Sides::default();
        s.push(&[pt(0.0, 0.0), pt(10.0, 0.0), pt(10.0, 4.0), pt(0.0, 4.0)], true);
        assert_eq!(s.ways_between(0, 2), Some([4.0, 4.0]));
        assert_eq!(s.ways_between(3, 0), Some([14.0, 0.0]));
        assert_eq!(s.ways_between(3, 1), Some([10.0, 10.0]));
    }

    #[test]
    fn a_point_given_twice_makes_no_side() {
        let mut s = Sides::default();
        s.push(&[pt(0.0, 0.0), pt(0.0, 0.0), pt(5.0, 0.0), pt(5.0, 5.0)], false);
        assert_eq!(s.all.len(), 2);
        assert_eq!((s.before(0), s.after(0), s.after(1)), (None, Some(1), None));
    }

    proptest! {
        /// The tree finds the pairs that looking at all of them finds.
        #[test]
        fn near_pairs_are_all_pairs(points in prop::collection::vec((0.0..100.0f64, 0.0..100.0f64), 30..80)) {
            let mut s = Sides::default();
            s.push(&points.iter().map(|&(x, y)| pt(x, y)).collect::<Vec<_>>(), true);
            let both = |i: usize, j: usize| Some((i, j));
            prop_assert_eq!(s.near_pairs(1.0, usize::MAX, both).list, s.near_pairs_plainly(1.0, both));
        }
    }
}
