//! The plan: the whole run from job to passes, and its file.
//!
//! In: a job file's path. Out: a [`Plan`]. Knows every room below it, no writer.

mod build;
mod model;
mod offcuts;
mod run;

pub use model::*;
pub use offcuts::leftovers;
pub use run::{Prepared, Run, drawing_path, outline_used, prepare, prepare_with, run};
