//! Files and folders that appear whole or not at all, and all that differs from one operating system to the next.

mod folder;
pub mod names;
pub mod system;
mod whole_file;

pub use folder::{Whole, may_move_in};
pub use whole_file::{replace_file, why_not, write_whole};
