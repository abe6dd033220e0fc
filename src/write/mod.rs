//! Files out: SVG, PNG, DXF, G-code, HTML. Writers take the same plan and make no decisions.
//!
//! In: a job, its plan and its cloths. Out: a folder of files that appears whole or not at all. Only this room
//! knows of y down and of pixels.

mod all;
mod base64;
mod buy_picture;
mod check_picture;
mod colours;
mod cut_lines;
mod cut_svg;
mod dxf;
mod gcode;
mod hooping_svg;
mod keyed;
mod lay_picture;
pub mod letters;
mod names;
mod number;
mod pdf;
mod plan_json;
mod png;
mod read_back;
mod report;
#[cfg(test)]
pub(crate) mod sample;
mod sewn_picture;
mod sheets;
mod shelf;
mod xml;

pub use all::{all, all_with, files, gauge_files, names_of, passes, rest_of_pass, retold, told_anew};
pub use buy_picture::{buy_png, buy_svg};
pub use check_picture::{check_picture, check_png};
pub use cut_lines::{CutLine, key_lines, nodes, pass_lines};
pub use cut_svg::{cut_svg, key_svg};
pub use dxf::{cut_dxf, key_dxf};
pub use gcode::{Code, cut_gcode, rehearsal};
pub use lay_picture::{lay_svg, offcut_svg};
pub use number::number;
pub use plan_json::plan_json;
pub use png::{lay_png, png_of};
pub use sewn_picture::{sewn_png, sewn_svg};
pub use shelf::{Put, picture, put_on_shelf, put_pictured};
