//! What realigning found.

use serde::Serialize;

use super::fit::FitKind;
use crate::plan::Pair;

/// What was found and what was done about it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// The cloth's name.
    pub cloth: String,
    /// The pass.
    pub pass: usize,
    /// The fit that explains the marks best.
    pub fit: FitKind,
    /// The marks, as they were given.
    pub marks: Vec<MarkFound>,
    /// How the middle of the pass's window moved on the bed, mm.
    pub shift_mm: Pair,
    /// How the cloth turned on the bed, degrees counter-clockwise.
    pub turn_deg: f64,
    /// Stretch across and along the cloth, percent.
    pub stretch_percent: Pair,
    /// Warp and weft out of square, degrees.
    pub shear_deg: f64,
    /// Mark error the residuals speak of, mm; null when the fit leaves nothing over.
    pub read_error_mm: Option<f64>,
    /// The joints with earlier passes.
    pub joints: Vec<JointStep>,
    /// Later passes that take the stretch over.
    pub later: Vec<usize>,
    /// Earlier passes that are recorded as cut once this is written: their marks were measured on the cloth.
    pub records: Vec<usize>,
    /// What the pattern turned out to be.
    pub repeat: Option<RepeatFound>,
    /// What to heed.
    pub cautions: Vec<String>,
}

/// A measured mark.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MarkFound {
    /// Its name.
    pub name: String,
    /// Where the plan had it, bed frame, mm.
    pub planned_mm: Pair,
    /// Where it was measured.
    pub measured_mm: Pair,
    /// From where the fit puts it to where it was measured, mm.
    pub residual_mm: Pair,
    /// The length of that.
    pub off_mm: f64,
    /// False when it disagrees with the others and was left out.
    pub used: bool,
}

/// A joint with an earlier pass.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JointStep {
    /// The piece's name.
    pub piece: String,
    /// Which copy.
    pub copy: u32,
    /// 0 for the outline, 1.. for cut-outs.
    pub ring: usize,
    /// Step to expect, root mean square, mm.
    pub expected_mm: f64,
    /// 95 of 100 steps are no larger, mm.
    pub within_95_mm: f64,
    /// Whether the border stitching hides that: `covered`, `barely` or `will show`.
    pub verdict: &'static str,
}

/// A pattern whose repeat differs from what was noted: before, measured.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RepeatFound {
    /// Repeat across, mm.
    pub across_mm: Pair,
    /// Repeat along, mm.
    pub along_mm: Pair,
    /// Skew, mm per m.
    pub skew_mm_per_m: Pair,
    /// By how much the pattern is out of step with the piece where it is worst, mm.
    pub worst_mismatch_mm: f64,
    /// That piece.
    pub worst_piece: String,
    /// Every piece that is matched to the pattern, the worst first.
    pub pieces: Vec<PieceOutOfStep>,
}

/// A piece, and by how much the pattern is out of step with it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PieceOutOfStep {
    /// The piece's name.
    pub piece: String,
    /// Which copy.
    pub copy: u32,
    /// Where it is worst on the piece, mm.
    pub mismatch_mm: f64,
}

impl Report {
    /// The report in words, a line each.
    pub fn words(&self) -> String {
        super::words::words(self)
    }
}
