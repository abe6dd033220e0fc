//! Where the names in a key stand: common to both kinds of cut file and to the key on paper.

mod spots;

use std::collections::BTreeMap;

use crate::plan::{PlanKeyLine, PlanMark, PlanPass};
use crate::shape::{self, Bounds, Point, pt};

use super::letters;
use spots::Field;

/// Height of a name's capitals in a key, mm.
pub(super) const LETTER_MM: f64 = 6.0;

/// Half a stroke of a mark's cross in a key, mm.
pub(super) const CROSS_MM: f64 = 5.0;

/// How far the letters of the cut file may lie beside those that are measured here, which are made of chords, mm.
const CHORD_MM: f64 = 0.05;

/// Lines may leave out points that lie no farther than this off them while room for names is looked for, mm.
const FLAT_MM: f64 = 0.1;

/// A name in a key.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Lettering {
    /// The name, shortened where the bed is narrow.
    pub text: String,
    /// Left end of its baseline, bed frame.
    pub at: Point,
}

impl Lettering {
    /// What is drawn of it, as strokes, bed frame.
    pub fn strokes(&self) -> Vec<Vec<Point>> {
        let strokes = letters::strokes(&self.text, LETTER_MM).0;
        strokes.iter().map(|s| s.iter().map(|&p| p + self.at).collect()).collect()
    }

    /// The box of what is drawn of it, bed frame; empty when nothing is.
    pub fn plate(&self) -> Bounds {
        plate_of(&self.text).shifted(self.at)
    }
}

/// The box of a text's letters with the left end of its baseline at the origin; empty when it has none.
fn plate_of(text: &str) -> Bounds {
    let plate = Bounds::of(letters::strokes(text, LETTER_MM).0.into_iter().flatten());
    if plate.is_empty() { plate } else { plate.grown(CHORD_MM) }
}

/// What there is to write a key on, bed frame.
pub(super) struct Ground {
    /// Where marks are shown: those whose middle lies in one of these.
    pub shown: Vec<Bounds>,
    /// Where words may stand, each wholly in one of these.
    pub rooms: Vec<Bounds>,
}

impl Ground {
    /// The bed, words within its margins.
    fn bed(pass: &PlanPass) -> Ground {
        let bed = Bounds::new(pt(0.0, 0.0), pt(pass.bed_mm[0], pass.bed_mm[1]));
        Ground { shown: vec![bed], rooms: vec![bed.grown(-pass.margin_mm)] }
    }

    /// Marks of a pass that are shown and are not burnt in it but found again.
    fn marks<'a>(&'a self, pass: &'a PlanPass) -> impl Iterator<Item = &'a PlanMark> {
        let is_in = |m: &&PlanMark| self.shown.iter().any(|r| r.contains(marked(m)));
        pass.marks.iter().filter(|m| !m.burnt_here).filter(is_in)
    }
}

/// One name for every piece in the key, near its lines and within the bed's margins, clear of marks, of the names before
/// it and of all lines where there is room. Reads the right way round on the bed even where the cloth lies face down.
pub(super) fn lettering(pass: &PlanPass) -> Vec<Lettering> {
    lettering_in(pass, &Ground::bed(pass), &|_| None)
}

/// The same, on another ground. Where a name has no room there, or none clear of lines, what
/// `short` gives for it stands instead if that is any better; where there is no short form, the start of the name.
pub(super) fn lettering_in(
    pass: &PlanPass,
    ground: &Ground,
    short: &dyn Fn(&str) -> Option<String>,
) -> Vec<Lettering> {
    let mut pieces: BTreeMap<&str, Vec<Vec<Point>>> = BTreeMap::new();
    for line in &pass.key {
        pieces.entry(line.piece.as_str()).or_default().push(points(line));
    }
    let mut field = among_lines_and_crosses(pass, ground);
    field.taken.extend(mark_names(pass, ground).iter().map(Lettering::plate));
    let rooms = ground.rooms.as_slice();
    let widest = rooms.iter().map(|r| r.width()).fold(0.0, f64::max);
    let mut names = Vec::new();
    for (piece, own) in &pieces {
        let spot = |text: String| {
            let plate = plate_of(&text);
            let best = (!plate.is_empty()).then(|| field.best(plate, own, rooms)).flatten()?;
            Some((best, text))
        };
        let whole = spot((*piece).to_owned());
        let found = match (whole, short(piece)) {
            (Some(whole), _) if whole.0.is_clear() => Some(whole),
            (whole, Some(short)) => {
                let both = whole.into_iter().chain(spot(short));
                both.min_by(|a, b| a.0.cost.total_cmp(&b.0.cost))
            }
            (Some(whole), None) => Some(whole),
            (None, None) => letters::fit(piece, LETTER_MM, widest - 2.0 * CHORD_MM).and_then(spot),
        };
        let Some((best, text)) = found else { continue };
        let name = Lettering { text, at: best.shift };
        field.taken.push(name.plate());
        names.push(name);
    }
    names
}

fn points(line: &PlanKeyLine) -> Vec<Point> {
    let closing = line.path.first().filter(|_| line.closed);
    shape::thinned(line.path.iter().chain(closing).map(|p| pt(p[0], p[1])), FLAT_MM)
}

/// What all words of a key have to keep clear of: its lines, and the crosses of marks.
fn among_lines_and_crosses(pass: &PlanPass, ground: &Ground) -> Field {
    let sides = pass.key.iter().flat_map(|line| spots::sides(&points(line)).collect::<Vec<_>>()).collect();
    Field { sides, taken: ground.marks(pass).map(cross_plate).collect() }
}

fn marked(mark: &PlanMark) -> Point {
    pt(mark.bed[0], mark.bed[1])
}

/// The box of a mark's cross.
fn cross_plate(mark: &PlanMark) -> Bounds {
    let at = marked(mark);
    Bounds::new(at, at).grown(CROSS_MM)
}

/// The names of marks, each in the quarter of its cross where least is in the way.
fn mark_names(pass: &PlanPass, ground: &Ground) -> Vec<Lettering> {
    let mut field = among_lines_and_crosses(pass, ground);
    let mut names = Vec::new();
    for mark in ground.marks(pass) {
        let (at, plate) = (marked(mark), plate_of(&mark.name));
        let beside = CROSS_MM + 1.0;
        let (right, left) = (beside - plate.min.x, -beside - plate.max.x);
        let (above, below) = (1.0 - plate.min.y, -1.0 - plate.max.y);
        let quarters = [pt(right, above), pt(right, below), pt(left, above), pt(left, below)];
        let spots = quarters.map(|v| Lettering { text: mark.name.clone(), at: at + v });
        let best_in = |places: &[Bounds]| {
            let fit = spots.iter().filter(|n| places.iter().any(|r| r.holds(n.plate())));
            fit.map(|n| (field.against(n.plate()), n)).min_by(|a, b| a.0.total_cmp(&b.0)).map(|b| b.1.clone())
        };
        if let Some(name) = best_in(&ground.rooms).or_else(|| best_in(&ground.shown)) {
            field.taken.push(name.plate());
            names.push(name);
        }
    }
    names
}

/// The cross and the name of every mark that is found again and shown, as strokes, bed frame.
pub(super) fn mark_signs(pass: &PlanPass, ground: &Ground) -> Vec<Vec<Point>> {
    let mut all: Vec<Vec<Point>> = mark_names(pass, ground).iter().flat_map(Lettering::strokes).collect();
    for at in ground.marks(pass).map(marked) {
        all.push(vec![at - pt(CROSS_MM, 0.0), at + pt(CROSS_MM, 0.0)]);
        all.push(vec![at - pt(0.0, CROSS_MM), at + pt(0.0, CROSS_MM)]);
    }
    all
}

/// True where the cloth lies face up on the bed.
pub(super) fn is_face_up(pass: &PlanPass) -> bool {
    let [a, b, c, d, ..] = pass.cloth_to_bed;
    a * d - b * c > 0.0
}

/// Size of the plate that says how the cloth lies, mm, and what it keeps off the margins.
const PLATE_MM: Point = pt(84.0, 44.0);
const PLATE_IN_MM: f64 = 2.0;

/// What a key in a cut file says besides names, as strokes, bed frame: an arrow the way the warp runs from the near cut
/// end to the far one and which face lies up, where the bed has room for them, and a cross with its name for every mark
/// that is found again.
pub(super) fn signs(pass: &PlanPass, names: &[Lettering]) -> Vec<Vec<Point>> {
    let mut all = mark_signs(pass, &Ground::bed(pass));
    let Some(plate) = plate(pass, names) else { return all };
    let face = if is_face_up(pass) { "FACE UP" } else { "FACE DOWN" };
    for (text, y) in [(face, 26.0), ("WARP", 10.0)] {
        all.extend(Lettering { text: text.into(), at: plate + pt(34.0, y) }.strokes());
    }
    // Along the warp on the bed.
    let [_, _, c, d, ..] = pass.cloth_to_bed;
    let length = c.hypot(d).max(f64::MIN_POSITIVE);
    let way = pt(c / length, d / length);
    let across = pt(-way.y, way.x);
    let middle = plate + pt(17.0, PLATE_MM.y / 2.0);
    let tip = middle + way * 16.0;
    all.push(vec![middle - way * 16.0, tip]);
    all.push(vec![tip - way * 6.0 + across * 4.0, tip, tip - way * 6.0 - across * 4.0]);
    all
}

/// Lower left corner of a spot on the bed where the plate is in nothing's way, or as little as can be; `None` where it
/// has no room at all.
fn plate(pass: &PlanPass, names: &[Lettering]) -> Option<Point> {
    let ground = Ground::bed(pass);
    let room = ground.rooms.first()?.grown(-PLATE_IN_MM);
    let slack = pt(room.width() - PLATE_MM.x, room.height() - PLATE_MM.y);
    if !(slack.x >= 0.0 && slack.y >= 0.0) {
        return None;
    }
    let marks = mark_names(pass, &ground);
    let mut field = among_lines_and_crosses(pass, &ground);
    field.taken.extend(names.iter().chain(&marks).map(Lettering::plate));
    let steps = 12;
    let share = |k: i32| f64::from(k) / f64::from(steps);
    let spots = (0..=steps).flat_map(|j| (0..=steps).map(move |i| (i, j)));
    let costs = spots.map(|(i, j)| {
        let at = room.min + pt(slack.x * share(i), slack.y * share(j));
        (field.against(Bounds::new(at, at + PLATE_MM)), at)
    });
    costs.min_by(|a, b| a.0.total_cmp(&b.0)).map(|c| c.1)
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
            assert!(Ground::bed(&pass).rooms[0].holds(name.plate()), "{name:?}");
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
            let crossed = among_lines_and_crosses(&pass, &Ground::bed(&pass))
                .sides
                .iter()
                .any(|(p, q)| Bounds::of([*p, *q]).meets(name.plate()));
            assert!(!crossed, "{name:?}");
        }
    }

    /// A long wavy line, as the cut edge of a piece as long as the bed.
    fn wave(piece: &str, y: f64) -> PlanKeyLine {
        let at = |k: u32| {
            let (_, s) = crate::shape::turn_cos_sin(f64::from(k) * 4.0);
            [20.0 + 4.0 * f64::from(k), y + 18.0 * s]
        };
        PlanKeyLine { path: (0..210).map(at).collect(), closed: false, piece: piece.into() }
    }

    /// Nearest any stroke of a name comes to any line of the key, mm.
    fn clearance(pass: &PlanPass, name: &Lettering) -> f64 {
        let lines = among_lines_and_crosses(pass, &Ground::bed(pass)).sides;
        let to_lines =
            |p: Point| lines.iter().map(|(a, b)| shape::to_side(p, *a, *b)).fold(f64::MAX, f64::min);
        name.strokes().into_iter().flatten().map(to_lines).fold(f64::MAX, f64::min)
    }

    #[test]
    fn a_name_beside_a_line_as_long_as_the_bed_touches_it_nowhere_and_stays_near() {
        let mut pass = sample_plan().passes[1].clone();
        pass.key = (1..=6).map(|k| wave(&format!("water-{k}"), 70.0 * f64::from(k))).collect();
        let names = lettering(&pass);
        assert_eq!(names.len(), 6);
        for (name, line) in names.iter().zip(&pass.key) {
            assert_eq!(name.text, line.piece);
            let gap = clearance(&pass, name);
            assert!((1.0..6.0).contains(&gap), "{name:?} {gap}");
        }
    }

    #[test]
    fn letters_keep_to_the_margins_to_the_last_stroke() {
        let mut pass = sample_plan().passes[1].clone();
        pass.bed_mm = [400.0, 400.0];
        pass.margin_mm = 5.0;
        let edge = |piece: &str, y: f64| PlanKeyLine {
            path: vec![[5.0, y], [395.0, y]],
            closed: false,
            piece: piece.into(),
        };
        pass.key = vec![edge("top (jÖ)", 392.0), edge("foot jgq", 5.5)];
        pass.marks.clear();
        let names = lettering(&pass);
        let said = names.iter().flat_map(Lettering::strokes).chain(signs(&pass, &names));
        let b = Bounds::of(said.flatten());
        assert!(b.min.x >= 5.0 && b.min.y >= 5.0 && b.max.x <= 395.0 && b.max.y <= 395.0, "{b:?}");
    }

    #[test]
    fn on_papers_a_name_is_whole_on_one_of_them_or_gives_way_to_its_number() {
        let mut pass = sample_plan().passes[1].clone();
        pass.key = vec![wave("water-1", 100.0), wave("a name that is wider than any of the papers", 300.0)];
        let rooms: Vec<Bounds> = (0..4)
            .map(|k| Bounds::new(pt(0.0, 0.0), pt(120.0, 500.0)).shifted(pt(150.0 * f64::from(k), 0.0)))
            .collect();
        let ground = Ground { shown: vec![], rooms: rooms.clone() };
        let names = lettering_in(&pass, &ground, &|p| p.starts_with('a').then(|| "14".to_owned()));
        let texts: Vec<&str> = names.iter().map(|n| n.text.as_str()).collect();
        assert_eq!(texts, ["14", "water-1"]);
        for name in &names {
            assert!(rooms.iter().any(|r| r.holds(name.plate())), "{name:?}");
        }
    }

    #[test]
    fn a_marks_name_stands_on_the_side_where_its_paper_is() {
        let mut pass = sample_plan().passes[1].clone();
        pass.key.clear();
        let mark = |name: &str, x: f64, y: f64| PlanMark {
            name: name.into(),
            cloth: [x, y],
            bed: [x, y],
            measured: None,
            left_out: false,
            burnt_here: false,
        };
        pass.marks = vec![mark("D", 96.0, 96.0), mark("off", 150.0, 50.0)];
        let room = Bounds::new(pt(0.0, 0.0), pt(100.0, 100.0));
        let ground = Ground { shown: vec![room], rooms: vec![room] };
        let names = mark_names(&pass, &ground);
        assert_eq!(names.len(), 1);
        assert!(room.holds(names[0].plate()));
        assert_eq!(mark_signs(&pass, &ground).len(), letters::strokes("D", LETTER_MM).0.len() + 2);
    }

    #[test]
    fn the_plate_holds_its_words() {
        for text in ["FACE UP", "FACE DOWN", "WARP"] {
            assert!(34.0 + letters::width(text, LETTER_MM) <= PLATE_MM.x, "{text}");
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
