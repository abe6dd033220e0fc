use super::*;
use crate::shape::{Pose, distance};
use proptest::prelude::*;

fn seen(pairs: &[((f64, f64), (f64, f64))]) -> Vec<Sighting> {
    pairs.iter().map(|&(c, b)| Sighting { cloth: pt(c.0, c.1), bed: pt(b.0, b.1) }).collect()
}

fn mean_square(map: &Affine, seen: &[Sighting]) -> f64 {
    seen.iter().map(|s| distance(s.off(map), pt(0.0, 0.0)).powi(2)).sum::<f64>() / seen.len() as f64
}

fn near(map: &Affine, want: [f64; 6], by: f64) {
    for (found, want) in map.0.iter().zip(want) {
        assert!((found - want).abs() <= by, "{found} against {want}");
    }
}

/// The worked example of Umeyama 1991, section IV: (0,0), (1,0), (0,2) seen at (0,0), (−1,0), (0,2). Inputs from memory;
/// the values by singular value decomposition in numpy 2.4: stretch 0.721110, turn −33.690°, shift (−0.8, 0.4), mean
/// square 0.533333; the same worked by hand is exact in fifteenths.
#[test]
fn the_worked_example_of_umeyama_comes_out() {
    let example = seen(&[((0.0, 0.0), (0.0, 0.0)), ((1.0, 0.0), (-1.0, 0.0)), ((0.0, 2.0), (0.0, 2.0))]);
    let map = fit(FitKind::Similarity, &example, false).unwrap();
    let (scale, turn) = (0.721_110_255_092_797_7, -33.690_067_525_979_79_f64);
    let (c, s) = (scale * libm::cos(turn.to_radians()), scale * libm::sin(turn.to_radians()));
    near(&map, [c, s, -s, c, -0.8, 0.4], 1e-12);
    assert!((mean_square(&map, &example) - 8.0 / 15.0).abs() < 1e-12);
    // Without a stretch: shift (−0.98048, 0.29687), mean square 0.61975.
    let map = fit(FitKind::Rigid, &example, false).unwrap();
    assert!((map.0[4] + 0.98048).abs() < 5e-6 && (map.0[5] - 0.29687).abs() < 5e-6, "{map:?}");
    assert!((mean_square(&map, &example) - 0.61975).abs() < 5e-6);
    // With the reflection that the example avoids, it fits exactly.
    let map = fit(FitKind::Rigid, &example, true).unwrap();
    near(&map, [-1.0, 0.0, 0.0, 1.0, 0.0, 0.0], 1e-12);
}

/// numpy 2.4: rotation by `linalg.svd` of the cross-covariance (Kabsch), affine by `linalg.lstsq`.
#[test]
fn four_marks_fit_as_in_a_reference_library() {
    let marks = seen(&[
        ((0.0, 0.0), (12.6, -7.2)),
        ((300.0, 0.0), (310.8, 0.5)),
        ((300.0, 200.0), (305.7, 199.4)),
        ((0.0, 200.0), (7.2, 191.8)),
    ]);
    let (c, s) = (0.999_665_51, 0.025_862_42);
    let rigid = fit(FitKind::Rigid, &marks, false).unwrap();
    near(&rigid, [c, s, -s, c, 11.711_414_88, -7.720_913_65], 5e-9);
    assert!((mean_square(&rigid, &marks) - 0.852_686_562_940_599_6).abs() < 1e-12);
    let k = 0.994_909_708_668_262_4;
    let similar = fit(FitKind::Similarity, &marks, false).unwrap();
    near(&similar, [k * c, k * s, -k * s, k * c, 12.461_538_46, -7.192_307_69], 1e-8);
    assert!((mean_square(&similar, &marks) - 0.010_576_923_076_921_974).abs() < 1e-12);
    let affine = fit(FitKind::Affine, &marks, false).unwrap();
    near(&affine, [0.9945, 0.0255, -0.02625, 0.99475, 12.525, -7.175], 1e-12);
    assert!((mean_square(&affine, &marks) * 4.0 - 0.025).abs() < 1e-12);
}

/// The same library, five marks of a cloth that lies face down.
#[test]
fn a_cloth_face_down_keeps_its_reflection() {
    let marks = seen(&[
        ((1711.3, 402.9), (88.12, 411.03)),
        ((1399.2, 433.1), (399.87, 438.30)),
        ((1288.7, 1975.5), (520.10, 1979.92)),
        ((1802.4, 1960.2), (6.43, 1968.85)),
        ((1550.0, 1200.0), (254.30, 1206.71)),
    ]);
    let rigid = fit(FitKind::Rigid, &marks, true).unwrap();
    near(
        &rigid,
        [-0.999_979_91, 0.006_338_28, 0.006_338_28, 0.999_979_91, 1796.482_798_88, -3.180_369_31],
        1e-8,
    );
    assert!((mean_square(&rigid, &marks) - 0.238_536_726_522_349).abs() < 1e-9);
    let similar = fit(FitKind::Similarity, &marks, true).unwrap();
    assert!((mean_square(&similar, &marks) - 0.235_593_549_179_956).abs() < 1e-9);
    let affine = fit(FitKind::Affine, &marks, true).unwrap();
    near(
        &affine,
        [-0.999_359_919, 0.006_177_864_35, 0.008_543_633_08, 0.999_968_717, 1795.7132, -6.586_002_98],
        1e-6,
    );
}

#[test]
fn points_that_do_not_fix_a_map_give_none() {
    let line = seen(&[((0.0, 0.0), (0.0, 0.0)), ((1e2, 1e2), (1e2, 1e2)), ((2e2, 2e2), (2e2, 2e2))]);
    assert_eq!(fit(FitKind::Affine, &line, false), None);
    assert!(fit(FitKind::Similarity, &line, false).is_some());
    let one = seen(&[((5.0, 5.0), (7.0, 7.0)), ((5.0, 5.0), (7.0, 7.0))]);
    assert_eq!(fit(FitKind::Rigid, &one, false), None);
    assert_eq!(fit(FitKind::Rigid, &one[..1], false), None);
}

/// A stretch of 1 % across and a shear, by hand: axes (1.01, 0) and (0.01, 1): out of square by asin 0.01/√1.0001.
#[test]
fn a_map_comes_apart_into_distortion_and_turn() {
    let pose = Pose { turn_deg: 40.0, shift: pt(3.0, 4.0) }.affine();
    let flip = Affine([-1.0, 0.0, 0.0, 1.0, 0.0, 0.0]);
    for rigid in [pose, pose.after(&flip)] {
        let map = rigid.after(&Affine([1.01, 0.0, 0.01, 1.0, 0.0, 0.0]));
        let d = Distortion::of(&map).unwrap();
        assert!((d.across - 0.01).abs() < 1e-12);
        assert!((d.along - (1.0001f64.sqrt() - 1.0)).abs() < 1e-12);
        assert!((d.shear_deg - libm::asin(0.01 / 1.0001f64.sqrt()).to_degrees()).abs() < 1e-9);
        let again = d.rigid.after(&d.map);
        near(&again, [map.0[0], map.0[1], map.0[2], map.0[3], 0.0, 0.0], 1e-12);
        assert!((d.rigid.determinant().abs() - 1.0).abs() < 1e-12);
        assert!((d.map.0[1] - d.map.0[2]).abs() < 1e-15);
    }
    assert_eq!(Distortion::of(&Affine([1.0, 2.0, 2.0, 4.0, 0.0, 0.0])), None);
}

fn points() -> impl Strategy<Value = Vec<Point>> {
    // Two metres from the origin, in a band of cloth, never in a line.
    prop::collection::vec((0.0..700.0f64, 0.0..60.0f64), 1..5).prop_map(|more| {
        let corners = [(0.0, 0.0), (650.0, 10.0), (300.0, 70.0)];
        corners.into_iter().chain(more).map(|(x, y)| pt(1300.0 + x, 1900.0 + y)).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn an_exact_map_is_recovered_to_a_millionth_of_a_micrometre(
        points in points(), turn in -180.0..180.0f64, x in -2000.0..2000.0f64, y in -2000.0..2000.0f64,
        stretch in 0.99..1.01f64, shear in -0.01..0.01f64, mirrored in any::<bool>(),
    ) {
        let flip = Affine([if mirrored { -1.0 } else { 1.0 }, 0.0, 0.0, 1.0, 0.0, 0.0]);
        let rigid = Pose { turn_deg: turn, shift: pt(x, y) }.affine().after(&flip);
        let similar = rigid.after(&Affine([stretch, 0.0, 0.0, stretch, 0.0, 0.0]));
        let affine = similar.after(&Affine([1.0, 0.0, shear, 2.0 - stretch, 0.0, 0.0]));
        for (kind, map) in FitKind::ALL.into_iter().zip([rigid, similar, affine]) {
            let seen: Vec<Sighting> = points.iter().map(|&p| Sighting { cloth: p, bed: map.apply(p) }).collect();
            let found = fit(kind, &seen, mirrored).unwrap();
            for s in &seen {
                prop_assert!(distance(found.apply(s.cloth), s.bed) < 1e-9, "{kind:?}");
            }
            // And at the far end of the window, where nothing was measured.
            let far = pt(1300.0, 2500.0);
            let by = if kind == FitKind::Affine { 1e-7 } else { 1e-8 };
            prop_assert!(distance(found.apply(far), map.apply(far)) < by, "{kind:?}");
        }
    }

    #[test]
    fn what_is_turned_on_the_bed_turns_the_fit(
        points in points(), noise in prop::collection::vec((-0.5..0.5f64, -0.5..0.5f64), 8),
        turn in -180.0..180.0f64, x in -500.0..500.0f64, mirrored in any::<bool>(),
    ) {
        let flip = Affine([if mirrored { -1.0 } else { 1.0 }, 0.0, 0.0, 1.0, 0.0, 0.0]);
        let more = Pose { turn_deg: turn, shift: pt(x, -x) }.affine();
        let seen: Vec<Sighting> = points.iter().zip(&noise)
            .map(|(&p, n)| Sighting { cloth: p, bed: flip.apply(p) + pt(n.0, n.1) }).collect();
        let turned: Vec<Sighting> = seen.iter().map(|s| Sighting { bed: more.apply(s.bed), ..*s }).collect();
        for kind in FitKind::ALL {
            let (a, b) = (fit(kind, &seen, mirrored).unwrap(), fit(kind, &turned, mirrored).unwrap());
            for p in &points {
                prop_assert!(distance(more.apply(a.apply(*p)), b.apply(*p)) < 1e-8, "{kind:?}");
            }
        }
    }

    /// Least squares: no small change of the map does better.
    #[test]
    fn no_neighbouring_map_leaves_less(
        points in points(), noise in prop::collection::vec((-0.5..0.5f64, -0.5..0.5f64), 8),
        turn in -1e-4..1e-4f64, x in -1e-2..1e-2f64, y in -1e-2..1e-2f64, stretch in -1e-4..1e-4f64,
    ) {
        let seen: Vec<Sighting> = points.iter().zip(&noise)
            .map(|(&p, n)| Sighting { cloth: p, bed: p + pt(n.0, n.1) }).collect();
        let about = middle(seen.iter().map(|s| s.bed));
        for kind in FitKind::ALL {
            let best = fit(kind, &seen, false).unwrap();
            let k = if kind == FitKind::Rigid { 1.0 } else { 1.0 + stretch };
            let (c, s) = (k * libm::cos(turn), k * libm::sin(turn));
            let nudge = Affine([c, s, -s, c, 0.0, 0.0]);
            let moved = |p: Point| nudge.apply(p - about) + about + pt(x, y);
            let nudged: f64 = seen.iter().map(|s| distance(s.bed, moved(best.apply(s.cloth))).powi(2)).sum();
            prop_assert!(mean_square(&best, &seen) * seen.len() as f64 <= nudged + 1e-9);
        }
    }
}
