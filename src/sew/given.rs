//! What each hooping of a sequence sews: so that loose tails wait for few hoopings, and edges change hands seldom.

use super::task::{NEVER, Task};
use crate::lay::chance::Chance;
use crate::shape::Point;

/// What a change of hands on an edge costs against an item sewn within a step of its field's border.
const CHANGE: f64 = 100.0;

/// Depth in a field beyond which deeper is no better, mm: room for the hoop and the foot (common practice, no source).
const DEEP_MM: f64 = 12.0;

/// Ways tried to order the hoopings anew.
const ORDERS: usize = 6_000;

/// How many hoopings more of waiting are put up with on the way to fewer, at first and in the end.
const PUT_UP_WITH: (f64, f64) = (4.0, 0.2);

/// Most looks at an item while hoopings are ordered.
const LOOKS: usize = 40_000_000;

/// Between which hoopings each item can be sewn, all the others being sewn as well.
struct Play {
    latest: Vec<usize>,
}

/// Who waits for whom, from below.
pub(super) struct Above {
    /// By item: those that wait for it.
    then: Vec<Vec<usize>>,
    /// By piece: those that lie on it.
    pieces: Vec<Vec<usize>>,
    /// By piece: its items.
    items: Vec<(usize, usize)>,
}

impl Above {
    /// The waits of `task` turned round.
    pub fn new(task: &Task) -> Above {
        let mut then = vec![Vec::new(); task.items.len()];
        let mut items = vec![(usize::MAX, 0); task.upon.len()];
        for (k, item) in task.items.iter().enumerate() {
            item.after.iter().for_each(|&b| then[b].push(k));
            let own = &mut items[item.piece];
            *own = (own.0.min(k), k + 1);
        }
        let mut pieces = vec![Vec::new(); task.upon.len()];
        for (upper, lower) in task.upon.iter().enumerate() {
            lower.iter().for_each(|&l| pieces[l].push(upper));
        }
        Above { then, pieces, items }
    }
}

/// The latest hooping of every item, given the earliest. Of a piece with others on it one item is held back no longer
/// than those allow: there it is begun.
fn latest(task: &Task, above: &Above, fields: &[Point], earliest: &[usize]) -> Play {
    let mut latest = vec![NEVER; task.items.len()];
    // By piece: the earliest of its items' latest hoopings.
    let mut least = vec![NEVER; task.upon.len()];
    for piece in (0..task.upon.len()).rev() {
        let (from, to) = above.items[piece];
        let cap = above.pieces[piece].iter().map(|&u| least[u]).min().unwrap_or(NEVER);
        let mut begun: Option<(usize, usize)> = None;
        for k in from..to {
            let most = above.then[k].iter().map(|&t| latest[t]).min().unwrap_or(NEVER);
            let held = |most: usize| {
                let last = fields.len().min(most.saturating_add(1));
                (earliest[k]..last).rev().find(|&h| task.items[k].held(fields[h])).unwrap_or(earliest[k])
            };
            latest[k] = held(most);
            if cap != NEVER && earliest[k] <= cap {
                let here = held(most.min(cap));
                if begun.is_none_or(|b| here > b.0) {
                    begun = Some((here, k));
                }
            }
        }
        if let Some((hooping, k)) = begun {
            latest[k] = hooping;
        }
        least[piece] = latest[from..to.max(from)].iter().copied().min().unwrap_or(NEVER);
    }
    Play { latest }
}

/// The hooping of every item; `None` when the sequence does not do.
///
/// With `careful` edges change hands seldom, and the hoopings it lists rather sew something.
///
/// From the lowest piece up, each takes for its items hoopings between those of what lies beneath and the latest that what
/// lies above allows; a choice so made never leaves an item without one.
fn choose(
    task: &Task,
    above: &Above,
    fields: &[Point],
    careful: Option<&[usize]>,
) -> Option<(Vec<usize>, usize)> {
    let (mut earliest, mut begun) = (Vec::new(), Vec::new());
    if task.earliest(fields, &mut earliest, &mut begun, 0) > 0 {
        return None;
    }
    let play = latest(task, above, fields, &earliest);
    let mut given = vec![NEVER; task.items.len()];
    let mut begun = vec![NEVER; task.upon.len()];
    let mut waits = 0;
    for piece in 0..task.upon.len() {
        let (from, to) = above.items[piece];
        if from >= to {
            continue;
        }
        let base = task.upon[piece].iter().map(|&p| begun[p]).filter(|&b| b != NEVER).max().unwrap_or(0);
        let options: Vec<Vec<usize>> = (from..to)
            .map(|k| {
                let item = &task.items[k];
                let least = item.after.iter().map(|&b| given[b]).max().unwrap_or(0).max(base);
                (least..=play.latest[k].min(fields.len() - 1)).filter(|&h| item.held(fields[h])).collect()
            })
            .collect();
        let (first, last) = shortest_span(&options)?;
        let wanted = |h: &usize| careful.is_some_and(|rather| rather.contains(h));
        let (first, last) =
            if options.iter().flatten().any(wanted) { (0, fields.len()) } else { (first, last) };
        let within =
            |o: &Vec<usize>| o.iter().copied().filter(|&h| h >= first && h <= last).collect::<Vec<_>>();
        if let Some(rather) = careful.filter(|_| to - from > 1) {
            let options: Vec<Vec<usize>> = options.iter().map(within).collect();
            for ring in task.rings.iter().filter(|r| r.first().is_some_and(|&k| (from..to).contains(&k))) {
                let own: Vec<&[usize]> = ring.iter().map(|&k| &options[k - from][..]).collect();
                let gain = |h: usize| if rather.contains(&h) { CHANGE / 2.0 } else { 0.0 };
                let cost = |at: usize, h: usize| shallow(task, ring[at], fields[h]) - gain(h);
                for (&k, h) in ring.iter().zip(few_changes(&own, cost)) {
                    given[k] = h;
                }
            }
        } else {
            for (k, own) in (from..to).zip(&options) {
                given[k] = own.iter().copied().find(|&h| h >= first)?;
            }
        }
        let own = &given[from..to];
        let (low, high) = (own.iter().min()?, own.iter().max()?);
        begun[piece] = *low;
        waits += high - low;
    }
    Some((given, waits))
}

/// The first and the last hooping of a piece whose items have these, so that these are near each other; the earliest of
/// equals. `None` when an item has none.
fn shortest_span(options: &[Vec<usize>]) -> Option<(usize, usize)> {
    let mut starts: Vec<usize> = options.iter().flatten().copied().collect();
    starts.sort_unstable();
    starts.dedup();
    let ends = starts.into_iter().filter_map(|first| {
        let end = |o: &Vec<usize>| o.iter().copied().find(|&h| h >= first);
        options.iter().map(end).try_fold(0, |last: usize, e| Some(last.max(e?))).map(|last| (first, last))
    });
    ends.min_by_key(|&(first, last)| (last - first, first))
}

/// From 0, deep in the field, to 1, at its border.
fn shallow(task: &Task, item: usize, field: Point) -> f64 {
    let i = &task.items[item];
    let depth = (field.x - i.from.x).min(i.to.x - field.x).min(field.y - i.from.y).min(i.to.y - field.y);
    1.0 - depth.clamp(0.0, DEEP_MM) / DEEP_MM
}

/// One option for each item of a ring, with as few changes from item to item as can be.
fn few_changes(options: &[&[usize]], cost: impl Fn(usize, usize) -> f64) -> Vec<usize> {
    let Some(first) = options.first() else { return Vec::new() };
    let mut best: Option<(f64, Vec<usize>)> = None;
    // The ring is closed: each option of the first item is tried as the last one's successor.
    for &start in *first {
        let mut sums: Vec<(f64, usize)> = vec![(cost(0, start), start)];
        let mut ways: Vec<Vec<(usize, usize)>> = Vec::new();
        for (at, own) in options.iter().enumerate().skip(1) {
            let cheapest =
                sums.iter().enumerate().min_by(|a, b| a.1.0.total_cmp(&b.1.0)).map(|(k, s)| (k, s.0));
            let Some((cheapest, sum)) = cheapest else { break };
            let mut next = Vec::with_capacity(own.len());
            let mut way = Vec::with_capacity(own.len());
            for &h in *own {
                let same = sums.iter().position(|s| s.1 == h).filter(|&k| sums[k].0 <= sum + CHANGE);
                let (from, so_far) = same.map_or((cheapest, sum + CHANGE), |k| (k, sums[k].0));
                next.push((so_far + cost(at, h), h));
                way.push((h, from));
            }
            ways.push(way);
            sums = next;
        }
        let closed = |s: &(f64, usize)| s.0 + if s.1 == start { 0.0 } else { CHANGE };
        let end = sums.iter().enumerate().min_by(|a, b| closed(a.1).total_cmp(&closed(b.1)));
        let Some((mut at, total)) = end.map(|(k, s)| (k, closed(s))) else { continue };
        if best.as_ref().is_some_and(|b| b.0 <= total) {
            continue;
        }
        let mut chosen = Vec::with_capacity(options.len());
        for way in ways.iter().rev() {
            let (h, from) = way[at];
            chosen.push(h);
            at = from;
        }
        chosen.push(start);
        chosen.reverse();
        best = Some((total, chosen));
    }
    best.map_or_else(Vec::new, |b| b.1)
}

/// `fields` in an order in which loose tails wait for few hoopings, and what each then sews. Hoopings that sew nothing go.
/// `unlinked` counts hoopings without marks, which become no more.
pub(super) fn given(
    task: &Task,
    mut fields: Vec<Point>,
    unlinked: &dyn Fn(&[Point]) -> usize,
    stopped: &dyn Fn() -> bool,
) -> Option<(Vec<Point>, Vec<usize>)> {
    let above = Above::new(task);
    let mut chance = Chance::new(2, 0);
    let (_, mut now) = choose(task, &above, &fields, None)?;
    let mut lost = unlinked(&fields);
    let mut best = (lost, now, fields.clone());
    let looks = task.items.len() * (1 + fields.len() / 32);
    let orders = if fields.len() > 2 { ORDERS.min(LOOKS / looks.max(1)) } else { 0 };
    for k in 0..orders {
        if (best.0 == 0 && best.1 == 0) || stopped() {
            break;
        }
        // Some hoopings that follow each other go elsewhere, now and then the other way round.
        let (from, count) = (chance.below(fields.len()), 1 + chance.below(4));
        let mut next = fields.clone();
        let mut some: Vec<Point> = next.drain(from..(from + count).min(fields.len())).collect();
        if chance.below(3) == 0 {
            some.reverse();
        }
        let to = chance.below(next.len() + 1);
        next.splice(to..to, some);
        if next == fields {
            continue;
        }
        let without = unlinked(&next);
        if without > lost {
            continue;
        }
        // Simulated annealing (Kirkpatrick, Gelatt, Vecchi 1983, Science 220).
        let (warm, cold) = PUT_UP_WITH;
        let heat = warm * libm::pow(cold / warm, k as f64 / orders as f64);
        let more = -heat * libm::log(1.0 - chance.unit());
        if let Some((_, waits)) = choose(task, &above, &next, None)
            && (without < lost || waits as f64 <= now as f64 + more)
        {
            (fields, lost, now) = (next, without, waits);
            if (lost, now) < (best.0, best.1) {
                best = (lost, now, fields.clone());
            }
        }
    }
    let (lost, _, fields) = best;
    let mut given = choose(task, &above, &fields, Some(&[]))?.0;
    let idle: Vec<usize> = (0..fields.len()).filter(|h| !given.contains(h)).collect();
    let needed = |h: &usize| {
        let mut without = fields.clone();
        without.remove(*h);
        unlinked(&without) > lost
    };
    let needed: Vec<usize> = idle.into_iter().filter(needed).collect();
    if !needed.is_empty() {
        // By way of them others find their place: they sew what they can.
        given = choose(task, &above, &fields, Some(&needed))?.0;
    }
    let used: Vec<usize> = (0..fields.len()).filter(|h| given.contains(h)).collect();
    given.iter_mut().for_each(|g| *g = used.binary_search(g).unwrap_or(0));
    Some((used.into_iter().map(|h| fields[h]).collect(), given))
}

/// The fields moved to where what they sew lies in their middle, where they share room for marks as before.
pub(super) fn centred(
    task: &Task,
    fields: &[Point],
    given: &[usize],
    unlinked: &dyn Fn(&[Point]) -> usize,
) -> Vec<Point> {
    let mut out = fields.to_vec();
    let lost = unlinked(fields);
    for h in 0..out.len() {
        let own = || task.items.iter().zip(given).filter(|(_, g)| **g == h).map(|(i, _)| i);
        let least = |of: fn(&super::task::Item) -> f64| own().map(of).fold(f64::INFINITY, f64::min);
        let most = |of: fn(&super::task::Item) -> f64| own().map(of).fold(f64::NEG_INFINITY, f64::max);
        let low = crate::shape::pt(most(|i| i.from.x), most(|i| i.from.y));
        let high = crate::shape::pt(least(|i| i.to.x), least(|i| i.to.y));
        let before = std::mem::replace(&mut out[h], (low + high) / 2.0);
        if !(low.x <= high.x && low.y <= high.y) || unlinked(&out) > lost {
            out[h] = before;
        }
    }
    out
}
