//! The cloth: sett, weave, pattern, usable area, and the look of one repeat.
//!
//! In: a cloth's description in the job. Out: a [`Cloth`]. Knows nothing of drawings or pieces.

mod model;

pub use model::{Cloth, Pattern};
