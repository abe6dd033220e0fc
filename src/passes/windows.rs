//! Windows over a cloth that is larger than the bed in both directions.

use super::few;
use super::groups::regrouped;
use super::links::{drawn_near, in_turn, joined_up};
use super::strips::Strips;
use crate::shape::{Bounds, Point, Ring};

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
    /// How far marks stay from the borders of windows, mm.
    pub inset: f64,
}

/// The fewest windows that hold every piece that fits in one and cover the others with bands, in an order in which
/// each has an earlier one it shares room for marks with. Cloth frame.
///
/// The cloth is divided into strips (each as wide as a window) along or across, every piece is given to a strip
/// that holds it, and the windows of a strip are the fewest along its line; both ways of dividing are tried and
/// the strips moved to and fro for fewer windows. Then pieces are regrouped to do without single windows, and where
/// pieces are few every set of windows is tried. `None` when
/// the band leaves no way on.
pub(super) fn windows(ground: &Ground) -> Option<Vec<Bounds>> {
    // Fewest windows, then room for marks, then fewest cuts handed over; strips along the feed on a tie.
    let all = proposals(ground).into_iter().map(|(handed, set)| {
        let (set, without_room) = in_turn(
            joined_up(drawn_near(set, ground), ground.size, ground.inset),
            ground.spots,
            ground.inset,
        );
        (set.len(), without_room, handed, set)
    });
    let (count, .., set) =
        all.min_by_key(|(count, without_room, handed, _)| (*count, *without_room, *handed))?;
    Some(match few::fewest(ground, count) {
        Some(fewer) => in_turn(drawn_near(fewer, ground), ground.spots, ground.inset).0,
        None => set,
    })
}

/// Sets of windows by strips both ways and by regrouping, each with the number of cuts handed over.
fn proposals(ground: &Ground) -> Vec<(u32, Vec<Bounds>)> {
    let ways = [false, true].map(|swapped| Strips::new(ground, swapped).best());
    let found: Vec<(usize, u32, Vec<Bounds>)> = ways.into_iter().flatten().collect();
    let strips = found.iter().map(|(_, handed, set)| (*handed, set.clone()));
    let groups =
        found.iter().flat_map(|(_, handed, set)| regrouped(ground, set).into_iter().map(|s| (*handed, s)));
    strips.chain(groups).collect()
}

#[cfg(test)]
#[path = "windows_tests.rs"]
mod tests;
