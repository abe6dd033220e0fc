//! The lines of a pass and of its key as they go into cut files: lines and arcs near the plan's chords.

use crate::burn::arcs::{Course, course};
use crate::job::Cutter;
use crate::plan::{Pair, Plan, PlanPass};
use crate::shape::{Point, pt};

use super::colours::{KINDS, LineKind};

/// A line of a cut file, bed frame.
#[derive(Clone, Debug, PartialEq)]
pub struct CutLine {
    pub(super) kind: LineKind,
    pub(super) closed: bool,
    pub(super) course: Course,
}

/// The burns of a pass, in burn order. A burn of a kind that no layer has is left out; reading back finds it.
pub fn pass_lines(pass: &PlanPass, cutter: &Cutter) -> Vec<CutLine> {
    let kind = |word: &str| KINDS.into_iter().find(|k| k.word() == word);
    let line = |b: &crate::plan::PlanBurn| {
        let (path, closed) = b.run();
        kind(&b.kind).map(|kind| cut_line(kind, &path, closed, cutter.curve_room_mm()))
    };
    pass.burns.iter().filter_map(line).collect()
}

/// The lines of a pass's key.
pub fn key_lines(pass: &PlanPass, cutter: &Cutter) -> Vec<CutLine> {
    pass.key.iter().map(|k| cut_line(LineKind::Key, &k.path, k.closed, cutter.curve_room_mm())).collect()
}

fn cut_line(kind: LineKind, path: &[Pair], closed: bool, within_mm: f64) -> CutLine {
    let points: Vec<Point> = path.iter().map(|p| pt(p[0], p[1])).collect();
    CutLine { kind, closed, course: course(&points, closed, within_mm) }
}

/// The kinds in the order of their layers.
pub(super) fn layers(cutter: &Cutter) -> Vec<LineKind> {
    let kind = |word: &String| KINDS.into_iter().find(|k| k.word() == word.as_str());
    cutter.layer_order.iter().filter_map(kind).collect()
}

/// How many points the burns and keys of a plan have as chords, and as the lines and arcs of its cut files.
pub fn nodes(plan: &Plan, cutter: &Cutter) -> (usize, usize) {
    let mut counts = (0, 0);
    for pass in &plan.passes {
        let chords = pass.burns.iter().map(|b| b.path.len() + usize::from(b.closed));
        counts.0 +=
            chords.chain(pass.key.iter().map(|k| k.path.len() + usize::from(k.closed))).sum::<usize>();
        let lines = pass_lines(pass, cutter).into_iter().chain(key_lines(pass, cutter));
        counts.1 += lines.map(|l| l.course.steps.len() + 1).sum::<usize>();
    }
    counts
}
