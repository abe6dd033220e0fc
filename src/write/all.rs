//! Everything a plan writes.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use crate::cloth::{self, Cloth};
use crate::files::Whole;
use crate::job::{Cutter, Job};
use crate::plan::{Pair, Plan, PlanCloth, PlanPass};
use crate::say::Trouble;
use crate::shape::{Lattice, pt};

use super::hooping_svg::hooping_svg;
use super::{
    cut_dxf, cut_gcode, cut_svg, key_dxf, key_lines, key_svg, names, pass_lines, plan_json, png, read_back,
    rehearsal, report, sheets,
};

/// Names of the files every plan has.
const ALWAYS: [&str; 7] =
    ["plan.json", "lay.svg", "lay.png", "sewn.svg", "sewn.png", "report.html", "sheets.pdf"];

/// Writes all files of `plan` into the folder `out` and gives their paths in order of their names.
///
/// `plan.json`, `lay.svg`, `lay.png`, `sewn.svg`, `sewn.png`, `report.html`, `sheets.pdf`, and in `cut/` for every pass `NAME-pass-N.svg` and `.dxf`
/// and, where it has a key, `NAME-pass-N-key.svg` and `.dxf`; with settings for G-code also `NAME-pass-N-rehearsal.gcode`
/// and, where power and speed were found by test, `NAME-pass-N.gcode`; NAME being made of the cloth's name. Cut files
/// are read back and compared with the plan first. With an embroidery frame, `sewing/hooping-N.svg` and `.pdf` for every
/// hooping. Files of an earlier plan in the folder go; files that are
/// not ours stay. Everything appears whole or not at all (see [`Whole::move_in`]).
///
/// # Errors
/// A file that does not read back as the plan; a folder that cannot be written.
pub fn all(job: &Job, plan: &Plan, cloths: &[Cloth], out: &Path) -> Result<Vec<PathBuf>, Trouble> {
    all_with(job, plan, cloths, out, &[])
}

/// The same with further files (name, contents) that belong to the plan, such as its own drawing and job.
///
/// # Errors
/// As for [`all`].
pub fn all_with(
    job: &Job,
    plan: &Plan,
    cloths: &[Cloth],
    out: &Path,
    further: &[(&str, &str)],
) -> Result<Vec<PathBuf>, Trouble> {
    let mut whole = files(job, plan, cloths)?;
    for (name, contents) in further {
        whole.add(*name, *contents);
    }
    for name in names_of(out) {
        whole.replace(name);
    }
    whole.move_in(out)
}

/// All files of a plan, ready to be moved in: what [`all`] writes, read back and found right.
///
/// # Errors
/// A file that cannot be made or does not read back as the plan.
pub fn files(job: &Job, plan: &Plan, cloths: &[Cloth]) -> Result<Whole, Trouble> {
    let stems = names::stems(plan);
    let (told, cuts) =
        rayon::join(|| all_but_cuts(job, plan, cloths), || cuts(plan, &plan.passes, &stems, &job.cutter));
    let mut whole = told?;
    for more in cuts? {
        whole.take_in(more);
    }
    Ok(whole)
}

/// Everything that tells of a plan and its sewing, ready to be moved in: all files but those for the cutter.
///
/// # Errors
/// A file that cannot be made.
fn all_but_cuts(job: &Job, plan: &Plan, cloths: &[Cloth]) -> Result<Whole, Trouble> {
    let stems = names::stems(plan);
    let tables = || -> Result<Whole, Trouble> {
        let mut whole = Whole::new();
        whole.add("plan.json", plan_json(plan)?);
        if let Some(pdf) = sheets::sheets(job, plan, &stems)? {
            whole.add("sheets.pdf", pdf);
        }
        Ok(whole)
    };
    // Files do not depend on each other: they are made side by side. Their names order them, not their makers.
    let (pictures, rest) =
        rayon::join(|| pictures(job, plan, cloths, &stems), || rayon::join(tables, || hoopings(job, plan)));
    let mut whole = pictures?;
    whole.take_in(rest.0?);
    for more in rest.1? {
        whole.take_in(more);
    }
    Ok(whole)
}

/// The lay and the work as sewn, and the report that holds both.
fn pictures(
    job: &Job,
    plan: &Plan,
    cloths: &[Cloth],
    stems: &BTreeMap<String, String>,
) -> Result<Whole, Trouble> {
    let (lay, sewn) = rayon::join(
        || {
            let picture = super::lay_picture::lay_picture(plan, cloths);
            png::rasterise(&picture).map(|png| (picture.svg(), png))
        },
        || {
            let work = super::sewn_picture::sewn_picture(job, plan, cloths);
            super::sewn_picture::rasterise(&work).map(|png| (work.svg(), png))
        },
    );
    let ((lay, lay_png), (sewn, sewn_png)) = (lay?, sewn?);
    let mut whole = Whole::new();
    whole.add("report.html", report::report(job, plan, cloths, [&lay, &sewn], stems));
    whole.add("sewn.svg", sewn);
    whole.add("sewn.png", sewn_png);
    whole.add("lay.svg", lay);
    whole.add("lay.png", lay_png);
    Ok(whole)
}

/// The cut files and keys of `passes`, each pass by itself.
fn cuts<'a>(
    plan: &Plan,
    passes: impl IntoParallelIterator<Item = &'a PlanPass>,
    stems: &BTreeMap<String, String>,
    cutter: &Cutter,
) -> Result<Vec<Whole>, Trouble> {
    passes
        .into_par_iter()
        .map(|pass| {
            let mut whole = Whole::new();
            let [cut, key] = cut_names(stem(stems, pass), pass);
            add_cuts(&mut whole, &cut, &plan.title, pass, cutter)?;
            add_key(&mut whole, &key, &plan.title, pass, cutter)?;
            Ok(whole)
        })
        .collect()
}

/// The files of every hooping.
fn hoopings(job: &Job, plan: &Plan) -> Result<Vec<Whole>, Trouble> {
    let Some(sewing) = &plan.sewing else { return Ok(Vec::new()) };
    sewing
        .hoopings
        .par_iter()
        .map(|hooping| {
            let mut whole = Whole::new();
            let name = hooping_name(hooping.number);
            whole.add(format!("{name}.svg"), hooping_svg(plan, sewing, hooping));
            whole.add(format!("{name}.pdf"), sheets::hooping(job, plan, sewing, hooping)?);
            Ok(whole)
        })
        .collect()
}

/// `plan.json` and the cut files and keys of the passes at `which` (by index): what changes when passes are realigned.
///
/// # Errors
/// A file that does not read back as the plan.
pub fn passes(plan: &Plan, which: &[usize]) -> Result<Whole, Trouble> {
    let mut whole = Whole::new();
    whole.add("plan.json", plan_json(plan)?);
    let stems = names::stems(plan);
    let passes: Vec<&PlanPass> = which.iter().filter_map(|&i| plan.passes.get(i)).collect();
    // A file that is not written again, such as G-code whose tested power is gone, must not stay as it was.
    for name in passes.iter().flat_map(|pass| pass_names(stem(&stems, pass), pass)) {
        whole.replace(name);
    }
    for more in cuts(plan, passes, &stems, &plan.cutter)? {
        whole.take_in(more);
    }
    Ok(whole)
}

/// What people read of a plan whose passes were realigned or cut since it was made: report, sheets and pictures, made again
/// from the plan as it is now. Its folder is `folder`: where a cloth is shown by a photograph, which lies with the job, the
/// pictures there stay as they are; on the cloth, where they show everything, realigning moves nothing.
///
/// # Errors
/// A file that cannot be made.
pub fn retold(plan: &Plan, folder: &Path) -> Result<Whole, Trouble> {
    let (job, stems) = (plan.job(), names::stems(plan));
    let cloths = described(plan);
    let kept = |name: &str| fs::read_to_string(folder.join(name)).ok();
    let mut whole = match (kept("lay.svg"), kept("sewn.svg")) {
        (Some(lay), Some(sewn)) if cloths.len() < plan.cloths.len() => {
            let mut whole = Whole::new();
            whole.add("report.html", report::report(&job, plan, &cloths, [&lay, &sewn], &stems));
            whole
        }
        _ => pictures(&job, plan, &cloths, &stems)?,
    };
    whole.replace("sheets.pdf");
    if let Some(pdf) = sheets::sheets(&job, plan, &stems)? {
        whole.add("sheets.pdf", pdf);
    }
    Ok(whole)
}

/// The cloths of a plan that it describes in full, their pattern as the plan has it, which may have been measured anew.
fn described(plan: &Plan) -> Vec<Cloth> {
    let one = |planned: &PlanCloth| {
        let spec = planned.described.as_ref().filter(|_| !planned.photographed)?;
        let (mut cloth, _) = cloth::understand(spec, "cloth").ok()?;
        if let Some((pattern, now)) = cloth.pattern.as_mut().zip(planned.pattern.as_ref()) {
            let point = |p: Pair| pt(p[0], p[1]);
            pattern.lattice = Lattice { a: now.a.map(point), b: now.b.map(point), origin: point(now.origin) };
        }
        Some(cloth)
    };
    plan.cloths.iter().filter_map(one).collect()
}

/// The cut files of `rest`, what is left of one of the plan's passes from burn `from` on: `cut/NAME-pass-N-from-K`.
///
/// # Errors
/// A file that does not read back.
pub fn rest_of_pass(plan: &Plan, rest: &PlanPass, from: usize) -> Result<Whole, Trouble> {
    let mut whole = Whole::new();
    let [cut, _] = cut_names(stem(&names::stems(plan), rest), rest);
    let title = match plan.title.trim() {
        "" => format!("From burn {from}"),
        title => format!("{title}, from burn {from}"),
    };
    add_cuts(&mut whole, &format!("{cut}-from-{from}"), &title, rest, &plan.cutter)?;
    Ok(whole)
}

fn stem<'a>(stems: &'a BTreeMap<String, String>, pass: &PlanPass) -> &'a str {
    stems.get(&pass.cloth).map_or("cloth", String::as_str)
}

/// Adds the cut files of a pass, read back and found right, under the name `cut`.
fn add_cuts(
    whole: &mut Whole,
    cut: &str,
    title: &str,
    pass: &PlanPass,
    cutter: &Cutter,
) -> Result<(), Trouble> {
    let lines = pass_lines(pass, cutter);
    let svg = cut_svg(title, pass, &lines, cutter);
    read_back::check_svg(&format!("{cut}.svg"), &svg, pass, cutter)?;
    whole.add(format!("{cut}.svg"), svg);
    let dxf = cut_dxf(pass, &lines, cutter);
    read_back::check_dxf(&format!("{cut}.dxf"), &dxf, pass, cutter)?;
    whole.add(format!("{cut}.dxf"), dxf);
    if let Some(code) = cut_gcode(title, pass, &lines, cutter) {
        let name = format!("{cut}.gcode");
        read_back::check_gcode(&name, &code.text, code.header, pass, cutter)?;
        whole.add(name, code.text);
    }
    if let Some(code) = rehearsal(title, pass, &lines, cutter) {
        let name = format!("{cut}-rehearsal.gcode");
        read_back::check_rehearsal(&name, &code.text, code.header, cutter)?;
        whole.add(name, code.text);
    }
    Ok(())
}

/// Adds a pass's key, if it has one, read back first.
fn add_key(
    whole: &mut Whole,
    key: &str,
    title: &str,
    pass: &PlanPass,
    cutter: &Cutter,
) -> Result<(), Trouble> {
    if pass.key.is_empty() {
        return Ok(());
    }
    let lines = key_lines(pass, cutter);
    let svg = key_svg(title, pass, &lines, cutter);
    read_back::check_key_svg(&format!("{key}.svg"), &svg, pass, cutter)?;
    whole.add(format!("{key}.svg"), svg);
    let dxf = key_dxf(pass, &lines, cutter);
    read_back::check_key_dxf(&format!("{key}.dxf"), &dxf, pass, cutter)?;
    whole.add(format!("{key}.dxf"), dxf);
    Ok(())
}

/// The gauge's files: `gauge.svg`, `.dxf` and, as the settings allow, `.gcode`; and a form for its readings. G-code of an
/// earlier gauge goes: it may be for another bed.
///
/// # Errors
/// A file that does not read back as the gauge.
pub fn gauge_files(pass: &PlanPass, cutter: &Cutter, form: &str) -> Result<Whole, Trouble> {
    let mut whole = Whole::new();
    add_cuts(&mut whole, "gauge", "Gauge", pass, cutter)?;
    whole.replace("gauge.gcode");
    whole.replace("gauge-rehearsal.gcode");
    whole.add("readings-to-fill-in.json", form);
    Ok(whole)
}

/// Names of a pass's cut file and key, without their endings.
fn cut_names(stem: &str, pass: &PlanPass) -> [String; 2] {
    let cut = format!("cut/{stem}-pass-{}", pass.number);
    [cut.clone(), cut + "-key"]
}

/// Names of all files a pass may have.
fn pass_names(stem: &str, pass: &PlanPass) -> [String; 6] {
    let [cut, key] = cut_names(stem, pass);
    [
        format!("{cut}.svg"),
        format!("{cut}.dxf"),
        format!("{cut}.gcode"),
        format!("{cut}-rehearsal.gcode"),
        format!("{key}.svg"),
        format!("{key}.dxf"),
    ]
}

/// Name of a hooping's files, without their endings.
fn hooping_name(number: usize) -> String {
    format!("sewing/hooping-{number}")
}

/// Writes all that tells of `plan` into the folder `out` anew, and `further` files (name, contents); the files for the
/// cutter stay byte for byte as they are. Gives the paths written.
///
/// # Errors
/// A file that cannot be made; a folder that cannot be written: then nothing was changed.
pub fn told_anew(
    job: &Job,
    plan: &Plan,
    cloths: &[Cloth],
    out: &Path,
    further: &[(&str, &str)],
) -> Result<Vec<PathBuf>, Trouble> {
    let mut whole = all_but_cuts(job, plan, cloths)?;
    for (name, contents) in further {
        whole.add(*name, *contents);
    }
    for name in names_of(out).into_iter().filter(|n| !n.starts_with("cut/")) {
        whole.replace(name);
    }
    whole.move_in(out)
}

/// Names of the files an earlier plan in `out` has written or may have, as far as its `plan.json` tells. Without one
/// that can be read nothing counts as ours.
pub fn names_of(out: &Path) -> Vec<String> {
    let read = fs::read(out.join("plan.json")).ok();
    let Some(plan) = read.and_then(|bytes| serde_json::from_slice::<Plan>(&bytes).ok()) else {
        return Vec::new();
    };
    let stems = names::stems(&plan);
    let mut names: Vec<String> = ALWAYS.map(String::from).to_vec();
    names.extend(plan.passes.iter().flat_map(|pass| pass_names(stem(&stems, pass), pass)));
    for hooping in plan.sewing.iter().flat_map(|s| &s.hoopings) {
        let name = hooping_name(hooping.number);
        names.extend([format!("{name}.svg"), format!("{name}.pdf")]);
    }
    names
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::PROGRAM;
    use crate::write::sample::{sample_cloths, sample_job, sample_plan};

    fn relative(paths: &[PathBuf], out: &Path) -> Vec<String> {
        paths.iter().map(|p| p.strip_prefix(out).unwrap().to_string_lossy().replace('\\', "/")).collect()
    }

    #[test]
    fn a_plan_writes_all_its_files_and_the_next_one_takes_their_place() {
        let place = tempfile::tempdir().unwrap();
        let out = place.path().canonicalize().unwrap().join("out");
        let (job, mut plan, cloths) = (sample_job(), sample_plan(), sample_cloths());
        let paths = all(&job, &plan, &cloths, &out).unwrap();
        assert_eq!(
            relative(&paths, &out),
            [
                "cut/saltmarsh-pass-1.dxf",
                "cut/saltmarsh-pass-1.svg",
                "cut/saltmarsh-pass-2-key.dxf",
                "cut/saltmarsh-pass-2-key.svg",
                "cut/saltmarsh-pass-2.dxf",
                "cut/saltmarsh-pass-2.svg",
                "cut/stubble-pass-1.dxf",
                "cut/stubble-pass-1.svg",
                "lay.png",
                "lay.svg",
                "plan.json",
                "report.html",
                "sewn.png",
                "sewn.svg",
                "sheets.pdf",
            ]
        );
        let names_the_program =
            |p: &PathBuf| fs::read(p).unwrap().windows(PROGRAM.len()).any(|w| w == PROGRAM.as_bytes());
        let nameless: Vec<PathBuf> = paths.iter().filter(|p| !names_the_program(p)).cloned().collect();
        assert_eq!(relative(&nameless, &out), [""; 0], "which program wrote it stands in every file");
        let read: Plan = serde_json::from_slice(&fs::read(out.join("plan.json")).unwrap()).unwrap();
        assert_eq!(read, plan);
        assert_eq!(fs::read(out.join("lay.png")).unwrap().get(1..4), Some("PNG".as_bytes()));
        fs::write(out.join("cut/notes.txt"), "mine").unwrap();
        plan.cloths.retain(|c| c.name == "stubble");
        plan.pieces.retain(|p| p.cloth == "stubble");
        plan.passes.retain(|p| p.cloth == "stubble");
        all(&job, &plan, &cloths, &out).unwrap();
        let mut left: Vec<_> = fs::read_dir(out.join("cut"))
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        left.sort();
        assert_eq!(left, ["notes.txt", "stubble-pass-1.dxf", "stubble-pass-1.svg"]);
    }

    /// A cloth shown by a photograph cannot be drawn again from the plan: its pictures stay, and the report holds them.
    #[test]
    fn what_cannot_be_drawn_again_stays_in_the_report_as_it_was() {
        let place = tempfile::tempdir().unwrap();
        let out = place.path().join("out");
        let mut plan = sample_plan();
        all(&sample_job(), &plan, &sample_cloths(), &out).unwrap();
        fs::write(out.join("lay.svg"), "<svg id=\"of-the-photograph\"></svg>").unwrap();
        plan.passes[0].cut_on = Some("2026-05-01T14:03:00Z".into());
        let whole = retold(&plan, &out).unwrap();
        let names: Vec<&str> = whole.each().map(|f| f.0).collect();
        assert_eq!(names, ["report.html", "sheets.pdf"]);
        let report = String::from_utf8_lossy(whole.each().next().unwrap().1).into_owned();
        assert!(report.contains("of-the-photograph") && report.contains("cut, recorded 2026-05-01"));
    }

    /// Every title and first remark of every file, with titles that are missing, empty, and as long as a page.
    #[test]
    fn no_file_is_titled_with_a_bare_colon() {
        let long = "a hanging of reeds and herons ".repeat(20);
        for title in ["", "   ", "Reed-bed", long.as_str()] {
            let mut plan = sample_plan();
            plan.title = title.into();
            plan.cutter = crate::write::sample::sample_cutter();
            let job = Job { title: title.into(), cutter: plan.cutter.clone(), ..sample_job() };
            let mut whole = files(&job, &plan, &sample_cloths()).unwrap();
            whole.take_in(rest_of_pass(&plan, &plan.passes[0], 2).unwrap());
            let mut seen = 0;
            for (name, contents) in whole.each() {
                let text = String::from_utf8_lossy(contents);
                let svg = text.split("<title>").nth(1).and_then(|t| t.split("</title>").next());
                let said: Vec<&str> = match name.rsplit('.').next() {
                    Some("svg" | "html") => svg.into_iter().collect(),
                    Some("gcode") => text.lines().take(1).map(|l| l.trim_matches(['(', ')'])).collect(),
                    _ => continue,
                };
                for said in said {
                    let said = said.trim();
                    assert!(!said.is_empty() && !said.starts_with([':', ',']), "{name}: {said}");
                    assert!(!said.ends_with([':', ',']) && !said.contains(": :"), "{name}: {said}");
                    seen += 1;
                }
            }
            assert!(seen >= 10, "{seen}");
        }
    }

    #[test]
    fn a_plan_that_cannot_be_written_true_writes_nothing() {
        let place = tempfile::tempdir().unwrap();
        let out = place.path().join("out");
        let mut plan = sample_plan();
        plan.passes[1].burns[0].path[0][1] = f64::INFINITY;
        assert!(all(&sample_job(), &plan, &sample_cloths(), &out).is_err());
        assert_eq!(fs::read_dir(place.path()).unwrap().count(), 0);
    }
}
