//! Lengths and time of the burns of a pass.

use super::Burn;
use crate::job::Cutter;
use crate::shape::{Point, distance};

/// How far the head goes in a pass.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Lengths {
    /// With the beam on, mm.
    pub cut_mm: f64,
    /// With the beam off: from the start to the first burn and between burns, mm.
    pub travel_mm: f64,
}

/// Lengths of `ordered` burnt one after the other from `start`; the way home is not counted.
pub fn lengths(ordered: &[Burn], start: Point) -> Lengths {
    Lengths { cut_mm: ordered.iter().map(Burn::length_mm).sum(), travel_mm: travels(ordered, start).sum() }
}

/// Way from the end of the last burn back to `rest`, mm.
pub fn way_back(ordered: &[Burn], rest: Point) -> f64 {
    let end = |b: &Burn| if b.closed { b.path.first().copied() } else { b.path.last().copied() };
    ordered.iter().rev().find_map(end).map_or(0.0, |p| distance(p, rest))
}

/// Lengths and seconds of a pass: `ordered` burnt from `rest` on cloth `cloth`, and back to it.
pub fn there_and_back(ordered: &[Burn], rest: Point, cutter: &Cutter, cloth: &str) -> (Lengths, Seconds) {
    let back = way_back(ordered, rest);
    let (mut lengths, mut seconds) = (lengths(ordered, rest), seconds(ordered, rest, cutter, cloth));
    lengths.travel_mm += back;
    seconds.travel += move_seconds(back, cutter.travel_mm_per_s, cutter.acceleration_mm_per_s2);
    (lengths, seconds)
}

/// Where the seconds of a pass go.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Seconds {
    /// Burning.
    pub cut: f64,
    /// Moving with the beam off.
    pub travel: f64,
    /// Starting burns: the beam comes on and pierces.
    pub start_up: f64,
}

impl Seconds {
    /// All of them: how long the cutter runs.
    pub fn total(self) -> f64 {
        self.cut + self.travel + self.start_up
    }
}

/// Seconds `ordered` takes from `start`: every burn is a run from rest to rest along its line
/// ([`line_seconds`]) at the speed found by test for its kind on `cloth`, else at cutting speed, every travel a straight move from rest to rest ([`move_seconds`]) at travel
/// speed, and every burn takes the cutter's `burn_start_s` to begin.
pub fn seconds(ordered: &[Burn], start: Point, cutter: &Cutter, cloth: &str) -> Seconds {
    let a = cutter.acceleration_mm_per_s2;
    let line = |b: &Burn| {
        let closing = b.path.first().filter(|_| b.closed);
        let path: Vec<Point> = b.path.iter().chain(closing).copied().collect();
        let v = cutter.tested_for(cloth, b.kind.word()).map_or(cutter.cut_mm_per_s, |t| t.mm_per_s);
        line_seconds(&path, v, a, cutter.corner_mm_per_s)
    };
    Seconds {
        cut: ordered.iter().map(line).sum(),
        travel: travels(ordered, start).map(|d| move_seconds(d, cutter.travel_mm_per_s, a)).sum(),
        start_up: ordered.len() as f64 * cutter.burn_start_s,
    }
}

/// Seconds of a run along `path` from rest to rest at most `v` mm/s fast, speeding up and slowing down at `a` mm/s²,
/// where the velocity may change at a corner by no more than `corner` mm/s at once.
///
/// At a corner that turns by φ the speed is at most corner / (2·sin(φ/2)); on a curve drawn as short sides, r being
/// their mean length over the turn, at most √(a·r), its centripetal acceleration being v²/r. Between corners the
/// speed follows a trapezoid, entered and left at the corners' speeds. (Uniformly accelerated motion, any mechanics
/// text.)
pub fn line_seconds(path: &[Point], v: f64, a: f64, corner: f64) -> f64 {
    let sides: Vec<Point> =
        path.windows(2).map(|w| w[1] - w[0]).filter(|d| d.x != 0.0 || d.y != 0.0).collect();
    let length = |d: Point| distance(d, Point::default());
    let n = sides.len();
    // Greatest speed at the beginning of every side and at the end of the last.
    let mut speed = vec![0.0; n + 1];
    for i in 1..n {
        let (d, e) = (sides[i - 1], sides[i]);
        let turn = libm::atan2((d.x * e.y - d.y * e.x).abs(), d.x * e.x + d.y * e.y);
        let at_once = corner / (2.0 * libm::sin(turn / 2.0)).max(f64::MIN_POSITIVE);
        let curve = (a * (length(d) + length(e)) / 2.0 / turn.max(f64::MIN_POSITIVE)).sqrt();
        speed[i] = v.min(at_once).min(curve);
    }
    for i in 0..n {
        speed[i + 1] = f64::min(speed[i + 1], (speed[i] * speed[i] + 2.0 * a * length(sides[i])).sqrt());
    }
    for i in (0..n).rev() {
        speed[i] = f64::min(speed[i], (speed[i + 1] * speed[i + 1] + 2.0 * a * length(sides[i])).sqrt());
    }
    (0..n).map(|i| side_seconds(length(sides[i]), speed[i], speed[i + 1], v, a)).sum()
}

/// Seconds for `d` mm entered at `u` and left at `w` mm/s, at most `v` fast.
fn side_seconds(d: f64, u: f64, w: f64, v: f64, a: f64) -> f64 {
    // The speed both ramps would meet at.
    let top = ((2.0 * a * d + u * u + w * w) / 2.0).sqrt();
    if top <= v {
        return (2.0 * top - u - w).max(0.0) / a;
    }
    let ramps = (2.0 * v * v - u * u - w * w) / (2.0 * a);
    (2.0 * v - u - w) / a + (d - ramps) / v
}

/// Seconds of a straight move of `d` mm from rest to rest that speeds up at `a` mm/s² to at most `v` mm/s and slows
/// down likewise: d/v + v/a when v is reached (trapezoid), 2·√(d/a) when it is not (triangle).
pub fn move_seconds(d: f64, v: f64, a: f64) -> f64 {
    if d <= 0.0 {
        0.0
    } else if d >= v * v / a {
        d / v + v / a
    } else {
        2.0 * (d / a).sqrt()
    }
}

fn travels(ordered: &[Burn], start: Point) -> impl Iterator<Item = f64> + '_ {
    let mut head = start;
    ordered.iter().filter_map(move |burn| {
        let (&first, &last) = (burn.path.first()?, burn.path.last()?);
        let way = distance(head, first);
        head = if burn.closed { first } else { last };
        Some(way)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::burn::BurnKind;
    use crate::shape::pt;

    fn burn(closed: bool, pairs: &[[f64; 2]]) -> Burn {
        let path = pairs.iter().map(|p| pt(p[0], p[1])).collect();
        Burn { kind: BurnKind::Outline, placed: Some(0), ring: 0, closed, path }
    }

    /// Uniformly accelerated motion, any mechanics text: at 200 mm/s and 2000 mm/s² the ramps are 0.1 s and 10 mm
    /// each, so 100 mm take 0.1 + 80/200 + 0.1 s; 5 mm never reach full speed and take 2·√(5/2000) s.
    #[test]
    fn a_move_follows_the_closed_formulas() {
        assert!((move_seconds(100.0, 200.0, 2000.0) - 0.6).abs() < 1e-12);
        assert!((move_seconds(5.0, 200.0, 2000.0) - 0.1).abs() < 1e-12);
        assert!((move_seconds(20.0, 200.0, 2000.0) - 0.2).abs() < 1e-12, "both formulas meet");
        assert_eq!(move_seconds(0.0, 200.0, 2000.0), 0.0);
    }

    /// The same motion stepped through in small slices of time.
    #[test]
    fn a_stepped_motion_takes_as_long() {
        for (d, v, a) in [(37.0, 30.0, 400.0), (1.1, 200.0, 2000.0), (900.0, 120.0, 900.0)] {
            let (mut t, mut x, mut speed, dt) = (0.0, 0.0, 0.0_f64, 1e-5);
            while x < d {
                // Slow down once the way left is what braking needs.
                let brake = speed * speed / (2.0 * a) >= d - x;
                speed = if brake { (speed - a * dt).max(1e-3) } else { (speed + a * dt).min(v) };
                x += speed * dt;
                t += dt;
            }
            assert!((t - move_seconds(d, v, a)).abs() < 0.01 * t + 0.01, "{t} for {d} mm");
        }
    }

    /// 30 mm/s, 2000 mm/s², 10 mm/s at once: a right angle is passed at 10/√2 = 7.0711 mm/s. Two sides of 20 mm: each has
    /// one ramp from rest, 0.225 mm and 15 ms, one ramp to the corner, (900 − 50)/4000 = 0.2125 mm and 11.464 ms, and
    /// 19.5625 mm at full speed: 0.678548 s each.
    #[test]
    fn a_corner_is_passed_slowly() {
        let path = [pt(0.0, 0.0), pt(20.0, 0.0), pt(20.0, 20.0)];
        let want = 2.0 * (0.015 + (30.0 - 50.0_f64.sqrt()) / 2000.0 + 19.5625 / 30.0);
        assert!((line_seconds(&path, 30.0, 2000.0, 10.0) - want).abs() < 1e-12);
        assert!((want - 1.3570953).abs() < 1e-6);
        let straight = [pt(0.0, 0.0), pt(20.0, 0.0), pt(40.0, 0.0)];
        assert!(
            (line_seconds(&straight, 30.0, 2000.0, 10.0) - move_seconds(40.0, 30.0, 2000.0)).abs() < 1e-9
        );
    }

    /// A circle of 2 mm at 100 mm/s² cannot be followed faster than √(100·2) = 14.14 mm/s (v²/r, any mechanics text).
    #[test]
    fn a_tight_curve_is_followed_slowly_however_finely_it_is_drawn() {
        for sides in [120, 1200] {
            let at = |k: i32| f64::from(k) / f64::from(sides) * std::f64::consts::TAU;
            let circle: Vec<Point> =
                (0..=sides).map(|k| pt(2.0 * libm::cos(at(k)), 2.0 * libm::sin(at(k)))).collect();
            let round = std::f64::consts::TAU * 2.0;
            let v = 200.0_f64.sqrt();
            let want = move_seconds(round, v, 100.0);
            let took = line_seconds(&circle, 30.0, 100.0, 10.0);
            assert!((took / want - 1.0).abs() < 0.01, "{took} against {want}");
        }
    }

    /// Half the speed, and hardly any ramps at 10⁶ mm/s²: twice the time.
    #[test]
    fn a_speed_found_by_test_counts_for_its_cloth_and_kind_alone() {
        let line = [burn(false, &[[0.0, 0.0], [300.0, 0.0]])];
        let tested = |cloth: &str, kind: &str| crate::job::Tested {
            cloth: Some(cloth.into()),
            kind: Some(kind.into()),
            power: 40.0,
            mm_per_s: 15.0,
        };
        let with =
            |tested| Cutter { tested: vec![tested], acceleration_mm_per_s2: 1.0e6, ..Cutter::default() };
        let cut = |cutter: &Cutter| seconds(&line, pt(0.0, 0.0), cutter, "fen").cut;
        assert!((cut(&with(tested("fen", "outline"))) - 20.0).abs() < 1e-3);
        assert!((cut(&with(tested("fen", "mark"))) - 10.0).abs() < 1e-3);
        assert!((cut(&with(tested("moss", "outline"))) - 10.0).abs() < 1e-3);
    }

    #[test]
    fn lengths_and_seconds_of_two_burns() {
        let square = burn(true, &[[10.0, 0.0], [20.0, 0.0], [20.0, 10.0], [10.0, 10.0]]);
        let line = burn(false, &[[10.0, 30.0], [10.0, 50.0]]);
        let all = [square, line];
        assert_eq!(lengths(&all, pt(0.0, 0.0)), Lengths { cut_mm: 60.0, travel_mm: 40.0 });
        let cutter = Cutter { corner_mm_per_s: 0.0, burn_start_s: 0.25, ..Cutter::default() };
        let a = cutter.acceleration_mm_per_s2;
        let took = seconds(&all, pt(0.0, 0.0), &cutter, "fen");
        let cut = 4.0 * (10.0 / 30.0 + 30.0 / a) + (20.0 / 30.0 + 30.0 / a);
        assert!((took.cut - cut).abs() < 1e-9, "stopping at every corner: {}", took.cut);
        assert!((took.travel - (2.0 * (10.0 / a).sqrt() + 30.0 / 200.0 + 200.0 / a)).abs() < 1e-12);
        assert_eq!(took.start_up, 0.5);
        assert_eq!(took.total(), took.cut + took.travel + 0.5);
        assert_eq!(lengths(&[], pt(1.0, 1.0)), Lengths::default());
    }
}
