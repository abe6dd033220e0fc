//! From the pieces as drawn and the frame to the plan's sewing.

use crate::job::Frame;
use crate::say::{self, Note, Trouble, Watch};
use crate::sew::{self, Count, Line, Sewing, SewnShape, Stitching};

use super::build::{pair, round};
use super::run::Prepared;
use super::sewing_model::{
    PlanHooping, PlanLaidDown, PlanSewing, PlanSewingMark, PlanSewn, PlanStitchLine, PlanStitches,
};

/// Where the job gives none, the tack-down line lies this far inside the drawn edge, mm, or a smaller share of the
/// border (common practice: slightly inside, where the border covers it).
const TACK_IN_MM: f64 = 1.0;
const TACK_SHARE: f64 = 1.0 / 3.0;

/// The sewing, and what to say of it; `None` without a frame.
///
/// # Errors
/// A frame the work cannot be sewn in.
pub(super) fn sewing(
    prepared: &Prepared,
    watch: &dyn Watch,
) -> Result<Option<(PlanSewing, Vec<Note>)>, Vec<Trouble>> {
    let Some(frame) = &prepared.job.frame else { return Ok(None) };
    let stitching = stitching(frame, prepared.job.cutter.border_mm.max(0.0));
    let pieces: Vec<SewnShape> = prepared
        .pieces
        .iter()
        .map(|p| SewnShape { name: &p.id, drawn: &p.drawn, element: p.element })
        .collect();
    let request = sew::Request {
        pieces: &pieces,
        field_mm: frame.field_mm,
        border_mm: stitching.border_mm,
        tack_in_mm: stitching.tack_in_mm,
    };
    watch.step("sewing", 0.0, "");
    let found = sew::sewing(&request, watch).map_err(|t| vec![t])?;
    // A second computation, from the lines alone: nothing is written that fails it.
    if let Some(first) = sew::check(&request, &found).first() {
        let what = format!("the hoopings did not pass their own check: {first}");
        let hint = "this is a fault of the program; another frame may avoid it, and a report with the job would help";
        return Err(vec![Trouble::cannot("frame", what).hint(hint)]);
    }
    watch.step("sewing", 1.0, &format!("{} hoopings", found.hoopings.len()));
    let name = |piece: usize| pieces.get(piece).map_or(String::new(), |p| p.name.to_owned());
    let place = |piece: usize| found.order.iter().position(|o| o.0 == piece).map_or(0, |k| k + 1);
    let mut hoopings = Vec::new();
    let mut total = Count::default();
    for (k, hooping) in found.hoopings.iter().enumerate() {
        let mut sum = Count::default();
        let mut sewn = Vec::new();
        for part in &hooping.parts {
            let each = |lines: &[Line], of: &dyn Fn(f64) -> Count| {
                lines.iter().fold(Count::default(), |t, l| t.plus(of(l.length())))
            };
            let count = each(&part.placement, &|l| stitching.placement(l))
                .plus(each(&part.tack, &|l| stitching.tack_down(l)))
                .plus(each(&part.border, &|l| stitching.border(l)));
            sum = sum.plus(count);
            sewn.push(PlanSewn {
                piece: name(part.piece),
                order: place(part.piece),
                whole: part.whole,
                placement: part.placement.iter().map(line).collect(),
                tack_down: part.tack.iter().map(line).collect(),
                border: if stitching.border_mm > 0.0 {
                    part.border.iter().map(line).collect()
                } else {
                    vec![]
                },
                stitches: counted(count, &stitching),
            });
        }
        total = total.plus(sum);
        let once = |(i, m): (usize, &sew::Mark)| {
            m.found == k || !found.marks[i + 1..].iter().any(|o| o.name == m.name)
        };
        let all = found.marks.iter().enumerate().filter(|(_, m)| m.stitched == k || m.found == k);
        let marks = all.filter(|(i, m)| once((*i, m))).map(|(_, m)| m);
        let f = hooping.field;
        hoopings.push(PlanHooping {
            number: k + 1,
            field: [f.min.x, f.min.y, f.max.x, f.max.y].map(round),
            again: hooping.again,
            marks: marks
                .map(|m| PlanSewingMark {
                    name: m.name.clone(),
                    at: pair(m.at),
                    stitched_here: m.stitched == k,
                    hidden_by: m.hidden_by.map(name),
                })
                .collect(),
            pieces: sewn,
            stitches: counted(sum, &stitching),
        });
    }
    let laid_in = |piece: usize| {
        found.hoopings.iter().position(|h| h.parts.iter().any(|p| p.piece == piece)).map_or(0, |k| k + 1)
    };
    let finished_in = |piece: usize| {
        found.hoopings.iter().rposition(|h| h.parts.iter().any(|p| p.piece == piece)).map_or(0, |k| k + 1)
    };
    let order: Vec<PlanLaidDown> = found
        .order
        .iter()
        .map(|(piece, beneath)| PlanLaidDown {
            piece: name(*piece),
            hooping: laid_in(*piece),
            upon: beneath.iter().map(|b| name(*b)).collect(),
            finished: finished_in(*piece),
            waits: finished_in(*piece) - laid_in(*piece),
        })
        .collect();
    let [w, h] = frame.field_mm.map(round);
    let plan = PlanSewing {
        field_mm: if found.turned { [h, w] } else { [w, h] },
        turned: found.turned,
        border_mm: round(stitching.border_mm),
        tack_in_mm: round(stitching.tack_in_mm),
        base_line_y: 0.0,
        centre_line_x: round(prepared.drawing.page_mm[0] / 2.0),
        hoopings,
        at_least_hoopings: found.at_least,
        waits: order.iter().map(|o| o.waits).sum(),
        order,
        total: counted(total, &stitching),
    };
    let notes = notes(prepared, &found, &plan);
    Ok(Some((plan, notes)))
}

fn stitching(frame: &Frame, border_mm: f64) -> Stitching {
    let usual = if border_mm > 0.0 { TACK_IN_MM.min(border_mm * TACK_SHARE) } else { TACK_IN_MM };
    Stitching {
        run_mm: frame.run_mm,
        zigzag_mm: frame.zigzag_mm,
        satin_mm: frame.satin_mm,
        border_mm,
        tack_in_mm: frame.tack_in_mm.unwrap_or(usual),
        per_min: frame.stitches_per_min,
    }
}

fn line(line: &Line) -> PlanStitchLine {
    PlanStitchLine { closed: line.closed, path: line.points.iter().map(|p| pair(*p)).collect() }
}

fn counted(count: Count, stitching: &Stitching) -> PlanStitches {
    PlanStitches {
        stitches: count.stitches,
        thread_m: round(count.thread_mm / 1000.0),
        minutes: round(count.minutes(stitching.per_min)),
    }
}

/// Names told one by one.
const NAMED: usize = 5;

fn listed(mut names: Vec<String>) -> String {
    let more = names.len().saturating_sub(NAMED);
    names.truncate(NAMED);
    let named = names.join(", ");
    if more > 0 { format!("{named} and {more} more") } else { named }
}

fn notes(prepared: &Prepared, found: &Sewing, plan: &PlanSewing) -> Vec<Note> {
    let mut notes = Vec::new();
    let mut say = |text: String| notes.push(Note::advice("sewing", text));
    let mut spread: Vec<String> = Vec::new();
    for sewn in plan.hoopings.iter().flat_map(|h| &h.pieces).filter(|s| !s.whole) {
        if !spread.contains(&sewn.piece) {
            spread.push(sewn.piece.clone());
        }
    }
    if !spread.is_empty() {
        let [w, h] = plan.field_mm;
        say(format!(
            "Larger than the field of {w} × {h} mm, so sewn in several hoopings with marks: {}.",
            listed(spread)
        ));
    }
    let tail = plan.order.iter().max_by_key(|o| o.waits).filter(|o| o.waits > 0);
    if let Some(longest) = tail {
        say(format!(
            "Loose tails wait, folded back, for {} in all: each for its own hooping, from the one its piece is begun in. The \
             longest wait is that of {}, from hooping {} to hooping {}.",
            say::counted(plan.waits, "hooping", "hoopings"),
            longest.piece,
            longest.hooping,
            longest.finished
        ));
    }
    let again: Vec<String> = plan.hoopings.iter().filter(|h| h.again).map(|h| h.number.to_string()).collect();
    if !again.is_empty() {
        say(format!(
            "Overs and unders go to and fro between fields, so a field is worked again in hooping {}.",
            listed(again)
        ));
    }
    let lost: Vec<String> = (1..found.hoopings.len())
        .filter(|k| !found.marks.iter().any(|m| m.found == *k))
        .map(|k| (k + 1).to_string())
        .collect();
    if !lost.is_empty() {
        say(format!(
            "No marks lead to hooping {}: nothing sewn before is near, or no ground is left for a cross. Chalk the base \
             line and the centre line on the ground before you begin, and find its place by them.",
            listed(lost)
        ));
    }
    let copies: Vec<String> = prepared.pieces.iter().filter(|p| p.count > 1).map(|p| p.id.clone()).collect();
    if !copies.is_empty() {
        say(format!(
            "Cut several times but drawn once, so stitched once in these hoopings: {}.",
            listed(copies)
        ));
    }
    notes
}
