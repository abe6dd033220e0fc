//! A shape prepared for fast overlap tests: sides in a tree of boxes, inscribed discs.

use crate::shape::{Bounds, Point, Region, pt, turn_cos_sin};

use super::discs::{Disc, PackedDiscs, inscribed_discs};

/// A shape at one turn, ready to be tested at any shift.
#[derive(Clone, Debug)]
pub struct Form {
    /// Its sides, ring after ring.
    sides: Vec<Side>,
    /// A binary tree of boxes over runs of [`RUN`] sides; node 1 is the root, node k has children 2k, 2k+1.
    boxes: Vec<Bounds>,
    leaves: usize,
    /// Inscribed discs, the largest first.
    pub discs: Vec<Disc>,
    packed: PackedDiscs,
    /// Box round it.
    pub bounds: Bounds,
    /// A length that stands for its size: the geometric mean of its box's sides.
    pub size: f64,
    /// True when it has cut-outs.
    pierced: bool,
}

#[derive(Clone, Copy, Debug)]
struct Side {
    p: Point,
    q: Point,
}

/// Sides in a leaf of the tree.
const RUN: usize = 4;

/// How far a form is drawn in before sides are tested, as a share of its size: shapes that only touch are
/// then clearly apart. Far below every clearance that matters.
const DRAW_IN: f64 = 2e-7;

impl Form {
    /// Prepares `region`, which is not empty. `region` is already turned.
    pub fn new(region: &Region) -> Form {
        let bounds = region.bounds();
        let size = (bounds.width() * bounds.height()).sqrt();
        let mut sides = Vec::new();
        for ring in region.rings() {
            let drawn_in = draw_in(&ring.points, size * DRAW_IN);
            let n = drawn_in.len();
            sides.extend((0..n).map(|i| Side { p: drawn_in[i], q: drawn_in[(i + 1) % n] }));
        }
        let leaves = sides.len().div_ceil(RUN).next_power_of_two().max(1);
        let boxes = tree(&sides, leaves);
        let discs = inscribed_discs(region);
        let pierced = !region.cutouts.is_empty();
        Form { sides, boxes, leaves, packed: PackedDiscs::new(&discs), discs, bounds, size, pierced }
    }

    /// The form turned about the origin.
    pub fn turned(&self, turn_deg: f64) -> Form {
        let (c, s) = turn_cos_sin(turn_deg);
        let turn = |p: Point| pt(c * p.x - s * p.y, s * p.x + c * p.y);
        let sides: Vec<Side> = self.sides.iter().map(|e| Side { p: turn(e.p), q: turn(e.q) }).collect();
        let discs: Vec<Disc> = self.discs.iter().map(|d| Disc { centre: turn(d.centre), ..*d }).collect();
        let bounds = Bounds::of(sides.iter().map(|e| e.p));
        let boxes = tree(&sides, self.leaves);
        let size = (bounds.width() * bounds.height()).sqrt();
        let (leaves, packed, pierced) = (self.leaves, PackedDiscs::new(&discs), self.pierced);
        Form { sides, boxes, leaves, packed, discs, bounds, size, pierced }
    }

    /// The form turned by 180° about the origin.
    pub fn half_turned(&self) -> Form {
        let discs: Vec<Disc> = self.discs.iter().map(|d| Disc { centre: d.centre * -1.0, ..*d }).collect();
        let turn = |b: &Bounds| if b.is_empty() { *b } else { Bounds::new(b.max * -1.0, b.min * -1.0) };
        Form {
            sides: self.sides.iter().map(|s| Side { p: s.p * -1.0, q: s.q * -1.0 }).collect(),
            boxes: self.boxes.iter().map(turn).collect(),
            packed: PackedDiscs::new(&discs),
            discs,
            bounds: turn(&self.bounds),
            ..*self
        }
    }

    /// True when this form and `other` shifted by `by` overlap (touching is not overlapping).
    pub fn overlaps(&self, other: &Form, by: Point) -> bool {
        let theirs = other.bounds.shifted(by);
        if !self.bounds.meets(theirs) {
            return false;
        }
        // Discs first: one overlapping pair decides.
        for a in self.discs.iter().take(3) {
            for b in other.discs.iter().take(3) {
                let d = a.centre - b.centre - by;
                let r = (a.radius + b.radius) * (1.0 - 1e-6);
                if d.x * d.x + d.y * d.y < r * r {
                    return true;
                }
            }
        }
        // A tiny sideways nudge keeps sides that run along each other from hiding a crossing.
        let nudge = DRAW_IN * 0.3 * (self.size.min(other.size));
        let by = by + pt(nudge, nudge * 0.618);
        self.sides_cross(1, other, 1, by)
            || self.discs.first().is_some_and(|d| other.encloses(d.centre - by))
            || other.discs.first().is_some_and(|d| self.encloses(d.centre + by))
            || (self.pierced || other.pierced) && self.outline_within(other, by)
    }

    /// True when the outline of either runs inside the other. Where no sides cross, a ring whose outline runs in the
    /// material of another overlaps it though the middle of neither's material lies in the other's.
    fn outline_within(&self, other: &Form, by: Point) -> bool {
        self.sides.first().is_some_and(|s| other.encloses(s.p - by))
            || other.sides.first().is_some_and(|s| self.encloses(s.p + by))
    }

    fn sides_cross(&self, i: usize, other: &Form, j: usize, by: Point) -> bool {
        let (a, b) = (self.boxes[i], other.boxes[j].shifted(by));
        if !a.meets(b) {
            return false;
        }
        match (i >= self.leaves, j >= other.leaves) {
            (true, true) => {
                let mine = run(&self.sides, i - self.leaves);
                let theirs = run(&other.sides, j - other.leaves);
                mine.iter()
                    .any(|s| s.meets_box(b) && theirs.iter().any(|t| crosses(s.p, s.q, t.p + by, t.q + by)))
            }
            (true, false) => {
                self.sides_cross(i, other, 2 * j, by) || self.sides_cross(i, other, 2 * j + 1, by)
            }
            (false, true) => {
                self.sides_cross(2 * i, other, j, by) || self.sides_cross(2 * i + 1, other, j, by)
            }
            (false, false) => (0..4).any(|k| self.sides_cross(2 * i + k / 2, other, 2 * j + k % 2, by)),
        }
    }

    /// True when `p` is inside, by the even-odd rule over all rings.
    fn encloses(&self, p: Point) -> bool {
        self.bounds.contains(p) && self.crossings(1, p) % 2 == 1
    }

    /// How many sides under node `k` a ray from `p` to the right crosses.
    fn crossings(&self, k: usize, p: Point) -> usize {
        let b = self.boxes[k];
        if p.y < b.min.y || p.y > b.max.y || p.x > b.max.x || b.is_empty() {
            return 0;
        }
        if k < self.leaves {
            return self.crossings(2 * k, p) + self.crossings(2 * k + 1, p);
        }
        let crossed = |s: &&Side| {
            (s.p.y > p.y) != (s.q.y > p.y) && s.p.x + (p.y - s.p.y) / (s.q.y - s.p.y) * (s.q.x - s.p.x) > p.x
        };
        run(&self.sides, k - self.leaves).iter().filter(crossed).count()
    }

    /// How deep this form and `other` shifted by `by` overlap, if they do: a length that grows with the
    /// depth and stays informative when one lies deep inside the other. 0 when they do not overlap.
    ///
    /// After the multi-sphere scheme (Imamichi and Nagamochi 2007): depths of pairs of inscribed discs,
    /// here through a hinge that fades instead of ending, so that pairs near each other still point the way
    /// out, and weighted by the smaller disc's radius.
    pub fn depth(&self, other: &Form, by: Point) -> f64 {
        if !self.overlaps(other, by) {
            return 0.0;
        }
        let soft = SOFT * self.size.min(other.size);
        let sum = self.packed.depth(&other.packed, by, soft as f32);
        f64::from(sum).sqrt() * (self.size * other.size).sqrt().sqrt()
    }
}

/// Boxes over runs of sides, and over those.
fn tree(sides: &[Side], leaves: usize) -> Vec<Bounds> {
    let mut boxes = vec![Bounds::EMPTY; 2 * leaves];
    for (k, run) in sides.chunks(RUN).enumerate() {
        boxes[leaves + k] = Bounds::of(run.iter().flat_map(|s| [s.p, s.q]));
    }
    for k in (1..leaves).rev() {
        boxes[k] = boxes[2 * k].union(boxes[2 * k + 1]);
    }
    boxes
}

/// Width of the soft corner of the hinge, as a share of the smaller form's size.
const SOFT: f64 = 0.02;

impl Side {
    fn meets_box(&self, b: Bounds) -> bool {
        self.p.x.min(self.q.x) <= b.max.x
            && self.p.x.max(self.q.x) >= b.min.x
            && self.p.y.min(self.q.y) <= b.max.y
            && self.p.y.max(self.q.y) >= b.min.y
    }
}

fn run(sides: &[Side], k: usize) -> &[Side] {
    let from = (k * RUN).min(sides.len());
    &sides[from..(from + RUN).min(sides.len())]
}

fn side_of(a: Point, b: Point, p: Point) -> f64 {
    (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)
}

/// True when the open sides cross at one point inside both.
fn crosses(a: Point, b: Point, c: Point, d: Point) -> bool {
    if a.x.max(b.x) < c.x.min(d.x)
        || c.x.max(d.x) < a.x.min(b.x)
        || a.y.max(b.y) < c.y.min(d.y)
        || c.y.max(d.y) < a.y.min(b.y)
    {
        return false;
    }
    side_of(a, b, c) * side_of(a, b, d) < 0.0 && side_of(c, d, a) * side_of(c, d, b) < 0.0
}

/// Every corner moved to the left of the line (inwards for an outline, outwards from a cut-out) by `by`.
fn draw_in(points: &[Point], by: f64) -> Vec<Point> {
    let n = points.len();
    let unit = |v: Point| {
        let l = (v.x * v.x + v.y * v.y).sqrt();
        if l > 0.0 { v / l } else { v }
    };
    (0..n)
        .map(|i| {
            let before = unit(points[i] - points[(i + n - 1) % n]);
            let after = unit(points[(i + 1) % n] - points[i]);
            let left = pt(-before.y - after.y, before.x + after.x);
            // |left|²/2 = 1 + cos of the corner's turn; a hairpin is limited to four times the distance.
            let l2 = (left.x * left.x + left.y * left.y) / 2.0;
            points[i] + left * (by / l2.max(0.125))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::Ring;

    fn form(pairs: &[[f64; 2]]) -> Form {
        Form::new(&Region::new(Ring::from_pairs(pairs), Vec::new()))
    }

    #[test]
    fn touching_is_not_overlapping() {
        let s = form(&[[0.0, 0.0], [10.0, 0.0], [10.0, 2.0], [0.0, 2.0]]);
        assert!(!s.overlaps(&s, pt(10.0, 0.0)));
        assert!(!s.overlaps(&s, pt(3.0, 2.0)));
        assert!(!s.overlaps(&s, pt(10.0, 2.0)));
        assert!(s.overlaps(&s, pt(9.999, 0.0)), "bars that run along each other overlap");
        assert!(s.overlaps(&s, pt(0.0, 0.0)), "a shape overlaps itself");
        assert!(s.overlaps(&s, pt(0.0, 1.999)));
    }

    #[test]
    fn a_small_piece_fits_a_cut_out() {
        let outer = Region::new(
            Ring::from_pairs(&[[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]]),
            vec![Ring::from_pairs(&[[4.0, 4.0], [16.0, 4.0], [16.0, 16.0], [4.0, 16.0]])],
        );
        let frame = Form::new(&outer);
        let small = form(&[[0.0, 0.0], [5.0, 0.0], [5.0, 5.0], [0.0, 5.0]]);
        assert!(!frame.overlaps(&small, pt(6.0, 6.0)));
        assert!(!frame.overlaps(&small, pt(4.0, 4.0)), "touching the edge of the cut-out");
        assert!(frame.overlaps(&small, pt(3.0, 6.0)));
        assert!(frame.overlaps(&small, pt(-1.0, -1.0)));
        assert!(!small.overlaps(&frame, pt(-6.0, -6.0)));
    }

    /// Rings waved in and out, which cross in many places, hold each other or lie apart: the same answer as the exact
    /// distance of the regions.
    #[test]
    fn rings_overlap_exactly_where_their_regions_do() {
        let waved = |r: f64, wave: f64, waves: f64, ccw: bool| {
            let at = |k: i32| {
                let turn = if ccw { 0.9 } else { -0.9 } * f64::from(k);
                let ((c, s), (_, up)) = (turn_cos_sin(turn), turn_cos_sin(turn * waves));
                pt((r + wave * up) * c, (r + wave * up) * s)
            };
            Ring::new((0..400).map(at).collect())
        };
        let ring = |r: f64, wave: f64, waves: f64| {
            Region::new(waved(r, wave, waves, true), vec![waved(r - 34.0, wave, waves, false)])
        };
        let mut chance = crate::lay::chance::Chance::new(3, 0);
        for (a, b, reach) in [
            (ring(168.0, 6.0, 28.0), ring(140.0, 6.0, 14.0), 320.0),
            (ring(168.0, 1.0, 9.0), ring(148.0, 1.0, 7.0), 12.0),
        ] {
            let (fa, fb) = (Form::new(&a), Form::new(&b));
            for _ in 0..300 {
                let by = pt(chance.between(-reach, reach), chance.between(-reach, reach));
                let moved = crate::shape::Pose { turn_deg: 0.0, shift: by }.region(&b);
                let apart = crate::lay::clearance::clearance(&a, &moved, 1.0);
                assert_eq!(fa.overlaps(&fb, by), apart == 0.0, "{by:?}");
                assert_eq!(fb.overlaps(&fa, by * -1.0), apart == 0.0, "{by:?}");
            }
        }
    }

    #[test]
    fn depth_grows_with_the_overlap() {
        let s = form(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
        let depths: Vec<f64> = [9.0, 7.0, 5.0, 3.0, 1.0].iter().map(|x| s.depth(&s, pt(*x, 0.0))).collect();
        assert!(depths.windows(2).all(|w| w[0] < w[1]), "{depths:?}");
        assert_eq!(s.depth(&s, pt(10.0, 0.0)), 0.0);
    }
}
