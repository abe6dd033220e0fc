//! What a plan says of its cloths. Doc comments here become the descriptions in the published schema.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::estimate::Need;
use crate::job::ClothSpec;
use crate::shape::Ring;

use super::model::Pair;

/// One cloth and what is used of it. Cloth frame, mm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanCloth {
    /// Its name.
    pub name: String,
    /// Its outline; a cloth of open length ends at the used length.
    pub outline: Vec<Pair>,
    /// Its flaws.
    pub flaws: Vec<Vec<Pair>>,
    /// Strip along every edge that is not used, mm.
    pub edge_mm: f64,
    /// Least distance between pieces, mm.
    pub gap_mm: f64,
    /// True when the length was open.
    pub open_length: bool,
    /// Its check or stripe.
    pub pattern: Option<PlanPattern>,
    /// Length used, mm.
    pub used_length_mm: f64,
    /// Area of the pieces as cut, mm².
    pub pieces_area_mm2: f64,
    /// Area of cloth used, mm².
    pub used_area_mm2: f64,
    /// Pieces' area / used area.
    pub efficiency: f64,
    /// No lay of these pieces under these rules takes less length than this, mm: a lower bound.
    #[serde(default)]
    pub least_length_mm: f64,
    /// True when it is proved that no lay under these rules is shorter than this one.
    #[serde(default)]
    pub proved_shortest: bool,
    /// Leftovers worth keeping.
    pub offcuts: Vec<PlanOffcut>,
    /// The largest axis-parallel rectangle that is left, clear of every cut by the gap, of flaws and of burnt
    /// marks; null when there is none.
    #[serde(default)]
    pub largest_rectangle_mm: Option<PlanRectangle>,
    /// Length to buy, mm: `buying` added up and rounded up to whole centimetres.
    pub buy_length_mm: f64,
    /// What the length to buy is made up of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub buying: Option<PlanBuying>,
    /// Price of that length; null when the price is not known.
    pub cost: Option<f64>,
    /// Weight of what is neither piece nor offcut, g; null when the cloth's weight is not known.
    pub waste_g: Option<f64>,
    /// For a piece cut again: what this cloth is, so that the next one cut again keeps off it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut_from: Option<CutFrom>,
    /// The cloth as the job describes it, so that its leftovers can be kept with all that is known of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub described: Option<ClothSpec>,
    /// True when pictures show it by a photograph, which stays beside the job.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub photographed: bool,
}

impl PlanCloth {
    /// Area of what is neither piece nor leftover worth keeping, mm².
    pub fn waste_mm2(&self) -> f64 {
        let whole = Ring::from_pairs(&self.outline).signed_area().abs();
        let kept: f64 = self.offcuts.iter().map(|o| o.area_mm2).sum();
        (whole - self.pieces_area_mm2 - kept).max(0.0)
    }
}

/// What a piece was cut again from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum CutFrom {
    /// An offcut of the shelf; the frame is the offcut's.
    Offcut {
        /// Its id on the shelf.
        id: String,
    },
    /// What the pieces of the plan leave of its cloth; the frame is that cloth's.
    Rest {
        /// The cloth's name in that plan.
        cloth: String,
    },
    /// The scrap that falls out of a piece's cut-out; the frame is that of the plan's cloth.
    Scrap {
        /// The piece it falls out of.
        piece: String,
        /// Which copy of it.
        copy: u32,
    },
}

/// What a length to buy is made up of, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanBuying {
    /// The lay.
    pub laid_mm: f64,
    /// To find the place in the repeat where the lay begins, wherever the shop cut last.
    pub start_mm: f64,
    /// For the slant of the weft.
    pub skew_mm: f64,
    /// To cut the ends straight.
    pub cutting_mm: f64,
    /// For shrinkage.
    pub shrinkage_mm: f64,
}

impl PlanBuying {
    /// The parts in words.
    pub fn words(&self) -> String {
        let mut parts = vec![format!("lay {:.2} m", self.laid_mm / 1000.0)];
        let more = [
            (self.start_mm, "to begin at the right place of the repeat"),
            (self.skew_mm, "for the weft's slant"),
            (self.cutting_mm, "to cut the ends straight"),
            (self.shrinkage_mm, "for shrinkage"),
        ];
        let said = more.iter().filter(|(mm, _)| *mm > 0.0);
        parts.extend(said.map(|(mm, what)| format!("{what} {:.2} m", mm / 1000.0)));
        parts.join(", ")
    }
}

impl From<Need> for PlanBuying {
    fn from(need: Need) -> PlanBuying {
        let Need { laid_mm, start_mm, skew_mm, cutting_mm, shrinkage_mm, .. } = need;
        PlanBuying { laid_mm, start_mm, skew_mm, cutting_mm, shrinkage_mm }
    }
}

/// A check or stripe.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanPattern {
    /// Repeat across; null when there is none.
    pub a: Option<Pair>,
    /// Repeat along; null when there is none.
    pub b: Option<Pair>,
    /// Where a pivot across meets a pivot along.
    pub origin: Pair,
    /// True when a half turn leaves it the same.
    pub half_turn: bool,
}

/// An axis-parallel rectangle, cloth frame, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanRectangle {
    /// Its left side.
    pub x: f64,
    /// Its near side.
    pub y: f64,
    /// Its size across.
    pub width: f64,
    /// Its size along.
    pub height: f64,
}

/// A leftover worth keeping.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanOffcut {
    /// Its outline, cloth frame.
    pub outline: Vec<Pair>,
    /// What is gone within it: pieces and flaws it goes round, each with a narrow strip about it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cutouts: Vec<Vec<Pair>>,
    /// What is burnt within it: marks, each with a narrow strip about it. They are no cut-outs, but no piece may lie on
    /// them; a plan made before they were kept has none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub flaws: Vec<Vec<Pair>>,
    /// Its area, mm²: what the outline holds less the cut-outs.
    pub area_mm2: f64,
}
