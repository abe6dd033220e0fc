//! Stretches of a chain that are one circle: a whole one as two halves, a part of one as a single arc.

use crate::shape::{Point, distance, pt, tol};

use super::arc::Arc;
use super::chain::{Knot, cross, dot};

/// Fewer points than this are no circle that was drawn as one.
const LEAST_POINTS: usize = 8;

/// An arc leaves a smooth curve by no more than this: cosine of 0.12°, so that two of them meet without a kink.
const SMOOTH_COSINE: f64 = 0.999_997_8;

/// Both halves of the circle that a chain goes once round, from its first point to its last, which must be the same;
/// `None` when it is not closed. Whether the chain lies near them is for the caller to measure.
pub(super) fn around(chain: &[Point]) -> Option<[Arc; 2]> {
    let (&from, &to) = chain.first().zip(chain.last())?;
    if chain.len() < LEAST_POINTS || distance(from, to) > tol::SAME_POINT_MM {
        return None;
    }
    let centre = centre_of(chain)?;
    let across = centre * 2.0 - from;
    let turn: f64 = chain.windows(2).map(|w| cross(w[0] - centre, w[1] - centre)).sum();
    let bulge = turn.signum();
    Some([Arc { from, to: across, bulge }, Arc { from: across, to, bulge }])
}

/// The centre of the circle with the least sum of squares of x² + y² + D·x + E·y + F (I. Kåsa, 'A circle fitting
/// procedure and its error analysis', IEEE Transactions on Instrumentation and Measurement 25, 1976), its points taken
/// from their mean so that no figures are lost.
fn centre_of(points: &[Point]) -> Option<Point> {
    let n = points.len() as f64;
    let mean = points.iter().fold(pt(0.0, 0.0), |sum, &p| sum + p) * (1.0 / n);
    let (mut xx, mut xy, mut yy, mut zx, mut zy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for v in points.iter().map(|&p| p - mean) {
        let z = dot(v, v);
        (xx, xy, yy) = (xx + v.x * v.x, xy + v.x * v.y, yy + v.y * v.y);
        (zx, zy) = (zx + z * v.x, zy + z * v.y);
    }
    let det = xx * yy - xy * xy;
    let at = pt(zx * yy - zy * xy, zy * xx - zx * xy) * (0.5 / det);
    (at.x.is_finite() && at.y.is_finite()).then(|| mean + at)
}

/// The arc from one knot to another through the middle of the chain between, where it leaves the curve at neither end.
pub(super) fn one_arc(chain: &[Point], from: &Knot, to: &Knot) -> Option<Arc> {
    if chain.len() < 3 {
        return None;
    }
    let middle = *chain.get(chain.len() / 2)?;
    // Half the angle turned by is the angle between chords met at the rim.
    let (u, v) = (middle - from.at, to.at - middle);
    let bulge = cross(u, v) / (dot(u, v) + (dot(u, u) * dot(v, v)).sqrt());
    let chord = to.at - from.at;
    let long = dot(chord, chord).sqrt();
    if !(bulge.is_finite() && bulge != 0.0 && long > 0.0) {
        return None;
    }
    let way = chord / long;
    // Tangents lie off the chord by half the angle turned by.
    let (c, s) = ((1.0 - bulge * bulge) / (1.0 + bulge * bulge), 2.0 * bulge / (1.0 + bulge * bulge));
    let (going, coming) =
        (pt(c * way.x + s * way.y, c * way.y - s * way.x), pt(c * way.x - s * way.y, c * way.y + s * way.x));
    let smooth = |knot: &Knot, own: Point, arc: Point| knot.corner || dot(own, arc) >= SMOOTH_COSINE;
    (smooth(from, from.going, going) && smooth(to, to.coming, coming)).then_some(Arc {
        from: from.at,
        to: to.at,
        bulge,
    })
}
