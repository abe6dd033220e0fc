//! The sheets of one hooping: what to do, and the field in full size over as many papers as it needs.

use crate::job::Job;
use crate::plan::{Plan, PlanHooping, PlanSewing, PlanStitchLine};
use crate::say::Trouble;
use crate::shape::{Affine, Bounds, Point, pt};
use crate::write::hooping_svg::{CROSS_MM, cross, crosses, elsewhere, guides, name_rooms};
use crate::write::pdf::{self, Font, Page, Pen, Rgb, width_mm};

use super::book::{Book, SMALL, column};
use super::tiles::{Before, Work, tiled};
use super::view::thinned;
use super::{CLOTH, GLUE, INK, PATTERN, RULE, SOFT, TEST_SQUARE_MM, labels};

/// Edges that are sewn in another hooping.
const AWAY: Rgb = [0xb9, 0xb0, 0xa6];

/// Size of a mark's name, mm.
const MARK_NAME: f64 = 3.4;

/// What the test square may be off in the file, mm.
const SQUARE_OFF: f64 = 0.01;

/// The sheets of a hooping as PDF, read back and found right.
///
/// # Errors
/// Sheets that cannot be packed or do not read back as they should.
pub(in crate::write) fn hooping(
    job: &Job,
    plan: &Plan,
    sewing: &PlanSewing,
    hooping: &PlanHooping,
) -> Result<Vec<u8>, Trouble> {
    let name = format!("sewing/hooping-{}.pdf", hooping.number);
    let title = if plan.title.trim().is_empty() { "Sewing" } else { plan.title.trim() };
    let mut book = Book::new(title, job.sheets.paper.size_mm());
    book.start(&format!("Hooping {} of {}", hooping.number, sewing.hoopings.len()));
    facts(&mut book, sewing, hooping);
    book.heading("To do");
    for (k, step) in steps(sewing, hooping).iter().enumerate() {
        book.paragraph(&format!("{}", k + 1), step);
    }
    book.heading("Pieces, in the order they go down");
    let columns = [
        column("No.", 8.0, true),
        column("Piece", 40.0, false),
        column("Lies upon", 52.0, false),
        column("Here", 22.0, false),
        column("Stitches", 18.0, true),
    ];
    let upon = |piece: &str| {
        let laid = sewing.order.iter().find(|o| o.piece == piece);
        laid.filter(|o| !o.upon.is_empty()).map_or("the ground".to_owned(), |o| o.upon.join(", "))
    };
    let rows: Vec<Vec<String>> = hooping
        .pieces
        .iter()
        .map(|p| {
            let here = if p.whole { "whole" } else { "in part" };
            let stitches = p.stitches.stitches.to_string();
            vec![p.order.to_string(), p.piece.clone(), upon(&p.piece), here.into(), stitches]
        })
        .collect();
    book.table(&columns, &rows);
    let about = "Seen from the face, upright as in the drawing unless turned to fit the paper; the arrow at the foot is the drawing's \
                 upward direction. Whole line: placement line, the drawn edge; dashed: tack-down line; broad and pale: border; \
                 fine and pale: edges that are sewn in another hooping; grey: base line, centre line, middle of the field.";
    // One square for the whole set: every printer is tried once.
    let first = sewing.hoopings.first().is_none_or(|h| h.number == hooping.number);
    let square = sewing.hoopings.first().map_or(String::new(), |h| {
        format!(
            "The square to try the printer's scale with is on the sheets of hooping {}; the bar at the foot of every paper is \
             50 mm.",
            h.number
        )
    });
    let before = Before {
        section: "The field in full size",
        about,
        cross: if hooping.marks.is_empty() {
            ""
        } else {
            "with its letter: a mark, to be stitched or found again"
        },
        cross_ink: PATTERN,
        no_square: (!first).then_some(square.as_str()),
    };
    tiled(&mut book, &before, &[work(plan, sewing, hooping)]);
    let pages = book.finish();
    let count = pages.len();
    let bytes = pdf::document(&pdf::sayable(title), pages)
        .map_err(|e| Trouble::cannot(name.as_str(), format!("cannot be packed: {e}")))?;
    let found = pdf::read(&bytes).filter(|f| f.pages == count);
    let square = |b: &[f64; 2]| b.iter().all(|v| (v - TEST_SQUARE_MM).abs() < SQUARE_OFF);
    if !found.is_some_and(|f| !first || f.boxes.iter().flatten().any(square)) {
        return Err(Trouble::cannot(name, "does not read back: pages or the test square are missing"));
    }
    Ok(bytes)
}

fn facts(book: &mut Book, sewing: &PlanSewing, hooping: &PlanHooping) {
    let [x0, y0, x1, y1] = hooping.field;
    let from_centre = (x0 + x1) / 2.0 - sewing.centre_line_x;
    let side = if from_centre < 0.0 { "left" } else { "right" };
    let s = hooping.stitches;
    book.facts(&[
        ("Field", format!("{:.0} × {:.0} mm", x1 - x0, y1 - y0)),
        (
            "Its middle",
            format!(
                "{:.1} mm {side} of the centre line, {:.1} mm above the base line",
                from_centre.abs(),
                (y0 + y1) / 2.0 - sewing.base_line_y
            ),
        ),
        ("Stitches", s.stitches.to_string()),
        ("Thread", format!("{:.1} m", s.thread_m)),
        ("Sewing time", format!("{:.0} min", s.minutes.ceil())),
        ("Border", format!("{} mm, tack-down {} mm inside the edge", sewing.border_mm, sewing.tack_in_mm)),
    ]);
}

fn steps(sewing: &PlanSewing, hooping: &PlanHooping) -> Vec<String> {
    let named = |here: bool| -> Vec<String> {
        let own = hooping.marks.iter().filter(|m| m.stitched_here == here);
        own.map(|m| match &m.hidden_by {
            Some(piece) => format!("{} (hidden by {piece} later)", m.name),
            None => format!("{} (basted, pull it out at the end)", m.name),
        })
        .collect()
    };
    let (found, stitched) = (named(false), named(true));
    let mut steps = Vec::new();
    if found.is_empty() {
        let first = hooping.number == 1;
        let chalk = if first { "Chalk the base line and the centre line on the ground. " } else { "" };
        steps.push(format!(
            "{chalk}Put the frame on with the middle of its field as given above, square to the base line."
        ));
    } else {
        steps.push(format!("Put the frame on so that the needle meets marks {}.", found.join(", ")));
    }
    if !stitched.is_empty() {
        steps.push(format!("Stitch marks {}.", stitched.join(", ")));
    }
    steps.push(
        "Piece by piece in the order below: stitch the placement line, lay the piece into it, stitch the tack-down line."
            .into(),
    );
    if hooping.pieces.iter().any(|p| !p.whole) {
        steps.push(
            "Of a piece sewn here in part, the cloth beyond its lines stays loose: fold it back, here and in every hooping \
             until its own."
                .into(),
        );
    }
    if sewing.border_mm > 0.0 {
        steps.push("Stitch the borders, the lowest piece's first.".into());
    }
    steps
}

fn points(line: &PlanStitchLine) -> Vec<Point> {
    line.path.iter().map(|p| pt(p[0], p[1])).collect()
}

fn work<'a>(plan: &'a Plan, sewing: &'a PlanSewing, hooping: &'a PlanHooping) -> Work<'a> {
    let mut lines: Vec<Vec<Point>> = guides(sewing, hooping).iter().map(|g| g.to_vec()).collect();
    for line in hooping.pieces.iter().flat_map(|p| &p.placement) {
        let mut around = points(line);
        if line.closed {
            around.extend(around.first().copied());
        }
        lines.push(around);
    }
    lines.extend(hooping.marks.iter().flat_map(|m| cross(pt(m.at[0], m.at[1]))).map(|arm| arm.to_vec()));
    Work {
        name: format!("Hooping {}", hooping.number),
        instead: format!(
            "Use sewing/hooping-{}.svg, or ask for larger paper (sheets.paper).",
            hooping.number
        ),
        lines,
        turns_deg: vec![0.0, 90.0],
        warp: pt(0.0, 1.0),
        marks: crosses(hooping),
        on_bed: false,
        lies: "",
        draw: Box::new(move |page, map, _| draw(page, plan, sewing, hooping, map)),
        said: Box::new(|_| Vec::new()),
    }
}

fn draw(page: &mut Page, plan: &Plan, sewing: &PlanSewing, hooping: &PlanHooping, map: Affine) {
    let [x0, y0, x1, y1] = hooping.field;
    let scale = map.0[0].hypot(map.0[1]);
    let on = |points: &[Point]| -> Vec<Point> { points.iter().map(|&p| map.apply(p)).collect() };
    for line in hooping.pieces.iter().flat_map(|p| &p.border) {
        page.line(&on(&points(line)), line.closed, Pen::new(CLOTH, sewing.border_mm * scale));
    }
    page.line(&on(&Bounds::new(pt(x0, y0), pt(x1, y1)).corners()), true, Pen::new(RULE, 0.3));
    for edge in elsewhere(plan, hooping) {
        page.line(&thinned(on(&edge)), false, Pen::new(AWAY, 0.25));
    }
    for guide in guides(sewing, hooping) {
        page.line(&on(&guide), false, Pen::new(SOFT, 0.2));
    }
    for piece in &hooping.pieces {
        for line in &piece.placement {
            page.line(&on(&points(line)), line.closed, Pen::new(INK, 0.3));
        }
        for line in &piece.tack_down {
            page.line(&on(&points(line)), line.closed, Pen::new(GLUE, 0.2).dashed(1.2));
        }
    }
    let crosses: Vec<Point> = hooping.marks.iter().map(|m| map.apply(pt(m.at[0], m.at[1]))).collect();
    let mut taken: Vec<Bounds> = Vec::new();
    for &at in &crosses {
        for [a, b] in cross(at) {
            page.line(&[a, b], false, Pen::new(PATTERN, 0.35));
            taken.push(Bounds::of([a, b]).grown(0.3));
        }
    }
    let sewn = hooping.pieces.iter().flat_map(|p| p.placement.iter().chain(&p.tack_down));
    let mut lines: Vec<Vec<Point>> = sewn.map(|l| on(&points(l))).collect();
    lines.extend(guides(sewing, hooping).iter().map(|g| on(g)));
    let frame = Bounds::of(Bounds::new(pt(x0, y0), pt(x1, y1)).corners().map(|p| map.apply(p)));
    for (mark, &at) in hooping.marks.iter().zip(&crosses) {
        let size = pt(width_mm(&mark.name, MARK_NAME, Font::Bold), MARK_NAME * 0.72);
        let plate =
            labels::beside(at, CROSS_MM, size, &labels::Clear { frame, taken: &taken, lines: &lines });
        page.words(plate.min, MARK_NAME, Font::Bold, PATTERN, &mark.name);
        taken.push(plate);
    }
    for sewn in &hooping.pieces {
        let piece = plan.pieces.iter().find(|p| p.id == sewn.piece);
        let number = sewn.order.to_string();
        let full = format!("{number} {}", sewn.piece);
        let rooms = piece.map_or(Vec::new(), |p| name_rooms(p, sewn, hooping));
        let said = rooms.iter().find_map(|room| {
            labels::inside(&room.map(|p| map.apply(p)), &[&full, &number], &[5.0, 3.6, SMALL])
        });
        if let Some(label) = said {
            page.words(label.at, label.size, Font::Regular, INK, &label.text);
        }
    }
}
