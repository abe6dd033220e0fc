//! The sewing in the report: hoopings, marks, order of work, stitches.

use crate::plan::{Plan, PlanHooping, PlanSewing};

use super::html::{facts, figures, minutes, table, words};
use crate::say::counted;

/// The section; empty without a frame.
pub(super) fn sewing(plan: &Plan) -> String {
    let Some(sewing) = &plan.sewing else { return String::new() };
    let [w, h] = sewing.field_mm;
    let turned = if sewing.turned { ", the frame turned" } else { "" };
    let total = sewing.total;
    let pairs = [
        ("Hoopings", format!("{}; {}", sewing.hoopings.len(), sewing.how_few())),
        ("Field", format!("{w:.0} × {h:.0} mm{turned}")),
        ("Border", format!("{} mm", sewing.border_mm)),
        ("Tack-down", format!("{} mm inside the drawn edge", sewing.tack_in_mm)),
        ("Stitches, estimated", total.stitches.to_string()),
        ("Thread, needle and bobbin", format!("{:.0} m", total.thread_m.ceil())),
        ("Machine sewing", minutes(total.minutes * 60.0)),
        ("Marks", counted(marks(sewing), "cross", "crosses")),
        ("Loose tails", tails(sewing)),
    ];
    let mut html = facts(&pairs);
    html.push_str(
        "<p>Placement lines, tack-down lines, borders and marks of every hooping are in <code>sewing/</code>, in full size as \
         <code>.svg</code> and, over as many papers as it takes, as <code>.pdf</code>. Marks stand where a piece laid later hides \
         them; the others are basted and pulled out. The base line is the lower edge of the drawing, the centre \
         line goes up through its middle.</p>\n",
    );
    html.push_str(&hoopings(sewing));
    html + &order(sewing)
}

/// How long the loose cloth of pieces begun and not finished waits.
fn tails(sewing: &PlanSewing) -> String {
    match sewing.order.iter().map(|o| o.waits).max().unwrap_or(0) {
        0 => "none: every piece is begun and finished in one hooping".into(),
        most => {
            format!("wait for {} in all, {most} at most", counted(sewing.waits, "hooping", "hoopings"))
        }
    }
}

fn marks(sewing: &PlanSewing) -> usize {
    sewing.hoopings.iter().flat_map(|h| &h.marks).filter(|m| m.stitched_here).count()
}

fn hoopings(sewing: &PlanSewing) -> String {
    let names = |hooping: &PlanHooping, here: bool| {
        let own: Vec<&str> =
            hooping.marks.iter().filter(|m| m.stitched_here == here).map(|m| m.name.as_str()).collect();
        if own.is_empty() { "–".to_owned() } else { own.join(", ") }
    };
    let rows: Vec<Vec<String>> = sewing
        .hoopings
        .iter()
        .map(|h| {
            let [x0, y0, x1, y1] = h.field;
            let pieces: Vec<&str> = h.pieces.iter().map(|p| p.piece.as_str()).collect();
            vec![
                h.number.to_string(),
                format!("{:+.1}", (x0 + x1) / 2.0 - sewing.centre_line_x),
                format!("{:+.1}", (y0 + y1) / 2.0 - sewing.base_line_y),
                names(h, false),
                names(h, true),
                pieces.join(", "),
                h.stitches.stitches.to_string(),
                minutes(h.stitches.minutes * 60.0),
            ]
        })
        .collect();
    let columns = [
        figures("No."),
        figures("right of centre line"),
        figures("above base line"),
        words("Find marks"),
        words("Stitch marks"),
        words("Pieces, in order"),
        figures("Stitches"),
        figures("Time"),
    ];
    table("Hoopings, in order; where the middle of the field lies, mm", &columns, &rows)
}

fn order(sewing: &PlanSewing) -> String {
    let rows: Vec<Vec<String>> = sewing
        .order
        .iter()
        .enumerate()
        .map(|(k, o)| {
            let upon = if o.upon.is_empty() { "the ground".to_owned() } else { o.upon.join(", ") };
            let finished = if o.finished > o.hooping { o.finished.to_string() } else { String::new() };
            let waits = if o.waits > 0 { o.waits.to_string() } else { String::new() };
            vec![(k + 1).to_string(), o.piece.clone(), o.hooping.to_string(), finished, waits, upon]
        })
        .collect();
    let columns = [
        figures("No."),
        words("Piece"),
        figures("Begun in hooping"),
        figures("finished in"),
        figures("tail waits for"),
        words("Lies upon"),
    ];
    table("Order of work: which piece goes down first", &columns, &rows)
}
