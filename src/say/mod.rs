//! What the program tells a maker: troubles that end a run, notes that go with a result, progress.
//!
//! Ground floor. Knows nothing of files, cloth or drawings.

mod note;
mod trouble;
mod watch;
mod way;

pub use note::{Level, Note};
pub use trouble::{Kind, Trouble, nearest_name};
pub use watch::{Quiet, Silent, Watch};
pub use way::{Change, Stuck, Way};
