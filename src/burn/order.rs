//! Burn order within a pass.

use super::improve::improve;
use super::starts::begun_at;
use super::tour::{Doors, Tour, Way};
use super::{Burn, BurnKind};
use crate::shape::{Bounds, Point, Region, distance};
use rstar::RTree;
use rstar::primitives::Line;

/// A piece that lies in a cut-out of another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Nested {
    /// The piece that lies inside, by index into the placed pieces.
    pub inner: usize,
    /// The piece it lies in.
    pub outer: usize,
    /// The ring (1..) of the cut-out it lies in.
    pub ring: usize,
}

/// Which pieces lie in a cut-out of which others. Pieces must not overlap. Cost: pieces × cut-outs, boxes first.
pub fn nested(cuts: &[Region]) -> Vec<Nested> {
    let boxes: Vec<Bounds> = cuts.iter().map(Region::bounds).collect();
    let mut found = Vec::new();
    for (outer, cut) in cuts.iter().enumerate() {
        for (k, cutout) in cut.cutouts.iter().enumerate() {
            let hole = cutout.bounds();
            for (inner, region) in cuts.iter().enumerate() {
                let inside = inner != outer
                    && hole.holds(boxes[inner])
                    && region.outline.points.first().is_some_and(|&p| cutout.contains(p));
                if inside {
                    found.push(Nested { inner, outer, ring: k + 1 });
                }
            }
        }
    }
    found
}

/// The burns of one pass in burn order, for a head that rests at `start`; paths and `start` in one frame, whichever.
///
/// Marks come first, while the cloth still lies whole. A piece that lies in a cut-out is burnt before that cut-out,
/// cut-outs before their outline, so that nothing is cut in cloth already loose; a small piece before a large
/// neighbour that could move it. Within these rules travel is kept short: nearest burn next, then exchanges that keep
/// the rules, with the start of every closed burn chosen again in between. Closed burns come back with their path
/// begun elsewhere, away from corners, open ones perhaps reversed; nothing else changes. Same input, same order.
///
/// `cuts` are the placed pieces the burns speak of (any one frame; only which lies in which is read from them).
pub fn arrange(burns: Vec<Burn>, cuts: &[Region], start: Point) -> Vec<Burn> {
    let (marks, others): (Vec<Burn>, Vec<Burn>) =
        burns.into_iter().filter(|b| !b.path.is_empty()).partition(|b| b.kind == BurnKind::Mark);
    let no_rules = vec![Vec::new(); marks.len()];
    let mut ordered = in_order(marks, no_rules, start);
    let head = ordered.last().map_or(start, exit);
    let rules = rules(&others, cuts);
    ordered.extend(in_order(others, rules, head));
    ordered
}

/// What is wrong with the order of `ordered`, in words, found afresh from the rules alone; empty when nothing is.
pub fn order_faults(ordered: &[Burn], cuts: &[Region]) -> Vec<String> {
    let mut wrong = Vec::new();
    let inside = nested(cuts);
    let moved: std::collections::BTreeSet<(usize, usize)> = could_move(cuts).into_iter().collect();
    for (i, early) in ordered.iter().enumerate() {
        for late in &ordered[i + 1..] {
            let (Some(e), Some(l)) = (early.placed, late.placed) else {
                if late.kind == BurnKind::Mark && early.kind != BurnKind::Mark {
                    wrong.push("a mark is burnt after a cut".to_string());
                }
                continue;
            };
            if e == l && early.kind == BurnKind::Outline && late.kind == BurnKind::Cutout {
                wrong.push(format!("a cut-out of piece {} is burnt after its outline", e + 1));
            }
            let holds = |n: &Nested| {
                n.outer == e && n.inner == l && (n.ring == early.ring || early.kind == BurnKind::Outline)
            };
            let loose = early.closed && early.kind == BurnKind::Outline;
            if loose && moved.contains(&(l, e)) {
                wrong.push(format!("piece {} is burnt after piece {}, which could move it", l + 1, e + 1));
            }
            if inside.iter().any(holds) {
                wrong.push(format!("piece {} is burnt after the cut-out it lies in", l + 1));
            }
        }
    }
    wrong
}

fn exit(burn: &Burn) -> Point {
    let end = if burn.closed { burn.path.first() } else { burn.path.last() };
    end.copied().unwrap_or_default()
}

/// A piece this near another may be moved by it once that one is loose, mm. (Common practice, no source.)
const NEAR_MM: f64 = 10.0;

/// Only a piece so many times as large moves another; measured with cut-outs filled, as what lies in a cut-out
/// is always smaller so, and the rules can never run in a circle.
const TIMES_AS_LARGE: f64 = 4.0;

/// Pairs of pieces (small, large) where the large one, once loose, could move the small one that is still to be cut.
fn could_move(cuts: &[Region]) -> Vec<(usize, usize)> {
    let areas: Vec<f64> = cuts.iter().map(|c| c.outline.signed_area().abs()).collect();
    let boxes: Vec<Bounds> = cuts.iter().map(Region::bounds).collect();
    let sides = |k: usize| cuts[k].outline.sides().map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y])).collect();
    let mut found = Vec::new();
    for large in 0..cuts.len() {
        let near: Vec<usize> = (0..cuts.len())
            .filter(|&s| s != large && areas[large] >= TIMES_AS_LARGE * areas[s])
            .filter(|&s| boxes[s].grown(NEAR_MM).meets(boxes[large]))
            .collect();
        if near.is_empty() {
            continue;
        }
        let edge: RTree<Line<[f64; 2]>> = RTree::bulk_load(sides(large));
        let close = |s: usize| {
            let mut corners = cuts[s].outline.points.iter();
            corners.any(|p| edge.locate_within_distance([p.x, p.y], NEAR_MM * NEAR_MM).next().is_some())
        };
        found.extend(near.into_iter().filter(|&s| close(s)).map(|s| (s, large)));
    }
    found
}

/// For every burn the burns that must come before it.
fn rules(burns: &[Burn], cuts: &[Region]) -> Vec<Vec<usize>> {
    let mut of_piece: Vec<Vec<usize>> = vec![Vec::new(); cuts.len()];
    for (i, burn) in burns.iter().enumerate() {
        if let Some(list) = burn.placed.and_then(|p| of_piece.get_mut(p)) {
            list.push(i);
        }
    }
    let mut before = vec![Vec::new(); burns.len()];
    for list in &of_piece {
        let (outlines, cutouts): (Vec<usize>, Vec<usize>) =
            list.iter().partition(|&&i| burns[i].kind == BurnKind::Outline);
        for &o in &outlines {
            before[o].extend(&cutouts);
        }
    }
    for n in nested(cuts) {
        // A cut-out burnt in an earlier pass leaves only the outline to wait for what lies inside.
        for &i in &of_piece[n.outer] {
            if burns[i].ring == n.ring || burns[i].kind == BurnKind::Outline {
                before[i].extend(&of_piece[n.inner]);
            }
        }
    }
    for (small, large) in could_move(cuts) {
        for &i in &of_piece[large] {
            // An outline that other passes finish leaves its piece fast.
            if burns[i].closed && burns[i].kind == BurnKind::Outline {
                before[i].extend(&of_piece[small]);
            }
        }
    }
    before
}

/// A short way from the first of `points` through all others and back to it, found by the same search as burn
/// orders: the order in which they are met, beginning with 0.
pub fn round_trip(points: &[Point]) -> Vec<usize> {
    let Some(&first) = points.first() else { return Vec::new() };
    let n = points.len();
    let doors: Vec<Doors> = points.iter().chain([&first]).map(|p| Doors::Open(*p, *p)).collect();
    // The first point once more, after everything else.
    let mut before = vec![Vec::new(); n + 1];
    before[n] = (0..n).collect();
    let after = turned_round(&before);
    let ways = doors.iter().enumerate().map(|(i, d)| d.best(i, |_, _| 0.0)).collect();
    let mut tour = Tour::new(ways, &before, &after, first);
    improve(&mut tour, &doors);
    let mut met: Vec<usize> = tour.ways.iter().map(|w| w.burn).filter(|&b| b < n).collect();
    let at = met.iter().position(|&b| b == 0).unwrap_or(0);
    met.rotate_left(at);
    met
}

fn in_order(burns: Vec<Burn>, before: Vec<Vec<usize>>, start: Point) -> Vec<Burn> {
    let after = turned_round(&before);
    let doors: Vec<Doors> = burns.iter().map(Doors::of).collect();
    let mut tour = Tour::new(nearest_next(&burns, &doors, &before, &after, start), &before, &after, start);
    improve(&mut tour, &doors);
    let mut slots: Vec<Option<Burn>> = burns.into_iter().map(Some).collect();
    let placed = tour.ways.into_iter().filter_map(|way| {
        let mut burn = slots[way.burn].take()?;
        match &doors[way.burn] {
            Doors::Closed(starts) => burn = begun_at(burn, *starts.get(way.begin)?),
            Doors::Open(..) if way.reversed => burn.path.reverse(),
            Doors::Open(..) => {}
        }
        Some(burn)
    });
    placed.collect()
}

/// For every burn the burns that must come after it.
fn turned_round(before: &[Vec<usize>]) -> Vec<Vec<usize>> {
    let mut after = vec![Vec::new(); before.len()];
    for (i, list) in before.iter().enumerate() {
        for &j in list {
            after[j].push(i);
        }
    }
    after
}

/// Always the nearest burn whose turn may come; the lower index on a tie.
fn nearest_next(
    burns: &[Burn],
    doors: &[Doors],
    before: &[Vec<usize>],
    after: &[Vec<usize>],
    start: Point,
) -> Vec<Way> {
    let boxes: Vec<Bounds> = burns.iter().map(|b| Bounds::of(b.path.iter().copied())).collect();
    let mut waits: Vec<usize> = before.iter().map(Vec::len).collect();
    let mut ready: Vec<usize> = (0..burns.len()).filter(|&i| waits[i] == 0).collect();
    let (mut head, mut ways) = (start, Vec::with_capacity(burns.len()));
    while !ready.is_empty() {
        let mut best: Option<(f64, usize, Way)> = None;
        for (slot, &i) in ready.iter().enumerate() {
            let beaten = |d: f64| best.as_ref().is_some_and(|(b, s, _)| d > *b || (d == *b && i > ready[*s]));
            if beaten(box_distance(boxes[i], head)) {
                continue;
            }
            let way = doors[i].best(i, |entry, _| distance(head, entry));
            let d = distance(head, way.entry);
            if !beaten(d) {
                best = Some((d, slot, way));
            }
        }
        let Some((_, slot, way)) = best else { break };
        let i = ready.swap_remove(slot);
        head = way.exit;
        ways.push(way);
        for &j in &after[i] {
            waits[j] -= 1;
            if waits[j] == 0 {
                ready.push(j);
            }
        }
    }
    ways
}

fn box_distance(b: Bounds, p: Point) -> f64 {
    let dx = (b.min.x - p.x).max(p.x - b.max.x).max(0.0);
    let dy = (b.min.y - p.y).max(p.y - b.max.y).max(0.0);
    dx.hypot(dy)
}

#[cfg(test)]
#[path = "order_tests.rs"]
mod tests;
