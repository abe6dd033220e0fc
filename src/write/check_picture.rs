//! The picture of a drawing's faults: the drawing in pale fills, each fault circled and numbered, what it is
//! below.
//!
//! Frame of the picture: mm on paper, y down. All text is drawn in strokes, so no font is needed.

mod labels;

use std::fmt::Write;

use super::letters;
use super::number::number;
use super::xml::{El, el, picture};
use crate::drawing::faults::{Fault, Severity};
use crate::drawing::{Drawing, Element};
use crate::say::Trouble;
use crate::shape::{Bounds, Point, Ring, pt};
use labels::{Callout, place};

const PAPER: &str = "#f8f4eb";
const SHEET: &str = "#fffdf8";
const INK: &str = "#2b2733";
const SOFT_INK: &str = "#6d6470";
const FAINT: &str = "#c9bfb2";

/// Width of the picture, mm: an A4 sheet's.
const WIDTH: f64 = 210.0;
const MARGIN: f64 = 10.0;

/// Room for the drawing, mm.
const ROOM: [f64; 2] = [WIDTH - 2.0 * MARGIN, 190.0];

/// Where the drawing begins below the heading, mm.
const TOP: f64 = 26.0;

/// Capitals of heading, small text, legend; a row of the legend, mm.
const HEADING: f64 = 4.2;
const SMALL: f64 = 2.4;
const LEGEND: f64 = 2.2;
const ROW: f64 = 5.0;

/// From line to line of one row of the legend, and room for an element's id in it, mm.
const LINE: f64 = 3.6;
const ELEMENT: f64 = 30.0;

/// This many faults are numbered, the gravest first; a picture with more could not be read.
const NUMBERED: usize = 60;

/// This many unnumbered places are circled.
const CIRCLED: usize = 2_000;

/// Labels keep clear of this many of these.
const KEPT_CLEAR: usize = 300;

/// Pixels to a millimetre of paper.
const PX_PER_MM: f64 = 8.0;

/// The drawing with its faults as SVG, an A4 sheet wide. `name` stands in the heading; the faults are numbered
/// from 1 in the order given.
pub fn check_picture(name: &str, drawing: &Drawing, faults: &[Fault]) -> String {
    let view = View::of(drawing);
    let sheet_bottom = TOP + view.size[1];
    let (callouts, others) = callouts(&view, faults);
    let shown: Vec<usize> = callouts.iter().map(|c| c.number).collect();
    let mut body = el("g").set("fill", "none").set("stroke-linecap", "round").set("stroke-linejoin", "round");
    body = body.add_all(heading(name, drawing, faults));
    body = body.add(sheet(&view, drawing));
    body = body.add_all(drawing.elements.iter().filter_map(|e| shape(&view, e)));
    body = body.add_all(drawing.losses.iter().map(|l| lost(&view, l.bounds)));
    body = body.add_all(others.iter().map(|&(p, severity)| circle(p, 1.3, severity, 0.3)));
    body = body.add_all(callouts_drawn(&view, &callouts, &others, faults));
    body = body.add_all(scale_bar(&view, sheet_bottom + 6.0));
    let (legend, bottom) = legend(faults, &shown, sheet_bottom + 16.0);
    body = body.add_all(legend);
    let height = bottom + MARGIN;
    picture(WIDTH, height, "mm")
        .add(el("title").text(&format!("Faults of {name}")))
        .add(el("rect").num("width", WIDTH).num("height", height).set("fill", PAPER))
        .add(body)
        .to_string()
}

/// The same picture as PNG, 1680 pixels wide.
///
/// # Errors
/// The picture cannot be drawn; says why.
pub fn check_png(name: &str, drawing: &Drawing, faults: &[Fault]) -> Result<Vec<u8>, Trouble> {
    let broken = |e: String| Trouble::cannot("the picture", format!("it cannot be drawn: {e}"));
    let svg = check_picture(name, drawing, faults);
    let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).map_err(|e| broken(e.to_string()))?;
    let width = (WIDTH * PX_PER_MM).round();
    let zoom = width as f32 / tree.size().width();
    let height = (tree.size().height() * zoom).round();
    let mut canvas = resvg::tiny_skia::Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| broken("it has no size".into()))?;
    resvg::render(&tree, resvg::tiny_skia::Transform::from_scale(zoom, zoom), &mut canvas.as_mut());
    super::png::encoded(&canvas).map_err(broken)
}

/// How the drawing lies on the paper.
struct View {
    shown: Bounds,
    scale: f64,
    size: [f64; 2],
    left: f64,
}

impl View {
    fn of(drawing: &Drawing) -> View {
        let far = crate::shape::tol::FARTHEST_MM;
        let points = drawing.elements.iter().flat_map(|e| &e.subpaths).flat_map(|s| &s.points);
        let mut shown = Bounds::of(points.copied().filter(|p| p.x.abs() <= far && p.y.abs() <= far));
        shown = shown.union(Bounds::of(drawing.losses.iter().map(|l| l.bounds.centre())));
        let [w, h] = drawing.page_mm;
        if w.is_finite() && h.is_finite() && w > 0.0 && h > 0.0 {
            shown = shown.union(Bounds::new(pt(0.0, 0.0), pt(w, h)));
        }
        if shown.is_empty() {
            shown = Bounds::new(pt(0.0, 0.0), pt(1.0, 1.0));
        }
        shown = shown.grown(0.02 * shown.width().max(shown.height()).max(1.0));
        let scale = (ROOM[0] / shown.width()).min(ROOM[1] / shown.height());
        let size = [shown.width() * scale, shown.height() * scale];
        View { shown, scale, size, left: (WIDTH - size[0]) / 2.0 }
    }

    fn at(&self, p: Point) -> Point {
        pt(self.left + (p.x - self.shown.min.x) * self.scale, TOP + (self.shown.max.y - p.y) * self.scale)
    }

    fn bounds(&self) -> Bounds {
        Bounds::new(pt(self.left, TOP), pt(self.left + self.size[0], TOP + self.size[1]))
    }
}

/// Text with its baseline from `at`.
fn text(words: &str, at: Point, height: f64, colour: &str) -> El {
    let (data, _) = letters::text_path(words, height);
    el("path")
        .set("d", data)
        .set("transform", format!("translate({} {})", number(at.x), number(at.y)))
        .set("stroke", colour)
        .num("stroke-width", height * 0.11)
}

fn fit(words: &str, height: f64, room: f64) -> String {
    letters::fit(words, height, room).unwrap_or_default()
}

fn heading(name: &str, drawing: &Drawing, faults: &[Fault]) -> Vec<El> {
    let count = |s: Severity| faults.iter().filter(|f| f.severity == s).map(|f| 1 + f.more).sum::<usize>();
    // A note is no fault: only what has to be mended counts as one here.
    let words = match (count(Severity::Stops) + count(Severity::Mend), count(Severity::Note)) {
        (0, 0) if drawing.elements.is_empty() => "no shapes, nothing to cut".to_string(),
        (0, 0) => "no faults".to_string(),
        (0, 1) => "nothing to mend, 1 to note".to_string(),
        (0, n) => format!("nothing to mend, {n} to note"),
        (1, _) => "1 fault".to_string(),
        (n, _) => format!("{n} faults"),
    };
    let [w, h] = drawing.page_mm;
    let page =
        format!("page {} × {} mm", number((w * 10.0).round() / 10.0), number((h * 10.0).round() / 10.0));
    let mut out = vec![
        text(&fit(&format!("{name}: {words}"), HEADING, ROOM[0]), pt(MARGIN, 14.0), HEADING, INK),
        text(&page, pt(MARGIN, 20.5), SMALL, SOFT_INK),
    ];
    let mut x = WIDTH - MARGIN;
    for severity in [Severity::Note, Severity::Mend, Severity::Stops] {
        let words = match severity {
            Severity::Stops => "to stop for",
            Severity::Mend => "to mend",
            Severity::Note => "to note",
        };
        let label = format!("{} {words}", count(severity));
        let width = letters::width(&label, SMALL);
        x -= width;
        out.push(text(&label, pt(x, 20.5), SMALL, SOFT_INK));
        x -= 2.6;
        out.push(circle(pt(x, 20.5 - SMALL / 2.0), 1.2, severity, 0.5));
        x -= 5.0;
    }
    out
}

fn colour(severity: Severity) -> &'static str {
    match severity {
        Severity::Stops => "#a23b33",
        Severity::Mend => "#b5761a",
        Severity::Note => "#56704a",
    }
}

fn circle(at: Point, radius: f64, severity: Severity, pen: f64) -> El {
    el("circle")
        .num("cx", at.x)
        .num("cy", at.y)
        .num("r", radius)
        .set("stroke", colour(severity))
        .num("stroke-width", pen)
}

/// The page as a sheet, in what of it can be seen.
fn sheet(view: &View, drawing: &Drawing) -> El {
    let (a, b) = (view.at(pt(0.0, drawing.page_mm[1])), view.at(pt(drawing.page_mm[0], 0.0)));
    el("rect")
        .num("x", a.x)
        .num("y", a.y)
        .num("width", (b.x - a.x).max(0.0))
        .num("height", (b.y - a.y).max(0.0))
        .set("fill", SHEET)
        .set("stroke", FAINT)
        .num("stroke-width", 0.2)
}

/// Where something stands that is not as drawn: its box, dashed, in what of it can be seen.
fn lost(view: &View, bounds: Bounds) -> El {
    let room = view.bounds();
    let inside = |p: Point| pt(p.x.clamp(room.min.x, room.max.x), p.y.clamp(room.min.y, room.max.y));
    let (a, b) = (inside(view.at(bounds.min)), inside(view.at(bounds.max)));
    el("rect")
        .num("x", a.x)
        .num("y", b.y)
        .num("width", b.x - a.x)
        .num("height", a.y - b.y)
        .set("stroke", SOFT_INK)
        .set("stroke-dasharray", "1.4 1")
        .num("stroke-width", 0.22)
}

/// An element: its region pale, its outlines as drawn.
fn shape(view: &View, element: &Element) -> Option<El> {
    let regions = if element.filled.is_empty() { &element.band } else { &element.filled };
    let own = if element.filled.is_empty() { &element.stroke } else { &element.fill };
    let mut area = String::new();
    for ring in regions.iter().filter(|r| r.is_sane()).flat_map(|r| r.rings()) {
        push_line(&mut area, view, &ring.points, true);
    }
    let mut lines = String::new();
    for line in element.subpaths.iter().filter(|s| Ring { points: s.points.clone() }.is_sane()) {
        push_line(&mut lines, view, &line.points, line.closed);
    }
    if area.is_empty() && lines.is_empty() {
        return None;
    }
    let mut group = el("g");
    if !area.is_empty() {
        group = group
            .add(el("path").set("d", area).set("fill", pale(own.as_deref())).set("fill-rule", "evenodd"));
    }
    if !lines.is_empty() {
        group = group.add(el("path").set("d", lines).set("stroke", SOFT_INK).num("stroke-width", 0.18));
    }
    Some(group)
}

fn push_line(data: &mut String, view: &View, points: &[Point], closed: bool) {
    for (i, &p) in points.iter().enumerate() {
        let p = view.at(p);
        // Writing to a string cannot fail.
        let _ = write!(data, "{}{} {}", if i == 0 { "M" } else { "L" }, number(p.x), number(p.y));
    }
    if closed && !points.is_empty() {
        data.push('Z');
    }
}

/// A colour washed out to a fifth on the sheet.
fn pale(colour: Option<&str>) -> String {
    let part = |from: usize| {
        let own = colour.and_then(|c| c.get(from..from + 2)).and_then(|h| u8::from_str_radix(h, 16).ok());
        let sheet = u8::from_str_radix(&SHEET[from..from + 2], 16).unwrap_or(u8::MAX);
        (f64::from(own.unwrap_or(0x90)) * 0.22 + f64::from(sheet) * 0.78).round() as u8
    };
    format!("#{:02x}{:02x}{:02x}", part(1), part(3), part(5))
}

/// The faults to be numbered, gravest first where there are too many, and the places of the others.
fn callouts(view: &View, faults: &[Fault]) -> (Vec<Callout>, Vec<(Point, Severity)>) {
    let mut order: Vec<usize> = (0..faults.len()).collect();
    order.sort_by_key(|&i| faults[i].severity);
    let (numbered, rest) = order.split_at(order.len().min(NUMBERED));
    let mut numbered: Vec<usize> = numbered.to_vec();
    numbered.sort_unstable();
    let callout = |&i: &usize| {
        let fault = &faults[i];
        let own = fault.size_mm * view.scale / 2.0 + 1.0;
        Callout {
            number: i + 1,
            at: view.at(fault.at),
            radius: if own.is_finite() { own.clamp(1.8, 5.0) } else { 1.8 },
            words: fault.kind.word().to_string(),
        }
    };
    let others = rest
        .iter()
        .map(|&i| (faults[i].at, faults[i].severity))
        .chain(faults.iter().flat_map(|f| f.also.iter().map(|&p| (p, f.severity))))
        .map(|(p, s)| (view.at(p), s))
        .take(CIRCLED)
        .collect();
    (numbered.iter().map(callout).collect(), others)
}

/// The numbered circles with their labels, which never lie on each other.
fn callouts_drawn(
    view: &View,
    callouts: &[Callout],
    others: &[(Point, Severity)],
    faults: &[Fault],
) -> Vec<El> {
    let others: Vec<Point> = others.iter().take(KEPT_CLEAR).map(|o| o.0).collect();
    let placed = place(callouts, &others, view.bounds());
    let severity = |c: &Callout| faults.get(c.number - 1).map_or(Severity::Note, |f| f.severity);
    let mut lines = Vec::new();
    let mut tops = Vec::new();
    for (callout, label) in callouts.iter().zip(&placed) {
        let severity = severity(callout);
        lines.push(circle(callout.at, callout.radius, severity, 0.55));
        let Some(label) = label else { continue };
        if let Some((from, to)) = label.leader(callout) {
            let line = el("path").set(
                "d",
                format!("M{} {}L{} {}", number(from.x), number(from.y), number(to.x), number(to.y)),
            );
            lines.push(line.set("stroke", colour(severity)).num("stroke-width", 0.3));
        }
        let b = label.bounds;
        tops.push(
            el("rect")
                .num("x", b.min.x)
                .num("y", b.min.y)
                .num("width", b.width())
                .num("height", b.height())
                .num("rx", 1.0)
                .set("fill", SHEET)
                .set("stroke", colour(severity))
                .num("stroke-width", 0.25),
        );
        tops.push(text(&label.words, pt(b.min.x + labels::PAD, b.max.y - labels::PAD), labels::LETTERS, INK));
    }
    lines.extend(tops);
    lines
}

/// A bar of a round length, about a fifth of the room.
fn scale_bar(view: &View, y: f64) -> Vec<El> {
    let wished = ROOM[0] / 5.0 / view.scale;
    let power = libm::pow(10.0, libm::floor(libm::log10(wished)));
    let length = [5.0, 2.0, 1.0].iter().map(|m| m * power).find(|l| *l <= wished).unwrap_or(power);
    let (left, right) = (MARGIN, MARGIN + length * view.scale);
    let bar = format!(
        "M{l} {t}V{b}M{l} {y}H{r}M{r} {t}V{b}",
        l = number(left),
        r = number(right),
        y = number(y),
        t = number(y - 1.2),
        b = number(y + 1.2)
    );
    vec![
        el("path").set("d", bar).set("stroke", INK).num("stroke-width", 0.35),
        text(&format!("{} mm", number(length)), pt(right + 2.5, y + SMALL / 2.0), SMALL, INK),
    ]
}

/// `words` broken into lines of the legend; a word too long for a line is cut off.
fn wrap(words: &str, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        let longer = lines.last().map(|line| format!("{line} {word}"));
        match longer.filter(|l| letters::width(l, LEGEND) <= room) {
            Some(longer) => {
                lines.pop();
                lines.push(longer);
            }
            None => lines.push(fit(word, LEGEND, room)),
        }
    }
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

/// The numbered faults row by row, and where the last row ends.
fn legend(faults: &[Fault], shown: &[usize], top: f64) -> (Vec<El>, f64) {
    let mut y = top;
    let mut out = Vec::new();
    let numbers = 8.0;
    for &n in shown {
        let Some(fault) = faults.get(n - 1) else { continue };
        let number = n.to_string();
        let x = MARGIN + numbers - letters::width(&number, LEGEND);
        out.push(text(&number, pt(x, y), LEGEND, INK));
        out.push(circle(pt(MARGIN + numbers + 3.0, y - LEGEND / 2.0), 1.0, fault.severity, 0.5));
        let left = MARGIN + numbers + 6.0;
        out.push(text(&fit(&fault.element, LEGEND, ELEMENT), pt(left, y), LEGEND, INK));
        let left = left + ELEMENT + 3.0;
        for line in wrap(&fault.text, WIDTH - MARGIN - left) {
            out.push(text(&line, pt(left, y), LEGEND, SOFT_INK));
            y += LINE;
        }
        y += ROW - LINE;
    }
    if faults.is_empty() {
        out.push(text("Nothing was found that would have to be mended.", pt(MARGIN, y), LEGEND, SOFT_INK));
        y += ROW;
    } else if shown.len() < faults.len() {
        let more = faults.len() - shown.len();
        let words = format!("And {more} more, circled without a number; the written list has all of them.");
        out.push(text(&words, pt(MARGIN, y), LEGEND, SOFT_INK));
        y += ROW;
    }
    (out, y - ROW)
}

#[cfg(test)]
mod tests;
