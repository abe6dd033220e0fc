//! Which windows share room for marks, and an order of windows in which each finds its place.

use super::line::FIT_MM;
use super::marks::{MARK_APART_MM, mark_band};
use super::windows::Ground;
use crate::shape::{Bounds, Point, distance, pt};

/// Places tried for a window that has play, each way.
const PLACES: usize = 5;

/// How well two windows are linked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Link {
    /// Cloth enough for marks, and waste for two of them.
    Room,
    /// Cloth enough for marks.
    Cloth,
    /// Too little in common.
    None,
}

/// How the windows are linked; `spots` are waste with room for a mark, `inset` is how far marks stay from the borders of
/// windows.
pub(super) fn link(a: Bounds, b: Bounds, spots: &[Point], inset: f64) -> Link {
    match shared(a, b).filter(|_| linked(a, b, inset)) {
        Some(both) if room_for_marks(both, spots.iter().copied(), inset) => Link::Room,
        Some(_) => Link::Cloth,
        None => Link::None,
    }
}

/// True when the windows share enough cloth for marks.
pub(super) fn linked(a: Bounds, b: Bounds, inset: f64) -> bool {
    let (w, h) = shared(a, b).map_or((0.0, 0.0), |s| (s.width(), s.height()));
    w.min(h) >= mark_band(inset) - FIT_MM && w.max(h) >= MARK_APART_MM + mark_band(inset)
}

/// What two windows share.
pub(super) fn shared(a: Bounds, b: Bounds) -> Option<Bounds> {
    let min = pt(a.min.x.max(b.min.x), a.min.y.max(b.min.y));
    let max = pt(a.max.x.min(b.max.x), a.max.y.min(b.max.y));
    let both = Bounds::new(min, max);
    (!both.is_empty()).then_some(both)
}

/// True when the band has two spots well apart.
pub(super) fn room_for_marks(band: Bounds, spots: impl Iterator<Item = Point>, inset: f64) -> bool {
    let within = band.grown(-inset);
    let round = Bounds::of(spots.filter(|&s| within.contains(s)));
    round.width().max(round.height()) >= MARK_APART_MM
}

/// Which windows are linked to the first, directly or by way of others.
fn reached(set: &[Bounds], link: impl Fn(Bounds, Bounds) -> bool) -> Vec<bool> {
    let mut reached = vec![false; set.len()];
    let mut queue = vec![0];
    while let Some(i) = queue.pop().filter(|&i| i < set.len()) {
        if !std::mem::replace(&mut reached[i], true) {
            queue.extend((0..set.len()).filter(|&j| !reached[j] && link(set[i], set[j])));
        }
    }
    reached
}

/// True when every window can find its place by way of others.
pub(super) fn all_linked(set: &[Bounds], inset: f64) -> bool {
    reached(set, |a, b| linked(a, b, inset)).into_iter().all(|r| r)
}

/// Work spent on drawing windows near, as spots looked at: about eight neighbours each, every round.
const MOST_LOOKED: usize = 400_000_000;

/// The same windows; those that have play and no room for marks with the others are moved to where they have.
pub(super) fn drawn_near(mut set: Vec<Bounds>, ground: &Ground) -> Vec<Bounds> {
    let rooms = |a: Bounds, b: Bounds| link(a, b, ground.spots, ground.inset) == Link::Room;
    let rounds = MOST_LOOKED / (8 * set.len() * ground.spots.len().max(1)).max(1);
    for _ in 0..set.len().min(rounds.max(1)) {
        let reached = reached(&set, rooms);
        let moved = (0..set.len()).filter(|&k| !reached[k]).find_map(|k| {
            let near = |w: Bounds| (0..set.len()).any(|j| reached[j] && rooms(set[j], w));
            places(&set, k, ground).into_iter().find(|&w| near(w)).map(|w| (k, w))
        });
        let Some((k, window)) = moved else { break };
        set[k] = window;
    }
    set
}

/// Where window `k` could stand as well: it keeps what no other window holds, and must not reach what is handed over.
fn places(set: &[Bounds], k: usize, ground: &Ground) -> Vec<Bounds> {
    let size = ground.size;
    let fits = |b: Bounds| b.width() <= size.x + FIT_MM && b.height() <= size.y + FIT_MM;
    let mut own = Bounds::EMPTY;
    for item in ground.items {
        if !(item.outline && fits(item.bounds)) {
            if item.bounds.meets(set[k]) {
                return Vec::new();
            }
        } else if set[k].grown(FIT_MM).holds(item.bounds) {
            let other = |(j, w): (usize, &Bounds)| j != k && w.grown(FIT_MM).holds(item.bounds);
            if !set.iter().enumerate().any(other) {
                own = own.union(item.bounds);
            }
        }
    }
    if own.is_empty() {
        return Vec::new();
    }
    let low = own.max - size;
    let step = (own.min - low) / (PLACES - 1) as f64;
    let grid = (0..PLACES).flat_map(|j| (0..PLACES).map(move |i| pt(i as f64, j as f64)));
    let stand = |g: Point| low + pt(step.x * g.x, step.y * g.y);
    let mut all: Vec<Bounds> = grid.map(stand).map(|min| Bounds::new(min, min + size)).collect();
    // The least move first.
    let here = set[k].min;
    all.sort_by(|a, b| distance(a.min, here).total_cmp(&distance(b.min, here)));
    all
}

/// Adds windows between those that would otherwise have nothing to find their place by.
pub(super) fn joined_up(mut set: Vec<Bounds>, size: Point, inset: f64) -> Vec<Bounds> {
    loop {
        let reached = reached(&set, |a, b| linked(a, b, inset));
        let gaps = (0..set.len()).filter(|&i| reached[i]).flat_map(|i| {
            let other = (0..set.len()).filter(|&j| !reached[j]).collect::<Vec<_>>();
            other.into_iter().map(move |j| (i, j))
        });
        let far = |&(i, j): &(usize, usize)| distance(set[i].min, set[j].min);
        let Some((i, j)) = gaps.min_by(|a, b| far(a).total_cmp(&far(b))) else { return set };
        let way = set[j].min - set[i].min;
        let step = |d: f64, side: f64| d.abs() / (side - mark_band(inset)).max(1.0);
        let steps = step(way.x, size.x).max(step(way.y, size.y)).ceil().max(2.0);
        let between = (1..steps as usize).map(|k| set[i].shifted(way * (k as f64 / steps)));
        let between: Vec<Bounds> = between.collect();
        set.extend(between);
    }
}

/// An order in which every window is linked to an earlier one: from the near left corner, always on to the linked
/// window the cloth has to be moved least for, those with room for marks first. With it, how many windows find no
/// earlier one with room.
pub(super) fn in_turn(mut set: Vec<Bounds>, spots: &[Point], inset: f64) -> (Vec<Bounds>, usize) {
    let near = |a: &Bounds, b: &Bounds| a.min.y.total_cmp(&b.min.y).then(a.min.x.total_cmp(&b.min.x));
    set.sort_by(near);
    // Of every window still to come: its best link to one done.
    let mut best = vec![Link::None; set.len()];
    let mut left: Vec<usize> = (0..set.len()).collect();
    let (mut done, mut without_room): (Vec<Bounds>, usize) = (Vec::with_capacity(set.len()), 0);
    while !left.is_empty() {
        let far = |k: usize| done.last().map_or(0.0, |w| distance(w.min, set[k].min));
        let order = |&(_, a): &(usize, &usize), &(_, b): &(usize, &usize)| {
            best[*a].cmp(&best[*b]).then(far(*a).total_cmp(&far(*b)))
        };
        let Some(slot) = left.iter().enumerate().min_by(order).map(|(slot, _)| slot) else { break };
        let next = left.remove(slot);
        without_room += usize::from(!done.is_empty() && best[next] != Link::Room);
        for &k in &left {
            best[k] = best[k].min(link(set[next], set[k], spots, inset));
        }
        done.push(set[next]);
    }
    (done, without_room)
}
