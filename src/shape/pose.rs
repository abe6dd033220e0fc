//! Poses (turn and shift) and affine maps.

use super::{Point, Region, Ring, pt};

/// Cosine and sine of a turn in degrees, exact at quarter turns and the same on every machine.
pub fn turn_cos_sin(turn_deg: f64) -> (f64, f64) {
    let t = turn_deg.rem_euclid(360.0);
    if t == 0.0 {
        (1.0, 0.0)
    } else if t == 90.0 {
        (0.0, 1.0)
    } else if t == 180.0 {
        (-1.0, 0.0)
    } else if t == 270.0 {
        (0.0, -1.0)
    } else {
        (libm::cos(t.to_radians()), libm::sin(t.to_radians()))
    }
}

/// A turn about the drawing's origin, then a shift: cloth point = R(turn) · p + (x, y). Never mirrors.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Pose {
    /// Turn, degrees counter-clockwise.
    pub turn_deg: f64,
    /// Shift, mm.
    pub shift: Point,
}

impl Pose {
    /// Where the pose puts `p`.
    pub fn apply(&self, p: Point) -> Point {
        let (c, s) = turn_cos_sin(self.turn_deg);
        pt(c * p.x - s * p.y + self.shift.x, s * p.x + c * p.y + self.shift.y)
    }

    /// Where the pose puts the ring.
    pub fn ring(&self, ring: &Ring) -> Ring {
        self.affine().ring(ring)
    }

    /// Where the pose puts the region.
    pub fn region(&self, region: &Region) -> Region {
        let m = self.affine();
        region.map(|p| m.apply(p))
    }

    /// The pose as an affine map.
    pub fn affine(&self) -> Affine {
        let (c, s) = turn_cos_sin(self.turn_deg);
        Affine([c, s, -s, c, self.shift.x, self.shift.y])
    }
}

/// An affine map `[a, b, c, d, e, f]`: (x, y) → (a·x + c·y + e, b·x + d·y + f), the order SVG uses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Affine(pub [f64; 6]);

impl Affine {
    /// Leaves every point where it is.
    pub const IDENTITY: Affine = Affine([1.0, 0.0, 0.0, 1.0, 0.0, 0.0]);

    /// Where the map puts `p`.
    pub fn apply(&self, p: Point) -> Point {
        let [a, b, c, d, e, f] = self.0;
        pt(a * p.x + c * p.y + e, b * p.x + d * p.y + f)
    }

    /// Where the map puts the ring, corner by corner.
    pub fn ring(&self, ring: &Ring) -> Ring {
        ring.map(|p| self.apply(p))
    }

    /// First `first`, then this.
    pub fn after(&self, first: &Affine) -> Affine {
        let [a, b, c, d, e, f] = self.0;
        let [ga, gb, gc, gd, ge, gf] = first.0;
        Affine([
            a * ga + c * gb,
            b * ga + d * gb,
            a * gc + c * gd,
            b * gc + d * gd,
            a * ge + c * gf + e,
            b * ge + d * gf + f,
        ])
    }

    /// How the map scales areas; negative when it mirrors.
    pub fn determinant(&self) -> f64 {
        let [a, b, c, d, ..] = self.0;
        a * d - b * c
    }

    /// The map that undoes this one; `None` when it flattens the plane.
    pub fn inverse(&self) -> Option<Affine> {
        let det = self.determinant();
        if det == 0.0 || !det.is_finite() {
            return None;
        }
        let [a, b, c, d, e, f] = self.0;
        let (ia, ib, ic, id) = (d / det, -b / det, -c / det, a / det);
        Some(Affine([ia, ib, ic, id, -(ia * e + ic * f), -(ib * e + id * f)]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_half_turn_is_exact() {
        let pose = Pose { turn_deg: 180.0, shift: pt(10.0, 20.0) };
        assert_eq!(pose.apply(pt(3.0, 4.0)), pt(7.0, 16.0));
        assert_eq!(Pose { turn_deg: -90.0, shift: pt(0.0, 0.0) }.apply(pt(1.0, 0.0)), pt(0.0, -1.0));
    }

    #[test]
    fn an_inverse_undoes() {
        let m = Affine([2.0, 1.0, -1.0, 3.0, 5.0, 7.0]);
        let back = m.inverse().unwrap().after(&m);
        for (x, y) in back.0.iter().zip(Affine::IDENTITY.0) {
            assert!((x - y).abs() < 1e-12);
        }
        assert_eq!(Affine([1.0, 2.0, 2.0, 4.0, 0.0, 0.0]).inverse(), None);
    }
}
