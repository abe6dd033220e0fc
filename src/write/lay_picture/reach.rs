//! How far each pass reaches, as bars outside the cloth: what two bars share is the shared band.

use crate::plan::PlanPass;
use crate::shape::{Point, pt};

use super::frame::Sheet;
use super::passes::border;
use super::pen::{PAPER, Side, Words, line, pass_colour, rectangle};
use crate::write::letters;
use crate::write::xml::{El, el};

/// From the cloth's edge to the first bar, from bar to bar, and beyond the last.
const FIRST: f64 = 36.0;
const ROW: f64 = 28.0;
const BEYOND: f64 = 2.0;
/// Bars in one row keep this far apart.
const APART: f64 = 10.0;
/// Height of the capitals on a tab, and a tab's width and height beyond them.
const HEIGHT: f64 = 13.0;
const ENDS: f64 = 18.0;
const THICK: f64 = 24.0;

/// The bars of one cloth.
pub(super) struct Reach {
    /// True where passes differ along the cloth only: their bars then stand on its right.
    upright: bool,
    bars: Vec<Bar>,
}

/// A pass's bar: its number, its row counted from the cloth, and where it begins and ends, mm of the cloth.
struct Bar {
    number: usize,
    cut: bool,
    row: usize,
    low: f64,
    high: f64,
}

impl Reach {
    /// The bars of `passes`, in as few rows as they need.
    pub fn of(sheet: &Sheet, passes: &[&PlanPass]) -> Reach {
        let across = |p: &PlanPass| (p.window[0].max(sheet.cloth.min.x), p.window[2].min(sheet.cloth.max.x));
        let along = |p: &PlanPass| (p.window[1].max(sheet.cloth.min.y), p.window[3].min(sheet.cloth.max.y));
        let upright = passes.len() > 1 && passes.windows(2).all(|w| across(w[0]) == across(w[1]));
        let apart = APART / sheet.scale;
        let mut bars: Vec<Bar> = Vec::new();
        for pass in passes {
            let (low, high) = if upright { along(pass) } else { across(pass) };
            let free = |row: &usize| {
                bars.iter().all(|b| b.row != *row || b.high + apart < low || high + apart < b.low)
            };
            let row = (0..=bars.len()).find(free).unwrap_or_default();
            bars.push(Bar { number: pass.number, cut: pass.cut_on.is_some(), row, low, high });
        }
        Reach { upright, bars }
    }

    fn depth(&self) -> f64 {
        let rows = self.bars.iter().map(|b| b.row + 1).max().unwrap_or(0);
        if rows == 0 { 0.0 } else { FIRST + (rows - 1) as f64 * ROW + THICK / 2.0 + BEYOND }
    }

    /// Room the bars take above the cloth.
    pub fn above(&self) -> f64 {
        if self.upright { 0.0 } else { self.depth() }
    }

    /// Room the bars take on the right of the cloth.
    pub fn aside(&self) -> f64 {
        if self.upright { self.depth() } else { 0.0 }
    }

    /// The bars.
    pub fn drawn(&self, sheet: &Sheet, passes: &[&PlanPass]) -> El {
        let one = |(i, bar): (usize, &Bar)| {
            let (at, width, height) = border(sheet, passes.get(i)?, i);
            let off = FIRST + bar.row as f64 * ROW;
            let (a, b) = if self.upright {
                let x = sheet.corner.x + sheet.width() + off;
                (pt(x, at.y + height), pt(x, at.y))
            } else {
                let y = sheet.corner.y - off;
                (pt(at.x, y), pt(at.x + width, y))
            };
            Some(self.bar(bar, a, b))
        };
        el("g").add_all(self.bars.iter().enumerate().filter_map(one))
    }

    fn bar(&self, bar: &Bar, a: Point, b: Point) -> El {
        let colour = pass_colour(bar.number);
        let cut = if bar.cut { ", cut" } else { "" };
        let text = format!("pass {}{cut}", bar.number);
        let long = letters::width(&text, HEIGHT) + ENDS;
        let middle = (a + b) / 2.0;
        let tick = if self.upright { pt(8.0, 0.0) } else { pt(0.0, 8.0) };
        let half = if self.upright { pt(THICK / 2.0, long / 2.0) } else { pt(long / 2.0, THICK / 2.0) };
        let base = if self.upright { pt(HEIGHT / 2.0, 0.0) } else { pt(0.0, HEIGHT / 2.0) };
        let turn = if self.upright { -90.0 } else { 0.0 };
        el("g")
            .add(line(a, b, colour, 2.2))
            .add(line(a - tick, a + tick, colour, 2.2))
            .add(line(b - tick, b + tick, colour, 2.2))
            .add(rectangle(middle - half, 2.0 * half.x, 2.0 * half.y).num("rx", 4.0).set("fill", colour))
            .add(Words::new(&text, HEIGHT, middle + base).side(Side::Middle).colour(PAPER).turn(turn).drawn())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    #[test]
    fn bars_that_share_cloth_stand_in_rows_of_their_own() {
        let plan = sample_plan();
        let sheet = Sheet::of(&plan.cloths[0]);
        let mut passes = vec![plan.passes[0].clone(); 3];
        for (i, [low, high]) in [[0.0, 300.0], [250.0, 550.0], [500.0, 800.0]].into_iter().enumerate() {
            passes[i].window = [low, 0.0, high, 500.0];
        }
        let refs: Vec<&PlanPass> = passes.iter().collect();
        let reach = Reach::of(&sheet, &refs);
        assert_eq!(reach.bars.iter().map(|b| b.row).collect::<Vec<_>>(), [0, 1, 0]);
        assert!(reach.above() > 0.0 && reach.aside() == 0.0);
        for (pass, [low, high]) in passes.iter_mut().zip([[0.0, 300.0], [250.0, 550.0], [500.0, 800.0]]) {
            pass.window = [0.0, low, 500.0, high];
        }
        let refs: Vec<&PlanPass> = passes.iter().collect();
        let reach = Reach::of(&sheet, &refs);
        assert!(reach.above() == 0.0 && reach.aside() > 0.0);
        assert_eq!(Reach::of(&sheet, &[]).above(), 0.0);
    }
}
