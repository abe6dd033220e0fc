//! What the program tells a maker: troubles that end a run, notes that go with a result, progress.
//!
//! Ground floor; [`json`] reads what a maker wrote down and says what is wrong with it. Knows nothing of files, cloth or drawings.

pub mod json;
mod note;
mod trouble;
mod watch;
mod way;

pub use note::{Level, Note};
pub use trouble::{Kind, Trouble, nearest_name};
pub use watch::{Quiet, Silent, Watch};
pub use way::{Change, Stuck, Way};

/// A number and what there are so many of, in one or in many: `1 pass`, `2 passes`.
pub fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
