//! SVG read by `usvg`, which knows nothing of how the files were written.

use crate::say::Trouble;
use crate::shape::{Affine, Point, pt};

use super::{ReadLine, differs};

/// Millimetres in one of the reader's units, which are 1/96 inch (CSS Values and Units 3, section 5.2).
const MM_PER_UNIT: f64 = 25.4 / 96.0;

/// A curve is walked in this many steps: the reader's curves turn by a quarter turn at most, and an arc of a quarter turn
/// strays from so many chords by less than 1/12000 of its radius (1 − cos(π/200)).
const CURVE_STEPS: usize = 50;

/// The sheet's size, mm, and its lines.
pub(super) fn read(name: &str, file: &str) -> Result<(Point, Vec<ReadLine>), Trouble> {
    let tree = usvg::Tree::from_str(file, &usvg::Options::default())
        .map_err(|e| differs(name, &format!("it cannot be read ({e})")))?;
    let size = pt(f64::from(tree.size().width()), f64::from(tree.size().height())) * MM_PER_UNIT;
    let mut lines = Vec::new();
    walk(tree.root(), "", &mut lines);
    Ok((size, lines))
}

fn walk(group: &usvg::Group, layer: &str, lines: &mut Vec<ReadLine>) {
    let layer = if group.id().is_empty() { layer } else { group.id() };
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => walk(inner, layer, lines),
            usvg::Node::Path(path) => lines.extend(read_path(path, layer)),
            _ => {}
        }
    }
}

fn read_path(path: &usvg::Path, layer: &str) -> Vec<ReadLine> {
    use usvg::tiny_skia_path::PathSegment;
    let t = path.abs_transform();
    let map = Affine([t.sx, t.ky, t.kx, t.sy, t.tx, t.ty].map(f64::from));
    let at = |p: usvg::tiny_skia_path::Point| map.apply(pt(f64::from(p.x), f64::from(p.y))) * MM_PER_UNIT;
    let mut lines: Vec<ReadLine> = Vec::new();
    for segment in path.data().segments() {
        if let PathSegment::MoveTo(p) = segment {
            lines.push(ReadLine { layer: layer.to_owned(), closed: false, points: vec![at(p)] });
            continue;
        }
        let Some(line) = lines.last_mut() else { continue };
        let a = line.points.last().copied().unwrap_or_else(|| pt(0.0, 0.0));
        let mut walk = |curve: &dyn Fn(f64, f64) -> Point| {
            line.points
                .extend((1..=CURVE_STEPS).map(|i| i as f64 / CURVE_STEPS as f64).map(|t| curve(t, 1.0 - t)));
        };
        match segment {
            PathSegment::LineTo(p) => line.points.push(at(p)),
            PathSegment::QuadTo(b, c) => {
                let (b, c) = (at(b), at(c));
                walk(&|t, u| a * (u * u) + b * (2.0 * u * t) + c * (t * t));
            }
            PathSegment::CubicTo(b, c, d) => {
                let (b, c, d) = (at(b), at(c), at(d));
                walk(&|t, u| {
                    a * (u * u * u) + b * (3.0 * u * u * t) + c * (3.0 * u * t * t) + d * (t * t * t)
                });
            }
            PathSegment::Close => {
                line.closed = true;
                line.points.extend(line.points.first().copied());
            }
            PathSegment::MoveTo(_) => {}
        }
    }
    lines
}
