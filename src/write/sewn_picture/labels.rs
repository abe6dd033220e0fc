//! The narrow runs on the bias: a dotted middle line each, the longest with their size and verdict where there is room.

use crate::plan::{PlanPiece, PlanSlender};
use crate::sew::Work;
use crate::shape::{Bounds, Point, pt};

use super::super::lay_picture::{
    Sheet,
    pen::{MADDER, Words, line_data},
};
use super::super::letters;
use super::super::xml::{El, el};
use super::overlay::marked;

/// Labels at most; the report lists all runs.
const MOST: usize = 8;
const HEIGHT: f64 = 11.5;
/// Room round a label.
const ROOM: f64 = 4.0;

/// A label is tried at so many points along its top, middle and foot, and may hide pieces at so many of all these: a label
/// across the work spoils what the picture is for.
const TRIED: u32 = 10;
const MAY_HIDE: usize = 3;

pub(super) fn slender(sheet: &Sheet, work: &Work, pieces: &[&PlanPiece]) -> El {
    let mut runs: Vec<&PlanSlender> = pieces.iter().flat_map(|p| &p.slender).collect();
    runs.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
    let mut lines = el("g");
    let mut labels = el("g");
    let mut taken: Vec<Bounds> = Vec::new();
    for run in &runs {
        let points: Vec<Point> = run.axis.iter().map(|p| sheet.at_pair(*p)).collect();
        lines = lines.add(marked(&line_data(&points)));
        if taken.len() >= MOST {
            continue;
        }
        let text = format!("{:.0} \u{d7} {:.0} mm, {}", run.length_mm, run.width_mm, run.verdict);
        let off = 9.0 + run.width_mm * sheet.scale / 2.0;
        if let Some(place) = place(sheet, work, &points, letters::width(&text, HEIGHT), off, &taken) {
            taken.push(place);
            let at = pt(place.min.x + ROOM, place.max.y - ROOM);
            labels = labels.add(Words::new(&text, HEIGHT, at).colour(MADDER).drawn_with_rim(2.2));
        }
    }
    lines.add(labels)
}

/// Where a label of the given length finds room beside the line `points`: clear of the other labels, hiding pieces
/// least.
fn place(
    sheet: &Sheet,
    work: &Work,
    points: &[Point],
    length: f64,
    off: f64,
    taken: &[Bounds],
) -> Option<Bounds> {
    let size = pt(length + 2.0 * ROOM, HEIGHT + 2.0 * ROOM);
    let all = Bounds::new(sheet.corner, sheet.corner + pt(sheet.width(), sheet.height()));
    let mut best: Option<(usize, Bounds)> = None;
    for share in [2, 1, 3, 0, 4] {
        let Some(at) = points.get((points.len().saturating_sub(1)) * share / 4).copied() else { continue };
        for corner in [
            pt(off, -size.y / 2.0),
            pt(-off - size.x, -size.y / 2.0),
            pt(-size.x / 2.0, -off - size.y),
            pt(-size.x / 2.0, off),
        ] {
            let plate = Bounds::new(at + corner, at + corner + size);
            if !all.holds(plate) || taken.iter().any(|t| t.meets(plate)) {
                continue;
            }
            let share = |k: u32| (f64::from(k) + 0.5) / f64::from(TRIED);
            let tried = (0..3).flat_map(|j| (0..TRIED).map(move |k| pt(share(k), f64::from(j) / 2.0)));
            let hides = |s: Point| {
                let at = pt(plate.min.x + size.x * s.x, plate.min.y + size.y * s.y);
                work.top_at(super::drawn_at(sheet, at)).is_some()
            };
            let hidden = tried.filter(|s| hides(*s)).count();
            if best.is_none_or(|(least, _)| hidden < least) {
                best = Some((hidden, plate));
            }
        }
    }
    best.filter(|(hidden, _)| *hidden <= MAY_HIDE).map(|(_, plate)| plate)
}
