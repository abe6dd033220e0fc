//! One page to draw on.

use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Name, Str};

use super::text::encoded;
use crate::shape::{Bounds, Point, Region, pt, turn_cos_sin};

/// A colour.
pub(crate) type Rgb = [u8; 3];

/// Points a millimetre: 72 to the inch of 25.4 mm.
const POINTS: f32 = 72.0 / 25.4;

/// Coordinates beyond this are held at it, mm: more than any reader takes.
const FARTHEST: f64 = 10_000.0;

/// Which of the two letters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Font {
    /// Helvetica.
    Regular,
    /// Helvetica-Bold.
    Bold,
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Pen {
    /// Colour.
    pub rgb: Rgb,
    /// Width, mm.
    pub width_mm: f64,
    /// Dash and space, mm, both alike; 0 for a whole line.
    pub dash_mm: f64,
}

impl Pen {
    /// A whole line.
    pub const fn new(rgb: Rgb, width_mm: f64) -> Pen {
        Pen { rgb, width_mm, dash_mm: 0.0 }
    }

    /// The same, dashed.
    pub const fn dashed(self, dash_mm: f64) -> Pen {
        Pen { dash_mm, ..self }
    }
}

/// A page, mm, y up from its lower-left corner.
pub(crate) struct Page {
    pub(super) content: Content,
    /// Width and height, mm.
    pub size: [f64; 2],
}

impl Page {
    /// An empty page.
    pub fn new(size: [f64; 2]) -> Page {
        let mut content = Content::new();
        content.transform([POINTS, 0.0, 0.0, POINTS, 0.0, 0.0]);
        content.set_line_cap(LineCapStyle::RoundCap).set_line_join(LineJoinStyle::RoundJoin);
        Page { content, size }
    }

    fn pen(&mut self, pen: Pen) {
        let [r, g, b] = pen.rgb.map(|v| f32::from(v) / 255.0);
        self.content.set_stroke_rgb(r, g, b).set_line_width(rounded(pen.width_mm));
        let dash = rounded(pen.dash_mm);
        let dashes: &[f32] = if dash > 0.0 { &[dash, dash] } else { &[] };
        self.content.set_dash_pattern(dashes.iter().copied(), 0.0);
    }

    fn colour(&mut self, rgb: Rgb) {
        let [r, g, b] = rgb.map(|v| f32::from(v) / 255.0);
        self.content.set_fill_rgb(r, g, b);
    }

    fn path(&mut self, points: &[Point], closed: bool) {
        for (i, p) in points.iter().enumerate() {
            let (x, y) = (rounded(p.x), rounded(p.y));
            if i == 0 {
                self.content.move_to(x, y)
            } else {
                self.content.line_to(x, y)
            };
        }
        if closed && !points.is_empty() {
            self.content.close_path();
        }
    }

    /// A line through points.
    pub fn line(&mut self, points: &[Point], closed: bool, pen: Pen) {
        if points.len() > 1 {
            self.pen(pen);
            self.path(points, closed);
            self.content.stroke();
        }
    }

    /// The edges of a region.
    pub fn edge(&mut self, region: &Region, pen: Pen) {
        self.pen(pen);
        for ring in region.rings() {
            self.path(&ring.points, true);
        }
        self.content.stroke();
    }

    /// The inside of a region.
    pub fn fill(&mut self, region: &Region, rgb: Rgb) {
        self.colour(rgb);
        for ring in region.rings() {
            self.path(&ring.points, true);
        }
        self.content.fill_even_odd();
    }

    /// The edge of a box.
    pub fn frame(&mut self, b: Bounds, pen: Pen) {
        self.pen(pen);
        let [x, y, w, h] = [b.min.x, b.min.y, b.width(), b.height()].map(rounded);
        self.content.rect(x, y, w, h).stroke();
    }

    /// The inside of a box.
    pub fn block(&mut self, b: Bounds, rgb: Rgb) {
        self.colour(rgb);
        let [x, y, w, h] = [b.min.x, b.min.y, b.width(), b.height()].map(rounded);
        self.content.rect(x, y, w, h).fill_nonzero();
    }

    /// A circle, as four Bézier curves.
    pub fn circle(&mut self, at: Point, radius: f64, pen: Pen) {
        // Handles of a quarter circle: 4/3 · tan(22.5°).
        const HANDLE: f64 = 0.552_284_75;
        self.pen(pen);
        for quarter in 0..4 {
            let (c, s) = turn_cos_sin(f64::from(quarter) * 90.0);
            let on = |x: f64, y: f64| {
                let p = at + pt(c * x - s * y, s * x + c * y) * radius;
                (rounded(p.x), rounded(p.y))
            };
            let (from, a, b, to) = (on(1.0, 0.0), on(1.0, HANDLE), on(HANDLE, 1.0), on(0.0, 1.0));
            if quarter == 0 {
                self.content.move_to(from.0, from.1);
            }
            self.content.cubic_to(a.0, a.1, b.0, b.1, to.0, to.1);
        }
        self.content.close_path().stroke();
    }

    /// From here to [`Page::unclip`] only what lies in the region is drawn.
    pub fn clip(&mut self, region: &Region) {
        self.content.save_state();
        for ring in region.rings() {
            self.path(&ring.points, true);
        }
        self.content.clip_even_odd().end_path();
    }

    /// Ends a clip.
    pub fn unclip(&mut self) {
        self.content.restore_state();
    }

    /// Slanting lines over a region, `step` apart.
    pub fn hatch(&mut self, region: &Region, step: f64, pen: Pen) {
        let b = region.bounds();
        let count = ((b.width() + b.height()) / step).ceil();
        if !(count.is_finite() && count < 10_000.0) {
            return;
        }
        self.clip(region);
        self.pen(pen);
        for i in 1..count as u32 {
            let x = b.min.x - b.height() + f64::from(i) * step;
            self.path(&[pt(x, b.min.y), pt(x + b.height(), b.max.y)], false);
        }
        self.content.stroke();
        self.unclip();
    }

    /// Words, the left end of their baseline at `at`; `size_mm` is the font's size.
    pub fn words(&mut self, at: Point, size_mm: f64, font: Font, rgb: Rgb, text: &str) {
        let said = encoded(text);
        if said.is_empty() {
            return;
        }
        self.colour(rgb);
        let name: &[u8] = if font == Font::Bold { b"B" } else { b"R" };
        self.content.begin_text().set_font(Name(name), rounded(size_mm));
        self.content.next_line(rounded(at.x), rounded(at.y)).show(Str(&said)).end_text();
    }
}

/// Hundredths of a millimetre (finer than any printer), within what a reader takes.
fn rounded(v: f64) -> f32 {
    if v.is_finite() { ((v.clamp(-FARTHEST, FARTHEST) * 100.0).round() / 100.0) as f32 } else { 0.0 }
}
