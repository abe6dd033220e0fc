//! A plan file read again and checked.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::model::{Plan, PlanPass};
use crate::say::Trouble;
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
    let value: serde_json::Value = serde_json::from_str(text)
        .map_err(|e| Trouble::bad_input(name, format!("this is not JSON: {e}")).hint(ANEW))?;
    match value.get("settlay_plan").map(serde_json::Value::as_u64) {
        Some(Some(FORMAT)) => {}
        Some(Some(version)) if version > FORMAT => {
            let what = format!("this plan is in format {version}; this settlay reads format {FORMAT}");
            return Err(Trouble::bad_input(name, what).hint("use a newer settlay to read it"));
        }
        Some(_) => return Err(Trouble::bad_input(name, "its settlay_plan is no format number").hint(ANEW)),
        None if value.get("settlay").is_some() => {
            return Err(Trouble::bad_input(name, "this is a job, not a plan")
                .hint("settlay plan makes a plan of it; name the plan.json that it writes"));
        }
        None => return Err(Trouble::bad_input(name, "this is no plan: it has no settlay_plan").hint(ANEW)),
    }
    let plan: Plan = serde_path_to_error::deserialize(&value).map_err(|e| {
        let place = e.path().to_string();
        let what = format!("{place}: {}", e.inner());
        Trouble::bad_input(name, what)
            .hint("it is of an older settlay or was changed by hand; plan the job anew")
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
        let burnt = pass.burns.iter().flat_map(|b| b.path.iter().chain(&b.lead_in));
        let marks = pass.marks.iter().flat_map(|m| [&m.cloth, &m.bed]);
        let key = pass.key.iter().flat_map(|k| &k.path);
        let all = burnt.chain(marks).chain(key).chain(pass.joints.iter().map(|j| &j.cloth));
        let far = |p: &&[f64; 2]| p.iter().any(|v| !(v.abs() <= tol::FARTHEST_MM));
        if let Some([x, y]) = all.clone().find(far) {
            return wrong(format!(
                "passes[{i}] has a point at ({x}, {y}) mm, farther than any cloth reaches"
            ));
        }
    }
    let error = plan.cutter.mark_error_mm;
    if !(0.0..=10.0).contains(&error) {
        return wrong(format!("cutter.mark_error_mm is {error}: expected 0 to 10"));
    }
    Ok(())
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
    }
}
