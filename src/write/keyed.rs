//! Where the names in a key stand: common to both kinds of cut file.

use std::collections::BTreeMap;

use crate::plan::PlanPass;
use crate::shape::{Bounds, Point, pt};

use super::letters;

/// Height of a name's capitals in a key, mm.
pub(super) const LETTER_MM: f64 = 6.0;

/// A name in a key.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Lettering {
    /// The name, shortened where the bed is narrow.
    pub text: String,
    /// Left end of its baseline, bed frame.
    pub at: Point,
}

/// One name for every piece in the key, in the middle of its lines, moved to stay on the bed and out of
/// the way of the names before it. Reads the right way round on the bed even where the cloth lies face down.
pub(super) fn lettering(pass: &PlanPass) -> Vec<Lettering> {
    let mut pieces: BTreeMap<&str, Bounds> = BTreeMap::new();
    for line in &pass.key {
        let b = Bounds::of(line.path.iter().map(|p| pt(p[0], p[1])));
        let whole = pieces.entry(line.piece.as_str()).or_insert(Bounds::EMPTY);
        *whole = whole.union(b);
    }
    let [bed_width, bed_height] = pass.bed_mm;
    let room = (bed_width - 4.0 * pass.margin_mm).max(0.0);
    let mut taken: Vec<Bounds> = Vec::new();
    let mut names = Vec::new();
    for (piece, b) in pieces {
        let Some(text) = letters::fit(piece, LETTER_MM, room) else { continue };
        let width = letters::width(&text, LETTER_MM);
        let rightmost = (bed_width - pass.margin_mm - width).max(pass.margin_mm);
        let highest = (bed_height - pass.margin_mm - LETTER_MM).max(pass.margin_mm);
        let middle = b.centre();
        let x = (middle.x - width / 2.0).clamp(pass.margin_mm, rightmost);
        let mut y = (middle.y - LETTER_MM / 2.0).clamp(pass.margin_mm, highest);
        let plate = |y: f64| Bounds::new(pt(x, y - LETTER_MM * 0.3), pt(x + width, y + LETTER_MM));
        // A name in the way is stepped over, upwards; at the far edge it is let be.
        while y < highest && taken.iter().any(|t| t.meets(plate(y))) {
            y = (y + LETTER_MM * 0.5).min(highest);
        }
        taken.push(plate(y));
        names.push(Lettering { text, at: pt(x, y) });
    }
    names
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::PlanKeyLine;
    use crate::write::sample::sample_plan;

    #[test]
    fn names_stay_on_the_bed_and_apart() {
        let mut pass = sample_plan().passes[1].clone();
        let line = |piece: &str| PlanKeyLine {
            path: vec![[0.0, 590.0], [899.0, 560.0]],
            closed: false,
            piece: piece.into(),
        };
        pass.key = vec![line("a very long name for a piece"), line("second"), line(&"endless ".repeat(200))];
        pass.key.push(PlanKeyLine {
            path: vec![[890.0, 10.0], [899.0, 0.0]],
            closed: false,
            piece: "corner".into(),
        });
        let names = lettering(&pass);
        assert_eq!(names.len(), 4);
        for name in &names {
            let width = letters::width(&name.text, LETTER_MM);
            assert!(
                name.at.x >= 0.0 && name.at.x + width <= 900.0 && name.at.y <= 600.0 - LETTER_MM,
                "{name:?}"
            );
        }
    }

    #[test]
    fn a_bed_with_no_room_is_not_a_crash() {
        let mut pass = sample_plan().passes[1].clone();
        pass.bed_mm = [f64::NAN, 0.0];
        pass.margin_mm = 6.0;
        assert!(lettering(&pass).is_empty());
    }
}
