//! Whole outlines drawn twice, exactly or nearly.
//!
//! Two outlines are one drawn twice when their boxes, lengths and areas agree and no point of either lies
//! farther than a small distance from the other. Each outline is compared with those beneath it that are
//! themselves drawn for the first time, so a pile of a thousand copies costs a thousand comparisons.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;
use rstar::{AABB, PointDistance, RTree, primitives::GeomWithData};

use super::sides::{Side, Sides};
use super::subject::{Subject, is_sane};
use super::{Fault, FaultKind, FaultLimits, Severity};
use crate::drawing::Drawing;
use crate::shape::{Bounds, Point, Ring, lerp, pt, tol};

/// Outlines of one element nearer than this are one drawn twice even when one is a cut-out of the other, mm:
/// about what the beam removes.
const WITHIN_KERF_MM: f64 = 0.1;

/// How far inside an outline it is asked whether the element is filled there, mm.
const JUST_INSIDE_MM: f64 = 0.01;

/// An outline that lies on another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pair {
    /// The lower one: element and outline.
    pub lower: (usize, usize),
    /// The upper one.
    pub upper: (usize, usize),
    /// Greatest distance between the two, mm.
    pub apart_mm: f64,
}

struct Outline {
    owner: (usize, usize),
    bounds: Bounds,
    length: f64,
    area: f64,
    sides: Sides,
}

impl Outline {
    fn of(owner: (usize, usize), points: &[Point], closed: bool) -> Outline {
        let mut sides = Sides::default();
        sides.push(points, closed);
        let ring = Ring { points: points.to_vec() };
        let length = sides.rings.first().map_or(0.0, |r| r.length_mm);
        Outline { owner, bounds: ring.bounds(), length, area: ring.signed_area().abs(), sides }
    }

    fn key(&self) -> [f64; 4] {
        [self.bounds.min.x, self.bounds.min.y, self.bounds.max.x, self.bounds.max.y]
    }

    /// True when lengths and areas are too different for outlines `near` apart. A parallel course at
    /// distance d is longer by up to 2πd (Steiner), a wavy one by more; a twentieth is left for it.
    fn cannot_match(&self, other: &Outline, near: f64) -> bool {
        let longer = self.length.max(other.length);
        (self.length - other.length).abs() > std::f64::consts::TAU * near + 0.05 * longer
            || (self.area - other.area).abs() > near * longer * 1.2 + near * near * 4.0
    }
}

/// All pairs of outlines of the drawing that are one outline drawn twice.
pub(super) fn pairs(drawing: &Drawing, limits: &FaultLimits) -> Vec<Pair> {
    let near = limits.doubled_mm;
    let outlines: Vec<Outline> = drawing
        .elements
        .par_iter()
        .enumerate()
        .flat_map_iter(|(e, element)| {
            let subject = Subject { stacking: e, element };
            let closes = move |s| subject.closes(s, limits);
            element
                .subpaths
                .iter()
                .enumerate()
                .filter(|(_, s)| is_sane(s))
                .map(move |(k, s)| Outline::of((e, k), &s.points, closes(s)))
        })
        .filter(|o: &Outline| o.length > tol::SAME_POINT_MM)
        .collect();
    let mut firsts: RTree<GeomWithData<[f64; 4], usize>> = RTree::new();
    let mut trees: BTreeMap<usize, RTree<Side>> = BTreeMap::new();
    let mut found = Vec::new();
    for (n, outline) in outlines.iter().enumerate() {
        let key = outline.key();
        let around = AABB::from_corners(key.map(|c| c - near), key.map(|c| c + near));
        let mut beneath: Vec<usize> = firsts
            .locate_in_envelope(&around)
            .map(|g| g.data)
            .filter(|&m| !outline.cannot_match(&outlines[m], near))
            .collect();
        beneath.sort_unstable();
        let twin = beneath.into_iter().find_map(|m| {
            let tree = trees.entry(m).or_insert_with(|| outlines[m].sides.tree());
            let apart_mm = apart(outline, &outlines[m], tree, near)?;
            let pair = Pair { lower: outlines[m].owner, upper: outline.owner, apart_mm };
            is_doubled(drawing, &pair).then_some(pair)
        });
        match twin {
            Some(pair) => found.push(pair),
            None => firsts.insert(GeomWithData::new(key, n)),
        }
    }
    found
}

/// Greatest distance between two outlines when it is at most `near`.
fn apart(one: &Outline, other: &Outline, other_tree: &RTree<Side>, near: f64) -> Option<f64> {
    let there = reach(&one.sides, other_tree, near)?;
    let back = reach(&other.sides, &one.sides.tree(), near)?;
    Some(there.max(back))
}

/// How far corners and middles of sides lie from the nearest side of `tree`, at most; `None` beyond `near`.
fn reach(sides: &Sides, tree: &RTree<Side>, near: f64) -> Option<f64> {
    let mut most = 0.0f64;
    for side in &sides.all {
        for p in [side.a, lerp(side.a, side.b, 0.5), side.b] {
            let at = [p.x, p.y];
            let d = tree.nearest_neighbor(&at)?.distance_2(&at).sqrt();
            if d > near {
                return None;
            }
            most = most.max(d);
        }
    }
    Some(most)
}

/// A cut-out and an inlay that fills it share their outline and are as meant; so is a narrow ring.
fn is_doubled(drawing: &Drawing, pair: &Pair) -> bool {
    let same_sense = is_outer(drawing, pair.lower) == is_outer(drawing, pair.upper);
    same_sense || (pair.lower.0 == pair.upper.0 && pair.apart_mm <= WITHIN_KERF_MM)
}

/// True unless the outline is the edge of a cut-out: filled just outside and empty just inside.
fn is_outer(drawing: &Drawing, (e, k): (usize, usize)) -> bool {
    let element = &drawing.elements[e];
    let ring = Ring { points: element.subpaths[k].points.clone() }.oriented(true);
    let Some((a, b)) = ring
        .sides()
        .max_by(|s, t| crate::shape::distance(s.0, s.1).total_cmp(&crate::shape::distance(t.0, t.1)))
    else {
        return true;
    };
    let length = crate::shape::distance(a, b);
    if length == 0.0 {
        return true;
    }
    let inward = pt(a.y - b.y, b.x - a.x) / length * JUST_INSIDE_MM;
    let filled = |p: Point| element.filled.iter().any(|r| r.bounds().contains(p) && r.contains(p));
    let middle = lerp(a, b, 0.5);
    filled(middle + inward) || !filled(middle - inward)
}

/// Pairs of outlines of one element, by the element.
pub(super) fn within_elements(pairs: &[Pair]) -> BTreeMap<usize, BTreeSet<(u32, u32)>> {
    let mut by_element: BTreeMap<usize, BTreeSet<(u32, u32)>> = BTreeMap::new();
    for pair in pairs.iter().filter(|p| p.lower.0 == p.upper.0) {
        by_element.entry(pair.upper.0).or_default().insert((pair.lower.1 as u32, pair.upper.1 as u32));
    }
    by_element
}

/// What a pair means to the maker, told of the upper outline.
pub(super) fn tell(drawing: &Drawing, pair: &Pair) -> Fault {
    let (e, k) = pair.upper;
    let subject = Subject { stacking: e, element: &drawing.elements[e] };
    let outline = &drawing.elements[e].subpaths[k];
    let on = if pair.lower.0 == e {
        "another outline of the same element".to_string()
    } else {
        let under = &drawing.elements[pair.lower.0];
        let line = if under.line > 0 { format!(" (line {})", under.line) } else { String::new() };
        format!("the outline of {}{line}", under.id)
    };
    let how = if pair.apart_mm <= tol::SAME_POINT_MM {
        "exactly".to_string()
    } else {
        format!("at most {:.2} mm apart", pair.apart_mm)
    };
    let at = outline.points.first().copied().unwrap_or_default();
    subject.fault(
        FaultKind::Doubled,
        Severity::Mend,
        at,
        pair.apart_mm,
        format!("An outline lies on {on}, {how}: the same shape drawn twice."),
        "Take one of the two away, or it is cut twice and counted twice.",
    )
}
