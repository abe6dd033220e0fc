//! Why a pass cannot be realigned by what was measured, and what would help.

use super::choose::{MOST_REPEAT_SHEAR_DEG, MOST_REPEAT_STRETCH, MOST_SHEAR_DEG, MOST_STRETCH, Refused};
use super::fit::{Distortion, FitKind, Sighting};
use super::marks::Request;
use super::moved::{Overrun, point};
use super::suspect::{exchanged, unlike};
use crate::plan::{PlanMark, PlanPass};
use crate::say::Trouble;
use crate::shape::{Affine, Bounds, Point, distance, in_a_line, pt};

/// The marks that can be measured before this pass, named.
pub(super) fn known(pass: &PlanPass) -> String {
    let names: Vec<&str> = pass.marks.iter().filter(|m| !m.burnt_here).map(|m| m.name.as_str()).collect();
    if names.is_empty() { "none".into() } else { names.join(", ") }
}

/// Refuses three or more in one line where others could be measured; where none could, what to say of it.
pub(super) fn one_line(
    request: &Request,
    seen: &[Sighting],
    pattern: bool,
) -> Result<Option<String>, Trouble> {
    let points: Vec<Point> = seen.iter().map(|s| s.cloth).collect();
    if points.len() < 3 || !in_a_line(&points) {
        return Ok(None);
    }
    let says = "they say no more than two: neither whether the cloth was turned over nor whether it is stretched across";
    if pattern {
        return Err(Trouble::bad_input(request.file, format!("the pivots lie in a line; {says}"))
            .hint("measure one off that line too, or give two of them alone"));
    }
    let off = |m: &&PlanMark| {
        let with: Vec<Point> = points.iter().copied().chain([point(&m.cloth)]).collect();
        !m.burnt_here && !in_a_line(&with)
    };
    let others = request.plan.passes[request.pass].marks.iter().filter(off);
    let others: Vec<&str> = others.map(|m| m.name.as_str()).collect();
    if others.is_empty() {
        return Ok(Some(format!("All marks lie in a line; {says}.")));
    }
    Err(Trouble::bad_input(request.file, format!("the marks lie in a line; {says}"))
        .hint(format!("measure one off that line too ({}), or give two of them alone", others.join(", "))))
}

pub(super) fn on_the_bed(
    seen: &[Sighting],
    names: &[String],
    pass: &PlanPass,
    file: &str,
) -> Result<(), Trouble> {
    let [w, h] = pass.bed_mm;
    let bed = Bounds::new(pt(0.0, 0.0), pt(w, h)).grown(1.0);
    let Some(k) = seen.iter().position(|s| !bed.contains(s.bed)) else { return Ok(()) };
    let at = seen[k].bed;
    let what =
        format!("{} is measured at ({:.1}, {:.1}) mm, off the bed of {w} × {h} mm", names[k], at.x, at.y);
    Err(Trouble::bad_input(file, what)
        .hint("measure x to the right and y away from you, from the near left corner of the bed"))
}

/// The corners of what the pass burns, cloth frame.
pub(super) fn reach(pass: &PlanPass, map: &Affine) -> Vec<Point> {
    let Some(back) = map.inverse() else { return Vec::new() };
    let burnt = Bounds::of(pass.burns.iter().flat_map(|b| &b.path).map(|p| back.apply(point(p))));
    if burnt.is_empty() { Vec::new() } else { burnt.corners().to_vec() }
}

pub(super) fn length(p: Point) -> f64 {
    distance(p, pt(0.0, 0.0))
}

/// `Distortion` in words.
pub(super) fn distorted(d: &Distortion) -> String {
    format!(
        "{:+.2} % across, {:+.2} % along, {:.2}° out of square",
        100.0 * d.across,
        100.0 * d.along,
        d.shear_deg.abs()
    )
}

pub(super) fn refusal(
    refused: Refused,
    seen: &[Sighting],
    names: &[String],
    request: &Request,
    pattern: bool,
) -> Trouble {
    let offs = |map: &Affine| {
        let each = seen.iter().zip(names).map(|(s, n)| format!("{n} {:.2} mm", length(s.off(map))));
        each.collect::<Vec<_>>().join(", ")
    };
    let mirrored = Affine(request.plan.passes[request.pass].cloth_to_bed).determinant() < 0.0;
    let them = if pattern { "pivots" } else { "marks" };
    let again = match (seen.len(), pattern) {
        (2, true) => {
            "measure both again, or a third pivot off their line: it shows whether the repeat differs from the note"
        }
        (2, false) => {
            "measure both again, or a third mark: it shows which is wrong, or that the cloth is stretched"
        }
        (3, _) => "measure them again, or a fourth: it shows which is wrong",
        _ => "measure them again; one misread is found and left out where three others agree",
    };
    match refused {
        Refused::TooFew(n) => {
            let word = request.kind.map_or("rigid", FitKind::word);
            let what = format!(
                "these {them} do not fix the fit asked for ({word}): it needs {n}, not all in a line"
            );
            Trouble::bad_input(request.file, what).hint("leave --fit out, or measure more")
        }
        Refused::NoFit(best) => {
            if let Some((i, j)) = exchanged(seen, mirrored, request.plan.cutter.mark_error_mm) {
                let what = format!("the {them} agree once {} and {} are exchanged", names[i], names[j]);
                let hint = "exchange them, or look on the cloth which is which";
                return Trouble::cannot(request.file, what).hint(hint);
            }
            if unlike(seen, mirrored) {
                let what = format!("the {them} do not lie to one another as those of this plan do");
                let hint = "look whether they belong to this plan, this cloth and this pass, and whether the names are right";
                return Trouble::cannot(request.file, what).hint(hint);
            }
            let error = request.plan.cutter.mark_error_mm;
            let what = format!(
                "the {them} do not agree: at best they are off by {}, far beyond a mark error of {error} mm",
                offs(&best.map)
            );
            Trouble::cannot(request.file, what).hint(again)
        }
        Refused::Distorted(best, d) => {
            let (most, shear) = if pattern {
                (MOST_REPEAT_STRETCH, MOST_REPEAT_SHEAR_DEG)
            } else {
                (MOST_STRETCH, MOST_SHEAR_DEG)
            };
            let (of, hint) = if pattern {
                ("the pattern differs from what was noted by", "count the repeats and measure again")
            } else {
                (
                    "the cloth is distorted by",
                    "let it lie until it has recovered from damp or pulling and measure again; if it stays so, lay what is \
                     left to cut anew",
                )
            };
            let what = format!(
                "{of} {}; up to {} % and {shear}° is corrected (off by {})",
                distorted(&d),
                100.0 * most,
                offs(&best.map)
            );
            Trouble::cannot(request.file, what).hint(hint)
        }
    }
}

pub(super) fn off_the_bed(about: &str, over: &Overrun, turn: f64) -> Trouble {
    let sides = ["left", "near", "right", "far"];
    let past: Vec<String> = sides
        .iter()
        .zip(over.beyond_mm)
        .filter(|(_, b)| *b > 0.0)
        .map(|(s, b)| format!("{b:.1} mm past the {s} margin"))
        .collect();
    let what = format!("where the cloth lies, burns would reach {} of the bed", past.join(" and "));
    // Rounded up, so that the move is enough.
    let up = |v: f64| (v.abs() * 10.0).ceil() / 10.0;
    let way = |v: f64, [less, more]: [&str; 2]| {
        (v != 0.0).then(|| format!("{:.1} mm {}", up(v), if v > 0.0 { more } else { less }))
    };
    let hint = match over.shift_mm {
        Some([x, y]) => {
            let ways = [way(x, ["to the left", "to the right"]), way(y, ["towards you", "away from you"])];
            let ways: Vec<String> = ways.into_iter().flatten().collect();
            format!("move the cloth {}, then measure the marks again", ways.join(" and "))
        }
        None => format!(
            "no shift alone brings them in: the cloth lies turned by {:.2}° {}; turn it back, then measure again",
            turn.abs(),
            if turn > 0.0 { "counter-clockwise" } else { "clockwise" }
        ),
    };
    Trouble::cannot(about, what).hint(hint)
}
