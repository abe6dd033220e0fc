//! The drawing: SVG in, shapes in millimetres and their faults out, then pieces by the job's rules.
//!
//! Knows the job's rules, not the cloth's.

pub mod faults;
mod model;

pub use model::{Drawing, Element, Piece, Subpath};
