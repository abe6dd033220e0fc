//! How much cloth to buy, found by laying.
//!
//! In: a job's pieces and cloths. Out: for each cloth the length to buy at each width, and what changing one rule
//! would save. Knows nothing of beds, plans or files: who lays is told from above.

mod buy;
mod figures;
mod need;
mod relax;

pub use buy::{AtWidth, Bare, Buying, LaidOut, Lays, Saving, ToLay, Wish, buy};
pub use figures::EFFORT;
pub use need::{CUTTING_ALLOWANCE_MM, Need, need, need_of_lay};
