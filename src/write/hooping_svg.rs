//! A hooping as SVG in full size: the field in millimetres, one layer a kind of line.

use crate::plan::{Pair, Plan, PlanHooping, PlanPiece, PlanSewing, PlanSewn, PlanStitchLine};
use crate::shape::{Bounds, Point, Region, Ring, booleans, lerp, pt};

use super::letters;
use super::names::titled;
use super::number::number;
use super::sheets::labels;
use super::xml::{El, el, picture};

/// Half the length of a mark's cross, and of the field's middle, mm.
pub(super) const CROSS_MM: f64 = 3.0;

/// Widths of lines, mm.
const LINE_MM: f64 = 0.25;
const FINE_MM: f64 = 0.15;

/// Heights of capitals tried for names, mm.
const NAMES_MM: [f64; 3] = [5.0, 3.5, 2.5];

const INK: &str = "#2c2730";
const BORDER: &str = "#d9c7b0";
const TACK: &str = "#b07236";
const MARK: &str = "#3f7a8c";
const GUIDE: &str = "#8c8478";
const AWAY: &str = "#c4bcb2";

/// Height of a mark's name, mm.
const MARK_NAME_MM: f64 = 3.0;

/// A name stands no farther from the lines of its piece than this, mm, where it has room so near.
const NEAR_LINES_MM: f64 = 8.0;

/// Half the side of what a name keeps clear round the middle of a cross, mm.
const OFF_CROSS_MM: f64 = CROSS_MM + 1.0;

/// The field of a hooping from above, the face up, as it lies in the drawing.
pub(super) fn hooping_svg(plan: &Plan, sewing: &PlanSewing, hooping: &PlanHooping) -> String {
    let [x0, y0, x1, y1] = hooping.field;
    let view = View { left: x0, top: y1 };
    let title = titled(&plan.title, &format!("hooping {} of {}", hooping.number, sewing.hoopings.len()));
    let lines = |of: fn(&crate::plan::PlanSewn) -> &Vec<PlanStitchLine>| -> Vec<El> {
        let all = hooping.pieces.iter().flat_map(|p| of(p).iter().map(move |l| (p, l)));
        all.map(|(p, l)| el("path").set("data-piece", p.piece.as_str()).set("d", view.path(l))).collect()
    };
    let layer = |id: &str, words: &str, colour: &str, width: f64| {
        el("g")
            .set("id", id)
            .set("fill", "none")
            .set("stroke", colour)
            .num("stroke-width", width)
            .set("stroke-linejoin", "round")
            .add(el("title").text(words))
    };
    let guides = guides(sewing, hooping).into_iter().map(|g| el("path").set("d", view.open(&g)));
    let lettered = hooping.pieces.iter().flat_map(|p| p.placement.iter().chain(&p.tack_down));
    let drawn: Vec<Vec<Point>> = lettered.map(|l| l.path.iter().map(|p| pt(p[0], p[1])).collect()).collect();
    let frame = Bounds::new(pt(x0, y0), pt(x1, y1));
    let mut taken: Vec<Bounds> = crosses(hooping)
        .iter()
        .flat_map(|&at| cross(at))
        .map(|[a, b]| Bounds::of([a, b]).grown(0.3))
        .collect();
    let marks: Vec<El> = hooping
        .marks
        .iter()
        .flat_map(|m| {
            let at = pt(m.at[0], m.at[1]);
            let size = pt(letters::width(&m.name, MARK_NAME_MM), MARK_NAME_MM);
            let clear = labels::Clear { frame, taken: &taken, lines: &drawn };
            let plate = labels::beside(at, CROSS_MM, size, &clear);
            taken.push(plate);
            let name = view.words(&m.name, MARK_NAME_MM, plate.min);
            cross(at).map(|arm| el("path").set("d", view.open(&arm))).into_iter().chain([name])
        })
        .collect();
    let away = elsewhere(plan, hooping).into_iter().map(|edge| el("path").set("d", view.open(&edge)));
    let names = hooping.pieces.iter().filter_map(|sewn| {
        let piece = plan.pieces.iter().find(|p| p.id == sewn.piece)?;
        let number = sewn.order.to_string();
        let full = format!("{number} {}", sewn.piece);
        let label = name_rooms(piece, sewn, hooping)
            .iter()
            .find_map(|room| labels::inside(room, &[&full, &number], &NAMES_MM))?;
        Some(view.words(&label.text, label.size * 0.72, label.at))
    });
    let page = picture(x1 - x0, y1 - y0, "mm")
        .add(el("title").text(&title))
        .add(layer("border", "Border area", BORDER, sewing.border_mm).add_all(lines(|p| &p.border)))
        .add(layer("elsewhere", "Edges that are sewn in another hooping", AWAY, FINE_MM).add_all(away))
        .add(layer("guides", "Base line, centre line, middle of the field", GUIDE, FINE_MM).add_all(guides))
        .add(
            layer("placement", "Placement lines: the drawn edge", INK, LINE_MM)
                .add_all(lines(|p| &p.placement)),
        )
        .add(
            layer("tack-down", "Tack-down lines", TACK, FINE_MM)
                .set("stroke-dasharray", "2 1")
                .add_all(lines(|p| &p.tack_down)),
        )
        .add(layer("mark", "Marks", MARK, LINE_MM).set("stroke-linecap", "round").add_all(marks))
        .add(
            layer("lettering", "Names, not to be sewn", GUIDE, LINE_MM)
                .set("stroke-linecap", "round")
                .add_all(names),
        );
    format!("{page}\n")
}

/// The arms of a cross.
pub(super) fn cross(at: Point) -> [[Point; 2]; 2] {
    [[at - pt(CROSS_MM, 0.0), at + pt(CROSS_MM, 0.0)], [at - pt(0.0, CROSS_MM), at + pt(0.0, CROSS_MM)]]
}

/// The base line and the centre line where they cross the field, and a cross in its middle.
pub(super) fn guides(sewing: &PlanSewing, hooping: &PlanHooping) -> Vec<[Point; 2]> {
    let [x0, y0, x1, y1] = hooping.field;
    let mut lines = cross(pt((x0 + x1) / 2.0, (y0 + y1) / 2.0)).to_vec();
    let (base, centre) = (sewing.base_line_y, sewing.centre_line_x);
    if (y0..=y1).contains(&base) {
        lines.push([pt(x0, base), pt(x1, base)]);
    }
    if (x0..=x1).contains(&centre) {
        lines.push([pt(centre, y0), pt(centre, y1)]);
    }
    lines
}

/// The middles of a hooping's marks.
pub(super) fn crosses(hooping: &PlanHooping) -> Vec<Point> {
    hooping.marks.iter().map(|m| pt(m.at[0], m.at[1])).collect()
}

/// The edges, as drawn, of pieces whose lines are not all sewn here, as far as they lie in the field: what is sewn here belongs
/// to them, or lies beside them.
pub(super) fn elsewhere(plan: &Plan, hooping: &PlanHooping) -> Vec<Vec<Point>> {
    let [x0, y0, x1, y1] = hooping.field;
    let field = Bounds::new(pt(x0, y0), pt(x1, y1));
    let whole = |p: &PlanPiece| hooping.pieces.iter().any(|s| s.whole && s.piece == p.id);
    let mut edges = Vec::new();
    for piece in plan.pieces.iter().filter(|p| p.copy == 1 && !whole(p)) {
        for ring in std::iter::once(&piece.drawn.outline).chain(&piece.drawn.cutouts) {
            let ring = Ring::from_pairs(ring);
            if ring.bounds().meets(field) {
                edges.extend(within(&ring, field));
            }
        }
    }
    edges
}

/// The stretches of a ring that lie in a box.
fn within(ring: &Ring, field: Bounds) -> Vec<Vec<Point>> {
    let mut stretches: Vec<Vec<Point>> = Vec::new();
    let mut last: Option<Point> = None;
    for (a, b) in ring.sides() {
        let Some((low, high)) = shares_within(field, a, b) else {
            last = None;
            continue;
        };
        let (from, to) = (lerp(a, b, low), lerp(a, b, high));
        match stretches.last_mut().filter(|_| low == 0.0 && last == Some(a)) {
            Some(stretch) => stretch.push(to),
            None => stretches.push(vec![from, to]),
        }
        last = (high == 1.0).then_some(b);
    }
    stretches
}

/// Where a side enters and leaves a box, as shares of it (Liang and Barsky, 1984); `None` when it does not enter.
fn shares_within(b: Bounds, a: Point, c: Point) -> Option<(f64, f64)> {
    let v = c - a;
    let (mut low, mut high) = (0.0f64, 1.0f64);
    for (start, way, min, max) in [(a.x, v.x, b.min.x, b.max.x), (a.y, v.y, b.min.y, b.max.y)] {
        if way == 0.0 {
            if start < min || start > max {
                return None;
            }
            continue;
        }
        let (s, t) = ((min - start) / way, (max - start) / way);
        low = low.max(s.min(t));
        high = high.min(s.max(t));
    }
    (low < high).then_some((low, high))
}

/// Where the name of a piece may stand, the best first: inside it, in the field, off the crosses, near the lines that are sewn
/// here; else anywhere in its part of the field.
pub(super) fn name_rooms(piece: &PlanPiece, sewn: &PlanSewn, hooping: &PlanHooping) -> Vec<Region> {
    let Some(seen) = seen(piece, hooping.field) else { return Vec::new() };
    let [x0, y0, x1, y1] = hooping.field;
    let middle = pt((x0 + x1) / 2.0, (y0 + y1) / 2.0);
    let off = |at: Point| Region::rectangle(Bounds::new(at, at).grown(OFF_CROSS_MM));
    let off: Vec<Region> = crosses(hooping).into_iter().chain([middle]).map(off).collect();
    let largest = |parts: Vec<Region>| parts.into_iter().max_by(|a, b| a.area().total_cmp(&b.area()));
    let lines = Bounds::of(sewn.placement.iter().flat_map(|l| &l.path).map(|p| pt(p[0], p[1])));
    let near = Region::rectangle(lines.grown(NEAR_LINES_MM));
    let clear = booleans::difference(std::slice::from_ref(&seen), &off);
    let beside = (!lines.is_empty()).then(|| largest(booleans::intersection(&clear, &[near]))).flatten();
    beside.into_iter().chain(largest(clear)).chain([seen]).collect()
}

/// The largest part of a piece as drawn that lies in the field.
fn seen(piece: &PlanPiece, [x0, y0, x1, y1]: [f64; 4]) -> Option<Region> {
    let ring = |pairs: &[Pair]| Ring::from_pairs(pairs);
    let drawn =
        Region::new(ring(&piece.drawn.outline), piece.drawn.cutouts.iter().map(|c| ring(c)).collect());
    let field = Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)));
    let parts = booleans::intersection(&[drawn], &[field]);
    parts.into_iter().max_by(|a, b| a.area().total_cmp(&b.area()))
}

/// From the drawing to the sheet: y runs down from the top of the field.
struct View {
    left: f64,
    top: f64,
}

impl View {
    fn at(&self, p: Point) -> String {
        format!("{} {}", number(p.x - self.left), number(self.top - p.y))
    }

    fn open(&self, points: &[Point]) -> String {
        let all: Vec<String> = points.iter().map(|p| self.at(*p)).collect();
        format!("M{}", all.join("L"))
    }

    fn path(&self, line: &PlanStitchLine) -> String {
        let points: Vec<Point> = line.path.iter().map(|p| pt(p[0], p[1])).collect();
        self.open(&points) + if line.closed { "Z" } else { "" }
    }

    fn words(&self, text: &str, height: f64, at: Point) -> El {
        let (data, _) = letters::text_path(text, height);
        el("path").set("d", data).set("transform", format!("translate({})", self.at(at)))
    }
}
