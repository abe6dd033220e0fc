//! What to do in each pass, with its map.

use std::collections::BTreeMap;

use crate::job::{Cutter, Face, Job};
use crate::plan::{Plan, PlanPass};
use crate::shape::{Affine, Bounds, Point, Ring};
use crate::write::report::html::{coordinate, length, time};
use crate::write::report::passes::concerns;

use super::book::{Book, TO_WRITE, column};
use super::view::point;
use super::{bed_map, pegs};

/// Hanging over by less than this is not worth a word, mm.
const HANGS: f64 = 1.0;

/// A page or more for every pass. `stems` are the cut files' stems by cloth.
pub(super) fn passes(book: &mut Book, job: &Job, plan: &Plan, stems: &BTreeMap<String, String>) {
    for pass in &plan.passes {
        let stem = stems.get(&pass.cloth).map_or("cloth", String::as_str);
        one(book, &job.cutter, plan, pass, stem);
    }
}

fn one(book: &mut Book, cutter: &Cutter, plan: &Plan, pass: &PlanPass, stem: &str) {
    let of = plan.passes.iter().filter(|p| p.cloth == pass.cloth).count();
    book.start(&format!("{}: pass {} of {of}", pass.cloth, pass.number));
    let pegs = pegs::pegs(plan, pass);
    let inside = book.inside();
    let share = pass.bed_mm[1] / pass.bed_mm[0].max(1e-3);
    let share = if share.is_finite() { share } else { 1.0 };
    let room = book.room(((inside.width() - 54.0) * share + 12.0).clamp(60.0, inside.height() * 0.55));
    let (scale, lost) = bed_map::map(book.page(), room, plan, pass, cutter, &pegs);
    let mut caption = format!(
        "The bed from above, you at its near edge, 1 : {:.1}. Dark lines are burnt in this pass; broad green is the key; circles are spots to hold the cloth down.",
        1.0 / scale
    );
    if lost > 0 {
        caption +=
            &format!(" {lost} small pieces have no room for a name here; their cards tell them apart.");
    }
    book.caption(&caption);
    let count = |kind: &str| pass.burns.iter().filter(|b| b.kind == kind).count();
    book.facts(&[
        ("Time, estimated", time(pass.seconds)),
        (
            "Burns",
            format!(
                "{} outlines, {} cut-outs, {} lines of marks",
                count("outline"),
                count("cutout"),
                count("mark")
            ),
        ),
        ("Cut", length(pass.cut_length_mm)),
        ("Travel", length(pass.travel_length_mm)),
        ("Cloth lies", lies(cutter).to_owned()),
        ("Hangs over", hangs(plan, pass)),
    ]);
    for note in plan.notes.iter().filter(|n| concerns(n, pass)) {
        let text = format!("{}: {}", note.about, note.text);
        book.paragraph(if note.level == crate::say::Level::Caution { "Caution" } else { "Advice" }, &text);
    }
    book.heading("To do");
    for (i, step) in steps(pass, cutter, stem, &pegs).iter().enumerate() {
        book.paragraph(&format!("{}", i + 1), step);
    }
    marks(book, pass);
    joints(book, pass);
}

fn lies(cutter: &Cutter) -> &'static str {
    match cutter.cloth_face {
        Face::Up => "face up",
        Face::Down => "face down, back towards the beam",
    }
}

/// Over which sides of the bed the cloth hangs, and by how much.
fn hangs(plan: &Plan, pass: &PlanPass) -> String {
    let Some(cloth) = plan.cloths.iter().find(|c| c.name == pass.cloth) else { return "not known".into() };
    let map = Affine(pass.cloth_to_bed);
    let b = Ring { points: cloth.outline.iter().map(|&p| map.apply(point(p))).collect() }.bounds();
    let [w, h] = pass.bed_mm;
    let sides = [("left", -b.min.x), ("right", b.max.x - w), ("near", -b.min.y), ("far", b.max.y - h)];
    let over: Vec<String> = sides
        .iter()
        .filter(|(_, by)| *by > HANGS)
        .map(|(side, by)| format!("{side} side {by:.0} mm"))
        .collect();
    if over.is_empty() { "nowhere".into() } else { over.join(", ") }
}

fn spots(points: &[Point]) -> String {
    let one = |(i, p): (usize, &Point)| format!("{} at {:.0}, {:.0}", i + 1, p.x, p.y);
    points.iter().enumerate().map(one).collect::<Vec<_>>().join("; ")
}

fn steps(pass: &PlanPass, cutter: &Cutter, stem: &str, pegs: &[Point]) -> Vec<String> {
    let n = pass.number;
    let names = |burnt: bool| -> String {
        let all: Vec<&str> =
            pass.marks.iter().filter(|m| m.burnt_here == burnt).map(|m| m.name.as_str()).collect();
        all.join(", ")
    };
    let mut steps = Vec::new();
    if !pass.key.is_empty() {
        let b = Bounds::of(pass.key.iter().flat_map(|k| &k.path).map(|&p| point(p)));
        steps.push(format!(
            "Key: cut it from paper or stitch backing with cut/{stem}-pass-{n}-key.svg or .dxf and leave it on the bed, pegged outside its lines, which reach from {:.0}, {:.0} to {:.0}, {:.0}.",
            b.min.x, b.min.y, b.max.x, b.max.y
        ));
    }
    let into = if pass.key.is_empty() { "" } else { ", its cut edges in the outlines of the key" };
    steps.push(format!(
        "Lay the cloth flat and without tension, {}{into}. Carry what hangs over so that it does not pull.",
        lies(cutter)
    ));
    if pegs.is_empty() {
        steps.push(
            "There is no spot clear of all burns to hold the cloth down: hold it by its overhang.".into(),
        );
    } else {
        steps.push(format!(
            "Hold it down with what the head passes over, at: {} (x, y on the bed, clear of every burn).",
            spots(pegs)
        ));
    }
    if pass.marks.iter().any(|m| !m.burnt_here) {
        steps.push(format!(
            "Realign: measure where marks {} lie on the bed, write it into the table below, and shift and turn the pass to suit before cutting.",
            names(false)
        ));
    }
    steps.push(format!(
        "Cut cut/{stem}-pass-{n}.svg or .dxf: marks first, then cut-outs, then outlines. Stay with it."
    ));
    if pass.marks.iter().any(|m| m.burnt_here) {
        steps.push(format!("See that marks {} are plain before you move the cloth.", names(true)));
    }
    steps
}

fn marks(book: &mut Book, pass: &PlanPass) {
    if pass.marks.is_empty() {
        return;
    }
    book.heading("Marks, on the bed");
    let rows: Vec<Vec<String>> = pass
        .marks
        .iter()
        .map(|m| {
            let [x, y] = m.bed.map(coordinate);
            let (what, field) = if m.burnt_here { ("burnt now", "–") } else { ("find again", TO_WRITE) };
            vec![m.name.clone(), what.into(), x, y, field.into(), field.into()]
        })
        .collect();
    let columns = [
        column("Mark", 1.0, false),
        column("", 1.4, false),
        column("planned x", 1.4, true),
        column("planned y", 1.4, true),
        column("measured x", 1.9, true),
        column("measured y", 1.9, true),
    ];
    book.table(&columns, &rows);
}

fn joints(book: &mut Book, pass: &PlanPass) {
    if pass.joints.is_empty() {
        return;
    }
    book.heading("Joints");
    let map = Affine(pass.cloth_to_bed);
    let rows: Vec<Vec<String>> = pass
        .joints
        .iter()
        .map(|j| {
            let at = map.apply(point(j.cloth));
            vec![
                j.piece.clone(),
                j.copy.to_string(),
                if j.ring == 0 { "outline".into() } else { format!("cut-out {}", j.ring) },
                coordinate(at.x),
                coordinate(at.y),
                format!("{:.1}", j.overlap_mm),
                format!("{:.2}", j.expected_step_mm),
            ]
        })
        .collect();
    let columns = [
        column("Piece", 2.6, false),
        column("copy", 0.8, true),
        column("Edge", 1.5, false),
        column("bed x", 1.1, true),
        column("bed y", 1.1, true),
        column("overlap", 1.1, true),
        column("expected step", 1.6, true),
    ];
    book.table(&columns, &rows);
}
