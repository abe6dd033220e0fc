//! Does the description of the embroidery frame hold together?

use super::Frame;
use super::sense::Sense;
use crate::say::json::Place;

/// A frame's field is at least so much wider than the border, mm: an edge that goes on in the next field is begun there
/// well inside it.
pub const LEAST_CLEAR_FIELD_MM: f64 = 20.0;

impl Sense {
    /// The field against the border, the tack-down line against it.
    pub(super) fn frame(&mut self, frame: &Frame, border_mm: f64, at: &Place) {
        for (k, side) in frame.field_mm.iter().enumerate() {
            let least = border_mm + LEAST_CLEAR_FIELD_MM;
            if *side > 0.0 && *side < least {
                let what = format!(
                    "expected {least} or more, cutter.border_mm and {LEAST_CLEAR_FIELD_MM}: the work could not be handed \
                     from field to field"
                );
                self.value(at.key("field_mm").index(k), what, "give the field the frame can stitch");
            }
        }
        if let Some(inside) = frame.tack_in_mm
            && border_mm > 0.0
            && inside >= border_mm / 2.0
        {
            let what =
                format!("expected less than half of cutter.border_mm, {border_mm}: the border covers it");
            self.value(at.key("tack_in_mm"), what, "");
        }
    }
}
