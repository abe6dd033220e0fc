use kurbo::{BezPath, PathEl};
use proptest::prelude::*;

use super::*;

fn end(p: &PathEl) -> Option<kurbo::Point> {
    p.end_point()
}

/// Farthest distance of an arc's cubics from the circle of radius `r` about `centre`.
fn miss(cubics: &[[Point; 3]], from: Point, centre: Point, r: f64) -> f64 {
    let mut at = from;
    let mut worst: f64 = 0.0;
    for [a, b, c] in cubics {
        for i in 0..=100 {
            let t = f64::from(i) / 100.0;
            let u = 1.0 - t;
            let p = at * (u * u * u) + *a * (3.0 * u * u * t) + *b * (3.0 * u * t * t) + *c * (t * t * t);
            worst = worst.max((crate::shape::distance(p, centre) - r).abs());
        }
        at = *c;
    }
    worst
}

#[test]
fn a_large_circle_misses_the_true_one_by_less_than_a_thousandth_of_a_millimetre() {
    let r = 1500.0;
    let arc = |from, to| Arc { from, to, rx: r, ry: r, turn_deg: 0.0, large: false, sweep: true }.cubics();
    let (left, right) = (pt(-r, 0.0), pt(r, 0.0));
    assert!(miss(&arc(left, right), left, pt(0.0, 0.0), r) < 0.001);
    assert!(miss(&arc(right, left), right, pt(0.0, 0.0), r) < 0.001);
}

/// The endpoint example of SVG 1.1 section 8.3.8: `M300,200 h-150 a150,150 0 1,0 150,-150 z` is three
/// quarters of a circle about (300, 200).
#[test]
fn the_pie_of_the_specification_keeps_its_radius() {
    let arc = Arc {
        from: pt(150.0, 200.0),
        to: pt(300.0, 50.0),
        rx: 150.0,
        ry: 150.0,
        turn_deg: 0.0,
        large: true,
        sweep: false,
    };
    let cubics = arc.cubics();
    assert_eq!(cubics.len(), 9);
    assert!(miss(&cubics, arc.from, pt(300.0, 200.0), 150.0) < 1e-3);
}

#[test]
fn mistakes_are_named_with_their_place() {
    for (d, told) in [
        ("M 0 0 L 10", "a number was expected at character 11"),
        ("L 10 10", "a path must start with M at character 1"),
        ("M 0 0 L 10 10 X 5", "a path command was expected at character 15"),
        ("M 0 0 A 5 5 0 2 0 10 10", "an arc flag must be 0 or 1 at character 15"),
        ("M 0 0 L NaN 3", "a number was expected at character 9"),
        ("M 0 0 L 1e300 3", "a number is out of all bounds at character 14"),
        ("M 0 0 L 1e30 3", "a coordinate lies out of all bounds at character 15"),
        ("M 0 0, L 3 3", "a number was expected after the comma at character 8"),
    ] {
        assert_eq!(check(d).unwrap_err(), told, "{d}");
    }
}

#[test]
fn the_terse_forms_the_grammar_allows_are_read() {
    for (d, segments) in [
        ("", 0),
        ("M0 0", 0),
        ("M0 0 10 10 20 0z", 3),
        ("M.5.5-1-1", 1),
        ("M0,0h10v-3.5e1H0z", 4),
        ("M0 0a5 5 0 01.5.5", 1),
        ("M0 0a5 5 0 0110 10 5 5 0 1020 20", 2),
        ("m1 1c1 1 2 2 3 3s1 1 2 2q1 1 2 2t3 3zm5 5l1 1", 6),
    ] {
        assert_eq!(check(d).map(|p| p.segments), Ok(segments), "{d}");
    }
}

/// Against kurbo's reader of path data: the same ends, and the same control points where there is no arc.
#[test]
fn paths_without_arcs_come_out_as_another_reader_has_them() {
    let d = "m10 20 30 5 L 5 5 h-3 V 40 c 1 2 3 4 5 6 s 7 8 9 10 q 1 2 3 4 t 5 6 T 9 9 Z a 5 3 20 0 1 7 7";
    let ours = BezPath::from_svg(&write_without_arcs(d).unwrap().without_arcs.unwrap()).unwrap();
    let theirs = BezPath::from_svg(d).unwrap();
    let n = ours.elements().iter().position(|e| matches!(e, PathEl::ClosePath)).unwrap();
    for (a, b) in ours.elements()[..n].iter().zip(theirs.elements()) {
        assert_eq!(std::mem::discriminant(a), std::mem::discriminant(b));
        let (a, b) = (end(a).unwrap(), end(b).unwrap());
        assert!(a.distance(b) < 1e-9);
    }
    let last = |p: &BezPath| end(p.elements().last().unwrap()).unwrap();
    assert!(last(&ours).distance(last(&theirs)) < 1e-9);
}

#[test]
fn points_come_in_pairs() {
    assert_eq!(check_points(" 0,0 10,0 10 10"), Ok(3));
    assert!(check_points("0 0 10").is_err());
    assert!(check_points("0 0 ten 3").is_err());
}

proptest! {
    /// What kurbo refuses is refused here; whatever is accepted is accepted there.
    #[test]
    fn no_path_passes_that_another_reader_refuses(d in "[MmLlCcAaZzHhVv0-9 .,e-]{0,24}") {
        if check(&d).is_ok() {
            prop_assert!(BezPath::from_svg(&d).is_ok(), "{d}");
        }
    }

    #[test]
    fn nothing_typed_makes_it_panic(d in ".{0,40}") {
        let _ = check(&d);
        let _ = check_points(&d);
    }
}
