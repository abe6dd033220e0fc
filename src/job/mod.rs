//! The job file: what a maker asks for, read and checked.
//!
//! In: JSON text. Out: a [`Job`] whose numbers make sense. Knows nothing of drawings or cloth beyond their
//! descriptions.

mod model;

pub use model::*;
