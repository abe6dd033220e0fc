//! Cut files read again as another program would read them, and compared with the plan's chords.

mod dxf;
mod gcode;
mod svg;

use crate::burn::arcs::{Course, course, strays};
use crate::job::Cutter;
use crate::plan::{Pair, PlanBurn, PlanPass};
use crate::say::Trouble;
use crate::shape::{Point, distance, pt};

use super::colours::LineKind;
use super::cut_lines::layers;

/// What reading back may add to the room that lines and arcs have, mm: figures are written to a thousandth and one
/// reader counts in single precision.
const READ_BACK_MM: f64 = 0.003;

/// Arcs are walked in steps that stray from the arc by this, mm.
const CHORD_MM: f64 = 0.0002;

/// Bounds of a step, radians: the least is what an arc of 1 m needs.
const TURNS: [f64; 2] = [0.00125, 0.05];

/// A line walked in small steps, and whether it is closed (then it ends where it began).
#[derive(Clone, Debug, PartialEq)]
struct ReadLine {
    layer: String,
    closed: bool,
    points: Vec<Point>,
}

/// What a line of the plan is: layer, whether it is closed, its chords.
type Wanted<'a> = (&'a str, bool, Vec<Pair>);

/// Compares a pass's SVG with the plan. `name` is the file's.
///
/// # Errors
/// The first difference found.
pub(super) fn check_svg(name: &str, file: &str, pass: &PlanPass, cutter: &Cutter) -> Result<(), Trouble> {
    compare(
        name,
        &svg_lines(name, file, pass.bed_mm)?,
        &layered(name, pass, cutter)?,
        cutter,
        Some(cubic_error),
    )
}

/// Compares a key's SVG with the plan. `name` is the file's.
///
/// # Errors
/// The first difference found.
pub(super) fn check_key_svg(name: &str, file: &str, pass: &PlanPass, cutter: &Cutter) -> Result<(), Trouble> {
    compare(name, &svg_lines(name, file, pass.bed_mm)?, &key(pass), cutter, Some(cubic_error))
}

/// Compares a pass's DXF with the plan. `name` is the file's.
///
/// # Errors
/// The first difference found.
pub(super) fn check_dxf(name: &str, file: &str, pass: &PlanPass, cutter: &Cutter) -> Result<(), Trouble> {
    compare(name, &dxf::read(name, file)?, &layered(name, pass, cutter)?, cutter, None)
}

/// Compares a key's DXF with the plan. `name` is the file's.
///
/// # Errors
/// The first difference found.
pub(super) fn check_key_dxf(name: &str, file: &str, pass: &PlanPass, cutter: &Cutter) -> Result<(), Trouble> {
    compare(name, &dxf::read(name, file)?, &key(pass), cutter, None)
}

/// Compares a pass's G-code with the plan: every burn, in burn order. `name` is the file's, `header` the row the
/// maker's own header begins in.
///
/// # Errors
/// The first difference found, or what a machine must not be told (see [`gcode::read`]).
pub(super) fn check_gcode(
    name: &str,
    file: &str,
    header: usize,
    pass: &PlanPass,
    cutter: &Cutter,
) -> Result<(), Trouble> {
    let mut lines = gcode::read(name, file, cutter, header)?;
    let wanted: Vec<Wanted> = pass.burns.iter().map(|b| burnt("", b)).collect();
    // G-code has no word for closed: a line that ends where it began is.
    for (line, (_, closed, _)) in lines.iter_mut().zip(&wanted) {
        line.closed = *closed && line.points.first() == line.points.last();
    }
    compare(name, &lines, &wanted, cutter, None)
}

/// Reads a rehearsal as a machine would: nothing may be burnt.
///
/// # Errors
/// A burn, or what a machine must not be told.
pub(super) fn check_rehearsal(name: &str, file: &str, header: usize, cutter: &Cutter) -> Result<(), Trouble> {
    let burns = gcode::read(name, file, cutter, header)?;
    if burns.is_empty() { Ok(()) } else { Err(differs(name, "a rehearsal burns")) }
}

fn layered<'a>(name: &str, pass: &'a PlanPass, cutter: &Cutter) -> Result<Vec<Wanted<'a>>, Trouble> {
    let wanted: Vec<Wanted> = layers(cutter)
        .iter()
        .flat_map(|k| pass.burns.iter().filter(|b| b.kind == k.word()))
        .map(|b| burnt(&b.kind, b))
        .collect();
    if wanted.len() != pass.burns.len() {
        return Err(differs(name, "the plan holds a burn of a kind that has no layer"));
    }
    Ok(wanted)
}

fn burnt<'a>(layer: &'a str, burn: &PlanBurn) -> Wanted<'a> {
    let (path, closed) = burn.run();
    (layer, closed, path)
}

fn key(pass: &PlanPass) -> Vec<Wanted<'_>> {
    pass.key.iter().map(|k| (LineKind::Key.word(), k.closed, k.path.clone())).collect()
}

/// The lines of an SVG turned into the bed frame; its sheet must be the bed.
fn svg_lines(name: &str, file: &str, bed: Pair) -> Result<Vec<ReadLine>, Trouble> {
    let (size, mut lines) = svg::read(name, file)?;
    if (size.x - bed[0]).abs() > READ_BACK_MM || (size.y - bed[1]).abs() > READ_BACK_MM {
        return Err(differs(name, &format!("the sheet reads as {} × {} mm", size.x, size.y)));
    }
    for p in lines.iter_mut().flat_map(|l| &mut l.points) {
        p.y = bed[1] - p.y;
    }
    Ok(lines)
}

/// How far a reader that turns arcs into cubics strays from them, mm: up to 0.000273 of the radius for a quarter turn,
/// falling with the sixth power of the turn (Goldapp 1991, Computer Aided Geometric Design 8).
fn cubic_error(course: &Course) -> f64 {
    let of = |bulge: f64, radius: f64| {
        let turn = (4.0 * libm::atan(bulge.abs())).min(std::f64::consts::FRAC_PI_2);
        0.000_28 * radius * libm::pow(turn / std::f64::consts::FRAC_PI_2, 6.0)
    };
    course.arcs().filter(|a| a.bulge != 0.0).map(|a| of(a.bulge, a.radius())).fold(0.0, f64::max)
}

fn compare(
    name: &str,
    lines: &[ReadLine],
    wanted: &[Wanted],
    cutter: &Cutter,
    reader_adds: Option<fn(&Course) -> f64>,
) -> Result<(), Trouble> {
    let lines: Vec<_> = lines.iter().filter(|l| l.layer != LineKind::Lettering.word()).collect();
    if lines.len() != wanted.len() {
        return Err(differs(name, &format!("it reads as {} lines, not {}", lines.len(), wanted.len())));
    }
    let room = cutter.curve_room_mm() + READ_BACK_MM;
    for (i, (line, (layer, closed, path))) in lines.iter().zip(wanted).enumerate() {
        let n = i + 1;
        let mut path: Vec<Point> = path.iter().map(|p| pt(p[0], p[1])).collect();
        let chain = path.clone();
        if *closed {
            path.extend(path.first().copied());
        }
        let ends = |a: Option<&Point>, b: Option<&Point>| match (a, b) {
            (Some(a), Some(b)) => distance(*a, *b) <= READ_BACK_MM,
            _ => false,
        };
        let alike = line.layer == *layer && line.closed == *closed;
        if !alike || !ends(line.points.first(), path.first()) || !ends(line.points.last(), path.last()) {
            return Err(differs(name, &format!("line {n} reads as another line")));
        }
        let off = |room: f64| strays(&line.points, &path, room).max(strays(&path, &line.points, room));
        let mut found = off(room);
        // A reader that keeps arcs adds nothing of its own; what another adds is worked out where it matters.
        if let Some(adds) = reader_adds
            && found > room
        {
            let more = adds(&course(&chain, *closed, cutter.curve_room_mm()));
            found = off(room + more) - more;
        }
        if found.is_nan() || found > room {
            return Err(differs(name, &format!("line {n} reads {found:.3} mm off")));
        }
    }
    Ok(())
}

/// Walks from the last point round `centre` by `angle`, without the last step.
fn turned(points: &mut Vec<Point>, centre: Point, angle: f64) {
    let Some(&from) = points.last() else { return };
    let arm = from - centre;
    // The sagitta of a chord is r·turn²/8.
    let turn = (8.0 * CHORD_MM / arm.x.hypot(arm.y)).sqrt().clamp(TURNS[0], TURNS[1]);
    // Not so many that a wild number fills the memory.
    let steps = (angle.abs() / turn).ceil().clamp(1.0, 10_000.0) as usize;
    for i in 1..steps {
        let (s, c) = libm::sincos(angle * i as f64 / steps as f64);
        points.push(centre + pt(c * arm.x - s * arm.y, s * arm.x + c * arm.y));
    }
}

fn differs(name: &str, what: &str) -> Trouble {
    Trouble::cannot(name, format!("reading the file back does not give the plan: {what}"))
        .hint("nothing was written; please report this with the job file")
}

#[cfg(test)]
mod tests;
