//! Things in full size over several papers: the plan of the papers, then the papers.

use crate::shape::{Affine, Bounds, Point, Region, distance, lerp, pt};
use crate::write::pdf::{Font, Page, Pen, Rgb, width_mm, wrap};

use super::book::{Book, SMALL, shortened};
use super::tiling::{MOST, OVERLAP, Tile, Tiling, fewest};
use super::view::{arrow, fitted, thinned};
use super::{INK, PALE, RULE, SOFT, TEST_SQUARE_MM};

/// Radius of the circle that papers are glued by, and half the length of the lines that cross in it, slantwise, mm: nothing
/// else on these papers looks like it.
const GLUE_CIRCLE: f64 = 2.0;
const GLUE_CROSS: f64 = 5.2;
/// How far these keep from marks, mm, and in what steps room is looked for along the seam.
const APART: f64 = 18.0;
const STEP: f64 = 2.0;
/// Height kept free at the foot of a tile for its name, mm.
pub(super) const NAME: f64 = 6.0;
/// Height of a thing's plan of papers, mm.
const PLAN: f64 = 66.0;

/// Height of a heading, the words under it and the plan of one thing's papers, mm.
const TOGETHER: f64 = 40.0 + PLAN;

/// Draws a thing through a map into a paper; the box is what the paper shows, in the thing's own frame.
type Draw<'a> = Box<dyn Fn(&mut Page, Affine, Bounds) + 'a>;

/// What is said on a thing, as strokes in its own frame, once it is known what its papers show, in the same frame.
type Said<'a> = Box<dyn Fn(&[Bounds]) -> Vec<Vec<Point>> + 'a>;

/// Something to be drawn in full size.
pub(super) struct Work<'a> {
    /// Its name, at the head of its papers.
    pub name: String,
    /// What to do when it takes too many papers.
    pub instead: String,
    /// The lines that must be seen; a paper none of them crosses is left out.
    pub lines: Vec<Vec<Point>>,
    /// Turns it may be drawn in, degrees, the plainest first.
    pub turns_deg: Vec<f64>,
    /// The direction of the warp in its own frame.
    pub warp: Point,
    /// Its marks, which the signs to glue by keep away from, in its own frame.
    pub marks: Vec<Point>,
    /// True when its frame is the bed's: then papers say where they lie on it.
    pub on_bed: bool,
    /// How it lies, in words beside the arrow of the warp; may be empty.
    pub lies: &'static str,
    /// Draws it.
    pub draw: Draw<'a>,
    /// What is said on it, over what is drawn.
    pub said: Said<'a>,
}

/// The part of a page a tile shows.
pub(super) fn room(book: &Book) -> Bounds {
    let inside = book.inside();
    Bounds::new(inside.min + pt(0.0, NAME), inside.max)
}

/// What stands before the papers.
pub(super) struct Before<'a> {
    /// The section's name.
    pub section: &'a str,
    /// What the papers show.
    pub about: &'a str,
    /// What an upright cross with a letter is; empty when there is none.
    pub cross: &'a str,
    /// Its ink.
    pub cross_ink: Rgb,
    /// In place of the test square, where to find it; then the section begins on the page before, if there is room.
    pub no_square: Option<&'a str>,
}

/// The plans of all things, several to a page, then their papers.
pub(super) fn tiled(book: &mut Book, before: &Before, works: &[Work]) {
    if works.is_empty() {
        return;
    }
    let room = room(book);
    match before.no_square {
        None => book.start(before.section),
        Some(_) => {
            // The words and the plan of the papers stay together.
            book.need(TOGETHER);
            book.heading(before.section);
        }
    }
    book.paragraph("", before.about);
    book.paragraph("", &format!(
        "Papers without a line are left out. Neighbours overlap by {OVERLAP:.0} mm: lay circle on circle and glue."
    ));
    match before.no_square {
        None => {
            let square = book.room(TEST_SQUARE_MM + 4.0);
            test_square(book.page(), pt(square.min.x, square.min.y + 2.0));
            legend(book.page(), pt(square.min.x + TEST_SQUARE_MM + 14.0, square.max.y - 8.0), before);
        }
        Some(where_it_is) => book.paragraph("", where_it_is),
    }
    let mut tilings: Vec<(&Work, Tiling)> = Vec::new();
    for work in works {
        match fewest(&work.lines, &work.turns_deg, [room.width(), room.height()]) {
            Ok(tiling) => {
                let at = plan_of(book, work, &tiling);
                if before.no_square.is_some() {
                    legend(book.page(), at, before);
                }
                tilings.push((work, tiling));
            }
            Err([columns, rows]) => book.paragraph("!", &format!(
                "{} is not drawn in full size: it is {columns:.0} papers wide and {rows:.0} high, and more than {MOST} are no longer worth gluing. {}",
                work.name, work.instead
            )),
        }
    }
    for (work, tiling) in &tilings {
        let back = tiling.turn.inverse().unwrap_or(Affine::IDENTITY);
        let shown = |t: &Tile| Bounds::of(t.reach.corners().map(|p| back.apply(p)));
        let said = (work.said)(&tiling.tiles.iter().map(shown).collect::<Vec<_>>());
        for tile in &tiling.tiles {
            paper(book, room, work, tiling, tile, &said);
        }
    }
}

/// Which papers there are, small, with their names. Gives a place beside it with room for the legend.
fn plan_of(book: &mut Book, work: &Work, tiling: &Tiling) -> Point {
    let b = book.room(PLAN);
    let picture = Bounds::new(b.min + pt(0.0, 3.0), pt(b.min.x + b.width() * 0.6, b.max.y - 2.0));
    let seen = |p: Point| tiling.turn.apply(p);
    let lines: Vec<Vec<Point>> = work.lines.iter().map(|l| l.iter().map(|&p| seen(p)).collect()).collect();
    let whole =
        tiling.tiles.iter().fold(Bounds::of(lines.iter().flatten().copied()), |all, t| all.union(t.reach));
    let (view, _) = fitted(whole, picture, false);
    let page = book.page();
    for t in &tiling.tiles {
        let on = Bounds::new(view.apply(t.reach.min), view.apply(t.reach.max));
        page.block(on, PALE);
    }
    for t in &tiling.tiles {
        let on = Bounds::new(view.apply(t.reach.min), view.apply(t.reach.max));
        page.frame(on, Pen::new(RULE, 0.2));
        let size = SMALL.min(on.width() / 3.5).min(on.height() / 2.0);
        page.words(on.min + pt(size * 0.4, size * 0.4), size, Font::Regular, SOFT, &short_name(t));
    }
    for l in &lines {
        page.line(&thinned(l.iter().map(|&p| view.apply(p))), false, Pen::new(INK, 0.2));
    }
    let at = pt(picture.max.x + 6.0, b.max.y - 6.0);
    let width = b.max.x - at.x;
    page.words(at, 3.3, Font::Bold, INK, &shortened(&work.name, 3.3, Font::Bold, width));
    let turned = if tiling.turn_deg == 0.0 {
        String::new()
    } else {
        format!(" Turned by {:.0}° to fit the paper.", tiling.turn_deg)
    };
    let text = format!(
        "{} of {} papers. 2/1: second row from the far side, first column.{turned}",
        tiling.tiles.len(),
        tiling.rows * tiling.columns,
    );
    let lines = wrap(&text, SMALL, Font::Regular, width);
    for (k, line) in lines.iter().enumerate() {
        page.words(at - pt(0.0, 5.0 + 3.6 * k as f64), SMALL, Font::Regular, SOFT, line);
    }
    at + pt(4.5, -14.0 - 3.6 * lines.len() as f64)
}

fn paper(book: &mut Book, room: Bounds, work: &Work, tiling: &Tiling, tile: &Tile, said: &[Vec<Point>]) {
    book.start(&work.name);
    let inside = book.inside();
    let shift = room.min - tile.reach.min;
    let map = Affine([1.0, 0.0, 0.0, 1.0, shift.x, shift.y]).after(&tiling.turn);
    let back = map.inverse().unwrap_or(Affine::IDENTITY);
    let shows = Bounds::of(room.corners().map(|p| back.apply(p)));
    let page = book.page();
    page.clip(&Region::rectangle(room));
    (work.draw)(page, map, shows);
    // What is cut off by the paper's edge stands whole on its neighbour.
    for stroke in said.iter().filter(|s| shows.holds(Bounds::of(s.iter().copied()))) {
        page.line(&thinned(stroke.iter().map(|&p| map.apply(p))), false, Pen::new(SOFT, 0.5));
    }
    page.unclip();
    page.frame(room, Pen::new(RULE, 0.15).dashed(2.0));
    let marks: Vec<Point> = work.marks.iter().map(|&m| map.apply(m)).collect();
    let circles = glue_spots(room, &marks);
    circles.iter().for_each(|&at| glue_sign(page, at));
    let foot = inside.min + pt(0.0, 1.2);
    let mut name = format!("{} of {}/{}", short_name(tile), tiling.rows, tiling.columns);
    if work.on_bed {
        let by_place = |a: &&Point, b: &&Point| (a.x + a.y).total_cmp(&(b.x + b.y));
        let ends = [circles.iter().min_by(by_place), circles.iter().max_by(by_place)];
        let [left, right] = ends.map(|p| back.apply(p.copied().unwrap_or(room.min)));
        name += &format!(
            "   circles at {:.1}, {:.1} lower left; {:.1}, {:.1} upper right",
            left.x, left.y, right.x, right.y
        );
    }
    let at = pt(inside.max.x - TEST_SQUARE_MM - 16.0, foot.y + 1.0);
    let lies = pt(at.x - 4.0 - width_mm(work.lies, SMALL, Font::Regular), foot.y);
    page.words(lies, SMALL, Font::Regular, INK, work.lies);
    let name = shortened(&name, SMALL, Font::Bold, lies.x - foot.x - 2.0);
    page.words(foot, SMALL, Font::Bold, INK, &name);
    let origin = map.apply(pt(0.0, 0.0));
    let way = map.apply(work.warp) - origin;
    let way = way * (1.0 / way.x.hypot(way.y).max(1e-9));
    for l in arrow(at - way * 2.4, at + way * 2.4, 1.4) {
        page.line(&l, false, Pen::new(INK, 0.3));
    }
    let bar = [pt(inside.max.x - TEST_SQUARE_MM, foot.y + 1.0), pt(inside.max.x, foot.y + 1.0)];
    page.line(&bar, false, Pen::new(INK, 0.3));
    for end in bar {
        page.line(&[end - pt(0.0, 1.2), end + pt(0.0, 1.2)], false, Pen::new(INK, 0.2));
    }
    page.words(bar[0] + pt(-11.0, -1.0), SMALL, Font::Regular, SOFT, "50 mm");
}

/// Where a paper has the signs it is glued by: at both ends of each of its seams, moved along the seam away from marks, which
/// a maker might take for one another. Both papers of a seam find the same spots.
fn glue_spots(room: Bounds, marks: &[Point]) -> Vec<Point> {
    let b = room.grown(-OVERLAP / 2.0);
    let [a, right, c, left] = b.corners();
    let mut spots: Vec<Point> = Vec::new();
    for (from, to) in [(a, right), (right, c), (c, left), (left, a)] {
        for (end, other) in [(from, to), (to, from)] {
            let long = distance(end, other);
            let steps = (long * 0.45 / STEP).floor().clamp(0.0, 400.0) as u32;
            let at = |k: u32| lerp(end, other, f64::from(k) * STEP / long.max(STEP));
            let clear = |p: &Point| marks.iter().all(|m| distance(*m, *p) >= APART);
            let spot = (0..=steps).map(at).find(clear).unwrap_or(end);
            if spots.iter().all(|s| distance(*s, spot) > STEP / 2.0) {
                spots.push(spot);
            }
        }
    }
    spots
}

/// The sign papers are glued by.
fn glue_sign(page: &mut Page, at: Point) {
    let pen = Pen::new(INK, 0.18);
    page.circle(at, GLUE_CIRCLE, pen);
    let arm = GLUE_CROSS * std::f64::consts::FRAC_1_SQRT_2;
    for arm in [pt(arm, arm), pt(arm, -arm)] {
        page.line(&[at - arm, at + arm], false, pen);
    }
}

/// What the signs on the papers are, from `at` down.
fn legend(page: &mut Page, at: Point, before: &Before) {
    glue_sign(page, at);
    let words = |page: &mut Page, at: Point, text: &str| {
        let room = (page.size[0] - 12.0 - at.x).max(20.0);
        for (k, line) in wrap(text, SMALL, Font::Regular, room).iter().enumerate() {
            page.words(at - pt(0.0, 3.6 * k as f64), SMALL, Font::Regular, INK, line);
        }
    };
    words(page, at + pt(8.0, -1.0), "to glue papers by, circle on circle");
    if !before.cross.is_empty() {
        let cross = at - pt(0.0, 10.0);
        for arm in [pt(4.0, 0.0), pt(0.0, 4.0)] {
            page.line(&[cross - arm, cross + arm], false, Pen::new(before.cross_ink, 0.35));
        }
        words(page, cross + pt(8.0, -1.0), before.cross);
    }
}

/// Rows count from the far side, columns from the left, both from 1.
fn short_name(tile: &Tile) -> String {
    format!("{}/{}", tile.row + 1, tile.column + 1)
}

/// The square that proves the scale, its lower-left corner at `at`.
pub(super) fn test_square(page: &mut Page, at: Point) {
    let square = Bounds::new(at, at + pt(TEST_SQUARE_MM, TEST_SQUARE_MM));
    page.frame(square, Pen::new(INK, 0.2));
    let lines =
        ["50 mm each way,", "middle of line to", "middle of line.", "If not, print anew", "at 100 %."];
    for (k, line) in lines.iter().enumerate() {
        page.words(at + pt(4.0, TEST_SQUARE_MM - 8.0 - 4.4 * k as f64), 3.2, Font::Regular, INK, line);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_papers_are_glued_by_keeps_away_from_marks_and_is_the_same_on_both_papers(
            marks in proptest::collection::vec((-40.0f64..420.0, -40.0f64..300.0), 0..6),
        ) {
            let marks: Vec<Point> = marks.into_iter().map(|(x, y)| pt(x, y)).collect();
            let one = Bounds::new(pt(0.0, 0.0), pt(186.0, 257.0));
            let other = one.shifted(pt(186.0 - OVERLAP, 0.0));
            let (left, right) = (glue_spots(one, &marks), glue_spots(other, &marks));
            for spot in left.iter().chain(&right) {
                prop_assert!(marks.iter().all(|m| distance(*m, *spot) >= APART), "{spot:?}");
            }
            let on_seam = |spots: &[Point]| -> usize {
                spots.iter().filter(|p| (p.x - (one.max.x - OVERLAP / 2.0)).abs() < 1e-6).count()
            };
            prop_assert!(on_seam(&left) >= 2);
            let common = left.iter().filter(|p| right.iter().any(|q| distance(**p, *q) < 1e-6)).count();
            prop_assert!(common >= 2, "{left:?} {right:?}");
        }
    }
}
