//! The bed from above, one pass on it.

use crate::job::Cutter;
use crate::plan::{Plan, PlanPass, PlanPiece, ToMeasure};
use crate::shape::{Affine, Bounds, Point, Region, Ring, booleans::intersection, pt};
use crate::write::colours::{KINDS, LineKind};
use crate::write::lay_picture::piece_name;
use crate::write::pdf::{Font, Page, Pen, Rgb, width_mm};

use super::view::{arrow, fitted, point, region, sketched, thinned};
use super::{CLOTH, GLUE, INK, PALE, SOFT, labels, leaders};

/// A piece that lies there but is not burnt in this pass.
const AWAY: Rgb = [0xee, 0xe9, 0xe0];

/// Sizes of a name's font, tried in turn, and of a number's, mm.
const NAMES: [f64; 3] = [3.0, 2.5, 2.1];
const NUMBERS: [f64; 3] = [2.5, 2.1, 1.8];
/// Half the length of a mark's cross, and the size of its name, mm.
const ARM: f64 = 2.0;
const MARK_NAME: f64 = 3.0;
/// The same of a pivot's slanting cross, along each axis, mm.
const SLANT: f64 = 1.3;
const PIVOT_NAME: f64 = 2.3;
/// Room beside the bed for numbers, and above and below it, mm.
const SIDES: f64 = 12.0;
const ENDS: f64 = 10.0;

/// What the map could not say itself.
pub(super) struct Told {
    /// Paper mm a bed mm.
    pub scale: f64,
    /// Pieces that stand on the map by their number alone: number and name.
    pub by_number: Vec<(usize, String)>,
    /// Pieces without a number on the map: number, name, a spot inside in the bed frame.
    pub by_place: Vec<(usize, String, Point)>,
}

/// Height a map of the whole bed takes in a page `width` wide, mm.
pub(super) fn height(width: f64, bed: [f64; 2]) -> f64 {
    let share = bed[1] / bed[0].max(1e-3);
    (width - 2.0 * SIDES) * if share.is_finite() { share } else { 1.0 } + 2.0 * ENDS
}

/// Draws the map into `room`, with spots to hold the cloth down and what of its pattern is to be measured.
pub(super) fn map(
    page: &mut Page,
    room: Bounds,
    plan: &Plan,
    pass: &PlanPass,
    cutter: &Cutter,
    (pegs, pivots): (&[Point], &[ToMeasure]),
) -> Told {
    let [w, h] = pass.bed_mm;
    let bed = Bounds::new(pt(0.0, 0.0), pt(w, h));
    let place = Bounds::new(room.min + pt(SIDES, ENDS), room.max - pt(SIDES, ENDS));
    let (view, scale) = fitted(bed, place, false);
    let to_paper = |p: Point| view.apply(p);
    let frame = Bounds::new(to_paper(bed.min), to_paper(bed.max));
    let on_bed = Affine(pass.cloth_to_bed);
    let whole = view.after(&on_bed);
    page.block(frame, [0xff; 3]);
    page.clip(&Region::rectangle(frame.grown(2.5)));
    if let Some(cloth) = plan.cloths.iter().find(|c| c.name == pass.cloth) {
        let ring = Ring { points: cloth.outline.iter().map(|&p| whole.apply(point(p))).collect() };
        let cloth = Region { outline: ring, cutouts: vec![] };
        page.fill(&cloth, PALE);
        page.edge(&cloth, Pen::new(SOFT, 0.2).dashed(1.2));
    }
    let burnt =
        |p: &PlanPiece| pass.burns.iter().any(|b| b.kind != "mark" && b.piece == p.id && b.copy == p.copy);
    let pieces: Vec<(usize, &PlanPiece, Region)> = plan
        .pieces
        .iter()
        .enumerate()
        .filter(|(_, p)| p.cloth == pass.cloth)
        .map(|(i, p)| (i, p, sketched(whole, &region(&p.cut))))
        .filter(|(.., r)| r.bounds().meets(frame.grown(2.5)))
        .collect();
    for (_, piece, r) in &pieces {
        page.fill(r, if burnt(piece) { CLOTH } else { AWAY });
        page.edge(r, Pen::new([0xb8, 0xae, 0xa6], 0.12));
    }
    page.unclip();
    page.frame(frame, Pen::new(INK, 0.45));
    page.frame(frame.grown(-pass.margin_mm * scale), Pen::new(SOFT, 0.12).dashed(0.8));
    let line = |path: &[[f64; 2]]| thinned(path.iter().map(|&p| to_paper(point(p))));
    let key = LineKind::Key.rgb(&cutter.colours).map(|v| 255 - (255 - v) / 2);
    for k in &pass.key {
        page.line(&line(&k.path), k.closed, Pen::new(key, 1.0));
    }
    for kind in KINDS {
        let pen = Pen::new(kind.rgb(&cutter.colours), 0.3);
        for b in pass.burns.iter().filter(|b| b.kind == kind.word()) {
            let (path, closed) = b.run();
            page.line(&line(&path), closed, pen);
        }
    }
    let drawn: Vec<Vec<Point>> =
        pass.burns.iter().filter(|b| b.kind != "mark").map(|b| closed(line(&b.path), b.closed)).collect();
    signs(page, frame, pass, &to_paper, on_bed, (pegs, pivots, &drawn));
    rulers(page, frame, pass.bed_mm, scale);
    warp(page, frame, on_bed);
    let mut told = Told { scale, by_number: Vec::new(), by_place: Vec::new() };
    let mut outside: Vec<(usize, String, Point)> = Vec::new();
    for (i, piece, r) in pieces.iter().filter(|(_, p, _)| burnt(p)) {
        let seen = intersection(std::slice::from_ref(r), &[Region::rectangle(frame)]);
        let Some(largest) = seen.into_iter().max_by(|a, b| a.area().total_cmp(&b.area())) else { continue };
        let (name, number) = (piece_name(piece, &plan.pieces), (i + 1).to_string());
        if let Some(l) = labels::inside(&largest, &[&name], &NAMES) {
            page.words(l.at, l.size, Font::Regular, INK, &l.text);
        } else if let Some(l) = labels::inside(&largest, &[&number], &NUMBERS) {
            page.words(l.at, l.size, Font::Regular, INK, &l.text);
            told.by_number.push((i + 1, name));
        } else {
            outside.push((i + 1, name, labels::deepest(&largest)));
        }
    }
    let wanted: Vec<(Point, f64)> = outside
        .iter()
        .map(|(n, _, at)| (*at, width_mm(&n.to_string(), leaders::SIZE, Font::Regular)))
        .collect();
    let back = view.inverse().unwrap_or(Affine::IDENTITY);
    for ((n, name, at), leader) in outside.into_iter().zip(leaders::leaders(frame, &wanted)) {
        match leader {
            Some(l) => {
                page.line(&[l.end, at], false, Pen::new(SOFT, 0.12));
                page.circle(at, 0.25, Pen::new(INK, 0.3));
                page.words(l.text, leaders::SIZE, Font::Regular, INK, &n.to_string());
                told.by_number.push((n, name));
            }
            None => told.by_place.push((n, name, back.apply(at))),
        }
    }
    told.by_number.sort();
    told
}

/// Marks, pivots, joints, bridges and spots to hold the cloth down.
fn signs(
    page: &mut Page,
    frame: Bounds,
    pass: &PlanPass,
    to_paper: &dyn Fn(Point) -> Point,
    on_bed: Affine,
    (pegs, pivots, lines): (&[Point], &[ToMeasure], &[Vec<Point>]),
) {
    let mut taken: Vec<Bounds> = Vec::new();
    for j in &pass.joints {
        let at = to_paper(on_bed.apply(point(j.cloth)));
        let corners = [pt(0.0, 1.1), pt(1.1, 0.0), pt(0.0, -1.1), pt(-1.1, 0.0)].map(|v| at + v);
        page.line(&corners, true, Pen::new(GLUE, 0.35));
        taken.push(Bounds::of(corners));
    }
    for b in &pass.bridges {
        let at = to_paper(point(b.bed));
        page.block(Bounds::new(at, at).grown(0.55), INK);
    }
    for (i, &p) in pegs.iter().enumerate() {
        let at = to_paper(p);
        page.circle(at, 1.6, Pen::new(INK, 0.25));
        let number = (i + 1).to_string();
        let x = -width_mm(&number, 2.0, Font::Bold) / 2.0;
        page.words(at + pt(x, -0.72), 2.0, Font::Bold, INK, &number);
        taken.push(Bounds::new(at, at).grown(1.7));
    }
    let pen = Pen::new(INK, 0.35);
    let crosses: Vec<Point> = pass.marks.iter().map(|m| to_paper(point(m.bed))).collect();
    // Each arm by itself: a name may stand in a quarter of any cross.
    for &at in &crosses {
        for arm in [pt(ARM, 0.0), pt(0.0, ARM)] {
            page.line(&[at - arm, at + arm], false, pen);
            taken.push(Bounds::new(at - arm, at + arm).grown(0.2));
        }
    }
    let slanting: Vec<Point> = pivots.iter().map(|p| to_paper(point(p.bed))).collect();
    for &at in &slanting {
        for arm in [pt(SLANT, SLANT), pt(SLANT, -SLANT)] {
            page.line(&[at - arm, at + arm], false, pen);
        }
        taken.push(Bounds::new(at, at).grown(SLANT));
    }
    let marks = pass.marks.iter().zip(&crosses).map(|(m, &at)| (&m.name, at, MARK_NAME, Font::Bold));
    let pivots = pivots.iter().zip(&slanting).map(|(p, &at)| (&p.name, at, PIVOT_NAME, Font::Regular));
    for (name, at, size, font) in marks.chain(pivots) {
        let wide = width_mm(name, size, font);
        let clear = labels::Clear { frame, taken: &taken, lines };
        let plate = labels::beside(at, ARM, pt(wide, size * 0.72), &clear);
        page.words(plate.min, size, font, INK, name);
        taken.push(plate);
    }
}

fn closed(mut line: Vec<Point>, is: bool) -> Vec<Point> {
    if is {
        line.extend(line.first().copied());
    }
    line
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
fn warp(page: &mut Page, frame: Bounds, on_bed: Affine) {
    let [_, _, c, d, _, _] = on_bed.0;
    let length = c.hypot(d).max(1e-9);
    let way = pt(c, d) * (1.0 / length);
    let middle = pt(frame.min.x + 4.0, frame.max.y + 8.4);
    for l in arrow(middle - way * 2.6, middle + way * 2.6, 1.4) {
        page.line(&l, false, Pen::new(INK, 0.35));
    }
    page.words(
        middle + pt(4.5, -0.9),
        2.6,
        Font::Regular,
        INK,
        "warp, away from the near cut end of the cloth",
    );
}
