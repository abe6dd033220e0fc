//! What the job is, what to heed, what the pieces are.

use crate::job::Job;
use crate::plan::{Plan, PlanCloth};
use crate::say::Level;
use crate::shape::{Bounds, pt};
use crate::write::lay_picture::piece_name;
use crate::write::pdf::{Font, wrap};
use crate::write::report::cautions::STANDING;
use crate::write::report::html::{length, minutes, time};

use super::INK;
use super::book::{Book, column};
use super::cards::in_turn;
use super::steps::takes_a_key;
use super::view::{as_drawn, region, through};

/// The first pages.
pub(super) fn job_page(book: &mut Book, job: &Job, plan: &Plan) {
    book.start("Job");
    let title = if plan.title.trim().is_empty() { "Cutting plan" } else { plan.title.trim() };
    let width = book.inside().width();
    for line in wrap(title, 7.0, Font::Bold, width) {
        let b = book.room(9.0);
        book.page().words(b.min + pt(0.0, 2.0), 7.0, Font::Bold, INK, &line);
    }
    let seconds: f64 = plan.passes.iter().map(|p| p.seconds).sum();
    let handling: f64 = plan.passes.iter().map(|p| p.time.handling_s).sum();
    let bridges: usize = plan.passes.iter().map(|p| p.bridges.len()).sum();
    let cut: f64 = plan.passes.iter().map(|p| p.cut_length_mm).sum();
    book.facts(&[
        ("Pieces", plan.pieces.len().to_string()),
        ("Passes", plan.passes.len().to_string()),
        ("On the cutter, about", minutes(seconds)),
        ("Cut in all", length(cut)),
        ("Laying and taking off", minutes(handling)),
        ("Bridges to cut by hand", bridges.to_string()),
    ]);
    book.heading("Cloth");
    let rows: Vec<Vec<String>> = plan.cloths.iter().map(|c| cloth(job, plan, c)).collect();
    let columns = [
        column("Cloth", 2.0, false),
        column("pieces", 0.8, true),
        column("width", 0.9, true),
        column("used", 0.9, true),
        column("to buy", 1.2, true),
        column("Sett and repeat", 3.6, false),
    ];
    book.table(&columns, &rows);
    book.heading("Time");
    let rows: Vec<Vec<String>> = plan
        .passes
        .iter()
        .map(|p| {
            let key = if takes_a_key(plan, p) { "cut first" } else { "–" };
            vec![
                p.cloth.clone(),
                p.number.to_string(),
                p.burns.len().to_string(),
                length(p.cut_length_mm),
                key.into(),
                time(p.seconds),
                time(p.time.handling_s),
                p.verdict.split(':').next().unwrap_or_default().to_owned(),
            ]
        })
        .collect();
    let columns = [
        column("Cloth", 1.6, false),
        column("pass", 0.7, true),
        column("burns", 0.8, true),
        column("cut", 1.1, true),
        column("key", 1.2, true),
        column("cutter, about", 1.5, true),
        column("to lay", 1.4, true),
        column("Joints", 1.4, false),
    ];
    book.table(&columns, &rows);
    let cautions: Vec<_> = plan.notes.iter().filter(|n| n.level == Level::Caution).collect();
    if !cautions.is_empty() {
        book.heading("Cautions of this plan");
        for note in cautions {
            book.paragraph("!", &format!("{}: {}", note.about, note.text));
        }
    }
    book.heading("Before you cut");
    for c in &STANDING {
        book.paragraph(c.about, c.text);
    }
    pieces(book, plan);
}

fn cloth(job: &Job, plan: &Plan, cloth: &PlanCloth) -> Vec<String> {
    let b = Bounds::of(cloth.outline.iter().map(|p| pt(p[0], p[1])));
    let pieces = plan.pieces.iter().filter(|p| p.cloth == cloth.name).count();
    let buy =
        if cloth.open_length { format!("{:.2} m", cloth.buy_length_mm / 1000.0) } else { "at hand".into() };
    vec![
        cloth.name.clone(),
        pieces.to_string(),
        format!("{:.0}", b.width().max(0.0)),
        format!("{:.0}", cloth.used_length_mm),
        buy,
        sett(job, cloth),
    ]
}

/// The count as the job gives it, and the repeats.
fn sett(job: &Job, cloth: &PlanCloth) -> String {
    let spec = job.cloths.iter().find(|c| c.name == cloth.name).and_then(|c| c.pattern.as_ref());
    let size = |v: Option<[f64; 2]>| v.map(|[x, y]| x.hypot(y));
    let Some(pattern) = &cloth.pattern else { return "no pattern".into() };
    let mut parts: Vec<String> = Vec::new();
    if let Some(warp) = spec.and_then(|s| s.warp.as_ref()) {
        parts.push(warp.clone());
    }
    if let Some(weft) = spec.and_then(|s| s.weft.as_ref()) {
        parts.push(format!("weft {weft}"));
    }
    parts.extend(size(pattern.a).map(|a| format!("repeats {a:.1} mm across")));
    parts.extend(size(pattern.b).map(|b| format!("{b:.1} mm along")));
    parts.join(", ")
}

fn pieces(book: &mut Book, plan: &Plan) {
    let order = plan.order_of_work();
    let rows: Vec<Vec<String>> = plan
        .pieces
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let b = through(as_drawn(p), &region(&p.cut)).bounds();
            let passes: Vec<String> = plan
                .passes
                .iter()
                .filter(|q| {
                    q.cloth == p.cloth
                        && q.burns.iter().any(|b| b.piece == p.id && b.copy == p.copy && b.kind != "mark")
                })
                .map(|q| q.number.to_string())
                .collect();
            vec![
                (i + 1).to_string(),
                piece_name(p, &plan.pieces),
                p.cloth.clone(),
                format!("{:.0} × {:.0}", b.width(), b.height()),
                passes.join(", "),
                order.get(i).map_or_else(String::new, usize::to_string),
            ]
        })
        .collect();
    let columns = [
        column("No.", 0.6, true),
        column("Piece", 3.0, false),
        column("Cloth", 2.0, false),
        column("size as cut", 1.5, true),
        column("passes", 0.9, true),
        column("order", 0.8, true),
    ];
    book.table_under(
        &format!("Pieces, size as drawn upright, order 1 {} first", in_turn(plan)),
        &columns,
        &rows,
    );
}
