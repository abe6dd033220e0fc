//! Burns: kerf, order, lengths and time.
//!
//! In: cut regions, or the burns of a pass. Out: contours with the kerf added, burns in burn order, lengths and
//! seconds. Knows cut edges and the cutter's figures, nothing of how cloth is laid or passes are chosen.

pub mod arcs;
mod corners;
pub mod gauge;
mod improve;
mod kerf;
mod model;
mod order;
mod timing;

pub use kerf::{Kerfed, LostEdge, contours};
pub use model::{Burn, BurnKind, Contour};
pub use order::{Nested, arrange, nested, order_faults};
pub use timing::{Lengths, lengths, move_seconds, seconds};
