//! The lay as a picture: cloth as woven, waste veiled, pieces in full colour, and what cutting adds.
//!
//! In: a plan and its cloths. Out: an SVG that needs no font and no other file. Makes no decisions.

mod frame;
mod ground;
mod heading;
pub(super) mod legend;
mod names;
mod offcut;
mod passes;
pub(super) mod pen;
mod pieces;
mod reach;
mod spots;
pub(super) mod weave;

pub(super) use frame::{Sheet, piece_name};
pub use offcut::offcut_svg;

use crate::cloth::Cloth;
use crate::plan::{Plan, PlanPass, PlanPiece};
use crate::shape::{Region, Ring, pt};

use super::xml::{El, el, picture};
use reach::Reach;
use weave::Fill;

/// Room round everything.
const PAD: f64 = 56.0;
/// Narrowest picture: its title block needs as much.
const NARROWEST: f64 = 1240.0;
/// How strongly the waste of a shared band is tinted; pieces keep their own colours.
const BAND: &str = "0.15";
/// Room between one cloth and the next.
const BETWEEN: f64 = 96.0;

/// A picture of a lay, its cloth kept apart from what lies on it.
#[derive(Debug)]
pub(super) struct LayPicture {
    /// Its width, in units that are pixels at its own size.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// Each cloth's outline and what it is filled with.
    pub grounds: Vec<(Ring, Fill)>,
    defs: El,
    over: El,
}

impl LayPicture {
    /// The whole picture as SVG.
    pub fn svg(&self) -> String {
        let mut defs = self.defs.clone();
        let mut cloths = el("g").set("id", "cloth");
        for (n, (outline, fill)) in self.grounds.iter().enumerate() {
            let id = format!("weave-{}", n + 1);
            let paint = match fill.pattern(&id) {
                Some(pattern) => {
                    defs = defs.add(pattern);
                    format!("url(#{id})")
                }
                None => fill.colour(),
            };
            cloths = cloths.add(el("path").set("d", pen::rings_data([outline])).set("fill", paint));
        }
        let page = picture(self.width, self.height, "").add(defs).add(self.paper()).add(cloths);
        format!("{}\n", page.add(self.over.clone()))
    }

    /// The picture without paper and cloths.
    pub fn svg_over(&self) -> String {
        format!("{}\n", picture(self.width, self.height, "").add(self.defs.clone()).add(self.over.clone()))
    }

    fn paper(&self) -> El {
        pen::rectangle(pt(0.0, 0.0), self.width, self.height).set("fill", pen::PAPER)
    }
}

/// The lay as one picture: every cloth that is used, one beneath the other, each to its own scale.
pub fn lay_svg(plan: &Plan, cloths: &[Cloth]) -> String {
    lay_picture(plan, cloths).svg()
}

/// The lay, drawn.
pub(super) fn lay_picture(plan: &Plan, cloths: &[Cloth]) -> LayPicture {
    let sheets: Vec<Sheet> = plan.cloths.iter().map(Sheet::of).collect();
    let passes_of =
        |name: &str| -> Vec<&PlanPass> { plan.passes.iter().filter(|p| p.cloth == name).collect() };
    let reaches: Vec<Reach> =
        plan.cloths.iter().zip(&sheets).map(|(c, s)| Reach::of(s, &passes_of(&c.name))).collect();
    let widest = sheets
        .iter()
        .zip(&reaches)
        .map(|(s, r)| s.width() + frame::LEFT + frame::RIGHT + r.aside())
        .fold(0.0, f64::max);
    let width = (widest + 2.0 * PAD).max(NARROWEST).ceil();
    let inner = width - 2.0 * PAD;
    let mut defs = el("defs").add(ground::flaw_hatch());
    let mut over = el("g").set("id", "lay").add(heading::title(plan, pt(PAD, PAD), inner));
    let mut grounds = Vec::new();
    let mut one_way = Vec::new();
    let mut by_number = false;
    let mut y = PAD + heading::TITLE;
    for (n, ((planned, sheet), reach)) in plan.cloths.iter().zip(&sheets).zip(&reaches).enumerate() {
        let cloth = cloths.iter().find(|c| c.name == planned.name);
        let nap = cloth.is_some_and(|c| c.nap);
        let turns = !nap && planned.pattern.as_ref().is_none_or(|p| p.half_turn);
        one_way.push(!turns);
        over = over.add(heading::cloth(plan, planned, pt(PAD, y), inner));
        y += heading::CLOTH + reach.above();
        let slack = inner - frame::LEFT - frame::RIGHT - reach.aside() - sheet.width();
        let sheet = sheet.at_corner(pt(PAD + frame::LEFT + slack / 2.0, y));
        let ids = ground::Ids::new(n + 1);
        let numbered: Vec<(usize, &PlanPiece)> =
            plan.pieces.iter().enumerate().filter(|(_, p)| p.cloth == planned.name).collect();
        let pieces: Vec<&PlanPiece> = numbered.iter().map(|(_, p)| *p).collect();
        let passes = passes_of(&planned.name);
        let regions: Vec<Region> = pieces.iter().map(|p| sheet.region(&p.cut)).collect();
        let marks = passes::mark_places(&sheet, &passes, &regions);
        let kept_clear = names::Clear {
            boxes: marks.iter().flat_map(|m| m.taken()).collect(),
            joints: passes::joint_spots(&sheet, &passes).into_iter().map(|(at, _)| at).collect(),
        };
        let (named, numbers) = names::names(&sheet, plan, &numbered, &kept_clear, up_deg, !turns);
        by_number |= numbers;
        defs = defs.add(ground::shapes(&ids, &sheet, planned, &pieces));
        grounds.push((sheet.pairs(&planned.outline), Fill::of(cloth, &sheet)));
        over = over
            .add(ground::veil(&ids))
            .add(ground::edges(&sheet, planned))
            .add(ground::offcuts(&sheet, planned))
            .add(ground::flaws(&sheet, planned))
            .add(passes::bands(&sheet, &passes).set("clip-path", ids.clipped()).set("fill-opacity", BAND))
            .add(pieces::edges(&sheet, &ids.pieces, &pieces))
            .add(passes::windows(&sheet, &passes))
            .add(reach.drawn(&sheet, &passes))
            .add(named)
            .add(passes::joints(&sheet, plan, &passes))
            .add(passes::marks(&marks))
            .add(frame::rulers(&sheet))
            .add(ground::used_length(&sheet, planned, nap, reach.aside()));
        y += sheet.height() + frame::BELOW;
        let right = sheet.corner.x + sheet.width();
        over = over.add(legend::scale_bar(&sheet, pt(right, y + 26.0)));
        y += BETWEEN;
    }
    over = over.add(pen::line(pt(PAD, y - 20.0), pt(width - PAD, y - 20.0), pen::FAINT, 1.2));
    let (key, key_height) = legend::legend(plan, &one_way, by_number, pt(PAD, y), inner);
    let height = (y + key_height + PAD * 0.7).ceil();
    LayPicture { width, height, grounds, defs, over: over.add(key) }
}

/// The way a piece's own grain points on the cloth, degrees counter-clockwise from the picture's right.
fn up_deg(piece: &PlanPiece) -> f64 {
    piece.turn_deg + piece.grain_deg + 90.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::{sample_cloths, sample_plan};

    #[test]
    fn the_picture_can_be_read_and_is_the_same_every_time() {
        let (plan, cloths) = (sample_plan(), sample_cloths());
        let file = lay_svg(&plan, &cloths);
        assert_eq!(file, lay_svg(&plan, &cloths));
        usvg::Tree::from_str(&file, &usvg::Options::default()).unwrap();
        let drawn = lay_svg(&plan, &[]);
        assert!(!drawn.contains("NaN") && !drawn.contains("inf") && !drawn.contains("<text"));
    }

    #[test]
    fn a_plan_of_nothing_still_gives_a_picture() {
        let mut plan = sample_plan();
        plan.pieces.clear();
        plan.passes.clear();
        for cloth in &mut plan.cloths {
            cloth.outline.clear();
        }
        usvg::Tree::from_str(&lay_svg(&plan, &[]), &usvg::Options::default()).unwrap();
        plan.cloths.clear();
        usvg::Tree::from_str(&lay_svg(&plan, &[]), &usvg::Options::default()).unwrap();
    }
}
