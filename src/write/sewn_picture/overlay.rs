//! What is written round the work and drawn over it: title, page, slender runs, where the pattern breaks, signs.

use crate::plan::{Pair, Plan, PlanPiece};
use crate::shape::{Bounds, Point, distance, lerp, pt};

use super::super::lay_picture::{
    Sheet,
    pen::{FAINT, INK, MADDER, PAPER, SOFT_INK, Side, Words, line, line_data, rectangle},
};
use super::super::letters;
use super::super::xml::{El, el};
use super::NEARLY;

/// The ground the pieces are sewn on, of which the job says nothing: unbleached linen.
const GROUND: &str = "#efe8d9";

/// Signs drawn at most: a picture of nothing but signs helps nobody. The report lists all.
const MOST_BREAKS: usize = 60;

/// Radius of a sign.
const SIGN: f64 = 11.0;

const HEIGHT: f64 = 13.5;
const ROW: f64 = 36.0;

/// The work's title and what the picture shows.
pub(super) fn title(plan: &Plan, at: Point, width: f64) -> El {
    let name = if plan.title.trim().is_empty() { "The work" } else { plan.title.trim() };
    let made = format!("{} · seed {}", plan.program, plan.seed);
    let room = width - letters::width(&made, 12.0) - 60.0;
    let shown = letters::fit(name, 34.0, room).unwrap_or_default();
    let [w, h] = plan.page_mm;
    let mut text = format!("as sewn · {w:.0} \u{d7} {h:.0} mm");
    if plan.pieces.iter().any(|p| p.copy > 1) {
        text.push_str(" · the first copy of every piece");
    }
    let pairs: Vec<_> = plan.run_across.iter().filter(|r| r.copy == 1).collect();
    if !pairs.is_empty() {
        let through = pairs.iter().filter(|r| r.runs_through).count();
        let many = if pairs.len() == 1 { "pair" } else { "pairs" };
        text.push_str(&format!(
            " · the pattern runs through {through} of {} {many} of neighbours",
            pairs.len()
        ));
    }
    let text = letters::fit(&text, 15.0, width).unwrap_or_default();
    el("g")
        .add(Words::new(&shown, 34.0, at + pt(0.0, 36.0)).drawn())
        .add(Words::new(&made, 12.0, at + pt(width, 36.0)).side(Side::Right).colour(SOFT_INK).drawn())
        .add(line(at + pt(0.0, 58.0), at + pt(width, 58.0), INK, 2.2))
        .add(line(at + pt(0.0, 62.5), at + pt(width, 62.5), INK, 0.9))
        .add(Words::new(&text, 15.0, at + pt(0.0, 91.0)).colour(SOFT_INK).drawn())
}

/// The page of the drawing as the ground everything is sewn on.
pub(super) fn page(sheet: &Sheet, [width, height]: Pair) -> El {
    let corner = sheet.at(pt(0.0, height));
    let (w, h) = (width * sheet.scale, height * sheet.scale);
    let shadow =
        rectangle(corner + pt(3.0, 4.0), w, h).set("fill", INK).set("fill-opacity", "0.12").num("rx", 2.0);
    el("g")
        .add(shadow)
        .add(rectangle(corner, w, h).set("fill", GROUND).set("stroke", FAINT).num("stroke-width", 1.2))
}

/// A middle line, dotted.
pub(super) fn marked(data: &str) -> El {
    let path = |colour: &str, width: f64| {
        el("path")
            .set("d", data)
            .set("stroke", colour)
            .num("stroke-width", width)
            .set("stroke-linecap", "round")
    };
    el("g")
        .set("fill", "none")
        .set("stroke-linejoin", "round")
        .add(path(PAPER, 4.6).set("stroke-opacity", "0.9"))
        .add(path(MADDER, 2.2).set("stroke-dasharray", "1 4.4"))
}

/// A numbered sign where the pattern breaks between neighbours; the numbers are those of the report's list.
pub(super) fn breaks(sheet: &Sheet, plan: &Plan) -> El {
    let broken =
        plan.run_across.iter().enumerate().filter(|(_, r)| r.copy == 1 && breaks_at(r.runs_through, r.score));
    let mut group = el("g");
    for (i, r) in broken.take(MOST_BREAKS) {
        group = group.add(sign(sheet.at_pair(r.at), &(i + 1).to_string()));
    }
    group
}

/// What those signs take up.
pub(super) fn break_spots(sheet: &Sheet, plan: &Plan) -> Vec<Bounds> {
    let broken = plan.run_across.iter().filter(|r| r.copy == 1 && breaks_at(r.runs_through, r.score));
    broken.take(MOST_BREAKS).map(|r| sheet.at_pair(r.at)).map(|at| Bounds::new(at, at).grown(SIGN)).collect()
}

fn breaks_at(runs_through: bool, score: f64) -> bool {
    !runs_through && score < NEARLY
}

fn sign(at: Point, text: &str) -> El {
    el("g")
        .add(
            el("circle")
                .num("cx", at.x)
                .num("cy", at.y)
                .num("r", SIGN)
                .set("fill", PAPER)
                .set("stroke", MADDER)
                .num("stroke-width", 1.8),
        )
        .add(Words::new(text, 9.5, at + pt(0.0, 4.75)).side(Side::Middle).drawn())
}

/// What the signs mean, only those that occur, with its height.
pub(super) fn legend(plan: &Plan, pieces: &[&PlanPiece], at: Point, width: f64) -> (El, f64) {
    type Entry = (bool, fn(Point) -> El, &'static str);
    let entries: [Entry; 3] = [
        (true, stitches, "border stitching, drawn coarser than it is"),
        (pieces.iter().any(|p| !p.slender.is_empty()), dotted, "narrow and on the bias: gives in sewing"),
        (
            plan.run_across.iter().any(|r| r.copy == 1 && breaks_at(r.runs_through, r.score)),
            |p| sign(p, "1"),
            "the pattern breaks here: see the list in report.html",
        ),
    ];
    let mut group = el("g");
    let (mut x, mut row) = (at.x, 0.0);
    for (_, drawn, text) in entries.into_iter().filter(|(shown, _, _)| *shown) {
        let length = 50.0 + letters::width(text, HEIGHT);
        if x + length > at.x + width && x > at.x {
            x = at.x;
            row += 1.0;
        }
        let middle = pt(x + 20.0, at.y + row * ROW + ROW / 2.0);
        let words = Words::new(text, HEIGHT, middle + pt(30.0, HEIGHT / 2.0)).colour(SOFT_INK);
        group = group.add(drawn(middle)).add(words.drawn());
        x += length + 34.0;
    }
    (group, (row + 1.0) * ROW)
}

fn stitches(p: Point) -> El {
    let data = line_data(&[p - pt(17.0, 0.0), p + pt(17.0, 0.0)]);
    super::stitching::satin(&data, 9.0, 3.0, [0x4a, 0x50, 0x55])
}

fn dotted(p: Point) -> El {
    let (a, b) = (p - pt(16.0, 6.0), p + pt(16.0, -6.0));
    let n = (distance(a, b) / 4.0) as u32;
    let bowed = |k: u32| {
        let t = f64::from(k) / f64::from(n.max(1));
        lerp(a, b, t) + pt(0.0, 24.0 * t * (1.0 - t) * 2.0)
    };
    marked(&line_data(&(0..=n).map(bowed).collect::<Vec<_>>()))
}
