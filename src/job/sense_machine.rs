//! Does the description of a machine hold together?

use super::sense::Sense;
use super::{Cutter, Gcode, machine_words};
use crate::say::json::Place;
use crate::say::nearest_name;

/// Kinds of line a pass burns.
const BURNT: [&str; 3] = ["mark", "cutout", "outline"];

impl Sense {
    /// Home corner and axes, order of layers, G-code words, tested power.
    pub(super) fn machine(&mut self, cutter: &Cutter, at: &Place) {
        let home = cutter.home;
        let from = "as coordinates grow from the home corner over the bed";
        if cutter.x_grows.is_some_and(|w| w != home.x_grows()) {
            let hint = "x grows to the right from a left corner and to the left from a right one";
            self.value(at.key("x_grows"), format!("expected the other way, {from}"), hint);
        }
        if cutter.y_grows.is_some_and(|w| w != home.y_grows()) {
            let hint = "y grows away from you from a near corner and towards you from a far one";
            self.value(at.key("y_grows"), format!("expected the other way, {from}"), hint);
        }
        if cutter.mirrored.is_some_and(|m| m != home.is_mirrored()) {
            let what = format!("expected {}: the home corner says so", home.is_mirrored());
            let hint = "near-right and far-left make a mirrored bed, near-left and far-right do not";
            self.value(at.key("mirrored"), what, hint);
        }
        self.layers(&cutter.layer_order, &at.key("layer_order"));
        if let Some(gcode) = &cutter.gcode {
            self.gcode(gcode, &at.key("gcode"));
        }
        for (k, tested) in cutter.tested.iter().enumerate() {
            let place = at.key("tested").index(k);
            if let Some(kind) = tested.kind.as_deref().filter(|k| !BURNT.contains(k)) {
                let hint =
                    nearest_name(kind, BURNT).map_or(String::new(), |k| format!("did you mean \"{k}\"?"));
                self.value(place.key("kind"), format!("expected one of {}", BURNT.join(", ")), hint);
            }
            let range = cutter.gcode.as_ref().map(|g| g.power_range);
            if let Some([low, high]) = range.filter(|[low, high]| !(*low..=*high).contains(&tested.power)) {
                let what = format!("expected a power within the machine's range, {low} to {high}");
                self.value(place.key("power"), what, "the range is gcode.power_range");
            }
        }
    }

    fn layers(&mut self, order: &[String], at: &Place) {
        let place = |kind: &str| order.iter().position(|o| o == kind);
        let mut sorted: Vec<&str> = order.iter().map(String::as_str).collect();
        sorted.sort_unstable();
        if sorted != ["cutout", "mark", "outline"] {
            self.value(at.clone(), "expected mark, cutout and outline once each", "");
        } else if place("cutout") > place("outline") {
            self.value(at.clone(), "expected cutout before outline: a piece cut free may move", "");
        }
    }

    fn gcode(&mut self, gcode: &Gcode, at: &Place) {
        let [low, high] = gcode.power_range;
        if low >= high {
            self.value(at.key("power_range"), "expected the least power, then the most", "");
        }
        if !matches!(gcode.units_word.as_str(), "G21" | "G71") {
            let hint = "both stand for millimetres; the machine's manual says which it knows";
            self.value(at.key("units_word"), "expected G21 or G71", hint);
        }
        let letter =
            gcode.power_word.chars().next().filter(|c| c.is_ascii_uppercase() && !"FGIJMNRXYZ".contains(*c));
        if letter.is_none() || gcode.power_word.len() != 1 {
            self.value(
                at.key("power_word"),
                "expected one capital letter that has no other use",
                "S is usual",
            );
        }
        for (key, word) in [("beam_on", &gcode.beam_on), ("beam_off", &gcode.beam_off)] {
            if !machine_words::is_command(word) {
                self.value(at.key(key), "expected M and a number", "as in the machine's manual");
            }
        }
        let hint =
            "the words stand in the machine's manual; with wrong ones the beam burns where it should not";
        if let Some(what) = machine_words::on_fault(&gcode.beam_on, &gcode.power_word) {
            self.value(at.key("beam_on"), what, hint);
        }
        if let Some(what) = machine_words::off_fault(&gcode.beam_off, &gcode.beam_on) {
            self.value(at.key("beam_off"), what, hint);
        }
        for (key, lines) in [("header", &gcode.header), ("footer", &gcode.footer)] {
            for (k, line) in lines.iter().enumerate() {
                if let Some(what) = machine_words::fault(line, &gcode.beam_on, key == "footer") {
                    self.value(at.key(key).index(k), what, "");
                }
            }
        }
    }
}
