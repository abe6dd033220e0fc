//! Windows over a cloth that is larger than the bed in both directions.

use super::groups::regrouped;
use super::line::FIT_MM;
use super::marks::{MARK_APART_MM, MARK_BAND_MM, MARK_INSET_MM};
use super::strips::Strips;
use crate::shape::{Bounds, Point, Ring, distance, pt};

/// A closed line to be covered by windows.
#[derive(Clone, Copy, Debug)]
pub(super) struct Item<'a> {
    pub bounds: Bounds,
    /// An outline: a whole piece. False for a cut-out of a piece that is too large for a window.
    pub outline: bool,
    pub ring: &'a Ring,
}

/// What windows are chosen from.
pub(super) struct Ground<'a> {
    pub items: &'a [Item<'a>],
    /// Size of a window: across, along.
    pub size: Point,
    /// Overlap neighbours need that hand a cut over.
    pub band: f64,
    /// What there is of cloth.
    pub cloth: Bounds,
    /// Where a single window across or along would rather begin.
    pub prefer: Point,
    /// Waste with room for a mark, coarsely sampled.
    pub spots: &'a [Point],
}

/// The fewest windows that hold every piece that fits in one and cover the others with bands, in an order in which
/// each has an earlier one it shares room for marks with. Cloth frame.
///
/// The cloth is divided into strips (each as wide as a window) along or across, every piece is given to a strip
/// that holds it, and the windows of a strip are the fewest along its line; both ways of dividing are tried and
/// the strips moved to and fro for fewer windows. Then pieces are regrouped to do without single windows. `None` when
/// the band leaves no way on.
pub(super) fn windows(ground: &Ground) -> Option<Vec<Bounds>> {
    let ways = [false, true].map(|swapped| Strips::new(ground, swapped).best());
    let found: Vec<(usize, u32, Vec<Bounds>)> = ways.into_iter().flatten().collect();
    // Fewest windows, then fewest cuts handed over; strips along the feed on a tie.
    let strips = found.iter().map(|(_, handed, set)| (*handed, joined_up(set.clone(), ground.size)));
    let regrouped = found.iter().flat_map(|(_, handed, set)| {
        regrouped(ground, set).into_iter().map(|set| (*handed, joined_up(set, ground.size)))
    });
    let all = strips.chain(regrouped).map(|(handed, set)| (handed, in_turn(set)));
    let (_, set) = all.min_by_key(|(handed, set)| (set.len(), without_room(set, ground.spots), *handed))?;
    Some(set)
}

/// How many windows find no earlier one with waste for two marks in common.
fn without_room(set: &[Bounds], spots: &[Point]) -> usize {
    let room =
        |a: Bounds, b: Bounds| shared(a, b).is_some_and(|both| room_for_marks(both, spots.iter().copied()));
    (1..set.len()).filter(|&k| !(0..k).any(|j| linked(set[j], set[k]) && room(set[j], set[k]))).count()
}

/// True when the band has two spots well apart.
pub(super) fn room_for_marks(band: Bounds, spots: impl Iterator<Item = Point>) -> bool {
    let within = band.grown(-MARK_INSET_MM);
    let round = Bounds::of(spots.filter(|&s| within.contains(s)));
    round.width().max(round.height()) >= MARK_APART_MM
}

/// True when the windows share enough cloth for marks.
pub(super) fn linked(a: Bounds, b: Bounds) -> bool {
    let (w, h) = shared(a, b).map_or((0.0, 0.0), |s| (s.width(), s.height()));
    w.min(h) >= MARK_BAND_MM - FIT_MM && w.max(h) >= MARK_APART_MM + MARK_BAND_MM
}

/// What two windows share.
pub(super) fn shared(a: Bounds, b: Bounds) -> Option<Bounds> {
    let min = pt(a.min.x.max(b.min.x), a.min.y.max(b.min.y));
    let max = pt(a.max.x.min(b.max.x), a.max.y.min(b.max.y));
    let both = Bounds::new(min, max);
    (!both.is_empty()).then_some(both)
}

/// Adds windows between those that would otherwise have nothing to find their place by.
fn joined_up(mut set: Vec<Bounds>, size: Point) -> Vec<Bounds> {
    loop {
        let mut reached = vec![false; set.len()];
        let mut queue = vec![0];
        while let Some(i) = queue.pop().filter(|&i| i < set.len()) {
            if !std::mem::replace(&mut reached[i], true) {
                queue.extend((0..set.len()).filter(|&j| !reached[j] && linked(set[i], set[j])));
            }
        }
        let gaps = (0..set.len()).filter(|&i| reached[i]).flat_map(|i| {
            let other = (0..set.len()).filter(|&j| !reached[j]).collect::<Vec<_>>();
            other.into_iter().map(move |j| (i, j))
        });
        let far = |&(i, j): &(usize, usize)| distance(set[i].min, set[j].min);
        let Some((i, j)) = gaps.min_by(|a, b| far(a).total_cmp(&far(b))) else { return set };
        let way = set[j].min - set[i].min;
        let step = |d: f64, side: f64| d.abs() / (side - MARK_BAND_MM).max(1.0);
        let steps = step(way.x, size.x).max(step(way.y, size.y)).ceil().max(2.0);
        let between = (1..steps as usize).map(|k| set[i].shifted(way * (k as f64 / steps)));
        let between: Vec<Bounds> = between.collect();
        set.extend(between);
    }
}

/// An order in which every window is linked to an earlier one: from the near left corner, always on to the linked
/// window the cloth has to be moved least for.
fn in_turn(mut left: Vec<Bounds>) -> Vec<Bounds> {
    let near = |a: &Bounds, b: &Bounds| a.min.y.total_cmp(&b.min.y).then(a.min.x.total_cmp(&b.min.x));
    left.sort_by(near);
    let mut done: Vec<Bounds> = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let here = done.last().map_or(pt(f64::MIN, f64::MIN) / 1e300, |w| w.min);
        let may = |w: &Bounds| done.is_empty() || done.iter().any(|d| linked(*d, *w));
        let far = |w: &Bounds| if done.is_empty() { 0.0 } else { distance(w.min, here) };
        let next = (0..left.len()).min_by(|&i, &j| {
            (!may(&left[i])).cmp(&!may(&left[j])).then(far(&left[i]).total_cmp(&far(&left[j])))
        });
        done.push(left.remove(next.unwrap_or(0)));
    }
    done
}

#[cfg(test)]
#[path = "windows_tests.rs"]
mod tests;
