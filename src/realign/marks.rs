//! A pass of a plan realigned.

use super::choose::{Chosen, Purpose, choose};
use super::done::Done;
use super::error::{Spread, radius_holding_95};
use super::fit::{Distortion, FitKind, Sighting};
use super::measured::{At, Measured, called};
use super::moved::{moved, overrun, pair, point, round};
use super::pivots::{Repeats, Understood, understand};
use super::refuse::{known, length, off_the_bed, on_the_bed, one_line, reach, refusal};
use super::report::{JointStep, MarkFound, Report};
use super::suspect::{mistakes, turn_deg, turned};
use super::told_anew::told_anew;
use crate::passes::verdict_at;
use crate::plan::{self, Note, Plan, PlanMark, PlanPass, REALIGNED_BY, about_pass, says_realigned};
use crate::say::{Trouble, nearest_name};
use crate::shape::{Affine, Point, distance, pt, tol};

/// What is to be realigned.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What of it is cut.
    pub done: &'a Done,
    /// The pass, by index.
    pub pass: usize,
    /// What was measured.
    pub measured: &'a [Measured],
    /// What it was read from, for troubles.
    pub file: &'a str,
    /// The kind of fit, where the maker chooses it.
    pub kind: Option<FitKind>,
    /// For a pass broken off: the burn it is taken up at, from 1. Its own marks burnt before that are there to be measured.
    pub from_burn: Option<usize>,
}

/// A plan with one pass realigned.
#[derive(Clone, Debug, PartialEq)]
pub struct Aligned {
    /// The plan.
    pub plan: Plan,
    /// Passes that changed, by index.
    pub changed: Vec<usize>,
    /// What was found.
    pub report: Report,
}

/// The pass `number` of `cloth`, by index; the cloth may be left out where only one has such a pass.
///
/// # Errors
/// There is none, or there are several.
pub fn find(plan: &Plan, cloth: Option<&str>, number: usize) -> Result<usize, Trouble> {
    let names: Vec<&str> = plan.cloths.iter().map(|c| c.name.as_str()).collect();
    if let Some(name) = cloth.filter(|c| !names.contains(c)) {
        let near = nearest_name(name, names.iter().copied());
        let hint = near.map_or_else(
            || format!("its cloths are: {}", names.join(", ")),
            |n| format!("did you mean {n}?"),
        );
        return Err(Trouble::bad_input("--cloth", format!("the plan has no cloth {name}")).hint(hint));
    }
    let of_cloth = |p: &&PlanPass| cloth.is_none_or(|c| c == p.cloth);
    let fits: Vec<usize> = (0..plan.passes.len())
        .filter(|&i| plan.passes[i].number == number && of_cloth(&&plan.passes[i]))
        .collect();
    match fits.as_slice() {
        [one] => Ok(*one),
        [] => {
            let there: Vec<String> =
                plan.passes.iter().filter(of_cloth).map(|p| format!("{} {}", p.cloth, p.number)).collect();
            let hint = if there.is_empty() {
                "it has no passes at all; plan the job anew".to_owned()
            } else {
                format!("its passes are: {}", there.join(", "))
            };
            Err(Trouble::bad_input("--pass", format!("the plan has no pass {number}")).hint(hint))
        }
        several => {
            let cloths: Vec<&str> = several.iter().map(|&i| plan.passes[i].cloth.as_str()).collect();
            Err(Trouble::bad_input(
                "--pass",
                format!("several cloths have a pass {number}: {}", cloths.join(", ")),
            )
            .hint("add --cloth NAME"))
        }
    }
}

/// Finds how the cloth lies by the measured marks (or pivots, for the first pass of a cloth) and corrects the pass. Later
/// passes of the cloth take over its stretch and shear, for they go with the cloth, but not its place, for it is put down
/// anew. Earlier passes stay as they are cut.
///
/// # Errors
/// A pass that is cut, measurements that make no sense or do not agree, cloth distorted beyond what is corrected, burns
/// that would leave the bed.
pub fn realign(request: &Request) -> Result<Aligned, Trouble> {
    let Request { plan, done, measured, .. } = *request;
    let pass = &plan.passes[request.pass];
    done.may_change(pass)?;
    let about = format!("pass {} of cloth {}", pass.number, pass.cloth);
    let planned = Affine(pass.cloth_to_bed);
    let first = !plan.passes.iter().any(|p| p.cloth == pass.cloth && p.number < pass.number);
    let pattern = first && request.from_burn.is_none();
    let seen = if pattern {
        Repeats::of(plan, &pass.cloth, &about)?.sightings(measured, request.file)?
    } else {
        let one = |m: &Measured| Ok(Sighting { cloth: place(request, &m.at)?, bed: m.bed });
        measured.iter().map(one).collect::<Result<Vec<_>, Trouble>>()?
    };
    let names: Vec<String> = measured.iter().map(|m| called(&m.at)).collect();
    if seen.len() < 2 {
        let what = format!("{} alone does not say how the cloth is turned", names.join(""));
        return Err(Trouble::bad_input(request.file, what)
            .hint("measure two at least; three or four show a misread one"));
    }
    let error_mm = plan.cutter.mark_error_mm.max(tol::LEAST_MARK_ERROR_MM);
    mistakes(&seen, &names, planned.determinant() < 0.0, error_mm, request.file)?;
    let line = one_line(request, &seen, pattern)?;
    on_the_bed(&seen, &names, pass, request.file)?;
    let reach = reach(pass, &planned);
    let purpose = Purpose {
        mark_error_mm: plan.cutter.mark_error_mm,
        mirrored: planned.determinant() < 0.0,
        asked: request.kind,
        reach: &reach,
        pattern,
    };
    let chosen = choose(&seen, &purpose).map_err(|r| refusal(r, &seen, &names, request, pattern))?;
    turned(&planned, &chosen.map, request.file)?;
    let understood = if pattern {
        understand(plan, &pass.cloth, &chosen.map, chosen.kind)
    } else {
        Some(Understood { map: chosen.map, pattern: None })
    };
    let flat = || Trouble::cannot(&about, "the cloth would lie flattened on the bed");
    let Understood { map, pattern: found } = understood.ok_or_else(flat)?;
    let new = moved(pass, &map, &plan.cutter).ok_or_else(flat)?;
    if let Some(over) = overrun(&new) {
        return Err(off_the_bed(&about, &over, turn_deg(&planned, &map).unwrap_or(0.0)));
    }
    let distortion = Distortion::of(&map).ok_or_else(flat)?;
    let mut out = Aligned {
        plan: plan.clone(),
        changed: vec![request.pass],
        report: report(request, pass, &chosen, &seen, &map, &distortion, error_mm),
    };
    out.report.records = records(request);
    out.report.cautions.extend(line);
    out.plan.passes[request.pass] = new;
    if pattern {
        if let Some((pattern, repeat)) = found {
            out.report.cautions.push(repeat_caution(&repeat));
            if let Some(cloth) = out.plan.cloths.iter_mut().find(|c| c.name == pass.cloth) {
                cloth.pattern = Some(pattern);
            }
            out.report.repeat = Some(repeat);
        }
    } else {
        carry_on(&mut out, request, &distortion);
    }
    for mark in &mut out.plan.passes[request.pass].marks {
        let found = measured.iter().find(|m| matches!(&m.at, At::Mark(name) if *name == mark.name));
        mark.measured = found.map(|m| pair(m.bed));
        mark.left_out = out.report.marks.iter().any(|m| m.name == mark.name && !m.used);
    }
    note(&mut out.plan, &out.report);
    told_anew(&mut out.plan, &out.changed);
    Ok(out)
}

/// Where a mark was burnt, cloth frame: by an earlier pass, or by this one before it broke off.
fn place(request: &Request, at: &At) -> Result<Point, Trouble> {
    let pass = &request.plan.passes[request.pass];
    let At::Mark(name) = at else {
        let what = format!("{} is no mark, and pass {} finds its place by marks", at.name(), pass.number);
        return Err(Trouble::bad_input(request.file, what).hint("pivots are for the first pass of a cloth"));
    };
    let burning = |m: &&PlanMark| m.burnt_here && m.name == *name;
    let burnt_by = |p: &PlanPass| p.cloth == pass.cloth && p.marks.iter().any(|m| burning(&m));
    let of_cloth = request.plan.passes.iter().filter(|p| p.cloth == pass.cloth);
    match request.plan.passes.iter().find(|p| burnt_by(p)) {
        Some(by) => {
            let strokes = |p: &PlanPass, upto: usize| {
                p.burns[upto.min(p.burns.len())..].iter().all(|b| b.kind != "mark" || b.piece != *name)
            };
            let there = by.number < pass.number
                || (by.number == pass.number
                    && request.from_burn.is_some_and(|k| strokes(by, k.saturating_sub(1))));
            let at = by.marks.iter().find(burning).map(|m| point(&m.cloth)).filter(|_| there);
            at.ok_or_else(|| {
                let what = format!("mark {name} is burnt by pass {}: it is not on the cloth yet", by.number);
                let hint = format!("marks that pass {} finds its place by: {}", pass.number, known(pass));
                Trouble::bad_input(request.file, what).hint(hint)
            })
        }
        None => {
            let names: Vec<&str> = of_cloth
                .flat_map(|p| p.marks.iter().filter(|m| m.burnt_here).map(|m| m.name.as_str()))
                .collect();
            let near = nearest_name(name, names.iter().copied().filter(|n| n.eq_ignore_ascii_case(name)));
            let hint = match near {
                Some(near) => format!("did you mean {near}?"),
                None => format!(
                    "marks that pass {} finds its place by: {}; is this file of another job?",
                    pass.number,
                    known(pass)
                ),
            };
            Err(Trouble::bad_input(request.file, format!("cloth {} has no mark {name}", pass.cloth))
                .hint(hint))
        }
    }
}

fn report(
    request: &Request,
    pass: &PlanPass,
    chosen: &Chosen,
    seen: &[Sighting],
    map: &Affine,
    distortion: &Distortion,
    error_mm: f64,
) -> Report {
    let planned = Affine(pass.cloth_to_bed);
    let marks: Vec<MarkFound> = seen
        .iter()
        .zip(request.measured)
        .enumerate()
        .map(|(k, (s, m))| MarkFound {
            name: m.at.name(),
            planned_mm: pair(planned.apply(s.cloth)),
            measured_mm: pair(s.bed),
            residual_mm: pair(s.off(&chosen.map)),
            off_mm: round(length(s.off(&chosen.map))),
            used: !chosen.left_out.contains(&k),
        })
        .collect();
    let used = chosen.used(seen);
    let trusted = if chosen.doubtful { chosen.read_error_mm.unwrap_or(0.0).max(error_mm) } else { error_mm };
    let spread = Spread::new(chosen.kind, &used, trusted);
    let mut cautions: Vec<String> = chosen
        .left_out
        .iter()
        .map(|&k| {
            format!(
                "{} is left out: it lies {:.1} mm from where the others put it. Measure it again if you can.",
                capital(&called(&request.measured[k].at)),
                marks[k].off_mm
            )
        })
        .collect();
    if let Some(read) = chosen.read_error_mm.filter(|_| chosen.doubtful) {
        cautions.push(format!(
            "They agree only to about {read:.2} mm, not to the {error_mm} mm stated; the steps below count with that."
        ));
    }
    if used.len() == 2 {
        cautions.push("Two leave hardly a check: a misread one shows only in their distance. A third is worth its time.".into());
    }
    let untested = plan::without_power(pass, &request.plan.cutter);
    if request.plan.cutter.gcode.is_some() && !untested.is_empty() {
        let kinds: Vec<&str> = untested.into_iter().collect();
        cautions.push(format!(
            "No power and speed found by test are given for {} on this cloth, so there is no G-code for this pass, and any \
             written before is gone.",
            kinds.join(" and ")
        ));
    }
    let [x, y, u, v] = pass.window;
    let middle = pt((x + u) / 2.0, (y + v) / 2.0);
    Report {
        cloth: pass.cloth.clone(),
        pass: pass.number,
        fit: chosen.kind,
        marks,
        shift_mm: pair(map.apply(middle) - planned.apply(middle)),
        turn_deg: turn_deg(&planned, map).unwrap_or(0.0) + 0.0,
        stretch_percent: [100.0 * distortion.across, 100.0 * distortion.along],
        shear_deg: distortion.shear_deg,
        read_error_mm: chosen.read_error_mm,
        joints: joints(request, pass, &spread),
        later: Vec::new(),
        records: Vec::new(),
        repeat: None,
        cautions,
    }
}

/// The text begun with a capital.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect())
}

/// The joints of `pass` with earlier passes. What is said of them is the error of this fit, and what earlier passes hand
/// on through the marks they burnt: as much as the plan's budget holds beyond the fit it was made for.
fn joints(request: &Request, pass: &PlanPass, spread: &Spread) -> Vec<JointStep> {
    let earlier = || request.plan.passes.iter().filter(|p| p.cloth == pass.cloth && p.number < pass.number);
    let meets = |j: &&crate::plan::PlanJoint| {
        earlier().flat_map(|p| &p.joints).any(|e| {
            (&e.piece, e.copy, e.ring) == (&j.piece, j.copy, j.ring)
                && distance(point(&e.cloth), point(&j.cloth)) < tol::SAME_POINT_MM
        })
    };
    let known = pass.marks.iter().filter(|m| !m.burnt_here).map(|m| point(&m.cloth));
    let planned: Vec<Sighting> = known.map(|p| Sighting { cloth: p, bed: p }).collect();
    let cutter = &request.plan.cutter;
    let planned = Spread::new(FitKind::Rigid, &planned, cutter.mark_error_mm);
    let step = |j: &crate::plan::PlanJoint| {
        let at = point(&j.cloth);
        let handed_on = j.expected_step_mm.powi(2) - planned.expected_mm(at).powi(2);
        let handed_on = if handed_on.is_finite() { handed_on.max(0.0) } else { 0.0 };
        let variances = spread.variances(at).map(|v| v + handed_on / 2.0);
        let within_95_mm = round(radius_holding_95(variances));
        JointStep {
            piece: j.piece.clone(),
            copy: j.copy,
            ring: j.ring,
            expected_mm: round(variances.iter().sum::<f64>().sqrt()),
            within_95_mm,
            verdict: verdict_at(within_95_mm, cutter.border_mm).word(),
        }
    };
    pass.joints.iter().filter(meets).map(step).collect()
}

/// Earlier passes of the cloth that are not recorded as cut yet, by number: a whole pass that finds its place by their
/// marks says that they are.
fn records(request: &Request) -> Vec<usize> {
    let pass = &request.plan.passes[request.pass];
    if request.from_burn.is_some() {
        return Vec::new();
    }
    let earlier = request.plan.passes.iter().filter(|p| p.cloth == pass.cloth && p.number < pass.number);
    earlier.filter(|p| request.done.of(p).is_none()).map(|p| p.number).collect()
}

fn repeat_caution(repeat: &super::report::RepeatFound) -> String {
    let job = format!(
        "repeat_across_mm {:.2}, repeat_along_mm {:.2}, skew_mm_per_m {:.1}",
        repeat.across_mm[1], repeat.along_mm[1], repeat.skew_mm_per_m[1]
    );
    if repeat.worst_piece.is_empty() {
        return format!("The repeat differs from the note; no piece is matched to it. As measured: {job}.");
    }
    format!(
        "The repeat differs from the note: cut like this, the pattern is out of step by up to {:.2} mm, at piece {}. While \
         nothing is cut, plan the job anew with the pattern as measured: {job}.",
        repeat.worst_mismatch_mm, repeat.worst_piece
    )
}

/// Gives the later passes of the cloth the distortion that was found. Their place stays as planned.
fn carry_on(out: &mut Aligned, request: &Request, distortion: &Distortion) {
    let Carried { changed, kept } = carry(&mut out.plan, request.pass, distortion);
    out.report.later.extend(changed.iter().map(|&i| out.plan.passes[i].number));
    out.changed.extend(changed);
    if !kept.is_empty() {
        out.report.cautions.push(format!(
            "Pass {} would leave the bed with this stretch and stays as planned; realign it when its turn comes.",
            kept.join(" and ")
        ));
    }
}

/// Later passes that took a distortion over, by index, and those that cannot, by number.
pub(super) struct Carried {
    pub(super) changed: Vec<usize>,
    kept: Vec<String>,
}

/// Gives the passes after `of` (by index) on its cloth a distortion.
pub(super) fn carry(plan: &mut Plan, of: usize, distortion: &Distortion) -> Carried {
    let (cloth, number) = (plan.passes[of].cloth.clone(), plan.passes[of].number);
    let cutter = plan.cutter.clone();
    let mut out = Carried { changed: Vec::new(), kept: Vec::new() };
    for i in 0..plan.passes.len() {
        let later = &plan.passes[i];
        if later.cloth != cloth || later.number <= number {
            continue;
        }
        let old = Affine(later.cloth_to_bed);
        let Some(own) = Distortion::of(&old) else { continue };
        let [a, b, c, d, ..] = own.rigid.after(&distortion.map).0;
        let [x, y, u, v] = later.window;
        let middle = pt((x + u) / 2.0, (y + v) / 2.0);
        let shift = old.apply(middle) - Affine([a, b, c, d, 0.0, 0.0]).apply(middle);
        let map = Affine([a, b, c, d, shift.x, shift.y]);
        // What the two maps do at the corners of the window tells whether anything changes at all.
        let differ = [pt(x, y), pt(u, y), pt(x, v), pt(u, v)].map(|p| distance(old.apply(p), map.apply(p)));
        if differ.iter().all(|d| *d < tol::SAME_POINT_MM) {
            continue;
        }
        let Some(mut new) = moved(later, &map, &cutter) else { continue };
        if let Some(over) = overrun(&new) {
            let Some([dx, dy]) = over.shift_mm else {
                out.kept.push(later.number.to_string());
                continue;
            };
            let map = Affine([a, b, c, d, shift.x + dx, shift.y + dy]);
            let Some(shifted) = moved(later, &map, &cutter) else { continue };
            new = shifted;
        }
        plan.passes[i] = new;
        out.changed.push(i);
    }
    out
}

/// Says in the plan what was done; an earlier note on the same pass goes.
fn note(plan: &mut Plan, report: &Report) {
    let about = about_pass(&report.cloth, report.pass);
    plan.notes.retain(|n| !says_realigned(n, &report.cloth, report.pass));
    let used: Vec<&str> = report.marks.iter().filter(|m| m.used).map(|m| m.name.as_str()).collect();
    let text = format!(
        "{REALIGNED_BY}{}: moved {:.1} mm, turned {:.2}°; {} fit. Its files, the report and the sheets have it as corrected.",
        used.join(", "),
        length(point(&report.shift_mm)),
        report.turn_deg,
        report.fit.word()
    );
    plan.notes.push(Note::advice(about, text));
    if let Some(repeat) = &report.repeat {
        let about = format!("cloth {}", report.cloth);
        plan.notes.retain(|n| n.about != about || !n.text.starts_with("The repeat differs"));
        plan.notes.push(Note::caution(about, repeat_caution(repeat)));
    }
}
