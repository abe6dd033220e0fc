//! One arc, and a line made of arcs and straight steps.

use crate::shape::{Point, distance, lerp, pt, to_side};

/// A step of a course: straight when `bulge` is 0, else an arc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Where it ends.
    pub to: Point,
    /// Tangent of a quarter of the angle it turns by, positive when it turns counter-clockwise.
    pub bulge: f64,
}

/// A line of straight steps and arcs.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// Where it begins.
    pub start: Point,
    /// Its steps.
    pub steps: Vec<Step>,
}

/// An arc, or a straight line when `bulge` is 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Where it begins.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// Tangent of a quarter of the angle it turns by, positive when it turns counter-clockwise.
    pub bulge: f64,
}

impl Course {
    /// The course along the sides of a chain.
    pub fn straight(points: &[Point]) -> Course {
        let start = points.first().copied().unwrap_or_else(|| pt(0.0, 0.0));
        Course { start, steps: points.iter().skip(1).map(|&to| Step { to, bulge: 0.0 }).collect() }
    }

    /// Its steps with their beginnings.
    pub fn arcs(&self) -> impl Iterator<Item = Arc> + '_ {
        let begins = std::iter::once(self.start).chain(self.steps.iter().map(|s| s.to));
        begins.zip(&self.steps).map(|(from, s)| Arc { from, to: s.to, bulge: s.bulge })
    }

    /// Points along it, so close that no chord strays by more than `chord_mm`.
    pub fn points(&self, chord_mm: f64) -> Vec<Point> {
        let mut out = vec![self.start];
        self.arcs().for_each(|a| a.halve(chord_mm, 0, &mut out));
        out
    }
}

impl Arc {
    /// Distance of its middle from the middle of its chord, mm; negative when it turns clockwise.
    pub fn sagitta(&self) -> f64 {
        self.bulge * distance(self.from, self.to) / 2.0
    }

    /// Point half way along it.
    pub fn middle(&self) -> Point {
        let d = self.to - self.from;
        lerp(self.from, self.to, 0.5) + pt(d.y, -d.x) * (self.bulge / 2.0)
    }

    /// Its centre; `None` when it is straight.
    pub fn centre(&self) -> Option<Point> {
        let d = self.to - self.from;
        let b = self.bulge;
        let off = (1.0 - b * b) / (4.0 * b);
        (b != 0.0 && off.is_finite()).then(|| lerp(self.from, self.to, 0.5) + pt(-d.y, d.x) * off)
    }

    /// Its radius, mm; infinite when it is straight.
    pub fn radius(&self) -> f64 {
        let b = self.bulge.abs();
        if b == 0.0 { f64::INFINITY } else { distance(self.from, self.to) * (1.0 + b * b) / (4.0 * b) }
    }

    /// Distance of `p` from it, mm. For arcs of at most half a turn.
    pub fn distance_to(&self, p: Point) -> f64 {
        self.rim().distance_to(p)
    }

    /// It, made ready to be asked for many distances.
    pub(super) fn rim(&self) -> Rim {
        // Cosine of half the angle turned by, (1 − t²) / (1 + t²) with t the tangent of half of that.
        let b2 = self.bulge * self.bulge;
        let round = self.centre().map(|centre| Round {
            centre,
            middle: self.middle() - centre,
            radius: self.radius(),
            cos_half: (1.0 - b2) / (1.0 + b2),
        });
        Rim { from: self.from, to: self.to, round }
    }

    /// Its two halves.
    pub fn halves(&self) -> [Arc; 2] {
        let bulge = self.bulge / (1.0 + (1.0 + self.bulge * self.bulge).sqrt());
        let middle = self.middle();
        [Arc { from: self.from, to: middle, bulge }, Arc { from: middle, to: self.to, bulge }]
    }

    fn halve(&self, chord_mm: f64, depth: u32, out: &mut Vec<Point>) {
        // Twelve halvings are 4096 chords: finer than any file is written.
        if depth >= 12 || self.sagitta().abs() <= chord_mm {
            return out.push(self.to);
        }
        self.halves().iter().for_each(|half| half.halve(chord_mm, depth + 1, out));
    }
}

/// An arc with what its distances are found from.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rim {
    from: Point,
    to: Point,
    /// `None` when it is straight.
    round: Option<Round>,
}

#[derive(Clone, Copy, Debug)]
struct Round {
    centre: Point,
    /// From the centre to the middle of the arc.
    middle: Point,
    radius: f64,
    /// Cosine of half the angle turned by.
    cos_half: f64,
}

impl Rim {
    /// Distance of `p` from it, mm. For arcs of at most half a turn.
    pub fn distance_to(&self, p: Point) -> f64 {
        let Some(Round { centre, middle, radius, cos_half }) = self.round else {
            return to_side(p, self.from, self.to);
        };
        let (arm, long) = (p - centre, distance(p, centre));
        if arm.x * middle.x + arm.y * middle.y >= cos_half * long * radius {
            (long - radius).abs()
        } else {
            distance(p, self.from).min(distance(p, self.to))
        }
    }
}
