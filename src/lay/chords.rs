//! How much of an upright line a region covers, wherever the line stands.

use crate::shape::{Region, tol};

/// The length of a region's chord on the upright line at x, for every x: linear between its corners.
#[derive(Clone, Debug)]
pub struct Chords {
    /// Corners' x, increasing.
    xs: Vec<f64>,
    /// For each stretch between two corners: the chord at its left and right end, seen from inside it.
    ends: Vec<(f64, f64)>,
}

impl Chords {
    /// Of `region`, whose rings run the right way round: an edge that runs left has the region below it, one that
    /// runs right above it, so the chord is the sum of the former's heights less the latter's.
    pub fn new(region: &Region) -> Chords {
        let mut xs: Vec<f64> = region.rings().flat_map(|r| r.points.iter().map(|p| p.x)).collect();
        xs.sort_by(f64::total_cmp);
        xs.dedup();
        let at = |x: f64| xs.partition_point(|v| *v < x);
        // Slope and height of the sum change where an edge begins and ends.
        let mut change = vec![(0.0, 0.0); xs.len() + 1];
        for (p, q) in region.rings().flat_map(|r| r.sides()) {
            if p.x == q.x {
                continue;
            }
            let slope = (q.y - p.y) / (q.x - p.x);
            let height = p.y - slope * p.x;
            let sign = if q.x < p.x { 1.0 } else { -1.0 };
            let (from, to) = (at(p.x.min(q.x)), at(p.x.max(q.x)));
            change[from].0 += sign * slope;
            change[from].1 += sign * height;
            change[to].0 -= sign * slope;
            change[to].1 -= sign * height;
        }
        let (mut slope, mut height) = (0.0, 0.0);
        let ends = (0..xs.len().saturating_sub(1))
            .map(|k| {
                slope += change[k].0;
                height += change[k].1;
                ((slope * xs[k] + height).max(0.0), (slope * xs[k + 1] + height).max(0.0))
            })
            .collect();
        Chords { xs, ends }
    }

    /// Number of corners.
    pub fn corners(&self) -> usize {
        self.xs.len()
    }

    /// The chord at `x`; `None` beside the region.
    fn at(&self, x: f64) -> Option<f64> {
        let k = self.xs.partition_point(|v| *v <= x).checked_sub(1)?;
        let &(left, right) = self.ends.get(k)?;
        let (from, to) = (self.xs[k], self.xs[k + 1]);
        Some(left + (right - left) * (x - from) / (to - from))
    }

    /// The least, over all shifts of the region across within `shifts` (both included), of the sum of its chords
    /// on `lines` and one `gap` for each line it meets.
    pub fn least_sum(&self, lines: &[f64], shifts: (f64, f64), gap: f64) -> f64 {
        // A little wider, so that a shift at an end that only just touches a line counts as not meeting it.
        let (low, high) = (shifts.0 - tol::SAME_POINT_MM, shifts.1 + tol::SAME_POINT_MM);
        let mut stops: Vec<f64> = lines
            .iter()
            .flat_map(|line| self.xs.iter().map(move |x| line - x))
            .filter(|s| *s > low && *s < high)
            .collect();
        stops.extend([low, high]);
        stops.sort_by(f64::total_cmp);
        stops.dedup();
        let sum = |s: f64| lines.iter().filter_map(|l| self.at(l - s)).map(|c| c + gap).sum::<f64>();
        // Linear between stops: two points within give both ends.
        stops
            .windows(2)
            .map(|w| {
                let step = (w[1] - w[0]) / 4.0;
                let (p, q) = (sum(w[0] + step), sum(w[1] - step));
                let slope = (q - p) / 2.0;
                (p - slope).min(q + slope)
            })
            .fold(f64::INFINITY, f64::min)
            .max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Bounds, Ring, pt};

    #[test]
    fn chords_of_a_frame_leave_out_its_cut_out() {
        let r = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(10.0, 10.0)))
            .minus(&[Region::rectangle(Bounds::new(pt(3.0, 2.0), pt(7.0, 9.0)))])
            .remove(0);
        let c = Chords::new(&r);
        assert!((c.at(1.0).unwrap() - 10.0).abs() < 1e-9);
        assert!((c.at(5.0).unwrap() - 3.0).abs() < 1e-9);
        assert_eq!(c.at(-0.1), None);
        assert_eq!(c.at(10.1), None);
    }

    #[test]
    fn the_least_over_a_range_is_found_between_corners_too() {
        // An hourglass on its side: the chord is 10 at the ends and 2 in the middle.
        let r = Region::new(
            Ring::from_pairs(&[[0.0, 0.0], [5.0, 4.0], [10.0, 0.0], [10.0, 10.0], [5.0, 6.0], [0.0, 10.0]]),
            vec![],
        );
        let c = Chords::new(&r);
        assert!((c.least_sum(&[5.0], (-2.0, 3.0), 1.0) - 3.0).abs() < 0.01);
        assert!((c.least_sum(&[5.0], (1.0, 3.0), 1.0) - (2.0 + 1.6 + 1.0)).abs() < 0.01);
        assert_eq!(c.least_sum(&[5.0], (-9.0, 3.0), 1.0), 0.0, "it may lie beside the line");
    }
}
