//! Text as single strokes.
//!
//! Pictures and key files must look the same on every machine, and a laser follows lines, not filled
//! letters: so text is drawn in letters of our own. In: text and the height of its capitals. Out: strokes.

mod glyphs;

use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::shape::{Point, pt};

use super::number::number;
use glyphs::{GLYPHS, Glyph, UNKNOWN};

/// Greatest distance of a letter's polyline from its curve, as a share of the height of its capitals.
const FLAT: f64 = 0.004;

/// Control points of a quarter ellipse at this share of its half axes: a little squarer than the true
/// ellipse's 0.552, which gives small letters more open bowls.
const QUARTER: f64 = 0.575;

/// Room added between letters, grid units: small sizes read better with air.
const TRACKING: f64 = 4.0;

/// Height of the small letters as a share of the capitals'.
pub const SMALL: f64 = 0.66;

/// How far letters hang below the baseline, as a share of the capitals' height.
pub const DESCENT: f64 = 0.3;

/// A stroke of a letter.
#[derive(Clone, Debug, PartialEq)]
struct Stroke {
    start: Point,
    parts: Vec<Part>,
    closed: bool,
}

/// A line or a cubic curve on from where the stroke stands.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Part {
    Line(Point),
    Curve(Point, Point, Point),
}

/// SVG path data of `text` with capitals `height_mm` high, and the width it takes, mm.
///
/// Baseline from (0, 0) to the right, y down as in SVG. To be stroked with round caps and joins; a width
/// of about a tenth of the height reads as regular weight. A character without a letter is drawn as a frame.
pub fn text_path(text: &str, height_mm: f64) -> (String, f64) {
    let scale = height_mm / 100.0;
    let (strokes, width) = set(text);
    let at = |p: Point| format!("{} {}", number(p.x * scale), number(-p.y * scale));
    let mut data = String::new();
    for stroke in &strokes {
        data.push('M');
        data.push_str(&at(stroke.start));
        for part in &stroke.parts {
            match *part {
                Part::Line(p) => data.push_str(&format!("L{}", at(p))),
                Part::Curve(a, b, p) => data.push_str(&format!("C{} {} {}", at(a), at(b), at(p))),
            }
        }
        if stroke.closed {
            data.push('Z');
        }
    }
    (data, width * scale)
}

/// `text` as open polylines, y up, baseline from (0, 0) to the right, and the width it takes, mm. A closed
/// stroke ends on the point it began with.
pub fn strokes(text: &str, height_mm: f64) -> (Vec<Vec<Point>>, f64) {
    let scale = height_mm / 100.0;
    let (strokes, width) = set(text);
    let lines =
        strokes.iter().map(|stroke| flatten(stroke).into_iter().map(|p| p * scale).collect()).collect();
    (lines, width * scale)
}

/// The width `text` takes with capitals `height_mm` high, mm.
pub fn width(text: &str, height_mm: f64) -> f64 {
    advance(text).last().map_or(0.0, |l| l.end) * height_mm / 100.0
}

/// `text` cut off, with an ellipsis, so that it takes no more than `room_mm`; `None` when not even its
/// first character fits.
pub fn fit(text: &str, height_mm: f64, room_mm: f64) -> Option<String> {
    if width(text, height_mm) <= room_mm {
        return Some(text.to_owned());
    }
    let signs: Vec<char> = text.chars().collect();
    (1..signs.len())
        .rev()
        .map(|n| {
            let start: String = signs.iter().take(n).collect();
            format!("{}\u{2026}", start.trim_end())
        })
        .find(|short| width(short, height_mm) <= room_mm)
}

/// The letter without its accent.
pub fn base_letter(c: char) -> char {
    match glyphs::taken_apart(c) {
        Some(('\u{131}', _)) => 'i',
        Some((base, _)) => base,
        None => c,
    }
}

/// A letter in its place, grid units.
struct Letter {
    glyph: &'static Glyph,
    base: char,
    accent: Option<char>,
    /// Where what is drawn begins, and where the next letter may.
    at: f64,
    end: f64,
}

/// The letters of `text`, one after another.
fn advance(text: &str) -> impl Iterator<Item = Letter> + '_ {
    let mut x = 0.0;
    let mut before = None;
    text.chars().map(glyphs::drawn_as).filter(|c| !is_combining(*c)).map(move |c| {
        let (base, accent) = glyphs::taken_apart(c).map_or((c, None), |(b, a)| (b, Some(a)));
        let glyph = find(base);
        x += before.map_or(0.0, |b| TRACKING + kern(b, base)) + glyph.left;
        before = Some(base);
        let at = x;
        x += glyph.width + glyph.right;
        Letter { glyph, base, accent, at, end: x }
    })
}

/// The strokes of `text` in grid units, y up, and the width.
fn set(text: &str) -> (Vec<Stroke>, f64) {
    let mut all = Vec::new();
    let mut width = 0.0;
    for letter in advance(text) {
        all.extend(moved(letter.glyph.strokes, pt(letter.at, 0.0)));
        if let Some(accent) = letter.accent {
            let hangs = matches!(accent, ',' | ';' | '/' | 'L');
            let raised = if letter.base.is_uppercase() && !hangs { 34.0 } else { 0.0 };
            let middle = letter.at + letter.glyph.width / 2.0;
            all.extend(moved(glyphs::accent_strokes(accent), pt(middle, raised)));
        }
        width = letter.end;
    }
    (all, width)
}

/// Pairs that would gape are drawn together, grid units.
fn kern(left: char, right: char) -> f64 {
    match (left, right) {
        ('T' | 'Y' | 'V' | 'W' | 'P' | 'F', 'a' | 'c' | 'd' | 'e' | 'g' | 'o' | 'q' | 's') => -10.0,
        ('T' | 'Y', 'm' | 'n' | 'p' | 'r' | 'u' | 'v' | 'w' | 'x' | 'y' | 'z') => -9.0,
        ('A', 'T' | 'V' | 'W' | 'Y') | ('T' | 'V' | 'W' | 'Y' | 'P' | 'F', 'A') => -11.0,
        ('L', 'T' | 'V' | 'Y') => -14.0,
        ('r' | 'v' | 'w' | 'y' | 'T' | 'V' | 'Y' | 'P' | 'F', '.' | ',') => -11.0,
        ('k' | 'x' | 'r', 'c' | 'd' | 'e' | 'o' | 'q') => -3.0,
        _ => 0.0,
    }
}

fn is_combining(c: char) -> bool {
    ('\u{300}'..='\u{36f}').contains(&c)
}

fn find(c: char) -> &'static Glyph {
    match GLYPHS.binary_search_by_key(&c, |g| g.character) {
        Ok(i) => GLYPHS.get(i).unwrap_or(&UNKNOWN),
        Err(_) => &UNKNOWN,
    }
}

/// Every letter's strokes, read once: sheets and keys hold thousands of letters.
static READ: LazyLock<BTreeMap<&'static str, Vec<Stroke>>> = LazyLock::new(|| {
    GLYPHS
        .iter()
        .map(|g| g.strokes)
        .chain([UNKNOWN.strokes])
        .map(|written| (written, parse(written)))
        .collect()
});

/// Strokes as written in the table of letters, moved by `by`.
fn moved(written: &'static str, by: Point) -> Vec<Stroke> {
    let mut strokes = READ.get(written).cloned().unwrap_or_else(|| parse(written));
    for stroke in &mut strokes {
        stroke.start = stroke.start + by;
        for part in &mut stroke.parts {
            *part = match *part {
                Part::Line(p) => Part::Line(p + by),
                Part::Curve(a, b, p) => Part::Curve(a + by, b + by, p + by),
            };
        }
    }
    strokes
}

/// Reads strokes as written in the table of letters.
fn parse(written: &str) -> Vec<Stroke> {
    let mut strokes: Vec<Stroke> = Vec::new();
    let mut at = pt(0.0, 0.0);
    let spaced: String = written
        .chars()
        .flat_map(|c| if c.is_ascii_alphabetic() { vec![' ', c, ' '] } else { vec![c] })
        .collect();
    let mut words = spaced.split_whitespace();
    while let Some(command) = words.next() {
        let mut point =
            || -> Option<Point> { Some(pt(words.next()?.parse().ok()?, words.next()?.parse().ok()?)) };
        if command == "Z" {
            if let Some(stroke) = strokes.last_mut() {
                stroke.closed = true;
            }
            continue;
        }
        let Some(first) = point() else { break };
        let part = match command {
            "M" => {
                strokes.push(Stroke { start: first, parts: Vec::new(), closed: false });
                at = first;
                continue;
            }
            "C" => match (point(), point()) {
                (Some(second), Some(end)) => Part::Curve(first, second, end),
                _ => break,
            },
            "h" => Part::Curve(
                pt(at.x + (first.x - at.x) * QUARTER, at.y),
                pt(first.x, first.y + (at.y - first.y) * (1.0 - QUARTER)),
                first,
            ),
            "v" => Part::Curve(
                pt(at.x, at.y + (first.y - at.y) * QUARTER),
                pt(first.x + (at.x - first.x) * (1.0 - QUARTER), first.y),
                first,
            ),
            _ => Part::Line(first),
        };
        at = match part {
            Part::Line(p) | Part::Curve(_, _, p) => p,
        };
        if let Some(stroke) = strokes.last_mut() {
            stroke.parts.push(part);
        }
    }
    strokes
}

/// A stroke as a polyline, grid units. Steps: the second difference of a cubic's control points bounds how
/// far its chords stray, n = √(0.75·difference/tolerance).
fn flatten(stroke: &Stroke) -> Vec<Point> {
    let mut line = vec![stroke.start];
    let mut from = stroke.start;
    for part in &stroke.parts {
        match *part {
            Part::Line(p) => {
                line.push(p);
                from = p;
            }
            Part::Curve(a, b, p) => {
                let bend =
                    |u: Point, v: Point, w: Point| (u.x - 2.0 * v.x + w.x).hypot(u.y - 2.0 * v.y + w.y);
                let most = bend(from, a, b).max(bend(a, b, p));
                let steps = (0.75 * most / (FLAT * 100.0)).sqrt().ceil().clamp(1.0, 64.0) as u32;
                for i in 1..=steps {
                    let t = f64::from(i) / f64::from(steps);
                    let s = 1.0 - t;
                    line.push(
                        from * (s * s * s) + a * (3.0 * s * s * t) + b * (3.0 * s * t * t) + p * (t * t * t),
                    );
                }
                from = p;
            }
        }
    }
    if stroke.closed && line.last() != line.first() {
        line.extend(line.first().copied());
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::Bounds;

    #[test]
    fn letters_stand_in_order_so_that_each_is_found() {
        assert!(GLYPHS.windows(2).all(|w| w[0].character < w[1].character));
        for c in ' '..='~' {
            assert_eq!(find(c).character, c);
        }
    }

    #[test]
    fn every_letter_stays_inside_its_width_and_height() {
        for glyph in GLYPHS {
            let (lines, width) = strokes(&glyph.character.to_string(), 100.0);
            assert_eq!(width, glyph.left + glyph.width + glyph.right);
            assert_eq!(lines.is_empty(), glyph.character == ' ');
            if !lines.is_empty() {
                let b = Bounds::of(lines.into_iter().flatten());
                let c = glyph.character;
                assert!((b.min.x - glyph.left).abs() < 1.0, "{c}: {b:?}");
                assert!((b.max.x - glyph.left - glyph.width).abs() < 1.0, "{c}: {b:?}");
                assert!(b.min.y >= -31.0 && b.max.y <= 116.0, "{c}: {b:?}");
            }
        }
    }

    #[test]
    fn path_data_and_polylines_are_the_same_letters() {
        let text = "Reed-bed (é) 12.5 % & W\u{d7}";
        let (data, width) = text_path(text, 7.0);
        let path = kurbo::BezPath::from_svg(&data).unwrap();
        let (lines, same_width) = strokes(text, 7.0);
        assert_eq!(width, same_width);
        let b = Bounds::of(lines.iter().flatten().copied());
        let k = kurbo::Shape::bounding_box(&path);
        for (ours, theirs) in [(b.min.x, k.x0), (b.max.x, k.x1), (-b.max.y, k.y0), (-b.min.y, k.y1)] {
            assert!((ours - theirs).abs() < 7.0 * FLAT + 0.001, "{ours} {theirs}");
        }
    }

    #[test]
    fn accents_are_drawn_on_their_letter_and_strangers_get_a_frame() {
        assert_eq!(width("é", 5.0), width("e", 5.0));
        assert!(strokes("é", 5.0).0.len() > strokes("e", 5.0).0.len());
        assert_eq!(strokes("e\u{301}", 5.0), strokes("e", 5.0));
        assert_eq!(strokes("\u{4e00}", 5.0).0.len(), 1);
    }

    #[test]
    fn text_that_does_not_fit_is_cut_off() {
        assert_eq!(fit("wave", 5.0, 100.0).as_deref(), Some("wave"));
        let short = fit("a very long name", 5.0, 25.0).unwrap();
        assert!(short.ends_with('\u{2026}') && width(&short, 5.0) <= 25.0, "{short}");
        assert_eq!(fit("wave", 5.0, 1.0), None);
    }
}
