//! How far a fit can be trusted away from its marks.

use super::fit::{FitKind, Sighting, middle};
use crate::shape::Point;

/// Directions the 95 % radius is summed over; the sum of a smooth periodic function converges far sooner.
const DIRECTIONS: u32 = 128;
/// Halvings of the interval it is sought in.
const HALVINGS: usize = 60;

/// The marks of a fit as far as its errors go.
#[derive(Clone, Copy, Debug)]
pub struct Spread {
    kind: FitKind,
    /// Variance of a mark's error in one direction, mm².
    variance: f64,
    n: f64,
    centre: Point,
    /// Sums of squares and products about the centre, mm².
    moments: [f64; 3],
}

impl Spread {
    /// For a fit of `kind` to `seen`, each mark erring by `mark_error_mm` (root mean square, both directions together).
    pub fn new(kind: FitKind, seen: &[Sighting], mark_error_mm: f64) -> Spread {
        let centre = middle(seen.iter().map(|s| s.cloth));
        let moments = seen
            .iter()
            .map(|s| s.cloth - centre)
            .fold([0.0; 3], |[xx, xy, yy], d| [xx + d.x * d.x, xy + d.x * d.y, yy + d.y * d.y]);
        let variance = mark_error_mm * mark_error_mm / 2.0;
        Spread { kind, variance, n: seen.len() as f64, centre, moments }
    }

    /// Variances of the error at `target` (cloth frame) along its two main directions, mm², the larger first.
    ///
    /// Rigid: 1/N each, and d²/Σd² more square to the way to the marks' centre; similarity: that both ways; affine:
    /// dᵀ(Σddᵀ)⁻¹d both ways. J. M. Fitzpatrick, J. B. West & C. R. Maurer, "Predicting error in rigid-body point-based
    /// registration", IEEE Trans. Med. Imaging 17, 694-702, 1998, in the plane; affine: the variance of a regression.
    pub fn variances(&self, target: Point) -> [f64; 2] {
        let d = target - self.centre;
        let [xx, xy, yy] = self.moments;
        let lever = match self.kind {
            FitKind::Affine => (d.x * d.x * yy - 2.0 * d.x * d.y * xy + d.y * d.y * xx) / (xx * yy - xy * xy),
            _ => (d.x * d.x + d.y * d.y) / (xx + yy),
        };
        let (base, more) = (self.variance / self.n, self.variance * lever);
        let known = |v: f64| if v.is_finite() { v } else { f64::INFINITY };
        [known(base + more), if self.kind == FitKind::Rigid { base } else { known(base + more) }]
    }

    /// Error to expect at `target`, root mean square, both directions together, mm. For a rigid fit the same as
    /// [`passes::expected_error_mm`](crate::passes::expected_error_mm).
    pub fn expected_mm(&self, target: Point) -> f64 {
        self.variances(target).iter().sum::<f64>().sqrt()
    }

    /// 95 of 100 errors at `target` are no larger, mm.
    pub fn held_mm(&self, target: Point) -> f64 {
        radius_holding_95(self.variances(target))
    }
}

/// The radius about 0 that holds 95 % of a plane normal distribution with these variances along its main directions.
///
/// With z = (ρ cos φ, ρ sin φ) standard normal the distance is ρ·w, w² = v₁ cos² φ + v₂ sin² φ, so that the share beyond
/// r is the mean of exp(−r²/(2w²)) over φ: exact (ρ² being χ² distributed with two degrees of freedom, any text).
pub fn radius_holding_95(variances: [f64; 2]) -> f64 {
    let most = variances[0].max(variances[1]);
    if !(most > 0.0 && most.is_finite()) {
        return if most == 0.0 { 0.0 } else { f64::INFINITY };
    }
    let beyond = |r: f64| {
        let share = |k: u32| {
            let t = std::f64::consts::PI * (f64::from(k) + 0.5) / f64::from(DIRECTIONS);
            let w2 = variances[0] * libm::cos(t).powi(2) + variances[1] * libm::sin(t).powi(2);
            libm::exp(-r * r / (2.0 * w2))
        };
        (0..DIRECTIONS).map(share).sum::<f64>() / f64::from(DIRECTIONS)
    };
    let (mut low, mut high) = (0.0, 3.0 * most.sqrt());
    for _ in 0..HALVINGS {
        let half = (low + high) / 2.0;
        if beyond(half) > 0.05 { low = half } else { high = half }
    }
    high
}

/// The value a χ² of `freedoms` stays below, where a standard normal stays below `z`: E. B. Wilson & M. M. Hilferty,
/// Proc. Natl. Acad. Sci. 17, 684-688, 1931; within 1 % of the tables where it is used here.
pub(super) fn chi_square(freedoms: usize, z: f64) -> f64 {
    if freedoms == 0 {
        return 0.0;
    }
    let k = freedoms as f64;
    let s = 2.0 / (9.0 * k);
    k * (1.0 - s + z * s.sqrt()).powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::passes::expected_error_mm;
    use crate::shape::pt;

    fn seen(points: &[(f64, f64)]) -> Vec<Sighting> {
        points.iter().map(|&(x, y)| Sighting { cloth: pt(x, y), bed: pt(x, y) }).collect()
    }

    /// Upper percentage points of χ² (any table, e.g. NIST/SEMATECH e-Handbook of Statistical Methods 1.3.6.7.4).
    #[test]
    fn chi_square_is_as_in_the_tables() {
        for (k, z, table) in [
            (1, 2.326348, 6.635),
            (2, 2.326348, 9.210),
            (3, 2.326348, 11.345),
            (1, 3.090232, 10.828),
            (5, 3.090232, 20.515),
        ] {
            let found = chi_square(k, z);
            assert!((found / table - 1.0).abs() < 0.01, "{k}: {found} against {table}");
        }
    }

    /// Rayleigh distribution: √(−2 ln 0.05)·σ; one direction only: 1.959964·σ (tables of the normal distribution).
    #[test]
    fn the_radius_of_95_percent_is_known_for_a_disc_and_for_a_line() {
        assert!((radius_holding_95([4.0, 4.0]) - 2.0 * (-2.0 * libm::log(0.05)).sqrt()).abs() < 1e-9);
        assert!((radius_holding_95([1.0, 1e-8]) - 1.959964).abs() < 2e-3);
        assert_eq!(radius_holding_95([0.0, 0.0]), 0.0);
        assert_eq!(radius_holding_95([f64::INFINITY, 1.0]), f64::INFINITY);
    }

    /// Four marks 300 × 200 mm, mark error 0.3 mm: at their centre 0.150 both; at a corner 0.1837 and 0.2121; 500 mm off
    /// the centre 0.3302 and 0.4422 (rigid, similarity). Derived from the formula and simulated apart from this program.
    #[test]
    fn expected_errors_are_those_worked_out_elsewhere() {
        let marks = seen(&[(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)]);
        let (rigid, similar) =
            (Spread::new(FitKind::Rigid, &marks, 0.3), Spread::new(FitKind::Similarity, &marks, 0.3));
        for (at, r, s) in [
            (pt(150.0, 100.0), 0.15, 0.15),
            (pt(0.0, 0.0), 0.1837, 0.2121),
            (pt(650.0, 100.0), 0.3302, 0.4422),
        ] {
            assert!((rigid.expected_mm(at) - r).abs() < 5e-5, "{}", rigid.expected_mm(at));
            assert!((similar.expected_mm(at) - s).abs() < 5e-5, "{}", similar.expected_mm(at));
            let points: Vec<Point> = marks.iter().map(|m| m.cloth).collect();
            assert!((rigid.expected_mm(at) - expected_error_mm(&points, at, 0.3)).abs() < 1e-12);
        }
    }
}
