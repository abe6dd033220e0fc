//! Overs and unders that go round in a circle.
//!
//! A shape has one place in the stacking, so a band cannot go over a neighbour here and under it there. Drawings get
//! round this with a second shape: a stretch of the band drawn again above the neighbour. Cut from cloth that is
//! a patch: one more piece lying on the band. It is said, since a band split where it goes under looks the
//! same and sews flat.

use super::model::Piece;
use super::remarks;
use crate::say::Note;
use crate::shape::booleans::{difference, intersection};
use crate::shape::{Join, Point, Region, distance, lerp, offset, tol};

/// A patch may stick out of its band by this share of its area: drawings are not exact.
const STICKS_OUT: f64 = 0.02;

/// A patch runs along the edges of its band with at least this share of its own edge; a smaller shape merely lies on
/// a larger one of the same cloth.
const RUNS_ALONG: f64 = 0.3;

/// Edges are looked at in steps of this, mm.
const STEP_MM: f64 = 1.0;

/// What there is to say about bands that go both over and under a neighbour.
pub(super) fn notes(pieces: &[Piece]) -> Vec<Note> {
    let found: Vec<String> = pieces.iter().filter_map(|p| circle(p, pieces)).collect();
    if found.is_empty() {
        return Vec::new();
    }
    let text = format!(
        "Overs and unders go round in a circle: {}. No order of whole pieces does that, so each such stretch is cut \
         and sewn as a patch of its own, two layers thick. To sew it flat, split the band in the drawing where it \
         goes under.",
        remarks::listed(&found)
    );
    vec![Note::caution("drawing", text)]
}

/// `patch is part of band, drawn again above between`, when it is so.
fn circle(patch: &Piece, pieces: &[Piece]) -> Option<String> {
    let within = patch.drawn.bounds().grown(-tol::ALONGSIDE_MM);
    let bands = pieces.iter().filter(|b| b.element < patch.element && b.cloth == patch.cloth);
    for band in bands.filter(|b| b.drawn.bounds().holds(within)) {
        let meets = |b: &&Piece| {
            b.element > band.element
                && b.element < patch.element
                && b.drawn.bounds().meets(patch.drawn.bounds())
                && covers(&b.drawn, &patch.drawn)
        };
        let Some(between) = pieces.iter().find(meets) else { continue };
        if repeats(&patch.drawn, &band.drawn) {
            return Some(format!("{} is part of {}, drawn again above {}", patch.id, band.id, between.id));
        }
    }
    None
}

fn covers(a: &Region, b: &Region) -> bool {
    let both = intersection(std::slice::from_ref(a), std::slice::from_ref(b));
    both.iter().map(Region::area).sum::<f64>() > 1.0
}

/// True when `patch` is a stretch of `band`: inside it, and along its edges.
fn repeats(patch: &Region, band: &Region) -> bool {
    let outside = difference(std::slice::from_ref(patch), std::slice::from_ref(band));
    if outside.iter().map(Region::area).sum::<f64>() > STICKS_OUT * patch.area() {
        return false;
    }
    let inner = offset(std::slice::from_ref(band), -tol::ALONGSIDE_MM, Join::Round);
    let (mut along, mut all) = (0usize, 0usize);
    for (p, q) in patch.outline.sides() {
        let steps = (distance(p, q) / STEP_MM).ceil().clamp(1.0, 1.0e4) as u32;
        for k in 0..steps {
            let at: Point = lerp(p, q, (f64::from(k) + 0.5) / f64::from(steps));
            all += 1;
            along += usize::from(!inner.iter().any(|r| r.contains(at)));
        }
    }
    along as f64 >= RUNS_ALONG * all as f64
}
