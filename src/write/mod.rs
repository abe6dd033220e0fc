//! Files out: SVG, PNG, DXF, HTML. Writers take the same plan and make no decisions.

mod check_picture;
mod colours;
mod cut_svg;
mod dxf;
mod folder;
mod keyed;
pub mod letters;
mod names;
mod number;
mod plan_json;
mod read_back;
#[cfg(test)]
pub(crate) mod sample;
mod xml;

pub use check_picture::{check_picture, check_png};
pub use cut_svg::{cut_svg, key_svg};
pub use dxf::{cut_dxf, key_dxf};
pub use folder::Whole;
pub use number::number;
pub use plan_json::plan_json;
