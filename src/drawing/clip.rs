//! Clip paths: what of a shape shows.

use usvg::{ClipPath, Group, Node};

use super::filled;
use super::flatten::polylines;
use super::tree::{affine, rule};
use crate::shape::{Affine, Bounds, Region, Ring, booleans, tol};

/// The region a clip path lets show. `to_mm` maps the clipped group's own units to the drawing frame.
pub(super) fn region(clip: &ClipPath, to_mm: &Affine, chord_mm: f64, most: usize) -> Vec<Region> {
    let inner = to_mm.after(&affine(clip.transform()));
    let own = parts(clip.root(), &inner, chord_mm, most);
    match clip.clip_path() {
        Some(other) => booleans::intersection(&own, &region(other, to_mm, chord_mm, most)),
        None => own,
    }
}

/// The area that is filled inside `group`; `outer` maps the units round it.
fn parts(group: &Group, outer: &Affine, chord_mm: f64, most: usize) -> Vec<Region> {
    let to_mm = &outer.after(&affine(group.transform()));
    let mut all = Vec::new();
    for child in group.children() {
        match child {
            Node::Path(path) if path.is_visible() => {
                let Some(fill) = path.fill() else { continue };
                // An outline out of all bounds lets nothing show, so the loss is seen and said.
                let lines = polylines(path.data(), to_mm, chord_mm, most).unwrap_or_default();
                let rings = lines.into_iter().map(|l| Ring::new(l.points)).collect();
                all.extend(filled::islands(rings, rule(fill.rule())));
            }
            Node::Group(g) => {
                let inside = parts(g, to_mm, chord_mm, most);
                all.extend(match g.clip_path() {
                    Some(clip) => {
                        let map = to_mm.after(&affine(g.transform()));
                        booleans::intersection(&booleans::union(&inside), &region(clip, &map, chord_mm, most))
                    }
                    None => inside,
                });
            }
            Node::Text(text) => all.extend(parts(text.flattened(), to_mm, chord_mm, most)),
            Node::Path(_) | Node::Image(_) => {}
        }
    }
    if all.len() > 1 { booleans::union(&all) } else { all }
}

/// What of `shape` shows through `clip`; `None` when all of it does.
pub(super) fn showing(shape: &[Region], clip: &[Region]) -> Option<Vec<Region>> {
    if let [only] = clip
        && is_box(only)
        && shape.iter().all(|r| only.bounds().grown(tol::SAME_POINT_MM).holds(r.bounds()))
    {
        return None;
    }
    let whole: f64 = shape.iter().map(Region::area).sum();
    let mut seen = booleans::intersection(shape, clip);
    filled::in_order(&mut seen);
    let shown: f64 = seen.iter().map(Region::area).sum();
    (whole - shown > tol::SLIVER_MM2).then_some(seen)
}

fn is_box(region: &Region) -> bool {
    let b: Bounds = region.bounds();
    region.cutouts.is_empty() && region.area() >= b.width() * b.height() * (1.0 - 1e-9)
}
