//! Cut files as SVG: the bed in millimetres, one layer a kind of line, nothing but paths.

use std::collections::BTreeMap;

use crate::plan::{Pair, PlanPass};
use crate::shape::pt;

use super::colours::{KINDS, LineKind, hex};
use super::keyed::{LETTER_MM, Lettering};
use super::letters;
use super::number::number;
use super::xml::{El, el, picture};

/// Width lines are drawn with, mm: a hairline that still shows on a screen.
const HAIRLINE_MM: f64 = 0.1;

/// A pass as SVG: layers `mark`, `cutout`, `outline` in this order, the burns of each in burn order.
/// `colours` are the job's own, by kind.
pub fn cut_svg(title: &str, pass: &PlanPass, colours: &BTreeMap<String, String>) -> String {
    let mut page = sheet(&format!("{title}: {}, pass {}", pass.cloth, pass.number), pass.bed_mm);
    for kind in KINDS {
        let burns = pass.burns.iter().filter(|b| b.kind == kind.word());
        let paths = burns.map(|b| el("path").set("d", path_data(&b.path, b.closed, pass.bed_mm[1])));
        let layer = layer(kind, colours).add_all(paths);
        if pass.burns.iter().any(|b| b.kind == kind.word()) {
            page = page.add(layer);
        }
    }
    format!("{page}\n")
}

/// The key of a pass as SVG: layer `key`, and layer `lettering` with the pieces' names in strokes.
pub fn key_svg(title: &str, pass: &PlanPass, colours: &BTreeMap<String, String>) -> String {
    let height = pass.bed_mm[1];
    let lines = pass.key.iter().map(|k| el("path").set("d", path_data(&k.path, k.closed, height)));
    let names = super::keyed::lettering(pass).into_iter().map(|Lettering { text, at }| {
        let (data, _) = letters::text_path(&text, LETTER_MM);
        el("path").set("d", data).set("transform", format!("translate({})", flipped(at, height)))
    });
    let page = sheet(&format!("{title}: {}, key of pass {}", pass.cloth, pass.number), pass.bed_mm)
        .add(layer(LineKind::Key, colours).add_all(lines))
        .add(
            layer(LineKind::Lettering, colours)
                .set("stroke-linecap", "round")
                .set("stroke-linejoin", "round")
                .add_all(names),
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

/// Path data in the sheet's frame: y runs down from the far edge of the bed.
fn path_data(path: &[Pair], closed: bool, bed_height: f64) -> String {
    let mut data = String::with_capacity(path.len() * 16);
    for (i, &[x, y]) in path.iter().enumerate() {
        data.push(if i == 0 { 'M' } else { 'L' });
        data.push_str(&flipped(pt(x, y), bed_height));
    }
    if closed {
        data.push('Z');
    }
    data
}

fn flipped(p: crate::shape::Point, bed_height: f64) -> String {
    format!("{} {}", number(p.x), number(bed_height - p.y))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    #[test]
    fn layers_stand_in_burn_order_and_hold_nothing_but_paths() {
        let plan = sample_plan();
        let file = cut_svg(&plan.title, &plan.passes[0], &BTreeMap::new());
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
        assert!(cut_svg("", &plan.passes[0], &chosen).contains("stroke=\"#123456\""));
        assert!(!cut_svg("", &plan.passes[0], &BTreeMap::new()).contains("#123456"));
    }

    #[test]
    fn a_key_keeps_its_names_apart_from_its_lines() {
        let plan = sample_plan();
        let file = key_svg(&plan.title, &plan.passes[1], &BTreeMap::new());
        let read = usvg::roxmltree::Document::parse(&file).unwrap();
        let layers: Vec<_> = read.root_element().children().filter_map(|n| n.attribute("id")).collect();
        assert_eq!(layers, ["key", "lettering"]);
    }
}
