use super::*;
use crate::shape::{distance, pt};
use proptest::prelude::*;
use std::f64::consts::{PI, TAU};

const WITHIN: f64 = 0.014;

fn circle(r: f64, chord: f64) -> Vec<Point> {
    let n = (PI / libm::acos(1.0 - chord / r)).ceil() as usize;
    (0..n).map(|i| TAU * i as f64 / n as f64).map(|a| pt(r * libm::cos(a), r * libm::sin(a))).collect()
}

/// A second opinion: both lines walked in small steps, every distance by brute force.
fn hausdorff(a: &[Point], b: &[Point]) -> f64 {
    let far = |p: Point, line: &[Point]| {
        line.windows(2).map(|w| crate::shape::to_side(p, w[0], w[1])).fold(f64::INFINITY, f64::min)
    };
    let one = |a: &[Point], b: &[Point]| dense(a, 0.1).map(|p| far(p, b)).fold(0.0, f64::max);
    one(a, b).max(one(b, a))
}

fn tangents_meet(c: &Course, cos: f64) -> bool {
    let arcs: Vec<Arc> = c.arcs().collect();
    arcs.windows(2).all(|w| {
        let out = |a: &Arc, end: bool| {
            let d = a.to - a.from;
            let d = d / d.x.hypot(d.y);
            let b = if end { a.bulge } else { -a.bulge };
            let (c, s) = ((1.0 - b * b) / (1.0 + b * b), 2.0 * b / (1.0 + b * b));
            pt(c * d.x - s * d.y, s * d.x + c * d.y)
        };
        let (u, v) = (out(&w[0], true), out(&w[1], false));
        u.x * v.x + u.y * v.y >= cos
    })
}

#[test]
fn a_circle_of_many_chords_is_two_halves_of_its_radius_wherever_it_is_begun() {
    for r in [1.5, 3.0, 20.0, 250.0] {
        let round = circle(r, 0.004);
        for begun in [0, 1, round.len() / 3, round.len() - 1] {
            for backwards in [false, true] {
                let mut points = round.clone();
                points.rotate_left(begun);
                if backwards {
                    points.reverse();
                }
                let c = course(&points, true, WITHIN);
                assert_eq!(c.steps.len(), 2, "{r} from {begun}");
                for a in c.arcs() {
                    assert!((a.radius() - r).abs() < 0.01, "{} for {r}", a.radius());
                    assert_eq!(a.bulge, if backwards { -1.0 } else { 1.0 });
                }
                assert_eq!(c.start, points[0]);
                assert_eq!(c.steps.last().map(|s| s.to), Some(c.start));
            }
        }
    }
}

/// As pieces have it: drawn in cubic curves, flattened, moved out by an allowance and by half a kerf, begun anywhere.
#[test]
fn a_circle_that_was_drawn_offset_and_offset_again_is_two_halves() {
    use crate::shape::{Join, Region, Ring, offset};
    for r in [4.0, 12.0, 84.0, 210.0] {
        let drawn = Region::new(Ring::new(circle(r, 0.005)), vec![]);
        let cut = offset(&offset(&[drawn], 1.5, Join::Round), 0.1, Join::Round)[0].clone();
        let chain = &cut.outline.points;
        for begun in [0, chain.len() / 5, chain.len() / 2] {
            let mut points = chain.clone();
            points.rotate_left(begun);
            let c = course(&points, true, WITHIN);
            assert_eq!(c.steps.len(), 2, "{r} from {begun}: {:?}", c.steps.len());
            assert!(c.arcs().all(|a| (a.radius() - r - 1.6).abs() < 0.015));
        }
        // From the waste straight onto it, as a lead-in does, and once round.
        let mut led = vec![chain[0] * (1.0 + 2.0 / r)];
        led.extend(chain.iter().chain(&chain[..1]));
        let c = course(&led, false, WITHIN);
        assert_eq!(c.steps.iter().filter(|s| s.bulge != 0.0).count(), 2, "{r}");
    }
}

#[test]
fn a_part_of_a_circle_is_as_few_arcs_as_its_turn_asks_for() {
    let round = circle(30.0, 0.004);
    for (share, arcs) in [(0.1, 1), (0.4, 1), (0.6, 2), (0.8, 2)] {
        let part = &round[..(round.len() as f64 * share) as usize];
        let c = course(part, false, WITHIN);
        assert_eq!(c.steps.len(), arcs, "{share}");
        assert!(c.arcs().all(|a| (a.radius() - 30.0).abs() < 0.02));
    }
}

#[test]
fn a_square_keeps_its_corners_and_gains_nothing() {
    let corners = [pt(0.0, 0.0), pt(40.0, 0.0), pt(40.0, 40.0), pt(0.0, 40.0)];
    let c = course(&corners, true, WITHIN);
    let at: Vec<Point> = c.steps.iter().map(|s| s.to).collect();
    assert_eq!(at, [corners[1], corners[2], corners[3], corners[0]]);
    assert!(c.steps.iter().all(|s| s.bulge == 0.0));
}

#[test]
fn a_slot_is_two_lines_and_two_round_ends_that_meet_without_a_kink() {
    let mut points = vec![pt(30.0, -5.0), pt(90.0, -5.0)];
    let round = |x: f64, from: f64| {
        (1..60).map(move |i| from + PI * i as f64 / 60.0).map(move |a| pt(x + 5.0 * a.cos(), 5.0 * a.sin()))
    };
    points.extend(round(90.0, -PI / 2.0));
    points.extend([pt(90.0, 5.0), pt(10.0, 5.0)]);
    points.extend(round(10.0, PI / 2.0));
    points.push(pt(10.0, -5.0));
    let c = course(&points, true, WITHIN);
    assert!(c.steps.len() <= 9, "{} steps of {}", c.steps.len(), points.len());
    assert!(tangents_meet(&c, 0.9999));
}

#[test]
fn a_wave_loses_most_of_its_points_and_keeps_its_ends() {
    let wave: Vec<Point> =
        (0..=2000).map(|i| i as f64 * 0.1).map(|x| pt(x, 20.0 * libm::sin(x / 15.0))).collect();
    let c = course(&wave, false, WITHIN);
    assert!(c.steps.len() * 5 < wave.len(), "{}", c.steps.len());
    assert_eq!((c.start, c.steps.last().unwrap().to), (wave[0], wave[2000]));
    assert!(hausdorff(&c.points(0.0005), &wave) <= WITHIN + 0.001);
    assert!(tangents_meet(&c, 0.99999));
}

#[test]
fn wild_numbers_and_short_chains_come_out_as_they_are() {
    let wild = [pt(0.0, 0.0), pt(f64::NAN, 1.0), pt(f64::INFINITY, 2.0)];
    assert_eq!(course(&wild, false, WITHIN).steps.len(), 2);
    assert_eq!(course(&[], true, WITHIN).steps.len(), 0);
    assert_eq!(course(&[pt(1.0, 1.0)], true, WITHIN).steps.len(), 0);
    assert_eq!(course(&circle(5.0, 0.01), true, f64::NAN).steps.len(), circle(5.0, 0.01).len());
    let twice = [pt(0.0, 0.0), pt(0.0, 0.0), pt(5.0, 0.0), pt(5.0, 0.0), pt(0.0, 0.0)];
    assert!(course(&twice, true, WITHIN).steps.last().is_some_and(|s| distance(s.to, twice[0]) < 1e-9));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Whatever the chain, the course keeps within its distance both ways.
    #[test]
    fn a_course_never_strays(
        knots in prop::collection::vec((-60.0..60.0_f64, -60.0..60.0_f64), 2..9),
        fine in 2usize..40,
        closed: bool,
        within in 0.004..0.2_f64,
    ) {
        // Curves between the knots' middles (quadratic), as many points each as asked.
        let mut points = Vec::new();
        for w in knots.windows(3) {
            let [a, b, c] = [w[0], w[1], w[2]].map(|(x, y)| pt(x, y));
            let (a, c) = (crate::shape::lerp(a, b, 0.5), crate::shape::lerp(b, c, 0.5));
            for i in 0..fine {
                let t = i as f64 / fine as f64;
                points.push(crate::shape::lerp(crate::shape::lerp(a, b, t), crate::shape::lerp(b, c, t), t));
            }
        }
        let c = course(&points, closed, within);
        let mut whole = points.clone();
        if closed && points.len() > 1 {
            whole.push(points[0]);
        }
        if whole.len() > 1 {
            prop_assert!(hausdorff(&c.points(0.0005), &whole) <= within + 0.002);
            prop_assert_eq!(c.steps.last().map(|s| s.to), whole.last().copied());
        }
    }
}
