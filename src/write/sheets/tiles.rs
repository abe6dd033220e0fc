//! Keys and pieces in full size, over as many papers as they need.

use crate::plan::{Plan, PlanPiece};
use crate::shape::{Affine, Bounds, Point, Region, pt};
use crate::write::keyed::{LETTER_MM, lettering};
use crate::write::letters;
use crate::write::pdf::{Font, Page, Pen, width_mm};

use super::book::{Book, SMALL};
use super::cards::{pattern, warp_on_paper};
use super::view::{arrow, as_drawn, fitted, point, region, through};
use super::{INK, PALE, RULE, SOFT, TEST_SQUARE_MM, labels};

/// How far neighbouring tiles overlap, mm.
const OVERLAP: f64 = 12.0;
/// Half the length of a match cross, mm.
const CROSS: f64 = 4.0;
/// Height kept free at the foot of a tile for its name, mm.
const NAME: f64 = 6.0;
/// More tiles than this each way are no longer worth gluing.
const MOST: f64 = 60.0;

/// Something to be drawn in full size.
pub(super) struct Work<'a> {
    pub name: String,
    pub about: String,
    pub bounds: Bounds,
    /// Every line of it; a tile none of them crosses is left out.
    pub lines: Vec<Vec<Point>>,
    pub draw: Box<dyn Fn(&mut Page, Affine) + 'a>,
}

/// Keys of all passes.
pub(super) fn keys(book: &mut Book, plan: &Plan) {
    for pass in plan.passes.iter().filter(|p| !p.key.is_empty()) {
        let [w, h] = pass.bed_mm;
        let mut lines: Vec<Vec<Point>> =
            pass.key.iter().map(|k| closed(k.path.iter().map(|&p| point(p)).collect(), k.closed)).collect();
        let cross =
            |p: Point| [vec![p - pt(5.0, 0.0), p + pt(5.0, 0.0)], vec![p - pt(0.0, 5.0), p + pt(0.0, 5.0)]];
        lines.extend(pass.marks.iter().filter(|m| !m.burnt_here).flat_map(|m| cross(point(m.bed))));
        let drawn = lines.clone();
        let work = Work {
            name: format!("{}, pass {}: key", pass.cloth, pass.number),
            about: "Bed from above; the frame is the bed's edge. Lay the glued key on the bed edge to edge, and the cut edges of the cloth in its lines.".into(),
            bounds: Bounds::new(pt(0.0, 0.0), pt(w, h)),
            lines,
            draw: Box::new(move |page, map| {
                let corners = Bounds::new(pt(0.0, 0.0), pt(w, h)).corners().map(|p| map.apply(p));
                page.line(&corners, true, Pen::new(RULE, 0.3));
                for l in &drawn {
                    let l: Vec<Point> = l.iter().map(|&p| map.apply(p)).collect();
                    page.line(&l, false, Pen::new(INK, 0.35));
                }
                for name in lettering(pass) {
                    for stroke in letters::strokes(&name.text, LETTER_MM).0 {
                        let l: Vec<Point> = stroke.iter().map(|&p| map.apply(p + name.at)).collect();
                        page.line(&l, false, Pen::new(SOFT, 0.5));
                    }
                }
            }),
        };
        tile(book, &work);
    }
}

/// Every piece once, seen from its face: small ones several to a page, large ones tiled.
pub(super) fn pieces(book: &mut Book, plan: &Plan) {
    let mut small: Vec<(&PlanPiece, Region)> = Vec::new();
    let mut large: Vec<(&PlanPiece, Region)> = Vec::new();
    let inside = book.inside();
    let room = Bounds::new(inside.min + pt(0.0, NAME), inside.max);
    for piece in plan.pieces.iter().filter(|p| p.copy == 1) {
        let r = through(as_drawn(piece), &region(&piece.cut));
        let b = r.bounds();
        let fits = b.width() <= room.width() - 2.0 && b.height() <= room.height() - 10.0;
        if fits { small.push((piece, r)) } else { large.push((piece, r)) }
    }
    shelves(book, plan, small);
    for (piece, r) in large {
        let n = plan.pieces.iter().filter(|p| p.id == piece.id).count();
        let work = Work {
            name: format!("{}: full size", piece.id),
            about: format!(
                "{n} to cut, seen from the face, upright as in the drawing. Whole line: the cut edge; dashed: the drawn edge."
            ),
            bounds: r.bounds(),
            lines: r.rings().map(|g| closed(g.points.clone(), true)).collect(),
            draw: Box::new(move |page, map| full(page, plan, piece, map)),
        };
        tile(book, &work);
    }
}

fn closed(mut points: Vec<Point>, is: bool) -> Vec<Point> {
    if let (true, Some(&first)) = (is, points.first()) {
        points.push(first);
    }
    points
}

/// A piece in full size through a map that only shifts.
fn full(page: &mut Page, plan: &Plan, piece: &PlanPiece, map: Affine) {
    let shape = through(map.after(&as_drawn(piece)), &region(&piece.cut));
    pattern(page, plan, piece, map, 1.0, &shape);
    page.edge(&through(map, &region(&piece.drawn)), Pen::new(SOFT, 0.2).dashed(1.5));
    page.edge(&shape, Pen::new(INK, 0.35));
    let n = plan.pieces.iter().filter(|p| p.id == piece.id).count();
    let name = if n > 1 { format!("{} × {n}", piece.id) } else { piece.id.clone() };
    let number = plan.pieces.iter().position(|p| p.id == piece.id).map_or(0, |i| i + 1).to_string();
    if let Some(l) = labels::inside(&shape, &[&name, &number], &[6.0, 4.5, 3.5, 2.6]) {
        page.words(l.at, l.size, Font::Regular, INK, &l.text);
        let way = warp_on_paper(piece, map);
        let middle = l.at + pt(width_mm(&l.text, l.size, Font::Regular) / 2.0, -8.0);
        let plate = Bounds::of([middle - way * 5.0, middle + way * 5.0]).grown(1.0);
        if labels::holds(&shape, plate) {
            for line in arrow(middle - way * 5.0, middle + way * 5.0, 2.2) {
                page.line(&line, false, Pen::new(INK, 0.3));
            }
        }
    }
}

/// Small pieces in rows, the tallest first, each with its name above it.
fn shelves(book: &mut Book, plan: &Plan, mut small: Vec<(&PlanPiece, Region)>) {
    if small.is_empty() {
        return;
    }
    small.sort_by(|a, b| b.1.bounds().height().total_cmp(&a.1.bounds().height()));
    book.start("Pieces in full size");
    book.caption("Seen from the face, upright as in the drawing. Whole line: the cut edge; dashed: the drawn edge; arrow: the warp. The square proves the scale.");
    let b = book.room(TEST_SQUARE_MM + 4.0);
    test_square(book.page(), pt(b.min.x, b.min.y + 2.0));
    let (mut x, mut row) = (f64::INFINITY, b);
    for (piece, r) in small {
        let size = r.bounds();
        let number = plan.pieces.iter().position(|p| p.id == piece.id).map_or(0, |i| i + 1);
        let n = plan.pieces.iter().filter(|p| p.id == piece.id).count();
        let name =
            if n > 1 { format!("{number} {} × {n}", piece.id) } else { format!("{number} {}", piece.id) };
        let wide = size.width().max(width_mm(&name, SMALL, Font::Regular).min(60.0)) + 5.0;
        if x + wide > row.max.x + 5.0 {
            row = book.room(size.height() + 8.0);
            x = row.min.x;
        }
        let shown = super::book::shortened(&name, SMALL, Font::Regular, wide - 3.0);
        book.page().words(pt(x, row.max.y - 3.4), SMALL, Font::Regular, SOFT, &shown);
        let by = pt(x + 0.5, row.max.y - 5.0 - size.height()) - size.min;
        full(book.page(), plan, piece, Affine([1.0, 0.0, 0.0, 1.0, by.x, by.y]));
        x += wide;
    }
}

/// The square that proves the scale, its lower-left corner at `at`.
fn test_square(page: &mut Page, at: Point) {
    let square = Bounds::new(at, at + pt(TEST_SQUARE_MM, TEST_SQUARE_MM));
    page.frame(square, Pen::new(INK, 0.2));
    for (k, line) in
        ["50 mm each way,", "middle of line to", "middle of line.", "If not, print anew", "at 100 %."]
            .iter()
            .enumerate()
    {
        page.words(at + pt(4.0, TEST_SQUARE_MM - 8.0 - 4.4 * k as f64), 3.2, Font::Regular, INK, line);
    }
}

/// The plan of the tiles, then the tiles.
pub(super) fn tile(book: &mut Book, work: &Work) {
    let inside = book.inside();
    let room = Bounds::new(inside.min + pt(0.0, NAME), inside.max);
    let (pitch_x, pitch_y) = (room.width() - OVERLAP, room.height() - OVERLAP);
    let b = work.bounds;
    let count = |size: f64, pitch: f64| ((size - OVERLAP) / pitch).ceil().clamp(1.0, MOST) as u32;
    let (columns, rows) = (count(b.width(), pitch_x), count(b.height(), pitch_y));
    book.start(&work.name);
    book.paragraph("", &work.about);
    let reaches = |column: u32, row: u32| {
        let min =
            pt(b.min.x + f64::from(column) * pitch_x, b.max.y - f64::from(row) * pitch_y - room.height());
        Bounds::new(min, min + pt(room.width(), room.height()))
    };
    let used = |t: Bounds| {
        work.lines.iter().any(|l| {
            l.windows(2).any(|w| matches!(w, [p, q] if Bounds::of([*p, *q]).meets(t) && touches(t, *p, *q)))
        })
    };
    let tiles: Vec<(u32, u32, Bounds, bool)> = (0..rows)
        .flat_map(|r| (0..columns).map(move |c| (c, r)))
        .map(|(c, r)| (c, r, reaches(c, r), used(reaches(c, r))))
        .collect();
    let kept = tiles.iter().filter(|t| t.3).count();
    book.paragraph("", &format!(
        "{kept} of {} tiles have lines on them and follow. Neighbours overlap by {OVERLAP:.0} mm: lay cross on cross and glue.",
        tiles.len()
    ));
    let square = book.room(TEST_SQUARE_MM + 4.0);
    test_square(book.page(), pt(square.min.x, square.min.y + 2.0));
    let area = book.room((book.left() - 4.0).max(40.0)).grown(-2.0);
    let whole = tiles.iter().fold(b, |all, t| all.union(t.2));
    let (view, _) = fitted(whole, area, false);
    for (column, row, t, kept) in &tiles {
        let on = Bounds::new(view.apply(t.min), view.apply(t.max));
        if *kept {
            book.page().block(on.grown(-0.4), PALE);
        }
        book.page().frame(on, Pen::new(RULE, 0.2));
        let name = if *kept { tile_name(*column, *row) } else { "–".into() };
        book.page().words(on.min + pt(1.5, 1.5), SMALL, Font::Regular, SOFT, &name);
    }
    (work.draw)(book.page(), view);
    for (column, row, t, _) in tiles.iter().filter(|t| t.3) {
        book.start(&work.name);
        let shift = room.min - t.min;
        let map = Affine([1.0, 0.0, 0.0, 1.0, shift.x, shift.y]);
        let page = book.page();
        page.clip(&Region::rectangle(room));
        (work.draw)(page, map);
        page.unclip();
        page.frame(room, Pen::new(RULE, 0.15).dashed(2.0));
        for corner in room.grown(-OVERLAP / 2.0).corners() {
            let pen = Pen::new(INK, 0.18);
            page.line(&[corner - pt(CROSS, 0.0), corner + pt(CROSS, 0.0)], false, pen);
            page.line(&[corner - pt(0.0, CROSS), corner + pt(0.0, CROSS)], false, pen);
        }
        let foot = inside.min + pt(0.0, 1.2);
        let name = format!("{} of {rows} rows, {columns} columns", tile_name(*column, *row));
        page.words(foot, 3.2, Font::Bold, INK, &name);
        let bar = [pt(inside.max.x - TEST_SQUARE_MM, foot.y + 1.0), pt(inside.max.x, foot.y + 1.0)];
        page.line(&bar, false, Pen::new(INK, 0.3));
        for end in bar {
            page.line(&[end - pt(0.0, 1.2), end + pt(0.0, 1.2)], false, Pen::new(INK, 0.2));
        }
        page.words(bar[0] - pt(13.0, 1.0), SMALL, Font::Regular, SOFT, "50 mm");
    }
}

/// Rows count from the far side, columns from the left, both from 1.
fn tile_name(column: u32, row: u32) -> String {
    format!("row {}, column {}", row + 1, column + 1)
}

/// True when the line enters the tile: looked at every few millimetres.
fn touches(t: Bounds, p: Point, q: Point) -> bool {
    let n = (crate::shape::distance(p, q) / 2.0).ceil().clamp(1.0, 5000.0) as u32;
    (0..=n).any(|i| t.contains(crate::shape::lerp(p, q, f64::from(i) / f64::from(n))))
}
