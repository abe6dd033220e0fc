//! settlay lays appliqué pieces on woven, patterned cloth and gets them off a laser cutter whose
//! bed is smaller than the work.
//!
//! One way through: [`job`] → [`drawing`] → [`cloth`] → [`lay`] → [`passes`] → [`burn`] → [`plan`] → [`mod@write`].
//! [`realign`] follows a plan: it corrects a pass from measured marks.
//! Each stage takes the finished value of the one before and returns its own; no stage reaches back.
//! Rooms stand on floors: [`shape`], [`say`] and [`files`] are the ground floor, [`cli`] the top one, and a lower
//! floor never imports a higher one.
//!
//! Lengths are millimetres, angles degrees counter-clockwise, y points up, everywhere inside; only
//! readers and writers know about y-down, inches and pixels.

/// The program and its version, as every file it writes names them.
pub const PROGRAM: &str = concat!("settlay ", env!("CARGO_PKG_VERSION"));

pub mod burn;
pub mod cli;
pub mod cloth;
pub mod drawing;
pub mod estimate;
pub mod files;
pub mod job;
pub mod lay;
pub mod offcuts;
pub mod passes;
pub mod plan;
pub mod realign;
pub mod say;
pub mod sew;
pub mod shape;
pub mod table;
pub mod write;
