use super::super::model::Mark;
use super::*;
use crate::passes::expected_error_mm;
use crate::shape::{Affine, Bounds};

fn pass(number: usize, marks: &[(&str, Point, bool)]) -> Pass {
    let marks =
        marks.iter().map(|&(name, at, burnt_here)| Mark { name: name.into(), at, burnt_here }).collect();
    Pass {
        number,
        window: Bounds::EMPTY,
        cloth_to_bed: Affine([1.0, 0.0, 0.0, 1.0, 0.0, 0.0]),
        burns: Vec::new(),
        marks,
        joints: Vec::new(),
        key: Vec::new(),
    }
}

/// Normal numbers by Box & Muller 1958, from a xorshift generator.
struct Chance(u64);

impl Chance {
    fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> Point {
        let (r, a) = ((-2.0 * self.uniform().ln()).sqrt(), std::f64::consts::TAU * self.uniform());
        pt(r * a.cos(), r * a.sin())
    }
}

/// Rigid motion (cos, sin, shift) that fits `to` to `from` best: Horn 1987, J. Opt. Soc. Am. A 4, in the plane.
fn fitted(from: &[Point], to: &[Point]) -> impl Fn(Point) -> Point + use<> {
    let n = from.len() as f64;
    let mean = |p: &[Point]| p.iter().fold(pt(0.0, 0.0), |s, &q| s + q) / n;
    let (c0, c1) = (mean(from), mean(to));
    let (mut re, mut im) = (0.0, 0.0);
    for (&p, &q) in from.iter().zip(to) {
        let (x, y) = (p - c0, q - c1);
        re += x.x * y.x + x.y * y.y;
        im += x.x * y.y - x.y * y.x;
    }
    let (c, s) = (re / re.hypot(im), im / re.hypot(im));
    move |p| {
        let v = p - c0;
        c1 + pt(c * v.x - s * v.y, s * v.x + c * v.y)
    }
}

const A: Point = pt(0.0, 0.0);
const B: Point = pt(400.0, 20.0);
const C: Point = pt(180.0, 70.0);
const D: Point = pt(20.0, 600.0);
const E: Point = pt(380.0, 640.0);

/// Fitzpatrick, West & Maurer 1998 in the plane, where the earlier cut and all marks are of one pass.
#[test]
fn with_one_pass_before_the_step_is_the_error_of_the_fit() {
    let first = pass(1, &[("A", A, true), ("B", B, true), ("C", C, true)]);
    let second = pass(2, &[("A", A, false), ("B", B, false), ("C", C, false), ("D", D, true)]);
    let budget = Budget::new(&[first, second], 0.25);
    for at in [pt(200.0, 30.0), pt(-300.0, 900.0), pt(1500.0, -40.0)] {
        let formula = expected_error_mm(&[A, B, C], at, 0.25);
        assert!((budget.step(0, 1, at).expected_mm - formula).abs() < 1e-9);
    }
}

/// Three passes, the third placed by marks of the first and the second: marks measured with errors and fitted, many
/// thousand times. The mean must agree within 2 %, the 95 % step within 3 %.
#[test]
fn steps_come_out_as_the_budget_says() {
    let first = pass(1, &[("A", A, true), ("B", B, true), ("C", C, true)]);
    let second =
        pass(2, &[("A", A, false), ("B", B, false), ("C", C, false), ("D", D, true), ("E", E, true)]);
    let third = pass(3, &[("B", B, false), ("D", D, false), ("E", E, false)]);
    let (e, at) = (0.25, pt(300.0, 900.0));
    let budget = Budget::new(&[first, second, third], e);
    let mut chance = Chance(0x2545_f491_4f6c_dd1d);
    let mut steps = [Vec::new(), Vec::new(), Vec::new()];
    for _ in 0..20_000 {
        let mut seen = |p: Point| p + chance.normal() * (e / 2f64.sqrt());
        let two = fitted(&[A, B, C], &[seen(A), seen(B), seen(C)]);
        let three = fitted(&[B, D, E], &[seen(B), seen(two(D)), seen(two(E))]);
        steps[0].push(distance(two(at), at));
        steps[1].push(distance(three(at), two(at)));
        steps[2].push(distance(three(at), at));
    }
    for (mut steps, (a, b)) in steps.into_iter().zip([(0, 1), (1, 2), (0, 2)]) {
        let told = budget.step(a, b, at);
        let mean = (steps.iter().map(|s| s * s).sum::<f64>() / steps.len() as f64).sqrt();
        steps.sort_by(f64::total_cmp);
        let most = steps[steps.len() * 95 / 100];
        assert!((mean / told.expected_mm - 1.0).abs() < 0.02, "{a} {b}: {mean} against {told:?}");
        assert!((most / told.most_mm - 1.0).abs() < 0.03, "{a} {b}: {most} against {told:?}");
    }
}

/// Tables of the normal distribution (1.959964 along a line) and of Rayleigh's (√(−2 ln 0.05) = 2.447747).
#[test]
fn the_95_percent_step_agrees_with_tables() {
    assert!((held_by(4.0, 4.0) - 2.0 * 2.447_746_830_68).abs() < 1e-8);
    assert!((held_by(1.0, 0.0) - 1.959_963_985).abs() < 0.005, "{}", held_by(1.0, 0.0));
    assert_eq!(held_by(0.0, 0.0), 0.0);
    assert_eq!(held_by(f64::INFINITY, 1.0), f64::INFINITY);
    assert_eq!(held_by(f64::NAN, 1.0), f64::INFINITY);
}

#[test]
fn a_pass_that_nothing_places_has_no_budget() {
    let alone = Budget::new(&[pass(1, &[("A", A, true)]), pass(2, &[("A", A, false)])], 0.25);
    assert_eq!(alone.step(0, 1, B), Step::UNKNOWN);
    assert_eq!(alone.step(0, 9, B), Step::UNKNOWN);
    assert_eq!(verdict(Step::UNKNOWN, 3.5), Verdict::WillShow);
}

/// By hand: two points 400 mm apart, clearance 0.3 mm; at their middle the error of a point over √2.
#[test]
fn a_key_alone_lets_the_cloth_move_by_its_clearance() {
    let line = |path: Vec<Point>| KeyLine { placed: 0, closed: false, path };
    let key = [line(vec![pt(0.0, 0.0), pt(0.0, 50.0)]), line(vec![pt(300.0, 50.0), pt(400.0, 0.0)])];
    let at = |x: f64, y: f64| key_step(&key, pt(x, y), 0.3).unwrap().expected_mm;
    let ends = |p: Point, q: Point| expected_error_mm(&[p, q], pt(200.0, 25.0), 0.3 * (2.0 / 3.0_f64).sqrt());
    assert!((at(200.0, 25.0) - ends(pt(0.0, 50.0), pt(400.0, 0.0))).abs() < 1e-9);
    // 475 mm off the middle, both points √40625 mm from it: 1 + 475²/(2·40625) of the squared error.
    let off = at(200.0, 500.0) / at(200.0, 25.0);
    assert!((off - (1.0 + 475.0 * 475.0 / 81_250.0_f64).sqrt()).abs() < 1e-9, "{off}");
    assert_eq!(key_step(&[], pt(0.0, 0.0), 0.3), None);
}

#[test]
fn a_border_covers_barely_covers_or_shows() {
    let of = |most_mm: f64, border: f64| verdict(Step { expected_mm: most_mm / 2.0, most_mm }, border);
    assert_eq!(of(0.8, 3.5), Verdict::Covered);
    assert_eq!(of(1.0, 3.5), Verdict::Barely);
    assert_eq!(of(1.8, 3.5), Verdict::WillShow);
    assert_eq!(of(0.1, 0.0), Verdict::WillShow, "nothing is stitched over it");
    assert_eq!(of(f64::NAN, 3.5), Verdict::WillShow);
}
