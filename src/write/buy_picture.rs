//! What to buy as a picture: for every cloth the length against the width.

use resvg::tiny_skia::{Pixmap, Transform};

use crate::estimate::Buying;
use crate::say::Trouble;
use crate::shape::{Point, pt};

use super::lay_picture::pen::{self, FAINT, INK, MADDER, MOSS, SOFT_INK, Side, Words};
use super::xml::{El, el, picture};

const WIDTH: f64 = 900.0;
const PAD: f64 = 48.0;
const TITLE: f64 = 64.0;
const PANEL: f64 = 300.0;
const PLOT: f64 = 190.0;
/// Room left of a plot for its lengths.
const LEFT: f64 = 84.0;

/// The curves of length against width, one cloth beneath the other. It needs no font and no other file.
pub fn buy_svg(title: &str, buyings: &[Buying]) -> String {
    let height = PAD + TITLE + buyings.len() as f64 * PANEL;
    let heading = match title.trim() {
        "" => "To buy".to_owned(),
        title => format!("{title}: to buy"),
    };
    let mut page = picture(WIDTH, height, "")
        .add(el("title").text(&heading))
        .add(pen::rectangle(pt(0.0, 0.0), WIDTH, height).set("fill", pen::PAPER));
    page = page.add(Words::new(&fit(&heading, 26.0, WIDTH - 2.0 * PAD), 26.0, pt(PAD, PAD + 24.0)).drawn());
    for (k, buying) in buyings.iter().enumerate() {
        page = page.add(panel(buying, PAD + TITLE + k as f64 * PANEL));
    }
    format!("{page}\n")
}

/// The same as a PNG, twice as fine.
///
/// # Errors
/// It cannot be drawn.
pub fn buy_png(title: &str, buyings: &[Buying]) -> Result<Vec<u8>, Trouble> {
    let broken = |e: String| Trouble::cannot("the picture", format!("it cannot be drawn: {e}"));
    let svg = buy_svg(title, buyings);
    let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).map_err(|e| broken(e.to_string()))?;
    let size = tree.size();
    let mut canvas = Pixmap::new((size.width() * 2.0) as u32, (size.height() * 2.0) as u32)
        .ok_or_else(|| broken("it has no size".into()))?;
    resvg::render(&tree, Transform::from_scale(2.0, 2.0), &mut canvas.as_mut());
    super::png::encoded(&canvas).map_err(broken)
}

fn fit(text: &str, height: f64, room: f64) -> String {
    super::letters::fit(text, height, room).unwrap_or_default()
}

fn panel(buying: &Buying, top: f64) -> El {
    let mut group = el("g");
    let what = match buying.best.and_then(|k| Some((k, buying.widths[k].need.as_ref().ok()?))) {
        Some((k, need)) => {
            let cost = buying.widths[k].cost().map_or(String::new(), |c| format!(", cost {c:.2}"));
            format!(
                "{}: {:.2} m of {:.0} mm{cost}",
                buying.cloth,
                need.buy_mm / 1000.0,
                buying.widths[k].width_mm
            )
        }
        None => format!("{}: no width will do", buying.cloth),
    };
    let room = WIDTH - 2.0 * PAD;
    group = group.add(Words::new(&fit(&what, 17.0, room), 17.0, pt(PAD, top)).drawn());
    let points: Vec<(usize, f64, f64)> = buying
        .widths
        .iter()
        .enumerate()
        .filter_map(|(k, w)| w.need.as_ref().ok().map(|n| (k, w.width_mm, n.buy_mm)))
        .collect();
    let low_w = buying.widths.iter().map(|w| w.width_mm).fold(f64::INFINITY, f64::min);
    let high_w = buying.widths.iter().map(|w| w.width_mm).fold(0.0, f64::max);
    let most = points.iter().map(|p| p.2).fold(0.0, f64::max);
    let (left, right, near, far) = (PAD + LEFT, WIDTH - PAD - 40.0, top + 46.0 + PLOT, top + 46.0);
    let step = [50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 20_000.0]
        .into_iter()
        .find(|s| most / s <= 5.0)
        .unwrap_or(50_000.0);
    let ceiling = ((most / step).ceil() * step).max(step);
    let span = (high_w - low_w).max(1.0);
    let at = |w: f64, l: f64| -> Point {
        let x = if high_w > low_w {
            left + 30.0 + (right - left - 60.0) * (w - low_w) / span
        } else {
            (left + right) / 2.0
        };
        pt(x, near - (near - far) * l / ceiling)
    };
    for n in 0..=(ceiling / step).round() as usize {
        let l = n as f64 * step;
        let y = at(low_w, l).y;
        group = group.add(pen::line(pt(left, y), pt(right, y), if n == 0 { INK } else { FAINT }, 1.0));
        let label = format!("{:.2} m", l / 1000.0);
        group = group.add(
            Words::new(&label, 11.0, pt(left - 12.0, y + 4.0)).side(Side::Right).colour(SOFT_INK).drawn(),
        );
    }
    let line: Vec<Point> = points.iter().map(|p| at(p.1, p.2)).collect();
    let curve = el("path").set("d", pen::line_data(&line)).set("fill", "none");
    group = group.add(curve.set("stroke", INK).num("stroke-width", 1.8));
    for (k, width, length) in &points {
        let p = at(*width, *length);
        let best = buying.best == Some(*k);
        let dot = el("circle").num("cx", p.x).num("cy", p.y).num("r", if best { 7.0 } else { 4.5 });
        group = group.add(dot.set("fill", if best { MOSS } else { INK }));
        let label = format!("{:.2} m", length / 1000.0);
        group =
            group.add(Words::new(&label, 12.0, pt(p.x, p.y - 14.0)).side(Side::Middle).drawn_with_rim(2.0));
        if let Some(cost) = buying.widths[*k].cost() {
            let label = format!("{cost:.2}");
            let below = Words::new(&label, 11.0, pt(p.x, near + 40.0)).side(Side::Middle).colour(SOFT_INK);
            group = group.add(below.drawn());
        }
    }
    for w in &buying.widths {
        let x = at(w.width_mm, 0.0).x;
        let (label, colour) = match w.need {
            Ok(_) => (format!("{:.0} mm", w.width_mm), INK),
            Err(_) => (format!("{:.0} mm: too narrow", w.width_mm), MADDER),
        };
        group = group.add(pen::line(pt(x, near), pt(x, near + 6.0), INK, 1.0));
        group =
            group.add(Words::new(&label, 12.0, pt(x, near + 22.0)).side(Side::Middle).colour(colour).drawn());
    }
    group
}
