//! A card for every piece: its face, its back, and what belongs to it.

use crate::plan::{Plan, PlanPiece};
use crate::shape::{Bounds, pt};
use crate::write::lay_picture::piece_name;
use crate::write::pdf::{Font, Page, Pen, wrap};

use super::book::{Book, SMALL, shortened};
use super::card_pictures::face_and_back;
use super::neighbours::neighbours;
use super::view::{as_drawn, point, region, through};
use super::{INK, RULE, SOFT};

/// Room between cards, mm.
const GUTTER: f64 = 4.0;
/// A piece no larger than this, as cut, gets a small card, mm.
const SMALL_PIECE: f64 = 170.0;

/// A size of card: at least so wide, and so high, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Size {
    width: f64,
    height: f64,
}

const NORMAL: Size = Size { width: 88.0, height: 58.0 };
const LITTLE: Size = Size { width: 56.0, height: 45.0 };
const NARROW: Size = Size { width: 56.0, height: 58.0 };
/// Face above back.
const LONG: Size = Size { width: 88.0, height: 47.0 };
/// The same, over the whole width of any paper.
const ROW: Size = Size { width: 10_000.0, height: 52.0 };
/// A piece at most this share as wide as high, upright, needs no wide card.
const SLENDER: f64 = 0.75;
/// A piece so many times longer than wide is long, and one that is also longer than this, mm, has a row for itself.
const LONG_SHARE: f64 = 3.0;
const LONGEST: f64 = 700.0;

/// Height at the foot of a card for what lies beside the piece, mm.
const FOOT: f64 = 9.0;

/// The size of card for a piece whose box, upright, is `b`.
fn class(b: Bounds) -> Size {
    let (long, short) = (b.width().max(b.height()), b.width().min(b.height()));
    if long <= SMALL_PIECE {
        LITTLE
    } else if long > short * LONG_SHARE {
        if long > LONGEST { ROW } else { LONG }
    } else if b.width() <= b.height() * SLENDER {
        NARROW
    } else {
        NORMAL
    }
}

/// What is done to pieces in their order of work.
pub(super) fn in_turn(plan: &Plan) -> &'static str {
    if plan.sewing.is_some() { "sewn" } else { "laid down" }
}

/// The cards, in the order of work.
pub(super) fn cards(book: &mut Book, plan: &Plan) {
    if plan.pieces.is_empty() {
        return;
    }
    let beside = neighbours(&plan.pieces);
    let inside = book.inside();
    let across = |size: &Size| ((inside.width() + GUTTER) / (size.width + GUTTER)).floor().max(1.0) as usize;
    let mut order: Vec<usize> = (0..plan.pieces.len()).collect();
    let turns = plan.order_of_work();
    order.sort_by_key(|&i| (turns.get(i), plan.pieces.get(i).map(|p| (p.order, p.copy))));
    let in_order = if plan.sewing.is_some() {
        "In the order of work, as the pieces are sewn"
    } else {
        "In the order of laying down, the lowest first"
    };
    book.start("Piece cards");
    book.caption(&format!("{in_order}. Upright as in the drawing, unless it says turned. Arrow: the warp. Blue lines: where the pattern repeats. Dashed: the drawn edge. Hatched, on a tint: the back, which gets the adhesive."));
    let most = across(&LITTLE);
    let mut left = order.as_slice();
    let mut rows: Vec<CardRow> = Vec::new();
    while !left.is_empty() {
        let sizes: Vec<Size> =
            left.iter().filter_map(|&i| plan.pieces.get(i)).take(most).map(|p| class(upright(p))).collect();
        // As many as fit side by side when the widest of them sets the width.
        let mut columns = most;
        let mut count = 0;
        let mut height = 0.0f64;
        for size in &sizes {
            let fewer = columns.min(across(size));
            if count > 0 && fewer < columns && count >= fewer {
                columns = if count > 1 { count } else { columns };
                break;
            }
            columns = fewer;
            count += 1;
            height = height.max(size.height);
            if count == columns {
                break;
            }
        }
        let (row, rest) = left.split_at(count.clamp(1, left.len()));
        left = rest;
        rows.push(CardRow { pieces: row, columns, height });
    }
    let heights: Vec<f64> = rows.iter().map(|r| r.height).collect();
    let share = lower(&heights, book.left(), inside.height());
    for CardRow { pieces, columns, height } in rows {
        let width = (inside.width() - GUTTER * (columns - 1) as f64) / columns as f64;
        let b = book.room(height * share + GUTTER);
        for (k, &i) in pieces.iter().enumerate() {
            let x = b.min.x + k as f64 * (width + GUTTER);
            let frame = Bounds::new(pt(x, b.min.y + GUTTER), pt(x + width, b.max.y));
            if let Some(piece) = plan.pieces.get(i) {
                let near = beside.get(i).map_or(&[][..], Vec::as_slice);
                card(book.page(), frame, plan, (i, piece), &turns, near);
            }
        }
    }
}

/// Cards side by side: their pieces, how many there is room for, how high they are, mm.
struct CardRow<'a> {
    pieces: &'a [usize],
    columns: usize,
    height: f64,
}

/// The share of their heights rows are drawn in: whole, or so much lower that the last page is not begun for one row.
fn lower(heights: &[f64], first: f64, page: f64) -> f64 {
    /// Cards lower than this show little.
    const SHARES: [f64; 3] = [0.95, 0.9, 0.85];
    // Pages, and the rows of the last.
    let pages = |share: f64| {
        let (mut count, mut left, mut rows) = (1, first, 0);
        for height in heights.iter().map(|h| h * share + GUTTER) {
            if left < height && rows > 0 {
                (count, left, rows) = (count + 1, page, 0);
            }
            left -= height;
            rows += 1;
        }
        (count, rows)
    };
    let (count, last) = pages(1.0);
    if count == 1 || last > 1 {
        return 1.0;
    }
    SHARES.into_iter().find(|&s| pages(s).0 < count).unwrap_or(1.0)
}

/// The box of a piece as cut, upright as drawn.
fn upright(piece: &PlanPiece) -> Bounds {
    let map = as_drawn(piece);
    Bounds::of(piece.cut.outline.iter().map(|&p| map.apply(point(p))))
}

fn card(
    page: &mut Page,
    frame: Bounds,
    plan: &Plan,
    (index, piece): (usize, &PlanPiece),
    turns: &[usize],
    near: &[usize],
) {
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
        turns.get(index).unwrap_or(&1),
        turns.iter().max().unwrap_or(&1),
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
    let low = frame.min.y + FOOT;
    let high = frame.max.y - 8.4 - below;
    let room = Bounds::new(pt(frame.min.x + 3.0, low), pt(frame.max.x - 3.0, high));
    face_and_back(page, room, plan, piece, &cut);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_last_page_is_not_begun_for_one_row_of_cards() {
        let share = lower(&[52.0; 5], 255.0, 263.0);
        assert!((0.85..1.0).contains(&share), "{share}");
        assert!(5.0 * (52.0 * share + GUTTER) <= 255.0);
        assert_eq!(lower(&[58.0; 4], 255.0, 263.0), 1.0);
        assert_eq!(lower(&[52.0; 6], 255.0, 263.0), 1.0);
        // Where no bearable share helps, they stay as they are.
        assert_eq!(lower(&[88.0; 3], 190.0, 263.0), 1.0);
    }

    #[test]
    fn long_pieces_get_wide_cards_and_very_long_ones_a_row() {
        let size = |w: f64, h: f64| class(Bounds::new(pt(0.0, 0.0), pt(w, h)));
        assert_eq!(size(1311.0, 56.0), ROW);
        assert_eq!(size(26.0, 462.0), LONG);
        assert_eq!(size(60.0, 40.0), LITTLE);
        assert_eq!(size(150.0, 300.0), NARROW);
        assert_eq!(size(300.0, 250.0), NORMAL);
    }
}
