//! Lines with fewer points.

use super::{Point, to_side};

/// Points left out in one run at most; keeps the work in step with the number of points.
const RUN: usize = 40;

/// The points of a line without those it can do without: none that is left out lies farther than `flat` off the line
/// through those kept. The first and the last point stay.
pub fn thinned(points: impl IntoIterator<Item = Point>, flat: f64) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::new();
    let mut held: Vec<Point> = Vec::new();
    for p in points {
        if let (Some(&from), Some(&last)) = (kept.last(), held.last())
            && (held.len() >= RUN || held.iter().any(|&q| to_side(q, from, p) > flat))
        {
            kept.push(last);
            held.clear();
        }
        if kept.is_empty() { kept.push(p) } else { held.push(p) }
    }
    kept.extend(held.last());
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{pt, turn_cos_sin};
    use proptest::prelude::*;

    const FLAT: f64 = 0.015;

    proptest! {
        #[test]
        fn a_thinned_line_begins_ends_and_runs_as_before(
            at in proptest::collection::vec((0.0f64..2.0, 0.0f64..2.0), 1..120),
        ) {
            let line: Vec<Point> = at.iter().map(|&(x, y)| pt(x, y)).collect();
            let thin = thinned(line.iter().copied(), FLAT);
            prop_assert_eq!((thin.first(), thin.last()), (line.first(), line.last()));
            for &p in &line {
                let off = thin.windows(2).map(|w| to_side(p, w[0], w[1])).fold(f64::INFINITY, f64::min);
                prop_assert!(thin.len() < 2 || off <= FLAT + 1e-9);
            }
        }
    }

    #[test]
    fn a_straight_run_of_points_is_its_ends_and_a_round_one_keeps_a_few() {
        let straight = thinned((0..30).map(|i| pt(f64::from(i), 0.0)), FLAT);
        assert_eq!(straight, [pt(0.0, 0.0), pt(29.0, 0.0)]);
        let round = thinned(
            (0..1000).map(|i| {
                let (c, s) = turn_cos_sin(0.36 * f64::from(i));
                pt(c, s) * 10.0
            }),
            FLAT,
        );
        assert!((40..200).contains(&round.len()), "{}", round.len());
    }
}
