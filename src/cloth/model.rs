//! What a cloth is once its description is understood.

use std::sync::Arc;

use super::Photo;
use crate::job::Weave;
use crate::shape::{Lattice, Region, Ring};

/// A cloth in the cloth frame: face up, x across from the left selvedge, y along the warp from the near
/// cut end, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Cloth {
    /// Its name in the job.
    pub name: String,
    /// The stock it belongs to: rules that name the stock may use any of its cloths.
    pub stock: Option<String>,
    /// How it is woven.
    pub weave: Weave,
    /// True when it has a nap or any other one-way finish.
    pub nap: bool,
    /// Its outline: an offcut's own, or its width and length. For a cloth of open length
    /// the length is [`Cloth::OPEN_LENGTH_MM`].
    pub outline: Ring,
    /// True when as much length is used as is needed.
    pub open_length: bool,
    /// Strip along every edge that is not used, mm. (On open length the far end has none.)
    pub edge_mm: f64,
    /// Flaws no piece touches.
    pub flaws: Vec<Ring>,
    /// Its check or stripe.
    pub pattern: Option<Pattern>,
    /// How far a match may be off, mm.
    pub match_tolerance_mm: f64,
    /// Colour of a cloth without a pattern, red, green, blue.
    pub colour: [u8; 3],
    /// A photograph of one repeat, where it has been taken up: how it looks.
    pub photo: Option<Arc<Photo>>,
}

impl Cloth {
    /// Length a cloth of open length is thought to have, mm: more than is ever woven in one piece.
    pub const OPEN_LENGTH_MM: f64 = 200_000.0;

    /// Where pieces may lie: the outline less the edge strip and the flaws. On open length the
    /// far end is [`Cloth::OPEN_LENGTH_MM`] away.
    pub fn usable(&self) -> Vec<Region> {
        let whole = Region::new(self.outline.clone(), Vec::new());
        let inner = crate::shape::offset(&[whole], -self.edge_mm, crate::shape::Join::Mitre);
        let flaws: Vec<Region> = self.flaws.iter().map(|f| Region::new(f.clone(), Vec::new())).collect();
        crate::shape::booleans::difference(&inner, &flaws)
    }

    /// Distance between the two cut edges along x (its full width for a straight cloth), mm.
    pub fn width_mm(&self) -> f64 {
        self.outline.bounds().width()
    }
}

/// A check or stripe on the cloth.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// Repeats across (`a`) and along (`b`), and the point where a pivot across meets a pivot along.
    pub lattice: Lattice,
    /// True when a half turn leaves the pattern the same.
    pub half_turn: bool,
    /// True when the lattice's origin is known to be a pivot crossing: not so for a pattern that a photograph shows,
    /// whose corner lies anywhere in the repeat.
    pub pivots_known: bool,
    /// True when the order across reads the same backwards (so mirrored pieces can carry mirrored pattern).
    pub mirrors_across: bool,
    /// True when the order along reads the same backwards.
    pub mirrors_along: bool,
    /// One true period of the warp's colours, thread by thread from the lattice origin to the right (see
    /// `threads_start` for the first one); one thread when the warp has one colour, empty when only its
    /// repeat was measured or nothing is known of it.
    pub warp_threads: Vec<[u8; 3]>,
    /// One true period of the weft's colours, thread by thread from the lattice origin upwards, likewise.
    pub weft_threads: Vec<[u8; 3]>,
    /// Where thread 0 of the warp and of the weft begins, in threads from the lattice origin: 0 when the origin
    /// lies between two threads, −0.5 when it lies in the middle of thread 0 (a pivot of an odd count does).
    pub threads_start: [f64; 2],
    /// Width of a warp thread across and of a weft thread along, mm.
    pub thread_mm: [f64; 2],
}

impl Pattern {
    /// A pattern known by its measured repeats alone: no thread of it is known. It mirrors each way when a half
    /// turn leaves it the same.
    pub fn measured(lattice: Lattice, half_turn: bool) -> Pattern {
        Pattern {
            lattice,
            half_turn,
            pivots_known: true,
            mirrors_across: half_turn,
            mirrors_along: half_turn,
            warp_threads: Vec::new(),
            weft_threads: Vec::new(),
            threads_start: [0.0; 2],
            thread_mm: [0.0; 2],
        }
    }
}
