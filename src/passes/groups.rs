//! Pieces regrouped so that fewer windows do.

use super::line::FIT_MM;
use super::windows::Ground;
use crate::shape::{Bounds, Point, pt};

/// Work spent on doing without a window, as pieces looked at: with very many of them the windows stand as they are.
const MOST_LOOKED: usize = 300_000_000;

/// Windows from `set` and others in their place, fewer where that can be done; several proposals that differ in where
/// windows stand that have play. Every piece that fits in a window is still held by one, and windows that reach what
/// must be handed over stay as they are.
///
/// The pieces a free window is there for are a group, its window anywhere that holds them. A group is dissolved when
/// each of its pieces goes into another group's window, making room there by moving on at most one piece.
pub(super) fn regrouped(ground: &Ground, set: &[Bounds]) -> Vec<Vec<Bounds>> {
    let size = ground.size;
    let rigid = |b: Bounds| b.width() <= size.x + FIT_MM && b.height() <= size.y + FIT_MM;
    let (pieces, handed): (Vec<Bounds>, Vec<Bounds>) = {
        let items = ground.items.iter().map(|i| (i.bounds, i.outline && rigid(i.bounds)));
        let (whole, soft): (Vec<_>, Vec<_>) = items.partition(|(_, whole)| *whole);
        (whole.into_iter().map(|w| w.0).collect(), soft.into_iter().map(|s| s.0).collect())
    };
    let (fixed, free): (Vec<Bounds>, Vec<Bounds>) =
        set.iter().partition(|w| handed.iter().any(|h| h.meets(**w)));
    let held = |w: &Bounds, b: &Bounds| w.grown(FIT_MM).holds(*b);
    let mut groups: Vec<Vec<Bounds>> = vec![Vec::new(); free.len()];
    for piece in pieces.iter().filter(|p| !fixed.iter().any(|w| held(w, p))) {
        // The window that holds fewest takes it last: it may then not be needed at all.
        let Some(k) = (0..free.len()).filter(|&k| held(&free[k], piece)).max_by_key(|&k| groups[k].len())
        else {
            return Vec::new();
        };
        groups[k].push(*piece);
    }
    groups.retain(|g| !g.is_empty());
    let mut looks = MOST_LOOKED;
    while let Some(fewer) = with_one_less(&groups, size, &mut looks) {
        groups = fewer;
    }
    let boxes: Vec<Bounds> =
        groups.iter().map(|g| g.iter().copied().fold(Bounds::EMPTY, Bounds::union)).collect();
    let all = fixed.iter().chain(&boxes).copied().fold(Bounds::EMPTY, Bounds::union);
    let towards = [ground.prefer, all.centre() - size / 2.0, all.max - size];
    let stand = |b: &Bounds, to: Point| {
        let play = |to: f64, low: f64, high: f64, side: f64| to.max(high - side).min(low);
        let min = pt(play(to.x, b.min.x, b.max.x, size.x), play(to.y, b.min.y, b.max.y, size.y));
        Bounds::new(min, min + size)
    };
    let proposal = |to: Point| fixed.iter().copied().chain(boxes.iter().map(|b| stand(b, to))).collect();
    towards.map(proposal).to_vec()
}

/// The same pieces in one group less.
fn with_one_less(groups: &[Vec<Bounds>], size: Point, looks: &mut usize) -> Option<Vec<Vec<Bounds>>> {
    let mut order: Vec<usize> = (0..groups.len()).collect();
    order.sort_by_key(|&k| groups[k].len());
    order.into_iter().find_map(|k| {
        let mut left: Vec<Vec<Bounds>> = groups.to_vec();
        let homeless = left.remove(k);
        homeless.into_iter().all(|piece| settled(&mut left, piece, size, looks)).then_some(left)
    })
}

/// Puts `piece` into a group, moving on one other piece if need be; false when no group takes it.
fn settled(groups: &mut [Vec<Bounds>], piece: Bounds, size: Point, looks: &mut usize) -> bool {
    let all: usize = groups.iter().map(Vec::len).sum();
    if *looks < all {
        return false;
    }
    *looks -= all;
    if let Some(k) = best_group(groups, piece, size, usize::MAX) {
        groups[k].push(piece);
        return true;
    }
    for k in 0..groups.len() {
        for e in 0..groups[k].len() {
            let one = groups[k].len() + all;
            if *looks < one {
                return false;
            }
            *looks -= groups[k].len();
            let moved = groups[k].remove(e);
            if fits(&groups[k], piece, size).is_some()
                && {
                    *looks -= all;
                    true
                }
                && let Some(other) = best_group(groups, moved, size, k)
            {
                groups[other].push(moved);
                groups[k].push(piece);
                return true;
            }
            groups[k].insert(e, moved);
        }
    }
    false
}

/// The group, other than `not`, whose box grows least by taking `piece`.
fn best_group(groups: &[Vec<Bounds>], piece: Bounds, size: Point, not: usize) -> Option<usize> {
    let growth =
        (0..groups.len()).filter(|&k| k != not).filter_map(|k| Some((fits(&groups[k], piece, size)?, k)));
    growth.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, k)| k)
}

/// By how much the group's box grows, as a sum of sides, when it can take `piece`.
fn fits(group: &[Bounds], piece: Bounds, size: Point) -> Option<f64> {
    let now = group.iter().copied().fold(Bounds::EMPTY, Bounds::union);
    let with = now.union(piece);
    let sides = |b: Bounds| if b.is_empty() { 0.0 } else { b.width() + b.height() };
    (with.width() <= size.x + FIT_MM && with.height() <= size.y + FIT_MM).then(|| sides(with) - sides(now))
}
