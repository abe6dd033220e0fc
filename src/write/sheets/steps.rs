//! What to do in a pass, step by step.

use crate::job::{Cutter, Face, Match};
use crate::plan::{Plan, PlanPass, ToMeasure, is_realigned, to_measure};
use crate::say::counted;
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

/// True when the files of a pass are corrected for the cloth as it lies on the bed already.
pub(in crate::write) fn lies_already(plan: &Plan, pass: &PlanPass) -> bool {
    is_realigned(plan, pass) || pass.marks.iter().any(|m| m.measured.is_some())
}

/// What is burnt in a pass, counted: what there is none of is left out.
pub(in crate::write) fn burns(pass: &PlanPass) -> String {
    let kinds = [
        ("outline", "outline", "outlines"),
        ("cutout", "cut-out", "cut-outs"),
        ("mark", "line of marks", "lines of marks"),
    ];
    let told = kinds.into_iter().filter_map(|(kind, one, many)| {
        let n = pass.burns.iter().filter(|b| b.kind == kind).count();
        (n > 0).then(|| counted(n, one, many))
    });
    told.collect::<Vec<_>>().join(", ")
}

/// True when a key is to be cut before the cloth is laid.
pub(in crate::write) fn takes_a_key(plan: &Plan, pass: &PlanPass) -> bool {
    !pass.key.is_empty() && pass.cut_on.is_none() && !lies_already(plan, pass)
}

/// The pivots to measure before a first pass that nothing is known of yet; none where they would not say how the cloth lies.
pub(in crate::write) fn pivots(plan: &Plan, pass: &PlanPass) -> Vec<ToMeasure> {
    let same = |p: &PlanPass| (&p.cloth, p.number) == (&pass.cloth, pass.number);
    let Some(which) = plan.passes.iter().position(same) else { return Vec::new() };
    if pass.cut_on.is_some() || lies_already(plan, pass) {
        return Vec::new();
    }
    let all: Vec<ToMeasure> = to_measure(plan, which).into_iter().filter(|m| m.pivot).collect();
    if all.len() < 2 { Vec::new() } else { all }
}

/// Why pivots are measured, and what they are.
pub(in crate::write) fn about_pivots(plan: &Plan, pass: &PlanPass) -> String {
    let matched = plan.pieces.iter().any(|p| p.cloth == pass.cloth && p.matching != Match::Free);
    let why = if matched {
        "Realign by the pattern"
    } else {
        "Realign by the pattern if you like (no piece of this cloth is matched to it)"
    };
    format!(
        "{why}: pivot I J is where the pattern's origin, a crossing of its pivots, comes again I whole repeats across and J \
         along, and lies near its planned place."
    )
}

/// The steps of a pass; `stem` is its cloth's stem in file names, `pegs` are the spots to hold the cloth down, `pivots`
/// what of the pattern is to be measured.
pub(super) fn steps(
    plan: &Plan,
    pass: &PlanPass,
    cutter: &Cutter,
    stem: &str,
    (pegs, pivots): (&[Point], &[ToMeasure]),
) -> Vec<String> {
    let file = format!("cut/{stem}-pass-{}", pass.number);
    let there = lies_already(plan, pass);
    let mut steps = if there { lying(plan, pass) } else { laying(pass, cutter, &file) };
    steps.push(if pegs.is_empty() {
        "There is no spot clear of all burns to hold the cloth down: hold it by its overhang.".into()
    } else if there {
        format!(
            "See that what holds it down lies clear of every burn, as at: {} (x, y on the bed).",
            spots(pegs)
        )
    } else {
        format!(
            "Hold it down with what the head passes over, at: {} (x, y on the bed, clear of every burn).",
            spots(pegs)
        )
    });
    if !there {
        steps.extend(realigning(plan, pass, pivots));
    }
    steps.push(rehearse(pass, cutter, &file));
    steps.push(power(pass, cutter));
    let code = if has_code(pass, cutter) {
        format!("{file}.gcode (or .svg, .dxf)")
    } else {
        format!("{file}.svg or .dxf")
    };
    steps.push(format!("Cut {code}: {}. Stay with it.", in_order(pass)));
    steps.extend(bridges::steps(plan, pass));
    if pass.marks.iter().any(|m| m.burnt_here) {
        steps.push(format!("See that marks {} are plain before you move the cloth.", marks(pass, true)));
    }
    steps.push(format!("Record it as cut: settlay realign . {} --mark-done.", words_for(plan, pass)));
    steps
}

/// Its marks that are burnt in it, or that are not.
fn marks(pass: &PlanPass, burnt: bool) -> String {
    let all: Vec<&str> =
        pass.marks.iter().filter(|m| m.burnt_here == burnt).map(|m| m.name.as_str()).collect();
    all.join(", ")
}

/// What to do with cloth that lies where the pass has been corrected for it.
fn lying(plan: &Plan, pass: &PlanPass) -> Vec<String> {
    vec![format!(
        "Realigned: this pass is corrected by what was measured, for the cloth as it lies on the bed. Leave it as it lies, and cut from the files as they are now. If it has moved since, measure again: settlay realign . {} --marks marks.csv.",
        words_for(plan, pass)
    )]
}

/// How the cloth is put down, in a key where there is one.
fn laying(pass: &PlanPass, cutter: &Cutter, file: &str) -> Vec<String> {
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
    steps
}

/// What to measure, and what to do with it.
fn realigning(plan: &Plan, pass: &PlanPass, pivots: &[ToMeasure]) -> Option<String> {
    let run = format!(
        "In the plan's folder, settlay realign . {} --marks marks.csv turns and shifts the pass to suit; so does the cutting place of settlay table. Cut from the files it then writes.",
        words_for(plan, pass)
    );
    if let Some(one) = pivots.first() {
        return Some(format!(
            "{} Measure where those listed below lie on the bed and write it into the list, and into a file, marks.csv: name,x_mm,y_mm and a line for each, such as {},312.4,77.1. {run}",
            about_pivots(plan, pass),
            one.name
        ));
    }
    pass.marks.iter().any(|m| !m.burnt_here).then(|| format!(
        "Realign: measure where marks {} lie on the bed and write it into this pass's list of marks, and into a file, marks.csv: name,x_mm,y_mm and a line for each. {run}",
        marks(pass, false)
    ))
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

/// True when there is G-code of a pass.
pub(in crate::write) fn has_code(pass: &PlanPass, cutter: &Cutter) -> bool {
    cutter.gcode.is_some() && untested(pass, cutter).is_empty()
}

fn untested(pass: &PlanPass, cutter: &Cutter) -> Vec<&'static str> {
    kinds(pass).into_iter().filter(|k| cutter.tested_for(&pass.cloth, k.0).is_none()).map(|k| k.1).collect()
}

/// The burn order in words: it goes piece by piece, never an outline before what lies inside it.
pub(in crate::write) fn in_order(pass: &PlanPass) -> String {
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
