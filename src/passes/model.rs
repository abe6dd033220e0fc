//! What a pass is.

use crate::burn::Burn;
use crate::shape::{Affine, Bounds, Point};

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
