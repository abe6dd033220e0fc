//! Where a field holds items of the greatest weight.

use super::task::Item;
use crate::shape::{Point, pt};

/// The greatest weight that one field holds, and that field's corner; `None` when nothing weighs anything.
///
/// What a field holds changes only where an item begins or ceases to be held. Of all places between two such spots the
/// last one that an item begins at before one ceases holds most, so those are looked at and no others.
pub(super) fn heaviest(items: &[(&Item, f64)]) -> (f64, Option<Point>) {
    Weighing::new(items.iter().map(|i| i.0)).heaviest(|k| items[k].1, |sum, _| sum)
}

/// Looks for fields of weight among the same items again and again: a line sweeps across, and a tree over the places up
/// holds what a field there would weigh (as for the densest window, Nandy & Bhattacharya 1995, Comput. Math. Appl. 29).
pub(super) struct Weighing {
    /// Across: where an item begins (true) or ceases to be held.
    across: Vec<(f64, bool, usize)>,
    /// Up: where items begin to be held, rising.
    places: Vec<f64>,
    /// By item: the first place at which it is held and the one after its last.
    reach: Vec<(usize, usize)>,
    tree: Tree,
}

impl Weighing {
    /// For fields over `items`.
    pub fn new<'a>(items: impl Iterator<Item = &'a Item> + Clone) -> Weighing {
        let ends = items.clone().enumerate();
        let mut across: Vec<(f64, bool, usize)> =
            ends.flat_map(|(k, i)| [(i.from.x, true, k), (i.to.x, false, k)]).collect();
        // What begins at a spot is held there together with what ceases there.
        across.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)).then(a.2.cmp(&b.2)));
        let mut places: Vec<f64> = items.clone().map(|i| i.from.y).collect();
        places.sort_by(f64::total_cmp);
        places.dedup();
        let reach =
            |i: &Item| (places.partition_point(|&y| y < i.from.y), places.partition_point(|&y| y <= i.to.y));
        let reach: Vec<(usize, usize)> = items.map(reach).collect();
        let tree = Tree::new(places.len());
        Weighing { across, places, reach, tree }
    }

    /// The greatest weight, `weights` by item, and where. Of what weighs more than the greatest so far, `counts` has the last
    /// word: what of the weight held at a place counts there.
    pub fn heaviest(
        &mut self,
        weights: impl Fn(usize) -> f64,
        counts: impl Fn(f64, Point) -> f64,
    ) -> (f64, Option<Point>) {
        let mut best = (0.0, None);
        self.tree.clear();
        let mut last: Option<f64> = None;
        for &(x, begins, k) in &self.across {
            let weight = weights(k);
            if weight <= 0.0 {
                continue;
            }
            let (from, to) = self.reach[k];
            if begins {
                self.tree.add(from, to, weight);
                last = Some(x);
                continue;
            }
            if let Some(x) = last.take() {
                self.tree.above(
                    &mut best,
                    &mut |place, sum| (counts(sum, pt(x, place)), pt(x, place)),
                    &self.places,
                );
            }
            self.tree.add(from, to, -weight);
        }
        best
    }
}

/// Sums over a row of places, with the greatest of every half, quarter …
struct Tree {
    /// Places, rounded up to a power of two.
    size: usize,
    /// By node: what is added to all of it, and the greatest sum in it, that included.
    added: Vec<f64>,
    most: Vec<f64>,
}

impl Tree {
    fn new(count: usize) -> Tree {
        let size = count.max(1).next_power_of_two();
        Tree { size, added: vec![0.0; 2 * size], most: vec![0.0; 2 * size] }
    }

    fn clear(&mut self) {
        self.added.fill(0.0);
        self.most.fill(0.0);
    }

    /// Adds to places `from..to`.
    fn add(&mut self, from: usize, to: usize, weight: f64) {
        let (mut a, mut b) = (from + self.size, to + self.size);
        let (first, last) = (a, b - 1);
        while a < b {
            if a % 2 == 1 {
                self.put(a, weight);
                a += 1;
            }
            if b % 2 == 1 {
                b -= 1;
                self.put(b, weight);
            }
            (a, b) = (a / 2, b / 2);
        }
        self.renew(first);
        self.renew(last);
    }

    fn put(&mut self, node: usize, weight: f64) {
        self.added[node] += weight;
        self.most[node] += weight;
    }

    fn renew(&mut self, mut node: usize) {
        while node > 1 {
            node /= 2;
            self.most[node] = self.added[node] + self.most[2 * node].max(self.most[2 * node + 1]);
        }
    }

    /// Betters `best` by what `counts` makes of the places whose sum is greater.
    fn above(
        &self,
        best: &mut (f64, Option<Point>),
        counts: &mut impl FnMut(f64, f64) -> (f64, Point),
        places: &[f64],
    ) {
        let mut open = vec![(1, 0.0)];
        while let Some((node, over)) = open.pop() {
            if over + self.most[node] <= best.0 {
                continue;
            }
            if node < self.size {
                let over = over + self.added[node];
                // The greater half first: the other then often has nothing more to say.
                let halves = [2 * node, 2 * node + 1];
                let greater = usize::from(self.most[halves[1]] > self.most[halves[0]]);
                open.push((halves[1 - greater], over));
                open.push((halves[greater], over));
            } else if let Some(&place) = places.get(node - self.size) {
                let (sum, at) = counts(place, over + self.most[node]);
                if sum > best.0 {
                    *best = (sum, Some(at));
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lay::chance::Chance;
    use crate::shape::Bounds;

    /// Against trying every corner at which an item begins to be held, across and up.
    #[test]
    fn the_heaviest_field_is_as_heavy_as_trying_all_finds() {
        let mut chance = Chance::new(3, 0);
        for case in 0..200 {
            let size = pt(10.0, 6.0);
            let items: Vec<(Item, f64)> = (0..1 + chance.below(12))
                .map(|_| {
                    let (x, y) = (chance.below(20) as f64, chance.below(12) as f64);
                    let b = Bounds::new(pt(x, y), pt(x + chance.below(9) as f64, y + chance.below(6) as f64));
                    (Item::new(0, b, size), chance.between(0.1, 1.0))
                })
                .collect();
            let all: Vec<(&Item, f64)> = items.iter().map(|i| (&i.0, i.1)).collect();
            let (found, at) = heaviest(&all);
            let weight = |p: Point| items.iter().filter(|i| i.0.held(p)).map(|i| i.1).sum::<f64>();
            let tried = items.iter().flat_map(|a| items.iter().map(|b| weight(pt(a.0.from.x, b.0.from.y))));
            let most = tried.fold(0.0, f64::max);
            assert!((found - most).abs() < 1e-9, "case {case}: {found}, {most}");
            assert!((weight(at.unwrap()) - found).abs() < 1e-9, "case {case}");
        }
    }
}
