//! Points and vectors of the plane, mm.

/// A point or a vector of the plane, mm, y up.
pub type Point = geo::Coord<f64>;

/// The point (x, y).
pub const fn pt(x: f64, y: f64) -> Point {
    Point { x, y }
}

/// Distance between two points, mm.
pub fn distance(p: Point, q: Point) -> f64 {
    // Square root and products round the same everywhere; a library's own hypotenuse need not.
    let d = p - q;
    (d.x * d.x + d.y * d.y).sqrt()
}

/// The point a share `t` of the way from `p` to `q`.
pub fn lerp(p: Point, q: Point, t: f64) -> Point {
    p + (q - p) * t
}
