//! Passes: windows over the bed, joints, marks, keys.
//!
//! In: the contours to burn on one cloth and the cutter. Out: passes. Knows nothing of the search of the lay.

mod model;

pub use model::{Joint, KeyLine, Mark, NoRoomForMarks, Pass};
