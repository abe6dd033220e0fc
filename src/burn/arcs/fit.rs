//! The longest lines, arcs and biarcs along a chain, one after another.

use crate::shape::{Point, distance, lerp, tol};

use super::arc::{Arc, Course, Step};
use super::chain::{Knot, cross, dot, knots};
use super::circle::{around, one_arc};

/// Arcs that are no half of a whole circle turn by at most 150°: the tangent of a quarter of that.
const MOST_BULGE: f64 = 0.767;

/// Flatter than this is straight, mm.
const STRAIGHT_MM: f64 = tol::SAME_POINT_MM;

/// Arcs of a larger radius are not sent out, mm: their centres lie where few controllers can still count.
const LARGEST_RADIUS_MM: f64 = 20_000.0;

/// Long sides are looked at in steps of this, mm, though never at more than so many points.
const SIDE_STEP_MM: f64 = 0.5;
const SIDE_STEPS: f64 = 64.0;

pub(super) fn fitted(points: &[Point], closed: bool, within_mm: f64) -> Course {
    let knots = knots(points, closed);
    let mut steps: Vec<Step> = Vec::new();
    let mut at = 0;
    while at + 1 < knots.len() {
        // A stretch ends at the next corner at the latest.
        let end = (at + 1..knots.len()).find(|&k| knots[k].corner).unwrap_or(knots.len() - 1);
        let whole = points.get(knots[at].first..=knots[end].last).unwrap_or_default();
        if let Some(halves) = around(whole).filter(|halves| near(whole, *halves, within_mm)) {
            steps.extend(halves.map(|a| Step { to: a.to, bulge: a.bulge }));
            at = end;
            continue;
        }
        let span = |to: usize| covered(points, &knots, at, to, within_mm);
        // Ever longer strides until one fails, then halving between the farthest that held and the nearest that failed.
        let (mut good, mut bad, mut best) = (at, end + 1, None);
        let mut stride = 1;
        while good + 1 < bad {
            let to = if bad <= end { good + (bad - good) / 2 } else { (good + stride).min(end) };
            match span(to) {
                Some(arcs) => (good, best, stride) = (to, Some(arcs), stride * 2),
                None => bad = to,
            }
        }
        match best {
            Some(arcs) => {
                steps.extend(arcs.into_iter().flatten());
                at = good;
            }
            None => {
                // Not even one side can be covered smoothly: it goes out as it is, with all the chain's points.
                let first = knots[at].last;
                let last = knots[at + 1].last;
                steps.extend(points[first + 1..=last].iter().map(|&to| Step { to, bulge: 0.0 }));
                at += 1;
            }
        }
    }
    let start = points.first().copied().unwrap_or_else(|| crate::shape::pt(0.0, 0.0));
    let mut course = Course { start, steps };
    if let (Some(step), Some(&last)) = (course.steps.last_mut(), points.last()) {
        step.to = last;
    }
    joined(course)
}

/// A line, an arc or a biarc from one knot to another, when it covers the chain between.
fn covered(
    points: &[Point],
    knots: &[Knot],
    a: usize,
    b: usize,
    within_mm: f64,
) -> Option<[Option<Step>; 2]> {
    let (from, to) = (knots[a], knots[b]);
    let chain = points.get(from.last..=to.first)?;
    let line = Arc { from: from.at, to: to.at, bulge: 0.0 };
    if near(chain, [line], STRAIGHT_MM.min(within_mm)) {
        return Some([Some(Step { to: to.at, bulge: 0.0 }), None]);
    }
    let sane =
        |arc: &Arc| arc.bulge.abs() <= MOST_BULGE && (arc.bulge == 0.0 || arc.radius() <= LARGEST_RADIUS_MM);
    if let Some(arc) = one_arc(chain, &from, &to)
        && sane(&arc)
        && near(chain, [arc], within_mm)
    {
        return Some([Some(Step { to: to.at, bulge: arc.bulge }), None]);
    }
    let [first, second] = biarc(from.at, from.going, to.at, to.coming)?;
    let arcs =
        [first, second].map(|a| if a.sagitta().abs() < STRAIGHT_MM { Arc { bulge: 0.0, ..a } } else { a });
    (arcs.iter().all(sane) && near(chain, arcs, within_mm))
        .then(|| arcs.map(|a| Some(Step { to: a.to, bulge: a.bulge })))
}

/// Two arcs from `p` along `s` to `q` along `t`, with a common tangent where they meet, equally long in control.
fn biarc(p: Point, s: Point, q: Point, t: Point) -> Option<[Arc; 2]> {
    let v = q - p;
    let sum = s + t;
    let (a, b, c) = (2.0 * (1.0 - dot(s, t)), dot(v, sum), dot(v, v));
    // a·d² + 2·b·d − c = 0, by the form that does not lose figures when a is small.
    let root = (b * b + a * c).sqrt();
    let d = c / (b + root);
    if !(d.is_finite() && d > 0.0) {
        return None;
    }
    let middle = lerp(p + s * d, q - t * d, 0.5);
    let (first, second) = (middle - p, q - middle);
    let bulge = |cross: f64, dot: f64, long: f64| cross / (long + dot);
    let one = bulge(cross(s, first), dot(s, first), distance(p, middle));
    let two = bulge(cross(second, t), dot(second, t), distance(middle, q));
    (one.is_finite() && two.is_finite())
        .then_some([Arc { from: p, to: middle, bulge: one }, Arc { from: middle, to: q, bulge: two }])
}

/// True when every point of the chain, also along its sides, is near one of the arcs.
fn near<const N: usize>(chain: &[Point], arcs: [Arc; N], within_mm: f64) -> bool {
    let rims = arcs.map(|a| a.rim());
    let close = |p: Point| rims.iter().any(|rim| rim.distance_to(p) <= within_mm);
    chain.windows(2).all(|w| {
        let n = (distance(w[0], w[1]) / SIDE_STEP_MM).ceil().clamp(2.0, SIDE_STEPS) as usize;
        (0..=n).all(|i| close(lerp(w[0], w[1], i as f64 / n as f64)))
    })
}

/// Arcs of one circle, and lines of one direction, are one as long as they turn by no more than an arc may.
fn joined(course: Course) -> Course {
    let mut steps: Vec<Step> = Vec::with_capacity(course.steps.len());
    let mut from = course.start;
    for step in course.steps {
        if let Some(before) = steps.last_mut() {
            if let Some(bulge) = one(Arc { from, to: before.to, bulge: before.bulge }, step) {
                *before = Step { to: step.to, bulge };
                continue;
            }
            from = before.to;
        }
        steps.push(step);
    }
    Course { steps, ..course }
}

/// The bulge of the one arc that two steps are, if they are.
fn one(first: Arc, step: Step) -> Option<f64> {
    let second = Arc { from: first.to, to: step.to, bulge: step.bulge };
    let whole = match (first.bulge == 0.0, second.bulge == 0.0) {
        (true, true) => Arc { from: first.from, to: second.to, bulge: 0.0 },
        (false, false) if first.bulge.signum() == second.bulge.signum() => {
            // Half the angle turned by is the angle between chords met at the rim.
            let (u, v) = (first.to - first.from, second.to - second.from);
            let bulge = cross(u, v) / (dot(u, v) + (dot(u, u) * dot(v, v)).sqrt());
            Arc { from: first.from, to: second.to, bulge }
        }
        _ => return None,
    };
    let sure = whole.bulge.abs() <= MOST_BULGE && distance(whole.from, whole.to) > 0.0;
    let meets = [first.middle(), first.to, second.middle()];
    let along = dot(first.to - first.from, second.to - second.from) > 0.0 || whole.bulge != 0.0;
    (sure && along && meets.iter().all(|p| whole.distance_to(*p) <= STRAIGHT_MM)).then_some(whole.bulge)
}
