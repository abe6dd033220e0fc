//! A hooping as SVG in full size: the field in millimetres, one layer a kind of line.

use crate::plan::{Pair, Plan, PlanHooping, PlanPiece, PlanSewing, PlanStitchLine};
use crate::shape::{Bounds, Point, Region, Ring, booleans, pt};

use super::letters;
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

/// The field of a hooping from above, the face up, as it lies in the drawing.
pub(super) fn hooping_svg(plan: &Plan, sewing: &PlanSewing, hooping: &PlanHooping) -> String {
    let [x0, y0, x1, y1] = hooping.field;
    let view = View { left: x0, top: y1 };
    let title = format!("{}: hooping {} of {}", plan.title, hooping.number, sewing.hoopings.len());
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
    let marks = hooping.marks.iter().flat_map(|m| {
        let at = pt(m.at[0], m.at[1]);
        let name = view.words(&m.name, 3.0, at + pt(CROSS_MM, CROSS_MM * 0.5));
        cross(at).map(|arm| el("path").set("d", view.open(&arm))).into_iter().chain([name])
    });
    let names = hooping.pieces.iter().filter_map(|sewn| {
        let piece = plan.pieces.iter().find(|p| p.id == sewn.piece)?;
        let seen = seen(piece, hooping.field)?;
        let number = sewn.order.to_string();
        let label = labels::inside(&seen, &[&format!("{number} {}", sewn.piece), &number], &NAMES_MM)?;
        Some(view.words(&label.text, label.size * 0.72, label.at))
    });
    let page = picture(x1 - x0, y1 - y0, "mm")
        .add(el("title").text(&title))
        .add(layer("border", "Border area", BORDER, sewing.border_mm).add_all(lines(|p| &p.border)))
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

/// The largest part of a piece as drawn that lies in the field.
pub(super) fn seen(piece: &PlanPiece, [x0, y0, x1, y1]: [f64; 4]) -> Option<Region> {
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
