//! Measurements that cannot be what they say: another unit, the cloth turned over, one place read twice.

use super::fit::{Distortion, FitKind, Sighting, fit, middle};
use crate::say::Trouble;
use crate::shape::{Affine, Point, distance, pt};

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
/// Two marks measured nearer than this are one mark measured twice, mm.
const ONE_PLACE_MM: f64 = 2.0;
/// Turned over is believed when it leaves less than this share of the residual.
const FAR_BETTER: f64 = 0.25;
/// Residuals below this many mark errors are no ground for suspicion.
const WORTH_A_LOOK: f64 = 4.0;
/// Cloth is put down this true by eye, degrees: more is a mistake in the names.
const MOST_TURN_DEG: f64 = 30.0;

/// Looks for a mistake in `seen`, called `names`; `about` says whose they are, `planned` is where the cloth should lie.
///
/// # Errors
/// A mistake, named, and what to do.
pub(super) fn mistakes(
    seen: &[Sighting],
    names: &[String],
    planned: &Affine,
    mark_error_mm: f64,
    about: &str,
) -> Result<(), Trouble> {
    let mirrored = planned.determinant() < 0.0;
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
    let size = |points: Vec<Point>| {
        let centre = middle(points.iter().copied());
        points.iter().map(|&p| distance(p, centre).powi(2)).sum::<f64>().sqrt()
    };
    let ratio = size(seen.iter().map(|s| s.bed).collect()) / size(seen.iter().map(|s| s.cloth).collect());
    if let Some((_, unit)) = UNITS.iter().find(|(mm, _)| (ratio * mm - 1.0).abs() < UNIT_MET) {
        let what = format!("the marks are measured in {unit}, not in millimetres");
        let hint = "give x_mm and y_mm in millimetres, from the near left corner of the bed";
        return Err(Trouble::bad_input(about, what).hint(hint));
    }
    if seen.len() > 2 {
        // The stretch is left free: a stretched cloth must not look like one turned over.
        let left = |mirrored: bool| {
            fit(FitKind::Similarity, seen, mirrored).map(|m| {
                (seen.iter().map(|s| distance(s.off(&m), pt(0.0, 0.0)).powi(2)).sum::<f64>()
                    / seen.len() as f64)
                    .sqrt()
            })
        };
        if let (Some(as_planned), Some(turned_over)) = (left(mirrored), left(!mirrored)) {
            if as_planned > WORTH_A_LOOK * mark_error_mm && turned_over < FAR_BETTER * as_planned {
                let (lies, planned) = if mirrored { ("up", "down") } else { ("down", "up") };
                let what = format!("the marks lie mirrored: the cloth was turned over, it lies face {lies}");
                let hint = format!(
                    "lay it face {planned} as planned, and measure x to the right and y away from you, from the near left \
                     corner of the bed"
                );
                return Err(Trouble::cannot(about, what).hint(hint));
            }
        }
    }
    if let Some(turn) = fit(FitKind::Rigid, seen, mirrored).and_then(|m| turn_deg(planned, &m)) {
        if turn.abs() > MOST_TURN_DEG {
            let what = format!("by these marks the cloth lies turned by {turn:.0}° against the plan");
            let hint = "look whether names are exchanged, or whether the cloth lies the wrong way round";
            return Err(Trouble::cannot(about, what).hint(hint));
        }
    }
    Ok(())
}

/// By how much the cloth lies turned on the bed under `found` against `planned`, degrees counter-clockwise.
pub(super) fn turn_deg(planned: &Affine, found: &Affine) -> Option<f64> {
    let (planned, found) = (Distortion::of(planned)?.rigid, Distortion::of(found)?.rigid);
    let [a, b, ..] = found.after(&planned.inverse()?).0;
    Some(libm::atan2(b, a).to_degrees())
}
