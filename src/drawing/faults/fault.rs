//! What a fault is.

use serde::{Serialize, Serializer};

use crate::shape::{Point, tol};

/// What sort of fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// An outline whose ends do not meet.
    OpenOutline,
    /// An outline, or a stretch of one, drawn twice or nearly so.
    Doubled,
    /// An outline that crosses or touches itself.
    Crossing,
    /// A part or a cut-out too small to be handled.
    Crumb,
    /// A place too narrow to survive.
    Neck,
    /// Two pieces of the same cloth that lie on each other.
    Overlap,
    /// A piece that its cloth cannot hold.
    LargerThanCloth,
    /// A piece that the bed cannot hold.
    LargerThanBed,
    /// A shape that no rule of the job picks.
    Unpicked,
    /// Something drawn that is left out, or read otherwise than it shows.
    Lost,
}

impl FaultKind {
    /// Every kind, in the order faults of one element are told.
    pub const ALL: [FaultKind; 10] = [
        FaultKind::OpenOutline,
        FaultKind::Doubled,
        FaultKind::Crossing,
        FaultKind::Crumb,
        FaultKind::Neck,
        FaultKind::Overlap,
        FaultKind::LargerThanCloth,
        FaultKind::LargerThanBed,
        FaultKind::Unpicked,
        FaultKind::Lost,
    ];

    /// Its name for people, singular.
    pub fn word(self) -> &'static str {
        match self {
            FaultKind::OpenOutline => "open outline",
            FaultKind::Doubled => "doubled outline",
            FaultKind::Crossing => "self-crossing",
            FaultKind::Crumb => "crumb",
            FaultKind::Neck => "neck",
            FaultKind::Overlap => "overlap",
            FaultKind::LargerThanCloth => "larger than the cloth",
            FaultKind::LargerThanBed => "larger than the bed",
            FaultKind::Unpicked => "picked by no rule",
            FaultKind::Lost => "not as drawn",
        }
    }
}

/// How much a fault matters, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// The work cannot be cut like this.
    Stops,
    /// It can be cut, but hardly as meant.
    Mend,
    /// Worth knowing.
    Note,
}

impl Severity {
    /// Its name for people.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Stops => "stops",
            Severity::Mend => "mend",
            Severity::Note => "note",
        }
    }
}

/// One fault of a drawing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fault {
    /// What sort.
    pub kind: FaultKind,
    /// Id of the element, or of the piece when it is about pieces.
    pub element: String,
    /// The element, by index into the drawing's elements.
    #[serde(skip)]
    pub stacking: usize,
    /// Line of the file it stands on; 0 when unknown.
    pub line: u32,
    /// Where, mm, drawing frame.
    #[serde(serialize_with = "as_pair")]
    pub at: Point,
    /// How large, mm: gap, distance, extent or width, by kind; the side of a square of equal area for an
    /// overlap, 0 for a place without size.
    pub size_mm: f64,
    /// How much it matters.
    pub severity: Severity,
    /// What is wrong: a full sentence.
    pub text: String,
    /// What to do: a full sentence.
    pub advice: String,
    /// Further faults of this kind on this element, folded into this one.
    pub more: usize,
    /// Where these are, mm, drawing frame; the first few.
    #[serde(serialize_with = "as_pairs")]
    pub also: Vec<Point>,
}

fn as_pair<S: Serializer>(p: &Point, to: S) -> Result<S::Ok, S::Error> {
    [p.x, p.y].serialize(to)
}

fn as_pairs<S: Serializer>(points: &[Point], to: S) -> Result<S::Ok, S::Error> {
    points.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>().serialize(to)
}

/// From where on something is a fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FaultLimits {
    /// Outlines open by no more than this are closed and said, mm.
    pub close_gap_mm: f64,
    /// Whole outlines everywhere nearer to each other than this are one outline drawn twice, mm.
    pub doubled_mm: f64,
    /// Parts with a smaller extent are crumbs, mm: as small as the gap between pieces on the cloth.
    pub crumb_mm: f64,
    /// Places narrower than this are necks, mm; 0 looks for none.
    pub neck_mm: f64,
}

impl FaultLimits {
    /// Necks are looked for up to this width, mm: wider is no neck, and the search would pair everything
    /// with everything.
    pub const WIDEST_NECK_MM: f64 = 100.0;
}

impl Default for FaultLimits {
    /// Half a millimetre for gaps and doubled outlines, 3 mm for crumbs and necks (our own defaults; the
    /// 3 mm are those of the gap between pieces).
    fn default() -> FaultLimits {
        FaultLimits { close_gap_mm: tol::CLOSE_GAP_MM, doubled_mm: 0.5, crumb_mm: 3.0, neck_mm: 3.0 }
    }
}
