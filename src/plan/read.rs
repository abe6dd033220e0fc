//! A plan file read again and checked.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::model::{Plan, PlanBurn, PlanPass};
use crate::burn::BurnKind;
use crate::job;
use crate::say::{Trouble, json};
use crate::shape::{Affine, tol};

/// Name of a plan in its folder.
pub const PLAN_FILE: &str = "plan.json";

/// Largest plan file, bytes: five hundred finely drawn pieces fill a few tens of megabytes.
const LARGEST_FILE: u64 = 256 * 1024 * 1024;

/// Version of the plan format that is read.
const FORMAT: u64 = 1;

/// Reads the plan at `path`: a `plan.json`, or the folder it lies in. Gives the plan and its folder.
///
/// # Errors
/// A file that cannot be read, is no plan or makes no sense as one.
pub fn read(path: &Path) -> Result<(Plan, PathBuf), Trouble> {
    let file = if path.is_dir() { path.join(PLAN_FILE) } else { path.to_owned() };
    let name = file.display().to_string();
    let cannot = |e: std::io::Error| {
        let what = match e.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".to_string(),
            std::io::ErrorKind::PermissionDenied => "the file may not be read (permission denied)".into(),
            _ => format!("the file cannot be read: {e}"),
        };
        Trouble::bad_input(&name, what).hint("name the plan.json of a plan, or the folder it lies in")
    };
    let about = std::fs::metadata(&file).map_err(cannot)?;
    if !about.is_file() {
        return Err(Trouble::bad_input(&name, "this is no plain file"));
    }
    let mut bytes = Vec::new();
    File::open(&file).map_err(cannot)?.take(LARGEST_FILE + 1).read_to_end(&mut bytes).map_err(cannot)?;
    if bytes.len() as u64 > LARGEST_FILE {
        let what = format!("the file is too large for a plan: {} MB at most", LARGEST_FILE >> 20);
        return Err(Trouble::bad_input(&name, what));
    }
    let text = std::str::from_utf8(&bytes).map_err(|e| {
        let what = format!("the file is not text: byte {} is not UTF-8", e.valid_up_to() + 1);
        Trouble::bad_input(&name, what).hint("a plan is a JSON text file; is this the right file?")
    })?;
    let folder = match file.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
        _ => PathBuf::from("."),
    };
    Ok((parse(text, &name)?, folder))
}

/// Reads and checks the text of a plan file; `name` stands for it in troubles.
///
/// # Errors
/// The first thing wrong with it.
pub fn parse(text: &str, name: &str) -> Result<Plan, Trouble> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let value = json::value(text).map_err(|wrong| wrong.in_file(name).hint(ANEW))?;
    match value.get("settlay_plan").map(serde_json::Value::as_u64) {
        Some(Some(FORMAT)) => {}
        Some(Some(version)) if version > FORMAT => {
            let what = format!("this plan is in format {version}; this settlay reads format {FORMAT}");
            return Err(Trouble::bad_input(name, what).hint("use a newer settlay to read it"));
        }
        Some(Some(version)) => {
            let what = format!(
                "this plan is in format {version}, of an older settlay; this one reads format {FORMAT}"
            );
            return Err(Trouble::bad_input(name, what).hint("plan the job anew"));
        }
        Some(None) => return Err(Trouble::bad_input(name, "its settlay_plan is no format number").hint(ANEW)),
        None if value.get("settlay").is_some() => {
            return Err(Trouble::bad_input(name, "this is a job, not a plan")
                .hint("settlay plan makes a plan of it; name the plan.json that it writes"));
        }
        None => return Err(Trouble::bad_input(name, "this is no plan: it has no settlay_plan").hint(ANEW)),
    }
    // Cut files are written from it again: what a job's cutter must keep to, a plan's must.
    let Some(cutter) = value.get("cutter") else {
        return Err(Trouble::bad_input(name, "it does not say what cutter it was made for")
            .hint("it is of an older settlay or was changed by hand; plan the job anew"));
    };
    if let Err(troubles) = job::cutter_within(cutter, name) {
        let first = troubles.into_iter().next();
        return Err(first.unwrap_or_else(|| Trouble::bad_input(name, "its cutter makes no sense").hint(ANEW)));
    }
    let plan: Plan = json::typed(&value).map_err(|wrong| {
        let wrong = wrong.in_text(text);
        wrong.in_file(name).hint("it is of an older settlay or was changed by hand; plan the job anew")
    })?;
    check(&plan, name)?;
    Ok(plan)
}

const ANEW: &str = "settlay plan writes a plan.json; is this the right file?";

/// What the rest of the program relies on.
fn check(plan: &Plan, name: &str) -> Result<(), Trouble> {
    let wrong = |what: String| Err(Trouble::bad_input(name, what).hint("plan the job anew"));
    if plan.units != "mm" {
        return wrong(format!("its units are \"{}\": expected mm", plan.units));
    }
    for (i, pass) in plan.passes.iter().enumerate() {
        let twin = |p: &PlanPass| (&p.cloth, p.number) == (&pass.cloth, pass.number);
        if plan.passes[..i].iter().any(twin) {
            return wrong(format!("pass {} of cloth {} is there twice", pass.number, pass.cloth));
        }
        if !plan.cloths.iter().any(|c| c.name == pass.cloth) {
            return wrong(format!("passes[{i}] is of cloth {}, which is not among its cloths", pass.cloth));
        }
        let map = Affine(pass.cloth_to_bed);
        if !(tol::FLATTEST_MAP..=1.0 / tol::FLATTEST_MAP).contains(&map.determinant().abs()) {
            return wrong(format!("passes[{i}].cloth_to_bed does not lay the cloth flat on the bed"));
        }
        let [w, h] = pass.bed_mm;
        if !(w > 2.0 * pass.margin_mm && h > 2.0 * pass.margin_mm && pass.margin_mm >= 0.0) {
            return wrong(format!("passes[{i}] has no bed inside its margins"));
        }
        for (k, burn) in pass.burns.iter().enumerate() {
            if let Some(what) = no_burn(plan, pass, burn) {
                return wrong(format!("passes[{i}].burns[{k}] {what}"));
            }
        }
        if let Some(k) = pass.key.iter().position(|k| k.path.len() < 2) {
            return wrong(format!("passes[{i}].key[{k}] is no line: it has fewer than two points"));
        }
        let burnt = pass.burns.iter().flat_map(|b| b.path.iter().chain(&b.lead_in));
        let marks = pass.marks.iter().flat_map(|m| [&m.cloth, &m.bed]);
        let key = pass.key.iter().flat_map(|k| &k.path);
        let all = burnt.chain(marks).chain(key).chain(pass.joints.iter().map(|j| &j.cloth));
        let far = |p: &&[f64; 2]| p.iter().any(|v| v.is_nan() || v.abs() > tol::FARTHEST_MM);
        if let Some([x, y]) = all.clone().find(far) {
            let figure = |v: &f64| if v.abs() > tol::FARTHEST_MM { format!("{v:e}") } else { v.to_string() };
            return wrong(format!(
                "passes[{i}] has a point at ({}, {}) mm, farther than any cloth reaches",
                figure(x),
                figure(y)
            ));
        }
    }
    let error = plan.cutter.mark_error_mm;
    if !(0.0..=10.0).contains(&error) {
        return wrong(format!("cutter.mark_error_mm is {error}: expected 0 to 10"));
    }
    Ok(())
}

/// Why a burn of a pass is none, in words; `None` when it is one.
fn no_burn(plan: &Plan, pass: &PlanPass, burn: &PlanBurn) -> Option<String> {
    let kinds = [BurnKind::Mark, BurnKind::Cutout, BurnKind::Outline];
    if !kinds.iter().any(|k| k.word() == burn.kind) {
        return Some(format!(
            "is of a kind \"{}\": expected one of {}",
            burn.kind,
            kinds.map(BurnKind::word).join(", ")
        ));
    }
    if burn.path.len() < if burn.closed { 3 } else { 2 } {
        return Some("is no line: it has too few points".into());
    }
    let known = if burn.kind == BurnKind::Mark.word() {
        pass.marks.iter().any(|m| m.name == burn.piece)
    } else {
        plan.pieces.iter().any(|p| (p.id.as_str(), p.copy) == (burn.piece.as_str(), burn.copy))
    };
    (!known).then(|| {
        let what = if burn.kind == BurnKind::Mark.word() { "marks of its pass" } else { "plan's pieces" };
        format!("is of {} (copy {}), which is not among the {what}", burn.piece, burn.copy)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    fn told(change: impl FnOnce(&mut serde_json::Value)) -> String {
        let mut value = serde_json::to_value(sample_plan()).unwrap();
        change(&mut value);
        parse(&value.to_string(), "plan.json").unwrap_err().to_string()
    }

    #[test]
    fn a_plan_reads_back() {
        let plan = sample_plan();
        assert_eq!(parse(&serde_json::to_string(&plan).unwrap(), "plan.json").unwrap(), plan);
    }

    #[test]
    fn what_is_no_plan_is_said() {
        assert!(parse("{", "p").unwrap_err().what.contains("not JSON"));
        assert!(parse("[]", "p").unwrap_err().what.contains("no plan"));
        assert!(parse("{\"settlay\": 1}", "p").unwrap_err().what.contains("a job, not a plan"));
        assert!(told(|v| v["settlay_plan"] = 7.into()).contains("newer settlay"));
        assert!(told(|v| v["settlay_plan"] = "1".into()).contains("no format number"));
    }

    #[test]
    fn a_field_that_is_wrong_is_named_by_its_path() {
        assert!(told(|v| v["passes"][1]["number"] = "two".into()).contains("passes[1].number"));
        assert!(
            told(|v| v["passes"][0]["cloth_to_bed"] = serde_json::json!([0, 0, 0, 0, 1, 1]))
                .contains("passes[0]")
        );
        assert!(told(|v| v["passes"][1]["number"] = 1.into()).contains("twice"));
        assert!(told(|v| v["passes"][0]["burns"][0]["path"][0][0] = 1e300.into()).contains("farther"));
        assert!(told(|v| v["units"] = "inch".into()).contains("inch"));
        let burn = |key: &'static str, to: serde_json::Value| told(|v| v["passes"][0]["burns"][0][key] = to);
        assert!(burn("piece", "nosuch".into()).contains("passes[0].burns[0] is of nosuch"));
        assert!(burn("kind", "etch".into()).contains("passes[0].burns[0] is of a kind \"etch\""));
        assert!(burn("path", serde_json::json!([])).contains("passes[0].burns[0] is no line"));
    }

    #[test]
    fn a_cutter_in_a_plan_must_hold_together_as_one_in_a_job() {
        let cutter = |key: &'static str, to: serde_json::Value| told(|v| v["cutter"][key] = to);
        let gcode = serde_json::json!({"power_range": [0, 100], "header": ["M3 S1000", "G0 X9999"]});
        let said = cutter("gcode", gcode);
        assert!(said.contains("plan.json: cutter.gcode.header[0]") && !said.contains("line 1"), "{said}");
        assert!(cutter("bed_mm", serde_json::json!([-900, 600])).contains("cutter.bed_mm[0]"));
        let said = told(|v| {
            v["cutter"]["gcode"] = serde_json::json!({"power_range": [0, 100]});
            v["cutter"]["tested"] = serde_json::json!([{"power": 1e9, "mm_per_s": 20}]);
        });
        assert!(said.contains("cutter.tested[0].power"), "{said}");
        let said = told(|v| drop(v.as_object_mut().unwrap().remove("cutter")));
        assert!(said.contains("does not say what cutter"), "{said}");
        assert!(told(|v| v["settlay_plan"] = 0.into()).contains("older settlay"));
    }
}
