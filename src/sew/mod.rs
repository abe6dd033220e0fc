//! The work as sewn, looked at before anything is cut: what shows where, how well the pattern runs across
//! neighbours, which runs are narrow and on the bias.
//!
//! In: pieces with their poses and their cloths. Out: colours, measures, verdicts. Knows nothing of beds, passes
//! or files.

mod axis;
mod lab;
mod run_across;
mod sewn;
mod side;
mod slender;

pub use axis::{Axis, Run, narrow_axis};
pub use run_across::{NEAR_BORDERS, RunAcross, run_across};
pub use sewn::{SewnPiece, Work};
pub use slender::{BIAS_WITHIN_DEG, Slender, Verdict, narrow_mm, off_bias_deg, slender};
