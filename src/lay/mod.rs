//! The lay: which pose every piece has on its cloth.
//!
//! In: pieces and cloths. Out: a [`Lay`] that an independent exact test has passed. Knows nothing of beds or
//! files.

mod model;

pub use model::{ClothLay, Lay, Placed};
