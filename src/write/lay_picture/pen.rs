//! Pens, inks and letters common to our pictures.

use crate::shape::{Point, Ring, pt, thinned};

use crate::write::letters;
use crate::write::number::number;
use crate::write::xml::{El, el};

/// The paper, and the veil over waste.
pub(crate) const PAPER: &str = "#f8f4eb";
/// The same as numbers.
pub(crate) const PAPER_RGB: [u8; 3] = [0xf8, 0xf4, 0xeb];
/// Lines and letters.
pub(crate) const INK: &str = "#2b2733";
/// Second letters.
pub(crate) const SOFT_INK: &str = "#6d6470";
/// Faint lines.
pub(crate) const FAINT: &str = "#c9bfb2";
/// What to beware of.
pub(crate) const MADDER: &str = "#a23b33";
/// Where two passes both reach.
pub(crate) const OCHRE: &str = "#c98a1b";
/// Leftovers worth keeping.
pub(crate) const MOSS: &str = "#56704a";

/// Colours of passes, after old dyes, in turn.
pub(crate) const PASS_COLOURS: [&str; 6] = ["#2f5f86", "#96453a", "#6a5191", "#3f6d4a", "#8a6414", "#8a3f66"];

/// The colour of pass `number`.
pub(crate) fn pass_colour(number: usize) -> &'static str {
    PASS_COLOURS.get(number.saturating_sub(1) % PASS_COLOURS.len()).copied().unwrap_or(INK)
}

/// Where a text stands to its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// It begins there.
    Left,
    /// Its middle is there.
    Middle,
    /// It ends there.
    Right,
}

/// A text in strokes.
#[derive(Clone, Debug)]
pub(crate) struct Words<'a> {
    /// What it says.
    pub text: &'a str,
    /// Height of its capitals.
    pub height: f64,
    /// Where its baseline begins, has its middle or ends.
    pub at: Point,
    /// Which of these.
    pub side: Side,
    /// Its colour.
    pub colour: &'a str,
    /// Turn, degrees clockwise as seen.
    pub turn: f64,
}

impl<'a> Words<'a> {
    /// Ink on the left of `at`.
    pub fn new(text: &'a str, height: f64, at: Point) -> Words<'a> {
        Words { text, height, at, side: Side::Left, colour: INK, turn: 0.0 }
    }

    /// Standing otherwise to its point.
    pub fn side(self, side: Side) -> Words<'a> {
        Words { side, ..self }
    }

    /// In another colour.
    pub fn colour(self, colour: &'a str) -> Words<'a> {
        Words { colour, ..self }
    }

    /// Turned.
    pub fn turn(self, turn: f64) -> Words<'a> {
        Words { turn, ..self }
    }

    /// As an element, strokes of a weight that suits the height.
    pub fn drawn(&self) -> El {
        self.stroked(self.height * 0.115, self.colour)
    }

    /// As an element with a rim of `rim` in the paper's colour behind it.
    pub fn drawn_with_rim(&self, rim: f64) -> El {
        el("g").add(self.stroked(self.height * 0.115 + 2.0 * rim, PAPER)).add(self.drawn())
    }

    fn stroked(&self, width: f64, colour: &str) -> El {
        let (data, length) = letters::text_path(self.text, self.height);
        let back = match self.side {
            Side::Left => 0.0,
            Side::Middle => length / 2.0,
            Side::Right => length,
        };
        let mut transform = format!("translate({} {})", number(self.at.x), number(self.at.y));
        if self.turn != 0.0 {
            transform.push_str(&format!(" rotate({})", number(self.turn)));
        }
        if back != 0.0 {
            transform.push_str(&format!(" translate({} 0)", number(-back)));
        }
        el("path")
            .set("d", data)
            .set("transform", transform)
            .set("fill", "none")
            .set("stroke", colour)
            .num("stroke-width", width)
            .set("stroke-linecap", "round")
            .set("stroke-linejoin", "round")
    }
}

/// Path data of closed lines, already in the picture's frame.
pub(crate) fn rings_data<'a>(rings: impl IntoIterator<Item = &'a Ring>) -> String {
    let mut data = String::new();
    for ring in rings {
        data.push_str(&line_data(&ring.points));
        if !ring.points.is_empty() {
            data.push('Z');
        }
    }
    data
}

/// A line of a picture may leave out points that lie no farther off it than this: it takes twenty-fold enlargement to
/// see it.
const FLAT: f64 = 0.05;

/// Path data of an open line, without points that say nothing on a picture.
pub(crate) fn line_data(points: &[Point]) -> String {
    let mut data = String::new();
    for (i, p) in thinned(points.iter().copied(), FLAT).into_iter().enumerate() {
        data.push(if i == 0 { 'M' } else { 'L' });
        data.push_str(&hundredth(p.x));
        data.push(' ');
        data.push_str(&hundredth(p.y));
    }
    data
}

/// A line between two points.
pub(crate) fn line(a: Point, b: Point, colour: &str, width: f64) -> El {
    el("path")
        .set("d", line_data(&[a, b]))
        .set("fill", "none")
        .set("stroke", colour)
        .num("stroke-width", width)
}

/// A rectangle with its upper left corner at `at`.
pub(crate) fn rectangle(at: Point, width: f64, height: f64) -> El {
    el("rect").num("x", at.x).num("y", at.y).num("width", width.max(0.0)).num("height", height.max(0.0))
}

/// A picture's number: a hundredth of a unit is finer than any screen.
fn hundredth(value: f64) -> String {
    number((value * 100.0).round() / 100.0)
}

/// The unit vector at an angle, degrees counter-clockwise as seen, in a frame whose y runs down.
pub(crate) fn direction(angle_deg: f64) -> Point {
    let (c, s) = crate::shape::turn_cos_sin(angle_deg);
    pt(c, -s)
}
