//! Shorter travel by small exchanges that keep the rules of burn order.

use super::Burn;
use crate::shape::{Point, distance};

/// Exchanges looked at before improving ends, so that a huge pass ends too; about a second's work.
const MOST_TRIES: usize = 40_000_000;

/// An exchange must save more than this to count, mm: keeps rounding from going round in circles.
const LEAST_GAIN_MM: f64 = 1e-6;

/// How often the starts of closed burns are chosen again.
const ROUNDS: usize = 6;

/// How one burn is burnt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    pub burn: usize,
    /// Closed burns: the point it begins at.
    pub begin: usize,
    /// Open burns: burnt from its last point.
    pub reversed: bool,
    pub entry: Point,
    pub exit: Point,
}

impl Way {
    /// The way into `burns[burn]` that is nearest to `head`. Burns have at least one point.
    pub fn nearest(burns: &[Burn], burn: usize, head: Point) -> Way {
        let b = &burns[burn];
        if b.closed {
            return Way::begun(b, burn, |p| distance(head, p));
        }
        let (first, last) = ends(b);
        let reversed = distance(head, last) < distance(head, first);
        let (entry, exit) = if reversed { (last, first) } else { (first, last) };
        Way { burn, begin: 0, reversed, entry, exit }
    }

    fn begun(b: &Burn, burn: usize, cost: impl Fn(Point) -> f64) -> Way {
        let mut best = (f64::INFINITY, 0, Point::default());
        for (k, &p) in b.path.iter().enumerate() {
            let c = cost(p);
            if c < best.0 {
                best = (c, k, p);
            }
        }
        Way { burn, begin: best.1, reversed: false, entry: best.2, exit: best.2 }
    }

    fn turned(self) -> Way {
        Way { reversed: !self.reversed, entry: self.exit, exit: self.entry, ..self }
    }
}

fn ends(b: &Burn) -> (Point, Point) {
    (b.path.first().copied().unwrap_or_default(), b.path.last().copied().unwrap_or_default())
}

/// Burns in an order that keeps the rules.
pub(super) struct Tour<'a> {
    pub ways: Vec<Way>,
    start: Point,
    before: &'a [Vec<usize>],
    after: Vec<Vec<usize>>,
    place: Vec<usize>,
    /// For every place i the nearest place j > i whose burn must follow one that stands in i..j.
    clash: Vec<usize>,
    tries: usize,
}

impl<'a> Tour<'a> {
    pub fn new(ways: Vec<Way>, before: &'a [Vec<usize>], start: Point) -> Tour<'a> {
        let mut after = vec![Vec::new(); before.len()];
        for (i, list) in before.iter().enumerate() {
            for &j in list {
                after[j].push(i);
            }
        }
        let mut tour = Tour { ways, start, before, after, place: Vec::new(), clash: Vec::new(), tries: 0 };
        tour.index();
        tour
    }

    pub fn improve(&mut self, burns: &[Burn]) {
        for _ in 0..ROUNDS {
            let mut better = false;
            while self.tries < MOST_TRIES && (self.two_opt() | self.or_opt()) {
                better = true;
            }
            better |= self.begin_again(burns);
            if !better {
                break;
            }
        }
    }

    fn index(&mut self) {
        let n = self.ways.len();
        self.place = vec![usize::MAX; self.before.len()];
        for (at, way) in self.ways.iter().enumerate() {
            self.place[way.burn] = at;
        }
        self.clash = vec![n; n + 1];
        for at in 0..n {
            if let Some(last) = self.last_before(at) {
                self.clash[last] = self.clash[last].min(at);
            }
        }
        for at in (0..n).rev() {
            self.clash[at] = self.clash[at].min(self.clash[at + 1]);
        }
    }

    fn last_before(&self, at: usize) -> Option<usize> {
        self.before[self.ways[at].burn].iter().map(|&b| self.place[b]).max()
    }

    fn exit(&self, at: Option<usize>) -> Point {
        at.map_or(self.start, |i| self.ways[i].exit)
    }

    /// Travel from `p` into the burn at place `at`; none after the last.
    fn way_into(&self, p: Point, at: usize) -> f64 {
        self.ways.get(at).map_or(0.0, |w| distance(p, w.entry))
    }

    /// Turns a stretch of the order round where that shortens travel.
    fn two_opt(&mut self) -> bool {
        let mut better = false;
        let n = self.ways.len();
        for i in 0..n {
            let from = self.exit(i.checked_sub(1));
            let old = distance(from, self.ways[i].entry);
            let mut best = (LEAST_GAIN_MM, None);
            for j in i..self.clash[i].min(n) {
                self.tries += 1;
                let was = old + self.way_into(self.ways[j].exit, j + 1);
                let now = distance(from, self.ways[j].exit) + self.way_into(self.ways[i].entry, j + 1);
                if was - now > best.0 {
                    best = (was - now, Some(j));
                }
            }
            if let (_, Some(j)) = best {
                self.ways[i..=j].reverse();
                self.ways[i..=j].iter_mut().for_each(|w| *w = w.turned());
                self.index();
                better = true;
            }
        }
        better
    }

    /// Moves one to three neighbours elsewhere where that shortens travel.
    fn or_opt(&mut self) -> bool {
        let mut better = false;
        for len in 1..=3 {
            let mut i = 0;
            while i + len <= self.ways.len() {
                if let Some((to, turned)) = self.best_move(i, len) {
                    let mut taken: Vec<Way> = self.ways.drain(i..i + len).collect();
                    if turned {
                        taken.reverse();
                        taken.iter_mut().for_each(|w| *w = w.turned());
                    }
                    let to = if to > i { to - len } else { to };
                    self.ways.splice(to..to, taken);
                    self.index();
                    better = true;
                }
                i += 1;
            }
        }
        better
    }

    /// The place in front of which the burns `i..i+len` are best put, and whether turned round.
    fn best_move(&mut self, i: usize, len: usize) -> Option<(usize, bool)> {
        let end = i + len;
        let (first, last) = (self.ways[i].entry, self.ways[end - 1].exit);
        let from = self.exit(i.checked_sub(1));
        let gain = distance(from, first) + self.way_into(last, end) - self.way_into(from, end);
        if gain <= LEAST_GAIN_MM {
            return None;
        }
        let may_turn = self.clash[i] >= end;
        // Rules between the moved burns themselves move along with them.
        let places =
            |rules: &'a [Vec<usize>], k: usize| rules[self.ways[k].burn].iter().map(|&b| self.place[b]);
        let low = (i..end).flat_map(|k| places(self.before, k)).filter(|&p| p < i).max().map_or(0, |p| p + 1);
        let after = |k: usize| self.after[self.ways[k].burn].iter().map(|&b| self.place[b]);
        let high = (i..end).flat_map(after).filter(|&p| p >= end).min().unwrap_or(usize::MAX);
        let mut best = (LEAST_GAIN_MM, None);
        for to in (low..i).chain(end + 1..=self.ways.len().min(high)) {
            self.tries += 1;
            let p = self.exit(to.checked_sub(1));
            let open = self.way_into(p, to);
            let straight = distance(p, first) + self.way_into(last, to) - open;
            let turned = distance(p, last) + self.way_into(first, to) - open;
            if gain - straight > best.0 {
                best = (gain - straight, Some((to, false)));
            }
            if may_turn && gain - turned > best.0 {
                best = (gain - turned, Some((to, true)));
            }
        }
        best.1
    }

    /// Lets every closed burn begin where the way in and out is shortest.
    fn begin_again(&mut self, burns: &[Burn]) -> bool {
        let mut better = false;
        for i in 0..self.ways.len() {
            let (way, from) = (self.ways[i], self.exit(i.checked_sub(1)));
            let burn = &burns[way.burn];
            if !burn.closed {
                continue;
            }
            let cost = |p: Point| distance(from, p) + self.way_into(p, i + 1);
            let new = Way::begun(burn, way.burn, cost);
            if cost(way.entry) - cost(new.entry) > LEAST_GAIN_MM {
                self.ways[i] = new;
                better = true;
            }
        }
        better
    }
}
