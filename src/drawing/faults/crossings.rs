//! Outlines that cross or touch themselves, decided exactly.
//!
//! All outlines of one element are looked at together: a cut-out that crosses its outline is as bad as an
//! outline that crosses itself. Where a crossing falls on corners, what counts is whether the two courses
//! change sides there. Courses that share a stretch are no crossing but a doubled stretch.

use std::collections::BTreeSet;

use super::sides::{Found, Sides, turn};
use super::subject::Subject;
use super::{Fault, FaultKind, Severity};
use crate::shape::{Point, lerp, tol};

/// More crossings than this in one element are not looked for.
const MOST: usize = 20_000;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Meeting {
    Crosses(Point),
    Touches(Point),
}

/// The crossings of an element's outlines, in the order of its sides. `doubled` names pairs of its outlines
/// (lower index first) known to be one outline drawn twice; where these meet each other nothing is said.
pub(super) fn find(subject: &Subject, sides: &Sides, doubled: &BTreeSet<(u32, u32)>) -> Vec<Fault> {
    let Found { list: mut meetings, gave_up } = sides.near_pairs(tol::SAME_POINT_MM, MOST, |i, j| {
        let (r, s) = (sides.all[i].ring, sides.all[j].ring);
        if doubled.contains(&(r.min(s), r.max(s))) { None } else { meet(sides, i, j) }
    });
    if !subject.is_filled() {
        // A drawn line may well touch itself: its band has no inside to fall apart.
        meetings.retain(|m| matches!(m, Meeting::Crosses(_)));
    }
    let mut faults: Vec<Fault> = meetings.into_iter().map(|m| tell(subject, m)).collect();
    if gave_up {
        faults.splice(0..0, subject.too_tangled(FaultKind::Crossing, "crossings"));
    }
    faults
}

fn tell(subject: &Subject, meeting: Meeting) -> Fault {
    match meeting {
        Meeting::Crosses(at) => {
            let drawn_line = !subject.is_filled() && subject.element.subpaths.iter().any(|s| !s.closed);
            let (severity, advice) = if drawn_line {
                (Severity::Note, "As a band of its stroke width it can be cut all the same.")
            } else {
                (Severity::Mend, "Unite the parts of the outline, or draw them as shapes of their own.")
            };
            let text = "The outline crosses itself.".to_string();
            subject.fault(FaultKind::Crossing, severity, at, 0.0, text, advice)
        }
        Meeting::Touches(at) => subject.fault(
            FaultKind::Crossing,
            Severity::Mend,
            at,
            0.0,
            "The outline touches itself; cut, it comes apart there.".to_string(),
            "Draw the two edges some millimetres apart, or unite them.",
        ),
    }
}

/// How sides `i` and `j` meet, if they do in a way that is told for this pair.
fn meet(sides: &Sides, i: usize, j: usize) -> Option<Meeting> {
    let (s, t) = (&sides.all[i], &sides.all[j]);
    let (ta, tb) = (turn(s.a, s.b, t.a), turn(s.a, s.b, t.b));
    if (ta > 0.0 && tb > 0.0) || (ta < 0.0 && tb < 0.0) {
        return None;
    }
    let (sa, sb) = (turn(t.a, t.b, s.a), turn(t.a, t.b, s.b));
    if (sa > 0.0 && sb > 0.0) || (sa < 0.0 && sb < 0.0) {
        return None;
    }
    if ta != 0.0 && tb != 0.0 && sa != 0.0 && sb != 0.0 {
        return Some(Meeting::Crosses(lerp(s.a, s.b, share(sa, sb))));
    }
    // Corners lie on sides. Each meeting is told once: for the side that starts at the corner, and of two
    // sides that start there for the earlier.
    if s.a == t.a {
        return at_corner(s.a, (before(sides, i)?, s.b), (before(sides, j)?, t.b));
    }
    if sa == 0.0 && strictly_within(t.a, t.b, s.a) {
        return at_corner(s.a, (before(sides, i)?, s.b), (t.a, t.b));
    }
    if ta == 0.0 && strictly_within(s.a, s.b, t.a) {
        return at_corner(t.a, (before(sides, j)?, t.b), (s.a, s.b));
    }
    None
}

/// Share of the way at which a course crosses a line, from how far its ends lie to either side.
fn share(start: f64, end: f64) -> f64 {
    start.abs() / (start.abs() + end.abs())
}

fn before(sides: &Sides, i: usize) -> Option<Point> {
    sides.before(i).map(|k| sides.all[k].a)
}

/// True when `p`, known to lie on the line through `a` and `b`, lies between them and on neither.
fn strictly_within(a: Point, b: Point, p: Point) -> bool {
    let between = |from: f64, to: f64, x: f64| (from < x && x < to) || (to < x && x < from);
    if a.x != b.x { between(a.x, b.x, p.x) } else { between(a.y, b.y, p.y) }
}

/// How two courses, each coming from one point and going to another, pass each other at the corner `p`.
fn at_corner(p: Point, first: (Point, Point), second: (Point, Point)) -> Option<Meeting> {
    let side_of_second = [second.0, second.1].map(|q| side_of_bend(p, first, q));
    match side_of_second {
        [Some(x), Some(y)] if x != y => Some(Meeting::Crosses(p)),
        [Some(_), Some(_)] => Some(Meeting::Touches(p)),
        _ => None,
    }
}

/// Whether `q`, seen from `p`, lies left of the bent course from `bend.0` over `p` to `bend.1`; `None` when it
/// lies in the direction of either.
fn side_of_bend(p: Point, bend: (Point, Point), q: Point) -> Option<bool> {
    let (from, to) = bend;
    if same_way(p, from, q) || same_way(p, to, q) {
        return None;
    }
    // Left of the course is what is swept counter-clockwise from where it goes to where it comes from.
    let opens = turn(p, to, from);
    let (left_of_out, left_of_in) = (turn(p, to, q) > 0.0, turn(p, from, q) < 0.0);
    Some(if opens > 0.0 { left_of_out && left_of_in } else { left_of_out || left_of_in })
}

/// True when `q` and `r` lie in the same direction from `p`.
fn same_way(p: Point, q: Point, r: Point) -> bool {
    let (u, v) = (q - p, r - p);
    turn(p, q, r) == 0.0 && u.x * v.x + u.y * v.y > 0.0
}
