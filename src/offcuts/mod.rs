//! The offcut shelf: leftovers kept safely on disk, found again for a job, taken for it, and one spoilt piece cut
//! again from what is left.
//!
//! In: plans, jobs, descriptions of cloths. Out: a shelf file, a ranking, a [`Recut`]. Knows the plan and what is
//! below it; no writer.

mod body;
mod date;
mod file;
mod find;
mod mend;
mod model;
mod raster;
mod recut;
mod rests;
mod room;
mod seat;
mod shelve;
mod take;
mod unshelve;

pub use date::{is_day, today};
pub use file::{Place, Shelf};
pub use find::{Effort, Fit, Found, MORE_MOVES, Part, Tried, find};
pub use model::{Offcut, SAME_CROSS_MM, State, same_fabric};
pub use recut::{Asked, Recut, recut};
pub use rests::Source;
pub use shelve::{Beside, Discarded, Shelved, is_of_another_plan, shelve, shelve_of, take_cut_up};
pub use take::{cloth_text, fabric_of, into_job, job_text};
pub use unshelve::{Unshelved, unshelve};
