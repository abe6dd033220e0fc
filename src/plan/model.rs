//! The plan file's shape, field by field. Doc comments here become the descriptions in the published schema.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::job::{Cutter, Job, LaySpec, Match, SheetsSpec};
pub use crate::say::Note;

use super::cloth_model::PlanCloth;
use super::sewing_model::PlanSewing;

/// A point, mm: x, y.
pub type Pair = [f64; 2];

/// A settlay plan: where every piece lies and how it is cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Plan {
    /// Version of the plan format: 1.
    pub settlay_plan: u32,
    /// What the work is called.
    pub title: String,
    /// Always `mm`.
    pub units: String,
    /// The program that made it.
    pub program: String,
    /// Where chance started.
    pub seed: u64,
    /// Width and height of the drawing's page, mm.
    pub page_mm: Pair,
    /// The cutter the passes are made for, as in the job.
    #[serde(default)]
    pub cutter: Cutter,
    /// The sheets to work from, as in the job.
    #[serde(default)]
    pub sheets: SheetsSpec,
    /// The cloths that are used.
    pub cloths: Vec<PlanCloth>,
    /// Every piece and copy.
    pub pieces: Vec<PlanPiece>,
    /// The passes, cloth by cloth, in cutting order.
    pub passes: Vec<PlanPass>,
    /// How well the pattern runs across from piece to neighbouring piece in the work as sewn.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub run_across: Vec<PlanRunAcross>,
    /// How the work is sewn; null without an embroidery frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sewing: Option<PlanSewing>,
    /// What the maker should know.
    pub notes: Vec<Note>,
}

impl Plan {
    /// What of its job a plan carries: title, cutter, sheets, and its cloths as far as they are described; neither drawing
    /// nor rules. Enough to write all files again that are made from a plan.
    pub fn job(&self) -> Job {
        Job {
            settlay: 1,
            title: self.title.clone(),
            drawing: String::new(),
            drawing_scale: 1.0,
            cloths: self.cloths.iter().filter_map(|c| c.described.clone()).collect(),
            pieces: Vec::new(),
            cutter: self.cutter.clone(),
            frame: None,
            lay: LaySpec::default(),
            sheets: self.sheets.clone(),
            scale_said: true,
        }
    }
}

/// One copy of one piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanPiece {
    /// Its name.
    pub id: String,
    /// Which copy, from 1.
    pub copy: u32,
    /// Rule of the job it is cut by, by index from 0.
    pub rule: usize,
    /// The cloth's name.
    pub cloth: String,
    /// How its pattern sits.
    #[serde(rename = "match")]
    pub matching: Match,
    /// What it is matched with: pieces of one match and group on one cloth.
    pub group: String,
    /// For `drawn`: where the crossing of the first pivots falls on the drawing, whatever the turn: the pose puts that point
    /// on such a crossing.
    pub group_shift: Option<Pair>,
    /// The point that is centred or paired, drawing frame.
    pub anchor: Pair,
    /// How far the cut edge lies outside the drawn edge, mm.
    pub allowance_mm: f64,
    /// Extra along edges that tuck beneath a neighbour, mm.
    pub underlap_mm: f64,
    /// Turn about the drawing's origin, degrees counter-clockwise.
    pub turn_deg: f64,
    /// Shift after the turn, mm.
    pub shift: Pair,
    /// Angle of its own grain counter-clockwise from the drawing's upright, degrees; 0 where its rule lets it lie any way.
    #[serde(default, skip_serializing_if = "is_nought")]
    pub grain_deg: f64,
    /// Its place in the drawing's stacking, 0 at the bottom.
    pub order: usize,
    /// The drawn edge, drawing frame.
    pub drawn: PlanRegion,
    /// The cut edge, cloth frame, kerf not included.
    pub cut: PlanRegion,
    /// Narrow runs that lie on the bias, the longest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub slender: Vec<PlanSlender>,
}

fn is_nought(value: &f64) -> bool {
    *value == 0.0
}

/// A narrow run of a piece that lies on the bias.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanSlender {
    /// Its middle line, drawing frame.
    pub axis: Vec<Pair>,
    /// Its length along the middle line, mm.
    pub length_mm: f64,
    /// Its mean width, mm.
    pub width_mm: f64,
    /// Its least width, mm.
    pub least_width_mm: f64,
    /// How far it lies from the true bias on the average, degrees.
    pub off_bias_deg: f64,
    /// What to do about it: `back it`, `turn it` or `widen it`.
    pub verdict: String,
    /// For `turn it`: the turn its rule and cloth allow that takes it farthest off the bias, degrees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_deg: Option<f64>,
}

/// How well the pattern runs across from one piece to its neighbour in the work as sewn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanRunAcross {
    /// The piece that lies higher in the drawing.
    pub upper: String,
    /// The piece that lies lower.
    pub lower: String,
    /// Which copy of both.
    pub copy: u32,
    /// A point about the middle of their common edge, drawing frame.
    pub at: Pair,
    /// Length of edge they have in common, mm.
    pub common_mm: f64,
    /// By how much the lower piece's pattern lies off the upper one's across, mm, whole repeats left aside; null where
    /// nothing repeats across or the two patterns cannot be compared.
    pub off_across_mm: Option<f64>,
    /// The same along.
    pub off_along_mm: Option<f64>,
    /// How alike the two cloths are along the common edge: 1 the same everywhere, 0 as like as any two spots of
    /// them; null where threads are not known.
    pub colours: Option<f64>,
    /// How well the pattern runs across, 0 to 1: `colours` where there is one, else 1 in step and 0 half a repeat out.
    pub score: f64,
    /// True when the pattern runs through.
    pub runs_through: bool,
    /// True when it was asked to: both are of one group matched `drawn`.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub asked: bool,
}

/// A region.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanRegion {
    /// Outer edge, counter-clockwise, the first point not repeated.
    pub outline: Vec<Pair>,
    /// Inner edges, clockwise.
    pub cutouts: Vec<Vec<Pair>>,
}

/// One cutting session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanPass {
    /// The cloth's name.
    pub cloth: String,
    /// From 1 for every cloth.
    pub number: usize,
    /// Size of the bed.
    pub bed_mm: Pair,
    /// Strip along the bed's edges that is not used.
    pub margin_mm: f64,
    /// The part of the cloth within reach, cloth frame: x, y of its lower-left and upper-right corner.
    pub window: [f64; 4],
    /// Cloth frame to bed frame: (x, y) → (a·x + c·y + e, b·x + d·y + f).
    pub cloth_to_bed: [f64; 6],
    /// Burns in burn order, bed frame, kerf added.
    pub burns: Vec<PlanBurn>,
    /// Marks.
    pub marks: Vec<PlanMark>,
    /// Joints.
    pub joints: Vec<PlanJoint>,
    /// The worst verdict of its joints, in a sentence; empty without joints.
    #[serde(default)]
    pub verdict: String,
    /// Lines of the key, bed frame.
    pub key: Vec<PlanKeyLine>,
    /// Short uncut gaps, to be cut with scissors afterwards.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bridges: Vec<PlanBridge>,
    /// Length burnt, mm.
    pub cut_length_mm: f64,
    /// Length between burns, mm.
    pub travel_length_mm: f64,
    /// What the length between burns would be piece after piece, each begun where its line begins, mm.
    #[serde(default)]
    pub plain_travel_mm: f64,
    /// How long the cutter runs, estimated, s.
    pub seconds: f64,
    /// Where the cutter's time goes.
    #[serde(default)]
    pub time: PlanTime,
    /// When it was recorded as cut, universal time, as in ISO 8601: the same as in the record beside the plan, `done.json`, so
    /// that neither alone can hide that cloth is cut.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut_on: Option<String>,
}

/// Where the time of a pass goes, s.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanTime {
    /// Burning.
    pub cut_s: f64,
    /// Moving with the beam off.
    pub travel_s: f64,
    /// Starting burns.
    pub start_up_s: f64,
    /// Laying the cloth and taking it off; not in `seconds`.
    pub handling_s: f64,
}

/// A short uncut gap in an outline.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanBridge {
    /// The piece's name.
    pub piece: String,
    /// Which copy.
    pub copy: u32,
    /// Its middle, cloth frame.
    pub cloth: Pair,
    /// Its middle, bed frame.
    pub bed: Pair,
    /// Cloth left uncut, mm.
    pub width_mm: f64,
}

/// One continuous line of cutting, bed frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanBurn {
    /// `cutout`, `outline` or `mark`.
    pub kind: String,
    /// The piece's name; for a mark, the mark's.
    pub piece: String,
    /// Which copy of the piece; 1 for a mark.
    pub copy: u32,
    /// 0 for the outline, 1.. for cut-outs.
    pub ring: usize,
    /// True when it ends where it begins; the first point is not repeated.
    pub closed: bool,
    /// Where the beam pierces, in the waste, before it runs straight to the first point of the path; null: it begins
    /// on the path.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_in: Option<Pair>,
    /// Its points.
    pub path: Vec<Pair>,
}

impl PlanBurn {
    /// The line the beam follows, and whether it ends where it begins: with a lead-in it runs from the waste onto the
    /// path and once round.
    pub fn run(&self) -> (Vec<Pair>, bool) {
        match self.lead_in {
            Some(from) => {
                let round = self.path.iter().chain(self.path.first()).copied();
                (std::iter::once(from).chain(round).collect(), false)
            }
            None => (self.path.clone(), self.closed),
        }
    }
}

/// A mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanMark {
    /// Its name.
    pub name: String,
    /// Its centre, cloth frame.
    pub cloth: Pair,
    /// Its centre, bed frame.
    pub bed: Pair,
    /// Where it was measured on the bed when the pass was realigned, bed frame; `bed` is then where the corrected pass has it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<Pair>,
    /// True when that reading disagreed with the others, so that the pass is corrected without it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub left_out: bool,
    /// True in the pass that burns it.
    pub burnt_here: bool,
}

/// Where a cut is handed from one pass to another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanJoint {
    /// The piece's name.
    pub piece: String,
    /// Which copy.
    pub copy: u32,
    /// 0 for the outline, 1.. for cut-outs.
    pub ring: usize,
    /// The spot, cloth frame.
    pub cloth: Pair,
    /// How far the two cuts overlap in all, mm.
    pub overlap_mm: f64,
    /// Step to expect between the two cuts with marks measured, mm root mean square.
    pub expected_step_mm: f64,
    /// With marks measured, 95 of 100 steps are no larger, mm.
    #[serde(default)]
    pub step_95_mm: f64,
    /// With the key alone: step to expect, root mean square, and what 95 of 100 stay within, mm; null without a key.
    #[serde(default)]
    pub key_step_mm: Option<Pair>,
    /// Whether the border stitching hides the step, marks measured: `covered`, `barely` or `will show`.
    #[serde(default)]
    pub verdict: String,
}

/// A line of a key, bed frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanKeyLine {
    /// Its points.
    pub path: Vec<Pair>,
    /// True when it ends where it begins; the first point is not repeated.
    pub closed: bool,
    /// The piece's name.
    pub piece: String,
}
