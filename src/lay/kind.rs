//! What the search knows of a piece: its ways (turns, each with its form and where it may stand).

use std::sync::Arc;

use crate::shape::{Bounds, Point, Pose, Region, distance, pt};

use super::form::Form;

/// A piece as the search sees it: the ways it may lie.
#[derive(Clone, Debug)]
pub struct Kind {
    /// Its ways, at least one.
    pub ways: Vec<Way>,
    /// A length that stands for its size; the largest are placed first and swapped when the search is stuck.
    pub size: f64,
    /// Pieces that may be turned by any angle within a range: what ways between those listed are made from.
    pub turning: Option<Arc<Turning>>,
    /// So many of the first ways are turns close to each other, in increasing order.
    pub close: usize,
}

/// A piece that may be turned by any angle within ranges. Such cloth has no pattern, so any shift will do.
#[derive(Clone, Debug)]
pub struct Turning {
    /// The piece, not grown.
    pub cut: Region,
    /// The piece grown by half the gap, at turn 0.
    pub form: Form,
    /// The piece as it meets obstacles, at turn 0; `None` where there are none.
    pub bare: Option<Form>,
    /// How far apart the turns lie that the search starts from, degrees.
    pub apart_deg: f64,
    /// Lowest and highest turn of every range, degrees.
    pub ranges: Vec<(f64, f64)>,
}

impl Turning {
    /// The way at a turn.
    pub fn way(&self, turn_deg: f64) -> Way {
        let pose = Pose { turn_deg, shift: pt(0.0, 0.0) };
        let form = Arc::new(self.form.turned(turn_deg));
        let bare = self.bare.as_ref().map_or_else(|| form.clone(), |b| Arc::new(b.turned(turn_deg)));
        Way { turn_deg, form, bare, bounds: pose.region(&self.cut).bounds(), hold: Hold::Free }
    }

    /// `turn_deg`, if it lies within a range, and the range's end if it lies up to `slack` beyond one.
    pub fn within(&self, turn_deg: f64, slack: f64) -> Option<f64> {
        self.ranges.iter().find_map(|&(low, high)| {
            // Ranges may run over a full turn.
            let past = (turn_deg - low).rem_euclid(360.0);
            let width = high - low;
            if past <= width {
                Some(turn_deg)
            } else if past - width <= slack {
                Some(high)
            } else if 360.0 - past <= slack {
                Some(low)
            } else {
                None
            }
        })
    }
}

/// One allowed turn of a piece.
#[derive(Clone, Debug)]
pub struct Way {
    /// The turn, degrees.
    pub turn_deg: f64,
    /// The piece at that turn, grown by half the gap: what must stay clear of other pieces.
    pub form: Arc<Form>,
    /// The piece at that turn, not grown: what must stay clear of obstacles.
    pub bare: Arc<Form>,
    /// Box round the piece at that turn, not grown: what must stay within the strip.
    pub bounds: Bounds,
    /// Which shifts the pattern allows.
    pub hold: Hold,
}

/// Which shifts a pattern allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hold {
    /// Any.
    Free,
    /// `offset + i·a + j·b` for whole i, j.
    Lattice {
        /// Repeat across.
        a: Point,
        /// Repeat along.
        b: Point,
        /// One allowed shift.
        offset: Offset,
    },
    /// `offset + i·step + t·along` for whole i and any t.
    Stripe {
        /// Repeat of the stripe.
        step: Point,
        /// Unit vector the stripe runs in.
        along: Point,
        /// One allowed shift.
        offset: Offset,
    },
}

/// An allowed shift that may depend on a group's phase: `base + m · phase`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offset {
    /// The shift at phase (0, 0).
    pub base: Point,
    /// Index of the group whose phase counts; `None` when the shift is fixed.
    pub group: Option<usize>,
    /// Columns of the matrix applied to the phase.
    pub m: [Point; 2],
}

impl Offset {
    /// The shift at the given phases.
    pub fn at(&self, phases: &[Point]) -> Point {
        match self.group.and_then(|g| phases.get(g)) {
            Some(phase) => self.base + self.m[0] * phase.x + self.m[1] * phase.y,
            None => self.base,
        }
    }

    /// The phase at which the shift is `shift`; any whole repeats may be added to it.
    pub fn phase(&self, shift: Point) -> Point {
        let v = shift - self.base;
        let [m0, m1] = self.m;
        if (m0.x * m1.y - m0.y * m1.x).abs() > f64::MIN_POSITIVE {
            return shares(m0, m1, v);
        }
        // A stripe's pair knows one share only; the other vector is zero.
        let along = |m: Point| {
            let l2 = m.x * m.x + m.y * m.y;
            if l2 > 0.0 { (v.x * m.x + v.y * m.y) / l2 } else { 0.0 }
        };
        pt(along(m0), along(m1))
    }
}

/// The phases a group may choose from.
#[derive(Clone, Debug, PartialEq)]
pub enum PhaseSpace {
    /// `u·a + v·b` with u, v from 0 to 1.
    Cell {
        /// First side of the cell.
        a: Point,
        /// Second side of the cell; zero for a stripe.
        b: Point,
    },
    /// One of a few.
    Choices(Vec<Point>),
}

impl PhaseSpace {
    /// The phase at shares u, v of the space.
    pub fn at(&self, u: f64, v: f64) -> Point {
        match self {
            PhaseSpace::Cell { a, b } => *a * u + *b * v,
            PhaseSpace::Choices(all) => {
                let k = (u * all.len() as f64) as usize;
                all.get(k.min(all.len().saturating_sub(1))).copied().unwrap_or_default()
            }
        }
    }
}

impl PhaseSpace {
    /// The phase moved on by shares u, v of the space, back into the first cell; `None` where there are only a few.
    pub fn moved(&self, phase: Point, u: f64, v: f64) -> Option<Point> {
        let PhaseSpace::Cell { a, b } = *self else { return None };
        let square = |p: Point| p.x * p.x + p.y * p.y;
        let now = if (a.x * b.y - a.y * b.x).abs() > f64::MIN_POSITIVE {
            shares(a, b, phase)
        } else {
            // One side alone: a stripe.
            let on = |side: Point| {
                if square(side) > 0.0 { (phase.x * side.x + phase.y * side.y) / square(side) } else { 0.0 }
            };
            pt(on(a), on(b))
        };
        Some(self.at((now.x + u).rem_euclid(1.0), (now.y + v).rem_euclid(1.0)))
    }
}

impl Hold {
    /// The group whose phase counts.
    pub fn group(&self) -> Option<usize> {
        match self {
            Hold::Free => None,
            Hold::Lattice { offset, .. } | Hold::Stripe { offset, .. } => offset.group,
        }
    }

    /// The phase of its group at which `shift` is allowed.
    pub fn phase(&self, shift: Point) -> Option<Point> {
        match self {
            Hold::Free => None,
            Hold::Lattice { offset, .. } | Hold::Stripe { offset, .. } => Some(offset.phase(shift)),
        }
    }

    /// The allowed shift near `target`: the nearest for a stripe, one of the nearest for a lattice.
    pub fn near(&self, target: Point, phases: &[Point]) -> Point {
        match self {
            Hold::Free => target,
            Hold::Lattice { a, b, offset } => {
                let o = offset.at(phases);
                let f = shares(*a, *b, target - o);
                o + *a * f.x.round() + *b * f.y.round()
            }
            Hold::Stripe { step, along, offset } => {
                let o = offset.at(phases);
                let f = shares(*step, *along, target - o);
                o + *step * f.x.round() + *along * f.y
            }
        }
    }

    /// An allowed shift within `reach` at or near `target`; `None` when there is none.
    pub fn nearest_within(&self, target: Point, phases: &[Point], reach: Bounds) -> Option<Point> {
        if reach.is_empty() {
            return None;
        }
        let inside = pt(target.x.clamp(reach.min.x, reach.max.x), target.y.clamp(reach.min.y, reach.max.y));
        let near = self.near(inside, phases);
        if reach.contains(near) {
            return Some(near);
        }
        let mut best: Option<(f64, Point)> = None;
        let keep = |p: Point, best: &mut Option<(f64, Point)>| {
            let d = distance(p, target);
            if best.is_none_or(|(b, _)| d < b) {
                *best = Some((d, p));
            }
        };
        match self {
            Hold::Free => {}
            Hold::Lattice { a, b, .. } => {
                for i in -3..=3 {
                    for j in -3..=3 {
                        let p = near + *a * f64::from(i) + *b * f64::from(j);
                        if reach.contains(p) {
                            keep(self.near(p, phases), &mut best);
                        }
                    }
                }
                if best.is_none() {
                    self.points(phases, reach, |p| {
                        keep(p, &mut best);
                        true
                    });
                }
            }
            Hold::Stripe { step, along, offset } => {
                let o = offset.at(phases);
                let span = Bounds::of(reach.corners().map(|c| shares(*step, *along, c - o)));
                let (low, high) = (span.min.x.floor(), span.max.x.ceil());
                let first = shares(*step, *along, inside - o).x.round().clamp(low, high);
                let apart = distance(*step, pt(0.0, 0.0));
                // From the nearest stripe outwards both ways, until no stripe farther off can be nearer.
                let mut k = 0.0;
                while k <= high - low {
                    for i in if k == 0.0 { [first, f64::NAN] } else { [first + k, first - k] } {
                        if !(low..=high).contains(&i) {
                            continue;
                        }
                        let foot = o + *step * i;
                        if let Some((from, to)) = line_within(foot, *along, reach) {
                            let t = shares(*step, *along, target - foot).y.clamp(from, to);
                            keep(foot + *along * t, &mut best);
                        }
                    }
                    k += 1.0;
                    if best.is_some_and(|(d, _)| (k - 1.0) * apart > d) {
                        break;
                    }
                }
            }
        }
        best.map(|(_, p)| p)
    }

    /// Calls `f` for every allowed shift of a lattice within `reach`, near rows first, until it returns
    /// false. Does nothing for other holds.
    pub fn points(&self, phases: &[Point], reach: Bounds, mut f: impl FnMut(Point) -> bool) {
        let Hold::Lattice { a, b, offset } = *self else { return };
        if reach.is_empty() {
            return;
        }
        let o = offset.at(phases);
        let span = Bounds::of(reach.corners().map(|c| shares(a, b, c - o)));
        let mut j = span.min.y.floor();
        while j <= span.max.y.ceil() {
            let mut i = span.min.x.floor();
            while i <= span.max.x.ceil() {
                let p = o + a * i + b * j;
                if reach.contains(p) && !f(p) {
                    return;
                }
                i += 1.0;
            }
            j += 1.0;
        }
    }
}

/// The range of t for which `foot + t·along` lies within `reach`.
fn line_within(foot: Point, along: Point, reach: Bounds) -> Option<(f64, f64)> {
    let mut range = (f64::NEG_INFINITY, f64::INFINITY);
    for (p, d, low, high) in
        [(foot.x, along.x, reach.min.x, reach.max.x), (foot.y, along.y, reach.min.y, reach.max.y)]
    {
        if d == 0.0 {
            if p < low || p > high {
                return None;
            }
            continue;
        }
        let (t, u) = ((low - p) / d, (high - p) / d);
        range = (range.0.max(t.min(u)), range.1.min(t.max(u)));
    }
    // A hair inside, so that rounding does not put the end outside.
    let slack = 1e-9 * (1.0 + range.0.abs().max(range.1.abs()).min(1e9));
    let range = (range.0 + slack, range.1 - slack);
    (range.0 <= range.1).then_some(range)
}

/// Shares of `a` and `b` that make up `v`.
pub fn shares(a: Point, b: Point, v: Point) -> Point {
    let det = a.x * b.y - a.y * b.x;
    pt((v.x * b.y - v.y * b.x) / det, (a.x * v.y - a.y * v.x) / det)
}
