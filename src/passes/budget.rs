//! The error budget: how large the step between the two cuts of a joint may come out, and whether a border hides it.
//!
//! Every pass that is placed by marks errs by a small shift and turn. Marks are burnt where the pass that burns them
//! really lay, so its error is handed on to passes placed by them; a joint shows the difference of its two passes.
//! Errors are carried to first order, as independent shares of unit variance: three a pass (two shifts of the marks'
//! centroid and a turn about it). Where both marks and the earlier cut come from one pass, what is left is the error of
//! the later fit alone: [`expected_error_mm`](super::expected_error_mm) (Fitzpatrick, West & Maurer 1998, IEEE Trans.
//! Med. Imaging 17, 694-702, in the plane).

use super::model::{KeyLine, Pass, Verdict};
use crate::shape::{Point, distance, pt, turn_cos_sin};

/// The share of steps that the greater figure of a budget holds.
const HELD: f64 = 0.95;

/// 95 of 100 steps are within this many times their root mean square at most: spread along a line, any table of the
/// normal distribution.
const MOST_PER_RMS: f64 = 1.96;

/// Halvings of the interval the 95 % step is sought in; thirty narrow it to a billionth.
const HALVINGS: usize = 40;

/// Directions a quarter turn is summed over; the sum of a smooth periodic function converges far sooner.
const DIRECTIONS: usize = 64;

/// Directions in which a key's farthest points are sought.
const KEY_DIRECTIONS: usize = 16;

/// Share of what a border hides that a step may take and still leave the stitches a hold on both edges. Common
/// practice, no source.
const COVERED_SHARE: f64 = 0.5;

/// A small motion of a pass: shift at the cloth's origin, mm, and turn, radians.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Motion {
    shift: Point,
    turn: f64,
}

impl Motion {
    fn at(&self, p: Point) -> Point {
        self.shift + across(p) * self.turn
    }
}

fn across(p: Point) -> Point {
    pt(-p.y, p.x)
}

/// A least-squares placing by points, to first order: shift by the mean, turn by the mean moment.
struct Fit<'a> {
    points: &'a [Point],
    centre: Point,
    /// Sum of the squared distances from the centre, mm².
    spread: f64,
}

impl<'a> Fit<'a> {
    /// `None` for fewer than two different points.
    fn new(points: &'a [Point]) -> Option<Fit<'a>> {
        let n = points.len() as f64;
        let centre = points.iter().fold(pt(0.0, 0.0), |s, &p| s + p) / n;
        let spread: f64 = points.iter().map(|&p| distance(p, centre).powi(2)).sum();
        (points.len() > 1 && spread > 0.0 && spread.is_finite()).then_some(Fit { points, centre, spread })
    }

    fn about_centre(&self, shift: Point, turn: f64) -> Motion {
        Motion { shift: shift - across(self.centre) * turn, turn }
    }

    /// The motion that fits displaced points best.
    fn motion(&self, moved: impl Fn(usize, Point) -> Point) -> Motion {
        let (mut shift, mut turn) = (pt(0.0, 0.0), 0.0);
        for (k, &p) in self.points.iter().enumerate() {
            let (d, arm) = (moved(k, p), across(p - self.centre));
            shift = shift + d;
            turn += arm.x * d.x + arm.y * d.y;
        }
        self.about_centre(shift / self.points.len() as f64, turn / self.spread)
    }

    /// Its own three errors, when each point errs by `error_mm` (root mean square, both directions together).
    fn errors(&self, error_mm: f64) -> [Motion; 3] {
        let one_way = error_mm / 2f64.sqrt();
        let shift = one_way / (self.points.len() as f64).sqrt();
        [
            self.about_centre(pt(shift, 0.0), 0.0),
            self.about_centre(pt(0.0, shift), 0.0),
            self.about_centre(pt(0.0, 0.0), one_way / self.spread.sqrt()),
        ]
    }
}

/// How large a step may come out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Root mean square, mm.
    pub expected_mm: f64,
    /// 95 of 100 are no larger, mm.
    pub most_mm: f64,
}

impl Step {
    const UNKNOWN: Step = Step { expected_mm: f64::INFINITY, most_mm: f64::INFINITY };

    /// The step whose independent shares these are.
    fn of(shares: impl Iterator<Item = Point>) -> Step {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for d in shares {
            (xx, xy, yy) = (xx + d.x * d.x, xy + d.x * d.y, yy + d.y * d.y);
        }
        let (middle, half) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
        let (large, small) = (middle + half, (middle - half).max(0.0));
        Step { expected_mm: (large + small).sqrt(), most_mm: held_by(large, small) }
    }
}

/// The radius that holds 95 % of a plane normal distribution with variances `large` ≥ `small` along its axes.
///
/// With z = (ρ cos φ, ρ sin φ) standard normal, |x| = ρ·w(φ), w² = large·cos² φ + small·sin² φ, so that
/// P(|x| > r) is the mean of exp(−r²/(2w²)) over φ: exact, no approximation by one variance.
fn held_by(large: f64, small: f64) -> f64 {
    if !(large > 0.0 && large.is_finite()) {
        return if large == 0.0 { 0.0 } else { f64::INFINITY };
    }
    let squares: Vec<f64> = (0..DIRECTIONS)
        .map(|k| {
            let (c, s) = turn_cos_sin(90.0 * (k as f64 + 0.5) / DIRECTIONS as f64);
            c * c + small / large * s * s
        })
        .collect();
    let beyond =
        |r: f64| squares.iter().map(|w2| libm::exp(-r * r / (2.0 * w2))).sum::<f64>() / DIRECTIONS as f64;
    // 1.96 along a line, 2.448 for a round spread.
    let (mut low, mut high) = (1.9, 2.5);
    for _ in 0..HALVINGS {
        let r = f64::midpoint(low, high);
        if beyond(r) > 1.0 - HELD { low = r } else { high = r }
    }
    high * large.sqrt()
}

/// The errors of all passes of a cloth.
#[derive(Default)]
pub(super) struct Budget {
    /// By pass: its motion for each share, those of its own fit last; `None` when its marks do not place it.
    motions: Vec<Option<Vec<Motion>>>,
}

/// How the next pass of a budget would err if it were placed by certain marks.
pub(super) struct Placing(Vec<Motion>);

impl Budget {
    /// From the passes' marks, in cutting order.
    pub fn new(passes: &[Pass], mark_error_mm: f64) -> Budget {
        let mut budget = Budget::default();
        for (k, pass) in passes.iter().enumerate() {
            let found: Vec<(Point, usize)> = pass
                .marks
                .iter()
                .filter(|m| !m.burnt_here)
                .filter_map(|m| {
                    let burnt = |p: &Pass| p.marks.iter().any(|o| o.burnt_here && o.name == m.name);
                    passes[..k].iter().position(burnt).map(|by| (m.at, by))
                })
                .collect();
            budget.push(&found, mark_error_mm);
        }
        budget
    }

    /// Adds the next pass, placed by `found`: where marks are meant to lie, and the pass, from 0, that burnt each. The
    /// first pass lies where it lies.
    pub fn push(&mut self, found: &[(Point, usize)], mark_error_mm: f64) {
        let first = self.motions.is_empty();
        let next = if first { Some(Vec::new()) } else { self.placed(found, mark_error_mm).map(|p| p.0) };
        self.motions.push(next);
    }

    /// The next pass placed by `found`; `None` when that does not place it.
    pub fn placed(&self, found: &[(Point, usize)], mark_error_mm: f64) -> Option<Placing> {
        let points: Vec<Point> = found.iter().map(|f| f.0).collect();
        let of = |&(_, by): &(Point, usize)| self.motions.get(by)?.as_deref();
        let burnt: Vec<&[Motion]> = found.iter().map(of).collect::<Option<_>>()?;
        let fit = Fit::new(&points)?;
        let handed_on =
            |share: usize| fit.motion(|m, p| burnt[m].get(share).map_or(pt(0.0, 0.0), |motion| motion.at(p)));
        let mut all: Vec<Motion> = (0..3 * self.motions.len()).map(handed_on).collect();
        all.extend(fit.errors(mark_error_mm));
        Some(Placing(all))
    }

    /// The step at `at` between cuts of passes `a` and `b`, from 0, placed by measured marks.
    pub fn step(&self, a: usize, b: usize, at: Point) -> Step {
        match (self.motions.get(a), self.motions.get(b)) {
            (Some(Some(a)), Some(Some(b))) => Step::of(apart(a, b, at)),
            _ => Step::UNKNOWN,
        }
    }

    /// The step to expect there, mm root mean square: as [`step`](Budget::step) has it, in less time.
    pub fn expected_mm(&self, a: usize, b: usize, at: Point) -> f64 {
        match (self.motions.get(a), self.motions.get(b)) {
            (Some(Some(a)), Some(Some(b))) => root_mean_square(apart(a, b, at)),
            _ => f64::INFINITY,
        }
    }

    /// The step to expect at `at` between pass `a`, from 0, and one placed so, mm root mean square.
    pub fn expected_with_mm(&self, a: usize, placing: &Placing, at: Point) -> f64 {
        let of = self.motions.get(a).and_then(Option::as_deref);
        of.map_or(f64::INFINITY, |of| root_mean_square(apart(of, &placing.0, at)))
    }
}

/// The shares of the difference of two passes at `at`.
fn apart(a: &[Motion], b: &[Motion], at: Point) -> impl Iterator<Item = Point> {
    let share = move |all: &[Motion], k: usize| all.get(k).map_or(pt(0.0, 0.0), |m| m.at(at));
    (0..a.len().max(b.len())).map(move |k| share(a, k) - share(b, k))
}

fn root_mean_square(shares: impl Iterator<Item = Point>) -> f64 {
    shares.map(|d| d.x * d.x + d.y * d.y).sum::<f64>().sqrt()
}

/// The step at `at` when the key alone places the cloth: each of the two points of the key that lie farthest apart
/// may be off by the clearance, evenly likely either way and in both directions, which is a standard deviation of
/// clearance/√3 each way (JCGM 100:2008, 4.3.7). `None` when there is no key to hold the cloth.
pub(super) fn key_step(key: &[KeyLine], at: Point, clearance_mm: f64) -> Option<Step> {
    let points = || key.iter().flat_map(|l| l.path.iter().copied());
    let far = (0..KEY_DIRECTIONS).filter_map(|k| {
        let (c, s) = turn_cos_sin(180.0 * k as f64 / KEY_DIRECTIONS as f64);
        let along = |p: &Point| p.x * c + p.y * s;
        let ends = points().min_by(|p, q| along(p).total_cmp(&along(q)));
        let (low, high) = (ends?, points().max_by(|p, q| along(p).total_cmp(&along(q)))?);
        Some((distance(low, high), [low, high]))
    });
    let (_, ends) = far.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let fit = Fit::new(&ends)?;
    let errors = fit.errors(clearance_mm * (2.0 / 3.0_f64).sqrt());
    Some(Step::of(errors.iter().map(|e| e.at(at))))
}

/// How much of what border stitching `border_mm` wide hides a step takes that 95 of 100 do not exceed; `expected_mm` is
/// its root mean square. For choosing among spots: no direction in which steps spread makes it more. Without a border it
/// is in millimetres.
pub(super) fn share_of_hidden(expected_mm: f64, border_mm: f64) -> f64 {
    let hidden = border_mm.max(0.0) / 2.0;
    MOST_PER_RMS * expected_mm / if hidden > 0.0 { hidden } else { 1.0 }
}

/// What border stitching `border_mm` wide does with a step. It hides half its width either side of the edge. A step is
/// covered when 95 of 100 take no more than half of that, so that the stitches still hold both edges; barely when they
/// are hidden at all; else it will show. Common practice, no source.
pub fn verdict(step: Step, border_mm: f64) -> Verdict {
    verdict_at(step.most_mm, border_mm)
}

/// The same from the step that 95 of 100 do not exceed, mm.
pub fn verdict_at(most_mm: f64, border_mm: f64) -> Verdict {
    let hidden = border_mm.max(0.0) / 2.0;
    if most_mm <= COVERED_SHARE * hidden {
        Verdict::Covered
    } else if most_mm <= hidden {
        Verdict::Barely
    } else {
        Verdict::WillShow
    }
}

#[cfg(test)]
#[path = "budget_tests.rs"]
mod tests;
