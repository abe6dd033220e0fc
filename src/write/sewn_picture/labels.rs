//! The narrow runs on the bias: a dotted middle line each, the longest with their size and verdict where there is room.

use crate::plan::{PlanPiece, PlanSlender};
use crate::sew::Work;
use crate::shape::{Bounds, Point, pt};

use super::super::lay_picture::{
    Sheet,
    pen::{MADDER, Words, line, line_data},
};
use super::super::letters;
use super::super::xml::{El, el};
use super::overlay::marked;

/// Labels at most; the report lists all runs.
const MOST: usize = 8;
const HEIGHT: f64 = 11.5;
/// Room round a label.
const ROOM: f64 = 4.0;

/// Runs whose label is tried for.
const MOST_TRIED: usize = 40;

/// Whether a label hides anything is tried at so many points along it and in so many rows: a label across the work spoils what
/// the picture is for.
const TRIED: u32 = 24;
const ROWS: u32 = 5;

/// How far off its run a label may stand, as shares of the nearest; from the second on a line leads to it.
const OFF: [f64; 3] = [1.0, 2.6, 4.4];

pub(super) fn slender(sheet: &Sheet, work: &Work, pieces: &[&PlanPiece], signs: &[Bounds]) -> El {
    let mut runs: Vec<&PlanSlender> = pieces.iter().flat_map(|p| &p.slender).collect();
    runs.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
    let on_paper = |run: &PlanSlender| -> Vec<Point> { run.axis.iter().map(|p| sheet.at_pair(*p)).collect() };
    let lines = el("g").add_all(runs.iter().map(|run| marked(&line_data(&on_paper(run)))));
    let mut labels = el("g");
    let mut taken: Vec<Bounds> = signs.to_vec();
    for run in runs.iter().take(MOST_TRIED) {
        if taken.len() >= signs.len() + MOST {
            break;
        }
        let points = on_paper(run);
        let text = format!("{:.0} \u{d7} {:.0} mm, {}", run.length_mm, run.width_mm, run.verdict);
        let off = 9.0 + run.width_mm * sheet.scale / 2.0;
        let free = Free { sheet, work, taken: &taken };
        if let Some((place, leads_to)) = free.place(&points, letters::width(&text, HEIGHT), off) {
            if let Some(run) = leads_to {
                let end = pt(run.x.clamp(place.min.x, place.max.x), run.y.clamp(place.min.y, place.max.y));
                labels = labels.add(line(run, end, MADDER, 1.0));
            }
            let at = pt(place.min.x + ROOM, place.max.y - ROOM);
            labels = labels.add(Words::new(&text, HEIGHT, at).colour(MADDER).drawn_with_rim(2.2));
            taken.push(place);
        }
    }
    lines.add(labels)
}

/// Where labels may stand.
struct Free<'a> {
    sheet: &'a Sheet,
    work: &'a Work,
    taken: &'a [Bounds],
}

impl Free<'_> {
    /// Where a label of the given length finds room beside the line `points`, as near as can be: on the picture, clear of
    /// other labels, hiding nothing of any piece. Also gives the point of the line it has to be led to from farther off.
    fn place(&self, points: &[Point], length: f64, off: f64) -> Option<(Bounds, Option<Point>)> {
        let size = pt(length + 2.0 * ROOM, HEIGHT + 2.0 * ROOM);
        for (k, times) in OFF.iter().enumerate() {
            let off = off * times;
            for share in [2, 1, 3, 0, 4] {
                let Some(at) = points.get(points.len().saturating_sub(1) * share / 4).copied() else {
                    continue;
                };
                let aside = if k == 0 { 0.0 } else { off };
                for corner in [
                    pt(off, -size.y / 2.0),
                    pt(-off - size.x, -size.y / 2.0),
                    pt(-size.x / 2.0, -off - size.y),
                    pt(-size.x / 2.0, off),
                    pt(aside, -off - size.y),
                    pt(-aside - size.x, -off - size.y),
                    pt(aside, off),
                    pt(-aside - size.x, off),
                ] {
                    let plate = Bounds::new(at + corner, at + corner + size);
                    if self.is_free(plate) {
                        return Some((plate, (k > 0).then_some(at)));
                    }
                }
            }
        }
        None
    }

    fn is_free(&self, plate: Bounds) -> bool {
        let sheet = self.sheet;
        let all = Bounds::new(sheet.corner, sheet.corner + pt(sheet.width(), sheet.height()));
        if !all.holds(plate) || self.taken.iter().any(|t| t.meets(plate)) {
            return false;
        }
        let share = |k: u32, n: u32| f64::from(k) / f64::from(n - 1);
        let mut tried = (0..ROWS).flat_map(|j| (0..TRIED).map(move |k| pt(share(k, TRIED), share(j, ROWS))));
        !tried.any(|s| {
            let at = pt(plate.min.x + plate.width() * s.x, plate.min.y + plate.height() * s.y);
            self.work.top_at(super::drawn_at(sheet, at)).is_some()
        })
    }
}
