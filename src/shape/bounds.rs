//! Axis-parallel boxes.

use super::point::{Point, pt};

/// An axis-parallel box, mm. An empty box has `min` beyond `max`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Lower-left corner.
    pub min: Point,
    /// Upper-right corner.
    pub max: Point,
}

impl Bounds {
    /// The box that holds nothing.
    pub const EMPTY: Bounds =
        Bounds { min: pt(f64::INFINITY, f64::INFINITY), max: pt(f64::NEG_INFINITY, f64::NEG_INFINITY) };

    /// The box between two corners given in order.
    pub const fn new(min: Point, max: Point) -> Bounds {
        Bounds { min, max }
    }

    /// The smallest box round `points`.
    pub fn of(points: impl IntoIterator<Item = Point>) -> Bounds {
        let mut b = Bounds::EMPTY;
        for p in points {
            b.include(p);
        }
        b
    }

    /// Grows the box to hold `p`.
    pub fn include(&mut self, p: Point) {
        self.min = pt(self.min.x.min(p.x), self.min.y.min(p.y));
        self.max = pt(self.max.x.max(p.x), self.max.y.max(p.y));
    }

    /// The smallest box round both.
    pub fn union(self, other: Bounds) -> Bounds {
        Bounds {
            min: pt(self.min.x.min(other.min.x), self.min.y.min(other.min.y)),
            max: pt(self.max.x.max(other.max.x), self.max.y.max(other.max.y)),
        }
    }

    /// The box moved by `v`.
    pub fn shifted(self, v: Point) -> Bounds {
        Bounds { min: self.min + v, max: self.max + v }
    }

    /// The box grown by `d` on every side (shrunk when negative).
    pub fn grown(self, d: f64) -> Bounds {
        Bounds { min: self.min - pt(d, d), max: self.max + pt(d, d) }
    }

    /// True when nothing is inside.
    pub fn is_empty(self) -> bool {
        self.min.x > self.max.x || self.min.y > self.max.y
    }

    /// Size along x, mm.
    pub fn width(self) -> f64 {
        self.max.x - self.min.x
    }

    /// Size along y, mm.
    pub fn height(self) -> f64 {
        self.max.y - self.min.y
    }

    /// The middle.
    pub fn centre(self) -> Point {
        (self.min + self.max) / 2.0
    }

    /// True when `p` lies inside or on the border.
    pub fn contains(self, p: Point) -> bool {
        p.x >= self.min.x && p.x <= self.max.x && p.y >= self.min.y && p.y <= self.max.y
    }

    /// True when `other` lies inside or on the border.
    pub fn holds(self, other: Bounds) -> bool {
        self.contains(other.min) && self.contains(other.max)
    }

    /// True when the boxes share at least a point.
    pub fn meets(self, other: Bounds) -> bool {
        self.min.x <= other.max.x
            && other.min.x <= self.max.x
            && self.min.y <= other.max.y
            && other.min.y <= self.max.y
    }

    /// The four corners, counter-clockwise from the lower left.
    pub fn corners(self) -> [Point; 4] {
        [self.min, pt(self.max.x, self.min.y), self.max, pt(self.min.x, self.max.y)]
    }
}
