//! A place for one piece on one cloth, in a given step with its pattern, or as near to it as there is; or the proof
//! that there is none.
//!
//! Shifts are looked at in boxes, halved where need be. A box goes as a whole once a disc within the piece is larger
//! than the room leaves it, by more than the box is wide (branch and bound: Land & Doig 1960, Econometrica 28; with a bound
//! on how fast the function changes: Piyavskii 1972, USSR Comp. Math. 12). Of what is left every place in step is tried
//! exactly.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use crate::shape::{Bounds, Lattice, Point, Pose, Region, distance, lerp, pt, tol};

use super::body::Body;
use super::room::{FORGIVEN_MM, Room};

/// A turn a piece may have, and where its pattern must then sit: its shift, measured from the lattice's origin, must
/// be `phase` and whole repeats.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    /// Turn, degrees.
    pub turn_deg: f64,
    /// Shift from the lattice's origin.
    pub phase: Point,
}

/// A place found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Seat {
    /// Drawing frame to cloth frame.
    pub pose: Pose,
    /// How far out of step it is, mm; 0 when it is exact.
    pub off_mm: f64,
}

/// How much may still be looked at, and whether that was enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Looks {
    /// Boxes and places.
    pub left: usize,
    /// False once something was left out for want of looks.
    pub all: bool,
}

impl Looks {
    pub fn new(most: usize) -> Looks {
        Looks { left: most, all: true }
    }

    fn take(&mut self) -> bool {
        self.all &= self.left > 0;
        self.left = self.left.saturating_sub(1);
        self.all
    }
}

/// A piece at the turns it may have, to be tried in rooms.
pub(super) struct Sitter {
    bodies: Vec<(f64, Body)>,
}

impl Sitter {
    /// `cut` at `turns`, degrees.
    pub fn new(cut: &Region, turns: impl IntoIterator<Item = f64>) -> Sitter {
        Sitter { bodies: turns.into_iter().map(|t| (t, Body::new(cut, t))).collect() }
    }

    /// False when no turn of it goes in a box of this size.
    pub fn might_go(&self, room: Bounds) -> bool {
        let goes = |b: Bounds| b.width() <= room.width() && b.height() <= room.height();
        self.bodies.iter().any(|(_, body)| goes(body.bounds))
    }

    /// False when it goes nowhere in `room` at any turn, listed or not: a disc within it is larger than all that lie there.
    pub fn might_turn(&self, room: &Room) -> bool {
        self.bodies.first().is_some_and(|(_, body)| body.largest_disc() <= room.most_anywhere())
    }

    /// The place in step nearest to the near end, then to the left; `None` when there is none (if `looks` sufficed).
    /// `ways` are in the order of the turns. On a stripe, where places lie along lines, it is the nearest to within
    /// [`LOW_MM`].
    pub fn in_step(&self, room: &Room, lattice: &Lattice, ways: &[Way], looks: &mut Looks) -> Option<Seat> {
        self.search(room, &Goal::InStep(lattice, ways), f64::INFINITY, looks)
    }

    /// The place least out of step, to within [`tol::RECUT_STEP_MM`], of those that are less than `below` mm off.
    pub fn nearest(
        &self,
        room: &Room,
        lattice: &Lattice,
        ways: &[Way],
        below: f64,
        looks: &mut Looks,
    ) -> Option<Seat> {
        self.search(room, &Goal::Nearest(lattice, ways), below, looks)
    }

    /// A place whatever the pattern, as near to the near end as there is to within [`LOW_MM`].
    pub fn anywhere(&self, room: &Room, looks: &mut Looks) -> Option<Seat> {
        self.search(room, &Goal::Low, f64::INFINITY, looks)
    }

    fn search(&self, room: &Room, goal: &Goal, below: f64, looks: &mut Looks) -> Option<Seat> {
        let mut open = BinaryHeap::new();
        let mut hints = vec![0; self.bodies.len()];
        let mut best: Option<(f64, usize, Point)> = None;
        let slack = goal.slack_mm();
        for (way, (_, body)) in self.bodies.iter().enumerate() {
            let reach = body.reach(room);
            if !reach.is_empty() {
                goal.open(reach, way, &mut open);
            }
        }
        while let Some(Node { key, way, cell, .. }) = open.pop() {
            if key >= best.map_or(below, |b| b.0) - slack {
                break;
            }
            if !looks.take() {
                break;
            }
            let (body, hint) = (&self.bodies[way].1, &mut hints[way]);
            let (centre, by) = cell.round();
            if body.refuted(room, centre, by, hint) {
                continue;
            }
            let value = goal.value(way, centre);
            if goal.allows(&cell)
                && value < best.map_or(below, |b| b.0)
                && !body.refuted(room, centre, 0.0, hint)
                && body.goes(room, centre)
            {
                best = Some((value, way, centre));
            }
            // A place within the true edge lies no farther than that from a middle that goes as well.
            if by > FORGIVEN_MM {
                cell.halves().into_iter().for_each(|half| goal.open_cell(half, way, &mut open));
            }
        }
        let (value, way, shift) = best?;
        let off_mm = if let Goal::Nearest(..) = goal { value } else { 0.0 };
        Some(Seat { pose: Pose { turn_deg: self.bodies[way].0, shift }, off_mm })
    }
}

/// A place found anywhere, or along a stripe, lies no more than this farther from the near end than another would, mm.
pub(super) const LOW_MM: f64 = 0.5;

/// So many places in step, or lines of them, in a box are looked at one by one.
const FEW: f64 = 12.0;

/// What is looked for.
enum Goal<'a> {
    /// In step, the nearest to the near end.
    InStep(&'a Lattice, &'a [Way]),
    /// The least out of step.
    Nearest(&'a Lattice, &'a [Way]),
    /// Anywhere, the nearest to the near end.
    Low,
}

impl Goal<'_> {
    fn slack_mm(&self) -> f64 {
        match self {
            Goal::InStep(l, _) if l.a.is_some() && l.b.is_some() => 0.0,
            Goal::InStep(..) | Goal::Low => LOW_MM,
            Goal::Nearest(..) => tol::RECUT_STEP_MM,
        }
    }

    /// What is to be small; it changes by no more than a shift does.
    fn value(&self, way: usize, shift: Point) -> f64 {
        match self {
            Goal::InStep(..) | Goal::Low => shift.y,
            Goal::Nearest(l, ways) => l.residual(shift - l.origin - ways[way].phase),
        }
    }

    /// True when the middle of the cell is a place that may be taken.
    fn allows(&self, cell: &Cell) -> bool {
        !matches!((self, cell), (Goal::InStep(..), Cell::Box(_)))
    }

    fn open(&self, reach: Bounds, way: usize, open: &mut BinaryHeap<Node>) {
        self.open_cell(Cell::Box(reach), way, open);
    }

    /// Puts a cell among those to be looked at: for places in step, what there is in it of these once that is little.
    fn open_cell(&self, cell: Cell, way: usize, open: &mut BinaryHeap<Node>) {
        let mut put = |cell: Cell| {
            let (centre, by) = cell.round();
            let low = cell.lowest();
            let key = match self {
                Goal::InStep(..) | Goal::Low => low.y,
                Goal::Nearest(..) => (self.value(way, centre) - by).max(0.0),
            };
            open.push(Node { key, low, way, cell });
        };
        match (self, cell) {
            (Goal::InStep(lattice, ways), Cell::Box(b)) => match in_step(lattice, ways[way].phase, b) {
                Some(cells) => cells.into_iter().for_each(put),
                None => put(cell),
            },
            _ => put(cell),
        }
    }
}

/// The places in step with `phase` in the box, or the stretches of lines of them; `None` where there are many.
fn in_step(lattice: &Lattice, phase: Point, b: Bounds) -> Option<Vec<Cell>> {
    let base = lattice.origin + phase;
    let shares = lattice.fraction_bounds(b.shifted(base * -1.0));
    let whole = |low: f64, high: f64| (low - 1e-9).ceil() as i64..=(high + 1e-9).floor() as i64;
    match (lattice.a, lattice.b) {
        (Some(one), Some(other)) => {
            if (shares.width() + 1.0) * (shares.height() + 1.0) > FEW {
                return None;
            }
            let (across, along) = (whole(shares.min.x, shares.max.x), whole(shares.min.y, shares.max.y));
            let all = across.flat_map(|i| along.clone().map(move |j| (i, j)));
            let at = all.map(|(i, j)| base + one * i as f64 + other * j as f64);
            Some(at.filter(|p| b.contains(*p)).map(Cell::Spot).collect())
        }
        (Some(step), None) | (None, Some(step)) => {
            let (low, high) =
                if lattice.a.is_some() { (shares.min.x, shares.max.x) } else { (shares.min.y, shares.max.y) };
            if high - low + 1.0 > FEW {
                return None;
            }
            let along = pt(-step.y, step.x) / distance(step, pt(0.0, 0.0));
            let line = |i: i64| clipped(base + step * i as f64, along, b);
            Some(whole(low, high).filter_map(line).map(|(p, q)| Cell::Line(p, q)).collect())
        }
        (None, None) => Some(vec![Cell::Box(b)]),
    }
}

/// The stretch of the line through `p` along `v` that lies in the box.
fn clipped(p: Point, v: Point, b: Bounds) -> Option<(Point, Point)> {
    let (mut from, mut to) = (f64::NEG_INFINITY, f64::INFINITY);
    for (p, v, low, high) in [(p.x, v.x, b.min.x, b.max.x), (p.y, v.y, b.min.y, b.max.y)] {
        if v.abs() < f64::EPSILON {
            if p < low - tol::ON_LATTICE_MM || p > high + tol::ON_LATTICE_MM {
                return None;
            }
            continue;
        }
        let (s, t) = ((low - p) / v, (high - p) / v);
        (from, to) = (from.max(s.min(t)), to.min(s.max(t)));
    }
    (from <= to).then(|| (p + v * from, p + v * to))
}

/// Shifts looked at together.
#[derive(Clone, Copy, Debug)]
enum Cell {
    Box(Bounds),
    Line(Point, Point),
    Spot(Point),
}

impl Cell {
    /// Its middle, and how far from it the others lie at most.
    fn round(&self) -> (Point, f64) {
        match *self {
            Cell::Box(b) => (b.centre(), distance(b.min, b.max) / 2.0),
            Cell::Line(p, q) => (lerp(p, q, 0.5), distance(p, q) / 2.0),
            Cell::Spot(p) => (p, 0.0),
        }
    }

    /// Its corner, or end, nearest to the near end and the left.
    fn lowest(&self) -> Point {
        match *self {
            Cell::Box(b) => b.min,
            Cell::Line(p, q) => pt(p.x.min(q.x), p.y.min(q.y)),
            Cell::Spot(p) => p,
        }
    }

    fn halves(&self) -> [Cell; 2] {
        match *self {
            Cell::Box(b) => {
                let m = b.centre();
                let (one, other) = if b.width() >= b.height() {
                    (pt(m.x, b.max.y), pt(m.x, b.min.y))
                } else {
                    (pt(b.max.x, m.y), pt(b.min.x, m.y))
                };
                [Cell::Box(Bounds::new(b.min, one)), Cell::Box(Bounds::new(other, b.max))]
            }
            Cell::Line(p, q) => {
                let m = lerp(p, q, 0.5);
                [Cell::Line(p, m), Cell::Line(m, q)]
            }
            Cell::Spot(p) => [Cell::Spot(p); 2],
        }
    }
}

/// A cell among those to be looked at: those that may hold the best come first.
struct Node {
    key: f64,
    low: Point,
    way: usize,
    cell: Cell,
}

impl Ord for Node {
    fn cmp(&self, other: &Self) -> Ordering {
        // The heap gives the greatest first.
        let by = |a: f64, b: f64| b.total_cmp(&a);
        by(self.key, other.key)
            .then(by(self.low.y, other.low.y))
            .then(by(self.low.x, other.low.x))
            .then(other.way.cmp(&self.way))
            .then(by(other.cell.round().1, self.cell.round().1))
    }
}

impl PartialOrd for Node {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Node {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Node {}

#[cfg(test)]
#[path = "seat_tests.rs"]
mod tests;
