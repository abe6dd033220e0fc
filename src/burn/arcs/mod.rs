//! Chains of short straight sides turned back into lines and arcs.
//!
//! Curves reach the cutter as chords. Sent out like that they make its head stop and start at every one, so a chain
//! is covered by as few lines and arcs as stay within a stated distance of it. A smooth stretch is covered by
//! biarcs (two arcs that meet with a common tangent and keep the tangents at both ends: K. M. Bolton, 'Biarc
//! curves', Computer-Aided Design 7, 1975), each as long as the distance allows, or by one arc where that is enough;
//! what goes once round a circle by its two halves; corners are kept as they are.

mod arc;
mod chain;
mod circle;
mod fit;
mod stray;

pub use arc::{Arc, Course, Step};
pub use stray::{dense, strays};

use crate::shape::{Point, tol};

/// Parts of the allowed distance that are given to the fit, one after another, until its measure keeps within all of it.
const PARTS: [f64; 4] = [0.95, 0.85, 0.6, 0.3];

/// Lines and arcs within `within_mm` of the chain `path`; both ways, every point of one near the other.
///
/// Starts at the path's first point and ends at its last, or at its first again when `closed`. A whole circle
/// becomes two halves; other arcs turn by at most 150°, so that a radius rounded in a file cannot move them much. Chains with
/// wild numbers, and distances that are not positive, give the chain's own sides.
pub fn course(path: &[Point], closed: bool, within_mm: f64) -> Course {
    let mut points = path.to_vec();
    if closed && path.len() > 1 {
        points.extend(path.first().copied());
    }
    let plain = Course::straight(&points);
    let sane = points.iter().all(|p| p.x.abs() <= tol::FARTHEST_MM && p.y.abs() <= tol::FARTHEST_MM);
    if !sane || !within_mm.is_finite() || within_mm <= 0.0 || points.len() < 3 {
        return plain;
    }
    // What was fitted is measured anew, by walking both lines; a fit that strays is made again, closer.
    for part in PARTS {
        let fitted = fit::fitted(&points, closed, part * within_mm);
        let walked = fitted.points(tol::SAME_POINT_MM / 2.0);
        if strays(&walked, &points, within_mm).max(strays(&points, &walked, within_mm)) <= within_mm {
            return if fitted.steps.len() < plain.steps.len() { fitted } else { plain };
        }
    }
    plain
}

#[cfg(test)]
mod tests;
