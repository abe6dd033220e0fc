//! How thick a region is along its edge.
//!
//! The thickness at a point of the edge is the diameter of the greatest disc that lies in the region and
//! touches the edge there. Where it is below a width, and only there, the region loses edge when it is opened
//! with a disc of that width (shrunk by half of it and grown again): Serra, *Image Analysis and Mathematical
//! Morphology*, 1982. The disc is found by shrinking it until nothing is left in it: Ma, Bae, Choi, *3D medial
//! point approximation using nearest neighbors and the normal field*, The Visual Computer 28, 2012.
//!
//! Only sides that face another side nearer than the width are looked at, and from there on along the edge
//! as far as it stays thin.

use rayon::prelude::*;
use rstar::{PointDistance, RTree};

use super::sides::{Side, Sides, turn};
use crate::shape::{Point, Region, distance, lerp, pt, turn_cos_sin};

/// A spot of the edge, in order along the rings: every side follows on the corner it starts at.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub(super) struct Spot {
    /// The side.
    pub side: usize,
    /// Share of the way along the side, above 0 to 1. At the corner the side starts at: −1 to 0, the share
    /// of the turn from the normal of the side before to that of this side, less 1.
    pub share: f64,
}

/// One look at the edge.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    /// Where along the edge.
    pub spot: Spot,
    /// What stands across when the region is thinner here than asked.
    pub thin: Option<Across>,
}

/// What stands across from a point of the edge.
#[derive(Clone, Copy, Debug)]
pub(super) struct Across {
    /// Where along the edge the greatest disc touches it again.
    pub spot: Spot,
    /// Diameter of that disc, mm.
    pub diameter_mm: f64,
    /// How squarely the two points face each other: 1 when the disc touches them at opposite ends.
    pub square: f64,
}

/// A region's edge, ready to be looked at.
pub(super) struct Edge {
    /// Its sides; the inside lies to the left.
    pub sides: Sides,
    tree: RTree<Side>,
    width_mm: f64,
}

/// Looks along a side are this far apart, as a share of the width asked for.
const STEP: f64 = 0.25;

/// Most looks along one side. (The middles of teeth across from a long side are looked at from the teeth.)
const MOST_LOOKS: f64 = 600.0;

/// At a corner that juts into the region, looks fan out with this angle between them, degrees.
const FAN_DEG: f64 = 15.0;

/// What rounding may add to a distance, mm.
const ROUNDING_MM: f64 = 1e-6;

/// A disc is shrunk at most so often; it has then all but stopped shrinking.
const MOST_SHRINKS: usize = 40;

/// A waist has to be gone round: on one ring its two sides lie at least half the rim of a disc as wide as the
/// width apart (π/2 of it). Sides nearer along the ring than this share of the width face each other across
/// a corner only.
const ROUND_A_CORNER: f64 = 1.5;

/// No edge of more sides is looked at.
const MOST_SIDES: usize = 200_000;

/// A ring of more points than this is thinned out first.
const DENSE_FROM: usize = 4_000;

/// Thinning out moves an edge by at most this, mm: less than a laser repeats.
const THINNED_MM: f64 = 0.01;

/// The points of a closed ring without those that lie on the way of the others: a circle of a million points
/// is no rounder for a laser than one of a thousand. A point stays when the straight way from the last one
/// that stayed would miss one in between by more than [`THINNED_MM`]: the cone of ways allowed is narrowed
/// point by point (Sklansky, Gonzalez, *Fast polygonal approximation of digitized curves*, Pattern Recognition
/// 12, 1980). Rings that are not dense stay as they are.
fn thinned(points: &[Point]) -> Vec<Point> {
    let (Some(&first), true) = (points.first(), points.len() > DENSE_FROM) else { return points.to_vec() };
    let mut kept = vec![first];
    let (mut from, mut last) = (first, first);
    let mut cone: Option<(Point, Point)> = None;
    for &p in &points[1..] {
        let within = cone.is_none_or(|(right, left)| {
            turn(from, from + right, p) >= 0.0 && turn(from, from + left, p) <= 0.0
        });
        // A way that turns back is no straight way either.
        let onward = (last - from).x * (p - last).x + (last - from).y * (p - last).y >= 0.0;
        if !(within && onward) {
            kept.push(last);
            (from, cone) = (last, None);
        }
        let d = p - from;
        let far = (d.x * d.x + d.y * d.y).sqrt();
        if far > THINNED_MM {
            let sin = THINNED_MM / far;
            let cos = (1.0 - sin * sin).sqrt();
            let right = pt(cos * d.x + sin * d.y, cos * d.y - sin * d.x);
            let left = pt(cos * d.x - sin * d.y, cos * d.y + sin * d.x);
            let zero = pt(0.0, 0.0);
            cone = Some(cone.map_or((right, left), |(r, l)| {
                (
                    if turn(zero, r, right) > 0.0 { right } else { r },
                    if turn(zero, l, left) < 0.0 { left } else { l },
                )
            }));
        }
        last = p;
    }
    if last != from {
        kept.push(last);
    }
    kept
}

impl Edge {
    /// The edge of `region`, to be looked at for places thinner than `width_mm`.
    pub fn new(region: &Region, width_mm: f64) -> Edge {
        let mut sides = Sides::default();
        for ring in region.rings() {
            sides.push(&thinned(&ring.points), true);
        }
        let tree = sides.tree();
        Edge { sides, tree, width_mm }
    }

    /// For each side the looks along it in order, where it is worth looking; `None` where it is not. `None`
    /// instead of all that when more than `most` looks
    /// would be taken.
    pub fn look(&self, most: usize) -> Option<Vec<Option<Vec<Look>>>> {
        let n = self.sides.all.len();
        if n > MOST_SIDES {
            return None;
        }
        let all = |worth: &(dyn Fn(usize) -> bool + Sync)| -> Vec<bool> {
            if n > PARALLEL_FROM {
                (0..n).into_par_iter().with_min_len(64).map(worth).collect()
            } else {
                (0..n).map(worth).collect()
            }
        };
        let worth = all(&|i| self.faces_another(i));
        let mut taken: usize = (0..n).filter(|i| worth[*i]).map(|i| self.looks_along(i)).sum();
        if taken > most {
            return None;
        }
        let from = |i: usize| worth[i].then(|| self.look_along(i));
        let mut looks: Vec<Option<Vec<Look>>> = if n > PARALLEL_FROM {
            (0..n).into_par_iter().with_min_len(64).map(from).collect()
        } else {
            (0..n).map(from).collect()
        };
        let mut todo: Vec<usize> = (0..n).collect();
        while let Some(i) = todo.pop() {
            for next in self.where_it_goes_on(i, &looks) {
                if looks.get(next).is_some_and(Option::is_none) {
                    taken += self.looks_along(next);
                    if taken > most {
                        return None;
                    }
                    looks[next] = Some(self.look_along(next));
                    todo.push(next);
                }
            }
        }
        Some(looks)
    }

    /// How many looks are taken along side `i`, the fan at its start left aside.
    fn looks_along(&self, i: usize) -> usize {
        (self.sides.all[i].length() / (STEP * self.width_mm)).ceil().clamp(1.0, MOST_LOOKS) as usize
    }

    /// Sides to look at because side `i` is thin up to its end, or thin with them across.
    fn where_it_goes_on(&self, i: usize, looks: &[Option<Vec<Look>>]) -> Vec<usize> {
        let Some(Some(along)) = looks.get(i) else { return Vec::new() };
        let across = along.iter().filter_map(|l| l.thin.map(|t| t.spot.side));
        let with_next = |k: usize| [Some(k), self.sides.before(k), self.sides.after(k)].into_iter().flatten();
        let mut out: Vec<usize> = across.flat_map(with_next).collect();
        if along.first().is_some_and(|l| l.thin.is_some()) {
            out.extend(self.sides.before(i));
        }
        if along.last().is_some_and(|l| l.thin.is_some()) {
            out.extend(self.sides.after(i));
        }
        out
    }

    /// True when some other side lies nearer than the width across the inside.
    fn faces_another(&self, i: usize) -> bool {
        let s = &self.sides.all[i];
        let before = |s: &Side, t: &Side| turn(s.a, s.b, t.a) > 0.0 || turn(s.a, s.b, t.b) > 0.0;
        self.tree
            .locate_in_envelope_intersecting(&s.envelope_grown(self.width_mm))
            .any(|t| t.id != s.id && before(s, t) && before(t, s) && self.is_near(i, t.id as usize))
    }

    /// True when two sides come nearer than the width elsewhere than round a corner.
    fn is_near(&self, i: usize, j: usize) -> bool {
        let (s, t) = (&self.sides.all[i.min(j)], &self.sides.all[i.max(j)]);
        let Some(ways) = self.sides.ways_between(i, j) else { return s.distance_to(t) < self.width_mm };
        let [there, back] = ways.map(|way| (ROUND_A_CORNER * self.width_mm - way).max(0.0) / 2.0);
        match (s.trimmed(back, there), t.trimmed(there, back)) {
            (Some(s), Some(t)) => s.distance_to(&t) < self.width_mm,
            _ => false,
        }
    }

    /// Looks from side `i`: a fan at its start when that corner juts in, then along the side, never from a
    /// corner that juts out (no disc fits into one).
    fn look_along(&self, i: usize) -> Vec<Look> {
        let s = &self.sides.all[i];
        let inward = normal(s);
        let mut looks = Vec::new();
        let (was, bend_deg) = self.bend(i);
        if bend_deg < -FAN_DEG {
            let n = (-bend_deg / FAN_DEG).ceil();
            for k in 0..=n as u32 {
                let turned = f64::from(k) / n;
                let (cos, sin) = turn_cos_sin(bend_deg * turned);
                let inward = pt(cos * was.x - sin * was.y, sin * was.x + cos * was.y);
                looks.push(self.look_from(Spot { side: i, share: turned - 1.0 }, s.a, inward));
            }
        }
        let n = self.looks_along(i);
        for k in 0..n {
            let share = (k as f64 + 0.5) / n as f64;
            looks.push(self.look_from(Spot { side: i, share }, lerp(s.a, s.b, share), inward));
        }
        looks
    }

    fn look_from(&self, spot: Spot, at: Point, inward: Point) -> Look {
        Look { spot, thin: self.across(at, inward) }
    }

    /// The inward normal of the side before `i`, and by how much the normal turns from there to that of `i`,
    /// degrees; below 0 where the corner juts into the region.
    fn bend(&self, i: usize) -> (Point, f64) {
        let n = normal(&self.sides.all[i]);
        let was = self.sides.before(i).map_or(n, |k| normal(&self.sides.all[k]));
        (was, between_deg(was, n))
    }

    /// The spot of a disc about `centre` that touches side `i` at the share `t` of it.
    fn spot(&self, i: usize, t: f64, centre: Point) -> Spot {
        if t > 0.0 && t < 1.0 {
            return Spot { side: i, share: t };
        }
        let side = if t > 0.0 { self.sides.after(i).unwrap_or(i) } else { i };
        let (was, bend_deg) = self.bend(side);
        let turned_deg = between_deg(was, centre - self.sides.all[side].a);
        let turned = if bend_deg < 0.0 { (turned_deg / bend_deg).clamp(0.0, 1.0) } else { 0.5 };
        Spot { side, share: turned - 1.0 }
    }

    /// The greatest disc at `p` inward along `n`, when it is smaller than the width.
    fn across(&self, p: Point, n: Point) -> Option<Across> {
        let mut radius = self.width_mm / 2.0;
        let mut touched: Option<(Point, Spot)> = None;
        for _ in 0..MOST_SHRINKS {
            let c = p + n * radius;
            let at = [c.x, c.y];
            let side = self.tree.nearest_neighbor(&at)?;
            if side.distance_2(&at).sqrt() >= radius - ROUNDING_MM {
                break;
            }
            let shrunk =
                tangent_to_line(p, n, side).unwrap_or_else(|| through_point(p, n, side.nearest(c).0));
            if shrunk >= radius {
                // Only rounding keeps a disc that holds something from shrinking.
                break;
            }
            radius = shrunk;
            let (q, t) = side.nearest(p + n * radius);
            touched = Some((q, self.spot(side.id as usize, t, p + n * radius)));
        }
        let (q, spot) = touched?;
        let v = q - p;
        let square = (v.x * n.x + v.y * n.y) / distance(p, q).max(f64::MIN_POSITIVE);
        Some(Across { spot, diameter_mm: 2.0 * radius, square })
    }
}

/// Radius of the disc at `p` inward along `n` that touches a side between its ends.
fn tangent_to_line(p: Point, n: Point, side: &Side) -> Option<f64> {
    let m = normal(side);
    let away = (p.x - side.a.x) * m.x + (p.y - side.a.y) * m.y;
    let closing = 1.0 - (n.x * m.x + n.y * m.y);
    if away <= 0.0 || closing <= 0.0 {
        return None;
    }
    let radius = away / closing;
    let (_, t) = side.nearest(p + n * radius);
    (t > 0.0 && t < 1.0).then_some(radius)
}

/// Radius of the disc at `p` inward along `n` whose rim goes through `q`.
fn through_point(p: Point, n: Point, q: Point) -> f64 {
    let v = q - p;
    let ahead = v.x * n.x + v.y * n.y;
    if ahead > 0.0 { (v.x * v.x + v.y * v.y) / (2.0 * ahead) } else { 0.0 }
}

/// The normal of a side to its left.
fn normal(s: &Side) -> Point {
    pt(s.a.y - s.b.y, s.b.x - s.a.x) / s.length()
}

/// Angle from `u` to `v`, degrees counter-clockwise, −180 to 180.
fn between_deg(u: Point, v: Point) -> f64 {
    libm::atan2(u.x * v.y - u.y * v.x, u.x * v.x + u.y * v.y).to_degrees()
}

/// With more sides than this the looks are shared out among the cores.
const PARALLEL_FROM: usize = 2000;
