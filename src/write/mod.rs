//! Files out: SVG, PNG, DXF, HTML. Writers take the same plan and make no decisions.

pub mod letters;
mod number;

pub use number::number;
