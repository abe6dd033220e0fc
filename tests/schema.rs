//! The example files and a plan as written keep to the published schemas, by a library of others.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt;
use serde_json::Value;

fn settlay() -> Command {
    Command::cargo_bin("settlay").unwrap()
}

fn schema(which: &str) -> jsonschema::Validator {
    let out = settlay().args(["schema", which]).output().unwrap();
    assert!(out.status.success() && out.stderr.is_empty());
    jsonschema::validator_for(&serde_json::from_slice(&out.stdout).unwrap()).unwrap()
}

fn examples() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let folders = std::fs::read_dir(root).unwrap().map(|e| e.unwrap().path()).filter(|p| p.is_dir());
    let files = folders.flat_map(|f| std::fs::read_dir(f).unwrap()).map(|e| e.unwrap().path());
    let mut jobs: Vec<PathBuf> = files.filter(|p| p.to_string_lossy().ends_with(".job.json")).collect();
    jobs.sort();
    jobs
}

fn faults(schema: &jsonschema::Validator, value: &Value) -> Vec<String> {
    schema.iter_errors(value).map(|e| format!("{}: {e}", e.instance_path())).collect()
}

#[test]
fn every_example_job_keeps_to_the_schema_that_is_printed() {
    let schema = schema("job");
    let jobs = examples();
    assert!(jobs.len() >= 4, "{jobs:?}");
    for path in jobs {
        let job: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
        assert_eq!(faults(&schema, &job), Vec::<String>::new(), "{}", path.display());
        // The schema is no open door: a field nobody knows is refused.
        let mut odd = job.clone();
        odd["sleeves"] = true.into();
        assert!(!schema.is_valid(&odd));
    }
}

#[test]
fn a_plan_as_written_keeps_to_the_schema_that_is_printed() {
    let schema = schema("plan");
    let folder = tempfile::tempdir().unwrap();
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/stole");
    std::fs::copy(example.join("stole.svg"), folder.path().join("stole.svg")).unwrap();
    let text = std::fs::read(example.join("stole.job.json")).unwrap();
    let mut job: Value = serde_json::from_slice(&text).unwrap();
    job["lay"]["effort"] = 1.into();
    std::fs::write(folder.path().join("stole.job.json"), job.to_string()).unwrap();
    let out = settlay()
        .current_dir(folder.path())
        .args(["plan", "stole.job.json", "--out", "plan"])
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let text = std::fs::read(folder.path().join("plan/plan.json")).unwrap();
    let plan: Value = serde_json::from_slice(&text).unwrap();
    assert_eq!(faults(&schema, &plan), Vec::<String>::new());
}
