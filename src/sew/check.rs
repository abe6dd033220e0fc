//! Hoopings looked at afresh, from what they say alone.

use super::hoopings::{Request, Sewing};
use super::placement::Line;
use crate::shape::booleans::intersection;
use crate::shape::{Bounds, Point, Region, distance, lerp, to_side, tol};

/// Steps in which edges are looked at, mm.
const STEP_MM: f64 = 2.0;

/// Lines lie within fields, and on edges, this closely, mm.
const ON_LINE_MM: f64 = 0.01;

/// An edge changes hands with so much stitched by both at most, and what comes before what is not told there, mm.
const CHANGE_MM: f64 = 14.0;

/// Two marks of a hooping are at least this far apart, mm.
const MARKS_APART_MM: f64 = 40.0 - ON_LINE_MM;

/// What is wrong with `sewing` as asked for in `request`; empty when nothing is.
///
/// Looked at: lines within the fields; every drawn edge bordered; every drawn edge placed, and placed once but for short stretches where it changes
/// hands; pieces that fit in a field whole; no piece begun before one that it lies on; where pieces lie on each other the lower one
/// stitched first; marks, at least two for a hooping that has any, stitched before they are found and within reach; no fewer
/// hoopings than are said to be possible.
pub fn check(request: &Request, sewing: &Sewing) -> Vec<String> {
    let mut wrong = Vec::new();
    if sewing.hoopings.len() < sewing.at_least {
        let (n, least) = (sewing.hoopings.len(), sewing.at_least);
        wrong.push(format!("{n} hoopings, though it is said to take at least {least}"));
    }
    let pieces: Vec<Sewn> = (0..request.pieces.len()).map(|k| Sewn::new(request, sewing, k)).collect();
    for (k, sewn) in pieces.iter().enumerate() {
        if let Some(what) = sewn.fault(request, sewing, k) {
            wrong.push(format!("piece {}: {what}", request.pieces[k].name));
        }
    }
    order(request, sewing, &pieces, &mut wrong);
    marks(request, sewing, &mut wrong);
    wrong
}

/// A piece and where it is sewn.
struct Sewn {
    /// Placement lines, each with its hooping.
    placement: Vec<(usize, Line)>,
    /// Middles of its border.
    border: Vec<Line>,
    /// Points along them, and those left where an edge does not change hands.
    all: Vec<(usize, Point)>,
    points: Vec<(usize, Point)>,
    whole: bool,
}

impl Sewn {
    fn new(request: &Request, sewing: &Sewing, piece: usize) -> Sewn {
        let parts = sewing.hoopings.iter().enumerate();
        let parts = parts.flat_map(|(h, hooping)| hooping.parts.iter().map(move |p| (h, p)));
        let parts: Vec<_> = parts.filter(|(_, p)| p.piece == piece).collect();
        let lines = parts.iter().flat_map(|(h, p)| p.placement.iter().map(move |l| (*h, l.clone())));
        let placement: Vec<(usize, Line)> = lines.collect();
        let border = parts.iter().flat_map(|(_, p)| p.border.iter().cloned()).collect();
        let along = |off: f64| -> Vec<(usize, Point)> {
            let each =
                placement.iter().flat_map(|(h, l)| points_of(l, off).into_iter().map(move |p| (*h, p)));
            each.collect()
        };
        let [w, h] = field(request, sewing);
        let b = request.pieces[piece].drawn.bounds();
        let whole = b.width() <= w + tol::SAME_POINT_MM && b.height() <= h + tol::SAME_POINT_MM;
        Sewn { all: along(0.0), points: along(CHANGE_MM), placement, border, whole }
    }

    /// The hooping it is begun in.
    fn begun(&self) -> usize {
        self.placement.iter().map(|l| l.0).min().unwrap_or(usize::MAX)
    }

    fn fault(&self, request: &Request, sewing: &Sewing, piece: usize) -> Option<String> {
        let half = request.border_mm.max(0.0) / 2.0;
        let mut parts = 0;
        for (n, hooping) in sewing.hoopings.iter().enumerate() {
            let reach = hooping.field.grown(ON_LINE_MM - half);
            for part in hooping.parts.iter().filter(|p| p.piece == piece) {
                parts += 1;
                let lines = part.placement.iter().chain(&part.tack).chain(&part.border);
                if lines.flat_map(|l| &l.points).any(|p| !reach.contains(*p)) {
                    return Some(format!("its lines run out of the field of hooping {}", n + 1));
                }
                if part.whole != self.whole {
                    return Some(format!("it is not told rightly whether hooping {} sews all of it", n + 1));
                }
            }
        }
        if self.whole && parts != 1 {
            return Some(format!("it fits in a field and is sewn in {parts} hoopings"));
        }
        let drawn = request.pieces[piece].drawn;
        let on = |l: &Line, p: Point| {
            Bounds::of(l.points.iter().copied()).grown(ON_LINE_MM).contains(p)
                && l.sides().any(|(a, b)| to_side(p, a, b) <= ON_LINE_MM)
        };
        let placed = |p: Point| self.placement.iter().any(|(_, l)| on(l, p));
        // An edge beneath another piece has none.
        let covered = |p: Point| {
            request.pieces[piece + 1..].iter().any(|above| {
                let edges = || above.drawn.rings().flat_map(|r| r.sides());
                above.drawn.bounds().grown(STEP_MM).contains(p)
                    && (above.drawn.contains(p) || edges().any(|(a, b)| to_side(p, a, b) <= STEP_MM))
            })
        };
        let bordered =
            |p: Point| request.border_mm <= 0.0 || self.border.iter().any(|l| on(l, p)) || covered(p);
        for (p, q) in drawn.rings().flat_map(|r| r.sides()) {
            let steps = (distance(p, q) / STEP_MM).ceil().clamp(1.0, 1.0e6) as u32;
            let along = (0..steps).map(|k| lerp(p, q, f64::from(k) / f64::from(steps)));
            for at in along {
                let what = if !placed(at) {
                    "its edge is not placed"
                } else if !bordered(at) {
                    "its border is not sewn"
                } else {
                    continue;
                };
                return Some(format!("{what} at {:.1}, {:.1}", at.x, at.y));
            }
        }
        let edge: f64 = drawn.rings().flat_map(|r| r.sides()).map(|(p, q)| distance(p, q)).sum();
        let placed: f64 = self.placement.iter().map(|l| l.1.length()).sum();
        let open = self.placement.iter().filter(|l| !l.1.closed).count();
        let over = placed - edge - CHANGE_MM * open as f64;
        (over > ON_LINE_MM).then(|| format!("{over:.1} mm of its edge are placed twice"))
    }
}

/// What a field holds without the border: across, up.
fn field(request: &Request, sewing: &Sewing) -> [f64; 2] {
    let [w, h] = request.field_mm.map(|v| v - request.border_mm.max(0.0));
    if sewing.turned { [h, w] } else { [w, h] }
}

/// Points along a line, `off` its ends where it is open.
fn points_of(line: &Line, off: f64) -> Vec<Point> {
    let total = line.length();
    let mut so_far = 0.0;
    let mut points = Vec::new();
    for (p, q) in line.sides() {
        let long = distance(p, q);
        let steps = (long / STEP_MM).ceil().clamp(1.0, 1.0e6) as u32;
        for k in 0..steps {
            let share = f64::from(k) / f64::from(steps);
            let at = so_far + long * share;
            if line.closed || (at >= off && at <= total - off) {
                points.push(lerp(p, q, share));
            }
        }
        so_far += long;
    }
    points
}

/// What lies beneath is begun and stitched first.
fn order(request: &Request, sewing: &Sewing, pieces: &[Sewn], wrong: &mut Vec<String>) {
    let boxes: Vec<Bounds> = request.pieces.iter().map(|p| p.drawn.bounds()).collect();
    let turn = |piece: usize| sewing.order.iter().position(|o| o.0 == piece);
    for upper in 0..pieces.len() {
        for lower in (0..upper).filter(|&l| boxes[l].meets(boxes[upper])) {
            let (over, under) = (&request.pieces[upper], &request.pieces[lower]);
            if over.element == under.element {
                continue;
            }
            let places = intersection(std::slice::from_ref(under.drawn), std::slice::from_ref(over.drawn));
            if places.is_empty() {
                continue;
            }
            let first = pieces[lower].begun() <= pieces[upper].begun() && turn(lower) < turn(upper);
            if !first {
                wrong.push(format!(
                    "piece {} is begun before {}, which lies beneath it",
                    over.name, under.name
                ));
            }
            if let Some(at) = out_of_turn(&pieces[lower], &pieces[upper], under.drawn, over.drawn, &places) {
                wrong.push(format!(
                    "piece {} is stitched upon {} at {:.1}, {:.1} before that is stitched there",
                    over.name, under.name, at.x, at.y
                ));
            }
        }
    }
}

/// Where the upper piece is stitched before the lower one.
fn out_of_turn(
    lower: &Sewn,
    upper: &Sewn,
    under: &Region,
    over: &Region,
    places: &[Region],
) -> Option<Point> {
    let reach = places.iter().map(Region::bounds).fold(Bounds::EMPTY, Bounds::union);
    let on = |points: &[(usize, Point)], other: &Region| -> Vec<(usize, Point)> {
        points.iter().copied().filter(|(_, p)| reach.contains(*p) && other.contains(*p)).collect()
    };
    if upper.whole || lower.whole {
        let (begun, done) = (upper.begun(), lower.placement.iter().map(|l| l.0).max().unwrap_or(0));
        let early = on(&upper.points, under).into_iter().find(|(h, _)| lower.whole && *h < done);
        let late = || on(&lower.points, over).into_iter().find(|(h, _)| upper.whole && *h > begun);
        return early.or_else(late).map(|e| e.1);
    }
    // The nearest edge of the other: some of it is stitched before, or after, as the case may be.
    let stitched = |there: &[(usize, Point)], p: Point| -> Option<(usize, usize)> {
        let far = |o: &(usize, Point)| distance(o.1, p);
        let nearest = there.iter().map(far).fold(f64::INFINITY, f64::min);
        let about = there.iter().filter(|o| far(o) <= nearest + CHANGE_MM).map(|o| o.0);
        about.clone().min().zip(about.max())
    };
    let early =
        on(&upper.points, under).into_iter().find(|u| stitched(&lower.all, u.1).is_some_and(|l| l.0 > u.0));
    let late =
        || on(&lower.points, over).into_iter().find(|l| stitched(&upper.all, l.1).is_some_and(|u| u.1 < l.0));
    early.or_else(late).map(|e| e.1)
}

fn marks(request: &Request, sewing: &Sewing, wrong: &mut Vec<String>) {
    let half = request.border_mm.max(0.0) / 2.0;
    for mark in &sewing.marks {
        let there = |h: usize| {
            sewing.hoopings.get(h).is_some_and(|h| h.field.grown(ON_LINE_MM - half).contains(mark.at))
        };
        if mark.stitched >= mark.found || !there(mark.stitched) || !there(mark.found) {
            wrong.push(format!("mark {} is not stitched before it is found, or out of reach", mark.name));
        }
    }
    for h in 0..sewing.hoopings.len() {
        let own: Vec<Point> = sewing.marks.iter().filter(|m| m.found == h).map(|m| m.at).collect();
        let far = own.iter().flat_map(|p| own.iter().map(|q| distance(*p, *q))).fold(0.0, f64::max);
        if !own.is_empty() && far < MARKS_APART_MM {
            wrong.push(format!("the marks of hooping {} lie too near each other", h + 1));
        }
    }
}
