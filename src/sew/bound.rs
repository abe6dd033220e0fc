//! How few hoopings a work can be sewn in: a number that no way of sewing it goes below.
//!
//! Three bounds, each true by itself; the greatest counts.
//!
//! **Packing.** Give every item a weight. A hooping sews items that its field holds, and of those at most weight m, the
//! most that any field anywhere can sew. All items are sewn, so it takes at least (sum of weights) / m hoopings, whatever
//! the weights are. The order counts in what a field can sew: where one item waits for a second and that for a third,
//! the first and the third cannot be sewn in one hooping unless the second is as well; where no field holds all three,
//! the lighter of the two is lost at least, and pairs that have nothing in common lose each their own. Good weights are found as for
//! fractional packing (Plotkin, Shmoys, Tardos 1995, Math. Oper. Res. 20): the heaviest field's items are made lighter again and again.
//!
//! **Reach.** Every hooping but the first shares ground for marks with an earlier one, so all fields hang together, each
//! adding at most its side less the shared ground to what they reach across and up.
//!
//! **All ways** of a small work: from what is sewn so far on to what a field can add, as much as it can, the
//! order kept. Sewing more at once never harms, so a shortest way is among those.

use std::collections::BTreeSet;

use super::heaviest::Weighing;
use super::task::{Item, Task};
use crate::shape::{Bounds, Point, pt};

/// Rounding in sums of weights must not add a hooping.
const ROUNDING: f64 = 1e-6;

/// Items that lie within this share of a field's smaller side of each other are first counted as one.
const THIN_SHARE: f64 = 0.25;

/// Times the items that count are chosen anew.
const ROUNDS: usize = 7;

/// Most items added in a round.
const ADDED: usize = 150;

/// Most items looked at.
const EVERY: usize = 5_000;

/// Most items weighed at a time.
const MOST: usize = 1500;

/// An item that the heaviest fields hold less often than this share of what it takes is seldom held.
const SELDOM: f64 = 0.97;

/// Steps of a round.
const STEPS: usize = 2000;

/// Shares of its weight that an item of the heaviest field loses in a step: at first, and when a round ends.
const LOSS: (f64, f64) = (0.2, 0.003);

/// Steps without a better bound before the loss is made smaller.
const PATIENCE: usize = 40;

/// Most pairs kept that no hooping sews both.
const PAIRS: usize = 300;

/// Most items, and most ways, for which all ways are tried.
const FEW: usize = 24;
const WAYS: usize = 500;

/// No way of sewing goes below these numbers of hoopings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Fewest {
    /// Whether or not hoopings share ground for marks.
    pub anyhow: usize,
    /// When each but the first shares ground with an earlier one.
    pub with_marks: usize,
}

/// The fewest hoopings `task` can be sewn in. `shared` is what two fields share at least, across and up, where one finds its
/// place by the other, mm.
pub(super) fn fewest(task: &Task, shared: f64, stopped: &dyn Fn() -> bool) -> Fewest {
    let whole = |bound: f64| (bound - ROUNDING).ceil().max(0.0) as usize;
    let packed = whole(packing(task, stopped));
    let anyhow = usize::from(!task.items.is_empty()).max(packed).max(all_ways(task));
    Fewest { anyhow, with_marks: anyhow.max(whole(reach(task, shared))) }
}

/// Fields that hang together: across and up.
fn reach(task: &Task, shared: f64) -> f64 {
    let all = task.items.iter().fold(Bounds::EMPTY, |all, i| {
        let held = Bounds::new(i.to, i.from + task.size);
        all.union(Bounds::of([held.min, held.max]))
    });
    let along = |extent: f64, side: f64| {
        if extent > side && side > shared { 1.0 + (extent - side) / (side - shared) } else { 0.0 }
    };
    along(all.width(), task.size.x).max(along(all.height(), task.size.y))
}

/// The bound by weights, not yet rounded up.
fn packing(task: &Task, stopped: &dyn Fn() -> bool) -> f64 {
    let every = thinned(task, EVERY);
    let mut chosen = thinned(task, MOST / 4);
    let mut weights = vec![1.0; task.items.len()];
    let mut best = 0.0_f64;
    for round in 0..ROUNDS {
        let items: Vec<&Item> = chosen.iter().map(|&k| &task.items[k]).collect();
        let mut weighing = Weighing::new(items.iter().copied());
        let apart = never_together(task, &chosen);
        let mut now: Vec<f64> = chosen.iter().map(|&k| weights[k]).collect();
        let mut kept = (0.0_f64, now.clone());
        let (mut loss, mut since) = (LOSS.0, 0);
        let mut held = vec![0_u32; every.len()];
        let mut steps = 0_u32;
        for _ in 0..STEPS {
            if stopped() {
                break;
            }
            let counts = |sum: f64, at: Point| sum - lost(&apart, &items, &now, at);
            let (most, Some(at)) = weighing.heaviest(|k| now[k], counts) else { break };
            let bound = now.iter().sum::<f64>() / most;
            if bound > kept.0 * (1.0 + 1e-5) {
                since = 0;
                kept = (bound, now.iter().map(|w| w / most).collect());
            } else {
                since += 1;
            }
            if since > PATIENCE {
                (loss, since) = (loss * 0.5, 0);
                now.clone_from(&kept.1);
                if loss < LOSS.1 * if round + 1 < ROUNDS { 2.0 } else { 1.0 } {
                    break;
                }
                continue;
            }
            for (w, item) in now.iter_mut().zip(&items) {
                *w *= if item.held(at) { 1.0 - loss } else { 1.0 };
            }
            if loss < LOSS.0 {
                steps += 1;
                held.iter_mut().zip(&every).for_each(|(n, &k)| *n += u32::from(task.items[k].held(at)));
            }
        }
        best = best.max(kept.0);
        if round + 1 == ROUNDS || stopped() || steps == 0 {
            break;
        }
        // What the heaviest fields seldom held comes to count; what weighs nothing no longer does.
        let share = |n: u32| kept.0 * f64::from(n) / f64::from(steps);
        let mean = kept.1.iter().sum::<f64>() / kept.1.len().max(1) as f64;
        weights.fill(0.0);
        chosen.iter().zip(&kept.1).for_each(|(&k, w)| weights[k] = *w);
        chosen.retain(|&k| weights[k] > mean * 1e-3);
        let seldom = held.iter().zip(&every).filter(|(n, _)| share(**n) < SELDOM);
        let mut seldom: Vec<(u32, usize)> = seldom.map(|(&n, &k)| (n, k)).collect();
        seldom.sort_unstable();
        let apart = task.size.x.min(task.size.y) * THIN_SHARE / (round + 2) as f64;
        let mut added: Vec<usize> = Vec::new();
        for (_, k) in seldom {
            if added.len() >= ADDED || chosen.len() + added.len() >= MOST {
                break;
            }
            let far = |&j: &usize| between(&task.items[j], &task.items[k]) > apart;
            if !chosen.contains(&k) && added.iter().all(far) {
                weights[k] = mean * 0.3;
                added.push(k);
            }
        }
        if added.is_empty() {
            break;
        }
        chosen.extend(added);
        chosen.sort_unstable();
    }
    best
}

fn between(a: &Item, b: &Item) -> f64 {
    let d = |p: Point, q: Point| (p.x - q.x).abs().max((p.y - q.y).abs());
    d(a.from, b.from).max(d(a.to, b.to))
}

/// Items to begin with: no two that almost the same fields hold.
fn thinned(task: &Task, most: usize) -> Vec<usize> {
    let mut cell = task.size.x.min(task.size.y) * if most > MOST { THIN_SHARE / 16.0 } else { THIN_SHARE };
    loop {
        let at = |v: f64| (v / cell).floor() as i64;
        let mut seen = BTreeSet::new();
        let new = |k: &usize| {
            let i = &task.items[*k];
            seen.insert([at(i.from.x), at(i.from.y), at(i.to.x), at(i.to.y)])
        };
        let chosen: Vec<usize> = (0..task.items.len()).filter(new).collect();
        if chosen.len() <= most || cell > task.size.x.max(task.size.y) {
            return chosen;
        }
        cell *= 1.3;
    }
}

/// Pairs of the items chosen that no hooping sews both, by their places among those: the second waits for an item that waits
/// for the first, and no field holds all three.
fn never_together(task: &Task, chosen: &[usize]) -> Vec<[usize; 2]> {
    let mut out = Vec::new();
    for (last, &k) in chosen.iter().enumerate() {
        for &j in &task.items[k].after {
            for &i in &task.items[j].after {
                let Ok(first) = chosen.binary_search(&i) else { continue };
                if out.len() < PAIRS && !together([i, j, k].map(|n| &task.items[n])) {
                    out.push([first, last]);
                }
            }
        }
    }
    out.sort_unstable();
    out.dedup();
    out
}

/// True when a field holds all three.
fn together(items: [&Item; 3]) -> bool {
    let least = |of: fn(&Item) -> f64| items.iter().map(|i| of(i)).fold(f64::INFINITY, f64::min);
    let most = |of: fn(&Item) -> f64| items.iter().map(|i| of(i)).fold(f64::NEG_INFINITY, f64::max);
    most(|i| i.from.x) <= least(|i| i.to.x) && most(|i| i.from.y) <= least(|i| i.to.y)
}

/// Weight that a field at `at` holds and cannot sew: of pairs that have no item in common, the lighter of each.
fn lost(apart: &[[usize; 2]], items: &[&Item], weights: &[f64], at: Point) -> f64 {
    let mut taken = BTreeSet::new();
    let mut sum = 0.0;
    for &[a, b] in apart {
        if [a, b].iter().all(|&k| items[k].held(at) && !taken.contains(&k)) {
            taken.extend([a, b]);
            sum += weights[a].min(weights[b]);
        }
    }
    sum
}

/// The fewest of all ways; 0 where there are too many to try.
fn all_ways(task: &Task) -> usize {
    if task.items.len() > FEW {
        return 0;
    }
    let every = (1_u32 << task.items.len()) - 1;
    let held = |at: Point| {
        task.items.iter().enumerate().fold(0_u32, |set, (k, i)| set | (u32::from(i.held(at)) << k))
    };
    let corners = task.items.iter().flat_map(|a| task.items.iter().map(|b| held(pt(a.from.x, b.from.y))));
    let fields: BTreeSet<u32> = corners.collect();
    let mut reached = BTreeSet::from([0_u32]);
    for hoopings in 0.. {
        if reached.contains(&every) {
            return hoopings;
        }
        let next: BTreeSet<u32> =
            reached.iter().flat_map(|&done| fields.iter().map(move |&f| sewn_on(task, done, f))).collect();
        // What is sewn with more besides is as good.
        let mut most: Vec<u32> = Vec::new();
        let mut sets: Vec<u32> = next.into_iter().collect();
        sets.sort_by_key(|s| (std::cmp::Reverse(s.count_ones()), *s));
        for set in sets {
            if !most.iter().any(|m| set & !m == 0) {
                most.push(set);
            }
        }
        if most.len() > WAYS || most.iter().all(|s| reached.contains(s)) {
            return 0;
        }
        reached = most.into_iter().collect();
    }
    0
}

/// What is sewn when a field that holds `field` goes on with `done`, as much as can be.
fn sewn_on(task: &Task, mut done: u32, field: u32) -> u32 {
    for (k, item) in task.items.iter().enumerate() {
        let beneath =
            |p: &usize| task.items.iter().enumerate().any(|(j, i)| i.piece == *p && done & (1 << j) != 0);
        let free =
            item.after.iter().all(|&b| done & (1 << b) != 0) && task.upon[item.piece].iter().all(beneath);
        if field & (1 << k) != 0 && free {
            done |= 1 << k;
        }
    }
    done
}
