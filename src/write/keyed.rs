//! Where the names in a key stand: common to both kinds of cut file.

use std::collections::BTreeMap;

use crate::plan::{PlanKeyLine, PlanPass};
use crate::shape::{Bounds, Point, distance, lerp, pt};

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

/// Spots tried for a name each way.
const SPOTS: u32 = 12;

/// What counts against a spot for a name: another name there, a line of the key through it, and a millimetre away from its
/// own lines.
const NAME_THERE: f64 = 1.0e5;
const LINE_THERE: f64 = 1.0e3;
const MM_AWAY: f64 = 1.0;

/// One name for every piece in the key, near its lines and on the bed, clear of the names before it and of all lines where
/// there is room. Reads the right way round on the bed even where the cloth lies face down.
pub(super) fn lettering(pass: &PlanPass) -> Vec<Lettering> {
    let mut pieces: BTreeMap<&str, Vec<(Point, Point)>> = BTreeMap::new();
    for line in &pass.key {
        pieces.entry(line.piece.as_str()).or_default().extend(sides(line));
    }
    let all: Vec<(Point, Point)> = pieces.values().flatten().copied().collect();
    let [bed_width, bed_height] = pass.bed_mm;
    let room = (bed_width - 4.0 * pass.margin_mm).max(0.0);
    let mut taken: Vec<Bounds> = Vec::new();
    let mut names = Vec::new();
    for (piece, own) in &pieces {
        let Some(text) = letters::fit(piece, LETTER_MM, room) else { continue };
        let size = pt(letters::width(&text, LETTER_MM), LETTER_MM);
        let lowest = pt(pass.margin_mm, pass.margin_mm);
        let highest = pt((bed_width - size.x).max(0.0), (bed_height - size.y).max(0.0)) - lowest;
        let b = Bounds::of(own.iter().flat_map(|(p, q)| [*p, *q]));
        let around = Bounds::new(b.min - size, b.max).grown(LETTER_MM);
        let near: Vec<Bounds> =
            all.iter().map(|(p, q)| Bounds::of([*p, *q])).filter(|l| l.meets(around.grown(size.x))).collect();
        let share = |k: u32| f64::from(k) / f64::from(SPOTS);
        let spots = (0..=SPOTS).flat_map(|j| (0..=SPOTS).map(move |i| (i, j))).map(|(i, j)| {
            let at = around.min + pt(around.width() * share(i), around.height() * share(j));
            pt(within(at.x, lowest.x, highest.x), within(at.y, lowest.y, highest.y))
        });
        let plate = |at: Point| Bounds::new(at - pt(0.0, LETTER_MM * 0.3), at + size);
        let against = |at: Point| {
            let plate = plate(at);
            let count =
                |of: &[Bounds], rim: f64| of.iter().filter(|o| o.meets(plate.grown(rim))).count() as f64;
            let away =
                own.iter().map(|(p, q)| distance(lerp(*p, *q, 0.5), plate.centre())).fold(f64::MAX, f64::min);
            NAME_THERE * count(&taken, 0.0) + LINE_THERE * count(&near, 1.0) + MM_AWAY * away
        };
        let best = spots.map(|at| (against(at), at)).min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((_, at)) = best else { continue };
        taken.push(plate(at));
        names.push(Lettering { text, at });
    }
    names
}

fn sides(line: &PlanKeyLine) -> impl Iterator<Item = (Point, Point)> + '_ {
    let n = line.path.len();
    let at = move |k: usize| pt(line.path[k % n][0], line.path[k % n][1]);
    (0..if line.closed { n } else { n.saturating_sub(1) }).map(move |k| (at(k), at(k + 1)))
}

/// `v` kept between the two; the lower one where they cross.
fn within(v: f64, low: f64, high: f64) -> f64 {
    v.min(high).max(low)
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
        let met = pass.key.iter().flat_map(sides).filter(|(p, q)| Bounds::of([*p, *q]).meets(b)).count();
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
    fn a_name_lies_beside_its_lines_and_across_none() {
        let mut pass = sample_plan().passes[1].clone();
        let band = |piece: &str, y: f64| PlanKeyLine {
            path: (0..=40).map(|k| [100.0 + 10.0 * f64::from(k), y + 6.0 * f64::from(k % 2)]).collect(),
            closed: false,
            piece: piece.into(),
        };
        pass.key = vec![
            band("water-1", 200.0),
            band("water-1", 260.0),
            band("water-2", 268.0),
            band("water-2", 320.0),
        ];
        let names = lettering(&pass);
        assert_eq!(names.len(), 2);
        for name in &names {
            let plate = Bounds::new(name.at, name.at + pt(letters::width(&name.text, LETTER_MM), LETTER_MM));
            let crossed = pass.key.iter().flat_map(sides).any(|(p, q)| Bounds::of([p, q]).meets(plate));
            assert!(!crossed, "{name:?}");
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
