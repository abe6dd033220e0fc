//! The bed from above, one pass on it.

use crate::job::Cutter;
use crate::plan::{Plan, PlanPass};
use crate::shape::{Affine, Bounds, Point, Region, Ring, booleans::intersection, pt};
use crate::write::colours::{KINDS, LineKind};
use crate::write::lay_picture::piece_name;
use crate::write::pdf::{Font, Page, Pen, width_mm};

use super::view::{arrow, fitted, point, region, through};
use super::{CLOTH, INK, PALE, SOFT, labels};

/// Sizes of a name's font, tried in turn, mm.
const NAMES: [f64; 3] = [3.0, 2.5, 2.1];
/// Size of a name beside the bed and its least line distance, mm.
const BESIDE: f64 = 2.2;
const LINE: f64 = 2.9;
/// Room at each side of the bed for names that do not fit in, mm.
const SIDES: f64 = 27.0;

/// Draws the map into `room`; gives its scale and how many pieces had no room for a label anywhere.
pub(super) fn map(
    page: &mut Page,
    room: Bounds,
    plan: &Plan,
    pass: &PlanPass,
    cutter: &Cutter,
    pegs: &[Point],
) -> (f64, usize) {
    let [w, h] = pass.bed_mm;
    let bed = Bounds::new(pt(0.0, 0.0), pt(w, h));
    let place = Bounds::new(room.min + pt(SIDES, 5.0), room.max - pt(SIDES, 5.0));
    let (view, scale) = fitted(bed, place, false);
    let to_paper = |p: Point| view.apply(p);
    let frame = Bounds::new(to_paper(bed.min), to_paper(bed.max));
    let on_bed = Affine(pass.cloth_to_bed);
    let whole = view.after(&on_bed);
    page.block(frame, [0xff; 3]);
    page.clip(&Region::rectangle(frame.grown(4.0)));
    if let Some(cloth) = plan.cloths.iter().find(|c| c.name == pass.cloth) {
        let ring = Ring { points: cloth.outline.iter().map(|&p| whole.apply(point(p))).collect() };
        let cloth = Region { outline: ring, cutouts: vec![] };
        page.fill(&cloth, PALE);
        page.edge(&cloth, Pen::new(SOFT, 0.2).dashed(1.2));
    }
    let pieces: Vec<_> = plan.pieces.iter().enumerate().filter(|(_, p)| p.cloth == pass.cloth).collect();
    for (_, piece) in &pieces {
        let r = through(whole, &region(&piece.cut));
        page.fill(&r, CLOTH);
        page.edge(&r, Pen::new([0xb8, 0xae, 0xa6], 0.12));
    }
    page.unclip();
    page.frame(frame, Pen::new(INK, 0.45));
    page.frame(frame.grown(-pass.margin_mm * scale), Pen::new(SOFT, 0.12).dashed(0.8));
    let line = |path: &[[f64; 2]]| -> Vec<Point> { path.iter().map(|&p| to_paper(point(p))).collect() };
    let key = LineKind::Key.rgb(&cutter.colours).map(|v| 255 - (255 - v) / 2);
    for k in &pass.key {
        page.line(&line(&k.path), k.closed, Pen::new(key, 1.0));
    }
    for kind in KINDS {
        let pen = Pen::new(kind.rgb(&cutter.colours), 0.3);
        for b in pass.burns.iter().filter(|b| b.kind == kind.word()) {
            page.line(&line(&b.path), b.closed, pen);
        }
    }
    for (i, &p) in pegs.iter().enumerate() {
        let at = to_paper(p);
        page.circle(at, 1.6, Pen::new(INK, 0.25));
        page.words(at + pt(-0.75, -0.75), 2.0, Font::Bold, INK, &(i + 1).to_string());
    }
    for m in &pass.marks {
        let at = to_paper(point(m.bed));
        let pen = Pen::new(INK, 0.35);
        page.line(&[at - pt(2.0, 0.0), at + pt(2.0, 0.0)], false, pen);
        page.line(&[at - pt(0.0, 2.0), at + pt(0.0, 2.0)], false, pen);
        let left = at.x + 3.5 + width_mm(&m.name, 3.0, Font::Bold) > frame.max.x;
        let x = if left { -1.0 - width_mm(&m.name, 3.0, Font::Bold) } else { 1.0 };
        page.words(at + pt(x, 0.8), 3.0, Font::Bold, INK, &m.name);
    }
    rulers(page, frame, pass.bed_mm, scale);
    warp(page, frame, on_bed, room);
    let burnt =
        |id: &str, copy: u32| pass.burns.iter().any(|b| b.kind != "mark" && b.piece == id && b.copy == copy);
    let mut outside: Vec<(Point, String)> = Vec::new();
    for (i, piece) in pieces.iter().filter(|(_, p)| burnt(&p.id, p.copy)) {
        let seen = intersection(&[through(whole, &region(&piece.cut))], &[Region::rectangle(frame)]);
        let Some(largest) = seen.into_iter().max_by(|a, b| a.area().total_cmp(&b.area())) else { continue };
        let (name, number) = (piece_name(piece, &plan.pieces), (i + 1).to_string());
        match labels::inside(&largest, &[&name, &number], &NAMES) {
            Some(l) => page.words(l.at, l.size, Font::Regular, INK, &l.text),
            None => outside.push((largest.bounds().centre(), format!("{number} {name}"))),
        }
    }
    (scale, beside(page, frame, room, outside))
}

/// Names beside the bed with leaders; gives how many found no room.
fn beside(page: &mut Page, frame: Bounds, room: Bounds, mut all: Vec<(Point, String)>) -> usize {
    all.sort_by(|a, b| b.0.y.total_cmp(&a.0.y).then(a.0.x.total_cmp(&b.0.x)));
    let rows = (room.height() / LINE).floor() as usize;
    let middle = frame.centre().x;
    let mut sides: [Vec<(Point, String)>; 2] = [Vec::new(), Vec::new()];
    let mut lost = 0;
    for label in all {
        let wanted = usize::from(label.0.x > middle);
        let [left, right] = &mut sides;
        let (first, second) = if wanted == 0 { (left, right) } else { (right, left) };
        if first.len() < rows {
            first.push(label);
        } else if second.len() < rows {
            second.push(label);
        } else {
            lost += 1;
        }
    }
    for (side, labels) in sides.iter().enumerate() {
        let mut y = room.max.y;
        for (k, (at, text)) in labels.iter().enumerate() {
            let below = (labels.len() - k - 1) as f64 * LINE;
            y = (y - LINE).min(at.y).max(room.min.y + below);
            let text = super::book::shortened(text, BESIDE, Font::Regular, SIDES - 6.0);
            let width = width_mm(&text, BESIDE, Font::Regular);
            let (x, end) = if side == 0 {
                (frame.min.x - 6.0 - width, frame.min.x - 5.4)
            } else {
                (frame.max.x + 6.0, frame.max.x + 5.4)
            };
            page.words(pt(x, y - 0.7), BESIDE, Font::Regular, INK, &text);
            let elbow = pt(if side == 0 { frame.min.x - 1.0 } else { frame.max.x + 1.0 }, y);
            page.line(&[pt(end, y), elbow, *at], false, Pen::new(SOFT, 0.12));
        }
    }
    lost
}

/// Ticks every 100 mm along the near and the left edge.
fn rulers(page: &mut Page, frame: Bounds, bed: [f64; 2], scale: f64) {
    let pen = Pen::new(SOFT, 0.2);
    let step = if bed[0].max(bed[1]) > 2000.0 { 500.0 } else { 100.0 };
    let count = |size: f64| (size / step).floor().clamp(0.0, 60.0) as u32;
    for i in 0..=count(bed[0]) {
        let v = f64::from(i) * step;
        let at = frame.min + pt(v * scale, 0.0);
        page.line(&[at, at - pt(0.0, 1.0)], false, pen);
        let text = format!("{v:.0}");
        page.words(
            at + pt(-width_mm(&text, 1.9, Font::Regular) / 2.0, -3.0),
            1.9,
            Font::Regular,
            SOFT,
            &text,
        );
    }
    for i in 1..=count(bed[1]) {
        let v = f64::from(i) * step;
        let at = frame.min + pt(0.0, v * scale);
        page.line(&[at, at - pt(1.0, 0.0)], false, pen);
        let text = format!("{v:.0}");
        let x = -1.4 - width_mm(&text, 1.9, Font::Regular);
        page.words(at + pt(x, -0.7), 1.9, Font::Regular, SOFT, &text);
    }
}

/// Which way the warp runs on the bed, above the map.
fn warp(page: &mut Page, frame: Bounds, on_bed: Affine, room: Bounds) {
    let [_, _, c, d, _, _] = on_bed.0;
    let length = c.hypot(d).max(1e-9);
    let way = pt(c, d) * (1.0 / length);
    let middle = pt(frame.min.x + 5.0, (frame.max.y + 5.0).min(room.max.y - 1.0));
    for l in arrow(middle - way * 3.5, middle + way * 3.5, 1.6) {
        page.line(&l, false, Pen::new(INK, 0.35));
    }
    page.words(
        middle + pt(5.0, -1.0),
        2.6,
        Font::Regular,
        INK,
        "warp, away from the near cut end of the cloth",
    );
}
