//! Runs that are narrow and lie on the bias: where woven cloth gives most.
//!
//! Along the threads a woven cloth hardly stretches; at 45° to them, the true bias, it gives many times as much
//! (home-economics texts; seven to twelve times in one student report by the FAST method, on one sample). A narrow run
//! there is drawn out of shape as it is stuck down and stitched.

use super::axis::{Axis, Run};
use crate::shape::{Point, distance, turn_cos_sin};

/// A run lies on the bias within this of it, degrees: nearer to the true bias than to the threads.
pub const BIAS_WITHIN_DEG: f64 = 22.5;

/// A run is narrow below so many widths of the border: between its two borders, which lie half on it, no more than two
/// borders' width of cloth shows. (Common practice, no source.)
const NARROW_BORDERS: f64 = 3.0;

/// Below so many widths of the border there is hardly any cloth left to show, and widening is the cure.
/// (Common practice, no source.)
const WIDEN_BORDERS: f64 = 1.5;

/// A run is at least this long, mm, and so many times as long as wide; shorter ones hold their shape.
/// (Common practice, no source.)
const LEAST_LENGTH_MM: f64 = 10.0;
const LEAST_LENGTH_WIDTHS: f64 = 2.0;

/// What to do about a slender run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Stick a firm backing behind it before it is cut.
    Back,
    /// Lay the piece another way: the cloth allows a turn that takes this run off the bias.
    Turn,
    /// Draw it wider: its borders all but meet.
    Widen,
}

impl Verdict {
    /// The verdict in two words.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Back => "back it",
            Verdict::Turn => "turn it",
            Verdict::Widen => "widen it",
        }
    }
}

/// A narrow run on the bias.
#[derive(Clone, Debug, PartialEq)]
pub struct Slender {
    /// Its middle line, drawing frame.
    pub axis: Vec<Point>,
    /// Its length along the middle line, mm.
    pub length_mm: f64,
    /// Its mean width, mm.
    pub width_mm: f64,
    /// Its least width, mm.
    pub least_width_mm: f64,
    /// How far its direction lies from the true bias on the average, degrees.
    pub off_bias_deg: f64,
    /// What to do about it.
    pub verdict: Verdict,
    /// For [`Verdict::Turn`]: the allowed turn that takes it farthest off the bias, degrees.
    pub turn_deg: Option<f64>,
}

/// Up to which width a run counts as narrow under a border `border_mm` wide, mm.
pub fn narrow_mm(border_mm: f64) -> f64 {
    NARROW_BORDERS * border_mm
}

/// How far from the true bias a direction of the drawing lies once the piece is turned by `turn_deg`, degrees:
/// 0 on the bias, 45 along warp or weft. The skew of a cloth, a degree or so, is left aside.
pub fn off_bias_deg(way: Point, turn_deg: f64) -> f64 {
    let (c, s) = turn_cos_sin(turn_deg);
    let (x, y) = (c * way.x - s * way.y, s * way.x + c * way.y);
    let angle = libm::atan2(y, x).to_degrees().rem_euclid(90.0);
    (angle - 45.0).abs()
}

/// The narrow runs of a piece that lie on the bias at `turn_deg`, the longest first. `axis` is that of its drawn
/// region up to [`narrow_mm`]; `allowed_deg` are the turns its rule and cloth allow.
pub fn slender(axis: &Axis, turn_deg: f64, border_mm: f64, allowed_deg: &[f64]) -> Vec<Slender> {
    axis.runs(|way| off_bias_deg(way, turn_deg) <= BIAS_WITHIN_DEG)
        .iter()
        .flat_map(|run| without_stitched_tips(run, border_mm))
        .map(|run| judged(&run, turn_deg, border_mm, allowed_deg))
        .filter(|s| s.length_mm >= LEAST_LENGTH_MM.max(LEAST_LENGTH_WIDTHS * s.width_mm))
        .collect()
}

/// The parts of a run in which cloth shows. Where it tapers below the width of the border its two halves meet and the
/// stitching holds it; a run that is nowhere wider is kept whole, for it is all the piece there is.
fn without_stitched_tips(run: &Run, border_mm: f64) -> Vec<Run> {
    if run.widths_mm.iter().all(|w| *w < border_mm) {
        return vec![run.clone()];
    }
    let mut parts = Vec::new();
    let mut from = 0;
    for k in 0..=run.widths_mm.len() {
        if run.widths_mm.get(k).is_none_or(|w| *w < border_mm) {
            if k > from + 1 {
                let axis = run.axis.get(from..k).unwrap_or_default().to_vec();
                parts.push(Run {
                    length_mm: axis.windows(2).map(|w| distance(w[0], w[1])).sum(),
                    axis,
                    widths_mm: run.widths_mm.get(from..k).unwrap_or_default().to_vec(),
                    ways: run.ways.get(from..k).unwrap_or_default().to_vec(),
                });
            }
            from = k + 1;
        }
    }
    parts
}

/// The mean of a value along a run, from each of its points to the next.
fn mean(run: &Run, value: &dyn Fn(usize) -> f64) -> f64 {
    let steps = run.axis.iter().zip(run.axis.iter().skip(1)).map(|(a, b)| distance(*a, *b)).enumerate();
    let sum: f64 = steps.map(|(k, d)| d * (value(k) + value(k + 1)) / 2.0).sum();
    if run.length_mm > 0.0 { sum / run.length_mm } else { value(0) }
}

fn judged(run: &Run, turn_deg: f64, border_mm: f64, allowed_deg: &[f64]) -> Slender {
    let off = |turn: f64| mean(run, &|k| run.ways.get(k).map_or(0.0, |w| off_bias_deg(*w, turn)));
    let width_mm = mean(run, &|k| run.widths_mm.get(k).copied().unwrap_or(0.0));
    // The first of equals, so that the choice does not hang on rounding.
    let mut better: Option<(f64, f64)> = None;
    for &turn in allowed_deg {
        let clear = off(turn);
        if clear > BIAS_WITHIN_DEG && better.is_none_or(|(most, _)| clear > most + 1e-6) {
            better = Some((clear, turn));
        }
    }
    Slender {
        axis: run.axis.clone(),
        length_mm: run.length_mm,
        width_mm,
        least_width_mm: run.widths_mm.iter().copied().fold(f64::INFINITY, f64::min),
        off_bias_deg: off(turn_deg),
        verdict: match better {
            Some(_) => Verdict::Turn,
            None if width_mm < WIDEN_BORDERS * border_mm => Verdict::Widen,
            None => Verdict::Back,
        },
        turn_deg: better.map(|(_, turn)| turn),
    }
}

#[cfg(test)]
mod tests {
    use super::super::axis::narrow_axis;
    use super::*;
    use crate::shape::{Pose, Region, Ring, pt};
    use std::f64::consts::{PI, TAU};

    const BORDER_MM: f64 = 3.5;

    fn strip(width: f64, turn_deg: f64) -> Region {
        let corners = [[0.0, 0.0], [90.0, 0.0], [90.0, width], [0.0, width]];
        let pose = Pose { turn_deg, shift: pt(0.0, 0.0) };
        pose.region(&Region::new(Ring::from_pairs(&corners), Vec::new()))
    }

    fn found(region: &Region, turn_deg: f64, allowed: &[f64]) -> Vec<Slender> {
        slender(&narrow_axis(region, narrow_mm(BORDER_MM)), turn_deg, BORDER_MM, allowed)
    }

    #[test]
    fn a_strip_is_slender_on_the_bias_only() {
        for (lies, seen) in
            [(0.0, 0), (20.0, 0), (24.0, 1), (45.0, 1), (66.0, 1), (70.0, 0), (90.0, 0), (-45.0, 1)]
        {
            assert_eq!(found(&strip(8.0, lies), 0.0, &[0.0]).len(), seen, "{lies}");
            // Whether the drawing slants or the piece is turned comes to the same.
            assert_eq!(found(&strip(8.0, 0.0), lies, &[0.0]).len(), seen, "{lies}");
        }
        let one = &found(&strip(8.0, 45.0), 0.0, &[0.0])[0];
        assert!((one.length_mm - 82.0).abs() < 1.7 && (one.width_mm - 8.0).abs() < 1e-6, "{one:?}");
        assert!(one.off_bias_deg < 1e-6 && one.axis.len() > 10);
        assert!(found(&strip(10.6, 45.0), 0.0, &[0.0]).is_empty(), "not narrow");
    }

    /// Of an annulus, half of the circle lies within 22.5° of the bias: four runs of an eighth each.
    #[test]
    fn a_ring_is_slender_in_four_places() {
        let circle = |r: f64| {
            let at =
                |k: u32| pt(libm::cos(TAU * f64::from(k) / 360.0), libm::sin(TAU * f64::from(k) / 360.0)) * r;
            Ring::new((0..360).map(at).collect())
        };
        let ring = Region::new(circle(64.0), vec![circle(56.0)]);
        for turn in [0.0, 10.0, 90.0] {
            let runs = found(&ring, turn, &[turn]);
            assert_eq!(runs.len(), 4, "{turn}");
            for run in runs {
                assert!((run.length_mm - 60.0 * PI / 4.0).abs() < 3.0, "{}", run.length_mm);
                assert!(run.off_bias_deg < 13.0 && run.verdict == Verdict::Back);
            }
        }
    }

    /// A wedge on the bias of angle α is slender from one border wide to three: 2·border / (2·sin(α/2)) long and two
    /// borders wide on the average. What tapers off below that is stitching.
    #[test]
    fn a_wedge_is_slender_where_cloth_shows() {
        let half = f64::to_radians(8.0) / 2.0;
        let (far, y) = (200.0, 200.0 * libm::tan(half));
        let wedge = Region::new(Ring::from_pairs(&[[0.0, 0.0], [far, -y], [far, y]]), Vec::new());
        let runs = found(&wedge, 45.0, &[45.0]);
        let want = 2.0 * BORDER_MM / (2.0 * libm::sin(half));
        assert_eq!(runs.len(), 1);
        assert!((runs[0].length_mm - want).abs() < 2.5, "{} for {want}", runs[0].length_mm);
        assert!((runs[0].width_mm - 2.0 * BORDER_MM).abs() < 0.2, "{}", runs[0].width_mm);
        assert!((runs[0].least_width_mm - BORDER_MM).abs() < 0.3);
    }

    #[test]
    fn the_verdict_is_what_helps() {
        let at = |width: f64, allowed: &[f64]| {
            let mut runs = found(&strip(width, 45.0), 0.0, allowed);
            (runs.len() == 1).then(|| runs.remove(0)).map(|r| (r.verdict, r.turn_deg))
        };
        assert_eq!(at(8.0, &[0.0, 180.0]), Some((Verdict::Back, None)));
        assert_eq!(at(5.0, &[0.0, 180.0]), Some((Verdict::Widen, None)));
        // Narrower than its own border all along: still told.
        assert_eq!(at(3.0, &[0.0]), Some((Verdict::Widen, None)));
        // A quarter turn lies on the other bias.
        assert_eq!(at(8.0, &[0.0, 90.0]), Some((Verdict::Back, None)));
        assert_eq!(at(5.0, &[0.0, 30.0, 45.0, 60.0, 135.0]), Some((Verdict::Turn, Some(45.0))));
    }

    #[test]
    fn short_runs_hold_their_shape() {
        let corners = [[0.0, 0.0], [20.0, 0.0], [20.0, 8.0], [0.0, 8.0]];
        let short = Region::new(Ring::from_pairs(&corners), Vec::new());
        assert!(found(&short, 45.0, &[45.0]).is_empty());
    }
}
