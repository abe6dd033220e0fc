//! What cutting adds: windows of passes, shared bands, joints, marks.

use std::collections::BTreeMap;

use crate::plan::{Plan, PlanJoint, PlanPass};
use crate::shape::{Bounds, Point, Ring, distance, pt};

use super::frame::Sheet;
use super::pen::{INK, MADDER, OCHRE, PAPER, Side, Words, line, pass_colour, rectangle, rings_data};
use crate::write::letters;
use crate::write::xml::{El, el};

/// What two passes both reach, tinted.
pub(super) fn bands(sheet: &Sheet, passes: &[&PlanPass]) -> El {
    let mut data = String::new();
    for (i, pass) in passes.iter().enumerate() {
        for other in passes.iter().skip(i + 1) {
            if let Some(band) = common(shown(sheet, pass, 0.0), shown(sheet, other, 0.0)) {
                let corners = Ring { points: band.corners().map(|p| sheet.at(p)).to_vec() };
                data.push_str(&rings_data([&corners]));
            }
        }
    }
    // One shape, so that bands that cross are no darker there.
    el("path").set("d", data).set("fill", OCHRE).set("fill-rule", "nonzero")
}

/// Windows of the passes of one cloth, their borders dashed.
pub(super) fn windows(sheet: &Sheet, passes: &[&PlanPass]) -> El {
    let mut borders = el("g").set("fill", "none");
    for (i, pass) in passes.iter().enumerate() {
        let (at, width, height) = border(sheet, pass, i);
        let frame = || rectangle(at, width, height).num("rx", 3.0);
        borders = borders
            .add(frame().set("stroke", PAPER).set("stroke-opacity", "0.8").num("stroke-width", 4.4))
            .add(
                frame()
                    .set("stroke", pass_colour(pass.number))
                    .num("stroke-width", 1.8)
                    .set("stroke-dasharray", if i % 2 == 0 { "12 5" } else { "5 4" }),
            );
    }
    borders
}

/// The tabs of the windows, with the passes' numbers.
pub(super) fn tabs(sheet: &Sheet, passes: &[&PlanPass]) -> El {
    let tabs = passes.iter().enumerate().map(|(i, pass)| tab(sheet, pass, border(sheet, pass, i)));
    el("g").add_all(tabs)
}

/// Where a window's border is drawn. Neighbours' borders stand a little apart so that each can be followed.
fn border(sheet: &Sheet, pass: &PlanPass, place: usize) -> (Point, f64, f64) {
    let out = 7.0 + 5.0 * (place % 3) as f64;
    sheet.window(shown(sheet, pass, out / sheet.scale))
}

/// The part of a window that is drawn: on the cloth and `out` mm beyond.
fn shown(sheet: &Sheet, pass: &PlanPass, out: f64) -> Bounds {
    let [x0, y0, x1, y1] = pass.window;
    let limit = sheet.cloth.grown(out);
    Bounds::new(pt(x0.max(limit.min.x), y0.max(limit.min.y)), pt(x1.min(limit.max.x), y1.min(limit.max.y)))
}

fn common(a: Bounds, b: Bounds) -> Option<Bounds> {
    let both = Bounds::new(
        pt(a.min.x.max(b.min.x), a.min.y.max(b.min.y)),
        pt(a.max.x.min(b.max.x), a.max.y.min(b.max.y)),
    );
    (!both.is_empty() && both.width() > 0.0 && both.height() > 0.0).then_some(both)
}

/// The tab with the pass's number, on the right border: outside the cloth where the window ends there.
fn tab(sheet: &Sheet, pass: &PlanPass, (at, width, height): (Point, f64, f64)) -> El {
    let text = format!("pass {}", pass.number);
    let (long, wide) = (letters::width(&text, 13.0) + 18.0, 25.0);
    let right = at.x + width;
    let outside = right > sheet.corner.x + sheet.width() - 1.0;
    let colour = pass_colour(pass.number);
    let long = long.min(height.max(wide));
    let corner = pt(if outside { right } else { right - wide }, at.y + (height - long) / 2.0);
    let middle = corner + pt(wide / 2.0, long / 2.0);
    el("g").add(rectangle(corner, wide, long).num("rx", 4.0).set("fill", colour)).add(
        Words::new(&text, 13.0, middle + pt(6.5, 0.0)).side(Side::Middle).colour(PAPER).turn(-90.0).drawn(),
    )
}

/// Joints: a ring on the edge with a tick across it.
pub(super) fn joints(sheet: &Sheet, plan: &Plan, passes: &[&PlanPass]) -> El {
    let mut group = el("g");
    let mut seen: Vec<Point> = Vec::new();
    for joint in passes.iter().flat_map(|p| &p.joints) {
        let at = sheet.at_pair(joint.cloth);
        if seen.iter().any(|&q| distance(q, at) < 4.0) {
            continue;
        }
        seen.push(at);
        let across = square_to_edge(sheet, plan, passes, joint, at);
        group = group.add(joint_sign(at, across));
    }
    group
}

/// The sign of a joint.
pub(super) fn joint_sign(at: Point, across: Point) -> El {
    let (a, b) = (at + across * 14.0, at - across * 14.0);
    el("g")
        .add(line(a, b, PAPER, 5.0).set("stroke-linecap", "round"))
        .add(line(a, b, MADDER, 2.0).set("stroke-linecap", "round"))
        .add(
            el("circle")
                .num("cx", at.x)
                .num("cy", at.y)
                .num("r", 4.4)
                .set("fill", PAPER)
                .set("stroke", MADDER)
                .num("stroke-width", 2.0),
        )
}

/// The unit vector square to the piece's edge at a joint.
fn square_to_edge(sheet: &Sheet, plan: &Plan, passes: &[&PlanPass], joint: &PlanJoint, at: Point) -> Point {
    let on_cloth = |cloth: &str| passes.iter().any(|p| p.cloth == cloth);
    let piece =
        plan.pieces.iter().find(|p| p.id == joint.piece && p.copy == joint.copy && on_cloth(&p.cloth));
    let region = piece.map(|p| sheet.region(&p.cut)).unwrap_or_default();
    let mut best = (f64::INFINITY, pt(0.0, 1.0));
    for (a, b) in region.rings().flat_map(Ring::sides) {
        let (v, length) = (b - a, distance(a, b));
        if length > 0.0 {
            let t = (((at.x - a.x) * v.x + (at.y - a.y) * v.y) / (length * length)).clamp(0.0, 1.0);
            let d = distance(at, a + v * t);
            if d < best.0 {
                best = (d, pt(-v.y / length, v.x / length));
            }
        }
    }
    best.1
}

/// Marks: a cross with its name.
pub(super) fn marks(sheet: &Sheet, passes: &[&PlanPass]) -> El {
    let once: BTreeMap<&str, Point> =
        passes.iter().flat_map(|p| &p.marks).map(|m| (m.name.as_str(), sheet.at_pair(m.cloth))).collect();
    let mut group = el("g");
    for (name, at) in once {
        // Towards the middle of the cloth there is always room for the name.
        let left = at.x > sheet.corner.x + sheet.width() - 60.0;
        let side = if left { Side::Right } else { Side::Left };
        let beside = pt(if left { -13.0 } else { 13.0 }, -5.0);
        group =
            group.add(mark_sign(at)).add(Words::new(name, 15.0, at + beside).side(side).drawn_with_rim(2.4));
    }
    group
}

/// The sign of a mark.
pub(super) fn mark_sign(at: Point) -> El {
    let mut group = el("g").set("stroke-linecap", "round");
    for (colour, width) in [(PAPER, 6.0), (INK, 2.2)] {
        group = group.add(line(at - pt(9.0, 0.0), at + pt(9.0, 0.0), colour, width)).add(line(
            at - pt(0.0, 9.0),
            at + pt(0.0, 9.0),
            colour,
            width,
        ));
    }
    group
}
