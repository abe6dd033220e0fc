//! Room for marks in what two fields of an embroidery frame share, by the rules of windows.

use super::links::linked;
use super::marks::{MARK_INSET_MM, mark_band};
use crate::shape::Bounds;

/// True when two fields share enough of the work for marks.
pub fn share_marks(a: Bounds, b: Bounds) -> bool {
    linked(a, b, MARK_INSET_MM)
}

/// What two fields share at least, across and up, where they share enough of the work for marks, mm.
pub fn least_shared_mm() -> f64 {
    mark_band(MARK_INSET_MM)
}
