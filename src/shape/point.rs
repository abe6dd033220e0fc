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

/// Distance of `p` from the side `a`–`b`, mm.
pub fn to_side(p: Point, a: Point, b: Point) -> f64 {
    to_side_squared(p, a, b).sqrt()
}

/// The same squared, mm²: enough where distances are only compared.
pub fn to_side_squared(p: Point, a: Point, b: Point) -> f64 {
    let (v, w) = (b - a, p - a);
    let length = v.x * v.x + v.y * v.y;
    let t = if length > 0.0 { ((w.x * v.x + w.y * v.y) / length).clamp(0.0, 1.0) } else { 0.0 };
    let (x, y) = (w.x - v.x * t, w.y - v.y * t);
    x * x + y * y
}
