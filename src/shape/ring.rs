//! Closed lines.

use super::{Bounds, Point, distance, lerp, tol};

/// A closed line through its points; the first is not repeated at the end. Which way it runs is up to its
/// owner (a [`Region`](super::Region) runs outlines counter-clockwise, cut-outs clockwise).
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Ring {
    /// The corners in order.
    pub points: Vec<Point>,
}

impl Ring {
    /// A ring through `points`; a repeated last point is dropped.
    pub fn new(mut points: Vec<Point>) -> Ring {
        while points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        Ring { points }
    }

    /// A ring through coordinate pairs.
    pub fn from_pairs(pairs: &[[f64; 2]]) -> Ring {
        Ring::new(pairs.iter().map(|p| Point { x: p[0], y: p[1] }).collect())
    }

    /// The corners as coordinate pairs.
    pub fn to_pairs(&self) -> Vec<[f64; 2]> {
        self.points.iter().map(|p| [p.x, p.y]).collect()
    }

    /// The sides, each from one corner to the next, the closing one last.
    pub fn sides(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        let n = self.points.len();
        (0..n).map(move |i| (self.points[i], self.points[(i + 1) % n]))
    }

    /// Area, mm²; positive when the ring runs counter-clockwise (y up).
    pub fn signed_area(&self) -> f64 {
        let Some(&o) = self.points.first() else { return 0.0 };
        let twice: f64 = self
            .sides()
            .map(|(p, q)| {
                let (p, q) = (p - o, q - o);
                p.x * q.y - p.y * q.x
            })
            .sum();
        twice / 2.0
    }

    /// Length all the way round, mm.
    pub fn length(&self) -> f64 {
        self.sides().map(|(p, q)| distance(p, q)).sum()
    }

    /// The smallest box round it.
    pub fn bounds(&self) -> Bounds {
        Bounds::of(self.points.iter().copied())
    }

    /// The same ring the other way round.
    pub fn reversed(&self) -> Ring {
        Ring { points: self.points.iter().rev().copied().collect() }
    }

    /// The same ring running counter-clockwise (`true`) or clockwise.
    pub fn oriented(self, counter_clockwise: bool) -> Ring {
        if (self.signed_area() > 0.0) == counter_clockwise { self } else { self.reversed() }
    }

    /// True when every coordinate is finite and within [`tol::FARTHEST_MM`].
    pub fn is_sane(&self) -> bool {
        self.points.iter().all(|p| p.x.abs() <= tol::FARTHEST_MM && p.y.abs() <= tol::FARTHEST_MM)
    }

    /// Every point moved by `f`.
    pub fn map(&self, f: impl FnMut(Point) -> Point) -> Ring {
        Ring { points: self.points.iter().copied().map(f).collect() }
    }

    /// True when `p` is strictly inside, by the even-odd rule with exact orientation; the border counts as
    /// neither.
    pub fn contains(&self, p: Point) -> bool {
        let mut inside = false;
        for (a, b) in self.sides() {
            if (a.y > p.y) == (b.y > p.y) {
                continue;
            }
            let (low, high) = if a.y < b.y { (a, b) } else { (b, a) };
            let turn = robust::orient2d(
                robust::Coord { x: low.x, y: low.y },
                robust::Coord { x: high.x, y: high.y },
                robust::Coord { x: p.x, y: p.y },
            );
            if turn == 0.0 {
                return false;
            }
            if turn > 0.0 {
                inside = !inside;
            }
        }
        inside
    }

    /// The point a distance `s` along from the first corner, going round as often as needed; the first
    /// corner for a ring of no length.
    pub fn at(&self, s: f64) -> Point {
        let total = self.length();
        let first = self.points.first().copied().unwrap_or_default();
        if total <= 0.0 {
            return first;
        }
        let mut left = s.rem_euclid(total);
        for (p, q) in self.sides() {
            let d = distance(p, q);
            if left <= d && d > 0.0 {
                return lerp(p, q, left / d);
            }
            left -= d;
        }
        first
    }

    pub(super) fn to_geo(&self) -> geo::LineString<f64> {
        let mut points = self.points.clone();
        if let Some(&first) = points.first() {
            points.push(first);
        }
        geo::LineString::new(points)
    }

    pub(super) fn from_geo(line: &geo::LineString<f64>) -> Ring {
        Ring::new(line.0.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    fn square() -> Ring {
        Ring::from_pairs(&[[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]])
    }

    #[test]
    fn area_length_and_direction() {
        assert_eq!(square().signed_area(), 4.0);
        assert_eq!(square().reversed().signed_area(), -4.0);
        assert_eq!(square().length(), 8.0);
        assert_eq!(square().oriented(false).signed_area(), -4.0);
    }

    #[test]
    fn inside_is_strict() {
        assert!(square().contains(pt(1.0, 1.0)));
        assert!(!square().contains(pt(2.0, 1.0)));
        assert!(!square().contains(pt(3.0, 1.0)));
    }

    #[test]
    fn walking_round_comes_back() {
        assert_eq!(square().at(3.0), pt(2.0, 1.0));
        assert_eq!(square().at(8.0), pt(0.0, 0.0));
        assert_eq!(square().at(-1.0), pt(0.0, 1.0));
    }

    #[test]
    fn a_repeated_last_point_is_dropped() {
        assert_eq!(Ring::from_pairs(&[[0.0, 0.0], [1.0, 0.0], [0.0, 0.0]]).points.len(), 2);
    }
}
