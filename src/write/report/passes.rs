//! The passes in the report: what lies on the bed, what to do, where the marks are.

use std::collections::BTreeMap;

use crate::job::{Cutter, Face};
use crate::plan::{Plan, PlanPass, ToMeasure};
use crate::say::Note;

use crate::write::names::words_for;
use crate::write::sheets::bridges::cut_in;
use crate::write::sheets::steps::{about_pivots, burns, has_code, in_order, lies_already, pivots};

use super::html::{coordinate, esc, facts, figures, length, table, time, words};

/// Every pass, in cutting order. `stems` are the file names' stems by cloth.
pub(super) fn passes(plan: &Plan, cutter: &Cutter, stems: &BTreeMap<String, String>) -> String {
    plan.passes.iter().map(|pass| one(plan, pass, cutter, stems)).collect()
}

fn one(plan: &Plan, pass: &PlanPass, cutter: &Cutter, stems: &BTreeMap<String, String>) -> String {
    let stem = stems.get(&pass.cloth).map_or("", String::as_str);
    let [x0, y0, x1, y1] = pass.window.map(coordinate);
    let mut pairs = vec![
        ("Burns", burns(pass)),
        ("Cut length", length(pass.cut_length_mm)),
        ("Travel", travel(pass)),
        (
            "Time, estimated",
            format!("{}, and {} to lay the cloth", time(pass.seconds), time(pass.time.handling_s)),
        ),
        ("Reach on the cloth", format!("x {x0} to {x1}, y {y0} to {y1} mm")),
    ];
    if !pass.joints.is_empty() {
        let step = pass.joints.iter().map(|j| j.expected_step_mm).fold(0.0, f64::max);
        pairs.push(("Joints", format!("{}, step expected up to {step:.2} mm", pass.joints.len())));
        pairs.push(("Steps", pass.verdict.clone()));
    }
    let mut html = format!(
        "<article class=\"card\">\n<h3>{}, pass {}{}</h3>\n<div class=\"pass\">\n<figure>\n{}\n<figcaption>{}</figcaption>\n</figure>\n<div>\n{}",
        esc(&pass.cloth),
        pass.number,
        pass.cut_on
            .as_deref()
            .map_or(String::new(), |on| format!(" <small>cut, recorded {}</small>", esc(day(on)))),
        super::bed::bed(plan, pass, cutter),
        "The bed from above, you at the near edge. Cloth and pieces in pale, burns in the colours of the cut file, the key as a broad line.",
        facts(&pairs),
    );
    let notes: String = plan.notes.iter().filter(|n| concerns(n, pass)).map(super::item).collect();
    if !notes.is_empty() {
        html.push_str(&format!("<h4>To heed</h4>\n<ul class=\"notes\">\n{notes}</ul>\n"));
    }
    let pivots = pivots(plan, pass);
    if pass.cut_on.is_none() {
        html.push_str("<h4>To do</h4>\n<ol class=\"steps\">\n");
        for step in steps(plan, pass, cutter, stem, &pivots) {
            html.push_str(&format!("<li>{step}</li>\n"));
        }
        html.push_str("</ol>\n");
    }
    html.push_str("</div>\n</div>\n");
    if !pivots.is_empty() {
        let row = |p: &ToMeasure| [p.name.clone()].into_iter().chain(p.bed.map(coordinate)).collect();
        let rows: Vec<Vec<String>> = pivots.iter().map(row).collect();
        let columns = [words("Pivot"), figures("planned bed x"), figures("planned bed y")];
        html.push_str(&table(&format!("Pivots to measure before pass {}, mm", pass.number), &columns, &rows));
    }
    if !pass.marks.is_empty() {
        let corrected = lies_already(plan, pass);
        let rows: Vec<Vec<String>> = pass
            .marks
            .iter()
            .map(|m| {
                let [cx, cy] = m.cloth.map(coordinate);
                let [bx, by] = m.bed.map(coordinate);
                let what = match (m.burnt_here, m.measured) {
                    (true, _) => "burnt in this pass",
                    (false, None) if corrected => "not measured",
                    (false, None) => "find it again",
                    (false, Some(_)) if m.left_out => "measured, but left out: it disagrees with the others",
                    (false, Some(_)) => "measured; the pass is corrected by it",
                };
                let [mx, my] = m.measured.map_or(["–".into(), "–".into()], |at| at.map(coordinate));
                vec![m.name.clone(), cx, cy, bx, by, mx, my, what.into()]
            })
            .collect();
        let columns = [
            words("Mark"),
            figures("cloth x"),
            figures("cloth y"),
            figures("bed x"),
            figures("bed y"),
            figures("measured x"),
            figures("measured y"),
            words("What to do"),
        ];
        html.push_str(&table(&format!("Marks of pass {}, mm", pass.number), &columns, &rows));
    }
    if !pass.bridges.is_empty() {
        let rows: Vec<Vec<String>> = pass
            .bridges
            .iter()
            .map(|b| {
                let copy = if b.copy > 1 { format!(" ({})", b.copy) } else { String::new() };
                let [x, y] = b.bed.map(coordinate);
                let when = match cut_in(plan, pass, b) {
                    n if n == pass.number => "now".into(),
                    n => format!("in pass {n}, not before"),
                };
                vec![format!("{}{copy}", b.piece), x, y, format!("{} mm", b.width_mm), when]
            })
            .collect();
        let columns = [words("Piece"), figures("bed x"), figures("bed y"), figures("wide"), words("Cut it")];
        let title = format!("Bridges of pass {}, to be cut with scissors", pass.number);
        html.push_str(&table(&title, &columns, &rows));
    }
    html.push_str(&budget(pass));
    html + "</article>\n"
}

/// Travel, and what ordering the burns has saved of it.
fn travel(pass: &PlanPass) -> String {
    let plain = pass.plain_travel_mm;
    if plain <= pass.travel_length_mm {
        return length(pass.travel_length_mm);
    }
    let saved = 100.0 * (1.0 - pass.travel_length_mm / plain);
    format!("{}, {saved:.0} % less than piece after piece", length(pass.travel_length_mm))
}

/// How large the step at every joint may come out, marks measured and by the key alone.
fn budget(pass: &PlanPass) -> String {
    if pass.joints.is_empty() {
        return String::new();
    }
    let rows: Vec<Vec<String>> = pass
        .joints
        .iter()
        .map(|j| {
            let [x, y] = j.cloth.map(coordinate);
            let key = |k: usize| j.key_step_mm.map_or("–".into(), |s| format!("{:.2}", s[k]));
            vec![
                j.piece.clone(),
                x,
                y,
                format!("{:.2}", j.expected_step_mm),
                format!("{:.2}", j.step_95_mm),
                key(0),
                key(1),
                j.verdict.clone(),
            ]
        })
        .collect();
    let columns = [
        words("Joint of"),
        figures("cloth x"),
        figures("cloth y"),
        figures("step"),
        figures("95 of 100 within"),
        figures("key alone: step"),
        figures("95 of 100 within"),
        words("With marks measured"),
    ];
    table(&format!("Steps to expect at the joints of pass {}, mm", pass.number), &columns, &rows)
}

/// True when a note is about this pass, or about a piece that is handed over in it.
pub(in crate::write) fn concerns(note: &Note, pass: &PlanPass) -> bool {
    let about = note.about.strip_prefix(pass.cloth.as_str()).and_then(|rest| rest.strip_prefix(", "));
    about.is_some_and(|about| {
        about == format!("pass {}", pass.number)
            || about.strip_prefix("piece ").is_some_and(|name| pass.joints.iter().any(|j| j.piece == name))
    })
}

/// The day of a moment as in ISO 8601.
pub(in crate::write) fn day(moment: &str) -> &str {
    moment.split('T').next().unwrap_or(moment)
}

/// What to do, as HTML.
fn steps(plan: &Plan, pass: &PlanPass, cutter: &Cutter, stem: &str, pivots: &[ToMeasure]) -> Vec<String> {
    let n = pass.number;
    let file = |what: &str| format!("<code>cut/{stem}-pass-{n}{what}.svg</code> or <code>.dxf</code>");
    let names = |burnt: bool| {
        let names: Vec<String> =
            pass.marks.iter().filter(|m| m.burnt_here == burnt).map(|m| esc(&m.name)).collect();
        names.join(", ")
    };
    let realign = format!("<code>settlay realign . {} --marks marks.csv</code>", esc(&words_for(plan, pass)));
    let mut steps = Vec::new();
    if lies_already(plan, pass) {
        steps.push(format!(
            "Leave the cloth as it lies: the pass is corrected by what was measured on it, and is cut from its files as they are now. If the cloth has moved since, measure again (in the plan's folder {realign})."
        ));
    } else {
        if !pass.key.is_empty() {
            steps.push(format!(
                "Cut the key from paper or stitch backing with {} and leave it pegged on the bed. Its names are on a layer of their own.",
                file("-key")
            ));
        }
        let face = match cutter.cloth_face {
            Face::Up => "face up",
            Face::Down => "face down; this pass is mirrored to suit",
        };
        let into = if pass.key.is_empty() { "" } else { ", its cut edges in the outlines of the key" };
        steps.push(format!("Lay the cloth flat and without tension, {face}{into}."));
        let found = pivots.iter().map(|p| p.name.as_str()).collect::<Vec<_>>().join(", ");
        let measure = match (pivots.is_empty(), pass.marks.iter().any(|m| !m.burnt_here)) {
            (false, _) => Some(format!("{} Measure where {found}", esc(&about_pivots(plan, pass)))),
            (true, true) => Some(format!("Measure where marks {}", names(false))),
            (true, false) => None,
        };
        steps.extend(measure.map(|measure| format!(
            "{measure} now lie on the bed, write a file marks.csv (<code>name,x_mm,y_mm</code> and a line for each), and have the pass turned and shifted to suit before cutting: in the plan's folder {realign}, or at the cutting place of <code>settlay table</code>. Cut from the files it then writes."
        )));
    }
    let code = if has_code(pass, cutter) {
        format!("<code>cut/{stem}-pass-{n}.gcode</code> (or <code>.svg</code>, <code>.dxf</code>)")
    } else {
        file("")
    };
    steps.push(format!("Cut {code}: {}.", in_order(pass)));
    if pass.marks.iter().any(|m| m.burnt_here) {
        steps.push(format!("Check that marks {} can be seen before you move the cloth.", names(true)));
    }
    steps
}
