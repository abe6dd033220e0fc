//! Plane geometry in millimetres: points, rings, regions, poses, lattices, offsets.
//!
//! Ground floor: has never heard of SVG, cloth, files or machines.

pub mod booleans;
mod bounds;
mod in_a_line;
mod lattice;
mod offset;
mod point;
mod pose;
mod region;
mod ring;
mod thin;
pub mod tol;

pub use bounds::Bounds;
pub use in_a_line::{across_line, in_a_line};
pub use lattice::Lattice;
pub use offset::{Join, offset};
pub use point::{Point, distance, lerp, pt, to_side, to_side_squared};
pub use pose::{Affine, Pose, turn_cos_sin};
pub use region::Region;
pub use ring::Ring;
pub use thin::thinned;
