//! The plan: the whole run from job to passes, and its file.
//!
//! In: a job file's path. Out: a [`Plan`]. Knows every room below it, no writer.

mod model;

pub use model::*;
