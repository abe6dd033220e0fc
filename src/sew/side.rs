//! Sides of regions, found by where they are.

use rstar::{AABB, PointDistance, RTree, RTreeObject};

use crate::shape::{Point, Region, distance, pt};

/// One straight side of an edge.
#[derive(Clone, Copy, Debug)]
pub(super) struct Side {
    /// Where it starts.
    pub a: Point,
    /// Where it ends.
    pub b: Point,
}

impl Side {
    /// The sides of a region, found by where they are.
    pub fn tree(region: &Region) -> RTree<Side> {
        let all = region.rings().flat_map(|r| r.sides()).filter(|(a, b)| a != b);
        RTree::bulk_load(all.map(|(a, b)| Side { a, b }).collect())
    }

    /// The point of the side nearest to `p`, and its share of the way from start to end.
    pub fn nearest(&self, p: Point) -> (Point, f64) {
        let d = self.b - self.a;
        let t = ((p - self.a).x * d.x + (p - self.a).y * d.y) / (d.x * d.x + d.y * d.y);
        if t > 0.0 && t < 1.0 {
            (self.a + d * t, t)
        } else if t >= 1.0 {
            (self.b, 1.0)
        } else {
            (self.a, 0.0)
        }
    }

    /// The unit normal to its left.
    pub fn normal(&self) -> Point {
        pt(self.a.y - self.b.y, self.b.x - self.a.x) / distance(self.a, self.b)
    }
}

impl RTreeObject for Side {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        AABB::from_corners(
            [self.a.x.min(self.b.x), self.a.y.min(self.b.y)],
            [self.a.x.max(self.b.x), self.a.y.max(self.b.y)],
        )
    }
}

impl PointDistance for Side {
    fn distance_2(&self, p: &[f64; 2]) -> f64 {
        let p = pt(p[0], p[1]);
        let d = self.nearest(p).0 - p;
        d.x * d.x + d.y * d.y
    }
}
