//! Flat shapes with holes.

use super::{Bounds, Point, Ring, booleans};

/// One connected flat shape: an outline running counter-clockwise and any number of cut-outs running
/// clockwise.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Region {
    /// The outer edge, counter-clockwise.
    pub outline: Ring,
    /// The inner edges, clockwise.
    pub cutouts: Vec<Ring>,
}

impl Region {
    /// A region with its rings turned the right way round.
    pub fn new(outline: Ring, cutouts: Vec<Ring>) -> Region {
        Region {
            outline: outline.oriented(true),
            cutouts: cutouts.into_iter().map(|r| r.oriented(false)).collect(),
        }
    }

    /// The box as a region.
    pub fn rectangle(b: Bounds) -> Region {
        Region { outline: Ring { points: b.corners().to_vec() }, cutouts: Vec::new() }
    }

    /// Outline first, then the cut-outs.
    pub fn rings(&self) -> impl Iterator<Item = &Ring> {
        std::iter::once(&self.outline).chain(&self.cutouts)
    }

    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.rings().map(Ring::signed_area).sum()
    }

    /// Length of all edges, mm.
    pub fn edge_length(&self) -> f64 {
        self.rings().map(Ring::length).sum()
    }

    /// True when every coordinate is finite and within [`tol::FARTHEST_MM`](super::tol::FARTHEST_MM).
    pub fn is_sane(&self) -> bool {
        self.rings().all(Ring::is_sane)
    }

    /// The smallest box round it.
    pub fn bounds(&self) -> Bounds {
        self.outline.bounds()
    }

    /// True when `p` is strictly inside.
    pub fn contains(&self, p: Point) -> bool {
        self.outline.contains(p) && !self.cutouts.iter().any(|c| c.contains(p) || on_ring(c, p))
    }

    /// Every point moved by `f`, which must keep the plane's handedness (use [`Region::new`] after a
    /// reflection).
    pub fn map(&self, mut f: impl FnMut(Point) -> Point) -> Region {
        Region {
            outline: self.outline.map(&mut f),
            cutouts: self.cutouts.iter().map(|c| c.map(&mut f)).collect(),
        }
    }

    /// As a `geo` polygon.
    pub fn to_geo(&self) -> geo::Polygon<f64> {
        geo::Polygon::new(self.outline.to_geo(), self.cutouts.iter().map(Ring::to_geo).collect())
    }

    /// From a `geo` polygon, rings turned the right way round.
    pub fn from_geo(polygon: &geo::Polygon<f64>) -> Region {
        Region::new(
            Ring::from_geo(polygon.exterior()),
            polygon.interiors().iter().map(Ring::from_geo).collect(),
        )
    }

    /// The parts of this region not covered by `others`.
    pub fn minus(&self, others: &[Region]) -> Vec<Region> {
        booleans::difference(std::slice::from_ref(self), others)
    }
}

fn on_ring(ring: &Ring, p: Point) -> bool {
    ring.sides().any(|(a, b)| {
        robust::orient2d(
            robust::Coord { x: a.x, y: a.y },
            robust::Coord { x: b.x, y: b.y },
            robust::Coord { x: p.x, y: p.y },
        ) == 0.0
            && Bounds::of([a, b]).contains(p)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    #[test]
    fn a_cut_out_is_outside() {
        let r = Region::new(
            Ring::from_pairs(&[[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]]),
            vec![Ring::from_pairs(&[[3.0, 3.0], [6.0, 3.0], [6.0, 6.0], [3.0, 6.0]])],
        );
        assert_eq!(r.area(), 72.0);
        assert!(r.contains(pt(1.0, 1.0)));
        assert!(!r.contains(pt(4.0, 4.0)));
        assert!(!r.contains(pt(3.0, 4.0)), "the edge of a cut-out is not inside");
    }
}
