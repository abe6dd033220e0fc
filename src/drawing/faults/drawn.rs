//! Small drawings for the tests of this room.

use super::{Fault, FaultKind, FaultLimits, of_drawing};
use crate::drawing::{Drawing, Element, Subpath};
use crate::shape::{Bounds, Point, Region, Ring, booleans, distance, pt};

/// An element of closed outlines, filled by the even-odd rule.
pub fn filled(id: &str, outlines: &[&[[f64; 2]]]) -> Element {
    let subpaths: Vec<Subpath> = outlines.iter().map(|o| closed(&points(o))).collect();
    element(id, subpaths, true)
}

/// An element of open outlines without a fill.
pub fn line(id: &str, outlines: &[&[[f64; 2]]]) -> Element {
    element(id, outlines.iter().map(|o| open(&points(o))).collect(), false)
}

/// An element with open outlines and a fill.
pub fn filled_open(id: &str, outlines: &[&[[f64; 2]]]) -> Element {
    element(id, outlines.iter().map(|o| open(&points(o))).collect(), true)
}

pub fn element(id: &str, subpaths: Vec<Subpath>, fill: bool) -> Element {
    let rings: Vec<Ring> = subpaths.iter().map(|s| Ring::new(s.points.clone())).collect();
    Element {
        id: id.to_string(),
        line: 1,
        layers: Vec::new(),
        fill: fill.then(|| "#204060".to_string()),
        stroke: (!fill).then(|| "#000000".to_string()),
        subpaths,
        filled: if fill { booleans::fill(&rings, booleans::FillRule::EvenOdd) } else { Vec::new() },
        band: Vec::new(),
    }
}

pub fn points(pairs: &[[f64; 2]]) -> Vec<Point> {
    pairs.iter().map(|p| pt(p[0], p[1])).collect()
}

pub fn closed(points: &[Point]) -> Subpath {
    Subpath { points: points.to_vec(), closed: true, gap_mm: 0.0 }
}

pub fn open(points: &[Point]) -> Subpath {
    let gap_mm = match (points.first(), points.last()) {
        (Some(&a), Some(&b)) => distance(a, b),
        _ => 0.0,
    };
    Subpath { points: points.to_vec(), closed: false, gap_mm }
}

pub fn circle(c: Point, r: f64, n: u32) -> Vec<Point> {
    (0..n)
        .map(|k| {
            let (cos, sin) = crate::shape::turn_cos_sin(360.0 * f64::from(k) / f64::from(n));
            c + pt(r * cos, r * sin)
        })
        .collect()
}

pub fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
}

pub fn drawing(elements: Vec<Element>) -> Drawing {
    Drawing { page_mm: [400.0, 300.0], elements, notes: Vec::new(), losses: Vec::new(), measured: true }
}

/// The faults of a drawing of these elements with the usual limits.
pub fn faults(elements: Vec<Element>) -> Vec<Fault> {
    of_drawing(&drawing(elements), &FaultLimits::default())
}

/// What a test wants to know of most faults.
pub fn kinds(faults: &[Fault]) -> Vec<(&str, FaultKind)> {
    faults.iter().map(|f| (f.element.as_str(), f.kind)).collect()
}
