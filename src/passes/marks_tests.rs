use super::*;
use crate::passes::tests::rect;
use crate::shape::Region;

/// Two marks 2·f apart and a target at distance d from their middle: by hand e²/2 · (1 + d²/(2·f²)).
#[test]
fn the_expected_error_follows_its_formula() {
    let marks = [pt(-50.0, 0.0), pt(50.0, 0.0)];
    let e = |x: f64, y: f64| expected_error_mm(&marks, pt(x, y), 0.25);
    assert!((e(0.0, 0.0) - 0.25 / 2f64.sqrt()).abs() < 1e-12);
    assert!((e(0.0, 100.0) - 0.25 * (0.5 * (1.0 + 10_000.0 / 5_000.0_f64)).sqrt()).abs() < 1e-12);
    assert_eq!(e(100.0, 0.0), e(0.0, 100.0), "the direction does not matter");
    assert_eq!(expected_error_mm(&marks[..1], pt(0.0, 0.0), 0.25), f64::INFINITY);
    assert_eq!(expected_error_mm(&[pt(1.0, 1.0); 3], pt(0.0, 0.0), 0.25), f64::INFINITY);
}

/// The formula against marks really measured with errors and fitted rigidly (Horn 1987, J. Opt. Soc. Am. A 4; in the
/// plane, with complex numbers: turn by the argument of Σ y·conj(x)), many thousand times.
#[test]
fn fits_to_erring_marks_err_as_expected() {
    let marks = [pt(0.0, 0.0), pt(400.0, 20.0), pt(180.0, 70.0)];
    let target = pt(500.0, -60.0);
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut uniform = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    // Twelve uniform numbers less six: nearly normal with variance 1. Half the variance for each direction.
    let e = 0.25;
    let mut normal = || ((0..12).map(|_| uniform()).sum::<f64>() - 6.0) * e / 2f64.sqrt();
    let n = marks.len() as f64;
    let mean = |p: &[Point]| p.iter().fold(pt(0.0, 0.0), |s, &q| s + q) / n;
    let centre = mean(&marks);
    let (mut sum, trials) = (0.0, 20_000);
    for _ in 0..trials {
        let seen: Vec<Point> = marks.iter().map(|&m| m + pt(normal(), normal())).collect();
        let middle = mean(&seen);
        let (mut re, mut im) = (0.0, 0.0);
        for (&m, &s) in marks.iter().zip(&seen) {
            let (x, y) = (m - centre, s - middle);
            re += x.x * y.x + x.y * y.y;
            im += x.x * y.y - x.y * y.x;
        }
        let (c, s) = (re / re.hypot(im), im / re.hypot(im));
        let v = target - centre;
        let put = middle + pt(c * v.x - s * v.y, s * v.x + c * v.y);
        sum += distance(put, target).powi(2);
    }
    let seen = (sum / f64::from(trials)).sqrt();
    let expected = expected_error_mm(&marks, target, e);
    assert!((seen / expected - 1.0).abs() < 0.03, "{seen} against {expected}");
}

#[test]
fn names_go_on_after_z() {
    let names: Vec<String> = [0, 25, 26, 51, 52, 701, 702].into_iter().map(mark_name).collect();
    assert_eq!(names, ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]);
}

#[test]
fn many_spots_are_thinned_to_those_far_apart() {
    let points: Vec<Point> = (0..4000).map(|i| pt(f64::from(i % 100), f64::from(i / 100))).collect();
    let few = spread(&points);
    assert_eq!(few.len(), MOST_SPOTS);
    for corner in [pt(0.0, 0.0), pt(99.0, 0.0), pt(0.0, 39.0), pt(99.0, 39.0)] {
        assert!(few.contains(&corner));
    }
    let near =
        |p: &Point| few.iter().filter(|q| *q != p).map(|q| distance(*p, *q)).fold(f64::INFINITY, f64::min);
    assert!(few.iter().all(|p| near(p) > 5.0));
    assert_eq!(spread(&[pt(1.0, 1.0); 100]).len(), 1, "one place many times is one place");
}

fn two_windows() -> [Bounds; 2] {
    [Bounds::new(pt(0.0, 0.0), pt(500.0, 500.0)), Bounds::new(pt(0.0, 400.0), pt(500.0, 900.0))]
}

#[test]
fn marks_are_chosen_for_the_joints() {
    let cloth = rect(0.0, 0.0, 500.0, 900.0);
    let waste = Waste::new(&cloth.outline, &[], &[]);
    let windows = two_windows();
    let joints = [(0, 1, pt(450.0, 450.0)), (0, 1, pt(430.0, 455.0))];
    let wanted = Wanted {
        windows: &windows,
        joints: &joints,
        burnt: &windows,
        waste: &waste,
        large: &[],
        inset: MARK_INSET_MM,
        last_of: &|_| 0,
    };
    let marks = wanted.choose().unwrap();
    assert!((2..=MARKS_WANTED).contains(&marks.len()));
    let at: Vec<Point> = marks.iter().map(|m| m.at).collect();
    let worst = joints.iter().map(|j| expected_error_mm(&at, j.2, 1.0)).fold(0.0, f64::max);
    // No worse than four marks spread evenly over the band.
    let even = [pt(10.0, 410.0), pt(490.0, 490.0), pt(10.0, 490.0), pt(490.0, 410.0)];
    assert!(worst <= joints.iter().map(|j| expected_error_mm(&even, j.2, 1.0)).fold(0.0, f64::max) + 1e-9);
    let apart = Bounds::of(at);
    assert!(apart.width() > 300.0, "{apart:?}");
}

/// Marks of the pass a joint is with tell its place; those of an earlier one add that pass's own error. By hand: the
/// squares of both errors add up, for they are independent.
#[test]
fn errors_that_earlier_passes_hand_on_count_in_the_choice() {
    let (a, b, joint) = (pt(0.0, 0.0), pt(400.0, 0.0), pt(200.0, 500.0));
    let mark = |at: Point, burnt_by: usize| ChosenMark { at, burnt_by, known_to: vec![] };
    let marks = [mark(a, 0), mark(b, 0), mark(a, 1), mark(b, 1)];
    let mut budget = Budget::default();
    budget.push(&[], 1.0);
    budget.push(&[(a, 0), (b, 0)], 1.0);
    let (windows, cloth) = (two_windows(), rect(0.0, 0.0, 500.0, 900.0));
    let waste = Waste::new(&cloth.outline, &[], &[]);
    let wanted = Wanted {
        windows: &windows,
        joints: &[],
        burnt: &windows,
        waste: &waste,
        large: &[],
        inset: MARK_INSET_MM,
        last_of: &|_| 0,
    };
    let targets = [Target { at: joint, with: 1, weight: 1.0 }];
    let by = |k: usize| {
        let known = |m: usize| Candidate { at: marks[m].at, source: Ok(m) };
        wanted.worst(&[known(k), known(k + 1)], &targets, &marks, &budget)
    };
    let once = expected_error_mm(&[a, b], joint, 1.0);
    assert!((by(2) - once).abs() < 1e-12);
    assert!((by(0) - once * 2f64.sqrt()).abs() < 1e-9, "{} {once}", by(0));
}

/// Waste inside a cut-out is gone once the cut-out is burnt: marks lie there only while it holds.
#[test]
fn marks_in_a_cut_out_are_used_only_while_it_is_there() {
    let frame =
        Region::new(rect(-20.0, -20.0, 540.0, 940.0).outline, vec![rect(2.0, 2.0, 496.0, 896.0).outline]);
    let (cuts, cloth) = ([frame], rect(-30.0, -30.0, 560.0, 960.0));
    let waste = Waste::new(&cloth.outline, &[], &cuts);
    let windows = two_windows();
    let choose = |last: usize| {
        let last_of = move |_| last;
        Wanted {
            windows: &windows,
            joints: &[],
            burnt: &windows,
            waste: &waste,
            large: &[],
            inset: MARK_INSET_MM,
            last_of: &last_of,
        }
        .choose()
    };
    assert!(
        choose(1).is_ok_and(|marks| marks.len() >= 2),
        "burnt with the second pass, after its marks are found"
    );
    let no = choose(0).unwrap_err();
    assert_eq!(no.band, Bounds::new(pt(0.0, 400.0), pt(500.0, 500.0)));
}
