//! Where a closed burn may begin.
//!
//! The beam dwells where a burn begins and ends, so a start never stands at a sharp corner, whose tip it would burn
//! away, while the contour has anything calmer. (Common practice, no source.)

use super::Burn;
use crate::shape::{Point, distance, lerp};

/// Most starts looked at on one contour.
const MOST_STARTS: f64 = 48.0;

/// Starts stand no closer than this, mm.
const LEAST_APART_MM: f64 = 1.0;

/// The line's turn is measured over this far either side of a start, mm; on small contours over a twelfth of them.
const LOOK_MM: f64 = 2.0;

/// A start where the line turns by more than this within reach of it is at a corner, degrees.
const CORNER_DEG: f64 = 30.0;

/// When all of a contour is bent, its calmest spots and those this much more bent will do, degrees.
const CALMEST_DEG: f64 = 5.0;

/// A spot on a closed burn where it may begin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Start {
    pub at: Point,
    /// The side it lies on, by the index of its first point.
    pub side: usize,
}

/// The starts of a closed burn, spread evenly, in its own direction; at least one when it has a point.
pub(super) fn starts(burn: &Burn) -> Vec<Start> {
    let path = &burn.path;
    let n = path.len();
    let mut at = Vec::with_capacity(n + 1);
    at.push(0.0);
    for i in 0..n {
        at.push(at[i] + distance(path[i], path[(i + 1) % n]));
    }
    let total = at[n];
    if total <= 0.0 {
        return path.first().map(|&p| Start { at: p, side: 0 }).into_iter().collect();
    }
    let spot = |s: f64| {
        let s = s.rem_euclid(total);
        let side = at.partition_point(|&a| a <= s).clamp(1, n) - 1;
        let length = at[side + 1] - at[side];
        let t = if length > 0.0 { (s - at[side]) / length } else { 0.0 };
        Start { at: lerp(path[side], path[(side + 1) % n], t), side }
    };
    let look = LOOK_MM.min(total / 12.0);
    let way = |s: f64| {
        let side = spot(s).side;
        path[(side + 1) % n] - path[side]
    };
    let turn =
        |a: Point, b: Point| libm::atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y).abs().to_degrees();
    // A way into a corner and back has the same direction before and after it, but not within.
    let bend = |s: f64| {
        let (before, here, after) = (way(s - look), way(s), way(s + look));
        turn(before, after).max(turn(before, here)).max(turn(here, after))
    };
    let count = (total / (total / MOST_STARTS).max(LEAST_APART_MM)).round().max(1.0) as usize;
    let all: Vec<(f64, Start)> =
        (0..count).map(|k| (k as f64 + 0.5) * total / count as f64).map(|s| (bend(s), spot(s))).collect();
    let calmest = all.iter().map(|a| a.0).fold(f64::INFINITY, f64::min);
    let most = CORNER_DEG.max(calmest + CALMEST_DEG);
    all.into_iter().filter(|a| a.0 <= most).map(|a| a.1).collect()
}

/// The same closed burn begun at `start`.
pub(super) fn begun_at(mut burn: Burn, start: Start) -> Burn {
    let n = burn.path.len();
    burn.path.rotate_left((start.side + 1) % n.max(1));
    // Now the side's second point is first and its first point is last.
    let stands_on = |p: Option<&Point>| p == Some(&start.at);
    if stands_on(burn.path.last()) {
        burn.path.rotate_right(1);
    } else if !stands_on(burn.path.first()) {
        burn.path.insert(0, start.at);
    }
    burn
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::burn::BurnKind;
    use crate::shape::pt;

    fn closed(path: Vec<Point>) -> Burn {
        Burn { kind: BurnKind::Outline, placed: Some(0), ring: 0, closed: true, path }
    }

    #[test]
    fn a_start_keeps_away_from_corners() {
        let square = closed(vec![pt(0.0, 0.0), pt(40.0, 0.0), pt(40.0, 40.0), pt(0.0, 40.0)]);
        let all = starts(&square);
        assert!(all.len() > 20);
        for s in all {
            for corner in &square.path {
                assert!(distance(s.at, *corner) >= LOOK_MM, "{s:?}");
            }
        }
    }

    #[test]
    fn every_spot_of_a_small_circle_is_as_good() {
        let ring = (0..60).map(|k| k as f64 / 60.0 * std::f64::consts::TAU);
        let circle = closed(ring.map(|t| pt(1.5 * libm::cos(t), 1.5 * libm::sin(t))).collect());
        assert_eq!(starts(&circle).len(), 9, "one a millimetre of 9.42 mm");
    }

    #[test]
    fn begun_elsewhere_it_is_the_same_line() {
        let square = closed(vec![pt(0.0, 0.0), pt(10.0, 0.0), pt(10.0, 10.0), pt(0.0, 10.0)]);
        let length = square.length_mm();
        let moved = begun_at(square.clone(), Start { at: pt(10.0, 4.0), side: 1 });
        assert_eq!(moved.path, [pt(10.0, 4.0), pt(10.0, 10.0), pt(0.0, 10.0), pt(0.0, 0.0), pt(10.0, 0.0)]);
        assert!((moved.length_mm() - length).abs() < 1e-12);
        let at_a_corner = begun_at(square, Start { at: pt(10.0, 0.0), side: 1 });
        assert_eq!(at_a_corner.path, [pt(10.0, 0.0), pt(10.0, 10.0), pt(0.0, 10.0), pt(0.0, 0.0)]);
    }
}
