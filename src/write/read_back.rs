//! Cut files read again as another program would read them, and compared with the plan.
//!
//! Reads by `usvg`, which knows nothing of how the files were written.

use crate::plan::{Pair, PlanPass};
use crate::say::Trouble;
use crate::shape::{Affine, Point, distance, pt};

use super::colours::{KINDS, LineKind};

/// How far a point of a cut file may lie from the plan's, mm: a tenth of what a beam is wide. Numbers are
/// written to a thousandth and read in single precision, which together stay far below.
const READ_BACK_MM: f64 = 0.01;

/// Millimetres in one of the reader's units, which are 1/96 inch (CSS Values and Units 3, section 5.2).
const MM_PER_UNIT: f64 = 25.4 / 96.0;

/// A line: points in the sheet's frame (y down), mm, and whether it is closed.
#[derive(Clone, Debug, PartialEq)]
struct ReadLine {
    layer: String,
    closed: bool,
    points: Vec<Point>,
}

/// Compares a pass's cut file with the plan. `name` is the file's.
///
/// # Errors
/// The first difference found.
pub(super) fn check_pass(name: &str, file: &str, pass: &PlanPass) -> Result<(), Trouble> {
    let expected: Vec<(&str, bool, &[Pair])> = KINDS
        .iter()
        .flat_map(|k| pass.burns.iter().filter(|b| b.kind == k.word()))
        .map(|b| (b.kind.as_str(), b.closed, b.path.as_slice()))
        .collect();
    if expected.len() != pass.burns.len() {
        return Err(differs(name, "the plan holds a burn of a kind that has no layer"));
    }
    compare(name, file, pass.bed_mm, &expected)
}

/// Compares a key's file with the plan. `name` is the file's.
///
/// # Errors
/// The first difference found.
pub(super) fn check_key(name: &str, file: &str, pass: &PlanPass) -> Result<(), Trouble> {
    let key = LineKind::Key.word();
    let expected: Vec<_> = pass.key.iter().map(|k| (key, k.closed, k.path.as_slice())).collect();
    compare(name, file, pass.bed_mm, &expected)
}

fn compare(name: &str, file: &str, bed: Pair, expected: &[(&str, bool, &[Pair])]) -> Result<(), Trouble> {
    let (size, lines) = read(name, file)?;
    if (size.x - bed[0]).abs() > READ_BACK_MM || (size.y - bed[1]).abs() > READ_BACK_MM {
        return Err(differs(name, &format!("the sheet reads as {} × {} mm", size.x, size.y)));
    }
    let lines: Vec<_> = lines.iter().filter(|l| l.layer != LineKind::Lettering.word()).collect();
    if lines.len() != expected.len() {
        return Err(differs(name, &format!("it reads as {} lines, not {}", lines.len(), expected.len())));
    }
    for (i, (line, (layer, closed, path))) in lines.iter().zip(expected).enumerate() {
        let n = i + 1;
        if line.layer != *layer || line.closed != *closed || line.points.len() != path.len() {
            return Err(differs(name, &format!("line {n} reads as another line")));
        }
        for (p, q) in line.points.iter().zip(*path) {
            let off = distance(*p, pt(q[0], bed[1] - q[1]));
            if off.is_nan() || off > READ_BACK_MM {
                return Err(differs(name, &format!("a point of line {n} reads {off} mm off")));
            }
        }
    }
    Ok(())
}

fn differs(name: &str, what: &str) -> Trouble {
    Trouble::cannot(name, format!("reading the file back does not give the plan: {what}"))
        .hint("nothing was written; please report this with the job file")
}

/// The sheet's size, mm, and its lines.
fn read(name: &str, file: &str) -> Result<(Point, Vec<ReadLine>), Trouble> {
    let tree = usvg::Tree::from_str(file, &usvg::Options::default())
        .map_err(|e| differs(name, &format!("it cannot be read ({e})")))?;
    let size = pt(f64::from(tree.size().width()), f64::from(tree.size().height())) * MM_PER_UNIT;
    let mut lines = Vec::new();
    walk(tree.root(), "", &mut lines);
    Ok((size, lines))
}

fn walk(group: &usvg::Group, layer: &str, lines: &mut Vec<ReadLine>) {
    let layer = if group.id().is_empty() { layer } else { group.id() };
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => walk(inner, layer, lines),
            usvg::Node::Path(path) => lines.extend(read_path(path, layer)),
            _ => {}
        }
    }
}

fn read_path(path: &usvg::Path, layer: &str) -> Vec<ReadLine> {
    use usvg::tiny_skia_path::PathSegment;
    let t = path.abs_transform();
    let map = Affine([t.sx, t.ky, t.kx, t.sy, t.tx, t.ty].map(f64::from));
    let at = |p: usvg::tiny_skia_path::Point| map.apply(pt(f64::from(p.x), f64::from(p.y))) * MM_PER_UNIT;
    let mut lines: Vec<ReadLine> = Vec::new();
    for segment in path.data().segments() {
        let end = match segment {
            PathSegment::MoveTo(p) => {
                lines.push(ReadLine { layer: layer.to_owned(), closed: false, points: vec![at(p)] });
                continue;
            }
            PathSegment::LineTo(p) | PathSegment::QuadTo(_, p) | PathSegment::CubicTo(_, _, p) => Some(at(p)),
            PathSegment::Close => None,
        };
        if let Some(line) = lines.last_mut() {
            match end {
                Some(p) => line.points.push(p),
                None => line.closed = true,
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;
    use crate::write::{cut_svg, key_svg};
    use std::collections::BTreeMap;

    #[test]
    fn every_cut_file_of_the_sample_reads_back() {
        let plan = sample_plan();
        for pass in &plan.passes {
            check_pass("a", &cut_svg("t", pass, &BTreeMap::new()), pass).unwrap();
            check_key("b", &key_svg("t", pass, &BTreeMap::new()), pass).unwrap();
        }
    }

    #[test]
    fn a_file_that_is_off_is_caught() {
        let plan = sample_plan();
        let pass = &plan.passes[0];
        let good = cut_svg("t", pass, &BTreeMap::new());
        let mut moved = pass.clone();
        moved.burns[12].path[2][0] += 0.02;
        assert!(check_pass("a", &good, &moved).is_err(), "a point 0.02 mm off");
        moved = pass.clone();
        moved.burns.pop();
        assert!(check_pass("a", &good, &moved).is_err(), "a burn missing");
        moved = pass.clone();
        moved.bed_mm[1] += 1.0;
        assert!(check_pass("a", &good, &moved).is_err(), "another bed");
        moved = pass.clone();
        moved.burns[0].path[0][0] = f64::NAN;
        assert!(check_pass("a", &cut_svg("t", &moved, &BTreeMap::new()), &moved).is_err(), "not a number");
        assert!(check_pass("a", &good.replace("900mm", "900"), pass).is_err(), "units lost");
    }
}
