//! Before and after the cut: the work as sewn, and how it is sewn.
//!
//! In: pieces with their poses and cloths, and the embroidery frame. Out: colours, how well the pattern runs across
//! neighbours, narrow runs on the bias; placement and tack-down lines, border areas, the work split over the fields of a
//! frame, the order of work, stitches. Knows nothing of beds, passes or files.

mod axis;
mod before;
mod bound;
mod check;
mod fields;
mod given;
mod heaviest;
mod hoopings;
mod lab;
mod marks;
mod off_bias;
mod overs;
mod placement;
mod run_across;
mod search;
mod sewn;
mod side;
mod slender;
mod split;
mod stitches;
mod stretches;
mod task;

pub use axis::{Axis, Run, narrow_axis};
pub use check::check;
pub use hoopings::{Hooping, Part, Request, Sewing, SewnShape, sewing};
pub use marks::Mark;
pub use off_bias::{WORTH, lay_off_bias};
pub use placement::Line;
pub use run_across::{NEAR_BORDERS, RunAcross, run_across};
pub use sewn::{SewnPiece, Work};
pub use slender::{BIAS_WITHIN_DEG, Slender, Verdict, narrow_mm, off_bias_deg, slender};
pub use stitches::{Count, Stitching};
