//! What to do in each pass, with its map.

use std::collections::BTreeMap;

use crate::job::{Cutter, Home, Job};
use crate::plan::{Plan, PlanPass, ToMeasure};
use crate::shape::{Affine, Point, Ring};
use crate::write::report::html::{coordinate, length, time};
use crate::write::report::passes::{concerns, day};

use super::book::{Book, TO_WRITE, column};
use super::steps::{burns, lies};
use super::view::point;
use super::{bed_map, bridges, pegs, steps};

/// Hanging over by less than this is not worth a word, mm.
const HANGS: f64 = 1.0;

/// A page or more for every pass. `stems` are the cut files' stems by cloth.
pub(super) fn passes(book: &mut Book, job: &Job, plan: &Plan, stems: &BTreeMap<String, String>) {
    for pass in &plan.passes {
        let stem = stems.get(&pass.cloth).map_or("cloth", String::as_str);
        one(book, &job.cutter, plan, pass, stem);
    }
}

/// The map may be made smaller by so much, as a share of it, where that saves a page.
const SMALLER: f64 = 0.25;
/// A last page filled no higher than this, as a share of a page, is worth saving.
const HARDLY_FILLED: f64 = 0.3;

/// How the pages of a pass are filled.
#[derive(Clone, Copy)]
struct Layout {
    /// Height of the map.
    map: f64,
    /// True when what is to be done begins a page.
    steps_apart: bool,
}

fn one(book: &mut Book, cutter: &Cutter, plan: &Plan, pass: &PlanPass, stem: &str) {
    let before = book.pages();
    let inside = book.inside();
    let pivots = steps::pivots(plan, pass);
    let map = bed_map::height(inside.width(), pass.bed_mm).clamp(60.0, inside.height() * 0.58);
    let plain = Layout { map, steps_apart: false };
    filled(book, cutter, plan, pass, (stem, &pivots), plain);
    let (pages, used) = (book.pages(), inside.height() - book.left());
    if pages < before + 2 || used > HARDLY_FILLED * inside.height() {
        return;
    }
    // A page with a few lines of a table on it is pulled up under a map that is a little smaller; else it takes the steps too.
    let most = map * SMALLER;
    for smaller in [used.min(most), most] {
        book.rewind(before);
        filled(book, cutter, plan, pass, (stem, &pivots), Layout { map: map - smaller, ..plain });
        if book.pages() < pages {
            return;
        }
    }
    book.rewind(before);
    filled(book, cutter, plan, pass, (stem, &pivots), Layout { steps_apart: true, ..plain });
}

fn filled(
    book: &mut Book,
    cutter: &Cutter,
    plan: &Plan,
    pass: &PlanPass,
    (stem, pivots): (&str, &[ToMeasure]),
    layout: Layout,
) {
    let of = plan.passes.iter().filter(|p| p.cloth == pass.cloth).count();
    let section = format!("{}: pass {} of {of}", pass.cloth, pass.number);
    book.start(&section);
    let pegs = pegs::pegs(plan, pass, pivots);
    let room = book.room(layout.map);
    let told = bed_map::map(book.page(), room, plan, pass, cutter, (&pegs, pivots));
    captions(book, &told, pass, pivots);
    if let Some(on) = &pass.cut_on {
        book.paragraph("Is cut", &format!("As recorded {}. Nothing is left to do here.", day(on)));
    }
    let t = &pass.time;
    let mut facts = vec![
        ("Burns", burns(pass)),
        ("Cut", length(pass.cut_length_mm)),
        ("Travel", length(pass.travel_length_mm)),
        ("Cloth lies", lies(cutter).to_owned()),
        ("Hangs over", hangs(plan, pass)),
    ];
    let leads = pass.burns.iter().filter(|b| b.lead_in.is_some()).count();
    if leads > 0 {
        facts.push((
            "Lead-ins",
            if leads == 1 {
                "1 burn begins in the waste and runs onto its line".into()
            } else {
                format!("{leads} burns begin in the waste and run onto their line")
            },
        ));
    }
    if !pass.bridges.is_empty() {
        facts.push(("Bridges", format!("{} left uncut, listed below", pass.bridges.len())));
    }
    book.paragraph(
        "Time",
        &format!(
            "about {} on the cutter ({} cutting, {} moving, {} starting burns), and {} to lay the cloth and take it off",
            time(pass.seconds),
            time(t.cut_s),
            time(t.travel_s),
            time(t.start_up_s),
            time(t.handling_s)
        ),
    );
    book.facts(&facts);
    if !pass.verdict.is_empty() {
        book.paragraph("Joints", &pass.verdict);
    }
    for note in plan.notes.iter().filter(|n| concerns(n, pass)) {
        let text = format!("{}: {}", note.about, note.text);
        book.paragraph(if note.level == crate::say::Level::Caution { "Caution" } else { "Advice" }, &text);
    }
    if pass.cut_on.is_none() {
        if layout.steps_apart {
            book.start(&section);
        }
        book.heading("To do");
        let steps = steps::steps(plan, pass, cutter, stem, (&pegs, pivots));
        let marked: Vec<(String, String)> = (1..).map(|k: usize| k.to_string()).zip(steps).collect();
        book.steps(&marked);
    }
    measured(book, plan, pass, pivots);
    if cutter.home != Home::NearLeft && !(pass.marks.is_empty() && pivots.is_empty()) {
        book.paragraph("", &format!(
            "Here x counts from the left edge of the bed to the right and y away from you; the cutter counts from the {}.",
            cutter.home.words()
        ));
    }
    bridges::list(book, plan, pass);
    joints(book, pass);
}

/// What the signs on the map mean, and the names it had no room for.
fn captions(book: &mut Book, told: &bed_map::Told, pass: &PlanPass, pivots: &[ToMeasure]) {
    let mut text = format!(
        "The bed from above, you at its near edge, 1 : {:.1}. Dark lines are burnt in this pass; circles are spots to hold the cloth down.",
        1.0 / told.scale
    );
    for (there, says) in [
        (!pass.key.is_empty(), " Broad green: the key."),
        (!pass.joints.is_empty(), " Brown diamonds: joints."),
        (!pass.bridges.is_empty(), " Small squares: bridges."),
        (!pivots.is_empty(), " Slanting crosses: pivots to measure."),
    ] {
        text += if there { says } else { "" };
    }
    book.caption(&text);
    if !told.by_number.is_empty() {
        let names: Vec<String> = told.by_number.iter().map(|(n, name)| format!("{n} {name}")).collect();
        book.caption(&format!("By number: {}.", names.join(" · ")));
    }
    if !told.by_place.is_empty() {
        let one = |(n, name, at): &(usize, String, Point)| format!("{n} {name} at {:.0}, {:.0}", at.x, at.y);
        let names: Vec<String> = told.by_place.iter().map(one).collect();
        book.caption(&format!(
            "Too fine for a number, by their place on the bed (x, y): {}.",
            names.join(" · ")
        ));
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

/// What is measured on the cloth: pivots of its pattern, marks.
fn measured(book: &mut Book, plan: &Plan, pass: &PlanPass, pivots: &[ToMeasure]) {
    if !pivots.is_empty() {
        let boxes = [TO_WRITE, TO_WRITE].map(str::to_owned);
        let row = |p: &ToMeasure| {
            [p.name.clone()].into_iter().chain(p.bed.map(coordinate)).chain(boxes.clone()).collect()
        };
        let rows: Vec<Vec<String>> = pivots.iter().map(row).collect();
        let columns = [
            column("Pivot", 2.4, false),
            column("planned x", 1.4, true),
            column("planned y", 1.4, true),
            column("measured x", 1.9, true),
            column("measured y", 1.9, true),
        ];
        book.table_under("Pivots to measure, on the bed", &columns, &rows);
    }
    if pass.marks.is_empty() {
        return;
    }
    let corrected = steps::lies_already(plan, pass);
    let rows: Vec<Vec<String>> = pass
        .marks
        .iter()
        .map(|m| {
            let [x, y] = m.bed.map(coordinate);
            let (what, [mx, my]) = match (m.burnt_here, m.measured) {
                (true, _) => ("burnt now", ["–".to_owned(), "–".to_owned()]),
                (false, Some(at)) if m.left_out => ("left out", at.map(coordinate)),
                (false, Some(at)) => ("measured", at.map(coordinate)),
                (false, None) if corrected => ("not measured", ["–".to_owned(), "–".to_owned()]),
                (false, None) => ("find again", [TO_WRITE.to_owned(), TO_WRITE.to_owned()]),
            };
            vec![m.name.clone(), what.into(), x, y, mx, my]
        })
        .collect();
    let [x, y] = if corrected { ["corrected x", "corrected y"] } else { ["planned x", "planned y"] };
    let columns = [
        column("Mark", 1.0, false),
        column("", 1.4, false),
        column(x, 1.4, true),
        column(y, 1.4, true),
        column("measured x", 1.9, true),
        column("measured y", 1.9, true),
    ];
    book.table_under("Marks, on the bed", &columns, &rows);
    if pass.marks.iter().any(|m| m.left_out) {
        book.caption(
            "Left out: its reading disagreed with the others, and the pass is corrected without it.",
        );
    }
}

fn joints(book: &mut Book, pass: &PlanPass) {
    if pass.joints.is_empty() {
        return;
    }
    let map = Affine(pass.cloth_to_bed);
    let rows: Vec<Vec<String>> = pass
        .joints
        .iter()
        .map(|j| {
            let at = map.apply(point(j.cloth));
            let key = j.key_step_mm.map_or("–".into(), |[s, most]| format!("{s:.2}, {most:.2}"));
            let name = if j.copy > 1 { format!("{} ({})", j.piece, j.copy) } else { j.piece.clone() };
            vec![
                name,
                if j.ring == 0 { "outline".into() } else { format!("cut-out {}", j.ring) },
                coordinate(at.x),
                coordinate(at.y),
                format!("{:.1}", j.overlap_mm),
                format!("{:.2}, {:.2}", j.expected_step_mm, j.step_95_mm),
                key,
                j.verdict.clone(),
            ]
        })
        .collect();
    let columns = [
        column("Piece", 2.4, false),
        column("Edge", 1.2, false),
        column("bed x", 1.0, true),
        column("bed y", 1.0, true),
        column("overlap", 1.0, true),
        column("step, marks", 1.4, true),
        column("step, key", 1.3, true),
        column("Verdict", 1.2, false),
    ];
    book.table_under("Joints", &columns, &rows);
    book.caption("Step between the two cuts with marks measured, and with the key alone: to expect (root mean square), and what 95 of 100 stay within. The verdict is for marks measured: whether the border stitching hides the step.");
}
