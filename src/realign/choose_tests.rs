use super::*;
use crate::shape::Pose;

const MARKS: [Point; 4] = [pt(1320.0, 1910.0), pt(1980.0, 1925.0), pt(1500.0, 1965.0), pt(1900.0, 1960.0)];

fn purpose(mirrored: bool) -> Purpose<'static> {
    Purpose { mark_error_mm: 0.25, mirrored, asked: None, reach: &[], pattern: false }
}

/// Marks under `map`, each read with an error of about a quarter of a millimetre.
fn read(map: &Affine, noise: [(f64, f64); 4]) -> Vec<Sighting> {
    MARKS.iter().zip(noise).map(|(&p, n)| Sighting { cloth: p, bed: map.apply(p) + pt(n.0, n.1) }).collect()
}

const NOISE: [(f64, f64); 4] = [(0.12, -0.08), (-0.15, 0.1), (0.05, 0.2), (-0.1, -0.17)];

fn lying() -> Affine {
    Pose { turn_deg: 0.7, shift: pt(-1200.0, -1900.0) }.affine()
}

fn stretched(across: f64, along: f64) -> Affine {
    lying().after(&Affine([1.0 + across, 0.0, 0.0, 1.0 + along, 0.0, 0.0]))
}

#[test]
fn a_cloth_only_put_down_elsewhere_is_fitted_rigid() {
    let found = choose(&read(&lying(), NOISE), &purpose(false)).unwrap();
    assert_eq!(
        (found.kind, found.left_out.as_slice(), found.doubtful),
        (FitKind::Rigid, [].as_slice(), false)
    );
}

#[test]
fn a_stretch_worth_correcting_is_corrected() {
    let found = choose(&read(&stretched(0.003, 0.003), NOISE), &purpose(false)).unwrap();
    assert_eq!((found.kind, found.left_out.len()), (FitKind::Similarity, 0));
    let stretch = Distortion::of(&found.map).unwrap().across;
    assert!((stretch - 0.003).abs() < 0.001, "{stretch}");
}

#[test]
fn a_stretch_of_its_own_each_way_needs_marks_far_apart_both_ways() {
    let square = [pt(0.0, 0.0), pt(600.0, 20.0), pt(580.0, 500.0), pt(10.0, 480.0)];
    let map = stretched(0.006, -0.004);
    let seen: Vec<Sighting> = square
        .iter()
        .zip(NOISE)
        .map(|(&p, n)| Sighting { cloth: p, bed: map.apply(p) + pt(n.0, n.1) })
        .collect();
    let far = [pt(0.0, 0.0), pt(700.0, 600.0)];
    let found = choose(&seen, &Purpose { reach: &far, ..purpose(false) }).unwrap();
    assert_eq!(found.kind, FitKind::Affine);
    // In a narrow band the stretch along would be a guess, blown up over the window.
    let band: Vec<Sighting> = read(&map, NOISE);
    let far = [pt(1300.0, 1900.0), pt(2000.0, 2500.0)];
    let found = choose(&band, &Purpose { reach: &far, ..purpose(false) });
    assert!(found.as_ref().is_ok_and(|f| f.kind != FitKind::Affine), "{found:?}");
}

#[test]
fn one_misread_of_four_is_named_and_left_out_face_up_or_down() {
    for mirrored in [false, true] {
        let flip = Affine([if mirrored { -1.0 } else { 1.0 }, 0.0, 0.0, 1.0, 0.0, 0.0]);
        for wrong in 0..4 {
            let mut seen = read(&lying().after(&flip), NOISE);
            seen[wrong].bed = seen[wrong].bed + pt(3.0, -4.0);
            let found = choose(&seen, &purpose(mirrored)).unwrap();
            assert_eq!(found.left_out, [wrong]);
            assert_eq!(found.kind, FitKind::Rigid);
        }
    }
}

#[test]
fn three_that_do_not_agree_are_refused_for_any_might_be_wrong() {
    let mut seen = read(&lying(), NOISE);
    seen.truncate(3);
    seen[1].bed.y += 12.0;
    assert!(matches!(choose(&seen, &purpose(false)), Err(Refused::NoFit(_))));
}

#[test]
fn two_that_lie_too_far_apart_are_refused_unless_the_maker_asks() {
    let mut seen = read(&lying(), NOISE);
    seen.truncate(2);
    assert!(choose(&seen, &purpose(false)).is_ok());
    seen[1].bed.x += 3.0;
    assert!(matches!(choose(&seen, &purpose(false)), Err(Refused::NoFit(_))));
    let asked = Purpose { asked: Some(FitKind::Similarity), ..purpose(false) };
    let found = choose(&seen, &asked).unwrap();
    assert_eq!((found.kind, found.read_error_mm), (FitKind::Similarity, None));
}

#[test]
fn more_stretch_or_shear_than_cloth_has_is_refused() {
    let seen = read(&stretched(0.02, 0.02), NOISE);
    assert!(
        matches!(choose(&seen, &purpose(false)), Err(Refused::Distorted(_, d)) if (d.most - 0.02).abs() < 0.002)
    );
    let shear = lying().after(&Affine([1.0, 0.0, 0.03, 1.0, 0.0, 0.0]));
    let square = [pt(0.0, 0.0), pt(600.0, 20.0), pt(580.0, 500.0), pt(10.0, 480.0)];
    let seen: Vec<Sighting> = square.iter().map(|&p| Sighting { cloth: p, bed: shear.apply(p) }).collect();
    assert!(matches!(choose(&seen, &purpose(false)), Err(Refused::Distorted(_, d)) if d.shear_deg > 1.0));
}

#[test]
fn an_affine_fit_of_marks_in_a_line_is_refused() {
    let line: Vec<Sighting> =
        (0..4).map(|k| pt(200.0 * f64::from(k), 0.0)).map(|p| Sighting { cloth: p, bed: p }).collect();
    let asked = Purpose { asked: Some(FitKind::Affine), ..purpose(false) };
    assert_eq!(choose(&line, &asked), Err(Refused::TooFew(3)));
    assert_eq!(choose(&line, &purpose(false)).unwrap().kind, FitKind::Rigid);
}

#[test]
fn no_mark_error_at_all_still_leaves_room_for_rounding() {
    let seen: Vec<Sighting> = read(&lying(), [(0.0, 0.0); 4])
        .iter()
        .map(|s| Sighting {
            bed: pt((s.bed.x * 100.0).round() / 100.0, (s.bed.y * 100.0).round() / 100.0),
            ..*s
        })
        .collect();
    let found = choose(&seen, &Purpose { mark_error_mm: 0.0, ..purpose(false) }).unwrap();
    assert_eq!((found.kind, found.left_out.len()), (FitKind::Rigid, 0));
}
