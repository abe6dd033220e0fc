//! Passes: windows, joints, marks, keys.
//!
//! In: the contours to burn on one cloth and the cutter. Out: passes. Knows nothing of the search of the lay.
//!
//! [`plan`] goes through the rooms in turn: `windows` (over `strips`, `groups`, `links` and `line`) says where the bed lies on the cloth, `shifted` and `traverse` move windows and put some in for want of marks, `assign`
//! which pass cuts what and where cuts are handed over (`calm` judges the spots), `play` keeps burns off the margins, `marks` finds spots in the `waste`,
//! `key` draws what is cut already, `budget` says how large a step each joint may show, `notes` says what a maker should know. [`check`] looks at the result afresh.

mod assign;
mod budget;
mod calm;
mod check;
mod few;
mod fields;
mod firm;
mod groups;
mod key;
mod line;
mod links;
mod map;
mod marks;
mod model;
mod notes;
mod plan;
mod play;
mod shifted;
mod strips;
mod track;
mod traverse;
mod waste;
mod windows;

pub use budget::verdict_at;
pub use check::check;
pub use fields::{least_shared_mm, share_marks};
pub use marks::{MARK_ARM_MM, expected_error_mm};
pub use model::{Joint, KeyLine, Mark, NoRoomForMarks, Pass, PassTrouble, Passes, Request, Verdict};
pub use notes::{CLOSE, HANGS, close_to_the_margin, hanging, verdict_of};
pub use plan::plan;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod tests_place;
#[cfg(test)]
mod tests_said;
