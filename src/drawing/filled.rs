//! The filled region of a shape, as separate islands in a fixed order.

use super::flatten::Polyline;
use super::limits::MAX_MEETINGS;
use crate::shape::booleans::{self, FillRule};
use crate::shape::{Bounds, Point, Region, Ring, tol};

/// The islands of the area `rings` enclose by `rule`, from left to right, then from bottom to top, by their
/// boxes. The order depends on the shape alone, so numbered names stay.
pub(super) fn islands(rings: Vec<Ring>, rule: FillRule) -> Vec<Region> {
    let rings: Vec<Ring> = rings.into_iter().filter(|r| r.points.len() > 2 && r.is_sane()).collect();
    let simple = rings.len() == 1 && rings.iter().all(is_simple);
    let mut parts = if simple {
        rings
            .into_iter()
            .filter(|r| r.signed_area().abs() > tol::SLIVER_MM2)
            .map(|r| Region::new(r, Vec::new()))
            .collect()
    } else {
        booleans::fill(&rings, rule)
    };
    in_order(&mut parts);
    parts
}

/// Sorts regions from left to right, then from bottom to top.
pub(super) fn in_order(parts: &mut [Region]) {
    parts.sort_by_cached_key(|r| {
        let b = r.bounds();
        // Whole hundredths of a millimetre: rounding must not decide between two islands in a column.
        [b.min.x, b.min.y, b.max.x, b.max.y, r.area()].map(|v| (v * 100.0).round() as i64)
    });
}

/// Outlines of fewer points are never tangled: all their sides could cross each other.
const NEVER_TANGLED: usize = 1_500;

/// True when the sides, drawn with a pen that reaches `reach_mm` to each side, cross or nearly meet in more
/// than [`MAX_MEETINGS`] places: working out the area would take more memory than the machine has, or minutes.
pub(super) fn is_tangled(lines: &[Polyline], reach_mm: f64) -> bool {
    if lines.iter().map(|l| l.points.len()).sum::<usize>() < NEVER_TANGLED {
        return false;
    }
    let boxes: Vec<_> = lines
        .iter()
        .flat_map(|l| l.points.windows(2))
        .filter_map(|w| match w {
            [a, b] => {
                let b = Bounds::of([*a, *b]);
                let (low, high) =
                    ([b.min.x - reach_mm, b.min.y - reach_mm], [b.max.x + reach_mm, b.max.y + reach_mm]);
                Some(rstar::primitives::Rectangle::from_corners(low, high))
            }
            _ => None,
        })
        .collect();
    let sides = boxes.len();
    let tree = rstar::RTree::bulk_load(boxes);
    // Every pair comes up twice, every side with itself once and with its neighbours.
    let most = 2 * MAX_MEETINGS + 5 * sides;
    tree.intersection_candidates_with_other_tree(&tree).take(most + 1).count() > most
}

/// How many pairs of sides, per side, the simple test looks at before it leaves the ring to the general way.
const MOST_PAIRS_PER_SIDE: usize = 100;

/// True when the ring surely neither crosses nor touches itself (by exact predicates). False also when
/// finding out would take long.
fn is_simple(ring: &Ring) -> bool {
    let n = ring.points.len();
    if n < 3 {
        return false;
    }
    let sides: Vec<(Point, Point)> = ring.sides().collect();
    let boxes: Vec<Bounds> = sides.iter().map(|(a, b)| Bounds::of([*a, *b])).collect();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|i, j| boxes[*i].min.x.total_cmp(&boxes[*j].min.x));
    let mut left = n * MOST_PAIRS_PER_SIDE;
    for (k, &i) in order.iter().enumerate() {
        for &j in order[k + 1..].iter().take_while(|j| boxes[**j].min.x <= boxes[i].max.x) {
            left -= 1;
            if left == 0 {
                return false;
            }
            if !boxes[i].meets(boxes[j]) {
                continue;
            }
            let next = |i: usize, j: usize| (i + 1) % n == j;
            let clear = if next(i, j) {
                !folds_back(sides[i], sides[j])
            } else if next(j, i) {
                !folds_back(sides[j], sides[i])
            } else {
                !touch(sides[i], sides[j])
            };
            if !clear {
                return false;
            }
        }
    }
    true
}

fn orient(a: Point, b: Point, c: Point) -> f64 {
    let coord = |p: Point| robust::Coord { x: p.x, y: p.y };
    robust::orient2d(coord(a), coord(b), coord(c))
}

/// True when the second side runs back along the first.
fn folds_back((a, b): (Point, Point), (_, c): (Point, Point)) -> bool {
    let (u, v) = (b - a, c - b);
    orient(a, b, c) == 0.0 && u.x * v.x + u.y * v.y < 0.0
}

/// True when two sides share a point; their boxes are known to meet.
fn touch((a, b): (Point, Point), (c, d): (Point, Point)) -> bool {
    let (p, q) = (orient(a, b, c), orient(a, b, d));
    let (r, s) = (orient(c, d, a), orient(c, d, b));
    !((p > 0.0 && q > 0.0) || (p < 0.0 && q < 0.0) || (r > 0.0 && s > 0.0) || (r < 0.0 && s < 0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;
    use proptest::prelude::*;

    fn square(x: f64, y: f64, side: f64) -> Ring {
        Ring::from_pairs(&[[x, y], [x + side, y], [x + side, y + side], [x, y + side]])
    }

    #[test]
    fn islands_come_from_left_to_right_then_from_bottom_to_top() {
        let parts = islands(
            vec![square(50.0, 0.0, 5.0), square(0.0, 20.0, 5.0), square(0.0000001, 0.0, 5.0)],
            FillRule::NonZero,
        );
        let corners: Vec<Point> = parts.iter().map(|r| r.bounds().min).collect();
        assert!(corners[0].y.abs() < 1e-6 && (corners[1].y - 20.0).abs() < 1e-6 && corners[2].x > 49.0);
    }

    #[test]
    fn a_simple_ring_keeps_its_points_to_the_last_digit() {
        let ring = Ring::from_pairs(&[[0.1, 0.2], [9.3, 0.7], [5.5, 8.8]]);
        assert_eq!(islands(vec![ring.clone()], FillRule::EvenOdd), [Region::new(ring, vec![])]);
    }

    #[test]
    fn rings_that_touch_or_fold_back_are_not_simple() {
        assert!(is_simple(&square(0.0, 0.0, 9.0)));
        for bad in [
            vec![pt(0.0, 0.0), pt(9.0, 9.0), pt(9.0, 0.0), pt(0.0, 9.0)],
            vec![pt(0.0, 0.0), pt(9.0, 0.0), pt(9.0, 9.0), pt(5.0, 0.0), pt(0.0, 9.0)],
            vec![pt(0.0, 0.0), pt(9.0, 0.0), pt(4.0, 0.0), pt(4.0, 9.0)],
        ] {
            assert!(!is_simple(&Ring::new(bad.clone())), "{bad:?}");
        }
    }

    proptest! {
        /// The quick way and the general way agree wherever the quick way dares.
        #[test]
        fn the_quick_way_agrees_with_the_general_one(
            pairs in prop::collection::vec(prop::array::uniform2(0.0f64..50.0), 3..8)) {
            let ring = Ring::from_pairs(&pairs);
            if is_simple(&ring) {
                for rule in [FillRule::NonZero, FillRule::EvenOdd] {
                    let general: f64 = booleans::fill(std::slice::from_ref(&ring), rule).iter().map(Region::area).sum();
                    let quick: f64 = islands(vec![ring.clone()], rule).iter().map(Region::area).sum();
                    prop_assert!((general - quick).abs() < tol::SLIVER_MM2 + 1e-3, "{general} {quick}");
                }
            }
        }
    }
}
