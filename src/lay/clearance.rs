//! Exact distance between two regions of many sides.

use robust::orient2d;
use rstar::primitives::Line;
use rstar::{AABB, PointDistance, RTree};

use crate::shape::{Point, Region};

/// Distance between the regions, 0 when they share a point; anything at least `enough` once it is that much.
///
/// Sides cross by exact orientation; else the nearest points of two sides include an end of one of them.
pub fn clearance(a: &Region, b: &Region, enough: f64) -> f64 {
    let near = b.bounds().grown(enough);
    let sides: Vec<Line<[f64; 2]>> = a
        .rings()
        .flat_map(|r| r.sides().collect::<Vec<_>>())
        .map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y]))
        .filter(|l| near.meets(crate::shape::Bounds::of([l.from.into(), l.to.into()])))
        .collect();
    let tree = RTree::bulk_load(sides);
    let mut least2 = enough * enough;
    for (p, q) in b.rings().flat_map(|r| r.sides().collect::<Vec<_>>()) {
        let other = Line::new([p.x, p.y], [q.x, q.y]);
        let reach = AABB::from_corners(
            [p.x.min(q.x) - enough, p.y.min(q.y) - enough],
            [p.x.max(q.x) + enough, p.y.max(q.y) + enough],
        );
        for side in tree.locate_in_envelope_intersecting(&reach) {
            if cross(side, &other) {
                return 0.0;
            }
            least2 = least2
                .min(side.distance_2(&other.from))
                .min(side.distance_2(&other.to))
                .min(other.distance_2(&side.from))
                .min(other.distance_2(&side.to));
        }
    }
    let holds = |r: &Region, p: Option<&Point>| p.is_some_and(|p| r.contains(*p));
    if holds(a, b.outline.points.first()) || holds(b, a.outline.points.first()) {
        return 0.0;
    }
    least2.sqrt()
}

fn cross(s: &Line<[f64; 2]>, t: &Line<[f64; 2]>) -> bool {
    let side = |l: &Line<[f64; 2]>, p: [f64; 2]| {
        let c = |p: [f64; 2]| robust::Coord { x: p[0], y: p[1] };
        orient2d(c(l.from), c(l.to), c(p))
    };
    let apart = |d: f64, e: f64| (d > 0.0 && e > 0.0) || (d < 0.0 && e < 0.0) || (d == 0.0 && e == 0.0);
    !apart(side(s, t.from), side(s, t.to)) && !apart(side(t, s.from), side(t, s.to))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Ring, pt, turn_cos_sin};
    use geo::{Distance, Euclidean};
    use proptest::prelude::*;

    fn star(x: f64, y: f64, radii: &[f64]) -> Region {
        let step = 360.0 / radii.len() as f64;
        let at = |(k, r): (usize, &f64)| {
            let (c, s) = turn_cos_sin(k as f64 * step);
            pt(x + r * c, y + r * s)
        };
        Region::new(Ring::new(radii.iter().enumerate().map(at).collect()), vec![])
    }

    proptest! {
        /// The same as the general library's distance on random stars, near, far and overlapping.
        #[test]
        fn clearance_agrees_with_the_library(
            a in prop::collection::vec(3.0..20.0f64, 5..30), b in prop::collection::vec(3.0..20.0f64, 5..30),
            x in -45.0..45.0f64, y in -45.0..45.0f64,
        ) {
            let (a, b) = (star(0.0, 0.0, &a), star(x, y, &b));
            let theirs = Euclidean.distance(&a.to_geo(), &b.to_geo()).min(6.0);
            prop_assert!((clearance(&a, &b, 6.0) - theirs).abs() < 1e-9);
        }
    }
}
