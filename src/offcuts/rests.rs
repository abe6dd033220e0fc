//! What a piece can be cut from again: offcuts on the shelf, the rest of the plan's cloth, scraps out of cut-outs.

use crate::cloth::{self, Cloth};
use crate::job::ClothSpec;
use crate::plan::{self, CutFrom, Plan, PlanCloth};
use crate::say::Trouble;
use crate::shape::{Join, Region, Ring, offset};

use super::model::{Offcut, cut_away, same_fabric};
use super::shelve::{described, gone, left_of, simpler};
use super::take::fabric_of;

/// Where a piece is cut from again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// An offcut of the shelf, by id.
    Shelf(String),
    /// What the plan's pieces leave of a cloth, by the cloth's name.
    Rest(String),
    /// The scrap that falls out of a piece's cut-out: piece, copy.
    Scrap(String, u32),
}

impl Source {
    /// The source in words.
    pub fn words(&self) -> String {
        match self {
            Source::Shelf(id) => format!("offcut {id} of the shelf"),
            Source::Rest(cloth) => format!("the rest of {cloth}"),
            Source::Scrap(piece, copy) => format!("the scrap out of piece {piece} ({copy})"),
        }
    }

    /// The source as a plan keeps it.
    pub(super) fn kept(&self) -> CutFrom {
        match self.clone() {
            Source::Shelf(id) => CutFrom::Offcut { id },
            Source::Rest(cloth) => CutFrom::Rest { cloth },
            Source::Scrap(piece, copy) => CutFrom::Scrap { piece, copy },
        }
    }
}

/// A cloth a piece might be cut from again.
pub(super) struct Rest {
    /// Where it is.
    pub source: Source,
    /// Its description.
    pub spec: ClothSpec,
    /// The same, understood.
    pub cloth: Cloth,
    /// Its area, mm².
    pub area: f64,
}

/// What of an offcut of the shelf pieces cut again `since` have taken, in the offcut's frame.
fn taken_since(offcut: &Offcut, since: &[Plan]) -> Vec<Region> {
    let from_it = |c: &&PlanCloth| is_cut_from(c, offcut);
    since.iter().flat_map(|p| p.cloths.iter().filter(from_it).flat_map(|c| gone(p, c))).collect()
}

/// True when a piece was cut again from this offcut. Plans from before they said so call the cloth by its id.
fn is_cut_from(cloth: &PlanCloth, offcut: &Offcut) -> bool {
    let named = match &cloth.cut_from {
        Some(CutFrom::Offcut { id }) => *id == offcut.id,
        Some(_) => false,
        None => cloth.name == offcut.id,
    };
    named && cloth.described.as_ref().is_some_and(|d| d.outline_mm == offcut.cloth.outline_mm)
}

/// True when a piece was cut again from the rest of cloth `name`, or from a scrap of it.
fn is_of_cloth(cloth: &PlanCloth, name: &str) -> bool {
    cloth.name == name && !matches!(cloth.cut_from, Some(CutFrom::Offcut { .. }))
}

/// The plans among `since` none of whose cloths is cloth `name` of the plan or an offcut of the `shelf`: they take
/// nothing away.
pub(super) fn of_no_account<'a>(since: &'a [Plan], name: &str, shelf: &[Offcut]) -> Vec<&'a Plan> {
    let counts = |c: &PlanCloth| is_of_cloth(c, name) || shelf.iter().any(|o| is_cut_from(c, o));
    since.iter().filter(|p| !p.cloths.iter().any(counts)).collect()
}

/// Offcuts of the fabric `like` that are at least `area` large, the smallest first, less what pieces cut again `since`
/// have taken from them.
pub(super) fn of_shelf(shelf: &[&Offcut], like: &ClothSpec, area: f64, since: &[Plan]) -> Vec<Rest> {
    let fabric = fabric_of(like);
    let mut rests: Vec<Rest> = shelf
        .iter()
        .filter(|o| o.cloth.name == fabric && o.area_mm2 >= area && same_fabric(like, &o.cloth).is_ok())
        .filter_map(|o| {
            let taken = taken_since(o, since);
            let source = Source::Shelf(o.id.clone());
            if taken.is_empty() {
                let cloth = o.understood().ok()?;
                return Some(Rest { source, spec: o.as_cloth(), cloth, area: o.area_mm2 });
            }
            Some(rest(source, less(o.as_cloth(), &taken))?).filter(|r| r.area >= area)
        })
        .collect();
    rests.sort_by(|a, b| a.area.total_cmp(&b.area));
    rests
}

/// The cloth with what of `taken` lies on it among its flaws.
fn less(spec: ClothSpec, taken: &[Region]) -> ClothSpec {
    let outline = Ring::from_pairs(spec.outline_mm.as_deref().unwrap_or_default());
    let mut flaws_mm = spec.flaws_mm.clone();
    flaws_mm.extend(cut_away(&Region::new(outline, Vec::new()), taken));
    ClothSpec { flaws_mm, ..spec }
}

/// Takes from the offcuts among `rests` that are leftovers of the plan's cloth `name` what was cut again `since` from
/// the rest of that cloth, before they were put on the shelf.
///
/// # Errors
/// A plan that does not say what the cloth is.
pub(super) fn less_of_plan(
    rests: &mut Vec<Rest>,
    plan: &Plan,
    name: &str,
    since: &[Plan],
    shelf: &[Offcut],
) -> Result<(), Vec<Trouble>> {
    let Some(cloth) = plan.cloths.iter().find(|c| c.name == name) else { return Ok(()) };
    let taken = gone_since(since, name);
    if taken.is_empty() {
        return Ok(());
    }
    for (left, corner) in left_of(plan, cloth, A_DAY, "")? {
        for offcut in shelf.iter().filter(|o| o.is_again(&left)) {
            let own: Vec<Region> = taken.iter().map(|r| r.map(|p| p - corner)).collect();
            let at = rests.iter().position(|r| r.source == Source::Shelf(offcut.id.clone()));
            if let Some(at) = at {
                let old = rests.remove(at);
                rests.extend(rest(old.source, less(old.spec, &own)));
            }
        }
    }
    rests.sort_by(|a, b| a.area.total_cmp(&b.area));
    Ok(())
}

/// What was cut again `since` from cloth `name` of the plan, in that cloth's frame.
pub(super) fn gone_since(since: &[Plan], name: &str) -> Vec<Region> {
    let of_it = |c: &&PlanCloth| is_of_cloth(c, name);
    let cut = |p: &Plan, c: &PlanCloth| {
        // Its own flaws are the plan's pieces, known already.
        gone(p, &PlanCloth { flaws: Vec::new(), ..c.clone() })
    };
    since.iter().flat_map(|p| p.cloths.iter().filter(of_it).flat_map(move |c| cut(p, c))).collect()
}

/// What the plan, and those of pieces cut again `since`, leave of its cloth `name`: scraps first, then the rest.
/// Leftovers that were put on the `shelf` are there, or taken from it: they are no part of the rest.
///
/// # Errors
/// A plan that does not say what the cloth is.
pub(super) fn of_plan(
    plan: &Plan,
    name: &str,
    since: &[Plan],
    shelf: &[Offcut],
) -> Result<Vec<Rest>, Vec<Trouble>> {
    let Some(cloth) = plan.cloths.iter().find(|c| c.name == name) else { return Ok(Vec::new()) };
    let spec = described(cloth).map_err(|t| vec![t])?;
    let mut rests = Vec::new();
    // They lie in the frame of the same cloth.
    let later = gone_since(since, name);
    let burnt: Vec<Region> = plan::burnt(plan, name).into_iter().map(|b| b.region).collect();
    for piece in plan.pieces.iter().filter(|p| p.cloth == name) {
        for cutout in &piece.cut.cutouts {
            let hole = Region::new(Ring::from_pairs(cutout), Vec::new());
            // Within a hole only what lies inside it is in the way; pieces round it are not.
            let inside: Vec<Region> = plan
                .pieces
                .iter()
                .filter(|p| p.cloth == name && (p.id != piece.id || p.copy != piece.copy))
                .map(|p| Region::new(Ring::from_pairs(&p.cut.outline), Vec::new()))
                .filter(|r| r.outline.points.iter().all(|p| hole.contains(*p)))
                .flat_map(|r| offset(&[r], cloth.gap_mm, Join::Round))
                .chain(later.iter().chain(&burnt).filter(|r| r.bounds().meets(hole.bounds())).cloned())
                .collect();
            for part in offset(std::slice::from_ref(&hole), -cloth.gap_mm, Join::Round) {
                let spec = ClothSpec {
                    outline_mm: Some(simpler(part.outline.clone()).to_pairs()),
                    edge_mm: 0.0,
                    flaws_mm: cut_away(&part, &inside),
                    ..spec.clone()
                };
                rests.extend(rest(Source::Scrap(piece.id.clone(), piece.copy), spec));
            }
        }
    }
    let mut gone = gone(plan, cloth);
    gone.extend(later);
    for (left, (offcut, _)) in cloth.offcuts.iter().zip(left_of(plan, cloth, A_DAY, "")?) {
        if shelf.iter().any(|o| o.is_again(&offcut)) {
            gone.push(Region::new(Ring::from_pairs(&left.outline), Vec::new()));
        }
    }
    let spec = ClothSpec {
        outline_mm: Some(cloth.outline.clone()),
        flaws_mm: gone.iter().map(|r| r.outline.to_pairs()).collect(),
        ..spec.clone()
    };
    rests.extend(rest(Source::Rest(name.into()), spec));
    Ok(rests)
}

/// Any day: leftovers are compared by cloth and work alone.
const A_DAY: &str = "2000-01-01";

fn rest(source: Source, spec: ClothSpec) -> Option<Rest> {
    let spec = ClothSpec { width_mm: None, length_mm: None, ..spec };
    // A scrap too small for anything is no trouble.
    let (cloth, _) = cloth::understand(&spec, "the rest").ok()?;
    let area = cloth.usable().iter().map(Region::area).sum();
    Some(Rest { source, spec, cloth, area })
}
