//! How a cloth lies in the picture: scale, place, rulers.

use crate::plan::{Pair, PlanCloth, PlanPiece, PlanRegion};
use crate::shape::{Bounds, Point, Region, Ring, pt};

use super::pen::{INK, SOFT_INK, Side, Words, line};
use crate::write::xml::{El, el};

/// Widest a cloth is drawn, in the picture's units.
const WIDEST: f64 = 1800.0;
/// Highest a cloth is drawn.
const HIGHEST: f64 = 2500.0;
/// Largest scale, units per mm: small cloths do not fill the wall.
const LARGEST_SCALE: f64 = 2.6;

/// Room left of a cloth for its ruler.
pub(super) const LEFT: f64 = 100.0;
/// Room right of a cloth for passes and lengths.
pub(super) const RIGHT: f64 = 108.0;
/// Room below a cloth for its ruler.
pub(super) const BELOW: f64 = 70.0;

/// Cloth frame (mm, y up) to the picture (y down).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sheet {
    /// Units per mm.
    pub scale: f64,
    /// The cloth's box, mm.
    pub cloth: Bounds,
    /// Where the upper left corner of that box lies in the picture.
    pub corner: Point,
}

impl Sheet {
    /// The sheet of a cloth, at the picture's upper left corner. A cloth of no size gets a sheet all the same.
    pub fn of(cloth: &PlanCloth) -> Sheet {
        Sheet::fitting(bounds(cloth), WIDEST, HIGHEST, LARGEST_SCALE)
    }

    /// A sheet on which `cloth` is as large as fits.
    pub fn fitting(cloth: Bounds, widest: f64, highest: f64, largest_scale: f64) -> Sheet {
        let fit = (widest / cloth.width()).min(highest / cloth.height()).min(largest_scale);
        let scale = if fit.is_finite() && fit > 0.0 { fit } else { 1.0 };
        Sheet { scale, cloth, corner: pt(0.0, 0.0) }
    }

    /// The same sheet elsewhere.
    pub fn at_corner(self, corner: Point) -> Sheet {
        Sheet { corner, ..self }
    }

    /// Width of the cloth in the picture.
    pub fn width(&self) -> f64 {
        self.cloth.width() * self.scale
    }

    /// Height of the cloth in the picture.
    pub fn height(&self) -> f64 {
        self.cloth.height() * self.scale
    }

    /// Where a point of the cloth lies in the picture.
    pub fn at(&self, p: Point) -> Point {
        pt(
            self.corner.x + (p.x - self.cloth.min.x) * self.scale,
            self.corner.y + (self.cloth.max.y - p.y) * self.scale,
        )
    }

    /// Where the plan's pair lies.
    pub fn at_pair(&self, p: Pair) -> Point {
        self.at(pt(p[0], p[1]))
    }

    /// Where a ring of the cloth lies.
    pub fn ring(&self, ring: &Ring) -> Ring {
        ring.map(|p| self.at(p))
    }

    /// Where a line of the plan lies.
    pub fn pairs(&self, pairs: &[Pair]) -> Ring {
        Ring { points: pairs.iter().map(|&p| self.at_pair(p)).collect() }
    }

    /// Where a region of the plan lies. Rings run the other way round in the picture.
    pub fn region(&self, region: &PlanRegion) -> Region {
        Region {
            outline: self.pairs(&region.outline),
            cutouts: region.cutouts.iter().map(|c| self.pairs(c)).collect(),
        }
    }

    /// Where a box of the cloth lies: upper left corner, width, height.
    pub fn window(&self, b: Bounds) -> (Point, f64, f64) {
        (self.at(pt(b.min.x, b.max.y)), b.width() * self.scale, b.height() * self.scale)
    }
}

/// The box round a cloth of the plan; a millimetre about the origin when it has no outline.
pub(super) fn bounds(cloth: &PlanCloth) -> Bounds {
    let b = Bounds::of(cloth.outline.iter().map(|p| pt(p[0], p[1])));
    let sane = !b.is_empty() && b.width().is_finite() && b.height().is_finite();
    if sane { b } else { Bounds::new(pt(0.0, 0.0), pt(1.0, 1.0)) }
}

/// True when the outline is a straight length of cloth, so that its left and right edges are selvedges.
pub(super) fn is_straight(cloth: &PlanCloth) -> bool {
    let b = bounds(cloth);
    let at_corner = |p: &Pair| (p[0] == b.min.x || p[0] == b.max.x) && (p[1] == b.min.y || p[1] == b.max.y);
    cloth.outline.len() == 4 && cloth.outline.iter().all(at_corner)
}

/// A piece's name with its copy where there are several.
pub(crate) fn piece_name(piece: &PlanPiece, pieces: &[PlanPiece]) -> String {
    let several = pieces.iter().any(|p| p.id == piece.id && p.copy != piece.copy);
    if several { format!("{} · {}", piece.id, piece.copy) } else { piece.id.clone() }
}

/// Rulers along the left and the near edge: a tick every 100 mm, longer ones with their length.
pub(super) fn rulers(sheet: &Sheet) -> El {
    let step = [200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0]
        .into_iter()
        .find(|s| s * sheet.scale >= 96.0)
        .unwrap_or(50_000.0);
    let fine = if step > 1000.0 { step / 5.0 } else { 100.0 };
    let (low, high) = (sheet.cloth.min, sheet.cloth.max);
    let left = sheet.corner.x - 30.0;
    let near = sheet.corner.y + sheet.height() + 30.0;
    let mut group = el("g")
        .add(line(pt(left, sheet.at(low).y), pt(left, sheet.at(high).y), INK, 1.2))
        .add(line(pt(sheet.at(low).x, near), pt(sheet.at(high).x, near), INK, 1.2));
    for mm in steps(low.y, high.y, fine) {
        let y = sheet.at(pt(low.x, mm)).y;
        let long = is_multiple(mm, step);
        group = group.add(line(pt(left, y), pt(left - if long { 11.0 } else { 6.0 }, y), INK, 1.2));
        if long {
            let label = format!("{mm:.0}");
            group = group.add(
                Words::new(&label, 13.0, pt(left - 17.0, y + 6.5)).side(Side::Right).colour(SOFT_INK).drawn(),
            );
        }
    }
    for mm in steps(low.x, high.x, fine) {
        let x = sheet.at(pt(mm, low.y)).x;
        let long = is_multiple(mm, step);
        group = group.add(line(pt(x, near), pt(x, near + if long { 11.0 } else { 6.0 }), INK, 1.2));
        if long {
            let label = if mm == 0.0 { "0 mm".to_owned() } else { format!("{mm:.0}") };
            let side = if mm == 0.0 { Side::Left } else { Side::Middle };
            let nudge = if mm == 0.0 { -3.0 } else { 0.0 };
            group = group.add(
                Words::new(&label, 13.0, pt(x + nudge, near + 30.0)).side(side).colour(SOFT_INK).drawn(),
            );
        }
    }
    group
}

fn steps(low: f64, high: f64, step: f64) -> impl Iterator<Item = f64> {
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    // A kilometre in decimetres and no more.
    (first..=last).take(10_000).map(move |i| i as f64 * step)
}

fn is_multiple(value: f64, step: f64) -> bool {
    (value / step).fract() == 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    #[test]
    fn a_cloth_lies_upright_and_to_scale() {
        let plan = sample_plan();
        let sheet = Sheet::of(&plan.cloths[0]).at_corner(pt(100.0, 50.0));
        assert_eq!(sheet.at(pt(0.0, 1070.0)), pt(100.0, 50.0));
        let (low, high) = (sheet.at(pt(0.0, 0.0)), sheet.at(pt(870.0, 0.0)));
        assert!(low.y > 50.0 && (high.x - low.x - 870.0 * sheet.scale).abs() < 1e-9);
        assert!(sheet.width() <= WIDEST + 1e-9 && sheet.height() <= HIGHEST + 1e-9);
    }

    #[test]
    fn a_cloth_of_no_size_is_no_crash() {
        let mut cloth = sample_plan().cloths[0].clone();
        for outline in
            [vec![], vec![[5.0, 5.0]], vec![[f64::NAN, 0.0]], vec![[0.0, 0.0], [f64::INFINITY, 1.0]]]
        {
            cloth.outline = outline;
            let sheet = Sheet::of(&cloth);
            assert!(sheet.scale.is_finite() && sheet.scale > 0.0);
            let _ = rulers(&sheet);
        }
    }

    #[test]
    fn only_a_straight_length_has_selvedges() {
        let plan = sample_plan();
        assert!(is_straight(&plan.cloths[0]) && !is_straight(&plan.cloths[1]));
    }
}
