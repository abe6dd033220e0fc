//! Curves to chords.

use usvg::tiny_skia_path::{Path, PathSegment};

use crate::shape::{Affine, Point, distance, pt, tol};

/// One subpath as a chain of straight sides.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Polyline {
    /// Points in the path's own units; the first is not repeated when closed.
    pub local: Vec<Point>,
    /// The same points in the drawing frame, mm.
    pub points: Vec<Point>,
    /// True at points inside a curve, where the drawn line has no corner.
    pub smooth: Vec<bool>,
    /// True when the file closes it, its ends meet, or nearly meet (then `gap_mm` is not 0).
    pub closed: bool,
    /// Distance between the ends the file leaves open, mm.
    pub gap_mm: f64,
}

/// The subpaths of `path`, mapped by `to_mm`. Every chord stays within `chord_mm` of its curve.
///
/// A curve is cut into n equal steps of its parameter, n = ⌈√(¾·D/chord)⌉ for a cubic whose largest second
/// difference of control points is D, ⌈√(¼·D/chord)⌉ for a quadratic: a curve strays from its chord by at
/// most an eighth of its second derivative, which is at most 6·D (2·D) over the whole parameter.
///
/// Points nearer than [`tol::SAME_POINT_MM`] to the one before are dropped. `None` when a coordinate is not
/// finite or beyond [`tol::FARTHEST_MM`], or more than `most` points would be needed.
pub(super) fn polylines(path: &Path, to_mm: &Affine, chord_mm: f64, most: usize) -> Option<Vec<Polyline>> {
    let mut done = Vec::new();
    let mut now = Chain::default();
    let mut count = 0;
    for segment in path.segments() {
        match segment {
            PathSegment::MoveTo(p) => {
                done.extend(std::mem::take(&mut now).end(false));
                now.push(wide(p), false, to_mm)?;
            }
            PathSegment::LineTo(p) => now.push(wide(p), false, to_mm)?,
            PathSegment::QuadTo(b, c) => {
                let (a, b, c) = (now.last(), wide(b), wide(c));
                let n = steps(0.25 * reach(to_mm, a, b, c) / chord_mm)?;
                count += n;
                for i in 1..=n {
                    let t = i as f64 / n as f64;
                    let u = 1.0 - t;
                    let p = if i == n { c } else { a * (u * u) + b * (2.0 * u * t) + c * (t * t) };
                    now.push(p, i < n, to_mm)?;
                }
            }
            PathSegment::CubicTo(b, c, d) => {
                let (a, b, c, d) = (now.last(), wide(b), wide(c), wide(d));
                let bend = reach(to_mm, a, b, c).max(reach(to_mm, b, c, d));
                let n = steps(0.75 * bend / chord_mm)?;
                count += n;
                for i in 1..=n {
                    let t = i as f64 / n as f64;
                    let u = 1.0 - t;
                    let (uu, tt) = (u * u, t * t);
                    let p = if i == n {
                        d
                    } else {
                        a * (uu * u) + b * (3.0 * uu * t) + c * (3.0 * u * tt) + d * (tt * t)
                    };
                    now.push(p, i < n, to_mm)?;
                }
            }
            PathSegment::Close => done.extend(std::mem::take(&mut now).end(true)),
        }
        count += 1;
        if count > most {
            return None;
        }
    }
    done.extend(now.end(false));
    Some(done)
}

fn wide(p: usvg::tiny_skia_path::Point) -> Point {
    pt(f64::from(p.x), f64::from(p.y))
}

/// Length of the second difference of three control points, mm.
fn reach(m: &Affine, a: Point, b: Point, c: Point) -> f64 {
    let [ma, mb, mc, md, ..] = m.0;
    let v = a - b * 2.0 + c;
    (ma * v.x + mc * v.y).hypot(mb * v.x + md * v.y)
}

/// ⌈√x⌉, at least 1; `None` when it is beyond counting.
fn steps(x: f64) -> Option<usize> {
    let n = x.sqrt().ceil();
    (n <= super::limits::MAX_POINTS as f64).then_some((n as usize).max(1))
}

#[derive(Default)]
struct Chain {
    local: Vec<Point>,
    points: Vec<Point>,
    smooth: Vec<bool>,
}

impl Chain {
    fn last(&self) -> Point {
        self.local.last().copied().unwrap_or_default()
    }

    fn push(&mut self, p: Point, smooth: bool, to_mm: &Affine) -> Option<()> {
        let q = to_mm.apply(p);
        if !(q.x.abs() <= tol::FARTHEST_MM && q.y.abs() <= tol::FARTHEST_MM) {
            return None;
        }
        match self.points.last() {
            Some(&before) if distance(before, q) <= tol::SAME_POINT_MM => {
                // A corner that falls on a point of the curve stays a corner.
                if let Some(s) = self.smooth.last_mut() {
                    *s &= smooth;
                }
            }
            _ => {
                self.local.push(p);
                self.points.push(q);
                self.smooth.push(smooth);
            }
        }
        Some(())
    }

    fn end(mut self, closed: bool) -> Option<Polyline> {
        let (first, last) = (*self.points.first()?, *self.points.last()?);
        let mut gap_mm = distance(first, last);
        let meets = gap_mm <= tol::SAME_POINT_MM;
        if meets && self.points.len() > 1 {
            self.local.pop();
            self.points.pop();
            self.smooth.pop();
        }
        // Two points are a line, not an outline, however short.
        let meets = meets && self.points.len() > 2;
        let length: f64 = self.points.windows(2).map(|w| distance(w[0], w[1])).sum();
        let nearly =
            self.points.len() > 2 && gap_mm <= tol::CLOSE_GAP_MM && length > SMALLEST_CLOSED * gap_mm;
        if closed || meets {
            gap_mm = 0.0;
        }
        Some(Polyline {
            local: self.local,
            points: self.points,
            smooth: self.smooth,
            closed: closed || meets || nearly,
            gap_mm,
        })
    }
}

/// An open outline this many times as long as its gap was meant to be closed; a shorter one is a bent line.
const SMALLEST_CLOSED: f64 = 10.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::to_side;
    use proptest::prelude::*;
    use usvg::tiny_skia_path::PathBuilder;

    fn flat(build: impl FnOnce(&mut PathBuilder), to_mm: Affine, chord: f64) -> Vec<Polyline> {
        let mut b = PathBuilder::new();
        build(&mut b);
        polylines(&b.finish().unwrap(), &to_mm, chord, 1_000_000).unwrap()
    }

    #[test]
    fn ends_that_meet_or_nearly_meet_are_closed_and_wide_gaps_stay_open() {
        for (end, closed, gap) in [(0.0, true, 0.0), (0.0005, true, 0.0), (0.3, true, 0.3), (0.8, false, 0.8)]
        {
            let p = flat(
                |b| {
                    b.move_to(0.0, 0.0);
                    b.line_to(10.0, 0.0);
                    b.line_to(10.0, 10.0);
                    b.line_to(0.0, end);
                },
                Affine::IDENTITY,
                0.05,
            );
            assert_eq!(p[0].closed, closed, "{end}");
            assert!((p[0].gap_mm - gap).abs() < 1e-6, "{end}: {}", p[0].gap_mm);
        }
    }

    #[test]
    fn a_short_line_is_not_taken_for_an_outline() {
        let p = flat(
            |b| {
                b.move_to(0.0, 0.0);
                b.line_to(0.2, 0.1);
                b.line_to(0.4, 0.0);
            },
            Affine::IDENTITY,
            0.05,
        );
        assert!(!p[0].closed);
    }

    #[test]
    fn coordinates_beyond_a_kilometre_give_nothing() {
        let mut b = PathBuilder::new();
        b.move_to(0.0, 0.0);
        b.line_to(2.0e6, 0.0);
        let path = b.finish().unwrap();
        assert_eq!(polylines(&path, &Affine::IDENTITY, 0.05, 1000), None);
        assert!(polylines(&path, &Affine([0.5, 0.0, 0.0, 0.5, 0.0, 0.0]), 0.05, 1000).is_some());
        assert_eq!(polylines(&path, &Affine([f64::NAN, 0.0, 0.0, 1.0, 0.0, 0.0]), 0.05, 1000), None);
    }

    proptest! {
        /// Every point of the true curve lies within the chord error of the chain, also under a skewed map.
        #[test]
        fn no_chord_strays_from_its_curve(c in prop::array::uniform8(-200.0f32..200.0), k in -2.0f64..2.0,
                                          chord in 0.01f64..1.0) {
            let m = Affine([1.5, k, -0.5, 0.75, 3.0, 4.0]);
            let p = flat(|b| { b.move_to(c[0], c[1]); b.cubic_to(c[2], c[3], c[4], c[5], c[6], c[7]); }, m, chord);
            let [a, b, d, e] = [0, 2, 4, 6].map(|i| pt(f64::from(c[i]), f64::from(c[i + 1])));
            for i in 0..=200 {
                let t = f64::from(i) / 200.0;
                let u = 1.0 - t;
                let q = m.apply(a * (u * u * u) + b * (3.0 * u * u * t) + d * (3.0 * u * t * t) + e * (t * t * t));
                let near = p[0].points.windows(2).map(|w| to_side(q, w[0], w[1])).fold(f64::INFINITY, f64::min);
                prop_assert!(near <= chord + 2.0 * tol::SAME_POINT_MM, "{near} > {chord}");
            }
        }
    }
}
