//! Is a list of points a sound closed line?

use crate::shape::{Bounds, Point, Ring, tol};

/// Why `corners` are no sound outline, with the place where that shows; `None` when they are one: three or
/// more different corners, an area, no side crossing or touching another.
pub fn fault(corners: &[[f64; 2]]) -> Option<String> {
    let mut points = Ring::from_pairs(corners).points;
    points.dedup();
    let ring = Ring { points };
    if ring.points.len() < 3 {
        return Some(format!("{} different corners: expected at least 3", ring.points.len()));
    }
    if ring.signed_area().abs() <= tol::SLIVER_MM2 {
        return Some("the outline encloses no area".to_string());
    }
    crossing(&ring).map(|p| format!("the outline crosses or touches itself near ({:.2}, {:.2})", p.x, p.y))
}

/// A spot where two sides of `ring` share more than the corner between neighbours. Sides are swept by their
/// left ends, so only those whose widths overlap are compared.
fn crossing(ring: &Ring) -> Option<Point> {
    let n = ring.points.len();
    let mut sides: Vec<(usize, Point, Point, Bounds)> =
        ring.sides().enumerate().map(|(k, (p, q))| (k, p, q, Bounds::of([p, q]))).collect();
    sides.sort_by(|s, t| s.3.min.x.total_cmp(&t.3.min.x).then(s.0.cmp(&t.0)));
    for (k, s) in sides.iter().enumerate() {
        for t in sides.iter().skip(k + 1).take_while(|t| t.3.min.x <= s.3.max.x) {
            if !s.3.meets(t.3) {
                continue;
            }
            let (first, second) = if s.0 < t.0 { (s, t) } else { (t, s) };
            let shared = if second.0 == first.0 + 1 {
                Some((first.1, first.2, second.2))
            } else if first.0 == 0 && second.0 == n - 1 {
                Some((second.1, second.2, first.2))
            } else {
                None
            };
            let bad = match shared {
                Some((before, corner, after)) => folds_back(before, corner, after),
                None => meet(first.1, first.2, second.1, second.2),
            };
            if bad {
                return Some(second.1);
            }
        }
    }
    None
}

fn side_of(p: Point, q: Point, r: Point) -> f64 {
    let c = |p: Point| robust::Coord { x: p.x, y: p.y };
    robust::orient2d(c(p), c(q), c(r))
}

/// True when the way from `corner` to `after` runs back over the way from `before` to `corner`.
fn folds_back(before: Point, corner: Point, after: Point) -> bool {
    let (u, v) = (corner - before, after - corner);
    side_of(before, corner, after) == 0.0 && u.x * v.x + u.y * v.y < 0.0
}

/// True when two closed segments share a point.
fn meet(a: Point, b: Point, c: Point, d: Point) -> bool {
    let (abc, abd, cda, cdb) = (side_of(a, b, c), side_of(a, b, d), side_of(c, d, a), side_of(c, d, b));
    let on = |p: Point, q: Point, r: Point, turn: f64| turn == 0.0 && Bounds::of([p, q]).contains(r);
    ((abc > 0.0) != (abd > 0.0)
        && (cda > 0.0) != (cdb > 0.0)
        && abc != 0.0
        && abd != 0.0
        && cda != 0.0
        && cdb != 0.0)
        || on(a, b, c, abc)
        || on(a, b, d, abd)
        || on(c, d, a, cda)
        || on(c, d, b, cdb)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn sound_outlines_pass() {
        assert_eq!(fault(&[[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]]), None);
        assert_eq!(fault(&[[0.0, 0.0], [10.0, 0.0], [10.0, 0.0], [5.0, 2.0], [0.0, 10.0], [0.0, 0.0]]), None);
        // A straight corner is no fault.
        assert_eq!(fault(&[[0.0, 0.0], [5.0, 0.0], [10.0, 0.0], [0.0, 10.0]]), None);
    }

    #[test]
    fn unsound_outlines_are_named() {
        for (corners, part) in [
            (vec![[0.0, 0.0], [10.0, 0.0], [0.0, 0.0], [10.0, 0.0]], "encloses no area"),
            (vec![[0.0, 0.0], [10.0, 0.0], [0.0, 0.0]], "2 different corners"),
            (vec![[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 12.0]], "crosses or touches itself"),
            (
                vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [5.0, 0.0], [0.0, 10.0]],
                "crosses or touches itself",
            ),
            (vec![[0.0, 0.0], [10.0, 0.0], [7.0, 0.0], [0.0, 10.0]], "crosses or touches itself"),
        ] {
            assert!(fault(&corners).is_some_and(|f| f.contains(part)), "{corners:?}: {:?}", fault(&corners));
        }
    }

    proptest! {
        /// Corners at sorted angles round a point make a star-shaped outline, which never crosses itself.
        #[test]
        fn star_shaped_outlines_are_sound(radii in prop::collection::vec(1.0f64..100.0, 3..40)) {
            let step = 360.0 / radii.len() as f64;
            let corners: Vec<[f64; 2]> = radii.iter().enumerate().map(|(k, r)| {
                let (c, s) = crate::shape::turn_cos_sin(step * k as f64);
                [r * c, r * s]
            }).collect();
            prop_assert_eq!(fault(&corners), None);
        }

        /// The sweep agrees with comparing every side to every other.
        #[test]
        fn the_sweep_agrees_with_the_plain_way(grid in prop::collection::vec((0i8..6, 0i8..6), 3..9)) {
            let mut points: Vec<Point> =
                grid.iter().map(|(x, y)| Point { x: f64::from(*x), y: f64::from(*y) }).collect();
            points.dedup();
            let ring = Ring::new(points);
            let n = ring.points.len();
            prop_assume!(n >= 3);
            let sides: Vec<(Point, Point)> = ring.sides().collect();
            let mut plain = false;
            for i in 0..n {
                for j in i + 1..n {
                    let ((a, b), (c, d)) = (sides[i], sides[j]);
                    plain |= if j == i + 1 { folds_back(a, b, d) }
                        else if i == 0 && j == n - 1 { folds_back(c, d, b) }
                        else { meet(a, b, c, d) };
                }
            }
            prop_assert_eq!(crossing(&ring).is_some(), plain);
        }
    }
}
