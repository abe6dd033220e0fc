//! Faults of whole drawings, told as stories.

use super::drawn::*;
use super::*;
use crate::shape::{Point, distance, pt};
use proptest::prelude::*;

const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]];

fn shifted(outline: &[[f64; 2]], dx: f64, dy: f64) -> Vec<[f64; 2]> {
    outline.iter().map(|p| [p[0] + dx, p[1] + dy]).collect()
}

#[test]
fn a_sound_drawing_has_no_faults() {
    let leaf: Vec<[f64; 2]> =
        circle(pt(100.0, 100.0), 30.0, 64).iter().map(|p| [p.x, 100.0 + (p.y - 100.0) * 0.5]).collect();
    let window = [[12.0, 12.0], [28.0, 12.0], [28.0, 28.0], [12.0, 28.0]];
    assert_eq!(faults(vec![filled("leaf", &[&leaf]), filled("pane", &[&SQUARE, &window])]), []);
}

#[test]
fn a_small_gap_is_closed_and_said_a_wide_one_is_to_be_mended() {
    let gap = |g: f64| filled_open("wave", &[&[[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, g]]]);
    let told = faults(vec![gap(0.4)]);
    assert_eq!(kinds(&told), [("wave", FaultKind::OpenOutline)]);
    assert_eq!((told[0].severity, told[0].size_mm, told[0].at), (Severity::Note, 0.4, pt(0.0, 0.2)));
    assert!(told[0].text.contains("0.40 mm"), "{}", told[0].text);
    let told = faults(vec![gap(6.0)]);
    assert_eq!((told[0].severity, told[0].size_mm), (Severity::Mend, 6.0));
}

#[test]
fn a_drawn_line_is_no_fault_to_mend_but_one_that_nearly_closes_is() {
    let told = faults(vec![line("stem", &[&[[0.0, 0.0], [40.0, 0.0], [40.0, 40.0]]])]);
    assert_eq!((told.len(), told[0].severity), (1, Severity::Note));
    let told =
        faults(vec![line("ring", &[&[[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0], [0.0, 2.0]]])]);
    assert_eq!((told.len(), told[0].severity, told[0].size_mm), (1, Severity::Mend, 2.0));
}

#[test]
fn a_shape_drawn_twice_is_told_of_the_upper_one_wherever_its_corners_start() {
    let mut again = shifted(&SQUARE, 0.2, -0.1);
    again.rotate_left(2);
    again.reverse();
    let told = faults(vec![filled("lower", &[&SQUARE]), filled("upper", &[&again])]);
    assert_eq!(kinds(&told), [("upper", FaultKind::Doubled)]);
    assert!((told[0].size_mm - 0.05f64.sqrt()).abs() < 1e-9, "{}", told[0].size_mm);
    assert!(told[0].text.contains("lower"), "{}", told[0].text);
    let far = shifted(&SQUARE, 0.8, 0.0);
    assert_eq!(faults(vec![filled("lower", &[&SQUARE]), filled("upper", &[&far])]), []);
}

#[test]
fn a_circle_flattened_otherwise_is_still_the_same_circle() {
    let (a, b) = (circle(pt(50.0, 50.0), 20.0, 90), circle(pt(50.0, 50.0), 20.3, 41));
    let told = faults(vec![
        element("a", vec![closed(&a)], true),
        element("b", vec![closed(&b)], true),
        element("c", vec![closed(&circle(pt(50.0, 50.0), 22.0, 90))], true),
    ]);
    assert_eq!(kinds(&told), [("b", FaultKind::Doubled)]);
}

#[test]
fn an_inlay_that_fills_a_cut_out_is_as_meant() {
    let window = [[10.0, 10.0], [30.0, 10.0], [30.0, 30.0], [10.0, 30.0]];
    assert_eq!(faults(vec![filled("pane", &[&SQUARE, &window]), filled("inlay", &[&window])]), []);
}

#[test]
fn an_outline_pasted_twice_into_one_element_is_told_once() {
    // By the even-odd rule nothing of it is filled at all.
    let told = faults(vec![filled("pane", &[&SQUARE, &SQUARE])]);
    assert_eq!(kinds(&told), [("pane", FaultKind::Doubled)]);
}

#[test]
fn a_pile_of_copies_is_told_copy_by_copy() {
    let told = faults((0..300).map(|k| filled(&format!("copy{k}"), &[&SQUARE])).collect());
    assert_eq!(told.len(), 299);
    assert!(told.iter().all(|f| f.text.contains("copy0 ")), "all lie on the first");
}

#[test]
fn a_line_that_comes_back_on_itself_is_a_doubled_stretch() {
    let whisker =
        [[0.0, 0.0], [40.0, 0.0], [40.0, 20.0], [60.0, 20.0], [40.0, 20.0], [40.0, 40.0], [0.0, 40.0]];
    let told = faults(vec![filled("pane", &[&whisker])]);
    assert_eq!(kinds(&told), [("pane", FaultKind::Doubled)]);
    assert_eq!(told[0].size_mm, 20.0);
    // Nearly so, and in several sides.
    let pen = [
        [0.0, 0.0],
        [40.0, 0.0],
        [40.0, 20.0],
        [50.0, 20.5],
        [60.0, 20.0],
        [60.0, 20.05],
        [50.0, 20.56],
        [40.0, 20.06],
        [40.0, 40.0],
        [0.0, 40.0],
    ];
    let told = faults(vec![filled("pane", &[&pen])]);
    assert_eq!(told.iter().filter(|f| f.kind == FaultKind::Doubled).count(), 1);
    assert!((told[0].size_mm - 20.0).abs() < 0.2, "{}", told[0].size_mm);
}

#[test]
fn a_bow_tie_crosses_where_its_lines_do() {
    let told = faults(vec![filled("bow", &[&[[0.0, 0.0], [30.0, 20.0], [30.0, 0.0], [0.0, 20.0]]])]);
    assert_eq!(kinds(&told), [("bow", FaultKind::Crossing)]);
    assert!(distance(told[0].at, pt(15.0, 10.0)) < 1e-9);
}

#[test]
fn a_bow_tie_with_a_corner_at_the_crossing_crosses_too() {
    let bow = [[0.0, 0.0], [15.0, 10.0], [30.0, 20.0], [30.0, 0.0], [15.0, 10.0], [0.0, 20.0]];
    let told = faults(vec![filled("bow", &[&bow])]);
    assert_eq!(kinds(&told), [("bow", FaultKind::Crossing)]);
    assert!(told[0].text.contains("crosses"), "{}", told[0].text);
    let corner_on_side = [[0.0, 0.0], [30.0, 20.0], [30.0, 0.0], [15.0, 10.0], [0.0, 20.0]];
    let told = faults(vec![filled("bow", &[&corner_on_side])]);
    assert_eq!(kinds(&told), [("bow", FaultKind::Crossing)]);
}

#[test]
fn an_outline_that_only_touches_itself_is_told_as_touching() {
    // Two squares joined at one corner in one outline.
    let kiss = [
        [0.0, 0.0],
        [20.0, 0.0],
        [20.0, 20.0],
        [40.0, 20.0],
        [40.0, 40.0],
        [20.0, 40.0],
        [20.0, 20.0],
        [0.0, 20.0],
    ];
    let told = faults(vec![filled("kiss", &[&kiss])]);
    let crossings: Vec<_> = told.iter().filter(|f| f.kind == FaultKind::Crossing).collect();
    assert_eq!((crossings.len(), crossings[0].at), (1, pt(20.0, 20.0)));
    assert!(crossings[0].text.contains("touches"), "{}", crossings[0].text);
}

#[test]
fn a_cut_out_that_crosses_its_outline_is_told() {
    let window = [[30.0, 10.0], [50.0, 10.0], [50.0, 30.0], [30.0, 30.0]];
    let told = faults(vec![filled("pane", &[&SQUARE, &window])]);
    let places: Vec<Point> = told.iter().filter(|f| f.kind == FaultKind::Crossing).map(|f| f.at).collect();
    assert_eq!(places, [pt(40.0, 10.0), pt(40.0, 30.0)]);
}

#[test]
fn crumbs_are_parts_cut_outs_and_slips_of_the_pen() {
    let told = faults(vec![filled(
        "pane",
        &[
            &SQUARE,
            &[[10.0, 10.0], [12.0, 10.0], [12.0, 11.0], [10.0, 11.0]],
            &[[60.0, 10.0], [62.0, 10.0], [62.0, 12.0], [60.0, 12.0]],
            &[[80.0, 10.0], [80.1, 10.0], [80.1, 10.1]],
        ],
    )]);
    let crumbs: Vec<_> =
        told.iter().map(|f| (f.kind, f.severity, (f.at.x * 100.0).round() / 100.0)).collect();
    let crumb = FaultKind::Crumb;
    assert_eq!(
        crumbs,
        [(crumb, Severity::Note, 11.0), (crumb, Severity::Mend, 61.0), (crumb, Severity::Mend, 80.05)]
    );
}

#[test]
fn many_crossings_on_one_element_are_folded() {
    // A zigzag over a straight way back: sixteen crossings.
    let mut zigzag: Vec<[f64; 2]> =
        (0..=16).map(|k| [f64::from(k) * 10.0, if k % 2 == 0 { -5.0 } else { 5.0 }]).collect();
    zigzag.extend([[170.0, 0.0], [-10.0, 0.0]]);
    let told: Vec<_> = faults(vec![filled("saw", &[&zigzag])])
        .into_iter()
        .filter(|f| f.kind == FaultKind::Crossing)
        .collect();
    assert_eq!(told.len(), 3);
    assert_eq!(told.iter().map(|f| f.more).sum::<usize>() + 3, 16);
}

#[test]
fn wild_coordinates_are_passed_over() {
    let told = faults(vec![
        filled("nan", &[&[[f64::NAN, 0.0], [1.0, 0.0], [0.0, 1.0]]]),
        filled("far", &[&[[1e300, 0.0], [-1e300, 0.0], [0.0, 1e300]]]),
        filled("nothing", &[&[]]),
        filled("point", &[&[[5.0, 5.0]]]),
    ]);
    assert!(told.iter().all(|f| f.at.x.is_finite()), "{told:?}");
}

proptest! {
    /// Crossings told equal those found by solving every pair of sides for their meeting point.
    #[test]
    fn crossings_are_those_of_plain_reckoning(at in prop::collection::vec((0.0..90.0f64, 0.0..90.0f64), 4..40)) {
        let ring: Vec<Point> = at.iter().map(|&(x, y)| pt(x, y)).collect();
        let n = ring.len();
        let mut expected = 0;
        for i in 0..n {
            for j in i + 2..n {
                if i == 0 && j == n - 1 {
                    continue;
                }
                let (p, r) = (ring[i], ring[i + 1] - ring[i]);
                let (q, s) = (ring[j], ring[(j + 1) % n] - ring[j]);
                let det = r.x * s.y - r.y * s.x;
                let (t, u) = (((q - p).x * s.y - (q - p).y * s.x) / det, ((q - p).x * r.y - (q - p).y * r.x) / det);
                prop_assume!([t, t - 1.0, u, u - 1.0].iter().all(|v| v.abs() > 1e-9));
                if (0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&u) {
                    expected += 1;
                }
            }
        }
        let told = faults(vec![element("scribble", vec![closed(&ring)], true)]);
        let found: usize = told.iter().filter(|f| f.kind == FaultKind::Crossing).map(|f| 1 + f.more).sum();
        prop_assert_eq!(found, expected);
    }
}

#[test]
fn a_scribble_no_one_could_mend_is_given_up_and_said() {
    // Seven hundred long strokes to and fro cross each other about two hundred thousand times.
    let strokes: Vec<Point> =
        (0..700).map(|k| pt(if k % 2 == 0 { 0.0 } else { 900.0 }, f64::from((k * 271) % 701))).collect();
    let mut scribble = element("scribble", Vec::new(), true);
    scribble.subpaths = vec![closed(&strokes)];
    let told = of_drawing(&drawing(vec![scribble]), &FaultLimits::default());
    assert!(told.iter().any(|f| f.text.contains("so tangled")), "{told:?}");
}
