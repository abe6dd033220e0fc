//! What cutting adds: windows of passes, shared bands, joints, marks.

use std::collections::BTreeMap;

use crate::plan::{Plan, PlanJoint, PlanPass};
use crate::shape::{Bounds, Point, Region, Ring, distance, pt};

use super::frame::Sheet;
use super::pen::{INK, MADDER, OCHRE, PAPER, Words, line, pass_colour, rectangle, rings_data};
use crate::write::letters;
use crate::write::xml::{El, el};

/// Height of a mark's name.
const MARK_NAME: f64 = 15.0;

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

/// Where a window's border is drawn. Neighbours' borders stand a little apart so that each can be followed.
pub(super) fn border(sheet: &Sheet, pass: &PlanPass, place: usize) -> (Point, f64, f64) {
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

/// Where the joints of a cloth lie, each once.
pub(super) fn joint_spots<'a>(sheet: &Sheet, passes: &[&'a PlanPass]) -> Vec<(Point, &'a PlanJoint)> {
    let mut spots: Vec<(Point, &PlanJoint)> = Vec::new();
    for joint in passes.iter().flat_map(|p| &p.joints) {
        let at = sheet.at_pair(joint.cloth);
        if !spots.iter().any(|&(q, _)| distance(q, at) < 4.0) {
            spots.push((at, joint));
        }
    }
    spots
}

/// Joints: a ring on the edge with a tick across it.
pub(super) fn joints(sheet: &Sheet, plan: &Plan, passes: &[&PlanPass]) -> El {
    let signs = joint_spots(sheet, passes)
        .into_iter()
        .map(|(at, joint)| joint_sign(at, square_to_edge(sheet, plan, passes, joint, at)));
    el("g").add_all(signs)
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

/// A mark and where its name stands.
pub(super) struct MarkPlace<'a> {
    name: &'a str,
    at: Point,
    words: Bounds,
}

impl MarkPlace<'_> {
    /// What the mark and its name take up.
    pub fn taken(&self) -> [Bounds; 2] {
        [Bounds::new(self.at, self.at).grown(10.0), self.words]
    }
}

/// Marks with their names, clear of pieces where that can be.
pub(super) fn mark_places<'a>(
    sheet: &Sheet,
    passes: &[&'a PlanPass],
    pieces: &[Region],
) -> Vec<MarkPlace<'a>> {
    let once: BTreeMap<&str, Point> =
        passes.iter().flat_map(|p| &p.marks).map(|m| (m.name.as_str(), sheet.at_pair(m.cloth))).collect();
    let cloth = Bounds::new(sheet.corner, sheet.corner + pt(sheet.width(), sheet.height()));
    let mut places: Vec<MarkPlace> = Vec::new();
    for (&name, &at) in &once {
        let (long, high) = (letters::width(name, MARK_NAME), MARK_NAME);
        let spots = [
            at + pt(12.0, -4.0 - high),
            at + pt(12.0, 4.0),
            at + pt(-12.0 - long, -4.0 - high),
            at + pt(-12.0 - long, 4.0),
            at + pt(-long / 2.0, -13.0 - high),
            at + pt(-long / 2.0, 13.0),
        ];
        let boxes = spots.map(|s| Bounds::new(s, s + pt(long, high)));
        let on_pieces = |b: &Bounds| {
            let probes = b.grown(2.0).corners().into_iter().chain([b.centre()]);
            probes.filter(|&p| pieces.iter().any(|r| r.contains(p))).count()
        };
        // Over another mark or its name it would name the wrong one.
        let others = once.values().filter(|&&o| o != at).map(|&o| Bounds::new(o, o).grown(10.0));
        let taken: Vec<Bounds> = others.chain(places.iter().map(|p| p.words)).collect();
        let cost = |b: &Bounds| {
            let over = taken.iter().filter(|t| t.meets(b.grown(2.0))).count();
            on_pieces(b) + 20 * over + if cloth.holds(*b) { 0 } else { 6 }
        };
        let words = boxes.into_iter().min_by_key(cost).unwrap_or(Bounds::new(at, at));
        places.push(MarkPlace { name, at, words });
    }
    places
}

/// Marks: a cross with its name.
pub(super) fn marks(places: &[MarkPlace]) -> El {
    el("g").add_all(places.iter().map(|m| {
        let baseline = pt(m.words.min.x, m.words.max.y);
        el("g").add(mark_sign(m.at)).add(Words::new(m.name, MARK_NAME, baseline).drawn_with_rim(2.4))
    }))
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
