//! Lattices of repeats.

use super::{Bounds, Point, distance, pt};

/// A lattice of repeats: vector `a` across, vector `b` along (at least one), through `origin`.
///
/// With one vector the pattern is a stripe: it repeats in that vector's own direction and is the same all
/// along the line square to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lattice {
    /// Repeat across, mm; `None` when the cloth does not change across.
    pub a: Option<Point>,
    /// Repeat along, mm; `None` when the cloth does not change along.
    pub b: Option<Point>,
    /// A point of the lattice, mm.
    pub origin: Point,
}

impl Lattice {
    /// Where `v` stands in units of the repeats: (share of `a`, share of `b`). A missing vector's share is 0.
    pub fn fractions(&self, v: Point) -> Point {
        match (self.a, self.b) {
            (Some(a), Some(b)) => {
                let det = a.x * b.y - a.y * b.x;
                pt((v.x * b.y - v.y * b.x) / det, (a.x * v.y - a.y * v.x) / det)
            }
            (Some(a), None) => pt(dot(v, a) / dot(a, a), 0.0),
            (None, Some(b)) => pt(0.0, dot(v, b) / dot(b, b)),
            (None, None) => pt(0.0, 0.0),
        }
    }

    /// The vector with the given shares of the repeats.
    pub fn vector(&self, fractions: Point) -> Point {
        self.a.unwrap_or_default() * fractions.x + self.b.unwrap_or_default() * fractions.y
    }

    /// The vector nearest to `v` that leaves the pattern as it is. With one repeat the free direction of
    /// `v` is kept.
    pub fn nearest(&self, v: Point) -> Point {
        let f = self.fractions(v);
        let whole = pt(f.x.round(), f.y.round());
        if self.a.is_none() || self.b.is_none() {
            return v - self.vector(f - whole);
        }
        let mut best = self.vector(whole);
        for i in -1..=1 {
            for j in -1..=1 {
                let w = self.vector(whole + pt(f64::from(i), f64::from(j)));
                if distance(w, v) < distance(best, v) {
                    best = w;
                }
            }
        }
        best
    }

    /// How far `v` is from leaving the pattern as it is, mm.
    pub fn residual(&self, v: Point) -> f64 {
        distance(self.nearest(v), v)
    }

    /// Bounds of the shares (fractions) a box of vectors spans; for walking every lattice point in a box.
    pub fn fraction_bounds(&self, b: Bounds) -> Bounds {
        Bounds::of(b.corners().map(|c| self.fractions(c)))
    }
}

fn dot(p: Point, q: Point) -> f64 {
    p.x * q.x + p.y * q.y
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_skewed_lattice_finds_its_nearest_vector() {
        let l = Lattice { a: Some(pt(100.0, 1.5)), b: Some(pt(0.0, 90.0)), origin: pt(0.0, 0.0) };
        let v = l.vector(pt(3.0, -2.0)) + pt(1.0, -2.0);
        let n = l.nearest(v);
        assert!(distance(n, l.vector(pt(3.0, -2.0))) < 1e-9);
        assert!((l.residual(v) - 5f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn a_stripe_binds_one_direction_only() {
        let l = Lattice { a: Some(pt(40.0, 0.0)), b: None, origin: pt(0.0, 0.0) };
        assert_eq!(l.nearest(pt(81.0, 17.0)), pt(80.0, 17.0));
        assert_eq!(l.residual(pt(81.0, 17.0)), 1.0);
    }
}
