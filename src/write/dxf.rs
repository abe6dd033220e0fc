//! Cut files as DXF, release 12: the oldest form every reader knows.
//!
//! Lines are POLYLINE entities with VERTEX entities up to SEQEND, in millimetres, bed frame, y up, on
//! layers of their kind. Group codes after the *DXF Reference* for release 12 (AC1009). The format itself
//! carries no unit in that release; `$INSUNITS` is written for the newer readers that look for it.

use std::collections::BTreeMap;

use crate::plan::{Pair, PlanPass};

use super::colours::{KINDS, LineKind, dxf_number};
use super::keyed::{LETTER_MM, Lettering};
use super::letters;
use super::number::number;

/// A pass as DXF: layers `MARK`, `CUTOUT`, `OUTLINE`, the burns of each in burn order.
pub fn cut_dxf(pass: &PlanPass, colours: &BTreeMap<String, String>) -> String {
    let mut file = Dxf::begin(pass.bed_mm, &KINDS, colours);
    for kind in KINDS {
        for burn in pass.burns.iter().filter(|b| b.kind == kind.word()) {
            file.polyline(kind, burn.path.iter().copied(), burn.closed);
        }
    }
    file.end()
}

/// The key of a pass as DXF: layers `KEY`, and `LETTERING` with the pieces' names in strokes.
pub fn key_dxf(pass: &PlanPass, colours: &BTreeMap<String, String>) -> String {
    let mut file = Dxf::begin(pass.bed_mm, &[LineKind::Key, LineKind::Lettering], colours);
    for line in &pass.key {
        file.polyline(LineKind::Key, line.path.iter().copied(), line.closed);
    }
    for Lettering { text, at } in super::keyed::lettering(pass) {
        for stroke in letters::strokes(&text, LETTER_MM).0 {
            file.polyline(LineKind::Lettering, stroke.iter().map(|p| [p.x + at.x, p.y + at.y]), false);
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

    fn polyline(&mut self, kind: LineKind, path: impl Iterator<Item = Pair>, closed: bool) {
        let layer = name(kind);
        self.text(0, "POLYLINE").text(8, &layer).text(66, "1").text(70, if closed { "1" } else { "0" });
        self.real(10, 0.0).real(20, 0.0).real(30, 0.0);
        for [x, y] in path {
            self.text(0, "VERTEX").text(8, &layer).real(10, x).real(20, y).real(30, 0.0);
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

    type Line = (String, bool, Vec<Pair>);

    /// A reader of its own: pairs of lines, entities only.
    fn read(file: &str) -> (BTreeMap<String, String>, Vec<Line>) {
        let lines: Vec<&str> = file.lines().collect();
        assert_eq!(lines.len() % 2, 0);
        let pairs: Vec<(i32, &str)> = lines.chunks(2).map(|p| (p[0].trim().parse().unwrap(), p[1])).collect();
        let mut header = BTreeMap::new();
        let mut found: Vec<Line> = Vec::new();
        let mut entity = "";
        for (i, &(code, value)) in pairs.iter().enumerate() {
            match (code, entity) {
                (9, _) => {
                    header.insert(value.to_owned(), pairs[i + 1].1.to_owned());
                }
                (0, _) => {
                    entity = value;
                    if value == "POLYLINE" {
                        found.push((String::new(), false, Vec::new()));
                    }
                }
                (8, "POLYLINE") => found.last_mut().unwrap().0 = value.into(),
                (70, "POLYLINE") => found.last_mut().unwrap().1 = value == "1",
                (10, "VERTEX") => {
                    let (code, y) = pairs[i + 1];
                    assert_eq!(code, 20);
                    found.last_mut().unwrap().2.push([value.parse().unwrap(), y.parse().unwrap()]);
                }
                _ => {}
            }
        }
        (header, found)
    }

    #[test]
    fn a_pass_reads_back_line_by_line_within_a_micron() {
        let plan = sample_plan();
        for pass in &plan.passes {
            let (header, found) = read(&cut_dxf(pass, &BTreeMap::new()));
            assert_eq!(header["$ACADVER"], "AC1009");
            assert_eq!(header["$INSUNITS"], "4");
            let mut expected: Vec<_> = pass.burns.iter().collect();
            expected.sort_by_key(|b| KINDS.iter().position(|k| k.word() == b.kind));
            assert_eq!(found.len(), expected.len());
            for (line, burn) in found.iter().zip(expected) {
                assert_eq!(line.0, burn.kind.to_uppercase());
                assert_eq!(line.1, burn.closed);
                assert_eq!(line.2.len(), burn.path.len());
                for (p, q) in line.2.iter().zip(&burn.path) {
                    assert!((p[0] - q[0]).abs() <= 0.00051 && (p[1] - q[1]).abs() <= 0.00051, "{p:?} {q:?}");
                }
            }
        }
    }

    #[test]
    fn a_key_keeps_its_names_on_their_own_layer() {
        let plan = sample_plan();
        let (_, found) = read(&key_dxf(&plan.passes[1], &BTreeMap::new()));
        assert_eq!(found.iter().filter(|l| l.0 == "KEY").count(), plan.passes[1].key.len());
        assert!(found.iter().any(|l| l.0 == "LETTERING"));
    }
}
