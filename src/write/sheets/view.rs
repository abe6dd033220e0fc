//! From millimetres of cloth or bed to a place on paper.

use crate::plan::{Pair, PlanPiece, PlanRegion};
use crate::shape::{self, Affine, Bounds, Point, Pose, Region, Ring, pt};

/// A pair as a point.
pub(super) fn point(p: Pair) -> Point {
    pt(p[0], p[1])
}

/// A written region as one of geometry.
pub(super) fn region(r: &PlanRegion) -> Region {
    Region {
        outline: Ring { points: r.outline.iter().map(|&p| point(p)).collect() },
        cutouts: r.cutouts.iter().map(|c| Ring { points: c.iter().map(|&p| point(p)).collect() }).collect(),
    }
}

/// The map that turns a placed piece back the way it is drawn.
pub(super) fn as_drawn(piece: &PlanPiece) -> Affine {
    let pose = Pose { turn_deg: piece.turn_deg, shift: point(piece.shift) };
    pose.affine().inverse().unwrap_or(Affine::IDENTITY)
}

/// A region seen through a map.
pub(super) fn through(map: Affine, r: &Region) -> Region {
    r.map(|p| map.apply(p))
}

/// A line on paper may leave out points that lie no farther than this off it, mm: an eighth of the finest line.
const FLAT: f64 = 0.015;
/// The points of a line on paper without those it can do without.
pub(super) fn thinned(points: impl IntoIterator<Item = Point>) -> Vec<Point> {
    shape::thinned(points, FLAT)
}

/// A region seen through a map, without points that paper does not show.
pub(super) fn sketched(map: Affine, r: &Region) -> Region {
    let ring = |g: &Ring| Ring { points: thinned(g.points.iter().map(|&p| map.apply(p))) };
    Region { outline: ring(&r.outline), cutouts: r.cutouts.iter().map(ring).collect() }
}

/// True when the straight line from `a` to `c` touches the box: clipped to it, something is left (Liang and Barsky,
/// 1984).
pub(in crate::write) fn enters(b: Bounds, a: Point, c: Point) -> bool {
    let v = c - a;
    let (mut low, mut high) = (0.0f64, 1.0f64);
    for (start, way, min, max) in [(a.x, v.x, b.min.x, b.max.x), (a.y, v.y, b.min.y, b.max.y)] {
        if way == 0.0 {
            if start < min || start > max {
                return false;
            }
            continue;
        }
        let (s, t) = ((min - start) / way, (max - start) / way);
        low = low.max(s.min(t));
        high = high.min(s.max(t));
    }
    low <= high
}

/// The map that fits the box `what` into the box `room`, upright, its middle in the middle, at most in full size;
/// mirrored left to right where asked. Also gives the scale.
pub(super) fn fitted(what: Bounds, room: Bounds, mirrored: bool) -> (Affine, f64) {
    let share = (room.width() / what.width().max(1e-3)).min(room.height() / what.height().max(1e-3));
    let scale = if share.is_finite() { share.clamp(1e-4, 1.0) } else { 1.0 };
    let sx = if mirrored { -scale } else { scale };
    let (c, m) = (what.centre(), room.centre());
    (Affine([sx, 0.0, 0.0, scale, m.x - c.x * sx, m.y - c.y * scale]), scale)
}

/// A straight arrow from `from` to `to` with a head `head` long, as lines.
pub(super) fn arrow(from: Point, to: Point, head: f64) -> Vec<Vec<Point>> {
    let v = to - from;
    let length = v.x.hypot(v.y);
    if length.is_nan() || length <= 0.0 {
        return Vec::new();
    }
    let (u, n) = (v * (1.0 / length), pt(-v.y, v.x) * (1.0 / length));
    let back = to - u * head;
    vec![vec![from, to], vec![back + n * (head * 0.5), to, back - n * (head * 0.5)]]
}

/// Lines where the pattern repeats, through the box, in the frame of the cloth: every pivot across and along.
pub(super) fn pattern_lines(pattern: &crate::plan::PlanPattern, b: Bounds) -> Vec<[Point; 2]> {
    /// More lines than this in one box are a texture, not a help.
    const MOST: f64 = 400.0;
    let origin = point(pattern.origin);
    let reach = b.width() + b.height() + 1.0;
    let mut lines = Vec::new();
    let (a, along) = (pattern.a.map(point), pattern.b.map(point));
    let square = |v: Point| pt(-v.y, v.x);
    for (step, other) in [(a, along), (along, a)] {
        let Some(step) = step else { continue };
        let way = other.unwrap_or(square(step));
        let length = way.x.hypot(way.y);
        let across = square(way) * (1.0 / length.max(1e-9));
        let pitch = step.x * across.x + step.y * across.y;
        let shares = b.corners().map(|c| ((c - origin).x * across.x + (c - origin).y * across.y) / pitch);
        let (low, high) =
            shares.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &s| (l.min(s), h.max(s)));
        let (low, high) = (low.ceil(), high.floor());
        if !(low.is_finite() && high.is_finite() && high - low < MOST) {
            continue;
        }
        let u = way * (1.0 / length.max(1e-9));
        let mut k = low;
        while k <= high {
            let on = origin + step * k;
            let c = b.centre() - on;
            let middle = on + u * (c.x * u.x + c.y * u.y);
            lines.push([middle - u * reach, middle + u * reach]);
            k += 1.0;
        }
    }
    lines
}
