//! Titles of the picture and of its cloths.

use crate::plan::{Plan, PlanCloth};
use crate::shape::{Point, pt};

use super::pen::{FAINT, INK, SOFT_INK, Side, Words, line};
use crate::write::letters;
use crate::write::xml::{El, el};

/// Height of the picture's title block.
pub(super) const TITLE: f64 = 92.0;
/// Height of a cloth's title block.
pub(super) const CLOTH: f64 = 112.0;

/// The work's title and what made the picture.
pub(super) fn title(plan: &Plan, at: Point, width: f64) -> El {
    let name = if plan.title.trim().is_empty() { "Lay" } else { plan.title.trim() };
    let made = format!("{} · seed {}", plan.program, plan.seed);
    let made_width = letters::width(&made, 12.0);
    let shown = letters::fit(name, 34.0, width - made_width - 60.0).unwrap_or_default();
    el("g")
        .add(Words::new(&shown, 34.0, at + pt(0.0, 36.0)).drawn())
        .add(Words::new(&made, 12.0, at + pt(width, 36.0)).side(Side::Right).colour(SOFT_INK).drawn())
        .add(line(at + pt(0.0, 62.0), at + pt(width, 62.0), INK, 2.2))
        .add(line(at + pt(0.0, 66.5), at + pt(width, 66.5), INK, 0.9))
}

/// A cloth's name and its figures.
pub(super) fn cloth(plan: &Plan, cloth: &PlanCloth, at: Point, width: f64) -> El {
    let figures = figures(plan, cloth);
    let mut group = el("g");
    let mut x = at.x + width;
    for (label, value) in figures.iter().rev() {
        let room = letters::width(value, 19.0).max(letters::width(label, 12.0));
        if x - room < at.x + width * 0.3 {
            break;
        }
        x -= room;
        group = group
            .add(Words::new(label, 12.0, pt(x, at.y + 16.0)).colour(SOFT_INK).drawn())
            .add(Words::new(value, 19.0, pt(x, at.y + 47.0)).drawn());
        x -= 26.0;
        group = group.add(line(pt(x, at.y + 4.0), pt(x, at.y + 47.0), FAINT, 1.2));
        x -= 26.0;
    }
    let shown = letters::fit(&cloth.name, 26.0, x - at.x).unwrap_or_default();
    group
        .add(Words::new("cloth", 12.0, at + pt(0.0, 10.0)).colour(SOFT_INK).drawn())
        .add(Words::new(&shown, 26.0, at + pt(0.0, 46.0)).drawn())
}

fn figures(plan: &Plan, cloth: &PlanCloth) -> Vec<(&'static str, String)> {
    let width = super::frame::bounds(cloth).width();
    let pieces = plan.pieces.iter().filter(|p| p.cloth == cloth.name).count();
    let passes = plan.passes.iter().filter(|p| p.cloth == cloth.name).count();
    let mut figures = vec![
        ("used", format!("{width:.0} \u{d7} {:.0} mm", cloth.used_length_mm)),
        ("efficiency", format!("{:.1} %", cloth.efficiency * 100.0)),
        ("pieces", pieces.to_string()),
        ("passes", passes.to_string()),
    ];
    if cloth.open_length {
        figures.insert(1, ("to buy", format!("{:.2} m", cloth.buy_length_mm / 1000.0)));
    }
    figures
}
