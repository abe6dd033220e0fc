use proptest::prelude::*;

use super::*;
use crate::passes::line::FIT_MM;
use crate::passes::links;
use crate::passes::marks::MARK_INSET_MM;
use crate::shape::pt;

fn linked(a: Bounds, b: Bounds) -> bool {
    links::linked(a, b, MARK_INSET_MM)
}

fn boxed(x: f64, y: f64, w: f64, h: f64) -> Ring {
    Ring::new(Bounds::new(pt(x, y), pt(x + w, y + h)).corners().to_vec())
}

fn laid(rings: &[Ring], size: Point, band: f64, cloth: Bounds) -> Vec<Bounds> {
    let items: Vec<Item> =
        rings.iter().map(|ring| Item { bounds: ring.bounds(), outline: true, ring }).collect();
    windows(&Ground { items: &items, size, band, cloth, prefer: cloth.min, spots: &[], inset: MARK_INSET_MM })
        .unwrap()
}

fn cloth(w: f64, h: f64) -> Bounds {
    Bounds::new(pt(0.0, 0.0), pt(w, h))
}

#[test]
fn one_piece_larger_than_the_bed_both_ways_takes_as_many_windows_as_sums_say() {
    // 500 mm windows with bands of 50 reach 950 in two and 1400 in three.
    let set = laid(&[boxed(10.0, 10.0, 940.0, 1390.0)], pt(500.0, 500.0), 50.0, cloth(970.0, 1410.0));
    assert_eq!(set.len(), 6);
}

#[test]
fn every_window_after_the_first_shares_room_with_an_earlier_one() {
    let far = [boxed(0.0, 0.0, 50.0, 50.0), boxed(2000.0, 3000.0, 50.0, 50.0)];
    let set = laid(&far, pt(500.0, 600.0), 80.0, cloth(2100.0, 3100.0));
    for k in 1..set.len() {
        assert!((0..k).any(|j| linked(set[j], set[k])), "window {k} of {set:?}");
    }
    // At least 3050 − 600 mm from window to window, in steps of at most 600 − 24 mm.
    assert!((6..=7).contains(&set.len()), "{}", set.len());
}

#[test]
fn a_ring_of_pieces_leaves_the_middle_alone() {
    let mut rings = Vec::new();
    for k in 0..5 {
        let d = 300.0 * f64::from(k);
        rings.extend([boxed(d, 0.0, 200.0, 200.0), boxed(d, 1200.0, 200.0, 200.0)]);
    }
    let set = laid(&rings, pt(700.0, 400.0), 60.0, cloth(1400.0, 1400.0));
    let holds = |b: Bounds| set.iter().any(|w| w.grown(FIT_MM).holds(b));
    assert!(rings.iter().all(|r| holds(r.bounds())));
    // Five pieces in a row take three windows; two windows a side link the rows.
    assert!(set.len() <= 9, "{}", set.len());
}

/// Fewest windows that hold all boxes, by trying every set of left and lower edges.
fn fewest_by_trying_all(boxes: &[Bounds], size: Point) -> usize {
    fn cover(left: &[Bounds], boxes: &[Bounds], size: Point, budget: usize) -> bool {
        let Some(first) = left.first() else { return true };
        if budget == 0 {
            return false;
        }
        // Some window holds the first box; its left and lower edges may be those of boxes.
        let starts = |of: fn(&Bounds) -> f64, low: f64, high: f64, side: f64| -> Vec<f64> {
            boxes.iter().map(of).filter(|&s| s <= low + 1e-9 && s >= high - side - 1e-9).collect()
        };
        starts(|b| b.min.x, first.min.x, first.max.x, size.x).into_iter().any(|x| {
            starts(|b| b.min.y, first.min.y, first.max.y, size.y).into_iter().any(|y| {
                let window = Bounds::new(pt(x, y), pt(x, y) + size).grown(1e-6);
                let rest: Vec<Bounds> = left.iter().copied().filter(|b| !window.holds(*b)).collect();
                cover(&rest, boxes, size, budget - 1)
            })
        })
    }
    (1..).find(|&k| cover(boxes, boxes, size, k)).unwrap_or(usize::MAX)
}

/// Fewest windows that hold all boxes and hang together, by trying every set of windows whose sides lie on sides of
/// boxes. `None` when more than `most` would be needed.
fn fewest_linked_by_trying_all(boxes: &[Bounds], size: Point, most: usize) -> Option<usize> {
    let starts = |low: fn(&Bounds) -> f64, high: fn(&Bounds) -> f64, side: f64| -> Vec<f64> {
        let mut all: Vec<f64> = boxes.iter().flat_map(|b| [low(b), high(b) - side]).collect();
        all.sort_by(f64::total_cmp);
        all.dedup();
        all
    };
    let (xs, ys) = (starts(|b| b.min.x, |b| b.max.x, size.x), starts(|b| b.min.y, |b| b.max.y, size.y));
    let all: Vec<Bounds> = xs
        .iter()
        .flat_map(|&x| ys.iter().map(move |&y| Bounds::new(pt(x, y), pt(x, y) + size)))
        .filter(|w| boxes.iter().any(|b| w.grown(1e-6).holds(*b)))
        .collect();
    fn hangs_together(set: &[Bounds]) -> bool {
        let mut met = vec![0];
        while let Some(k) =
            (0..set.len()).find(|k| !met.contains(k) && met.iter().any(|&j| linked(set[j], set[*k])))
        {
            met.push(k);
        }
        met.len() == set.len()
    }
    fn go(all: &[Bounds], boxes: &[Bounds], set: &mut Vec<Bounds>, budget: usize) -> bool {
        let held = |b: &Bounds| set.iter().any(|w| w.grown(1e-6).holds(*b));
        let Some(first) = boxes.iter().find(|b| !held(b)) else {
            if hangs_together(set) {
                return true;
            }
            let near: Vec<Bounds> =
                all.iter().copied().filter(|w| set.iter().any(|s| s != w && linked(*s, *w))).collect();
            return budget > 0
                && near.into_iter().any(|w| {
                    set.push(w);
                    let done = go(all, boxes, set, budget - 1);
                    set.pop();
                    done
                });
        };
        let first = *first;
        budget > 0
            && all.iter().filter(|w| w.grown(1e-6).holds(first)).any(|w| {
                set.push(*w);
                let done = go(all, boxes, set, budget - 1);
                set.pop();
                done
            })
    }
    (1..=most).find(|&k| go(&all, boxes, &mut Vec::new(), k))
}

/// Two hundred small cases: never more windows than trying every set finds, nor fewer than hold the pieces at all.
#[test]
fn small_cases_have_no_more_windows_than_trying_all_finds() {
    let mut chance = crate::lay::chance::Chance::new(5, 0);
    let mut more = Vec::new();
    for case in 0..200 {
        let count = 2 + chance.below(5);
        let rings: Vec<Ring> = (0..count)
            .map(|_| {
                let (x, y) = (100.0 * chance.below(10) as f64, 100.0 * chance.below(12) as f64);
                boxed(x, y, chance.between(60.0, 95.0), chance.between(60.0, 95.0))
            })
            .collect();
        let size = pt(420.0, 560.0);
        let set = laid(&rings, size, 60.0, cloth(1000.0, 1200.0));
        let boxes: Vec<Bounds> = rings.iter().map(Ring::bounds).collect();
        assert!(set.len() >= fewest_by_trying_all(&boxes, size), "case {case}");
        if let Some(fewest) = fewest_linked_by_trying_all(&boxes, size, set.len() - 1) {
            more.push((case, set.len(), fewest));
        }
    }
    assert!(more.is_empty(), "case, ours, fewest: {more:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn windows_hold_all_pieces_and_are_nearly_as_few_as_trying_all_finds(
        seeds in prop::collection::vec((0u32..10, 0u32..12, 60.0..95.0f64, 60.0..95.0f64), 1..9),
    ) {
        let rings: Vec<Ring> = seeds.iter().map(|s| boxed(100.0 * f64::from(s.0), 100.0 * f64::from(s.1), s.2, s.3)).collect();
        let size = pt(420.0, 560.0);
        let set = laid(&rings, size, 60.0, cloth(1000.0, 1200.0));
        let boxes: Vec<Bounds> = rings.iter().map(Ring::bounds).collect();
        prop_assert!(boxes.iter().all(|b| set.iter().any(|w| w.grown(FIT_MM).holds(*b))));
        for k in 1..set.len() {
            prop_assert!((0..k).any(|j| linked(set[j], set[k])));
        }
        let used = set.iter().filter(|w| boxes.iter().any(|b| w.grown(FIT_MM).holds(*b))).count();
        prop_assert!(used <= fewest_by_trying_all(&boxes, size) + 1, "{} windows", used);
    }
}
