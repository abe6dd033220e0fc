//! How far one line strays from another.

use crate::shape::{Point, distance, lerp, to_side};

/// Sides are looked at in steps of this, mm.
const STEP_MM: f64 = 0.25;

/// How many sides either way are looked at first, and how far along the line at least, mm: both lines run the same way
/// round, but the sides of one may be far shorter than the steps of the other.
const NEAR: usize = 12;
const NEAR_MM: f64 = 2.0 * STEP_MM;

/// The greatest distance of `walked` from `line`, mm, found at its corners and every quarter of a millimetre.
///
/// Distances up to `enough` may be told too large (never too small, and never above `enough`): the first side found
/// as near as that is taken. Infinite when either has no points or a distance is no number.
pub fn strays(walked: &[Point], line: &[Point], enough: f64) -> f64 {
    if walked.is_empty() || line.is_empty() {
        return f64::INFINITY;
    }
    let sides = line.len().saturating_sub(1).max(1);
    let to = |p: Point, k: usize| match (line.get(k), line.get(k + 1)) {
        (Some(&a), Some(&b)) => to_side(p, a, b),
        (Some(&a), None) => distance(p, a),
        _ => f64::INFINITY,
    };
    let nearest = |p: Point, range: std::ops::Range<usize>| {
        range.map(|k| (to(p, k), k)).min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f64::INFINITY, 0))
    };
    let mut ends = Vec::with_capacity(line.len());
    let mut along = 0.0;
    for (k, p) in line.iter().enumerate() {
        along += line.get(k.wrapping_sub(1)).map_or(0.0, |q| distance(*q, *p));
        ends.push(along);
    }
    let about = |k: usize| {
        let here = ends.get(k).copied().unwrap_or(0.0);
        let low = ends.partition_point(|e| *e < here - NEAR_MM);
        let high = ends.partition_point(|e| *e <= here + NEAR_MM);
        low.saturating_sub(1).min(k.saturating_sub(NEAR))..high.max(k + NEAR).min(sides)
    };
    // Both lines run the same way: the side that was nearest last, and those after it, mostly do.
    let ahead =
        |p: Point, k: usize| (k..sides.min(k + NEAR)).map(|k| (to(p, k), k)).find(|(far, _)| *far <= enough);
    let (mut at, mut worst) = (0_usize, 0.0_f64);
    for p in dense(walked, STEP_MM) {
        let mut best = ahead(p, at).unwrap_or_else(|| nearest(p, about(at)));
        if best.0.is_nan() || best.0 > enough {
            best = nearest(p, 0..sides);
        }
        if best.0.is_nan() {
            return f64::INFINITY;
        }
        at = best.1;
        worst = worst.max(best.0);
    }
    worst
}

/// The corners of a chain and points between them, at most `step_mm` apart (and at most a thousand to a side).
pub fn dense(chain: &[Point], step_mm: f64) -> impl Iterator<Item = Point> + '_ {
    let between = chain.windows(2).flat_map(move |w| {
        let n = (distance(w[0], w[1]) / step_mm).ceil().clamp(1.0, 1000.0) as usize;
        (1..=n).map(move |i| lerp(w[0], w[1], i as f64 / n as f64))
    });
    chain.first().copied().into_iter().chain(between)
}
