//! Pieces spread over the cloths of a stock, cloth by cloth.

use std::collections::BTreeSet;
use std::time::Instant;

use crate::say::Watch;
use crate::shape::tol;

use super::compute::Request;
use super::either;
use super::locked::Locked;
use super::model::ChoiceEnded;
use super::places::Single;
use super::search::{Budget, Deaf};
use super::task::Found;

/// Which single pieces are cut from which cloth.
pub struct Shared {
    /// For each cloth its pieces, in order.
    pub on_cloth: Vec<Vec<Single>>,
    /// For each cloth a lay of just these pieces that fits it, where one was found on the way.
    pub known: Vec<Option<Found>>,
    /// For each cloth of a stock why the choice among its cloths ended before all was tried.
    pub ended: Vec<Option<ChoiceEnded>>,
}

impl Shared {
    /// Nothing shared out yet.
    pub fn new(cloths: usize) -> Shared {
        Shared { on_cloth: vec![Vec::new(); cloths], known: vec![None; cloths], ended: vec![None; cloths] }
    }
}

/// Pieces that go on one cloth together.
#[derive(Clone, Debug)]
pub(super) struct Unit {
    pub singles: Vec<Single>,
    pub area: f64,
    pub largest: f64,
}

/// Moves spent on a try: least and most, and as a share of the whole effort.
const MOVES: (u64, u64) = (300, 3_000);

/// A try takes at most this share of what is left of the seconds for choosing. Once they are used up a try is a first lay
/// and no more.
const FOR_A_TRY: f64 = 0.1;

/// Pieces of one stock being shared out.
pub(super) struct Sharing<'a> {
    pub request: &'a Request<'a>,
    pub locked: &'a [Locked],
    pub watch: &'a dyn Watch,
    /// Lays that may still be tried, and moves for all of them together.
    pub tries_left: usize,
    /// See `tries_left`.
    pub moves_left: u64,
    /// When choosing should end, by the clock.
    pub clock: Option<Instant>,
    /// Why something was not tried, or not for as long as it might have been.
    pub ended: Option<ChoiceEnded>,
}

/// Orders in which pieces and cloths are gone through, until one of them leaves nothing over.
#[derive(Clone, Copy, Debug)]
pub(super) enum Order {
    /// The largest pieces first, the roomiest cloth first, so that few are needed.
    Area,
    /// The longest pieces first.
    Length,
    /// The largest pieces first, on the smallest cloth that takes them.
    Tight,
}

impl Sharing<'_> {
    /// Goes through the cloths in an order. Returns those that took some, and the units left over.
    pub fn spread(
        &mut self,
        order: Order,
        mut units: Vec<Unit>,
        by_room: &[usize],
        room: &[f64],
        shared: &mut Shared,
    ) -> (Vec<usize>, Vec<Unit>) {
        let pieces = self.request.pieces;
        let long = |u: &Unit| {
            let long = |s: &Single| {
                let b = pieces[s.0].cut.bounds();
                b.width().max(b.height())
            };
            u.singles.iter().map(long).fold(0.0, f64::max)
        };
        if let Order::Length = order {
            units.sort_by(|a, b| long(b).total_cmp(&long(a)).then(a.singles.cmp(&b.singles)));
        }
        let mut cloths = by_room.to_vec();
        if !matches!(order, Order::Tight) {
            cloths.reverse();
        }
        // How full the fullest cloth so far is; the next is first tried as full.
        let mut share = None;
        let mut filled = Vec::new();
        for &c in &cloths {
            let before = units.len();
            units = self.fill(c, units, room[c], &mut share, shared);
            if units.len() < before {
                filled.push(c);
            }
            if units.is_empty() {
                break;
            }
        }
        (filled, units)
    }

    /// Puts as many of `units` on cloth `c` as go, in their order, and returns the others.
    fn fill(
        &mut self,
        c: usize,
        mut left: Vec<Unit>,
        room: f64,
        share: &mut Option<f64>,
        shared: &mut Shared,
    ) -> Vec<Unit> {
        let used = |shared: &Shared| -> f64 {
            shared.on_cloth[c].iter().map(|s| self.request.pieces[s.0].cut.area()).sum()
        };
        let fitting = |left: &[Unit], used: f64, room: f64| {
            let mut sum = used;
            left.iter()
                .take_while(|u| {
                    sum += u.area;
                    sum <= room
                })
                .count()
        };
        let used_before = used(shared);
        let mut at_once = share.map_or(left.len(), |share| fitting(&left, used_before, room * share));
        if at_once == 0 {
            at_once = 1;
        }
        let known = share.is_some();
        loop {
            let n = fitting(&left, used(shared), room).min(at_once).min(left.len());
            if n == 0 {
                break;
            }
            if self.put(c, &left[..n], shared) {
                left.drain(..n);
                // As full as the fullest before: more than one by one is hardly to be had.
                at_once = if known { 1 } else { left.len() };
            } else if n > 1 {
                at_once = n / 2;
            } else {
                break;
            }
        }
        // One by one: the first that goes.
        let mut rejected: BTreeSet<Single> = BTreeSet::new();
        while let Some((at, found)) =
            self.first_that_goes(c, &left, room - used(shared), &mut rejected, shared)
        {
            let unit = left.remove(at);
            add(&mut shared.on_cloth[c], &unit.singles);
            shared.known[c] = Some(found);
        }
        let full = used(shared) / room.max(tol::SLIVER_MM2);
        *share = Some(share.map_or(full, |s| s.max(full)));
        left
    }

    /// The first of `left` that goes on cloth `c` besides what lies there, and the lay. Where the first does not, the
    /// smallest is tried: with it all go out that are as large every way (`rejected`). Where that goes, the first that
    /// does is found by halving.
    fn first_that_goes(
        &mut self,
        c: usize,
        left: &[Unit],
        room: f64,
        rejected: &mut BTreeSet<Single>,
        shared: &Shared,
    ) -> Option<(usize, Found)> {
        let with = |unit: &Unit| {
            let mut all = shared.on_cloth[c].clone();
            add(&mut all, &unit.singles);
            all
        };
        loop {
            let open: Vec<usize> = (0..left.len())
                .filter(|k| left[*k].area <= room && !rejected.contains(&left[*k].singles[0]))
                .collect();
            let smallest = *open.iter().min_by(|a, b| left[**a].area.total_cmp(&left[**b].area))?;
            let Some(mut found) = self.lay(c, &with(&left[smallest])) else {
                let as_large = |k: &&usize| **k == smallest || self.as_large(&left[**k], &left[smallest]);
                rejected.extend(open.iter().filter(as_large).map(|k| left[*k].singles[0]));
                if !self.may_try() {
                    return None;
                }
                continue;
            };
            // Up to `low` none is known to go, at `high` one does.
            let mut high = open.iter().position(|k| *k == smallest)?;
            let mut low = 0;
            while low < high {
                let middle = low + (high - low) / 2;
                match self.lay(c, &with(&left[open[middle]])) {
                    Some(lay) => (high, found) = (middle, lay),
                    None => {
                        rejected.insert(left[open[middle]].singles[0]);
                        low = middle + 1;
                    }
                }
            }
            return Some((open[high], found));
        }
    }

    /// True when a unit is as large as another of its rule every way: where that does not go, it hardly does.
    pub fn as_large(&self, one: &Unit, other: &Unit) -> bool {
        let ([(one, _)], [(other, _)]) = (&one.singles[..], &other.singles[..]) else { return false };
        let (one, other) = (&self.request.pieces[*one], &self.request.pieces[*other]);
        let (b, o) = (one.cut.bounds(), other.cut.bounds());
        one.rule == other.rule
            && one.matching == other.matching
            && one.cut.area() >= other.cut.area()
            && b.width() >= o.width()
            && b.height() >= o.height()
    }

    /// Puts all of `units` on cloth `c` if they go.
    pub fn put(&mut self, c: usize, units: &[Unit], shared: &mut Shared) -> bool {
        let mut all = shared.on_cloth[c].clone();
        units.iter().for_each(|u| add(&mut all, &u.singles));
        let Some(found) = self.lay(c, &all) else { return false };
        shared.on_cloth[c] = all;
        shared.known[c] = Some(found);
        true
    }

    /// A lay of `singles` that fits cloth `c`, if a quick search finds one.
    pub fn lay(&mut self, c: usize, singles: &[Single]) -> Option<Found> {
        if !self.may_try() {
            return None;
        }
        let task = either::task(self.request, c, singles, self.locked, self.watch).ok()?;
        self.tries_left -= 1;
        let spec = self.request.spec;
        self.watch.step("lay", 0.0, &format!("{} pieces on {}?", singles.len(), task.cloth.name));
        let moves = spec.effort.map_or(MOVES.1, |e| (u64::from(e) * 1000 / 4).clamp(MOVES.0, MOVES.1));
        let left = self.clock.map(|until| until.saturating_duration_since(Instant::now()));
        let budget = Budget { time: left.map(|l| l.mul_f64(FOR_A_TRY)), moves: Some(moves) };
        // An interrupt, too, leaves the first lay.
        let found = task.search(budget, spec.seed, task.end(), &Deaf(self.watch)).ok()?;
        self.moves_left = self.moves_left.saturating_sub(found.moves);
        let fits = task.fits(found.length);
        if !fits && self.watch.stopped() {
            self.ended = Some(ChoiceEnded::Stopped);
        } else if !fits && found.ended_by_clock {
            self.ended = self.ended.or(Some(ChoiceEnded::Seconds));
        }
        fits.then_some(found)
    }

    /// True while another lay may be tried; where not, what ended the choice is kept.
    pub fn may_try(&mut self) -> bool {
        let open = self.tries_left > 0 && self.moves_left > 0;
        if !open {
            self.ended = self.ended.or(Some(ChoiceEnded::Effort));
        }
        open
    }
}

/// Adds singles in their order.
pub(super) fn add(all: &mut Vec<Single>, singles: &[Single]) {
    all.extend(singles);
    all.sort_unstable();
}
