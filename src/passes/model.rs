//! What a pass is.

use crate::burn::{Burn, Contour};
use crate::job::Cutter;
use crate::say::{Note, Trouble};
use crate::shape::{Affine, Bounds, Point, Region, Ring};

/// What is to be burnt on one cloth, and with what. Everything in the cloth frame.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// The cloth's outline as used: a cloth of open length ends at the used length.
    pub cloth_outline: &'a Ring,
    /// Strip along the outline that is not used, mm: no mark lies on it.
    pub edge_mm: f64,
    /// Its flaws; no mark lies on one.
    pub flaws: &'a [Ring],
    /// Cut regions of the placed pieces, kerf not in.
    pub cuts: &'a [Region],
    /// The contours to burn, kerf in.
    pub contours: &'a [Contour],
    /// What each placed piece is called in notes and troubles; a missing name is made from its number.
    pub names: &'a [String],
    /// The cutter.
    pub cutter: &'a Cutter,
}

impl Request<'_> {
    /// What a placed piece is called.
    pub fn name(&self, placed: usize) -> String {
        self.names.get(placed).cloned().unwrap_or_else(|| (placed + 1).to_string())
    }
}

/// The passes of one cloth.
#[derive(Clone, Debug, PartialEq)]
pub struct Passes {
    /// In cutting order.
    pub passes: Vec<Pass>,
    /// What the maker should know.
    pub notes: Vec<Note>,
}

/// Why there are no passes.
#[derive(Clone, Debug, PartialEq)]
pub enum PassTrouble {
    /// It cannot be done with this cutter.
    Cannot(Trouble),
    /// It can be done once the lay leaves room for marks.
    NoRoomForMarks(NoRoomForMarks),
}

impl From<Trouble> for PassTrouble {
    fn from(trouble: Trouble) -> PassTrouble {
        PassTrouble::Cannot(trouble)
    }
}

/// One cutting session with the cloth lying still on the bed.
#[derive(Clone, Debug, PartialEq)]
pub struct Pass {
    /// From 1, in cutting order.
    pub number: usize,
    /// The part of the cloth it can reach, cloth frame.
    pub window: Bounds,
    /// Cloth frame to bed frame.
    pub cloth_to_bed: Affine,
    /// What it burns, marks included, cloth frame, kerf added, not yet in burn order.
    pub burns: Vec<Burn>,
    /// Its marks, its own new ones and those of earlier passes it registers on.
    pub marks: Vec<Mark>,
    /// The joints it takes part in.
    pub joints: Vec<Joint>,
    /// The key laid on the bed before it: cut edges of earlier passes; empty for the first.
    pub key: Vec<KeyLine>,
}

/// A small cross burnt in waste, shared by neighbouring passes.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// `A`, `B`, …, once on a cloth.
    pub name: String,
    /// Its centre, cloth frame.
    pub at: Point,
    /// True in the pass that burns it.
    pub burnt_here: bool,
}

/// The spot where a cut is handed from one pass to another.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// Piece, by index into the placed pieces of its cloth.
    pub placed: usize,
    /// Ring of the piece.
    pub ring: usize,
    /// The spot, cloth frame, on the burn.
    pub at: Point,
    /// How far the two cuts overlap in all, mm.
    pub overlap_mm: f64,
    /// Step to expect between the two cuts with marks measured, mm (root mean square), the errors of both passes
    /// counted: see `budget`.
    pub expected_step_mm: f64,
    /// 95 of 100 steps are no larger, mm.
    pub step_95_mm: f64,
    /// Step to expect with the key alone (root mean square), and what 95 of 100 stay within, mm; `None` without a key.
    pub key_step_mm: Option<[f64; 2]>,
    /// Whether the border hides the step, marks measured.
    pub verdict: Verdict,
}

/// Whether border stitching hides a step, the best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// It does, and holds both edges well.
    Covered,
    /// It does, with little to spare.
    Barely,
    /// It may not.
    WillShow,
}

impl Verdict {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Covered => "covered",
            Verdict::Barely => "barely",
            Verdict::WillShow => "will show",
        }
    }
}

/// A line of a key: part of a cut edge.
#[derive(Clone, Debug, PartialEq)]
pub struct KeyLine {
    /// Piece, by index into the placed pieces of its cloth.
    pub placed: usize,
    /// True when it ends where it begins; the first point is then not repeated.
    pub closed: bool,
    /// Its points, cloth frame.
    pub path: Vec<Point>,
}

/// A shared band has no waste for its marks; a lay that keeps clear of one of `spots` would make room.
#[derive(Clone, Debug, PartialEq)]
pub struct NoRoomForMarks {
    /// The band, cloth frame.
    pub band: Bounds,
    /// Discs of waste (centre, radius mm) that would do, the best pair first.
    pub spots: Vec<(Point, f64)>,
}
