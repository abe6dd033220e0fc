//! Keys and pieces in full size: what fits shares a page, what does not goes over several.

use std::collections::BTreeMap;

use crate::plan::{Plan, PlanPass, PlanPiece};
use crate::shape::{Affine, Bounds, Point, Region, pt};
use crate::write::keyed::{CROSS_MM, Ground, Lettering, is_face_up, lettering_in, mark_signs};
use crate::write::pdf::{Font, Page, Pen, width_mm};

use super::book::{Book, SMALL, shortened};
use super::card_pictures::{pattern, warp_on_paper};
use super::shelves::shelves;
use super::tiles::{Before, Work, room, test_square, tiled};
use super::tiling::{OVERLAP, turned};
use super::view::{arrow, as_drawn, point, region, sketched, thinned, through};
use super::{INK, RULE, SOFT, TEST_SQUARE_MM, labels};

/// Room between pieces on a page and above them for their name, mm.
const BETWEEN: f64 = 4.0;
const ABOVE: f64 = 6.5;
/// A piece is turned where its box becomes smaller than this share of the upright one.
const WORTH_A_TURN: f64 = 0.8;

/// Keys of all passes. `stems` are the cut files' stems by cloth.
pub(super) fn keys(book: &mut Book, plan: &Plan, stems: &BTreeMap<String, String>) {
    let works: Vec<Work> = plan
        .passes
        .iter()
        .filter(|p| !p.key.is_empty())
        .map(|p| key(plan, p, stems.get(&p.cloth).map_or("cloth", String::as_str)))
        .collect();
    let before = Before {
        section: "Keys in full size",
        about: "The bed from above, the frame its edge, small figures on each paper its place on the bed in mm. Lay the cut edges of the cloth in the lines of the key. What the key need not hold, such as a mark off these papers, is not printed; the arrow at the foot is the warp, from the near cut end of the cloth to the far one, and beside it which face lies up. A number alone is a piece's number on the bed map.",
        cross: "with its letter: a mark, burnt in the cloth by the pass before",
        cross_ink: SOFT,
        no_square: None,
    };
    tiled(book, &before, &works);
}

/// How far the words of a key keep inside its bed's edge, mm, and the least part of a paper on the bed that is looked at
/// for words, width and height.
const IN_BED: f64 = 1.5;
const LEAST: [f64; 2] = [20.0, 10.0];

fn key<'a>(plan: &'a Plan, pass: &'a PlanPass, stem: &str) -> Work<'a> {
    let [w, h] = pass.bed_mm;
    let lines: Vec<Vec<Point>> =
        pass.key.iter().map(|k| closed(k.path.iter().map(|&p| point(p)).collect(), k.closed)).collect();
    let drawn = lines.clone();
    let [_, _, c, d, ..] = pass.cloth_to_bed;
    Work {
        name: format!("{}, pass {}: key", pass.cloth, pass.number),
        instead: format!(
            "Cut it with cut/{stem}-pass-{}-key.svg or .dxf, or ask for larger paper (sheets.paper).",
            pass.number
        ),
        lines,
        turns_deg: vec![0.0, 90.0],
        warp: pt(c, d),
        marks: pass.marks.iter().filter(|m| !m.burnt_here).map(|m| point(m.bed)).collect(),
        on_bed: true,
        lies: if is_face_up(pass) { "cloth face up" } else { "cloth face down" },
        draw: Box::new(move |page, map, shows| {
            let corners = Bounds::new(pt(0.0, 0.0), pt(w, h)).corners().map(|p| map.apply(p));
            page.line(&corners, true, Pen::new(RULE, 0.3));
            for l in drawn.iter().filter(|l| Bounds::of(l.iter().copied()).meets(shows)) {
                let l = thinned(l.iter().map(|&p| map.apply(p)));
                page.line(&l, false, Pen::new(INK, 0.35));
            }
        }),
        said: Box::new(move |papers| said(plan, pass, papers)),
    }
}

/// The names of a key's pieces and marks, each whole on one of its papers, clear of what the neighbours cover.
fn said(plan: &Plan, pass: &PlanPass, papers: &[Bounds]) -> Vec<Vec<Point>> {
    let bed = Bounds::new(pt(0.0, 0.0), pt(pass.bed_mm[0], pass.bed_mm[1])).grown(-IN_BED);
    let room = |paper: &Bounds| {
        let b = paper.grown(-OVERLAP);
        let on = Bounds::new(
            pt(b.min.x.max(bed.min.x), b.min.y.max(bed.min.y)),
            pt(b.max.x.min(bed.max.x), b.max.y.min(bed.max.y)),
        );
        if on.width() >= LEAST[0] && on.height() >= LEAST[1] { on } else { b }
    };
    let ground = Ground {
        shown: papers.iter().map(|p| p.grown(-CROSS_MM)).collect(),
        rooms: papers.iter().map(room).collect(),
    };
    // Only a piece there is one of has one number.
    let number = |name: &str| {
        let mut all = (1..).zip(&plan.pieces).filter(|(_, p)| p.id == name);
        all.next().filter(|_| all.next().is_none()).map(|(n, _): (usize, _)| n.to_string())
    };
    let names = lettering_in(pass, &ground, &number);
    names.iter().flat_map(Lettering::strokes).chain(mark_signs(pass, &ground)).collect()
}

/// Every piece once, seen from its face: those that fit share pages, the others are tiled.
pub(super) fn pieces(book: &mut Book, plan: &Plan) {
    let room = room(book);
    let paper = [room.width() - BETWEEN, room.height() - ABOVE - 10.0];
    let mut whole: Vec<(&PlanPiece, f64, Region)> = Vec::new();
    let mut works: Vec<Work> = Vec::new();
    for piece in plan.pieces.iter().filter(|p| p.copy == 1) {
        let upright = through(as_drawn(piece), &region(&piece.cut));
        if let Some((deg, shape)) = turned_to_fit(&upright, paper) {
            whole.push((piece, deg, shape));
            continue;
        }
        let map = as_drawn(piece);
        works.push(Work {
            name: format!("{}: full size", titled(plan, piece)),
            instead: "Ask for larger paper (sheets.paper).".into(),
            lines: upright.rings().map(|g| closed(g.points.clone(), true)).collect(),
            turns_deg: turns(),
            warp: map.apply(pt(0.0, 1.0)) - map.apply(pt(0.0, 0.0)),
            marks: Vec::new(),
            on_bed: false,
            lies: "",
            draw: Box::new(move |page, map, _| full(page, plan, piece, map)),
            said: Box::new(|_| Vec::new()),
        });
    }
    shared(book, plan, &whole);
    let before = Before {
        section: "Large pieces in full size",
        about: "Seen from the face. Whole line: the cut edge; dashed: the drawn edge; the arrow at the foot is the warp.",
        cross: "",
        cross_ink: SOFT,
        no_square: None,
    };
    tiled(book, &before, &works);
}

/// Upright, lying, then every 15 degrees between.
fn turns() -> Vec<f64> {
    [0.0, 90.0].into_iter().chain((1..12).filter(|k| *k != 6).map(|k| f64::from(k) * 15.0)).collect()
}

/// The turn in which a shape fits the paper in the smallest box, upright unless another is clearly smaller.
fn turned_to_fit(upright: &Region, paper: [f64; 2]) -> Option<(f64, Region)> {
    let mut best: Option<(f64, f64, Region)> = None;
    for deg in turns() {
        let shape = through(turned(deg), upright);
        let b = shape.bounds();
        if !(b.width() <= paper[0] && b.height() <= paper[1]) {
            continue;
        }
        let area = b.width() * b.height();
        if best.as_ref().is_none_or(|(least, ..)| area < least * WORTH_A_TURN) {
            best = Some((area, deg, shape));
        }
    }
    best.map(|(_, deg, shape)| (deg, shape))
}

/// Number, name and how many.
fn titled(plan: &Plan, piece: &PlanPiece) -> String {
    let number = plan.pieces.iter().position(|p| p.id == piece.id).map_or(0, |i| i + 1);
    let n = plan.pieces.iter().filter(|p| p.id == piece.id).count();
    if n > 1 { format!("{number} {} × {n}", piece.id) } else { format!("{number} {}", piece.id) }
}

fn closed(mut points: Vec<Point>, is: bool) -> Vec<Point> {
    if let (true, Some(&first)) = (is, points.first()) {
        points.push(first);
    }
    points
}

/// A piece in full size through a map from its upright place that only turns and shifts.
fn full(page: &mut Page, plan: &Plan, piece: &PlanPiece, map: Affine) {
    let shape = through(map.after(&as_drawn(piece)), &region(&piece.cut));
    pattern(page, plan, piece, map, 1.0, &shape);
    page.edge(&sketched(map, &region(&piece.drawn)), Pen::new(SOFT, 0.2).dashed(1.5));
    page.edge(&sketched(map.after(&as_drawn(piece)), &region(&piece.cut)), Pen::new(INK, 0.35));
    let name = titled(plan, piece);
    let number = name.split(' ').next().unwrap_or_default();
    if let Some(l) = labels::inside(&shape, &[&name, number], &[6.0, 4.5, 3.5, 2.6]) {
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

/// Pieces that fit on a page, several together, each with its name above it.
fn shared(book: &mut Book, plan: &Plan, whole: &[(&PlanPiece, f64, Region)]) {
    if whole.is_empty() {
        return;
    }
    const SECTION: &str = "Pieces in full size";
    book.start(SECTION);
    book.caption("Seen from the face, turned where that saves paper. Whole line: the cut edge; dashed: the drawn edge; arrow: the warp. The square proves the scale.");
    let b = book.room(TEST_SQUARE_MM + 4.0);
    test_square(book.page(), pt(b.min.x, b.min.y + 2.0));
    let inside = book.inside();
    let names: Vec<String> = whole.iter().map(|(p, ..)| titled(plan, p)).collect();
    let sizes: Vec<[f64; 2]> = whole
        .iter()
        .zip(&names)
        .map(|((_, _, r), name)| {
            let size = r.bounds();
            let wide = size.width().max(width_mm(name, SMALL, Font::Regular).min(40.0) + 6.0);
            [wide + BETWEEN, size.height() + ABOVE]
        })
        .collect();
    let spots = shelves(&sizes, [inside.width() + BETWEEN, inside.height()], inside.height() - book.left());
    let pages = spots.iter().map(|s| s.page + 1).max().unwrap_or(0);
    for page in 0..pages {
        if page > 0 {
            book.start(SECTION);
        }
        for (((piece, deg, r), name), (spot, size)) in whole.iter().zip(&names).zip(spots.iter().zip(&sizes))
        {
            if spot.page != page {
                continue;
            }
            let top = pt(inside.min.x + spot.x, inside.max.y - spot.y);
            let shown = shortened(name, SMALL, Font::Regular, size[0] - BETWEEN - 5.0);
            book.page().words(top + pt(5.0, -3.6), SMALL, Font::Regular, SOFT, &shown);
            let b = r.bounds();
            let by = top + pt(0.5, -5.0) - pt(b.min.x, b.max.y);
            let map = Affine([1.0, 0.0, 0.0, 1.0, by.x, by.y]).after(&turned(*deg));
            let (way, at) = (warp_on_paper(piece, map), top + pt(2.4, -2.6));
            for line in arrow(at - way * 1.9, at + way * 1.9, 1.2) {
                book.page().line(&line, false, Pen::new(INK, 0.25));
            }
            full(book.page(), plan, piece, map);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::PlanKeyLine;
    use crate::write::sample::sample_plan;
    use crate::write::sheets::tiling::fewest;

    #[test]
    fn what_is_said_in_a_printed_key_is_whole_on_its_papers_and_clear_of_their_seams() {
        let plan = sample_plan();
        let mut pass = plan.passes[1].clone();
        pass.marks.clear();
        let line =
            |piece: &str, path: Vec<[f64; 2]>| PlanKeyLine { path, closed: false, piece: piece.into() };
        pass.key = vec![
            line("water-1", vec![[12.0, 400.0], [330.0, 410.0]]),
            line(
                "a name as long as a bed of reeds that wants a very wide paper to be written on",
                vec![[12.0, 120.0], [310.0, 90.0]],
            ),
        ];
        let lines: Vec<Vec<Point>> =
            pass.key.iter().map(|k| k.path.iter().map(|&p| point(p)).collect()).collect();
        let tiling = fewest(&lines, &[0.0], [186.0, 257.0]).unwrap();
        let papers: Vec<Bounds> = tiling.tiles.iter().map(|t| t.reach).collect();
        let strokes = said(&plan, &pass, &papers);
        assert!(strokes.len() > 20);
        for stroke in strokes {
            let b = Bounds::of(stroke);
            let on = papers.iter().filter(|p| p.meets(b)).count();
            assert!(on == 1 && papers.iter().any(|p| p.holds(b)), "{b:?}");
        }
    }
}
