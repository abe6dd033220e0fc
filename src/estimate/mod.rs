//! How much cloth to buy, found by laying.
//!
//! In: a job's pieces and cloths. Out: for each cloth the length to buy at each width, and what changing one rule
//! would save. Knows nothing of beds, plans or files.

mod buy;
mod need;
mod relax;

pub use buy::{AtWidth, Buying, Saving, Wish, buy};
pub use need::{CUTTING_ALLOWANCE_MM, Need, need, need_of_lay};
