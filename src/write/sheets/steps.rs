//! What to do in a pass, step by step.

use crate::job::{Cutter, Face};
use crate::plan::{Plan, PlanPass};
use crate::shape::{Bounds, Point};
use crate::write::names::words_for;

use super::bridges;
use super::view::point;

/// Kinds of line in a file: the word, and what a maker calls them.
const KINDS: [(&str, &str); 3] = [("mark", "marks"), ("cutout", "cut-outs"), ("outline", "outlines")];

/// How the cloth lies on the bed.
pub(super) fn lies(cutter: &Cutter) -> &'static str {
    match cutter.cloth_face {
        Face::Up => "face up",
        Face::Down => "face down, back towards the beam",
    }
}

/// The steps of a pass; `stem` is its cloth's stem in file names, `pegs` are the spots to hold the cloth down.
pub(super) fn steps(
    plan: &Plan,
    pass: &PlanPass,
    cutter: &Cutter,
    stem: &str,
    pegs: &[Point],
) -> Vec<String> {
    let file = format!("cut/{stem}-pass-{}", pass.number);
    let names = |burnt: bool| -> String {
        let all: Vec<&str> =
            pass.marks.iter().filter(|m| m.burnt_here == burnt).map(|m| m.name.as_str()).collect();
        all.join(", ")
    };
    let mut steps = Vec::new();
    if !pass.key.is_empty() {
        let b = Bounds::of(pass.key.iter().flat_map(|k| &k.path).map(|&p| point(p)));
        steps.push(format!(
            "Key: cut it from paper or stitch backing with {file}-key.svg or .dxf and leave it on the bed, pegged outside its lines, which reach from {:.0}, {:.0} to {:.0}, {:.0}.",
            b.min.x, b.min.y, b.max.x, b.max.y
        ));
    }
    let into = if pass.key.is_empty() { "" } else { ", its cut edges in the outlines of the key" };
    steps.push(format!(
        "Lay the cloth flat and without tension, {}{into}. Carry what hangs over so that it does not pull.",
        lies(cutter)
    ));
    steps.push(if pegs.is_empty() {
        "There is no spot clear of all burns to hold the cloth down: hold it by its overhang.".into()
    } else {
        format!(
            "Hold it down with what the head passes over, at: {} (x, y on the bed, clear of every burn).",
            spots(pegs)
        )
    });
    if pass.marks.iter().any(|m| m.measured.is_some()) {
        steps.push(format!(
            "Realigned: this pass is corrected by the marks as they were measured; cut from its files as they are now. If the cloth has moved since, measure again: settlay realign . {} --marks marks.csv.",
            words_for(plan, pass)
        ));
    } else if pass.marks.iter().any(|m| !m.burnt_here) {
        steps.push(format!(
            "Realign: measure where marks {} lie on the bed and write it into this pass's list of marks, and into a file, marks.csv: name,x_mm,y_mm and a line for each. In the plan's folder, settlay realign . {} --marks marks.csv turns and shifts the pass to suit; so does the cutting place of settlay table. Cut from the files it then writes.",
            names(false),
            words_for(plan, pass)
        ));
    }
    steps.push(rehearse(pass, cutter, &file));
    steps.push(power(pass, cutter));
    let code = if cutter.gcode.is_some() && untested(pass, cutter).is_empty() {
        format!("{file}.gcode (or .svg, .dxf)")
    } else {
        format!("{file}.svg or .dxf")
    };
    steps.push(format!("Cut {code}: {}. Stay with it.", in_order(pass)));
    steps.extend(bridges::steps(plan, pass));
    if pass.marks.iter().any(|m| m.burnt_here) {
        steps.push(format!("See that marks {} are plain before you move the cloth.", names(true)));
    }
    steps.push(format!("Record it as cut: settlay realign . {} --mark-done.", words_for(plan, pass)));
    steps
}

fn spots(points: &[Point]) -> String {
    let one = |(i, p): (usize, &Point)| format!("{} at {:.0}, {:.0}", i + 1, p.x, p.y);
    points.iter().enumerate().map(one).collect::<Vec<_>>().join("; ")
}

/// A walk round the pass before the beam comes on.
fn rehearse(pass: &PlanPass, cutter: &Cutter, file: &str) -> String {
    let b = Bounds::of(pass.burns.iter().flat_map(|b| b.run().0).map(point));
    let reach = if b.is_empty() {
        String::new()
    } else {
        format!(" The burns reach from {:.0}, {:.0} to {:.0}, {:.0}.", b.min.x, b.min.y, b.max.x, b.max.y)
    };
    if cutter.gcode.is_some() {
        format!(
            "Rehearse: run {file}-rehearsal.gcode, which keeps the beam off, and see that weights, cloth and hands are clear.{reach}"
        )
    } else {
        format!(
            "Rehearse with the beam off, if the machine can, and see that weights, cloth and hands are clear.{reach}"
        )
    }
}

/// Kinds of line this pass burns, as first burnt.
fn kinds(pass: &PlanPass) -> Vec<(&'static str, &'static str)> {
    let mut kinds = Vec::new();
    for b in &pass.burns {
        if let Some(kind) = KINDS.into_iter().find(|k| k.0 == b.kind)
            && !kinds.contains(&kind)
        {
            kinds.push(kind);
        }
    }
    kinds
}

fn untested(pass: &PlanPass, cutter: &Cutter) -> Vec<&'static str> {
    kinds(pass).into_iter().filter(|k| cutter.tested_for(&pass.cloth, k.0).is_none()).map(|k| k.1).collect()
}

/// The burn order in words: it goes piece by piece, never an outline before what lies inside it.
fn in_order(pass: &PlanPass) -> String {
    let burns = |kind: &str| pass.burns.iter().any(|b| b.kind == kind);
    let inside = match (burns("cutout"), burns("outline")) {
        (true, true) => "each piece's cut-outs before its outline",
        (true, false) => "the cut-outs",
        (false, true) => "the outlines",
        (false, false) => "nothing else",
    };
    if burns("mark") { format!("marks first, then {inside}") } else { inside.into() }
}

/// Power and speed as they were found, or that they have to be.
fn power(pass: &PlanPass, cutter: &Cutter) -> String {
    if cutter.tested.is_empty() {
        return "Test power and speed on a scrap of this cloth first: the job names none (cutter.tested is empty).".into();
    }
    let unknown = untested(pass, cutter);
    if !unknown.is_empty() {
        return format!(
            "Test power and speed on a scrap of this cloth first for {}: none was found by test yet.",
            unknown.join(" and ")
        );
    }
    let found: Vec<String> = kinds(pass)
        .into_iter()
        .filter_map(|(kind, name)| {
            let t = cutter.tested_for(&pass.cloth, kind)?;
            Some(format!(
                "{name} at power {}, {} mm/s",
                crate::write::number(t.power),
                crate::write::number(t.mm_per_s)
            ))
        })
        .collect();
    format!("Power and speed as found by test: {}. Try them once more on a scrap.", found.join("; "))
}
