//! Regions grown and shrunk (by `geo-clipper`, on whole nanometres).

use geo_clipper::{ClipperInt, EndType, JoinType};

use super::{Region, Ring, booleans, pt, tol};

/// How outer corners of a grown region are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Join {
    /// By an arc: every point of the new edge lies at the offset distance.
    Round,
    /// By running the sides on until they meet, cut off past twice the offset.
    Mitre,
}

const PER_MM: f64 = 1.0e6;

/// `regions` united and grown by `d` mm (shrunk when negative), as separate connected parts.
///
/// Round joins keep within [`tol::ARC_MM`] of the true arc on the inner side and never past it.
/// Slivers are dropped, so a region too thin to be shrunk vanishes. Regions with wild coordinates (see
/// [`Region::is_sane`]) and distances beyond [`tol::FARTHEST_MM`] give nothing.
pub fn offset(regions: &[Region], d: f64, join: Join) -> Vec<Region> {
    let united = booleans::union(regions);
    if d == 0.0 {
        return united;
    }
    if !d.is_finite() || d.abs() > tol::FARTHEST_MM {
        return Vec::new();
    }
    let whole = geo::MultiPolygon::new(united.iter().map(to_nanometres).collect());
    let join = match join {
        // The engine's arcs fall short by up to 2.25 times the precision it is given.
        Join::Round => JoinType::Round(tol::ARC_MM / 2.5 * PER_MM),
        Join::Mitre => JoinType::Miter(2.0),
    };
    let grown = ClipperInt::offset(&whole, d * PER_MM, join, EndType::ClosedPolygon);
    grown.0.iter().map(from_nanometres).filter(|r| r.area() > tol::SLIVER_MM2).collect()
}

fn to_nanometres(region: &Region) -> geo::Polygon<i64> {
    let line = |ring: &Ring| {
        let mut points: Vec<_> = ring
            .points
            .iter()
            .map(|p| geo::Coord { x: (p.x * PER_MM).round() as i64, y: (p.y * PER_MM).round() as i64 })
            .collect();
        points.extend(points.first().copied());
        geo::LineString::new(points)
    };
    geo::Polygon::new(line(&region.outline), region.cutouts.iter().map(line).collect())
}

fn from_nanometres(polygon: &geo::Polygon<i64>) -> Region {
    let ring = |line: &geo::LineString<i64>| {
        Ring::new(line.0.iter().map(|c| pt(c.x as f64 / PER_MM, c.y as f64 / PER_MM)).collect())
    };
    let mut region = Region::new(ring(polygon.exterior()), polygon.interiors().iter().map(ring).collect());
    region.cutouts.retain(|c| c.signed_area().abs() > tol::SLIVER_MM2);
    region
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::Bounds;

    fn square_with_hole() -> Region {
        let outer = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(100.0, 100.0)));
        let hole = Region::rectangle(Bounds::new(pt(30.0, 30.0), pt(70.0, 70.0)));
        outer.minus(&[hole]).remove(0)
    }

    /// Steiner's formula for a convex body: A + d·P + π·d² outside; a convex hole loses A − d·P + 4·d².
    #[test]
    fn grown_area_follows_steiners_formula() {
        let d = 1.5;
        let grown = offset(&[square_with_hole()], d, Join::Round);
        let outer = 100.0 * 100.0 + d * 400.0 + std::f64::consts::PI * d * d;
        let hole = (40.0 - 2.0 * d) * (40.0 - 2.0 * d);
        assert_eq!(grown.len(), 1);
        assert!((grown[0].area() - (outer - hole)).abs() < 0.1, "{}", grown[0].area());
        let mitred = offset(&[square_with_hole()], d, Join::Mitre);
        assert!((mitred[0].area() - (103.0 * 103.0 - hole)).abs() < 1e-6);
    }

    #[test]
    fn shrinking_a_thin_strip_leaves_nothing() {
        let strip = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(100.0, 2.0)));
        assert!(offset(&[strip], -1.5, Join::Round).is_empty());
    }

    #[test]
    fn wild_coordinates_give_nothing_instead_of_a_crash() {
        let wild = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(1.0e300, 1.0)));
        assert!(offset(&[wild], 1.0, Join::Round).is_empty());
        let none = Region::new(Ring::from_pairs(&[[f64::NAN, 0.0], [1.0, 0.0], [0.0, 1.0]]), vec![]);
        assert!(offset(&[none], 1.0, Join::Round).is_empty());
        assert!(offset(&[square_with_hole()], 1.0e300, Join::Round).is_empty());
    }
}
