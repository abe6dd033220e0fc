//! What a lay is.

use crate::shape::{Pose, Region};

/// All pieces placed.
#[derive(Clone, Debug, PartialEq)]
pub struct Lay {
    /// One entry for every cloth of the job, in order; a cloth without pieces has an empty one.
    pub cloths: Vec<ClothLay>,
}

/// The pieces on one cloth.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ClothLay {
    /// Every piece and copy, in the order of the pieces.
    pub placed: Vec<Placed>,
    /// Length of cloth used, from the near cut end to the far side of the last piece plus the edge strip, mm.
    pub used_length_mm: f64,
    /// Area of cloth used, mm²: the outline up to the used length.
    pub used_area_mm2: f64,
    /// Area of the pieces as cut, mm².
    pub pieces_area_mm2: f64,
    /// No lay of these pieces on this cloth takes less length than this (a lower bound, in the same measure
    /// as `used_length_mm`), mm.
    pub least_length_mm: f64,
    /// True when it is proved that no lay under the same rules is shorter.
    pub proved: bool,
    /// Other lays of nearly the same length, the shortest first; each whole in itself.
    pub others: Vec<ClothLay>,
    /// True when the clock, not the effort, ended the search, so that another run may differ.
    pub ended_by_clock: bool,
    /// Why the choice among the cloths of its stock ended before all was tried, so that fewer might do.
    pub choice_ended: Option<ChoiceEnded>,
}

/// Why a choice among the cloths of a stock ended before all was tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChoiceEnded {
    /// The tries that `lay.effort` allows were used up.
    Effort,
    /// The share of `lay.seconds` that choosing gets was used up.
    Seconds,
    /// The maker stopped it.
    Stopped,
}

impl ChoiceEnded {
    /// What ended it.
    pub fn words(self) -> &'static str {
        match self {
            ChoiceEnded::Effort => "the tries its effort allows were used up",
            ChoiceEnded::Seconds => "its seconds were used up",
            ChoiceEnded::Stopped => "it was stopped",
        }
    }

    /// What would let it go on.
    pub fn more(self) -> &'static str {
        match self {
            ChoiceEnded::Effort => "a larger lay.effort",
            ChoiceEnded::Seconds => "a longer search (lay.seconds)",
            ChoiceEnded::Stopped => "letting it run to its end",
        }
    }
}

impl ClothLay {
    /// Share of the used cloth that is pieces, 0 to 1.
    pub fn efficiency(&self) -> f64 {
        if self.used_area_mm2 > 0.0 { self.pieces_area_mm2 / self.used_area_mm2 } else { 0.0 }
    }
}

/// One copy of one piece on its cloth.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// Piece, by index into the pieces laid.
    pub piece: usize,
    /// Which copy, from 1.
    pub copy: u32,
    /// Its pose: drawing frame to cloth frame.
    pub pose: Pose,
    /// For a piece matched `drawn`: where the crossing of the first pivots falls on the drawing, mm.
    pub group_shift: Option<[f64; 2]>,
    /// True when a maker placed it by hand.
    pub locked: bool,
    /// Its cut region in the cloth frame: the piece's `cut` region posed.
    pub cut: Region,
}
