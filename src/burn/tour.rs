//! Burns in an order that keeps the rules, and the exchanges that keep them.

use super::Burn;
use super::starts::{Start, starts};
use crate::shape::{Point, distance};

/// How one burn is burnt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    pub burn: usize,
    /// Closed burns: which of its starts it begins at.
    pub begin: usize,
    /// Open burns: burnt from its last point.
    pub reversed: bool,
    pub entry: Point,
    pub exit: Point,
}

impl Way {
    pub fn turned(self) -> Way {
        Way { reversed: !self.reversed, entry: self.exit, exit: self.entry, ..self }
    }
}

/// The ends of an open burn, or where a closed one may begin.
#[derive(Clone, Debug)]
pub(super) enum Doors {
    Open(Point, Point),
    Closed(Vec<Start>),
}

impl Doors {
    pub fn of(burn: &Burn) -> Doors {
        if burn.closed {
            return Doors::Closed(starts(burn));
        }
        let end = |p: Option<&Point>| p.copied().unwrap_or_default();
        Doors::Open(end(burn.path.first()), end(burn.path.last()))
    }

    /// The way in that costs least, where `cost` is told entry and exit.
    pub fn best(&self, burn: usize, cost: impl Fn(Point, Point) -> f64) -> Way {
        match self {
            Doors::Open(first, last) => {
                let reversed = cost(*last, *first) < cost(*first, *last);
                let (entry, exit) = if reversed { (*last, *first) } else { (*first, *last) };
                Way { burn, begin: 0, reversed, entry, exit }
            }
            Doors::Closed(all) => {
                let mut best = (f64::INFINITY, 0, Point::default());
                for (k, start) in all.iter().enumerate() {
                    let c = cost(start.at, start.at);
                    if c < best.0 {
                        best = (c, k, start.at);
                    }
                }
                Way { burn, begin: best.1, reversed: false, entry: best.2, exit: best.2 }
            }
        }
    }
}

/// Burns in an order that keeps the rules: an open way from where the head rests.
#[derive(Clone)]
pub(super) struct Tour<'a> {
    pub ways: Vec<Way>,
    pub start: Point,
    /// For every burn the burns that must come before it, and those that must come after.
    before: &'a [Vec<usize>],
    after: &'a [Vec<usize>],
    pub place: Vec<usize>,
    /// For every place i the nearest place j > i whose burn must follow one that stands in i..j.
    clash: Vec<usize>,
}

/// A change of the order and what it saves, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Change {
    /// The stretch from the first place to the second, both included, turned round.
    Turn(usize, usize),
    /// So many burns from the first place put in front of the second, turned round or not.
    Move { from: usize, count: usize, to: usize, turned: bool },
}

impl<'a> Tour<'a> {
    pub fn new(ways: Vec<Way>, before: &'a [Vec<usize>], after: &'a [Vec<usize>], start: Point) -> Tour<'a> {
        let mut tour = Tour { ways, start, before, after, place: Vec::new(), clash: Vec::new() };
        tour.index();
        tour
    }

    /// Must be called after every change of `ways`.
    pub fn index(&mut self) {
        let n = self.ways.len();
        self.place.clear();
        self.place.resize(self.before.len(), usize::MAX);
        for (at, way) in self.ways.iter().enumerate() {
            self.place[way.burn] = at;
        }
        self.clash.clear();
        self.clash.resize(n + 1, n);
        for at in 0..n {
            let last = self.before[self.ways[at].burn].iter().map(|&b| self.place[b]).max();
            if let Some(last) = last.filter(|&l| l < n) {
                self.clash[last] = self.clash[last].min(at);
            }
        }
        for at in (0..n).rev() {
            self.clash[at] = self.clash[at].min(self.clash[at + 1]);
        }
    }

    /// Where the head comes from into place `at`.
    pub fn exit_before(&self, at: usize) -> Point {
        at.checked_sub(1).map_or(self.start, |i| self.ways[i].exit)
    }

    /// Travel from `p` into the burn at place `at`; none after the last.
    pub fn way_into(&self, p: Point, at: usize) -> f64 {
        self.ways.get(at).map_or(0.0, |w| distance(p, w.entry))
    }

    /// All travel.
    pub fn length(&self) -> f64 {
        (0..self.ways.len()).map(|i| self.way_into(self.exit_before(i), i)).sum()
    }

    /// What turning the stretch round saves; `None` when a rule forbids it.
    pub fn turn_gain(&self, i: usize, j: usize) -> Option<f64> {
        if i > j || j >= self.ways.len() || self.clash[i] <= j {
            return None;
        }
        let from = self.exit_before(i);
        let (first, last) = (self.ways[i].entry, self.ways[j].exit);
        let was = distance(from, first) + self.way_into(last, j + 1);
        Some(was - distance(from, last) - self.way_into(first, j + 1))
    }

    /// What moving a stretch saves; `None` when a rule forbids it.
    pub fn move_gain(&self, from: usize, count: usize, to: usize, turned: bool) -> Option<f64> {
        let end = from + count;
        if count == 0 || end > self.ways.len() || to > self.ways.len() || (from..=end).contains(&to) {
            return None;
        }
        if turned && self.clash[from] < end {
            return None;
        }
        // Rules between the moved burns themselves move along with them.
        let free = if to < from {
            (from..end)
                .all(|k| self.before[self.ways[k].burn].iter().all(|&b| !(to..from).contains(&self.place[b])))
        } else {
            (from..end)
                .all(|k| self.after[self.ways[k].burn].iter().all(|&b| !(end..to).contains(&self.place[b])))
        };
        if !free {
            return None;
        }
        let (first, last) = (self.ways[from].entry, self.ways[end - 1].exit);
        let (first, last) = if turned { (last, first) } else { (first, last) };
        let out = self.exit_before(from);
        let closed_up = self.way_into(out, end);
        let was = self.way_into(out, from) + self.way_into(self.ways[end - 1].exit, end);
        let p = self.exit_before(to);
        let now = distance(p, first) + self.way_into(last, to) - self.way_into(p, to);
        Some(was - closed_up - now)
    }

    /// Makes a change that no rule forbids.
    pub fn make(&mut self, change: Change) {
        match change {
            Change::Turn(i, j) => {
                self.ways[i..=j].reverse();
                self.ways[i..=j].iter_mut().for_each(|w| *w = w.turned());
            }
            Change::Move { from, count, to, turned } => {
                if turned {
                    self.ways[from..from + count].reverse();
                    self.ways[from..from + count].iter_mut().for_each(|w| *w = w.turned());
                }
                if to < from {
                    self.ways[to..from + count].rotate_right(count);
                } else {
                    self.ways[from..to].rotate_left(count);
                }
            }
        }
        self.index();
    }
}
