//! The fewest fields, and their order, that do for a work.
//!
//! A greedy walk gives a first sequence. Then again and again a field is taken out and the others are moved and put in
//! another order until they do without it. This is local search for set covering, in which items that stay without a
//! hooping come to weigh more (Gao, Weise, Li 2015, "An efficient local search heuristic with row weighting for the
//! unicost set covering problem", EJOR 246), with two things more: a field may stand anywhere, so that the best place for one is
//! worked out, and hoopings have an order, so that the best turn for it is tried out.

use super::before::NEAR_MM;
use super::heaviest::heaviest;
use super::task::{Item, Task};
use crate::lay::chance::Chance;
use crate::shape::{Point, distance, pt};

/// Work spent at most, in items looked at.
pub(super) struct Effort {
    left: u64,
}

impl Effort {
    /// So many looks at an item.
    pub fn new(looks: u64) -> Effort {
        Effort { left: looks }
    }

    fn take(&mut self, looks: usize) {
        self.left = self.left.saturating_sub(looks as u64);
    }

    fn spent(&self) -> bool {
        self.left == 0
    }
}

/// What the search must know besides the task.
pub(super) struct Search<'a> {
    task: &'a Task,
    /// True when two fields share room for marks.
    linked: &'a (dyn Fn(Point, Point) -> bool + Sync),
    /// Hoopings that can have no marks, since nothing else is near.
    apart: usize,
    /// True once the maker has asked to stop.
    stopped: &'a (dyn Fn() -> bool + Sync),
    /// By item: waits for something or is waited for.
    bound_up: Vec<bool>,
}

/// A hooping without marks to find its place by counts as much as this many items without a hooping.
const UNLINKED: f64 = 20.0;

/// Steps in which hoopings are given marks before a field is taken out all the same.
const STUCK: usize = 400;

/// Steps for which a field that was put in stays.
const STAYS: usize = 4;

/// Most items weighed for the next field of a walk.
const WEIGHED: usize = 1_500;

/// What is sewn so far.
#[derive(Clone)]
struct Sewn {
    items: Vec<bool>,
    begun: Vec<bool>,
    count: usize,
}

impl Sewn {
    /// Sews what of `undone` can be in a field.
    fn sew(&mut self, task: &Task, undone: &[usize], field: Point) {
        for &k in undone {
            let item = &task.items[k];
            let free = item.held(field)
                && item.after.iter().all(|&b| self.items[b])
                && task.upon[item.piece].iter().all(|&p| self.begun[p]);
            if free {
                self.items[k] = true;
                self.begun[item.piece] = true;
                self.count += 1;
            }
        }
    }
}

/// A set of fields in an order, and what it holds.
#[derive(Clone)]
struct State {
    /// In order of work.
    fields: Vec<Point>,
    /// By field in the same order: the step before which it stays.
    stays: Vec<usize>,
    /// By item: the hoopings whose field holds it, rising.
    held: Vec<Vec<u16>>,
    /// By hooping: those it shares room for marks with.
    links: Vec<Vec<u16>>,
}

impl State {
    fn new(search: &Search, fields: Vec<Point>) -> State {
        let task = search.task;
        let hoopings =
            |i: &Item| (0..fields.len()).filter(|&k| i.held(fields[k])).map(|k| k as u16).collect();
        let held = task.items.iter().map(hoopings).collect();
        let links = (0..fields.len())
            .map(|k| {
                let other = |&j: &usize| j != k && (search.linked)(fields[j], fields[k]);
                (0..fields.len()).filter(other).map(|j| j as u16).collect()
            })
            .collect();
        State { stays: vec![0; fields.len()], fields, held, links }
    }

    fn remove(&mut self, at: usize) {
        self.fields.remove(at);
        self.stays.remove(at);
        self.links.remove(at);
        let at = at as u16;
        for list in self.held.iter_mut().chain(&mut self.links) {
            list.retain(|&k| k != at);
            list.iter_mut().filter(|k| **k > at).for_each(|k| *k -= 1);
        }
    }

    fn insert(&mut self, search: &Search, at: usize, field: Point, stays: usize) {
        self.fields.insert(at, field);
        self.stays.insert(at, stays);
        let at = at as u16;
        for list in self.held.iter_mut().chain(&mut self.links) {
            list.iter_mut().filter(|k| **k >= at).for_each(|k| *k += 1);
        }
        let put = |list: &mut Vec<u16>| list.insert(list.partition_point(|&k| k < at), at);
        for (list, item) in self.held.iter_mut().zip(&search.task.items) {
            if item.held(field) {
                put(list);
            }
        }
        self.links.insert(usize::from(at), Vec::new());
        for j in (0..self.fields.len()).filter(|&j| j != usize::from(at)) {
            if (search.linked)(self.fields[j], field) {
                put(&mut self.links[j]);
                self.links[usize::from(at)].push(j as u16);
            }
        }
    }
}

/// The items of a state in runs: successive items of a piece that wait for nothing, that nothing waits for, and that the
/// same fields hold share their fate.
#[derive(Default)]
struct Runs {
    all: Vec<Run>,
    /// By item: its run.
    of: Vec<u32>,
    hoopings: Vec<u32>,
    begun: Vec<u32>,
}

struct Run {
    /// Its first item.
    item: u32,
    weight: f64,
    /// True when the field to be put in holds it.
    put: bool,
}

/// No hooping yet.
const NONE: u32 = u32::MAX;

impl Runs {
    fn build(&mut self, search: &Search, state: &State, put: Option<Point>, weights: &[f64]) {
        let task = search.task;
        self.all.clear();
        self.of.clear();
        let mut alone = false;
        for (k, item) in task.items.iter().enumerate() {
            let holds = put.is_some_and(|field| item.held(field));
            let own = search.bound_up[k];
            match self.all.last_mut() {
                Some(run)
                    if alone
                        && !own
                        && run.put == holds
                        && task.items[run.item as usize].piece == item.piece
                        && state.held[run.item as usize] == state.held[k] =>
                {
                    run.weight += weights[k];
                }
                _ => {
                    self.all.push(Run { item: k as u32, weight: weights[k], put: holds });
                    alone = !own;
                }
            }
            self.of.push(self.all.len() as u32 - 1);
        }
    }

    /// The weight of what has no hooping when the field to be put in has its turn at `turn` (`NONE`: is not put in), or
    /// `limit` when that is not less.
    fn missing(&mut self, search: &Search, state: &State, turn: u32, limit: f64) -> f64 {
        let task = search.task;
        self.hoopings.clear();
        self.begun.clear();
        self.begun.resize(task.upon.len(), NONE);
        let mut cost = 0.0;
        for run in &self.all {
            let item = &task.items[run.item as usize];
            let mut least = 0;
            for &before in &task.upon[item.piece] {
                let begun = self.begun[before];
                least = if begun == NONE { least } else { least.max(begun) };
            }
            for &before in &item.after {
                let done = self.hoopings[self.of[before] as usize];
                least = if done == NONE { least } else { least.max(done) };
            }
            let held =
                state.held[run.item as usize].iter().map(|&h| u32::from(h) + u32::from(u32::from(h) >= turn));
            let mut found = held.into_iter().find(|&h| h >= least).unwrap_or(NONE);
            if run.put && turn >= least && turn < found {
                found = turn;
            }
            self.hoopings.push(found);
            if found == NONE {
                cost += run.weight;
                if cost >= limit {
                    return limit;
                }
            } else {
                self.begun[item.piece] = self.begun[item.piece].min(found);
            }
        }
        cost
    }
}

impl<'a> Search<'a> {
    /// A search; `linked` tells whether two fields share room for marks, `stopped` whether the maker has asked to stop.
    pub fn new(
        task: &'a Task,
        linked: &'a (dyn Fn(Point, Point) -> bool + Sync),
        apart: usize,
        stopped: &'a (dyn Fn() -> bool + Sync),
    ) -> Search<'a> {
        let mut bound_up: Vec<bool> = task.items.iter().map(|i| !i.after.is_empty()).collect();
        for &before in task.items.iter().flat_map(|i| &i.after) {
            bound_up[before] = true;
        }
        Search { task, linked, apart, stopped, bound_up }
    }

    /// A sequence that does, `None` when some item fits in no field.
    ///
    /// Of a few fields the one in which most can be sewn comes next: that which holds most of what waits for nothing any
    /// more, that which holds most of all that is not sewn, and one between.
    pub fn walk(&self) -> Option<Vec<Point>> {
        let task = self.task;
        let mut fields: Vec<Point> = Vec::new();
        let mut sewn =
            Sewn { items: vec![false; task.items.len()], begun: vec![false; task.upon.len()], count: 0 };
        while sewn.count < task.items.len() {
            let undone: Vec<usize> = (0..task.items.len()).filter(|&k| !sewn.items[k]).collect();
            let waits = |k: usize| task.items[k].after.iter().any(|&b| !sewn.items[b]);
            let waits = |k: usize| waits(k) || task.upon[task.items[k].piece].iter().any(|&p| !sewn.begun[p]);
            let (waiting, open): (Vec<usize>, Vec<usize>) = undone.iter().partition(|&&k| waits(k));
            let thin = |all: &[usize]| -> Vec<usize> {
                all.iter().copied().step_by(all.len().div_ceil(WEIGHED).max(1)).collect()
            };
            let (waiting, open) = (thin(&waiting), thin(&open));
            let best = [0.0, 0.3, 1.0].into_iter().filter_map(|later| {
                let waiting = waiting.iter().map(|&k| (&task.items[k], later));
                let all: Vec<_> = open.iter().map(|&k| (&task.items[k], 1.0)).chain(waiting).collect();
                let field = heaviest(&all).1?;
                let mut then = sewn.clone();
                then.sew(task, &undone, field);
                Some((field, then))
            });
            let (field, then) = best.reduce(|a, b| if b.1.count > a.1.count { b } else { a })?;
            if then.count == sewn.count {
                return None;
            }
            fields.push(field);
            sewn = then;
        }
        Some(fields)
    }

    /// `fields` and one more before each hooping that shares room for marks with no earlier one: half-way to the nearest of those.
    pub fn bridged(&self, fields: &[Point]) -> Vec<Point> {
        let mut out: Vec<Point> = Vec::new();
        for &field in fields {
            let linked = out.is_empty() || out.iter().any(|&f| (self.linked)(f, field));
            let nearest = out.iter().min_by(|a, b| distance(**a, field).total_cmp(&distance(**b, field)));
            out.extend(nearest.filter(|_| !linked).map(|&f| (f + field) / 2.0));
            out.push(field);
        }
        out
    }

    /// How many hoopings share room for marks with no earlier one, a field put in at `turn` or not.
    fn unlinked(&self, state: &State, turn: usize, linked: &[bool]) -> usize {
        let lost = |k: usize, links: &Vec<u16>| {
            let first = k == 0 && turn != 0;
            let with_it = turn <= k && linked.get(k) == Some(&true);
            !first && !with_it && links.first().is_none_or(|&j| usize::from(j) > k)
        };
        let lost = state.links.iter().enumerate().filter(|(k, links)| lost(*k, links)).count();
        let itself = turn > 0 && turn <= linked.len() && !linked[..turn].iter().any(|l| *l);
        lost + usize::from(itself)
    }

    fn unlinked_cost(&self, state: &State, turn: usize, linked: &[bool], each: f64) -> f64 {
        each * self.unlinked(state, turn, linked).saturating_sub(self.apart) as f64
    }

    /// As few fields as `effort` finds, not fewer than `least`, beginning with `first`, and how many of the hoopings are without
    /// marks that could have some. One without counts as two; with `marks` care is taken that there are none.
    pub fn fewer(
        &self,
        first: Vec<Point>,
        least: usize,
        marks: bool,
        effort: &mut Effort,
    ) -> (Vec<Point>, usize) {
        let task = self.task;
        let mut chance = Chance::new(1, 0);
        let mut runs = Runs::default();
        let mut weights = vec![1.0; task.items.len()];
        let mut state = State::new(self, first.clone());
        let lost = |state: &State| self.unlinked(state, usize::MAX, &[]).saturating_sub(self.apart);
        let mut best = (first.len() + lost(&state), lost(&state), first);
        let (mut step, mut stuck) = (0, 0);
        let mut unlinked_weight = UNLINKED;
        while !effort.spent() && !(self.stopped)() {
            step += 1;
            effort.take(task.items.len());
            runs.build(self, &state, None, &weights);
            let missing = runs.missing(self, &state, NONE, f64::INFINITY);
            if missing == 0.0 {
                let lost = lost(&state);
                if (state.fields.len() + lost, lost) < (best.0, best.1) {
                    best = (state.fields.len() + lost, lost, state.fields.clone());
                }
                stuck += 1;
                if lost == 0 || !marks || stuck > STUCK {
                    if state.fields.len() <= least.max(1) {
                        break;
                    }
                    let at = self.lightest(&state, &weights, usize::MAX, &mut chance);
                    state.remove(at);
                    stuck = 0;
                    continue;
                }
            }
            // One out …
            let at = if missing == 0.0 {
                let lost = |k: &usize| *k > 0 && state.links[*k].first().is_none_or(|&j| usize::from(j) > *k);
                let lost: Vec<usize> = (0..state.fields.len()).filter(lost).collect();
                let any = chance.below(state.fields.len());
                let one = lost.get(chance.below(lost.len())).copied().unwrap_or(any);
                unlinked_weight += 1.0;
                if chance.below(2) == 0 { any } else { one }
            } else {
                for (k, w) in weights.iter_mut().enumerate() {
                    if runs.hoopings[runs.of[k] as usize] == NONE {
                        *w += 1.0;
                    }
                }
                self.lightest(&state, &weights, step, &mut chance)
            };
            let before = state.fields[at];
            state.remove(at);
            runs.build(self, &state, None, &weights);
            runs.missing(self, &state, NONE, f64::INFINITY);
            effort.take(2 * task.items.len());
            // … and one in, where it holds most of what is missing and one item by all means.
            let Some(place) = self.place(&state, &runs, &weights, before, &mut chance, effort) else { break };
            runs.build(self, &state, Some(place), &weights);
            let linked: Vec<bool> = state.fields.iter().map(|&f| (self.linked)(f, place)).collect();
            let (mut found, mut most) = (0, f64::INFINITY);
            for turn in self.turns(&state.fields, place) {
                let cost = self.unlinked_cost(&state, turn, &linked, unlinked_weight);
                let cost = cost + runs.missing(self, &state, turn as u32, most - cost);
                effort.take(runs.all.len());
                if cost < most {
                    (found, most) = (turn, cost);
                }
            }
            state.insert(self, found, place, step + STAYS);
        }
        (best.2, best.1)
    }

    /// Turns that differ for a field at `place`: before all others, and right after each that is near it.
    fn turns(&self, fields: &[Point], place: Point) -> Vec<usize> {
        let size = self.task.size;
        let near =
            |f: &Point| (f.x - place.x).abs() < size.x + NEAR_MM && (f.y - place.y).abs() < size.y + NEAR_MM;
        let after = fields.iter().enumerate().filter(|(_, f)| near(f)).map(|(k, _)| k + 1);
        std::iter::once(0).chain(after).collect()
    }

    /// Where a field holds the greatest weight of what has no hooping, an item chosen by chance with it; where it may
    /// stand there, so that it shares room for marks with most others.
    fn place(
        &self,
        state: &State,
        runs: &Runs,
        weights: &[f64],
        before: Point,
        chance: &mut Chance,
        effort: &mut Effort,
    ) -> Option<Point> {
        let items = &self.task.items;
        let missing: Vec<usize> =
            (0..items.len()).filter(|&k| runs.hoopings[runs.of[k] as usize] == NONE).collect();
        let Some(&sought) = missing.get(chance.below(missing.len())) else {
            // Nothing misses the field that was taken out: it goes where there are marks.
            let k = chance.below(state.fields.len().max(1));
            return Some(state.fields.get(k).copied().unwrap_or(before));
        };
        let sought = &items[sought];
        let meets = |i: &Item| {
            i.from.x <= sought.to.x
                && i.to.x >= sought.from.x
                && i.from.y <= sought.to.y
                && i.to.y >= sought.from.y
        };
        let near = missing.iter().map(|&k| (&items[k], weights[k])).filter(|i| meets(i.0));
        let mut near: Vec<(&Item, f64)> = near.collect();
        let all: f64 = near.iter().map(|n| n.1).sum();
        near.push((sought, all + 1.0));
        effort.take(near.len() * 8);
        let place = heaviest(&near).1?;
        let held = near.iter().map(|n| n.0).filter(|i| i.held(place));
        let (mut low, mut high) = (sought.from, sought.to);
        for i in held {
            low = pt(low.x.max(i.from.x), low.y.max(i.from.y));
            high = pt(high.x.min(i.to.x), high.y.min(i.to.y));
        }
        let middle = (low + high) / 2.0;
        let links = |p: Point| state.fields.iter().filter(|&&f| (self.linked)(f, p)).count();
        let places = [place, middle, low, high, pt(low.x, high.y), pt(high.x, low.y)];
        let most = places.into_iter().map(links).max()?;
        let good: Vec<Point> = places.into_iter().filter(|&p| links(p) == most).collect();
        good.get(chance.below(good.len())).copied()
    }

    /// The field that can best be done without.
    fn lightest(&self, state: &State, weights: &[f64], step: usize, chance: &mut Chance) -> usize {
        let mut loss = vec![0.0; state.fields.len()];
        for (list, w) in state.held.iter().zip(weights) {
            if let [only] = list[..] {
                loss[usize::from(only)] += w;
            }
        }
        let free = (0..loss.len()).filter(|&k| state.stays[k] <= step);
        let least =
            free.min_by(|&a, &b| loss[a].total_cmp(&loss[b]).then(state.stays[a].cmp(&state.stays[b])));
        least.unwrap_or_else(|| chance.below(loss.len()))
    }
}
