//! What a plan leaves over, ready for the shelf.

use geo::Simplify;

use crate::job::{self, ClothSpec};
use crate::plan::{self, CutFrom, Plan, PlanCloth};
use crate::say::Trouble;
use crate::shape::{Join, Point, Region, Ring, offset, tol};

use super::file::Shelf;
use super::model::{Offcut, State, cut_away};
use super::rests::gone_since;

/// What a plan leaves over.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shelved {
    /// Leftovers worth keeping, cloth by cloth; they have no ids yet.
    pub offcuts: Vec<Offcut>,
    /// The rest, cloth by cloth.
    pub discarded: Vec<Discarded>,
}

/// What else tells of the cloths whose leftovers are counted.
#[derive(Clone, Copy, Debug, Default)]
pub struct Beside<'a> {
    /// Plans of pieces cut again from the rest of a cloth since.
    pub since: &'a [Plan],
    /// The shelf, where the cloth may have been an offcut.
    pub shelf: &'a [Offcut],
}

/// The plan's cloth is the rest or a scrap of another plan's: what is left of it is left by that one.
pub fn is_of_another_plan(cloth: &PlanCloth) -> bool {
    matches!(cloth.cut_from, Some(CutFrom::Rest { .. } | CutFrom::Scrap { .. }))
}

/// Where on the shelf the offcut lies that the plan's cloth is, if it is one of these.
pub(super) fn cut_up(cloth: &PlanCloth, shelf: &[Offcut]) -> Option<usize> {
    let Some(CutFrom::Offcut { id }) = &cloth.cut_from else { return None };
    let outline = &cloth.described.as_ref()?.outline_mm;
    shelf.iter().position(|o| o.id == *id && o.cloth.outline_mm == *outline)
}

/// Takes the offcut that the plan's cloth is off the `shelf`, for it is cut up; its id, where it was still there.
pub fn take_cut_up(shelf: &mut Shelf, plan: &Plan, cloth: &PlanCloth) -> Option<String> {
    let offcut = cut_up(cloth, &shelf.offcuts).map(|k| &mut shelf.offcuts[k])?;
    (offcut.state == State::Kept).then(|| {
        offcut.state = State::Taken;
        offcut.taken_for.clone_from(&plan.title);
        offcut.id.clone()
    })
}

/// What of a cloth is neither piece nor offcut.
#[derive(Clone, Debug, PartialEq)]
pub struct Discarded {
    /// The cloth's name.
    pub cloth: String,
    /// Its area, mm².
    pub area_mm2: f64,
    /// Its weight, g; `None` when the cloth's weight is not known.
    pub weight_g: Option<f64>,
}

/// The leftovers of a plan that has been cut: their outlines, with the pattern where it lies on them, in a frame of
/// their own each. Pieces and flaws that a leftover goes round are taken out of it, and what was cut again from it since.
/// A cloth that is the rest of another plan's leaves nothing of its own.
///
/// # Errors
/// A plan that does not say what its cloths are, or an outline in it that makes no sense.
pub fn shelve(plan: &Plan, date: &str, place: &str, beside: Beside) -> Result<Shelved, Vec<Trouble>> {
    shelve_of(plan, &plan.cloths.iter().collect::<Vec<_>>(), date, place, beside)
}

/// As [`shelve`], for some of the plan's cloths.
///
/// # Errors
/// As for [`shelve`].
pub fn shelve_of(
    plan: &Plan,
    cloths: &[&PlanCloth],
    date: &str,
    place: &str,
    beside: Beside,
) -> Result<Shelved, Vec<Trouble>> {
    let mut out = Shelved::default();
    let mut troubles = Vec::new();
    for &cloth in cloths.iter().filter(|c| !is_of_another_plan(c)) {
        match of_cloth(plan, cloth, date, place, beside) {
            Ok((offcuts, discarded)) => {
                out.offcuts.extend(offcuts);
                out.discarded.push(discarded);
            }
            Err(t) => troubles.extend(t),
        }
    }
    if troubles.is_empty() { Ok(out) } else { Err(troubles) }
}

fn of_cloth(
    plan: &Plan,
    cloth: &PlanCloth,
    date: &str,
    place: &str,
    beside: Beside,
) -> Result<(Vec<Offcut>, Discarded), Vec<Trouble>> {
    let again = gone_since(beside.since, &cloth.name);
    let parent = cut_up(cloth, beside.shelf).map(|k| &beside.shelf[k]);
    let offcuts: Vec<Offcut> = left_of(plan, cloth, date, place)?
        .into_iter()
        .map(|(mut offcut, corner)| {
            let taken: Vec<Region> = again.iter().map(|r| r.map(|p| p + corner * -1.0)).collect();
            offcut.lose(&taken);
            if let Some(parent) = parent {
                // The plan's cloth lies in the parent's own frame.
                let marks = parent.burnt_mm.iter().flatten().map(|[x, y]| [x - corner.x, y - corner.y]);
                offcut.burn(&marks.collect::<Vec<_>>());
                if parent.burnt_mm.is_none() {
                    offcut.burnt_mm = None;
                }
            }
            offcut
        })
        .collect();
    let kept: f64 = offcuts.iter().map(|o| o.area_mm2).sum();
    let whole = Ring::from_pairs(&cloth.outline).signed_area().abs();
    let area_mm2 = (whole - cloth.pieces_area_mm2 - kept).max(0.0);
    let weight_g = cloth.described.as_ref().and_then(|s| s.weight_g_per_m2).map(|w| w * area_mm2 / 1.0e6);
    Ok((offcuts, Discarded { cloth: cloth.name.clone(), area_mm2, weight_g }))
}

/// The leftovers of one cloth of a plan, and where the frame of each lies in the cloth's.
///
/// # Errors
/// As for [`shelve`].
pub(super) fn left_of(
    plan: &Plan,
    cloth: &PlanCloth,
    date: &str,
    place: &str,
) -> Result<Vec<(Offcut, Point)>, Vec<Trouble>> {
    let mut offcuts = Vec::new();
    let gone = gone(plan, cloth);
    let marks: Vec<Point> = plan::burnt(plan, &cloth.name).iter().filter_map(|b| b.mark).collect();
    for left in &cloth.offcuts {
        let spec = described(cloth).map_err(|t| vec![t])?;
        let outline = simpler(Ring::from_pairs(&left.outline));
        let region = Region::new(outline, Vec::new());
        if !region.is_sane() {
            let what = "an offcut's outline has coordinates that are no lengths of cloth";
            return Err(vec![Trouble::bad_input(format!("cloth {}", cloth.name), what)]);
        }
        let corners = region.outline.to_pairs();
        let corner = Offcut::corner(&corners);
        let of = ClothSpec {
            // A leftover of an offcut is one of the same fabric.
            name: spec.stock.clone().unwrap_or_else(|| spec.name.clone()),
            flaws_mm: cut_away(&region, &[gone.clone(), rings(&left.cutouts)].concat()),
            outline_mm: Some(corners),
            ..spec.clone()
        };
        let mut offcut = Offcut::new(&of, date, place, &plan.title)?;
        offcut.burn(&marks.iter().map(|m| [m.x - corner.x, m.y - corner.y]).collect::<Vec<_>>());
        offcuts.push((offcut, corner));
    }
    Ok(offcuts)
}

fn rings(all: &[Vec<[f64; 2]>]) -> Vec<Region> {
    all.iter().map(|r| Region::new(Ring::from_pairs(r).oriented(true), Vec::new())).collect()
}

/// What the plan's cloth is, in the job's words.
///
/// # Errors
/// The plan does not say.
pub(super) fn described(cloth: &PlanCloth) -> Result<&ClothSpec, Trouble> {
    cloth.described.as_ref().ok_or_else(|| {
        Trouble::bad_input(
            format!("cloth {}", cloth.name),
            "the plan does not say what it is (weave, nap, pattern): it was made by an earlier settlay",
        )
        .hint("make the plan again")
    })
}

/// What is cut out of a plan's cloth, each piece with the gap round it, its flaws, and what else is burnt into it.
pub(super) fn gone(plan: &Plan, cloth: &PlanCloth) -> Vec<Region> {
    let ring = |pairs: &[[f64; 2]]| Region::new(Ring::from_pairs(pairs), Vec::new());
    let mut gone: Vec<Region> = Vec::new();
    for piece in plan.pieces.iter().filter(|p| p.cloth == cloth.name) {
        gone.extend(offset(&[ring(&piece.cut.outline)], cloth.gap_mm, Join::Round));
    }
    gone.extend(cloth.flaws.iter().map(|f| ring(f)));
    gone.extend(plan::burnt(plan, &cloth.name).into_iter().map(|b| b.region));
    gone
}

/// The ring with fewer corners, where that leaves it sound.
pub(super) fn simpler(ring: Ring) -> Ring {
    let region = Region::new(ring.clone(), Vec::new());
    let line = region.to_geo().simplify(tol::OFFCUT_OUTLINE_MM);
    let fewer = Region::from_geo(&line).outline;
    if job::outline_fault(&fewer.to_pairs()).is_none() { fewer } else { ring }
}
