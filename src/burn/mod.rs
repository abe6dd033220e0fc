//! Burns: kerf, order, lengths and time.
//!
//! Knows cut edges and the cutter's figures, nothing of how cloth is laid or passes are chosen.

mod model;

pub use model::{Burn, BurnKind, Contour};
