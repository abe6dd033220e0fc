//! The drawing: SVG in, shapes in millimetres and their faults out, then pieces by the job's rules.
//!
//! Knows the job's rules, not the cloth's.

mod allowance;
mod band;
mod beneath;
mod clip;
mod colour;
mod copy;
mod css;
mod family;
pub mod faults;
mod filled;
mod filters;
mod flatten;
mod fonts;
mod geometry;
mod groups;
mod interlaced;
mod letters;
pub mod limits;
mod model;
mod pathdata;
mod pieces;
mod probe;
mod read;
mod remarks;
mod scale;
mod scan;
mod select;
mod selectors;
mod styles;
mod transforms;
mod tree;
mod underlap;
mod unpack;
mod valid;
mod weigh;
mod xml;

pub use groups::regroup;
pub use model::{Drawing, Element, Loss, Piece, Subpath};
pub use pieces::{Picked, picked_by, pieces};
pub use read::{ReadOptions, parse, read};
pub use underlap::underlap_of;
