//! Stretches of an element's outlines that run along each other: out and back on one line, or drawn twice.

use std::collections::BTreeSet;

use super::sides::{Found, Side, Sides};
use super::subject::Subject;
use super::{Fault, FaultKind, FaultLimits, Severity};
use crate::shape::{Point, lerp, tol};

/// Courses nearer than this burn as one, mm: about half of what the beam removes.
const AS_ONE_MM: f64 = 0.1;

/// Shorter stretches are let pass, mm: a slim tip has two edges that near at its end.
const SHORTEST_MM: f64 = 2.0;

/// How much two courses may close on each other along a stretch, as a share of its length: about half a degree.
/// Slimmer than any tip that is drawn on purpose.
const CLOSING: f64 = 0.01;

/// More pieces of stretches than this in one element are not looked for.
const MOST: usize = 200_000;

struct Piece {
    first: usize,
    second: usize,
    from: Point,
    to: Point,
    length: f64,
    apart: f64,
}

/// The doubled stretches of an element, the longest first. Where outlines are known to be doubled as a whole
/// nothing is said again.
pub(super) fn find(
    subject: &Subject,
    sides: &Sides,
    doubled: &BTreeSet<(u32, u32)>,
    limits: &FaultLimits,
) -> Vec<Fault> {
    let reach = AS_ONE_MM.min(limits.doubled_mm);
    let Found { list, gave_up } = sides.near_pairs(reach, MOST, |i, j| {
        let (r, s) = (sides.all[i].ring, sides.all[j].ring);
        if doubled.contains(&(r.min(s), r.max(s))) { None } else { along(sides, i, j, reach) }
    });
    let mut faults: Vec<Fault> = join(sides, list)
        .into_iter()
        .filter(|run| run.length >= SHORTEST_MM)
        .map(|run| {
            subject.fault(
                FaultKind::Doubled,
                Severity::Mend,
                run.middle,
                run.length,
                format!(
                    "A stretch of {:.1} mm is drawn twice, at most {:.2} mm apart.",
                    run.length, run.apart
                ),
                "Take the second course away: the cloth is burnt twice there, and a slit may open.",
            )
        })
        .collect();
    faults.sort_by(|a, b| b.size_mm.total_cmp(&a.size_mm));
    if gave_up {
        faults.splice(0..0, subject.too_tangled(FaultKind::Doubled, "doubled stretches"));
    }
    faults
}

/// The stretch along which sides `i` and `j` run together.
fn along(sides: &Sides, i: usize, j: usize, reach: f64) -> Option<Piece> {
    let (s, t) = (&sides.all[i], &sides.all[j]);
    if (sides.after(i) == Some(j) || sides.after(j) == Some(i)) && !goes_back(s, t) {
        return None;
    }
    let d = s.b - s.a;
    let share = |p: Point| ((p - s.a).x * d.x + (p - s.a).y * d.y) / (d.x * d.x + d.y * d.y);
    let (ta, tb) = (share(t.a), share(t.b));
    if ta == tb {
        return None;
    }
    let (low, high) = (ta.min(tb).max(0.0), ta.max(tb).min(1.0));
    let length = (high - low) * s.length();
    if length <= tol::SAME_POINT_MM {
        return None;
    }
    let (from, to) = (lerp(s.a, s.b, low), lerp(s.a, s.b, high));
    let off = |p: Point, at: f64| crate::shape::distance(p, lerp(t.a, t.b, (at - ta) / (tb - ta)));
    let (near, far) = (off(from, low), off(to, high));
    let together =
        near <= reach && far <= reach && (near - far).abs() <= CLOSING * length + tol::SAME_POINT_MM;
    together.then_some(Piece { first: i, second: j, from, to, length, apart: near.max(far) })
}

fn goes_back(s: &Side, t: &Side) -> bool {
    let (u, v) = (s.b - s.a, t.b - t.a);
    u.x * v.x + u.y * v.y < 0.0
}

struct Run {
    last: (usize, usize),
    length: f64,
    apart: f64,
    middle: Point,
    longest: f64,
}

/// Joins pieces whose sides follow each other into runs.
fn join(sides: &Sides, pieces: Vec<Piece>) -> Vec<Run> {
    let follows = |i: usize, j: usize| i == j || sides.after(i) == Some(j) || sides.after(j) == Some(i);
    let mut runs: Vec<Run> = Vec::new();
    for piece in pieces {
        // Pieces come in order of their first side, so a run that goes on is among the last few.
        let run = runs
            .iter_mut()
            .rev()
            .take(8)
            .find(|r| follows(r.last.0, piece.first) && follows(r.last.1, piece.second));
        let middle = lerp(piece.from, piece.to, 0.5);
        match run {
            Some(run) => {
                run.last = (piece.first, piece.second);
                run.length += piece.length;
                run.apart = run.apart.max(piece.apart);
                if piece.length > run.longest {
                    (run.longest, run.middle) = (piece.length, middle);
                }
            }
            None => runs.push(Run {
                last: (piece.first, piece.second),
                length: piece.length,
                apart: piece.apart,
                middle,
                longest: piece.length,
            }),
        }
    }
    runs
}
