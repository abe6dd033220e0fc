//! Does the description of the embroidery frame hold together?

use super::Frame;
use super::place::Place;
use super::sense::Sense;

impl Sense {
    /// The field against the border, the tack-down line against it.
    pub(super) fn frame(&mut self, frame: &Frame, border_mm: f64, at: &Place) {
        for (k, side) in frame.field_mm.iter().enumerate() {
            if *side > 0.0 && *side <= border_mm {
                let what = format!("expected more than cutter.border_mm, {border_mm}");
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
