//! A chain looked at as the curve it came from: which of its points are corners, and the tangents at the others.

use crate::shape::{Point, distance, lerp, to_side, tol};

/// Points so near that leaving them out or putting them together moves the chain by less are put together, mm: an
/// offset leaves two points where the curve had one, and their short side would spoil the tangents.
const TOGETHER_MM: f64 = 0.0015;

/// A chain bends here as no flattened curve would, when its shorter side times the sine of the turn over eight (the
/// height of an arc over its chord) is this often the flattening's tolerance.
const CORNER_HEIGHTS: f64 = 3.0;

/// Turns beyond this are corners whatever the sides: cosine of 60°.
const CORNER_COSINE: f64 = 0.5;

/// A side this often longer than its neighbour is a straight run, and the curve leaves it along it.
const STRAIGHT_RATIO: f64 = 3.0;

/// A point of the curve.
#[derive(Clone, Copy, Debug)]
pub(super) struct Knot {
    pub at: Point,
    /// The first and last points of the chain it stands for, by index.
    pub first: usize,
    pub last: usize,
    pub corner: bool,
    /// Directions the curve comes in by and goes out by, of length 1; the same but at corners.
    pub coming: Point,
    pub going: Point,
}

/// The knots of a chain, its ends among them.
pub(super) fn knots(points: &[Point], closed: bool) -> Vec<Knot> {
    let (at, last) = together(points);
    let n = at.len();
    let mut knots: Vec<Knot> = at
        .iter()
        .zip(&last)
        .map(|(&at, &(first, last))| Knot { at, first, last, corner: false, coming: ZERO, going: ZERO })
        .collect();
    if n < 3 {
        let along = unit(at.last().copied().unwrap_or(ZERO) - at.first().copied().unwrap_or(ZERO));
        for k in &mut knots {
            (k.corner, k.coming, k.going) = (true, along, along);
        }
        return knots;
    }
    for k in 0..n {
        // Open ends have no neighbour on one side and count as corners.
        let (before, after) = match (k == 0, k == n - 1) {
            (false, false) => (at[k - 1], at[k + 1]),
            _ if closed => (at[n - 2], at[1]),
            _ => (at[k], at[k]),
        };
        let knot = &mut knots[k];
        let (u, v) = (unit(knot.at - before), unit(after - knot.at));
        let (l, m) = (distance(before, knot.at), distance(knot.at, after));
        let (cos, sin) = (dot(u, v), cross(u, v).abs());
        knot.corner = l == 0.0
            || m == 0.0
            || cos < CORNER_COSINE
            || l.min(m) * sin / 8.0 > CORNER_HEIGHTS * tol::CHORD_MM.max(tol::ARC_MM);
        // The tangent of the circle through three points turns from one chord to the next by their lengths.
        let along = if l > STRAIGHT_RATIO * m {
            u
        } else if m > STRAIGHT_RATIO * l {
            v
        } else {
            unit(u * m + v * l)
        };
        (knot.coming, knot.going) = (along, along);
    }
    // At a corner each side has a tangent of its own: that of the next knot, mirrored in the chord between them.
    for k in 0..n {
        if !knots[k].corner {
            continue;
        }
        if k + 1 < n {
            let u = unit(at[k + 1] - at[k]);
            knots[k].going = if knots[k + 1].corner { u } else { mirrored(knots[k + 1].coming, u) };
        }
        if k > 0 {
            let u = unit(at[k] - at[k - 1]);
            knots[k].coming = if knots[k - 1].corner { u } else { mirrored(knots[k - 1].going, u) };
        }
    }
    knots
}

/// Points put together where that moves the chain by next to nothing, and the first and last index each stands for.
fn together(points: &[Point]) -> (Vec<Point>, Vec<(usize, usize)>) {
    let mut at = points.to_vec();
    let mut last: Vec<(usize, usize)> = (0..points.len()).map(|k| (k, k)).collect();
    // Two offsets, one inside the other, leave four points where there was one.
    for _ in 0..3 {
        let (mut kept, mut ends): (Vec<Point>, Vec<(usize, usize)>) = (Vec::new(), Vec::new());
        let mut k = 0;
        while k < at.len() {
            let pair = k > 0 && k + 2 < at.len() && {
                let (a, p, q, b) = (kept.last().copied().unwrap_or(at[k - 1]), at[k], at[k + 1], at[k + 2]);
                let m = lerp(p, q, 0.5);
                let short = distance(p, q);
                2.0 * short < distance(a, p).min(distance(q, b))
                    && to_side(p, a, m).max(to_side(q, m, b)) <= TOGETHER_MM
            };
            if pair {
                kept.push(lerp(at[k], at[k + 1], 0.5));
                ends.push((last[k].0, last[k + 1].1));
                k += 2;
            } else {
                kept.push(at[k]);
                ends.push(last[k]);
                k += 1;
            }
        }
        let settled = kept.len() == at.len();
        (at, last) = (kept, ends);
        if settled {
            break;
        }
    }
    (at, last)
}

const ZERO: Point = crate::shape::pt(0.0, 0.0);

pub(super) fn dot(a: Point, b: Point) -> f64 {
    a.x * b.x + a.y * b.y
}

pub(super) fn cross(a: Point, b: Point) -> f64 {
    a.x * b.y - a.y * b.x
}

fn unit(v: Point) -> Point {
    let long = dot(v, v).sqrt();
    if long > 0.0 { v / long } else { ZERO }
}

fn mirrored(v: Point, axis: Point) -> Point {
    axis * (2.0 * dot(v, axis)) - v
}
