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

/// Seconds `ordered` takes from `start`: every burn and every travel is one move from rest to rest
/// ([`move_seconds`]), burns at cutting speed without slowing at corners, travels at travel speed.
pub fn seconds(ordered: &[Burn], start: Point, cutter: &Cutter) -> f64 {
    let a = cutter.acceleration_mm_per_s2;
    let burning: f64 = ordered.iter().map(|b| move_seconds(b.length_mm(), cutter.cut_mm_per_s, a)).sum();
    let moving: f64 = travels(ordered, start).map(|d| move_seconds(d, cutter.travel_mm_per_s, a)).sum();
    burning + moving
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

    #[test]
    fn lengths_and_seconds_of_two_burns() {
        let square = burn(true, &[[10.0, 0.0], [20.0, 0.0], [20.0, 10.0], [10.0, 10.0]]);
        let line = burn(false, &[[10.0, 30.0], [10.0, 50.0]]);
        let all = [square, line];
        assert_eq!(lengths(&all, pt(0.0, 0.0)), Lengths { cut_mm: 60.0, travel_mm: 40.0 });
        let cutter = Cutter::default();
        let a = cutter.acceleration_mm_per_s2;
        let want = (40.0 / 30.0 + 30.0 / a)
            + (20.0 / 30.0 + 30.0 / a)
            + 2.0 * (10.0 / a).sqrt()
            + (30.0 / 200.0 + 200.0 / a);
        assert!((seconds(&all, pt(0.0, 0.0), &cutter) - want).abs() < 1e-12);
        assert_eq!(lengths(&[], pt(1.0, 1.0)), Lengths::default());
    }
}
