//! Files and folders that appear whole or not at all, and all that differs from one operating system to the next.

mod folder;
mod hold;
#[cfg(test)]
mod kill_tests;
pub mod names;
mod staging;
mod step;
pub mod system;
mod whole_file;

pub use folder::{Whole, may_move_in, settle};
pub use hold::{Held, hold};
pub use whole_file::{replace_file, why_not, write_whole};
