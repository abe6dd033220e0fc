//! Cut files as SVG: the bed in millimetres, one layer a kind of line, nothing but paths.

use std::collections::BTreeMap;

use crate::burn::arcs::Arc;
use crate::job::Cutter;
use crate::plan::{Pair, PlanPass};

use super::colours::{LineKind, hex};
use super::cut_lines::{CutLine, layers};
use super::keyed::{LETTER_MM, Lettering};
use super::letters;
use super::names::titled;
use super::number::number;
use super::xml::{El, el, picture};

/// Width lines are drawn with, mm: a hairline that still shows on a screen.
const HAIRLINE_MM: f64 = 0.1;

/// How far a reader may be off that takes an arc for cubic curves, as most do, mm.
const AS_CURVES_MM: f64 = 0.001;

/// A pass as SVG: a layer a kind in the cutter's order, the burns of each in burn order.
pub fn cut_svg(title: &str, pass: &PlanPass, lines: &[CutLine], cutter: &Cutter) -> String {
    let mut page = sheet(&titled(title, &format!("{}, pass {}", pass.cloth, pass.number)), pass.bed_mm);
    for kind in layers(cutter) {
        let mut of_kind = lines.iter().filter(|l| l.kind == kind).peekable();
        if of_kind.peek().is_some() {
            let paths = of_kind.map(|l| el("path").set("d", path_data(l, pass.bed_mm[1])));
            page = page.add(layer(kind, &cutter.colours).add_all(paths));
        }
    }
    format!("{page}\n")
}

/// The key of a pass as SVG: layer `key`, and layer `lettering` with the pieces' names in strokes.
pub fn key_svg(title: &str, pass: &PlanPass, lines: &[CutLine], cutter: &Cutter) -> String {
    let height = pass.bed_mm[1];
    let lettering = super::keyed::lettering(pass);
    let signs = super::keyed::signs(pass, &lettering).into_iter().map(|stroke| {
        let points: Vec<String> = stroke.iter().map(|p| flipped(*p, height).to_string()).collect();
        el("path").set("d", format!("M{}", points.join("L")))
    });
    let names = lettering.into_iter().map(|Lettering { text, at }| {
        let (data, _) = letters::text_path(&text, LETTER_MM);
        el("path").set("d", data).set("transform", format!("translate({})", flipped(at, height)))
    });
    let page = sheet(&titled(title, &format!("{}, key of pass {}", pass.cloth, pass.number)), pass.bed_mm)
        .add(
            layer(LineKind::Key, &cutter.colours)
                .add_all(lines.iter().map(|l| el("path").set("d", path_data(l, height)))),
        )
        .add(
            layer(LineKind::Lettering, &cutter.colours)
                .set("stroke-linecap", "round")
                .set("stroke-linejoin", "round")
                .add_all(names.chain(signs)),
        );
    format!("{page}\n")
}

fn sheet(title: &str, bed: Pair) -> El {
    picture(bed[0], bed[1], "mm").add(el("title").text(title))
}

fn layer(kind: LineKind, colours: &BTreeMap<String, String>) -> El {
    el("g")
        .set("id", kind.word())
        .set("fill", "none")
        .set("stroke", hex(kind.rgb(colours)))
        .num("stroke-width", HAIRLINE_MM)
        .add(el("title").text(kind.title()))
}

/// Path data in the sheet's frame: y runs down from the far edge of the bed. Arcs turn by at most half a turn, and
/// what turns counter-clockwise on the bed has sweep flag 0 where y runs down (SVG 2, section 9.3.8).
fn path_data(line: &CutLine, bed_height: f64) -> String {
    let mut data = format!("M{}", flipped(line.course.start, bed_height));
    let steps = line.course.steps.len();
    for (i, arc) in line.course.arcs().enumerate() {
        if arc.bulge == 0.0 {
            // The way back to the start is drawn by Z.
            if !(line.closed && i + 1 == steps) {
                data.push_str(&format!("L{}", flipped(arc.to, bed_height)));
            }
        } else {
            let (radius, sweep) = (number(written_radius(arc)), u8::from(arc.bulge < 0.0));
            for part in parts(arc) {
                data.push_str(&format!("A{radius} {radius} 0 0 {sweep} {}", flipped(part.to, bed_height)));
            }
        }
    }
    if line.closed {
        data.push('Z');
    }
    data
}

/// True for half of a whole circle.
fn is_half_turn(arc: Arc) -> bool {
    arc.bulge.abs() > 0.99
}

/// An arc's radius as it is written. That of a half turn is written a little short: readers make a radius that is too small
/// as large as it must be (SVG 2, appendix B.2.5), which is true to the last figure, while one a thousandth too large
/// would move the centre by a hundred times that.
fn written_radius(arc: Arc) -> f64 {
    let radius = arc.radius();
    if is_half_turn(arc) { ((radius * 1000.0 - 1.0).floor() / 1000.0).max(0.001) } else { radius }
}

/// Halves of a whole circle as they are. Other arcs that a reader which takes each as one cubic curve is off by no more than
/// [`AS_CURVES_MM`]: the best cubic for a quarter turn strays by 0.00027 of the radius, in the sixth power of the angle (M. Goldapp,
/// 'Approximation of circular arcs by cubic polynomials', Computer Aided Geometric Design 8, 1991).
fn parts(arc: Arc) -> Vec<Arc> {
    let mut parts = vec![arc];
    if is_half_turn(arc) {
        return parts;
    }
    let off = |a: &Arc| {
        let quarters = 4.0 * libm::atan(a.bulge.abs()) / std::f64::consts::FRAC_PI_2;
        0.00027 * a.radius() * libm::pow(quarters, 6.0)
    };
    // Thirty-two parts of a half turn are below it for any radius a course has.
    while parts.len() < 32 && parts.first().is_some_and(|a| off(a) > AS_CURVES_MM) {
        parts = parts.iter().flat_map(Arc::halves).collect();
    }
    parts
}

fn flipped(p: crate::shape::Point, bed_height: f64) -> String {
    format!("{} {}", number(p.x), number(bed_height - p.y))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;
    use crate::write::{key_lines, pass_lines};

    fn cut(pass: &PlanPass, cutter: &Cutter) -> String {
        cut_svg("t", pass, &pass_lines(pass, cutter), cutter)
    }

    #[test]
    fn layers_stand_in_burn_order_and_hold_nothing_but_paths() {
        let plan = sample_plan();
        let file = cut(&plan.passes[0], &Cutter::default());
        let read = usvg::roxmltree::Document::parse(&file).unwrap();
        let root = read.root_element();
        assert_eq!(root.attribute("width"), Some("900mm"));
        assert_eq!(root.attribute("viewBox"), Some("0 0 900 600"));
        let layers: Vec<_> = root.children().filter_map(|n| n.attribute("id")).collect();
        assert_eq!(layers, ["mark", "cutout", "outline"]);
        for layer in root.children().filter(|n| n.attribute("id").is_some()) {
            let drawn = layer.children().filter(|n| n.is_element() && n.tag_name().name() != "title");
            assert!(drawn.clone().count() > 0 && drawn.clone().all(|n| n.tag_name().name() == "path"));
        }
        assert!(!file.contains("<text"));
    }

    #[test]
    fn colours_are_the_makers_when_given() {
        let plan = sample_plan();
        let chosen = BTreeMap::from([("outline".to_owned(), "#123456".to_owned())]);
        let own = Cutter { colours: chosen, ..Cutter::default() };
        assert!(cut(&plan.passes[0], &own).contains("stroke=\"#123456\""));
        assert!(!cut(&plan.passes[0], &Cutter::default()).contains("#123456"));
    }

    #[test]
    fn a_key_keeps_its_names_apart_from_its_lines() {
        let plan = sample_plan();
        let file = key_svg(
            "t",
            &plan.passes[1],
            &key_lines(&plan.passes[1], &Cutter::default()),
            &Cutter::default(),
        );
        let read = usvg::roxmltree::Document::parse(&file).unwrap();
        let layers: Vec<_> = read.root_element().children().filter_map(|n| n.attribute("id")).collect();
        assert_eq!(layers, ["key", "lettering"]);
    }
}
