//! The fewest windows of few pieces, by trying every set of windows whose sides lie on sides of pieces.

use super::line::FIT_MM;
use super::links::{all_linked, linked};
use super::windows::Ground;
use crate::shape::{Bounds, pt};

/// Most pieces for which all sets are tried.
const MOST_PIECES: usize = 12;

/// Most partial sets looked at.
const MOST_SETS: usize = 200_000;

/// Fewer windows than `fewer_than` that hold every piece and hang together, if trying finds any. Only
/// where every piece fits in a window and pieces are few.
pub(super) fn fewest(ground: &Ground, fewer_than: usize) -> Option<Vec<Bounds>> {
    let size = ground.size;
    let whole: Vec<Bounds> = ground.items.iter().filter(|i| i.outline).map(|i| i.bounds).collect();
    let fits = |b: &Bounds| b.width() <= size.x + FIT_MM && b.height() <= size.y + FIT_MM;
    let plain = ground.items.iter().all(|i| fits(&i.bounds));
    if whole.is_empty() || whole.len() > MOST_PIECES || !plain {
        return None;
    }
    let starts = |low: fn(&Bounds) -> f64, high: fn(&Bounds) -> f64, side: f64| {
        let mut all: Vec<f64> = whole.iter().flat_map(|b| [low(b), high(b) - side]).collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|a, b| (*a - *b).abs() < FIT_MM);
        all
    };
    let xs = starts(|b| b.min.x, |b| b.max.x, size.x);
    let ys = starts(|b| b.min.y, |b| b.max.y, size.y);
    let held = |w: Bounds| {
        let w = w.grown(FIT_MM);
        whole.iter().enumerate().fold(0u32, |set, (k, b)| set | (u32::from(w.holds(*b)) << k))
    };
    let mut all: Vec<(Bounds, u32)> = xs
        .iter()
        .flat_map(|&x| ys.iter().map(move |&y| Bounds::new(pt(x, y), pt(x, y) + size)))
        .map(|w| (w, held(w)))
        .filter(|(_, held)| *held != 0)
        .collect();
    // Those that hold most come first.
    all.sort_by_key(|(_, held)| std::cmp::Reverse(held.count_ones()));
    let every = (1u32 << whole.len()) - 1;
    let most_held = all.first().map_or(1, |a| a.1.count_ones());
    let mut tree = Tree { all: &all, every, most_held, left: MOST_SETS, inset: ground.inset };
    (1..fewer_than).find_map(|k| {
        let mut set = Vec::new();
        tree.grow(&mut set, 0, k).then_some(set)
    })
}

struct Tree<'a> {
    all: &'a [(Bounds, u32)],
    every: u32,
    most_held: u32,
    left: usize,
    /// How far marks stay from borders, mm.
    inset: f64,
}

impl Tree<'_> {
    /// Completes `set`, which holds the pieces of `held`, with at most `budget` more windows.
    fn grow(&mut self, set: &mut Vec<Bounds>, held: u32, budget: usize) -> bool {
        if self.left == 0 {
            return false;
        }
        self.left -= 1;
        let missing = self.every & !held;
        if missing == 0 && all_linked(set, self.inset) {
            return true;
        }
        if missing.count_ones() > self.most_held * budget as u32 || budget == 0 {
            return false;
        }
        let first = missing & missing.wrapping_neg();
        for &(window, holds) in self.all {
            let useful = if missing != 0 {
                holds & first != 0
            } else {
                set.iter().any(|w| *w != window && linked(*w, window, self.inset))
            };
            if useful {
                set.push(window);
                if self.grow(set, held | holds, budget - 1) {
                    return true;
                }
                set.pop();
            }
        }
        false
    }
}
