//! Where to hold the cloth down: near the corners of what lies on the bed, clear of every burn.

use crate::plan::{Plan, PlanPass, ToMeasure};
use crate::shape::{Affine, Bounds, Point, Region, Ring, distance, pt, to_side};

use super::view::{point, region, through};

/// A peg keeps this far from every burn and mark, mm: the width of a small weight.
const CLEAR: f64 = 12.0;
/// Spots are looked at this far apart, mm.
const STEP: f64 = 15.0;
/// Beds of more spots than this are looked at more coarsely.
const MOST: f64 = 60.0;

/// Up to four spots in the bed frame, none on a piece, none near a burn, a mark or what of the pattern is to be measured.
pub(super) fn pegs(plan: &Plan, pass: &PlanPass, pivots: &[ToMeasure]) -> Vec<Point> {
    let map = Affine(pass.cloth_to_bed);
    let Some(cloth) = plan.cloths.iter().find(|c| c.name == pass.cloth) else { return Vec::new() };
    let outline = Ring { points: cloth.outline.iter().map(|&p| map.apply(point(p))).collect() };
    let [w, h] = pass.bed_mm;
    let here = outline.bounds();
    let bed =
        Bounds::new(pt(here.min.x.max(0.0), here.min.y.max(0.0)), pt(here.max.x.min(w), here.max.y.min(h)))
            .grown(-STEP / 2.0);
    let longer = bed.width().max(bed.height());
    if !(longer.is_finite() && bed.width() > 0.0 && bed.height() > 0.0) {
        return Vec::new();
    }
    let step = STEP.max(longer / MOST);
    let pieces: Vec<(Bounds, Region)> = plan
        .pieces
        .iter()
        .filter(|p| p.cloth == pass.cloth)
        .map(|p| through(map, &region(&p.cut)))
        .map(|r| (r.bounds().grown(CLEAR), r))
        .filter(|(b, _)| b.meets(bed))
        .collect();
    let seen: Vec<Point> =
        pass.marks.iter().map(|m| m.bed).chain(pivots.iter().map(|p| p.bed)).map(point).collect();
    let free = |p: Point| {
        outline.contains(p)
            && seen.iter().all(|m| distance(*m, p) > 2.0 * CLEAR)
            && !pieces.iter().any(|(b, r)| {
                b.contains(p)
                    && (r.contains(p) || r.rings().any(|g| g.sides().any(|(a, c)| to_side(p, a, c) < CLEAR)))
            })
    };
    let count = |size: f64| (size / step).floor() as u32;
    let mut spots = Vec::new();
    for i in 0..=count(bed.width()) {
        for j in 0..=count(bed.height()) {
            spots.push(bed.min + pt(f64::from(i), f64::from(j)) * step);
        }
    }
    let mut pegs: Vec<Point> = Vec::new();
    for corner in bed.corners() {
        spots.sort_by(|p, q| distance(*p, corner).total_cmp(&distance(*q, corner)));
        let near = longer / 2.0;
        let found = spots.iter().take_while(|p| distance(**p, corner) < near).find(|p| free(**p));
        if let Some(&p) = found
            && pegs.iter().all(|q| distance(*q, p) > 4.0 * STEP)
        {
            pegs.push(p);
        }
    }
    pegs
}
