//! Union, difference and intersection of regions (by `geo`).
//!
//! Regions with wild coordinates (see [`Region::is_sane`]) count as empty: the engine would panic on them.
//! Readers refuse such coordinates at the door.

use geo::{BooleanOps, MultiPolygon, OpType, orient::Direction, orient::Orient, unary_union};

use super::{Region, Ring, tol};

fn to_multi(regions: &[Region]) -> MultiPolygon<f64> {
    MultiPolygon::new(regions.iter().filter(|r| r.is_sane()).map(Region::to_geo).collect())
}

fn from_multi(multi: &MultiPolygon<f64>) -> Vec<Region> {
    // A boolean now and then hands back a ring wound the wrong way; turn all of them before they are used.
    multi
        .orient(Direction::Default)
        .0
        .iter()
        .map(Region::from_geo)
        .filter(|r| r.area() > tol::SLIVER_MM2)
        .map(drop_pinholes)
        .collect()
}

fn drop_pinholes(mut region: Region) -> Region {
    region.cutouts.retain(|c| c.signed_area().abs() > tol::SLIVER_MM2);
    region
}

/// Everything covered by at least one of `regions`, as separate connected parts. Slivers are dropped.
pub fn union(regions: &[Region]) -> Vec<Region> {
    from_multi(&unary_union(&to_multi(regions).0))
}

/// What `regions` (which must not overlap each other) cover and `others` do not.
pub fn difference(regions: &[Region], others: &[Region]) -> Vec<Region> {
    if others.is_empty() {
        return regions.to_vec();
    }
    let others = union(others);
    from_multi(&to_multi(regions).boolean_op(&to_multi(&others), OpType::Difference))
}

/// What both `first` and `second` cover; neither may overlap itself.
pub fn intersection(first: &[Region], second: &[Region]) -> Vec<Region> {
    from_multi(&to_multi(first).boolean_op(&to_multi(second), OpType::Intersection))
}

/// The filled parts of a set of closed lines, which may cross themselves and each other.
pub fn fill(rings: &[Ring], rule: FillRule) -> Vec<Region> {
    let rule = match rule {
        FillRule::NonZero => geo::bool_ops::FillRule::NonZero,
        FillRule::EvenOdd => geo::bool_ops::FillRule::EvenOdd,
    };
    let all = MultiPolygon::new(
        rings.iter().filter(|r| r.is_sane()).map(|r| geo::Polygon::new(r.to_geo(), Vec::new())).collect(),
    );
    let none = MultiPolygon::<f64>::new(Vec::new());
    from_multi(&all.boolean_op_with_fill_rule(&none, OpType::Union, rule))
}

/// Which points a set of closed lines encloses, as SVG has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FillRule {
    /// Those the lines wind about a non-zero number of times.
    NonZero,
    /// Those a ray from which crosses the lines an odd number of times.
    EvenOdd,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Bounds, pt};

    fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
    }

    #[test]
    fn a_hole_cut_out_keeps_its_direction() {
        let parts = rect(0.0, 0.0, 10.0, 10.0).minus(&[rect(3.0, 3.0, 4.0, 4.0)]);
        assert_eq!(parts.len(), 1);
        assert!((parts[0].area() - 84.0).abs() < 1e-6);
        assert_eq!(parts[0].cutouts.len(), 1);
    }

    #[test]
    fn union_and_intersection_agree_with_sums() {
        let (a, b) = (rect(0.0, 0.0, 10.0, 10.0), rect(5.0, 5.0, 10.0, 10.0));
        let u: f64 = union(&[a.clone(), b.clone()]).iter().map(Region::area).sum();
        let i: f64 = intersection(&[a], &[b]).iter().map(Region::area).sum();
        assert!((u - 175.0).abs() < 1e-6 && (i - 25.0).abs() < 1e-6);
    }

    #[test]
    fn fill_rules_differ_where_lines_run_twice_the_same_way() {
        let outer = rect(0.0, 0.0, 10.0, 10.0).outline;
        let inner = rect(2.0, 2.0, 2.0, 2.0).outline;
        let area = |rule| fill(&[outer.clone(), inner.clone()], rule).iter().map(Region::area).sum::<f64>();
        assert!((area(FillRule::NonZero) - 100.0).abs() < 1e-6);
        assert!((area(FillRule::EvenOdd) - 96.0).abs() < 1e-6);
    }
}
