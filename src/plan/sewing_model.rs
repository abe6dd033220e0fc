//! The sewing in the plan file, field by field. Doc comments here become the descriptions in the published schema.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::model::Pair;

/// How the work is sewn. Drawing frame, mm.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanSewing {
    /// The field of the frame as it is put on, across and up.
    pub field_mm: Pair,
    /// True when the frame is put on the other way round than the job gives its field.
    pub turned: bool,
    /// Width of the border about the drawn edge.
    pub border_mm: f64,
    /// How far the tack-down line lies inside the drawn edge.
    pub tack_in_mm: f64,
    /// The base line: this y, right across the work, at the lower edge of the drawing.
    pub base_line_y: f64,
    /// The centre line: this x, at right angles to the base line, through the middle of the drawing.
    pub centre_line_x: f64,
    /// Every time the frame is put on, in order of work.
    pub hoopings: Vec<PlanHooping>,
    /// However the work is sewn in this field, the frame the same way round throughout, pieces that fit whole, lower ones first,
    /// it takes at least so many hoopings; each but the first shares ground for marks with an earlier one where those of
    /// this plan do. 0 in plans of an earlier release.
    #[serde(default)]
    pub at_least_hoopings: usize,
    /// Hoopings that loose tails wait for, all pieces together.
    #[serde(default)]
    pub waits: usize,
    /// The pieces in the order they go down.
    pub order: Vec<PlanLaidDown>,
    /// Stitches and thread of the whole work.
    pub total: PlanStitches,
}

impl PlanSewing {
    /// What is known of doing with fewer hoopings, in words.
    pub fn how_few(&self) -> String {
        match self.at_least_hoopings {
            0 => "how few would do is not known".into(),
            n if n >= self.hoopings.len() => "it cannot be done in fewer".into(),
            n => format!("it cannot be done in fewer than {n}"),
        }
    }
}

/// The frame put on once.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanHooping {
    /// From 1, in order of work.
    pub number: usize,
    /// What the frame can stitch: x, y of its lower-left and upper-right corner.
    pub field: [f64; 4],
    /// True when its field was worked in an earlier hooping as well.
    pub again: bool,
    /// Marks stitched in it and found in it.
    pub marks: Vec<PlanSewingMark>,
    /// What is sewn, in order.
    pub pieces: Vec<PlanSewn>,
    /// Stitches and thread.
    pub stitches: PlanStitches,
}

/// A small cross by which a later hooping finds its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanSewingMark {
    /// Its name.
    pub name: String,
    /// Its middle.
    pub at: Pair,
    /// True in the hooping that stitches it, false in the one that finds it.
    pub stitched_here: bool,
    /// The piece that hides it in the end; null: it is basted and pulled out.
    pub hidden_by: Option<String>,
}

/// What of a piece is stitched in one hooping.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanSewn {
    /// The piece's name.
    pub piece: String,
    /// Its place in the order of work, from 1.
    pub order: usize,
    /// True when all of it is.
    pub whole: bool,
    /// The drawn edge, stitched on the ground.
    pub placement: Vec<PlanStitchLine>,
    /// The line inside it that tacks the laid piece down.
    pub tack_down: Vec<PlanStitchLine>,
    /// The middle of the border where it is stitched: the drawn edge, less what lies beneath a neighbour.
    pub border: Vec<PlanStitchLine>,
    /// Stitches and thread.
    pub stitches: PlanStitches,
}

/// A line to stitch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanStitchLine {
    /// True when it ends where it begins; the first point is not repeated.
    pub closed: bool,
    /// Its points.
    pub path: Vec<Pair>,
}

/// A piece in the order of work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanLaidDown {
    /// The piece's name.
    pub piece: String,
    /// The hooping it is laid in.
    pub hooping: usize,
    /// The pieces that lie beneath it.
    pub upon: Vec<String>,
    /// The hooping it is finished in. 0 in plans of an earlier release.
    #[serde(default)]
    pub finished: usize,
    /// Hoopings after the first of its own up to the last: so many its loose tail waits for, folded back.
    #[serde(default)]
    pub waits: usize,
}

/// An estimate of stitches, thread and time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanStitches {
    /// Stitches.
    pub stitches: u64,
    /// Thread, needle and bobbin together, m.
    pub thread_m: f64,
    /// How long the machine sews, min.
    pub minutes: f64,
}
