//! Least-squares maps from points of the cloth to points of the bed, in closed form.

use serde::Serialize;

use crate::shape::{Affine, Point, across_line, pt, tol};

/// What a fit may do to the cloth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum FitKind {
    /// Turn and shift.
    Rigid,
    /// Turn, shift and one stretch, the same every way.
    Similarity,
    /// Turn, shift, a stretch of its own each way, and shear.
    Affine,
}

impl FitKind {
    /// All, from the stiffest.
    pub const ALL: [FitKind; 3] = [FitKind::Rigid, FitKind::Similarity, FitKind::Affine];

    /// Numbers a fit of this kind finds.
    pub fn freedoms(self) -> usize {
        match self {
            FitKind::Rigid => 3,
            FitKind::Similarity => 4,
            FitKind::Affine => 6,
        }
    }

    /// Fewest points that fix it.
    pub fn least_points(self) -> usize {
        if self == FitKind::Affine { 3 } else { 2 }
    }

    /// The word used in reports.
    pub fn word(self) -> &'static str {
        match self {
            FitKind::Rigid => "rigid",
            FitKind::Similarity => "similarity",
            FitKind::Affine => "affine",
        }
    }
}

/// A point of the cloth and where it lies on the bed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sighting {
    /// Cloth frame, mm.
    pub cloth: Point,
    /// Bed frame, mm, as measured.
    pub bed: Point,
}

impl Sighting {
    /// From where `map` puts it to where it was seen, bed frame, mm.
    pub fn off(&self, map: &Affine) -> Point {
        self.bed - map.apply(self.cloth)
    }
}

/// The map of this kind with the least sum of squared distances. `mirrored`: the cloth lies face down, so that the map
/// holds a reflection. `None` when the points do not fix it.
///
/// Rigid and similarity: S. Umeyama, "Least-squares estimation of transformation parameters between two point
/// patterns", IEEE Trans. Pattern Anal. Mach. Intell. 13, 376-380, 1991, which in the plane, its reflection given, is
/// k = Σ y·x̄ / Σ|x|² in complex numbers about both centroids: |k| the stretch, arg k the turn. Affine: the normal
/// equations (any text on linear regression).
pub fn fit(kind: FitKind, seen: &[Sighting], mirrored: bool) -> Option<Affine> {
    if seen.len() < kind.least_points() {
        return None;
    }
    let (from, to) = (middle(seen.iter().map(|s| s.cloth)), middle(seen.iter().map(|s| s.bed)));
    // Centred first: at two metres from the origin the squares would swallow the micrometres.
    let pairs = || seen.iter().map(|s| (s.cloth - from, s.bed - to));
    let linear = if kind == FitKind::Affine {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        let (mut ux, mut uy, mut vx, mut vy) = (0.0, 0.0, 0.0, 0.0);
        for (p, q) in pairs() {
            (xx, xy, yy) = (xx + p.x * p.x, xy + p.x * p.y, yy + p.y * p.y);
            (ux, uy) = (ux + q.x * p.x, uy + q.x * p.y);
            (vx, vy) = (vx + q.y * p.x, vy + q.y * p.y);
        }
        if across_line(xx, xy, yy, seen.len()) < tol::IN_A_LINE_MM {
            return None;
        }
        let det = xx * yy - xy * xy;
        let solve = |u: f64, v: f64| ((u * yy - v * xy) / det, (v * xx - u * xy) / det);
        let ((a, c), (b, d)) = (solve(ux, uy), solve(vx, vy));
        [a, b, c, d]
    } else {
        let flip = if mirrored { -1.0 } else { 1.0 };
        let (mut re, mut im, mut norm) = (0.0, 0.0, 0.0);
        for (p, q) in pairs() {
            let x = flip * p.x;
            (re, im) = (re + q.x * x + q.y * p.y, im + q.y * x - q.x * p.y);
            norm += x * x + p.y * p.y;
        }
        let size = if kind == FitKind::Rigid { (re * re + im * im).sqrt() } else { norm };
        let (re, im) = (re / size, im / size);
        [flip * re, flip * im, -im, re]
    };
    let [a, b, c, d] = linear;
    let map = Affine([a, b, c, d, to.x - (a * from.x + c * from.y), to.y - (b * from.x + d * from.y)]);
    map.0.iter().all(|v| v.is_finite()).then_some(map)
}

/// The mean of some points.
pub(super) fn middle(points: impl Iterator<Item = Point>) -> Point {
    let (sum, n) = points.fold((pt(0.0, 0.0), 0.0), |(s, n), p| (s + p, n + 1.0));
    sum / f64::max(n, 1.0)
}

/// What a map does to the cloth besides turning, shifting and mirroring it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distortion {
    /// Stretch along the weft, 0.01 for 1 %.
    pub across: f64,
    /// Stretch along the warp.
    pub along: f64,
    /// By how much warp and weft are out of square, degrees.
    pub shear_deg: f64,
    /// The greatest stretch or shrinking in any direction.
    pub most: f64,
    /// The distortion itself, cloth frame: symmetric, no shift. The map is this, then a turn (and reflection).
    pub map: Affine,
    /// That turn (and reflection), no shift.
    pub rigid: Affine,
}

impl Distortion {
    /// Takes `map` apart (polar decomposition; its closed form in the plane, any text on matrices). `None` for a map
    /// that flattens.
    pub fn of(map: &Affine) -> Option<Distortion> {
        let [a, b, c, d, ..] = map.0;
        let (p, q, r) = (a * a + b * b, a * c + b * d, c * c + d * d);
        let root = map.determinant().abs();
        let t = (p + r + 2.0 * root).sqrt();
        // √(LᵀL) = (LᵀL + √det·1) / √(trace + 2·√det)
        let symmetric = Affine([(p + root) / t, q / t, q / t, (r + root) / t, 0.0, 0.0]);
        let rigid = Affine([a, b, c, d, 0.0, 0.0]).after(&symmetric.inverse()?);
        let [sa, sb, _, sd, ..] = symmetric.0;
        let (middle, half) = ((sa + sd) / 2.0, (((sa - sd) / 2.0).powi(2) + sb * sb).sqrt());
        let most = (middle + half - 1.0).abs().max((middle - half - 1.0).abs());
        Some(Distortion {
            across: p.sqrt() - 1.0,
            along: r.sqrt() - 1.0,
            shear_deg: libm::asin((q / (p * r).sqrt()).clamp(-1.0, 1.0)).to_degrees(),
            most,
            map: symmetric,
            rigid,
        })
    }
}

#[cfg(test)]
#[path = "fit_tests.rs"]
mod tests;
