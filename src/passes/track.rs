//! A contour measured along its length.

use crate::shape::{Point, Ring, distance, lerp, tol};

/// Joints are looked for this densely along straight sides, mm.
pub(super) const STATION_MM: f64 = 3.0;

/// A turn of at least this within [`CORNER_SPAN_MM`] either way is a corner, degrees.
const CORNER_DEG: f64 = 25.0;

/// How far a rounded corner is looked at either way, mm.
const CORNER_SPAN_MM: f64 = 1.5;

/// A point of a contour where a joint could be: a corner of the line or a point of a side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Station {
    /// Length along the contour from its first point, mm.
    pub s: f64,
    pub at: Point,
}

/// A contour with lengths. Lengths wrap round at its end.
pub(super) struct Track<'a> {
    ring: &'a Ring,
    /// Length at every corner, and the whole length at the end.
    lengths: Vec<f64>,
    /// At least one on every side, the first at length 0, no two further apart than [`STATION_MM`].
    pub stations: Vec<Station>,
    /// Sum of turns up to every corner, degrees, one more entry than corners.
    turned: Vec<f64>,
    corners: Vec<f64>,
}

impl<'a> Track<'a> {
    pub fn new(ring: &'a Ring) -> Track<'a> {
        let mut lengths = vec![0.0];
        let mut stations = Vec::new();
        let mut s = 0.0;
        for (p, q) in ring.sides() {
            let side = distance(p, q);
            let steps = (side / STATION_MM).ceil().max(1.0);
            for k in 0..steps as usize {
                let t = k as f64 / steps;
                stations.push(Station { s: s + side * t, at: lerp(p, q, t) });
            }
            s += side;
            lengths.push(s);
        }
        let mut track = Track { ring, lengths, stations, turned: vec![0.0], corners: Vec::new() };
        let n = ring.points.len();
        for i in 0..n {
            let turn = turn_deg(ring.points[(i + n - 1) % n], ring.points[i], ring.points[(i + 1) % n]);
            track.turned.push(track.turned[i] + turn.abs());
        }
        let corner = |&s: &f64| track.turning_deg(s, CORNER_SPAN_MM) >= CORNER_DEG;
        track.corners = track.lengths[..n].iter().copied().filter(corner).collect();
        track
    }

    /// The whole length, mm.
    pub fn total(&self) -> f64 {
        self.lengths.last().copied().unwrap_or(0.0)
    }

    /// How far `s` is from `t` the shorter way round.
    pub fn apart(&self, s: f64, t: f64) -> f64 {
        let d = (s - t).rem_euclid(self.total());
        d.min(self.total() - d)
    }

    /// How much the contour turns within `reach` of `s` either way, left and right turns added, degrees.
    pub fn turning_deg(&self, s: f64, reach: f64) -> f64 {
        let total = self.total();
        if total <= 2.0 * reach {
            return self.turned.last().copied().unwrap_or(0.0);
        }
        let upto = |s: f64| self.turned[self.lengths[..self.lengths.len() - 1].partition_point(|&l| l <= s)];
        let round = self.turned.last().copied().unwrap_or(0.0);
        let (from, to) = (s - reach, s + reach);
        let before = if from < 0.0 { upto(from + total) - round } else { upto(from) };
        let after = if to >= total { upto(to - total) + round } else { upto(to) };
        after - before
    }

    /// Length of contour between `s` and the nearest corner, mm; infinite without corners.
    pub fn to_corner(&self, s: f64) -> f64 {
        let i = self.corners.partition_point(|&c| c < s);
        let n = self.corners.len();
        let near = [(i + n).checked_sub(1), Some(i)].into_iter().flatten().filter(|_| n > 0);
        near.map(|k| self.apart(s, self.corners[k % n])).fold(f64::INFINITY, f64::min)
    }

    /// The point at length `s`.
    pub fn at(&self, s: f64) -> Point {
        let s = s.rem_euclid(self.total());
        let n = self.ring.points.len();
        let i = self.lengths[..n].partition_point(|&l| l <= s).max(1) - 1;
        let side = self.lengths[i + 1] - self.lengths[i];
        let t = if side > 0.0 { ((s - self.lengths[i]) / side).min(1.0) } else { 0.0 };
        lerp(self.ring.points[i], self.ring.points[(i + 1) % n], t)
    }

    /// Direction of the contour at `s`, of no particular length.
    pub fn direction(&self, s: f64) -> Point {
        self.at(s + STATION_MM / 2.0) - self.at(s - STATION_MM / 2.0)
    }

    /// The contour's own line from length `from` on to `to` (`from < to`, at most once round).
    pub fn path(&self, from: f64, to: f64) -> Vec<Point> {
        let total = self.total();
        let n = self.ring.points.len();
        let start = from.rem_euclid(total);
        let end = start + (to - from);
        let mut path = vec![self.at(start)];
        let first = self.lengths[..n].partition_point(|&l| l <= start + tol::SAME_POINT_MM);
        for k in first..first + n {
            let l = self.lengths[k % n] + if k >= n { total } else { 0.0 };
            if l >= end - tol::SAME_POINT_MM {
                break;
            }
            path.push(self.ring.points[k % n]);
        }
        path.push(self.at(end));
        path
    }
}

fn turn_deg(p: Point, q: Point, r: Point) -> f64 {
    let (a, b) = (q - p, r - q);
    libm::atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y).to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    fn square() -> Ring {
        Ring::from_pairs(&[[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]])
    }

    #[test]
    fn lengths_points_and_stretches() {
        let ring = square();
        let t = Track::new(&ring);
        assert_eq!(t.total(), 400.0);
        assert_eq!(t.at(150.0), pt(100.0, 50.0));
        assert_eq!(t.at(-10.0), pt(0.0, 10.0));
        assert_eq!(t.path(350.0, 450.0), [pt(0.0, 50.0), pt(0.0, 0.0), pt(50.0, 0.0)]);
        assert_eq!(t.path(-20.0, 20.0), [pt(0.0, 20.0), pt(0.0, 0.0), pt(20.0, 0.0)]);
        assert_eq!(t.path(90.0, 310.0).len(), 5);
        assert!(t.stations.windows(2).all(|w| w[1].s - w[0].s <= STATION_MM + 1e-9));
    }

    #[test]
    fn corners_and_turns_are_known() {
        let ring = square();
        let t = Track::new(&ring);
        assert!((t.turning_deg(50.0, 60.0) - 180.0).abs() < 1e-9);
        assert!((t.turning_deg(395.0, 10.0) - 90.0).abs() < 1e-9);
        assert_eq!(t.turning_deg(50.0, 20.0), 0.0);
        assert!((t.turning_deg(5.0, 250.0) - 360.0).abs() < 1e-9);
        assert_eq!((t.to_corner(30.0), t.to_corner(390.0), t.to_corner(0.0)), (30.0, 10.0, 0.0));
        let circle: Vec<_> = (0..360).map(|i| f64::from(i).to_radians()).collect();
        let circle = Ring::new(circle.iter().map(|a| pt(100.0 * a.cos(), 100.0 * a.sin())).collect());
        let round = Track::new(&circle);
        assert_eq!(round.to_corner(10.0), f64::INFINITY);
        // A circle of radius 100 turns 180/π degrees every 100 mm.
        assert!((round.turning_deg(200.0, 50.0) - 180.0 / std::f64::consts::PI).abs() < 1.1);
    }
}
