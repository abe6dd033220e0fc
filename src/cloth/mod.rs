//! The cloth: sett, weave, pattern, usable area, and the look of one repeat.
//!
//! In: a cloth's description in the job. Out: a [`Cloth`]. Knows nothing of drawings or pieces.

pub mod colours;
mod half_turn;
pub mod lab;
pub mod look;
mod model;
mod pattern;
mod photo;
pub mod rules;
pub mod sett;
mod understand;

pub use half_turn::HalfTurn;
pub use model::{Cloth, Pattern};
pub use pattern::NO_COLOUR;
pub use photo::{Photo, take_up};
pub use understand::understand;

#[cfg(test)]
mod tests;
