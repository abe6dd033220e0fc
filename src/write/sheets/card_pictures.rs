//! The two pictures on a card: a piece from its face and from its back, as large as the card lets them.

use crate::plan::{Plan, PlanPiece};
use crate::shape::{Affine, Bounds, Point, Region, pt};
use crate::write::pdf::{Font, Page, Pen, width_mm};

use super::book::SMALL;
use super::tiling::turned;
use super::view::{arrow, as_drawn, fitted, pattern_lines, point, region, sketched, through};
use super::{CLOTH, GLUE, GLUED, INK, PATTERN, RULE, SOFT};

/// Pivot lines nearer on paper than this would hide the piece, mm.
const DENSE: f64 = 1.8;

/// In a smaller scale than this the drawn edge runs into the cut edge.
const EDGES_APART: f64 = 0.12;

/// Another way to lie than upright, side by side, must show a piece so many times larger.
const WORTH_IT: f64 = 1.25;

/// Only a piece so many times longer than wide is turned.
const TURNED_FROM: f64 = 2.0;

/// Height of a picture's words, and what lies between two pictures, mm.
const WORDS: f64 = 4.0;
const BETWEEN: f64 = 2.0;

/// Half the length of the warp's arrow, and the width kept for it at the end of a picture's words, mm.
const ARROW: f64 = 1.7;
const ARROW_ROOM: f64 = 4.4;

/// How the two pictures lie on a card.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    /// The face above the back, each over the whole width; otherwise side by side.
    pub stacked: bool,
    /// Turned by a quarter against the drawing.
    pub turned: bool,
    /// Millimetres on paper for one of the piece.
    pub scale: f64,
}

/// The way in which a piece of `size` (as drawn, mm) is shown largest in `room`; upright and side by side unless another is
/// clearly larger.
pub(super) fn way(size: Point, room: Bounds) -> Way {
    let mut best: Option<Way> = None;
    for (stacked, turned) in [(false, false), (true, false), (true, true), (false, true)] {
        if turned && size.x.max(size.y) < TURNED_FROM * size.x.min(size.y) {
            continue;
        }
        let picture = pictures(room, stacked)[0];
        let size = if turned { pt(size.y, size.x) } else { size };
        let (_, scale) = fitted(Bounds::new(pt(0.0, 0.0), size), picture, false);
        if best.is_none_or(|b| scale > b.scale * if b.stacked || b.turned { 1.001 } else { WORTH_IT }) {
            best = Some(Way { stacked, turned, scale });
        }
    }
    best.unwrap_or(Way { stacked: false, turned: false, scale: 1.0 })
}

/// Where the face and the back are drawn.
fn pictures(room: Bounds, stacked: bool) -> [Bounds; 2] {
    let c = room.centre();
    if stacked {
        let height = ((room.height() - BETWEEN) / 2.0 - WORDS).max(0.0);
        let low = Bounds::new(room.min, pt(room.max.x, room.min.y + height));
        let high = low.shifted(pt(0.0, height + WORDS + BETWEEN));
        return [high, low];
    }
    let low = room.min.y + WORDS;
    [
        Bounds::new(pt(room.min.x, low), pt(c.x - 2.0, room.max.y)),
        Bounds::new(pt(c.x + 2.0, low), pt(room.max.x, room.max.y)),
    ]
}

/// Draws face and back with their words; `cut` is the piece as cut, upright.
pub(super) fn face_and_back(page: &mut Page, room: Bounds, plan: &Plan, piece: &PlanPiece, cut: &Region) {
    let b = cut.bounds();
    let way = way(pt(b.width(), b.height()), room);
    let turn = if way.turned { turned(90.0) } else { Affine::IDENTITY };
    let [face, back] = pictures(room, way.stacked);
    side(page, face, plan, piece, cut, turn, false);
    side(page, back, plan, piece, cut, turn, true);
    // Words end before the arrow.
    let fitting = |long: &'static str, short: &'static str| {
        let room = face.width() - ARROW_ROOM;
        if width_mm(long, SMALL, Font::Bold) <= room { long } else { short }
    };
    let glued = fitting("BACK, adhesive here", "BACK, adhesive");
    let faced = if way.turned { fitting("FACE, turned 90\u{b0}", "FACE, turned") } else { "FACE" };
    for (picture, text, ink) in [(face, faced, INK), (back, glued, GLUE)] {
        let base = if way.stacked { picture.max.y + 1.2 } else { room.min.y + 0.2 };
        page.words(pt(picture.min.x, base), SMALL, Font::Bold, ink, text);
        let at = pt(picture.max.x - ARROW, base + if way.stacked { 1.0 } else { ARROW });
        let warp = warp_on_paper(piece, turn);
        let warp = if picture == back { pt(-warp.x, warp.y) } else { warp };
        for l in arrow(at - warp * ARROW, at + warp * ARROW, 1.4) {
            page.line(&l, false, Pen::new(INK, 0.3));
        }
    }
    let c = room.centre();
    let between = if way.stacked {
        let y = back.max.y + WORDS + BETWEEN / 2.0;
        [pt(room.min.x, y), pt(room.max.x, y)]
    } else {
        [pt(c.x, room.min.y), pt(c.x, room.max.y)]
    };
    page.line(&between, false, Pen::new(RULE, 0.2));
}

fn side(
    page: &mut Page,
    room: Bounds,
    plan: &Plan,
    piece: &PlanPiece,
    cut: &Region,
    turn: Affine,
    mirrored: bool,
) {
    let (fit, scale) = fitted(through(turn, cut).bounds(), room, mirrored);
    let view = fit.after(&turn);
    let shape = sketched(view, cut);
    if mirrored {
        page.fill(&shape, GLUED);
        page.hatch(&shape, 1.7, Pen::new(GLUE, 0.22));
    } else {
        page.fill(&shape, CLOTH);
        pattern(page, plan, piece, view, scale, &shape);
        if scale >= EDGES_APART {
            page.edge(&sketched(view, &region(&piece.drawn)), Pen::new(SOFT, 0.15).dashed(0.7));
        }
    }
    page.edge(&shape, Pen::new(INK, if scale >= EDGES_APART { 0.3 } else { 0.2 }));
}

/// Where the pattern repeats, on the piece.
pub(super) fn pattern(
    page: &mut Page,
    plan: &Plan,
    piece: &PlanPiece,
    view: Affine,
    scale: f64,
    shape: &Region,
) {
    let cloth = plan.cloths.iter().find(|c| c.name == piece.cloth);
    let Some(pattern) = cloth.and_then(|c| c.pattern.as_ref()) else { return };
    let step =
        [pattern.a, pattern.b].into_iter().flatten().map(|[x, y]| x.hypot(y)).fold(f64::INFINITY, f64::min);
    if step * scale < DENSE {
        return;
    }
    let map = view.after(&as_drawn(piece));
    page.clip(shape);
    for [p, q] in pattern_lines(pattern, region(&piece.cut).bounds()) {
        page.line(&[map.apply(p), map.apply(q)], false, Pen::new(PATTERN, 0.22));
    }
    page.unclip();
}

/// The direction of the warp, of length 1.
pub(super) fn warp_on_paper(piece: &PlanPiece, view: Affine) -> Point {
    let map = view.after(&as_drawn(piece));
    let from = point(piece.shift);
    let v = map.apply(from + pt(0.0, 1.0)) - map.apply(from);
    v * (1.0 / v.x.hypot(v.y).max(1e-9))
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: Bounds = Bounds::new(pt(0.0, 0.0), pt(85.0, 27.0));

    #[test]
    fn a_long_piece_lies_over_the_whole_width_of_its_card() {
        for (size, turned) in [(pt(1113.0, 47.0), false), (pt(26.0, 462.0), true)] {
            let way = way(size, ROOM);
            assert!(way.stacked && way.turned == turned, "{way:?}");
            assert!((size.x.max(size.y) * way.scale - ROOM.width()).abs() < 1e-6, "{way:?}");
        }
    }

    #[test]
    fn a_round_piece_stays_upright_side_by_side() {
        for size in [pt(190.0, 190.0), pt(222.0, 107.0), pt(30.0, 40.0)] {
            let way = way(size, ROOM);
            assert!(!way.stacked && !way.turned, "{size:?}: {way:?}");
        }
    }

    #[test]
    fn pictures_and_their_words_lie_apart_within_the_card() {
        for stacked in [false, true] {
            let [face, back] = pictures(ROOM, stacked);
            assert!(ROOM.holds(face) && ROOM.holds(back) && !face.meets(back));
            let words = if stacked { face.min.y - back.max.y } else { face.min.y - ROOM.min.y };
            assert!(words >= WORDS);
        }
        let top = ROOM.max.y - pictures(ROOM, true)[0].max.y;
        assert!((top - WORDS).abs() < 1e-9);
    }
}
