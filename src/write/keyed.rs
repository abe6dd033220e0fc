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

/// Size of the plate that says how the cloth lies, mm.
const PLATE_MM: Point = pt(78.0, 44.0);

/// Half a stroke of a mark's cross in a key, mm.
const CROSS_MM: f64 = 5.0;

/// What a key says besides names, as strokes, bed frame: an arrow the way the warp runs from the near cut end to the
/// far one, which face lies up, and a cross with its name for every mark that is found again.
pub(super) fn signs(pass: &PlanPass, names: &[Lettering]) -> Vec<Vec<Point>> {
    let mut all = Vec::new();
    let mut say = |text: &str, at: Point| {
        let strokes = letters::strokes(text, LETTER_MM).0;
        all.extend(strokes.iter().map(|s| s.iter().map(|p| *p + at).collect::<Vec<_>>()));
    };
    let [a, b, c, d, ..] = pass.cloth_to_bed;
    let face = if a * d - b * c > 0.0 { "FACE UP" } else { "FACE DOWN" };
    let plate = plate(pass, names);
    say(face, plate + pt(34.0, 26.0));
    say("WARP", plate + pt(34.0, 10.0));
    for mark in pass.marks.iter().filter(|m| !m.burnt_here) {
        say(&mark.name, pt(mark.bed[0], mark.bed[1]) + pt(CROSS_MM + 1.0, 1.0));
    }
    // Along the warp on the bed.
    let length = c.hypot(d).max(f64::MIN_POSITIVE);
    let way = pt(c / length, d / length);
    let across = pt(-way.y, way.x);
    let middle = plate + pt(17.0, PLATE_MM.y / 2.0);
    let tip = middle + way * 16.0;
    all.push(vec![middle - way * 16.0, tip]);
    all.push(vec![tip - way * 6.0 + across * 4.0, tip, tip - way * 6.0 - across * 4.0]);
    for mark in pass.marks.iter().filter(|m| !m.burnt_here) {
        let at = pt(mark.bed[0], mark.bed[1]);
        all.push(vec![at - pt(CROSS_MM, 0.0), at + pt(CROSS_MM, 0.0)]);
        all.push(vec![at - pt(0.0, CROSS_MM), at + pt(0.0, CROSS_MM)]);
    }
    all
}

/// Lower left corner of a spot on the bed where the plate is in nothing's way, or as little as can be.
fn plate(pass: &PlanPass, names: &[Lettering]) -> Point {
    let [width, height] = pass.bed_mm;
    let m = pass.margin_mm + 2.0;
    let room = pt((width - 2.0 * m - PLATE_MM.x).max(0.0), (height - 2.0 * m - PLATE_MM.y).max(0.0));
    let steps = 12;
    let spots = (0..=steps).flat_map(|j| (0..=steps).map(move |i| (i, j)));
    let at = |(i, j): (i32, i32)| {
        pt(m + room.x * f64::from(i) / f64::from(steps), m + room.y * f64::from(j) / f64::from(steps))
    };
    let in_the_way = |at: Point| {
        let b = Bounds::new(at, at + PLATE_MM).grown(2.0);
        let lines = pass.key.iter().flat_map(|l| {
            let n = l.path.len();
            (0..if l.closed { n } else { n.saturating_sub(1) }).map(move |k| (l.path[k], l.path[(k + 1) % n]))
        });
        let met = lines.filter(|(p, q)| Bounds::of([pt(p[0], p[1]), pt(q[0], q[1])]).meets(b)).count();
        let told = names.iter().filter(|n| {
            let far = n.at + pt(letters::width(&n.text, LETTER_MM), LETTER_MM);
            Bounds::new(n.at, far).meets(b)
        });
        let marks = pass.marks.iter().filter(|k| b.grown(CROSS_MM).contains(pt(k.bed[0], k.bed[1])));
        met + 100 * (told.count() + marks.count())
    };
    spots.map(at).min_by_key(|p| in_the_way(*p)).unwrap_or(pt(m, m))
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
