//! A stroke as a region: the band its pen covers.
//!
//! Along each subpath one ring runs down one side and back on the other; on the inside of a bend it passes
//! through the corner itself. That ring is the sum of the edges of one rectangle per side and one wedge per
//! bend, all wound alike, so filling it by the non-zero rule gives exactly their union.

use usvg::{LineCap, LineJoin, Stroke};

use super::flatten::Polyline;
use crate::shape::booleans::{FillRule, fill};
use crate::shape::{Affine, Point, Region, Ring, distance, pt, tol};

/// The pen of a stroke, in the path's own units.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pen {
    /// Half the width.
    pub half: f64,
    pub cap: LineCap,
    pub join: LineJoin,
    /// Longest mitre, as a ratio to the width.
    pub mitre_limit: f64,
}

impl Pen {
    pub fn of(stroke: &Stroke) -> Pen {
        Pen {
            half: f64::from(stroke.width().get()) / 2.0,
            cap: stroke.linecap(),
            join: stroke.linejoin(),
            mitre_limit: f64::from(stroke.miterlimit().get()),
        }
    }

    /// The farthest the pen can reach to one side on the page, mm (mitres left aside).
    pub fn half_mm(&self, to_mm: &Affine) -> f64 {
        let [a, b, c, d, ..] = to_mm.0;
        // The longest a unit vector can become is at most this root.
        self.half * (a * a + b * b + c * c + d * d).sqrt()
    }
}

/// The band the pen covers along `lines`, drawing frame. The pen is round in the path's own units and goes
/// through `to_mm` with the path, so an uneven scale gives an uneven band.
///
/// Round joins and caps keep within [`tol::ARC_MM`] of the true arc, on its inner side.
pub(super) fn band(lines: &[Polyline], pen: &Pen, to_mm: &Affine) -> Vec<Region> {
    let radius_mm = pen.half_mm(to_mm);
    if !(radius_mm > 0.0 && radius_mm <= tol::FARTHEST_MM) {
        return Vec::new();
    }
    let step = 2.0 * libm::acos(1.0 - (tol::ARC_MM / radius_mm).min(1.0));
    let mut rings = Vec::new();
    for line in lines {
        let tracer = Tracer { pen, step, points: &line.local, smooth: &line.smooth, closed: line.closed };
        tracer.trace(&mut rings);
    }
    let rings: Vec<Ring> = rings
        .into_iter()
        .map(|points| Ring::new(points.into_iter().map(|p| to_mm.apply(p)).collect()))
        .collect();
    if rings.iter().any(|r| !r.is_sane()) {
        return Vec::new();
    }
    fill(&rings, FillRule::NonZero)
}

struct Tracer<'a> {
    pen: &'a Pen,
    /// Angle one chord of an arc stands for, radians.
    step: f64,
    points: &'a [Point],
    smooth: &'a [bool],
    closed: bool,
}

impl Tracer<'_> {
    fn trace(&self, rings: &mut Vec<Vec<Point>>) {
        let n = self.points.len();
        if n == 0 {
            return;
        }
        let (there, back): (Vec<usize>, Vec<usize>) = ((0..n).collect(), (0..n).rev().collect());
        let mut ring = Vec::new();
        if n == 1 {
            self.dot(self.points[0], &mut ring);
            rings.extend((!ring.is_empty()).then_some(ring));
        } else if self.closed {
            self.side(&there, &mut ring);
            rings.push(std::mem::take(&mut ring));
            self.side(&back, &mut ring);
            rings.push(ring);
        } else {
            self.side(&there, &mut ring);
            self.cap(self.points[n - 2], self.points[n - 1], &mut ring);
            self.side(&back, &mut ring);
            self.cap(self.points[1], self.points[0], &mut ring);
            rings.push(ring);
        }
    }

    /// The edge of the band on the left of the walk through the points numbered by `order`.
    fn side(&self, order: &[usize], out: &mut Vec<Point>) {
        let n = order.len();
        let at = |i: usize| self.points[order[i % n]];
        let sides = if self.closed { n } else { n - 1 };
        for i in 0..sides {
            let (from, to) = (at(i), at(i + 1));
            let u = direction(from, to);
            let normal = pt(-u.y, u.x) * self.pen.half;
            out.push(from + normal);
            out.push(to + normal);
            if i + 1 < sides || self.closed {
                let smooth = self.smooth[order[(i + 1) % n]];
                self.bend(to, u, direction(to, at(i + 2)), smooth, out);
            }
        }
    }

    /// From one side's edge to the next one's at the corner `p`.
    fn bend(&self, p: Point, u: Point, v: Point, smooth: bool, out: &mut Vec<Point>) {
        let (cross, dot) = (u.x * v.y - u.y * v.x, u.x * v.x + u.y * v.y);
        if cross > 0.0 {
            out.push(p);
            return;
        }
        let h = self.pen.half;
        let (m, n) = (pt(-u.y, u.x) * h, pt(-v.y, v.x) * h);
        // A line that turns straight back is rounded on both walks past the corner.
        let angle = if cross == 0.0 && dot < 0.0 { -std::f64::consts::PI } else { libm::atan2(cross, dot) };
        match self.pen.join {
            _ if smooth => self.arc(p, m, angle, out),
            LineJoin::Round => self.arc(p, m, angle, out),
            LineJoin::Bevel => {}
            LineJoin::Miter | LineJoin::MiterClip => {
                // Half the angle between the normals; the mitre is 1/cos of it times the width.
                let cos = ((1.0 + dot) / 2.0).max(0.0).sqrt();
                let sin = ((1.0 - dot) / 2.0).max(0.0).sqrt();
                if cos * self.pen.mitre_limit >= 1.0 {
                    out.push(p + (m + n) / (1.0 + dot));
                } else if self.pen.join == LineJoin::MiterClip && sin > 0.0 {
                    // SVG 2, section 13.5.5: cut square to the bisector at limit · half width from the corner.
                    let t = h * (self.pen.mitre_limit - cos) / sin;
                    if t > 0.0 {
                        out.push(p + m + u * t);
                        out.push(p + n - v * t);
                    }
                }
            }
        }
    }

    /// Points of an arc about `p` from the spoke `from`, turning by `angle` radians, its ends left out.
    fn arc(&self, p: Point, from: Point, angle: f64, out: &mut Vec<Point>) {
        let n = (angle.abs() / self.step).ceil();
        if !(2.0..1.0e6).contains(&n) {
            return;
        }
        for i in 1..n as usize {
            let a = angle * i as f64 / n;
            let (c, s) = (libm::cos(a), libm::sin(a));
            out.push(p + pt(c * from.x - s * from.y, s * from.x + c * from.y));
        }
    }

    fn cap(&self, from: Point, end: Point, out: &mut Vec<Point>) {
        let u = direction(from, end);
        let h = self.pen.half;
        let normal = pt(-u.y, u.x) * h;
        match self.pen.cap {
            LineCap::Butt => {}
            LineCap::Square => out.extend([end + normal + u * h, end - normal + u * h]),
            LineCap::Round => self.arc(end, normal, -std::f64::consts::PI, out),
        }
    }

    /// A subpath of no length: SVG draws its caps alone.
    fn dot(&self, p: Point, out: &mut Vec<Point>) {
        let h = self.pen.half;
        match self.pen.cap {
            LineCap::Butt => {}
            LineCap::Square => out.extend([pt(-h, -h), pt(h, -h), pt(h, h), pt(-h, h)].map(|v| p + v)),
            LineCap::Round => {
                out.push(p + pt(0.0, h));
                self.arc(p, pt(0.0, h), -std::f64::consts::TAU, out);
            }
        }
    }
}

fn direction(from: Point, to: Point) -> Point {
    let d = distance(from, to);
    if d > 0.0 { (to - from) / d } else { pt(1.0, 0.0) }
}

#[cfg(test)]
#[path = "band_tests.rs"]
mod tests;
