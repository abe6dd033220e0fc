//! Windows put in between those that share no room for marks: they cut nothing and carry the place from one to the
//! next, as a surveyor's traverse goes round ground on which nothing can be marked.

use std::collections::VecDeque;

use rstar::{AABB, RTree};

use super::links::{in_turn, linked, shared};
use super::marks::MARK_APART_MM;
use super::windows::Ground;
use crate::shape::{Bounds, Point, pt};

/// Windows that may be put in stand on a grid of this share of a window, a coarser one on much cloth.
const OF_A_WINDOW: f64 = 1.0 / 8.0;

/// About so many places are looked at for windows to put in, at most.
const MOST_PLACES: f64 = 4_000.0;

/// Most windows put in, as a share of those there are; a few are put in anyway.
const MOST_PUT_IN: f64 = 0.5;
const FEW_PUT_IN: usize = 6;

/// The windows, in an order in which each has an earlier one it finds its place by, with as few more as give all of them
/// room for marks. Without a way to do that they stay as they are. New windows move across and along only where they `may`.
pub(super) fn carried(set: Vec<Bounds>, ground: &Ground, may: [bool; 2]) -> Vec<Bounds> {
    let (_, without_room) = in_turn(set.clone(), ground.spots, ground.inset);
    if without_room == 0 {
        return set;
    }
    let room = Room { spots: RTree::bulk_load(ground.spots.iter().map(|p| [p.x, p.y]).collect()), ground };
    let places = room.places(&set, may);
    let most = set.len() + FEW_PUT_IN.max((set.len() as f64 * MOST_PUT_IN).ceil() as usize);
    let mut all = set.clone();
    while let Some(between) = room.way_on(&all, &places) {
        all.extend(between);
        if all.len() > most {
            return set;
        }
    }
    let (all, left) = in_turn(all, ground.spots, ground.inset);
    if left < without_room { all } else { set }
}

/// Where there is room for marks.
struct Room<'a> {
    spots: RTree<[f64; 2]>,
    ground: &'a Ground<'a>,
}

impl Room<'_> {
    /// True when two windows share room for the marks of one of them.
    fn links(&self, a: Bounds, b: Bounds) -> bool {
        let Some(both) = shared(a, b).filter(|_| linked(a, b, self.ground.inset)) else { return false };
        let within = both.grown(-self.ground.inset);
        let area = &AABB::from_corners([within.min.x, within.min.y], [within.max.x, within.max.y]);
        let round = Bounds::of(self.spots.locate_in_envelope(area).map(|s| pt(s[0], s[1])));
        round.width().max(round.height()) >= MARK_APART_MM
    }

    /// Places a window may be put in at.
    fn places(&self, set: &[Bounds], may: [bool; 2]) -> Vec<Bounds> {
        let Ground { size, cloth, .. } = *self.ground;
        let windows = cloth.width() / size.x * cloth.height() / size.y;
        let share = OF_A_WINDOW.max((windows / MOST_PLACES).sqrt());
        let line = |may: bool, side: f64, low: f64, high: f64, own: &dyn Fn(&Bounds) -> f64| -> Vec<f64> {
            let mut all: Vec<f64> = set.iter().map(own).collect();
            if may {
                let step = side * share;
                let (from, to) = (low - side / 2.0, high - side / 2.0);
                let count = ((to - from) / step).ceil().max(0.0) as usize;
                all.extend((0..=count).map(|k| from + step * k as f64));
            }
            all.sort_by(f64::total_cmp);
            all.dedup_by(|a, b| *a - *b < side * share / 4.0);
            all
        };
        let across = line(may[0], size.x, cloth.min.x, cloth.max.x, &|b| b.min.x);
        let along = line(may[1], size.y, cloth.min.y, cloth.max.y, &|b| b.min.y);
        let all = along.iter().flat_map(|&y| across.iter().map(move |&x| pt(x, y)));
        all.map(|min: Point| Bounds::new(min, min + size)).collect()
    }

    /// The fewest places by which a window that has no room with the first, directly or by way of others, gets it;
    /// `None` when all have it, or none can. Breadth first.
    fn way_on(&self, set: &[Bounds], places: &[Bounds]) -> Option<Vec<Bounds>> {
        let mut reached = vec![false; set.len()];
        let mut queue = VecDeque::from([0]);
        while let Some(i) = queue.pop_front() {
            if !std::mem::replace(&mut reached[i], true) {
                queue.extend((0..set.len()).filter(|&j| !reached[j] && self.links(set[i], set[j])));
            }
        }
        let wanting: Vec<Bounds> = (0..set.len()).filter(|&k| !reached[k]).map(|k| set[k]).collect();
        if wanting.is_empty() {
            return None;
        }
        let first = |p: &Bounds| (0..set.len()).any(|k| reached[k] && self.links(set[k], *p));
        let mut from: Vec<Option<usize>> = vec![None; places.len()];
        let mut seen: Vec<bool> = places.iter().map(first).collect();
        let mut queue: VecDeque<usize> = (0..places.len()).filter(|&k| seen[k]).collect();
        while let Some(k) = queue.pop_front() {
            if wanting.iter().any(|w| self.links(*w, places[k])) {
                let steps = std::iter::successors(Some(k), |&k| from[k]);
                return Some(steps.map(|k| places[k]).collect());
            }
            for j in 0..places.len() {
                if !seen[j] && self.links(places[k], places[j]) {
                    (seen[j], from[j]) = (true, Some(k));
                    queue.push_back(j);
                }
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::super::windows::Item;
    use super::*;
    use crate::shape::Region;

    const INSET: f64 = 5.0;

    /// A block with no waste in it, in cloth with waste all round, and a window at either end of it.
    fn ground<'a>(items: &'a [Item<'a>], spots: &'a [Point]) -> Ground<'a> {
        let cloth = Bounds::new(pt(0.0, 0.0), pt(1_000.0, 400.0));
        let (size, prefer) = (pt(300.0, 250.0), pt(0.0, 0.0));
        Ground { items, size, band: 40.0, cloth, prefer, spots, inset: INSET }
    }

    fn spots(but: Bounds) -> Vec<Point> {
        let all = (0..50).flat_map(|i| (0..20).map(move |j| pt(f64::from(i), f64::from(j)) * 20.0));
        all.map(|p| p + pt(10.0, 10.0)).filter(|p| !but.contains(*p)).collect()
    }

    fn at(all: &[f64]) -> Vec<Bounds> {
        all.iter().map(|x| Bounds::new(pt(*x, 0.0), pt(x + 300.0, 250.0))).collect()
    }

    #[test]
    fn windows_over_ground_without_waste_are_reached_round_it() {
        let block = Region::rectangle(Bounds::new(pt(150.0, 0.0), pt(850.0, 300.0)));
        let items = [Item { bounds: block.bounds(), outline: true, ring: &block.outline }];
        let spots = spots(block.bounds());
        let ground = ground(&items, &spots);
        let set = at(&[0.0, 700.0]);
        let (_, before) = in_turn(set.clone(), &spots, INSET);
        assert!(before > 0);
        let all = carried(set.clone(), &ground, [true, true]);
        assert!(set.iter().all(|w| all.contains(w)) && all.len() > set.len(), "{all:?}");
        assert_eq!(in_turn(all.clone(), &spots, INSET), (all.clone(), 0));
        // Windows that may not move find no way round.
        assert_eq!(carried(set.clone(), &ground, [true, false]), set);
    }

    #[test]
    fn nothing_is_put_in_where_all_have_room_or_none_can() {
        let block = Region::rectangle(Bounds::new(pt(150.0, 300.0), pt(850.0, 400.0)));
        let items = [Item { bounds: block.bounds(), outline: true, ring: &block.outline }];
        let (free, set) = (spots(block.bounds()), at(&[0.0, 260.0, 520.0, 700.0]));
        assert_eq!(carried(set.clone(), &ground(&items, &free), [true, true]), set);
        assert_eq!(carried(set.clone(), &ground(&items, &[]), [true, true]), set);
    }
}
