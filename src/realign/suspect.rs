//! Measurements that cannot be what they say: another unit, the cloth turned over, one place read twice.

use super::fit::{Distortion, FitKind, Sighting, fit, middle};
use crate::say::Trouble;
use crate::shape::{Affine, Point, distance, pt, tol};

/// Units that are not millimetres: how many millimetres one is, and what it is called.
const UNITS: [(f64, &str); 7] = [
    (25.4, "inches"),
    (10.0, "centimetres"),
    (1000.0, "metres"),
    (304.8, "feet"),
    (25.4 / 96.0, "pixels (96 to the inch)"),
    (25.4 / 72.0, "points (72 to the inch)"),
    (0.0254, "thousandths of an inch"),
];
/// How near a unit's ratio must be met, share: marks are read to far better, other ratios lie farther off.
const UNIT_MET: f64 = 0.03;
/// No bed is so long, m.
const LONGEST_BED_M: f64 = 10.0;
/// Two marks measured nearer than this are one mark measured twice, mm.
const ONE_PLACE_MM: f64 = 2.0;
/// Turned over is believed when it leaves less than this share of the residual.
const FAR_BETTER: f64 = 0.25;
/// Residuals below this many mark errors are no ground for suspicion.
const WORTH_A_LOOK: f64 = 4.0;
/// Marks that fit no better than this share of their spread are those of another work, or their names are mixed up.
const UNLIKE: f64 = 0.25;
/// Cloth is put down this true by eye, degrees: more is a mistake in the names.
const MOST_TURN_DEG: f64 = 30.0;

/// Looks for a mistake in `seen`, called `names`; `about` says whose they are, `mirrored` that the cloth should lie face
/// down.
///
/// # Errors
/// A mistake, named, and what to do.
pub(super) fn mistakes(
    seen: &[Sighting],
    names: &[String],
    mirrored: bool,
    mark_error_mm: f64,
    about: &str,
) -> Result<(), Trouble> {
    // In metres all marks of a bed seem to lie at its corner, and each other.
    let at_the_corner = |s: &Sighting| s.bed.x.abs().max(s.bed.y.abs()) < LONGEST_BED_M;
    let unit = other_unit(seen, about);
    if let Some(trouble) = unit.as_ref().filter(|_| seen.iter().all(at_the_corner)) {
        return Err(trouble.clone());
    }
    for (i, a) in seen.iter().enumerate() {
        for (j, b) in seen.iter().enumerate().skip(i + 1) {
            if distance(a.bed, b.bed) < ONE_PLACE_MM && distance(a.cloth, b.cloth) >= ONE_PLACE_MM {
                let what = format!("{} and {} are measured at the same place", names[i], names[j]);
                let apart = distance(a.cloth, b.cloth);
                let hint = format!("on the cloth they lie {apart:.0} mm apart; measure both again");
                return Err(Trouble::bad_input(about, what).hint(hint));
            }
        }
    }
    if let Some(trouble) = unit {
        return Err(trouble);
    }
    if seen.len() > 2
        && let (Some(as_planned), Some(turned_over)) = (left(seen, mirrored), left(seen, !mirrored))
        && as_planned > WORTH_A_LOOK * mark_error_mm
        && turned_over < FAR_BETTER * as_planned
    {
        let (lies, planned) = if mirrored { ("up", "down") } else { ("down", "up") };
        let what = format!("the marks lie mirrored: the cloth was turned over, it lies face {lies}");
        let hint = format!(
            "lay it face {planned} as planned, and measure x to the right and y away from you, from the near left \
                     corner of the bed"
        );
        return Err(Trouble::cannot(about, what).hint(hint));
    }
    Ok(())
}

/// That the marks are measured in another unit, where they are.
fn other_unit(seen: &[Sighting], about: &str) -> Option<Trouble> {
    let ratio = size(seen.iter().map(|s| s.bed)) / size(seen.iter().map(|s| s.cloth));
    let (_, unit) = UNITS.iter().find(|(mm, _)| (ratio * mm - 1.0).abs() < UNIT_MET)?;
    let what = format!("the marks are measured in {unit}, not in millimetres");
    let hint = "give x_mm and y_mm in millimetres, from the near left corner of the bed";
    Some(Trouble::bad_input(about, what).hint(hint))
}

/// Refuses a cloth that lies turned too far under `found` against `planned`.
///
/// # Errors
/// By how much, and what may be the cause.
pub(super) fn turned(planned: &Affine, found: &Affine, about: &str) -> Result<(), Trouble> {
    if let Some(turn) = turn_deg(planned, found)
        && turn.abs() > MOST_TURN_DEG
    {
        let what = format!("by these marks the cloth lies turned by {turn:.0}° against the plan");
        let hint = "look whether names are exchanged, or whether the cloth lies the wrong way round";
        return Err(Trouble::cannot(about, what).hint(hint));
    }
    Ok(())
}

/// How far points spread, mm: the root of the sum of their squared distances from their middle.
fn size(points: impl Iterator<Item = Point> + Clone) -> f64 {
    let centre = middle(points.clone());
    points.map(|p| distance(p, centre).powi(2)).sum::<f64>().sqrt()
}

/// What the best fit leaves, mm root mean square. The stretch is left free: a stretched cloth must not look like one
/// turned over.
fn left(seen: &[Sighting], mirrored: bool) -> Option<f64> {
    let map = fit(FitKind::Similarity, seen, mirrored)?;
    let squares = seen.iter().map(|s| distance(s.off(&map), pt(0.0, 0.0)).powi(2)).sum::<f64>();
    Some((squares / seen.len() as f64).sqrt())
}

/// The two of `seen` that agree with the others once their names are exchanged.
pub(super) fn exchanged(seen: &[Sighting], mirrored: bool, mark_error_mm: f64) -> Option<(usize, usize)> {
    let pairs = (0..seen.len()).flat_map(|i| (i + 1..seen.len()).map(move |j| (i, j)));
    let with = |(i, j): (usize, usize)| {
        let mut other = seen.to_vec();
        (other[i].bed, other[j].bed) = (seen[j].bed, seen[i].bed);
        let map = fit(FitKind::Rigid, &other, mirrored)?;
        let worst = other.iter().map(|s| distance(s.off(&map), pt(0.0, 0.0))).fold(0.0, f64::max);
        Some((worst, (i, j)))
    };
    let best = pairs.filter_map(with).min_by(|a, b| a.0.total_cmp(&b.0)).filter(|_| seen.len() > 2)?;
    (best.0 < WORTH_A_LOOK * mark_error_mm.max(tol::LEAST_MARK_ERROR_MM)).then_some(best.1)
}

/// True when the places measured are of another shape altogether than those on the cloth.
pub(super) fn unlike(seen: &[Sighting], mirrored: bool) -> bool {
    let spread = size(seen.iter().map(|s| s.cloth)) / (seen.len().max(1) as f64).sqrt();
    seen.len() > 2 && left(seen, mirrored).is_some_and(|off| off > UNLIKE * spread)
}

/// By how much the cloth lies turned on the bed under `found` against `planned`, degrees counter-clockwise.
pub(super) fn turn_deg(planned: &Affine, found: &Affine) -> Option<f64> {
    let (planned, found) = (Distortion::of(planned)?.rigid, Distortion::of(found)?.rigid);
    let [a, b, ..] = found.after(&planned.inverse()?).0;
    Some(libm::atan2(b, a).to_degrees())
}
