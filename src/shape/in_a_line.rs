//! How far points spread across the line they follow best.

use super::{Point, pt, tol};

/// True when points lie in one line.
pub fn in_a_line(points: &[Point]) -> bool {
    let sum = points.iter().fold(pt(0.0, 0.0), |s, &p| s + p);
    let centre = sum / f64::max(points.len() as f64, 1.0);
    let moments = points
        .iter()
        .map(|&p| p - centre)
        .fold([0.0; 3], |[xx, xy, yy], d| [xx + d.x * d.x, xy + d.x * d.y, yy + d.y * d.y]);
    across_line(moments[0], moments[1], moments[2], points.len()) < tol::IN_A_LINE_MM
}

/// How far points spread across the line they follow best, root mean square, from their centred second moments.
pub fn across_line(xx: f64, xy: f64, yy: f64, n: usize) -> f64 {
    let (middle, half) = ((xx + yy) / 2.0, (((xx - yy) / 2.0).powi(2) + xy * xy).sqrt());
    ((middle - half).max(0.0) / n.max(1) as f64).sqrt()
}
