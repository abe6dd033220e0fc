//! The plan: the whole run from job to passes, and its file.
//!
//! In: a job file's path. Out: a [`Plan`]. Knows every room below it, no writer.

mod build;
mod burnt;
mod choose;
mod cloth_model;
mod gauge;
mod model;
mod offcuts;
mod order;
mod pass;
mod read;
mod realigned;
mod rectangle;
mod reworded;
mod room;
mod run;
mod sewing_model;
mod sewn;
mod sizes;
mod stitching;
mod to_measure;
mod unsaid;
mod with_marks;

pub use build::without_power;
pub use burnt::{Burnt, burnt, cross};
pub use cloth_model::*;
pub use gauge::gauge_pass;
pub use model::*;
pub use offcuts::{clear_of_cuts, leftovers};
pub use pass::resting_place;
pub use read::{PLAN_FILE, parse, read};
pub use realigned::{REALIGNED_BY, about_pass, is_realigned, says_realigned};
pub use rectangle::largest_rectangle;
pub use reworded::reworded;
pub use run::{
    Prepared, Run, Split, drawing_path, lay_and_split, outline_used, passes_of, prepare, prepare_with, run,
    take_up_photos,
};
pub use sewing_model::*;
pub use sizes::sizes;
pub use to_measure::{ToMeasure, pivot_name, to_measure};
pub use unsaid::unsaid;
pub use with_marks::WithMarks;
