//! The lay: which pose every piece has on its cloth.
//!
//! In: pieces and cloths. Out: a [`Lay`] that an independent exact test has passed. Knows nothing of beds or
//! files.

mod at_once;
mod audit;
mod board;
mod bound;
pub(crate) mod chance;
mod chords;
mod clearance;
mod compute;
mod diagnose;
mod discs;
mod either;
mod finer;
mod fits;
mod form;
mod hand;
mod kind;
mod locked;
mod model;
mod moved;
mod pairs;
mod phases;
mod pivots;
mod places;
mod prepare;
mod prove;
mod search;
mod seek;
mod separate;
mod spread;
mod stand;
mod start;
mod stock;
mod strip;
mod task;
mod turned;
mod turns;
mod ways;

pub use audit::{Break, BreakKind, breaks, faults};
pub use compute::{Better, Live, LivePose, Request, Struck, attempt, lay};
pub use fits::Fits;
pub use form::Form;
pub use hand::{Allowed, Hand, Laid, Turns};
pub use model::{ChoiceEnded, ClothLay, Lay, Placed};
pub use moved::moved;
pub use pairs::pairs_by_name;
pub use search::Budget;
pub use stock::{choice_notes, choices};
pub use strip::{StripLay, StripPiece, StripSpot, lay_strip};
pub use turned::turned_notes;
pub use turns::{allowed_turns, may_turn};
