//! What a piece can be cut from again: offcuts on the shelf, the rest of the plan's cloth, scraps out of cut-outs.

use crate::cloth::{self, Cloth};
use crate::job::ClothSpec;
use crate::plan::Plan;
use crate::say::Trouble;
use crate::shape::{Join, Region, Ring, offset};

use super::model::{Offcut, cut_away, same_fabric};
use super::shelve::{described, gone, shelve_of, simpler};
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

/// Offcuts of the fabric `like` that are at least `area` large, the smallest first.
pub(super) fn of_shelf(shelf: &[&Offcut], like: &ClothSpec, area: f64) -> Vec<Rest> {
    let fabric = fabric_of(like);
    let mut rests: Vec<Rest> = shelf
        .iter()
        .filter(|o| o.cloth.name == fabric && o.area_mm2 >= area && same_fabric(like, &o.cloth).is_ok())
        .filter_map(|o| {
            let cloth = o.understood().ok()?;
            Some(Rest { source: Source::Shelf(o.id.clone()), spec: o.as_cloth(), cloth, area: o.area_mm2 })
        })
        .collect();
    rests.sort_by(|a, b| a.area.total_cmp(&b.area));
    rests
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
    // They lie in the frame of the same cloth, under the same name.
    let later = || since.iter().flat_map(|p| &p.pieces).filter(|p| p.cloth == name);
    for piece in plan.pieces.iter().filter(|p| p.cloth == name) {
        for cutout in &piece.cut.cutouts {
            let hole = Region::new(Ring::from_pairs(cutout), Vec::new());
            // Within a hole only what lies inside it is in the way; pieces round it are not.
            let inside: Vec<Region> = plan
                .pieces
                .iter()
                .filter(|p| p.cloth == name && (p.id != piece.id || p.copy != piece.copy))
                .chain(later())
                .map(|p| Region::new(Ring::from_pairs(&p.cut.outline), Vec::new()))
                .filter(|r| r.outline.points.iter().all(|p| hole.contains(*p)))
                .flat_map(|r| offset(&[r], cloth.gap_mm, Join::Round))
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
    for piece in later() {
        let cut = Region::new(Ring::from_pairs(&piece.cut.outline), Vec::new());
        gone.extend(offset(&[cut], cloth.gap_mm, Join::Round));
    }
    for (left, offcut) in cloth.offcuts.iter().zip(shelve_of(plan, &[cloth], A_DAY, "")?.offcuts) {
        if shelf.iter().any(|o| o.cloth == offcut.cloth && o.from == offcut.from) {
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
