//! A job file read and checked, every trouble at once.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use serde_json::Value;

use super::place::Place;
use super::structure::{Fault, Finding, quoted};
use super::{Job, limits, sense, structure};
use crate::say::Trouble;

/// Largest job file, bytes: outlines traced by hand fill a few thousand.
pub const LARGEST_FILE: u64 = 16 * 1024 * 1024;

/// At most so many faults of a file's structure are told.
pub(super) const MOST_TOLD: usize = 50;

/// Version of the job format that is read.
const FORMAT: u64 = 1;

/// The JSON Schema (draft 2020-12) of a job file.
pub fn schema() -> Value {
    let mut schema = schemars::schema_for!(Job).to_value();
    limits::write_into(&mut schema);
    schema
}

/// Reads and checks the job file at `path`.
///
/// # Errors
/// Every trouble found: a file that cannot be read, or that is no job, or numbers that make no sense.
pub fn read(path: &Path) -> Result<Job, Vec<Trouble>> {
    let name = path.display().to_string();
    match bytes_of(path, &name) {
        Ok(bytes) => parse(text_of(&bytes, &name).map_err(|t| vec![t])?, &name),
        Err(trouble) => Err(vec![trouble]),
    }
}

/// Reads and checks the text of a job file; `name` stands for it in troubles.
///
/// # Errors
/// Every trouble found. A trouble is about the field's path (`cloths[1].pattern.warp`) and says the value, what
/// is expected, and the line.
pub fn parse(text: &str, name: &str) -> Result<Job, Vec<Trouble>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut value = whole_value(text, name).map_err(|t| vec![t])?;
    if let Some(version) = value.get("settlay").and_then(Value::as_u64).filter(|v| *v > FORMAT) {
        let what = format!("{version}: this job is written for a newer settlay; expected format {FORMAT}");
        return Err(vec![Trouble::bad_input("settlay", what).hint("use a newer settlay to read it")]);
    }
    let as_written = value.clone();
    let mut found = structure::findings(&schema(), &value);
    if found.len() > MOST_TOLD {
        // No slip of the hand: the wrong file, or one written by a program gone wrong.
        found.truncate(MOST_TOLD);
        let mut first = troubles(found, text, name);
        let what = format!("there are more than {MOST_TOLD} faults; these are the first");
        first.push(Trouble::bad_input(name, what).hint("is this the right file?"));
        return Err(first);
    }
    let unknown: Vec<Place> =
        found.iter().filter(|f| f.fault == Fault::Unknown).map(|f| f.place.clone()).collect();
    let typed = if unknown.is_empty() {
        typed(text)
    } else {
        unknown.iter().for_each(|place| place.remove(&mut value));
        serde_path_to_error::deserialize(&value).map_err(|e| told(e.path().to_string(), e.inner(), name))
    };
    match typed {
        Ok(job) => {
            let more = sense::findings(&job).into_iter().filter(|f| !follows_from(f, &unknown));
            let shown = serde_json::to_value(&job).unwrap_or_default();
            let more: Vec<Finding> = more.map(|f| with_value(f, &as_written, &shown)).collect();
            found.extend(more);
            if found.is_empty() { Ok(job) } else { Err(troubles(found, text, name)) }
        }
        Err(trouble) => {
            let said =
                found.iter().any(|f| f.fault == Fault::Unreadable || f.place.to_string() == trouble.about);
            let mut all = troubles(found, text, name);
            if !said {
                all.push(trouble);
            }
            Err(all)
        }
    }
}

fn bytes_of(path: &Path, name: &str) -> Result<Vec<u8>, Trouble> {
    let cannot = |e: std::io::Error| {
        let what = match e.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".to_string(),
            std::io::ErrorKind::PermissionDenied => {
                "the file may not be read (permission denied)".to_string()
            }
            std::io::ErrorKind::IsADirectory => "this is a folder, not a job file".to_string(),
            _ => format!("the file cannot be read: {e}"),
        };
        Trouble::bad_input(name, what)
    };
    let about = std::fs::metadata(path).map_err(cannot)?;
    if about.is_dir() {
        return Err(
            Trouble::bad_input(name, "this is a folder, not a job file").hint("name the job file in it")
        );
    }
    if !about.is_file() {
        // A pipe would keep the run waiting for a writer that never comes.
        let what = "this is no plain file";
        return Err(Trouble::bad_input(name, what).hint("save the job to a file and name that"));
    }
    let mut bytes = Vec::new();
    File::open(path).map_err(cannot)?.take(LARGEST_FILE + 1).read_to_end(&mut bytes).map_err(cannot)?;
    if bytes.len() as u64 > LARGEST_FILE {
        let size = about.len().max(bytes.len() as u64).div_ceil(1024 * 1024);
        let what = format!("the file is too large for a job: {size} MB, {} MB at most", LARGEST_FILE >> 20);
        return Err(Trouble::bad_input(name, what));
    }
    Ok(bytes)
}

fn text_of<'b>(bytes: &'b [u8], name: &str) -> Result<&'b str, Trouble> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let what = "the file is UTF-16 text: expected UTF-8";
        return Err(Trouble::bad_input(name, what).hint("save it again as UTF-8"));
    }
    std::str::from_utf8(bytes).map_err(|e| {
        let what = format!("the file is not text: byte {} is not UTF-8", e.valid_up_to() + 1);
        Trouble::bad_input(name, what).hint("a job is a JSON text file; is this the right file?")
    })
}

fn whole_value(text: &str, name: &str) -> Result<Value, Trouble> {
    if text.trim().is_empty() {
        return Err(
            Trouble::bad_input(name, "the file is empty").hint("a job begins with { \"settlay\": 1, …")
        );
    }
    serde_json::from_str(text).map_err(|e| {
        let place = format!("line {}, column {}", e.line(), e.column());
        if e.is_eof() {
            let what = format!("the file ends too early, at {place}");
            return Trouble::bad_input(name, what)
                .hint("part of it is missing; a bracket or quotation mark is still open");
        }
        Trouble::bad_input(name, format!("this is not JSON: {} ({place})", plain(&e)))
    })
}

/// The typed reading, which alone sees a field given twice.
fn typed(text: &str) -> Result<Job, Trouble> {
    let mut reader = serde_json::Deserializer::from_str(text);
    serde_path_to_error::deserialize(&mut reader).map_err(|e| {
        let (line, column) = (e.inner().line(), e.inner().column());
        told(e.path().to_string(), e.inner(), &format!("line {line}, column {column}"))
    })
}

fn told(path: String, e: &serde_json::Error, place: &str) -> Trouble {
    Trouble::bad_input(if path == "." { "the job" } else { &path }, format!("{} ({place})", plain(e)))
}

/// serde's own words without the place, which is said apart.
fn plain(e: &serde_json::Error) -> String {
    let text = e.to_string();
    let words = text.split(" at line ").next().unwrap_or_default();
    if words == "recursion limit exceeded" {
        return "its brackets are nested deeper than in any job".into();
    }
    match words.strip_prefix("duplicate field `") {
        Some(field) => format!("the field \"{}\" is given twice", field.trim_end_matches('`')),
        None => words.to_string(),
    }
}

/// Something is missing where a field is misspelt: saying it twice helps nobody.
fn follows_from(finding: &Finding, unknown: &[Place]) -> bool {
    finding.fault == Fault::Unreadable && unknown.iter().any(|place| place.is_field_of(&finding.place))
}

/// Puts the value in front of what is said of it; a value nobody wrote is the default.
fn with_value(mut finding: Finding, as_written: &Value, shown: &Value) -> Finding {
    if finding.fault == Fault::Senseless {
        let value = match finding.place.look_up(as_written) {
            Some(value) => quoted(value),
            None => {
                finding.place.look_up(shown).map_or(String::new(), |v| format!("{} (the default)", quoted(v)))
            }
        };
        finding.what = format!("{value}: {}", finding.what);
    }
    finding
}

fn troubles(found: Vec<Finding>, text: &str, name: &str) -> Vec<Trouble> {
    let mut told: Vec<((usize, usize), Trouble)> = found
        .into_iter()
        .map(|f| {
            let about = f.place.to_string();
            let about = if about.is_empty() { name.to_string() } else { about };
            let (order, what) = match f.place.line_and_column(text) {
                Some((line, column)) => {
                    ((line, column), format!("{} (line {line}, column {column})", f.what))
                }
                None => ((usize::MAX, 0), f.what),
            };
            (order, Trouble::bad_input(about, what).hint(f.hint))
        })
        .collect();
    told.sort_by_key(|(order, _)| *order);
    told.into_iter().map(|(_, trouble)| trouble).collect()
}
