//! The grammar of a path's `d` attribute (SVG 1.1, section 8.3): checked to the last character, arcs turned
//! into close cubics.
//!
//! The SVG reader below keeps the part of a path before a mistake and draws arcs to a tenth of a unit.
//! A cutter must do neither, so every `d` passes here first.

use std::fmt::Write;

use super::limits::MAX_COPY_BYTES;
use crate::shape::{Point, pt, tol};

/// What one `d` attribute holds.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PathData {
    /// Number of drawn segments (moves not counted).
    pub segments: usize,
    /// The same path in absolute commands without arcs, when it had any and was to be written.
    pub without_arcs: Option<String>,
}

/// Checks a whole `d` attribute.
///
/// # Errors
/// Says at which character and why the path cannot be read, or that a coordinate is out of all bounds
/// (user units are bounded like millimetres, by [`tol::FARTHEST_MM`]).
pub(super) fn check(d: &str) -> Result<PathData, String> {
    read(d, false)
}

/// Writes a path anew, without arcs.
///
/// # Errors
/// As [`check`]; also when it would grow past [`MAX_COPY_BYTES`].
pub(super) fn write_without_arcs(d: &str) -> Result<PathData, String> {
    read(d, d.bytes().any(|b| b == b'a' || b == b'A'))
}

/// Largest angle one cubic stands for, radians (30°). A cubic over the angle `a` misses a circle of radius
/// `r` by about 2/27·sin⁶(a/4)/cos²(a/4)·r: less than a millionth of the radius here.
const ARC_STEP: f64 = std::f64::consts::PI / 6.0;

fn read(d: &str, write: bool) -> Result<PathData, String> {
    let mut s = Scanner { bytes: d.as_bytes(), at: 0 };
    let mut out = write.then(String::new);
    let mut pen = Pen::default();
    let mut segments = 0;
    s.skip_space();
    while let Some(command) = s.peek() {
        if !command.is_ascii_alphabetic() || !b"MmLlHhVvCcSsQqTtAaZz".contains(&command) {
            return Err(s.mistake("a path command was expected"));
        }
        if segments == 0 && !pen.moved && !matches!(command, b'M' | b'm') {
            return Err(s.mistake("a path must start with M"));
        }
        s.at += 1;
        let mut command = command;
        loop {
            segments += pen.step(command, &mut s, out.as_mut())?;
            match command {
                b'Z' | b'z' => break,
                // Further pairs after a move are lines.
                b'M' => command = b'L',
                b'm' => command = b'l',
                _ => {}
            }
            s.skip_space();
            let comma = s.eat(b',');
            s.skip_space();
            if !s.number_ahead() {
                if comma {
                    return Err(s.mistake("a number was expected after the comma"));
                }
                break;
            }
        }
        s.skip_space();
    }
    Ok(PathData { segments, without_arcs: out })
}

#[derive(Default)]
struct Pen {
    moved: bool,
    at: Point,
    start: Point,
    /// Last control point and whether it was a cubic's (`true`) or a quadratic's.
    control: Option<(Point, bool)>,
}

impl Pen {
    /// Reads one command's arguments, moves the pen and writes the step; 1 for a drawn segment, 0 for a move.
    fn step(&mut self, command: u8, s: &mut Scanner, out: Option<&mut String>) -> Result<usize, String> {
        let from = if command.is_ascii_lowercase() { self.at } else { Point::default() };
        let mut control = None;
        let mut text = String::new();
        let write = out.is_some();
        let mut put = |letter: char, points: &[Point]| {
            if write {
                text.push(letter);
                for p in points {
                    // The library below counts in single precision. Writing to a string cannot fail.
                    let _ = write!(text, "{} {} ", p.x as f32, p.y as f32);
                }
            }
        };
        match command.to_ascii_uppercase() {
            b'M' => {
                self.at = from + s.pair()?;
                self.start = self.at;
                self.moved = true;
                put('M', &[self.at]);
            }
            b'L' => {
                self.at = from + s.pair()?;
                put('L', &[self.at]);
            }
            b'H' => {
                self.at.x = from.x + s.number()?;
                put('L', &[self.at]);
            }
            b'V' => {
                self.at.y = from.y + s.number()?;
                put('L', &[self.at]);
            }
            b'C' => {
                let (a, b, c) = (from + s.pair()?, from + s.next_pair()?, from + s.next_pair()?);
                control = Some((b, true));
                self.at = c;
                put('C', &[a, b, c]);
            }
            b'S' => {
                let (b, c) = (from + s.pair()?, from + s.next_pair()?);
                let a = self.mirrored(true);
                control = Some((b, true));
                self.at = c;
                put('C', &[a, b, c]);
            }
            b'Q' => {
                let (b, c) = (from + s.pair()?, from + s.next_pair()?);
                control = Some((b, false));
                self.at = c;
                put('Q', &[b, c]);
            }
            b'T' => {
                let c = from + s.pair()?;
                let b = self.mirrored(false);
                control = Some((b, false));
                self.at = c;
                put('Q', &[b, c]);
            }
            b'A' => {
                let (rx, ry) = (s.number()?, s.next_number()?);
                let turn_deg = s.next_number()?;
                let (large, sweep) = (s.next_flag()?, s.next_flag()?);
                let end = from + s.next_pair()?;
                let arc = Arc { from: self.at, to: end, rx, ry, turn_deg, large, sweep };
                if write {
                    for [a, b, c] in arc.cubics() {
                        put('C', &[a, b, c]);
                    }
                }
                if arc.is_line() {
                    put('L', &[end]);
                }
                self.at = end;
            }
            _ => {
                self.at = self.start;
                put('Z', &[]);
            }
        }
        self.control = control;
        for p in [self.at, control.map_or(self.at, |c| c.0)] {
            if !(p.x.abs() <= tol::FARTHEST_MM && p.y.abs() <= tol::FARTHEST_MM) {
                return Err(s.mistake("a coordinate lies out of all bounds"));
            }
        }
        if let Some(out) = out {
            out.push_str(&text);
            if out.len() > MAX_COPY_BYTES {
                return Err("it has too many arcs".to_owned());
            }
        }
        Ok(usize::from(!command.eq_ignore_ascii_case(&b'M')))
    }

    fn mirrored(&self, cubic: bool) -> Point {
        match self.control {
            Some((c, was_cubic)) if was_cubic == cubic => self.at * 2.0 - c,
            _ => self.at,
        }
    }
}

/// An elliptical arc between two points, as SVG states it.
pub(super) struct Arc {
    pub from: Point,
    pub to: Point,
    pub rx: f64,
    pub ry: f64,
    pub turn_deg: f64,
    pub large: bool,
    pub sweep: bool,
}

impl Arc {
    /// True when the arc is the straight line between its ends (a radius is zero); also when it goes nowhere.
    fn is_line(&self) -> bool {
        self.rx == 0.0 || self.ry == 0.0 || self.from == self.to
    }

    /// The arc as cubics of at most 30° each (two control points and the end); none for a line.
    ///
    /// Source: SVG 1.1, appendix F.6 (centre parameterisation; radii too small are scaled up).
    pub(super) fn cubics(&self) -> Vec<[Point; 3]> {
        if self.is_line() {
            return Vec::new();
        }
        let (mut rx, mut ry) = (self.rx.abs(), self.ry.abs());
        let (c, s) = crate::shape::turn_cos_sin(self.turn_deg);
        let half = (self.from - self.to) / 2.0;
        let p = pt(c * half.x + s * half.y, -s * half.x + c * half.y);
        let stretch = (p.x / rx).powi(2) + (p.y / ry).powi(2);
        if stretch > 1.0 {
            rx *= stretch.sqrt();
            ry *= stretch.sqrt();
        }
        let under = (p.x / rx).powi(2) + (p.y / ry).powi(2);
        let k = ((1.0 - under).max(0.0) / under).sqrt() * if self.large == self.sweep { -1.0 } else { 1.0 };
        let q = pt(k * rx * p.y / ry, -k * ry * p.x / rx);
        let mid = (self.from + self.to) / 2.0;
        let centre = pt(c * q.x - s * q.y, s * q.x + c * q.y) + mid;
        let a0 = libm::atan2((p.y - q.y) / ry, (p.x - q.x) / rx);
        let a1 = libm::atan2((-p.y - q.y) / ry, (-p.x - q.x) / rx);
        let turn = std::f64::consts::TAU;
        let mut sweep = (a1 - a0).rem_euclid(turn);
        if !self.sweep {
            sweep -= turn;
        }
        if !sweep.is_finite() {
            return Vec::new();
        }
        let steps = (sweep.abs() / ARC_STEP - 1e-9).ceil().max(1.0);
        let step = sweep / steps;
        let reach = 4.0 / 3.0 * libm::tan(step / 4.0);
        let place = |x: f64, y: f64| pt(c * rx * x - s * ry * y, s * rx * x + c * ry * y) + centre;
        let steps = steps as usize;
        (0..steps)
            .map(|i| {
                let (b0, b1) = (a0 + step * i as f64, a0 + step * (i + 1) as f64);
                let (c0, s0, c1, s1) = (libm::cos(b0), libm::sin(b0), libm::cos(b1), libm::sin(b1));
                let end = if i + 1 == steps { self.to } else { place(c1, s1) };
                [place(c0 - reach * s0, s0 + reach * c0), place(c1 + reach * s1, s1 - reach * c1), end]
            })
            .collect()
    }
}

struct Scanner<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl Scanner<'_> {
    fn mistake(&self, what: &str) -> String {
        format!("{what} at character {}", self.at + 1)
    }

    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn skip_space(&mut self) {
        while matches!(self.peek(), Some(b' ' | b'\t' | b'\n' | b'\r' | 0x0c)) {
            self.at += 1;
        }
    }

    fn eat(&mut self, byte: u8) -> bool {
        let found = self.peek() == Some(byte);
        self.at += usize::from(found);
        found
    }

    fn number_ahead(&self) -> bool {
        matches!(self.peek(), Some(b'0'..=b'9' | b'+' | b'-' | b'.'))
    }

    fn between(&mut self) {
        self.skip_space();
        self.eat(b',');
        self.skip_space();
    }

    fn digits(&mut self) -> usize {
        let from = self.at;
        while matches!(self.peek(), Some(b'0'..=b'9')) {
            self.at += 1;
        }
        self.at - from
    }

    fn number(&mut self) -> Result<f64, String> {
        self.skip_space();
        let from = self.at;
        if matches!(self.peek(), Some(b'+' | b'-')) {
            self.at += 1;
        }
        let mut digits = self.digits();
        if self.eat(b'.') {
            digits += self.digits();
        }
        if digits == 0 {
            self.at = from;
            return Err(self.mistake("a number was expected"));
        }
        if matches!(self.peek(), Some(b'e' | b'E')) {
            let back = self.at;
            self.at += 1;
            if matches!(self.peek(), Some(b'+' | b'-')) {
                self.at += 1;
            }
            if self.digits() == 0 {
                self.at = back;
            }
        }
        let text = std::str::from_utf8(&self.bytes[from..self.at]).unwrap_or_default();
        match text.parse::<f64>() {
            Ok(v) if v.is_finite() && v.abs() <= f64::from(f32::MAX) => Ok(v),
            _ => Err(self.mistake("a number is out of all bounds")),
        }
    }

    fn next_number(&mut self) -> Result<f64, String> {
        self.between();
        self.number()
    }

    fn pair(&mut self) -> Result<Point, String> {
        Ok(pt(self.number()?, self.next_number()?))
    }

    fn next_pair(&mut self) -> Result<Point, String> {
        self.between();
        self.pair()
    }

    fn next_flag(&mut self) -> Result<bool, String> {
        self.between();
        if self.eat(b'0') {
            Ok(false)
        } else if self.eat(b'1') {
            Ok(true)
        } else {
            Err(self.mistake("an arc flag must be 0 or 1"))
        }
    }
}

/// Checks a `points` attribute; gives the number of points.
///
/// # Errors
/// Says at which character and why it cannot be read; an odd number of coordinates is an error too.
pub(super) fn check_points(points: &str) -> Result<usize, String> {
    let mut s = Scanner { bytes: points.as_bytes(), at: 0 };
    let mut count = 0;
    s.skip_space();
    while s.peek().is_some() {
        let v = s.number()?;
        if v.abs() > tol::FARTHEST_MM {
            return Err(s.mistake("a coordinate lies out of all bounds"));
        }
        count += 1;
        s.between();
    }
    if count % 2 == 1 {
        return Err("the last point has only one coordinate".to_owned());
    }
    Ok(count / 2)
}

#[cfg(test)]
#[path = "pathdata_tests.rs"]
mod tests;
