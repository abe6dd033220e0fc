//! A card for every piece: its face, its back, and what belongs to it.

use crate::plan::{Plan, PlanPiece};
use crate::shape::{Affine, Bounds, Point, Region, pt};
use crate::write::lay_picture::piece_name;
use crate::write::pdf::{Font, Page, Pen, wrap};

use super::book::{Book, SMALL, shortened};
use super::neighbours::neighbours;
use super::view::{arrow, as_drawn, fitted, pattern_lines, point, region, sketched, through};
use super::{CLOTH, GLUE, INK, PATTERN, RULE, SOFT};

/// Room between cards, mm.
const GUTTER: f64 = 4.0;
/// A piece no larger than this, as cut, gets a small card, mm.
const SMALL_PIECE: f64 = 170.0;

/// A size of card: how many side by side, at least so wide, and so high, mm.
struct Size {
    width: f64,
    height: f64,
}

const NORMAL: Size = Size { width: 88.0, height: 58.0 };
const LITTLE: Size = Size { width: 56.0, height: 45.0 };
const NARROW: Size = Size { width: 56.0, height: 58.0 };
/// A piece at most this share as wide as high, upright, needs no wide card.
const SLENDER: f64 = 0.75;

/// Pivot lines nearer on paper than this would hide the piece, mm.
const DENSE: f64 = 1.2;

/// The cards, in the order the pieces are laid down.
pub(super) fn cards(book: &mut Book, plan: &Plan) {
    if plan.pieces.is_empty() {
        return;
    }
    let beside = neighbours(&plan.pieces);
    let inside = book.inside();
    let across = |size: &Size| ((inside.width() + GUTTER) / (size.width + GUTTER)).floor().max(1.0) as usize;
    let mut order: Vec<usize> = (0..plan.pieces.len()).collect();
    order.sort_by_key(|&i| plan.pieces.get(i).map(|p| (p.order, p.copy)));
    book.start("Piece cards");
    book.caption("In the order of laying down, the lowest first. Upright as in the drawing. Arrow: the warp. Blue lines: where the pattern repeats. Dashed: the drawn edge. Hatched: the back, which gets the adhesive.");
    let mut left = order.as_slice();
    while !left.is_empty() {
        let next = left.iter().take(across(&LITTLE)).filter_map(|&i| plan.pieces.get(i));
        let (mut little, mut narrow) = (true, true);
        for b in next.map(upright) {
            let is_small = b.width().max(b.height()) <= SMALL_PIECE;
            little &= is_small;
            narrow &= is_small || b.width() <= b.height() * SLENDER;
        }
        let size = match (little, narrow) {
            (true, _) => &LITTLE,
            (_, true) => &NARROW,
            _ => &NORMAL,
        };
        let columns = across(size);
        let (row, rest) = left.split_at(columns.min(left.len()));
        left = rest;
        let width = (inside.width() - GUTTER * (columns - 1) as f64) / columns as f64;
        let b = book.room(size.height + GUTTER);
        for (k, &i) in row.iter().enumerate() {
            let x = b.min.x + k as f64 * (width + GUTTER);
            let frame = Bounds::new(pt(x, b.min.y + GUTTER), pt(x + width, b.max.y));
            if let Some(piece) = plan.pieces.get(i) {
                let near = beside.get(i).map_or(&[][..], Vec::as_slice);
                card(book.page(), frame, plan, i, piece, near);
            }
        }
    }
}

/// The box of a piece as cut, upright as drawn.
fn upright(piece: &PlanPiece) -> Bounds {
    let map = as_drawn(piece);
    Bounds::of(piece.cut.outline.iter().map(|&p| map.apply(point(p))))
}

fn card(page: &mut Page, frame: Bounds, plan: &Plan, index: usize, piece: &PlanPiece, near: &[usize]) {
    page.frame(frame, Pen::new(RULE, 0.3));
    let name = format!("{}  {}", index + 1, piece_name(piece, &plan.pieces));
    let room = frame.width() - 6.0;
    let top = pt(frame.min.x + 3.0, frame.max.y - 5.2);
    page.words(top, 3.6, Font::Bold, INK, &shortened(&name, 3.6, Font::Bold, room));
    let cut = through(as_drawn(piece), &region(&piece.cut));
    let b = cut.bounds();
    let passes: Vec<String> = plan
        .passes
        .iter()
        .filter(|q| q.cloth == piece.cloth)
        .filter(|q| q.burns.iter().any(|b| b.kind != "mark" && b.piece == piece.id && b.copy == piece.copy))
        .map(|q| q.number.to_string())
        .collect();
    let facts = format!(
        "{}, pass {} · {:.0} × {:.0} mm · order {} of {}",
        piece.cloth,
        passes.join(" + "),
        b.width(),
        b.height(),
        piece.order + 1,
        plan.pieces.iter().map(|p| p.order + 1).max().unwrap_or(1),
    );
    let facts = wrap(&facts, SMALL, Font::Regular, room);
    for (k, line) in facts.iter().take(2).enumerate() {
        page.words(top - pt(0.0, 4.3 + 3.4 * k as f64), SMALL, Font::Regular, SOFT, line);
    }
    let below = 3.4 * facts.len().clamp(1, 2) as f64;
    let names: Vec<&str> = near.iter().filter_map(|&j| plan.pieces.get(j)).map(|p| p.id.as_str()).collect();
    let beside = if names.is_empty() {
        "Beside it: nothing".to_owned()
    } else {
        format!("Beside it: {}", names.join(", "))
    };
    let mut lines = wrap(&beside, SMALL, Font::Regular, room);
    if lines.len() > 2 {
        lines.truncate(2);
        if let Some(last) = lines.last_mut() {
            *last = shortened(&format!("{last} and more, see the drawing"), SMALL, Font::Regular, room);
            if !last.contains("more") {
                *last = "… and more, see the drawing".into();
            }
        }
    }
    for (k, line) in lines.iter().enumerate() {
        let at = pt(top.x, frame.min.y + 5.4 - 3.4 * k as f64);
        page.words(at, SMALL, Font::Regular, INK, line);
    }
    let (low, high) = (frame.min.y + 13.5, frame.max.y - 8.4 - below);
    let middle = frame.centre().x;
    let face = Bounds::new(pt(frame.min.x + 3.0, low), pt(middle - 2.0, high));
    let back = Bounds::new(pt(middle + 2.0, low), pt(frame.max.x - 3.0, high));
    side(page, face, plan, piece, &cut, false);
    side(page, back, plan, piece, &cut, true);
    page.words(pt(face.min.x, low - 3.6), SMALL, Font::Bold, INK, "FACE");
    page.words(
        pt(back.min.x, low - 3.6),
        SMALL,
        Font::Bold,
        GLUE,
        if frame.width() < NORMAL.width { "BACK, adhesive" } else { "BACK, adhesive here" },
    );
    page.line(&[pt(middle, low - 3.0), pt(middle, high)], false, Pen::new(RULE, 0.2));
}

fn side(page: &mut Page, room: Bounds, plan: &Plan, piece: &PlanPiece, cut: &Region, mirrored: bool) {
    let (view, scale) = fitted(cut.bounds(), room, mirrored);
    let shape = sketched(view, cut);
    let drawn = sketched(view, &region(&piece.drawn));
    if mirrored {
        page.fill(&shape, [0xff; 3]);
        page.hatch(&shape, 1.7, Pen::new(GLUE, 0.22));
    } else {
        page.fill(&shape, CLOTH);
        pattern(page, plan, piece, view, scale, &shape);
        page.edge(&drawn, Pen::new(SOFT, 0.15).dashed(0.7));
    }
    page.edge(&shape, Pen::new(INK, 0.3));
    grain(page, piece, view, room);
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

/// The warp as an arrow in the corner of a picture.
fn grain(page: &mut Page, piece: &PlanPiece, view: Affine, room: Bounds) {
    let way = warp_on_paper(piece, view);
    let at = pt(room.max.x - 3.6, room.min.y - 2.4);
    for l in arrow(at - way * 2.6, at + way * 2.6, 1.4) {
        page.line(&l, false, Pen::new(INK, 0.3));
    }
}

/// The direction of the warp, of length 1.
pub(super) fn warp_on_paper(piece: &PlanPiece, view: Affine) -> Point {
    let map = view.after(&as_drawn(piece));
    let from = point(piece.shift);
    let v = map.apply(from + pt(0.0, 1.0)) - map.apply(from);
    v * (1.0 / v.x.hypot(v.y).max(1e-9))
}
