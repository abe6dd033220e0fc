//! Sewing: placement and tack-down lines, border areas, the work split over the fields of an embroidery frame, the
//! order of work, stitches.
//!
//! In: the pieces as drawn and the frame. Out: hoopings. Drawing frame throughout. Knows nothing of cloth, beds or files.

mod hoopings;
mod marks;
mod order;
mod placement;
mod split;
mod stitches;

pub use hoopings::{Hooping, Part, Request, Sewing, SewnShape, sewing};
pub use marks::Mark;
pub use placement::Line;
pub use stitches::{Count, Stitching};
