//! Clip paths: what of a shape shows.

use std::collections::HashMap;
use std::rc::Rc;

use usvg::{ClipPath, Group, Node};

use super::filled;
use super::flatten::polylines;
use super::limits::MAX_CLIPS_WITHIN;
use super::tree::{affine, rule};
use crate::shape::{Affine, Bounds, Region, Ring, booleans, tol};

/// So many regions are kept at most; further ones are begun afresh.
const MOST_KNOWN: usize = 4_096;

/// Works out the regions of clip paths, each once under each map.
pub(super) struct Clips {
    chord_mm: f64,
    /// Regions worked out before, by their owner and the bits of their map.
    known: HashMap<(usize, [u64; 6]), Rc<Vec<Region>>>,
    /// How many clip paths within clip paths may yet be worked out.
    left: usize,
}

impl Clips {
    /// None worked out yet.
    pub fn new(chord_mm: f64) -> Clips {
        Clips { chord_mm, known: HashMap::new(), left: MAX_CLIPS_WITHIN }
    }

    /// The region a clip path lets show; `to_mm` maps the clipped group's own units to the drawing frame. `None`
    /// when clip paths within clip paths were worked out [`MAX_CLIPS_WITHIN`] times.
    pub fn region(&mut self, clip: &ClipPath, to_mm: &Affine, most: usize) -> Option<Rc<Vec<Region>>> {
        let key = (std::ptr::from_ref(clip).addr(), to_mm.0.map(f64::to_bits));
        if let Some(known) = self.known.get(&key) {
            return Some(Rc::clone(known));
        }
        let inner = to_mm.after(&affine(clip.transform()));
        let mut region = self.parts(clip.root(), &inner, most)?;
        if let Some(other) = clip.clip_path() {
            region = booleans::intersection(&region, &self.within(other, to_mm, most)?);
        }
        let region = Rc::new(region);
        if self.known.len() >= MOST_KNOWN {
            self.known.clear();
        }
        self.known.insert(key, Rc::clone(&region));
        Some(region)
    }

    /// The region of a clip path that cuts another.
    fn within(&mut self, clip: &ClipPath, to_mm: &Affine, most: usize) -> Option<Rc<Vec<Region>>> {
        self.left = self.left.checked_sub(1)?;
        self.region(clip, to_mm, most)
    }

    /// The area that is filled inside `group`; `outer` maps the units round it.
    fn parts(&mut self, group: &Group, outer: &Affine, most: usize) -> Option<Vec<Region>> {
        let to_mm = &outer.after(&affine(group.transform()));
        let mut all = Vec::new();
        for child in group.children() {
            match child {
                Node::Path(path) if path.is_visible() => {
                    let Some(fill) = path.fill() else { continue };
                    // An outline out of all bounds lets nothing show, so the loss is seen and said.
                    let lines = polylines(path.data(), to_mm, self.chord_mm, most).unwrap_or_default();
                    let rings = lines.into_iter().map(|l| Ring::new(l.points)).collect();
                    all.extend(filled::islands(rings, rule(fill.rule())));
                }
                Node::Group(g) => {
                    let inside = self.parts(g, to_mm, most)?;
                    all.extend(match g.clip_path() {
                        Some(clip) => {
                            let map = to_mm.after(&affine(g.transform()));
                            let clip = self.within(clip, &map, most)?;
                            booleans::intersection(&booleans::union(&inside), &clip)
                        }
                        None => inside,
                    });
                }
                Node::Text(text) => all.extend(self.parts(text.flattened(), to_mm, most)?),
                Node::Path(_) | Node::Image(_) => {}
            }
        }
        Some(if all.len() > 1 { booleans::union(&all) } else { all })
    }
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
