//! Burns: kerf, order, lengths and time.
//!
//! In: cut regions, or the burns of a pass. Out: contours with the kerf added, burns in burn order, lengths and
//! seconds. Knows cut edges and the cutter's figures, nothing of how cloth is laid or passes are chosen.

pub mod arcs;
mod bridges;
mod corners;
pub mod gauge;
mod improve;
mod kerf;
mod lead_in;
mod model;
mod order;
pub mod readings;
mod starts;
mod timing;
mod tour;

pub use bridges::{Bridge, bridged, bridges};
pub use kerf::{Kerfed, LostEdge, contours};
pub use lead_in::{Edges, lead_in, led_in};
pub use model::{Burn, BurnKind, Contour};
pub use order::{Nested, arrange, nested, order_faults, round_trip};
pub use timing::{Lengths, Seconds, lengths, line_seconds, move_seconds, seconds, there_and_back, way_back};
