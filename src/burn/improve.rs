//! Shorter travel by small exchanges that keep the rules of burn order.
//!
//! Local search with 2-opt and Or-opt moves over nearest neighbours (Croes 1958, Operations Research 6; Or 1976;
//! Bentley 1992, ORSA Journal on Computing 4), then kicks: two neighbouring stretches change places, what is near is
//! searched again, and the kick is kept when it pays (Martin, Otto and Felten 1991, Complex Systems 5).

use rstar::RTree;
use rstar::primitives::GeomWithData;

use super::tour::{Change, Doors, Tour};
use crate::lay::chance::Chance;
use crate::shape::Point;

/// An exchange must save more than this to count, mm: keeps rounding from going round in circles.
const LEAST_GAIN_MM: f64 = 1e-6;

/// Neighbours of a burn that exchanges are looked for among.
const NEIGHBOURS: usize = 8;

/// Kicks for every burn, and kicks times burns in all: about a second's work.
const KICKS_PER_BURN: usize = 120;
const MOST_KICKS: usize = 6_000_000;

/// Beyond this many burns a kick costs more than it wins.
const MOST_TO_KICK: usize = 3_000;

/// Longest stretch a kick moves.
const LONGEST_KICK: usize = 30;

/// Spots of a closed burn by which its neighbours are found.
const SPOTS: usize = 8;

/// Shortens `tour`, whose burns have these `doors`. Same input, same order.
pub(super) fn improve(tour: &mut Tour, doors: &[Doors]) {
    let n = tour.ways.len();
    if n < 2 {
        return;
    }
    let near = neighbours(doors);
    let mut search = Search { doors, near: &near, queue: Vec::new(), waits: vec![false; doors.len()] };
    for at in (0..n).rev() {
        search.look_at(tour.ways[at].burn);
    }
    search.descend(tour);
    if !(4..=MOST_TO_KICK).contains(&n) {
        return;
    }
    let mut chance = Chance::new(n as u64, 0);
    let mut best = tour.length();
    let mut kept = tour.clone();
    for _ in 0..(KICKS_PER_BURN * n).min(MOST_KICKS / n) {
        let Some(kick) = kick(tour, &mut chance) else { continue };
        let Change::Move { from, count, to, .. } = kick else { continue };
        let seams = [
            from.checked_sub(1),
            Some(from),
            Some(from + count - 1),
            Some(from + count),
            Some(to - 1),
            Some(to),
        ];
        for at in seams.into_iter().flatten().filter(|&at| at < n) {
            search.look_at(tour.ways[at].burn);
        }
        tour.make(kick);
        search.descend(tour);
        let length = tour.length();
        if length < best - LEAST_GAIN_MM {
            best = length;
            kept.clone_from(tour);
        } else {
            tour.clone_from(&kept);
        }
    }
}

/// Two neighbouring stretches change places.
fn kick(tour: &Tour, chance: &mut Chance) -> Option<Change> {
    let n = tour.ways.len();
    let longest = LONGEST_KICK.min(n / 2);
    let (count, other) = (1 + chance.below(longest), 1 + chance.below(longest));
    let from = chance.below(n);
    let to = from + count + other;
    tour.move_gain(from, count, to, false)?;
    Some(Change::Move { from, count, to, turned: false })
}

/// For every burn the nearest others, by their ends and some of their starts.
fn neighbours(doors: &[Doors]) -> Vec<Vec<usize>> {
    let spots = |d: &Doors| -> Vec<Point> {
        match d {
            Doors::Open(a, b) if a == b => vec![*a],
            Doors::Open(a, b) => vec![*a, *b],
            Doors::Closed(all) => {
                all.iter().step_by(all.len().div_ceil(SPOTS).max(1)).map(|s| s.at).collect()
            }
        }
    };
    let all: Vec<Vec<Point>> = doors.iter().map(spots).collect();
    let entries =
        all.iter().enumerate().flat_map(|(i, s)| s.iter().map(move |p| GeomWithData::new([p.x, p.y], i)));
    let tree = RTree::bulk_load(entries.collect());
    let of = |i: usize| {
        let mut near: Vec<(f64, usize)> = Vec::new();
        for p in &all[i] {
            let mut met: Vec<usize> = Vec::new();
            for (entry, d) in tree.nearest_neighbor_iter_with_distance_2(&[p.x, p.y]) {
                if entry.data != i && !met.contains(&entry.data) {
                    met.push(entry.data);
                    near.push((d, entry.data));
                }
                if met.len() == NEIGHBOURS {
                    break;
                }
            }
        }
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut first: Vec<usize> = Vec::new();
        for (_, j) in near {
            if !first.contains(&j) {
                first.push(j);
            }
        }
        first.truncate(NEIGHBOURS);
        first
    };
    (0..doors.len()).map(of).collect()
}

/// Burns whose surroundings changed, searched one after the other.
struct Search<'a> {
    doors: &'a [Doors],
    near: &'a [Vec<usize>],
    queue: Vec<usize>,
    waits: Vec<bool>,
}

impl Search<'_> {
    fn look_at(&mut self, burn: usize) {
        if !std::mem::replace(&mut self.waits[burn], true) {
            self.queue.push(burn);
        }
    }

    fn descend(&mut self, tour: &mut Tour) {
        while let Some(burn) = self.queue.pop() {
            self.waits[burn] = false;
            while self.begin_again(tour, burn) || self.exchange(tour, burn) {}
        }
    }

    /// Lets the burn begin where the way in and out is shortest.
    fn begin_again(&mut self, tour: &mut Tour, burn: usize) -> bool {
        let at = tour.place[burn];
        let from = tour.exit_before(at);
        let cost =
            |entry: Point, exit: Point| crate::shape::distance(from, entry) + tour.way_into(exit, at + 1);
        let new = self.doors[burn].best(burn, cost);
        let old = tour.ways[at];
        if cost(old.entry, old.exit) - cost(new.entry, new.exit) <= LEAST_GAIN_MM {
            return false;
        }
        tour.ways[at] = new;
        self.look_around(tour, at);
        true
    }

    fn look_around(&mut self, tour: &Tour, at: usize) {
        for at in [at.checked_sub(1), Some(at), Some(at + 1)].into_iter().flatten() {
            if let Some(way) = tour.ways.get(at) {
                self.look_at(way.burn);
            }
        }
    }

    /// Makes the best exchange round the burn that saves travel.
    fn exchange(&mut self, tour: &mut Tour, burn: usize) -> bool {
        let at = tour.place[burn];
        let n = tour.ways.len();
        let mut best: Option<(f64, Change)> = None;
        let mut keep = |gain: Option<f64>, change: Change| {
            if let Some(gain) = gain.filter(|g| *g > best.map_or(LEAST_GAIN_MM, |b| b.0)) {
                best = Some((gain, change));
            }
        };
        for &other in &self.near[burn] {
            let there = tour.place[other];
            if there >= n {
                continue;
            }
            let (low, high) = (at.min(there), at.max(there));
            // Out of the one into the end of the other; or into the one from the beginning of the other.
            for (i, j) in [(low + 1, high), (low, high - 1), (low, high)] {
                keep(tour.turn_gain(i, j), Change::Turn(i, j));
            }
            for count in 1..=3 {
                for from in [Some(at), (at + 1).checked_sub(count)].into_iter().flatten() {
                    for to in [there, there + 1] {
                        for turned in [false, true] {
                            let change = Change::Move { from, count, to, turned };
                            keep(tour.move_gain(from, count, to, turned), change);
                        }
                    }
                }
            }
        }
        // To the way's far end, where no burn follows, and with its beginning turned round.
        keep(tour.turn_gain(at, n - 1), Change::Turn(at, n - 1));
        keep(tour.turn_gain(0, at), Change::Turn(0, at));
        keep(tour.move_gain(at, 1, n, false), Change::Move { from: at, count: 1, to: n, turned: false });
        let Some((_, change)) = best else { return false };
        let seams = match change {
            Change::Turn(i, j) => [i.checked_sub(1), Some(i), Some(j), Some(j + 1), None, None],
            Change::Move { from, count, to, .. } => [
                from.checked_sub(1),
                Some(from),
                Some(from + count - 1),
                Some(from + count),
                to.checked_sub(1),
                Some(to),
            ],
        };
        for place in seams.into_iter().flatten().filter(|&p| p < n) {
            self.look_at(tour.ways[place].burn);
        }
        tour.make(change);
        true
    }
}
