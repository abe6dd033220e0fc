//! How a cloth looks, thread by thread: for pictures only, nothing is measured on it.
//!
//! Every crossing of a warp and a weft thread shows one of them on top, as the weave has it; the twill runs on
//! from the lattice origin by thread number, so the look of a point depends on nothing but the point. Seen from
//! so far that threads fade into each other, the colours are mixed as light (sRGB decoded by IEC 61966-2-1).

mod felt;
mod tile;
mod weave;
mod yarns;

#[cfg(test)]
mod tests;

pub use tile::{MOST_PIXELS, Tile, tile};
pub(super) use yarns::{decode, encode};

use felt::Felt;
use weave::Crossing;
use yarns::{Light, Yarns, mixed, scaled};

use super::pattern::THREADS_PER_CM;
use std::sync::Arc;

use super::{Cloth, Pattern, Photo, colours};
use crate::job::Weave;
use crate::shape::{Point, pt};

/// Width of the line drawn on a pivot when only repeats are known, mm.
const PIVOT_LINE_MM: f64 = 0.8;

/// The colour of a cloth at a point of the cloth frame, seen from near. For many points make one [`Look`].
pub fn colour_at(cloth: &Cloth, p: Point) -> [u8; 3] {
    Look::new(cloth, 0.0).colour(p)
}

/// A cloth made ready to be looked at, with pixels of one size.
#[derive(Clone, Debug)]
pub struct Look {
    origin: Point,
    climb: f64,
    pixel_mm: f64,
    weave: Weave,
    felt: Felt,
    across: Direction,
    along: Direction,
    line: Light,
    /// How much of the single threads' roundness is still seen, 0 to 1.
    relief: f64,
    /// How much of over and under is still seen, 0 to 1.
    crossing: f64,
    /// A photograph, with the place of its lower left corner along the threads: seen in place of threads.
    photo: Option<(Arc<Photo>, Point)>,
}

/// One direction of the cloth: threads, and pivot lines where threads are not known.
#[derive(Clone, Debug)]
struct Direction {
    thread_mm: f64,
    start: f64,
    yarns: Yarns,
    repeat_mm: Option<f64>,
    lines: Option<Lines>,
}

/// Pivot lines of a measured repeat.
#[derive(Clone, Copy, Debug)]
struct Lines {
    apart_mm: f64,
}

impl Look {
    /// The look of `cloth` when a pixel is `pixel_mm` wide; 0 (or what is no size) shows single points.
    pub fn new(cloth: &Cloth, pixel_mm: f64) -> Look {
        let pixel_mm = if pixel_mm.is_finite() { pixel_mm.max(0.0) } else { 0.0 };
        let ground = yarns::decode(cloth.colour);
        let pattern = cloth.pattern.as_ref();
        let across = Direction::of(pattern, 0, ground);
        let along = Direction::of(pattern, 1, ground);
        let share = pixel_mm / across.thread_mm.min(along.thread_mm);
        let origin = pattern.map_or(pt(0.0, 0.0), |p| p.lattice.origin);
        let climb = pattern.map_or(0.0, climb);
        let photo = cloth.photo.clone().map(|photo| {
            let v = photo.at - origin;
            (photo, pt(v.x, v.y - climb * v.x))
        });
        let (relief, crossing) = match cloth.weave {
            Weave::Felt => (0.0, 0.0),
            Weave::Plain => (fading(share, 0.5, 1.1), fading(share, 0.6, 1.2)),
            Weave::TwillZ | Weave::TwillS => (fading(share, 0.5, 1.1), fading(share, 1.0, 2.0)),
        };
        Look {
            origin,
            climb,
            photo,
            pixel_mm,
            weave: cloth.weave,
            felt: Felt::new(across.repeat_mm, along.repeat_mm),
            line: line_colour(ground),
            across,
            along,
            relief,
            crossing,
        }
    }

    /// The colour at `p`, cloth frame; with a pixel size, the mean colour of the pixel with `p` in its middle.
    pub fn colour(&self, p: Point) -> [u8; 3] {
        yarns::encode(self.light(self.unskewed(p)))
    }

    /// mm across and along from the lattice origin, along the threads themselves.
    fn unskewed(&self, p: Point) -> Point {
        let v = p - self.origin;
        pt(v.x, v.y - self.climb * v.x)
    }

    fn light(&self, at: Point) -> Light {
        if !(at.x.is_finite() && at.y.is_finite()) {
            return self.line;
        }
        if let Some((photo, corner)) = &self.photo {
            return self.photographed(photo, at - *corner);
        }
        let samples = match self.pixel_mm / self.across.thread_mm.min(self.along.thread_mm) {
            _ if self.pixel_mm == 0.0 || self.crossing == 0.0 => 1,
            share if share < 0.35 => 2,
            share if share < 0.8 => 3,
            _ => 5,
        };
        let mut sum = [0.0; 3];
        for row in 0..samples {
            for column in 0..samples {
                let off = |k: i32| (f64::from(k) + 0.5) / f64::from(samples) - 0.5;
                // The samples reach a little beyond the pixel, which softens what would shimmer.
                let v = pt(off(column), off(row)) * (1.3 * self.pixel_mm);
                let light = self.sample(at + v);
                sum = std::array::from_fn(|c| sum[c] + light[c]);
            }
        }
        let light = scaled(sum, 1.0 / f64::from(samples * samples));
        self.with_pivot_lines(light, at)
    }

    /// The mean of the photograph's pixels that a pixel here covers, `at` being measured from its lower left corner.
    fn photographed(&self, photo: &Photo, at: Point) -> Light {
        let repeat = |d: &Direction, k: usize| d.repeat_mm.unwrap_or(photo.size_mm[k]).max(1e-6);
        let size = [repeat(&self.across, 0), repeat(&self.along, 1)];
        let [w, h] = photo.pixels();
        let theirs = (size[0] / f64::from(w.max(1))).min(size[1] / f64::from(h.max(1)));
        let samples = (self.pixel_mm / theirs).ceil().clamp(1.0, 8.0) as i32;
        let mut sum = [0.0; 3];
        for row in 0..samples {
            for column in 0..samples {
                let off = |k: i32| ((f64::from(k) + 0.5) / f64::from(samples) - 0.5) * self.pixel_mm;
                let p = at + pt(off(column), off(row));
                let light = yarns::decode(photo.pixel(p.x / size[0], p.y / size[1]));
                sum = std::array::from_fn(|c| sum[c] + light[c]);
            }
        }
        scaled(sum, 1.0 / f64::from(samples * samples))
    }

    fn sample(&self, at: Point) -> Light {
        let (u, v) = (self.across.thread(at.x), self.along.thread(at.y));
        if self.crossing == 0.0 {
            let half = |d: &Direction| self.pixel_mm / d.thread_mm / 2.0;
            let light = mixed(
                self.across.yarns.mean(u, half(&self.across)),
                self.along.yarns.mean(v, half(&self.along)),
                0.5,
            );
            return match self.weave {
                Weave::Felt => scaled(light, self.felt.shade(at, self.pixel_mm)),
                _ => light,
            };
        }
        let crossing = Crossing::at(self.weave, u, v);
        let (warp, weft) = (self.across.yarns.at(u), self.along.yarns.at(v));
        let (top, shade) = if crossing.warp_on_top { (warp, crossing.shade) } else { (weft, crossing.shade) };
        let shade = 1.0 + (shade - 1.0) * self.relief;
        let light = mixed(mixed(warp, weft, 0.5), top, self.crossing);
        scaled(light, shade)
    }

    fn with_pivot_lines(&self, light: Light, at: Point) -> Light {
        let covered = |d: &Direction, mm: f64| {
            let Some(lines) = d.lines else { return 0.0 };
            let off = (mm / lines.apart_mm - (mm / lines.apart_mm).round()).abs() * lines.apart_mm;
            let pixel = self.pixel_mm.max(1e-3);
            ((PIVOT_LINE_MM / 2.0 - off) / pixel + 0.5).clamp(0.0, 1.0)
        };
        let covered = covered(&self.across, at.x).max(covered(&self.along, at.y));
        mixed(light, self.line, 0.7 * covered)
    }
}

impl Direction {
    fn of(pattern: Option<&Pattern>, index: usize, ground: Light) -> Direction {
        let plain_mm = 10.0 / THREADS_PER_CM;
        let Some(pattern) = pattern else {
            let yarns = Yarns::new(&[], ground);
            return Direction { thread_mm: plain_mm, start: 0.0, yarns, repeat_mm: None, lines: None };
        };
        let (threads, mirrors) = match index {
            0 => (&pattern.warp_threads, pattern.mirrors_across),
            _ => (&pattern.weft_threads, pattern.mirrors_along),
        };
        let thread_mm = pattern.thread_mm[index];
        let sound = thread_mm.is_finite() && thread_mm > 0.0;
        let mut thread_mm = if sound { thread_mm } else { plain_mm };
        let repeat_mm = repeat_mm(pattern, index);
        let mut lines = None;
        if let (Some(repeat), true) = (repeat_mm, threads.is_empty()) {
            // Of an unknown count: the number of threads, a multiple of the twill's, that comes nearest.
            let fours = (repeat / thread_mm / 4.0).round().max(1.0);
            thread_mm = repeat / (4.0 * fours);
            lines = Some(Lines { apart_mm: if mirrors { repeat / 2.0 } else { repeat } });
        }
        let yarns = Yarns::new(threads, ground);
        Direction { thread_mm, start: pattern.threads_start[index], yarns, repeat_mm, lines }
    }

    /// Threads from the near side of thread 0.
    fn thread(&self, mm: f64) -> f64 {
        mm / self.thread_mm - self.start
    }
}

/// How much a weft line climbs per mm across.
fn climb(pattern: &Pattern) -> f64 {
    match (pattern.lattice.a, pattern.lattice.b) {
        (Some(a), Some(_)) if a.x != 0.0 => a.y / a.x,
        (None, Some(b)) if b.y != 0.0 => -b.x / b.y,
        _ => 0.0,
    }
}

/// The repeat along the threads' own directions, mm.
fn repeat_mm(pattern: &Pattern, index: usize) -> Option<f64> {
    let repeat = match (index, pattern.lattice.a, pattern.lattice.b) {
        (0, a, _) => a.map(|a| a.x),
        (_, Some(_), b) => b.map(|b| b.y),
        (_, None, b) => b.map(|b| (b.x * b.x + b.y * b.y) / b.y),
    };
    repeat.filter(|r| r.is_finite() && *r > 0.0)
}

/// 1 up to `from`, 0 beyond `to`, evenly between.
fn fading(share: f64, from: f64, to: f64) -> f64 {
    ((to - share) / (to - from)).clamp(0.0, 1.0)
}

/// A line that shows on the ground: dark on light, light on dark.
fn line_colour(ground: Light) -> Light {
    let bright = 0.2126 * ground[0] + 0.7152 * ground[1] + 0.0722 * ground[2];
    let end = if bright > 0.18 { [0.0; 3] } else { yarns::decode(colours::NATURAL) };
    mixed(ground, end, 0.75)
}
