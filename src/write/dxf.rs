//! Cut files as DXF, release 12: the oldest form every reader knows.
//!
//! Lines are POLYLINE entities with VERTEX entities up to SEQEND, in millimetres, bed frame, y up, on
//! layers of their kind; arcs are bulges (the tangent of a quarter of the angle) of the vertex they leave. Group codes after the *DXF Reference* for release 12 (AC1009). The format itself
//! carries no unit in that release; `$INSUNITS` is written for the newer readers that look for it.

use std::collections::BTreeMap;

use crate::job::Cutter;
use crate::plan::{Pair, PlanPass};
use crate::shape::Point;

use super::colours::{LineKind, dxf_number};
use super::cut_lines::{CutLine, layers};
use super::keyed::{LETTER_MM, Lettering};
use super::letters;
use super::number::number;

/// A pass as DXF: a layer a kind in the cutter's order, the burns of each in burn order.
pub fn cut_dxf(pass: &PlanPass, lines: &[CutLine], cutter: &Cutter) -> String {
    let order = layers(cutter);
    let mut file = Dxf::begin(pass.bed_mm, &order, &cutter.colours);
    for kind in order {
        lines.iter().filter(|l| l.kind == kind).for_each(|l| file.line(l));
    }
    file.end()
}

/// The key of a pass as DXF: layers `KEY`, and `LETTERING` with the pieces' names in strokes.
pub fn key_dxf(pass: &PlanPass, lines: &[CutLine], cutter: &Cutter) -> String {
    let mut file = Dxf::begin(pass.bed_mm, &[LineKind::Key, LineKind::Lettering], &cutter.colours);
    lines.iter().for_each(|l| file.line(l));
    let lettering = super::keyed::lettering(pass);
    for stroke in super::keyed::signs(pass, &lettering) {
        file.polyline(LineKind::Lettering, stroke.iter().map(|p| (*p, 0.0)), false);
    }
    for Lettering { text, at } in lettering {
        for stroke in letters::strokes(&text, LETTER_MM).0 {
            file.polyline(LineKind::Lettering, stroke.iter().map(|p| (*p + at, 0.0)), false);
        }
    }
    file.end()
}

/// A DXF file being written.
struct Dxf(String);

impl Dxf {
    fn begin(bed: Pair, kinds: &[LineKind], colours: &BTreeMap<String, String>) -> Dxf {
        let mut f = Dxf(String::new());
        f.text(0, "SECTION").text(2, "HEADER");
        // A comment: readers pass over group 999. Not before the section, by which files of this kind are known.
        f.text(999, crate::PROGRAM);
        f.text(9, "$ACADVER").text(1, "AC1009");
        f.text(9, "$INSUNITS").text(70, "4");
        f.text(9, "$MEASUREMENT").text(70, "1");
        f.text(9, "$EXTMIN").real(10, 0.0).real(20, 0.0).real(30, 0.0);
        f.text(9, "$EXTMAX").real(10, bed[0]).real(20, bed[1]).real(30, 0.0);
        f.text(9, "$LIMMIN").real(10, 0.0).real(20, 0.0);
        f.text(9, "$LIMMAX").real(10, bed[0]).real(20, bed[1]);
        f.text(0, "ENDSEC");
        f.text(0, "SECTION").text(2, "TABLES");
        f.text(0, "TABLE").text(2, "LTYPE").text(70, "1");
        f.text(0, "LTYPE").text(2, "CONTINUOUS").text(70, "0").text(3, "Solid line").text(72, "65");
        f.text(73, "0").real(40, 0.0);
        f.text(0, "ENDTAB");
        f.text(0, "TABLE").text(2, "LAYER").text(70, &(kinds.len() + 1).to_string());
        f.layer("0", 7);
        for kind in kinds {
            f.layer(&name(*kind), dxf_number(kind.rgb(colours)));
        }
        f.text(0, "ENDTAB").text(0, "ENDSEC");
        f.text(0, "SECTION").text(2, "ENTITIES");
        f
    }

    fn end(mut self) -> String {
        self.text(0, "ENDSEC").text(0, "EOF");
        self.0
    }

    fn layer(&mut self, name: &str, colour: u8) {
        self.text(0, "LAYER").text(2, name).text(70, "0").text(62, &colour.to_string()).text(6, "CONTINUOUS");
    }

    fn line(&mut self, line: &CutLine) {
        // A vertex carries the bulge of the step that leaves it; a closed line goes back to its first by itself.
        let leaving = line.course.steps.iter().map(|s| s.bulge).chain([0.0]);
        let at = std::iter::once(line.course.start).chain(line.course.steps.iter().map(|s| s.to));
        let steps = line.course.steps.len();
        let count = if line.closed { steps.max(1) } else { steps + 1 };
        self.polyline(line.kind, at.zip(leaving).take(count), line.closed);
    }

    fn polyline(&mut self, kind: LineKind, path: impl Iterator<Item = (Point, f64)>, closed: bool) {
        let layer = name(kind);
        self.text(0, "POLYLINE").text(8, &layer).text(66, "1").text(70, if closed { "1" } else { "0" });
        self.real(10, 0.0).real(20, 0.0).real(30, 0.0);
        for (p, bulge) in path {
            self.text(0, "VERTEX").text(8, &layer).real(10, p.x).real(20, p.y).real(30, 0.0);
            if bulge != 0.0 {
                // No length but a ratio: three decimals would move a long arc.
                self.text(42, &format!("{bulge:.8}"));
            }
        }
        self.text(0, "SEQEND").text(8, &layer);
    }

    fn text(&mut self, code: u16, value: &str) -> &mut Dxf {
        self.0.push_str(&format!("{code:>3}\n{value}\n"));
        self
    }

    /// Real numbers carry a point, as some readers tell them from whole numbers by it.
    fn real(&mut self, code: u16, value: f64) -> &mut Dxf {
        let mut text = number(value);
        if !text.contains('.') {
            text.push_str(".0");
        }
        self.text(code, &text)
    }
}

/// A layer's name: capitals, ASCII, well under release 12's limit of 31 signs.
fn name(kind: LineKind) -> String {
    kind.word().to_uppercase()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;
    use crate::write::{key_lines, pass_lines};

    #[test]
    fn arcs_are_bulges_and_the_header_says_millimetres() {
        let plan = sample_plan();
        let cutter = Cutter::default();
        let file = cut_dxf(&plan.passes[0], &pass_lines(&plan.passes[0], &cutter), &cutter);
        assert!(file.contains("$ACADVER\n  1\nAC1009\n") && file.contains("$INSUNITS\n 70\n4\n"));
        assert!(file.contains("\n 42\n"));
        let places: Vec<usize> = ["MARK", "CUTOUT", "OUTLINE"]
            .map(|l| file.find(&format!("POLYLINE\n  8\n{l}\n")).unwrap())
            .to_vec();
        assert!(places.is_sorted());
    }

    #[test]
    fn a_key_keeps_its_names_on_their_own_layer() {
        let plan = sample_plan();
        let cutter = Cutter::default();
        let file = key_dxf(&plan.passes[1], &key_lines(&plan.passes[1], &cutter), &cutter);
        assert_eq!(file.matches("POLYLINE\n  8\nKEY\n").count(), plan.passes[1].key.len());
        assert!(file.contains("POLYLINE\n  8\nLETTERING\n"));
    }
}
