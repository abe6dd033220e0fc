//! A hint provoked, done and found to be accepted.

use serde_json::Value;

use crate::desk::{Desk, job};
use crate::sources::says;

/// Fields of the job, as JSON pointers, with their new values as JSON; `-` takes the field out.
pub type Edits = &'static [(&'static str, &'static str)];

/// What is done to the desk.
#[derive(Clone, Copy)]
pub enum Do {
    /// The job is written with these fields changed; those of what went before stay.
    Job(Edits),
    /// Anything else.
    Desk(fn(&Desk)),
    /// Both, the desk first.
    Both(fn(&Desk), Edits),
}

/// One thing that a hint proposes.
#[derive(Clone, Copy)]
pub struct Way {
    /// In the hint's words.
    pub what: &'static str,
    pub done: Do,
    /// The command, where it is another.
    pub words: &'static [&'static str],
}

/// One hint.
#[derive(Clone)]
pub struct Case {
    /// As it stands in the sources.
    pub hint: &'static str,
    pub spoilt: Do,
    pub words: &'static [&'static str],
    pub ways: Vec<Way>,
}

/// The job's file.
pub const JOB: &str = "j.job.json";
pub const LAY: &[&str] = &["lay", JOB];
pub const PLAN: &[&str] = &["plan", JOB, "--out", "plan"];

/// A hint of a job laid.
pub fn of_job(hint: &'static str, spoilt: Edits, ways: &[(&'static str, Edits)]) -> Case {
    let ways = ways.iter().map(|(what, edits)| Way { what, done: Do::Job(edits), words: &[] }).collect();
    Case { hint, spoilt: Do::Job(spoilt), words: LAY, ways }
}

/// A hint of any command.
pub fn of(
    hint: &'static str,
    spoilt: Do,
    words: &'static [&'static str],
    ways: &[(&'static str, Do, &'static [&'static str])],
) -> Case {
    let ways = ways.iter().map(|(what, done, words)| Way { what, done: *done, words }).collect();
    Case { hint, spoilt, words, ways }
}

fn edited(job: &mut Value, edits: Edits) {
    for (path, value) in edits {
        let (parent, last) = path.rsplit_once('/').unwrap();
        let parent = job.pointer_mut(parent).unwrap_or_else(|| panic!("{path}"));
        if *value == "-" {
            parent.as_object_mut().unwrap().remove(last);
            continue;
        }
        let value: Value = serde_json::from_str(value).unwrap_or_else(|e| panic!("{path}: {e}"));
        match parent {
            Value::Array(all) => all[last.parse::<usize>().unwrap()] = value,
            other => other[last] = value,
        }
    }
}

fn apply(done: Do, desk: &Desk, job: &mut Value) {
    let edits: Edits = match done {
        Do::Job(edits) => edits,
        Do::Desk(act) => {
            act(desk);
            &[]
        }
        Do::Both(act, edits) => {
            act(desk);
            edits
        }
    };
    edited(job, edits);
    desk.put(JOB, job.to_string());
}

/// Tries every case; tells all that went wrong at once.
pub fn try_all(cases: &[Case]) {
    let wrong: Vec<String> = cases.iter().flat_map(try_one).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

fn try_one(case: &Case) -> Vec<String> {
    let mut wrong = Vec::new();
    assert!(!case.ways.is_empty(), "nothing of this hint is tried: {}", case.hint);
    for way in &case.ways {
        let desk = Desk::new();
        let mut job = job();
        apply(case.spoilt, &desk, &mut job);
        let before = desk.run(case.words);
        let hinted = before.err.lines().any(|l| l.starts_with("hint: ") && says(l, case.hint));
        if before.code == Some(0) || !hinted {
            wrong.push(format!("not provoked: {}\n{:?}: {}", case.hint, before.code, before.err));
            break;
        }
        apply(way.done, &desk, &mut job);
        let words = if way.words.is_empty() { case.words } else { way.words };
        let after = desk.run(words);
        if after.code != Some(0) {
            wrong.push(format!(
                "hint: {}\nafter {}: {words:?}\n{:?}: {}",
                case.hint, way.what, after.code, after.err
            ));
        }
    }
    wrong
}
