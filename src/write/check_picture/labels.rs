//! Labels beside circles, none on another.

use crate::shape::{Bounds, Point, distance, pt, turn_cos_sin};
use crate::write::letters;

/// Height of the capitals and room round them, mm.
pub(super) const LETTERS: f64 = 2.1;
pub(super) const PAD: f64 = 0.9;

/// Labels keep this far from each other, mm.
const APART: f64 = 0.7;

/// Half the room of a small circle, mm.
const OTHER: f64 = 1.6;

/// A label is looked for in rings round its circle, this far apart, up to this far away, mm.
const STEP: f64 = 1.5;
const FARTHEST: f64 = 90.0;

/// So far a leader is short, mm.
const NEAR: f64 = 14.0;

/// Directions a label is looked for in, in order, degrees: to the right and above first.
const DIRECTIONS: [f64; 16] = [
    35.0, 145.0, -35.0, -145.0, 0.0, 180.0, 60.0, 120.0, -60.0, -120.0, 90.0, -90.0, 15.0, 165.0, -15.0,
    -165.0,
];

/// A circle that wants a label.
pub(super) struct Callout {
    /// Its number.
    pub number: usize,
    /// Its middle, mm on paper.
    pub at: Point,
    /// Its radius, mm.
    pub radius: f64,
    /// What it is, in a word or two.
    pub words: String,
}

/// A label in its place.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Label {
    /// What stands on it.
    pub words: String,
    /// Where it is.
    pub bounds: Bounds,
}

impl Label {
    /// The line from the circle's rim to the label.
    pub fn leader(&self, callout: &Callout) -> Option<(Point, Point)> {
        let to = nearest(self.bounds, callout.at);
        let far = distance(to, callout.at);
        (far > callout.radius).then(|| (callout.at + (to - callout.at) * (callout.radius / far), to))
    }
}

/// A place inside `room` for every callout's label, clear of all circles, the small ones round
/// `others` too, and labels. Where there is no room
/// for the words the number stands alone; `None` where there is none for that either.
pub(super) fn place(callouts: &[Callout], others: &[Point], room: Bounds) -> Vec<Option<Label>> {
    let circles: Vec<Bounds> = callouts
        .iter()
        .map(|c| Bounds::new(c.at, c.at).grown(c.radius + 0.3))
        .chain(others.iter().map(|&p| Bounds::new(p, p).grown(OTHER)))
        .collect();
    let mut placed: Vec<Label> = Vec::new();
    let mut leaders: Vec<(Point, Point)> = Vec::new();
    let mut out = Vec::new();
    for callout in callouts {
        let number = callout.number.to_string();
        let both = format!("{number} {}", callout.words);
        // A short leader is worth more than words, which stand below the picture as well.
        let wishes = [
            (&both, NEAR, true),
            (&number, NEAR, true),
            (&both, FARTHEST, true),
            (&number, FARTHEST, true),
            (&both, FARTHEST, false),
            (&number, FARTHEST, false),
        ];
        let label = wishes.into_iter().find_map(|(words, within, tidy)| {
            let free = |label: &Label| {
                let grown = label.bounds.grown(APART);
                room.holds(label.bounds)
                    && !circles.iter().any(|c| c.meets(label.bounds))
                    && !placed.iter().any(|l| l.bounds.meets(grown))
                    && (!tidy || is_tidy(label, callout, &placed, &leaders))
            };
            candidates(words, callout, within).find(free)
        });
        if let Some(label) = &label {
            leaders.extend(label.leader(callout));
            placed.push(label.clone());
        }
        out.push(label);
    }
    out
}

/// True when neither the label nor its leader gets in the way of those already there.
fn is_tidy(label: &Label, callout: &Callout, placed: &[Label], leaders: &[(Point, Point)]) -> bool {
    let hit = |b: Bounds, (p, q): (Point, Point)| {
        (0..=8).any(|k| b.grown(0.3).contains(crate::shape::lerp(p, q, f64::from(k) / 8.0)))
    };
    let own = label.leader(callout);
    !leaders.iter().any(|&l| hit(label.bounds, l))
        && own.is_none_or(|own| {
            !placed.iter().any(|l| hit(l.bounds, own)) && !leaders.iter().any(|&l| cross(own, l))
        })
}

fn cross((a, b): (Point, Point), (c, d): (Point, Point)) -> bool {
    let side = |p: Point, q: Point, r: Point| (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x) > 0.0;
    side(a, b, c) != side(a, b, d) && side(c, d, a) != side(c, d, b)
}

fn candidates(words: &str, callout: &Callout, within: f64) -> impl Iterator<Item = Label> {
    let size = pt(letters::width(words, LETTERS) + 2.0 * PAD, LETTERS + 2.0 * PAD);
    let (at, radius) = (callout.at, callout.radius);
    let words = words.to_string();
    (0..(within / STEP) as u32).flat_map(move |ring| {
        let words = words.clone();
        DIRECTIONS.into_iter().map(move |direction| {
            let (c, s) = turn_cos_sin(direction);
            let out = radius + 1.0 + f64::from(ring) * STEP;
            // The label's near side or corner lies at this distance in this direction.
            let tip = pt(at.x + c * out, at.y - s * out);
            let min = pt(
                tip.x
                    + if c.abs() < 0.1 {
                        -size.x / 2.0
                    } else if c > 0.0 {
                        0.0
                    } else {
                        -size.x
                    },
                tip.y
                    + if s.abs() < 0.3 {
                        -size.y / 2.0
                    } else if s > 0.0 {
                        -size.y
                    } else {
                        0.0
                    },
            );
            Label { words: words.clone(), bounds: Bounds::new(min, min + size) }
        })
    })
}

fn nearest(b: Bounds, p: Point) -> Point {
    pt(p.x.clamp(b.min.x, b.max.x), p.y.clamp(b.min.y, b.max.y))
}
