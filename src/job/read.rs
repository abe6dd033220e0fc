//! A job file read and checked, every trouble at once.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::structure::{Fault, Finding};
use super::{Cutter, Job, Unsaid, limits, sense, structure};
use crate::say::Trouble;
use crate::say::json::{self, Place, Wrong, quoted};

/// Largest job file, bytes: outlines traced by hand fill a few thousand.
pub const LARGEST_FILE: u64 = 16 * 1024 * 1024;

/// At most so many faults of a file's structure are told.
pub(super) const MOST_TOLD: usize = 50;

/// Version of the job format that is read.
const FORMAT: u64 = 1;

/// The JSON Schema (draft 2020-12) of a job file, as published: the cutter may be the name of its own file.
pub fn schema() -> Value {
    let mut schema = inner_schema();
    if let Some(Value::Object(cutter)) = schema.pointer_mut("/properties/cutter")
        && let Some(own) = cutter.remove("$ref")
    {
        let file = serde_json::json!({"type": "string", "minLength": 1, "maxLength": 4096});
        cutter.insert("anyOf".into(), serde_json::json!([{"$ref": own}, file]));
    }
    schema
}

/// The JSON Schema (draft 2020-12) of a cutter in a file of its own.
pub fn cutter_schema() -> Value {
    limited(schemars::schema_for!(Cutter).to_value())
}

/// The schema of a job with its cutter in it.
fn inner_schema() -> Value {
    limited(schemars::schema_for!(Job).to_value())
}

fn limited(mut schema: Value) -> Value {
    limits::write_into(&mut schema);
    schema
}

/// Reads and checks the job file at `path`, and the cutter's own file where the job names one.
///
/// # Errors
/// Every trouble found: a file that cannot be read, or that is no job, or numbers that make no sense.
pub fn read(path: &Path) -> Result<Job, Vec<Trouble>> {
    let name = path.display().to_string();
    let bytes = bytes_of(path, &name, "job file").map_err(|t| vec![t])?;
    let text = text_of(&bytes, &name, "job file").map_err(|t| vec![t])?;
    let folder = path.parent().unwrap_or(Path::new(""));
    parse_beside(text, &name, Some(folder))
}

/// Reads and checks a cutter's own file.
///
/// # Errors
/// Every trouble found; each names the file.
pub fn read_cutter(path: &Path) -> Result<Cutter, Vec<Trouble>> {
    let name = path.display().to_string();
    let bytes = bytes_of(path, &name, "cutter file").map_err(|t| vec![t])?;
    let text = text_of(&bytes, &name, "cutter file").map_err(|t| vec![t])?;
    let cutter =
        parse_as(text, text, &name, &cutter_schema(), sense::of_cutter).and_then(|cutter: Cutter| {
            Ok(Cutter { unsaid: Unsaid::of(Some(&value_of(text, &name)?)), ..cutter })
        });
    let named =
        |t: Trouble| if t.about == name { t } else { Trouble { about: format!("{name}: {}", t.about), ..t } };
    cutter.map_err(|troubles| troubles.into_iter().map(named).collect())
}

/// The text of a file that was read already, as it is written.
fn value_of(text: &str, name: &str) -> Result<Value, Vec<Trouble>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    whole_value(text, name, "it begins with {").map_err(|t| vec![t])
}

/// The description in a cutter's own file as it is written there, field by field; a file that makes no sense is refused.
///
/// # Errors
/// Every trouble found; each names the file.
pub fn cutter_as_written(path: &Path) -> Result<Value, Vec<Trouble>> {
    read_cutter(path)?;
    let name = path.display().to_string();
    let bytes = bytes_of(path, &name, "cutter file").map_err(|t| vec![t])?;
    value_of(text_of(&bytes, &name, "cutter file").map_err(|t| vec![t])?, &name)
}

/// Reads and checks a cutter that stands in another file, such as a plan, under the key `cutter`; `name` is that file's.
///
/// # Errors
/// Every trouble found; each names the file and the field.
pub fn cutter_within(value: &Value, name: &str) -> Result<Cutter, Vec<Trouble>> {
    // Its lines are not those of the file: none are told.
    let cutter: Result<Cutter, _> =
        parse_as(&value.to_string(), "", name, &cutter_schema(), sense::of_cutter);
    let named = |t: Trouble| {
        let place = if t.about == name { "cutter".into() } else { format!("cutter.{}", t.about) };
        Trouble { about: format!("{name}: {place}"), ..t }
    };
    cutter.map_err(|troubles| troubles.into_iter().map(named).collect())
}

/// Reads and checks the text of a job file; `name` stands for it in troubles.
///
/// # Errors
/// Every trouble found. A trouble is about the field's path (`cloths[1].pattern.warp`) and says the value, what
/// is expected, and the line. A cutter in its own file cannot be found from here.
pub fn parse(text: &str, name: &str) -> Result<Job, Vec<Trouble>> {
    parse_beside(text, name, None)
}

/// The same for a job in `folder`, where the file of its cutter is looked for.
///
/// # Errors
/// As [`parse`], and a cutter's file that cannot be read.
pub fn parse_beside(text: &str, name: &str, folder: Option<&Path>) -> Result<Job, Vec<Trouble>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let value = whole_value(text, name, "a job begins with { \"settlay\": 1, …").map_err(|t| vec![t])?;
    if let Some(version) = value.get("settlay").and_then(Value::as_u64).filter(|v| *v > FORMAT) {
        let what = format!("{version}: this job is written for a newer settlay; expected format {FORMAT}");
        return Err(vec![Trouble::bad_input("settlay", what).hint("use a newer settlay to read it")]);
    }
    let scale_said = value.get("drawing_scale").is_some();
    let Some(file) = value.get("cutter").and_then(Value::as_str) else {
        let job: Job = parse_as(text, text, name, &inner_schema(), sense::findings)?;
        let cutter = Cutter { unsaid: Unsaid::of(value.get("cutter")), ..job.cutter };
        return Ok(Job { cutter, scale_said, ..job });
    };
    let cutter = match folder {
        Some(folder) => read_cutter(&folder.join(file))?,
        None => {
            let what =
                format!("{}: a cutter in its own file is found only from a job file", quoted(&file.into()));
            return Err(vec![
                Trouble::bad_input("cutter", what).hint("put the cutter's fields into the job"),
            ]);
        }
    };
    // The job is read as if it had no cutter of its own, and judged with the one it names.
    let judged = |job: &Job| sense::findings(&Job { cutter: cutter.clone(), ..job.clone() });
    let own = without_cutter(text, &value);
    parse_as(&own, &own, name, &inner_schema(), judged).map(|job| Job { cutter, scale_said, ..job })
}

/// The text of a job with the name of its cutter's file made an empty block, as long as it was: places stay true.
fn without_cutter(text: &str, value: &Value) -> String {
    let place = Place::default().key("cutter");
    let Some(at) = place.offset(text) else {
        let mut value = value.clone();
        value["cutter"] = serde_json::json!({});
        return value.to_string();
    };
    let (before, after) = text.split_at(at);
    let end = serde_json::Deserializer::from_str(after).into_iter::<Value>();
    let mut end = end;
    let _ = end.next();
    let long = end.byte_offset();
    format!("{before}{{{}}}{}", " ".repeat(long.saturating_sub(2)), &after[long..])
}

/// Reads `text`; troubles tell the lines of `shown`.
fn parse_as<T: DeserializeOwned + Serialize>(
    text: &str,
    shown: &str,
    name: &str,
    schema: &Value,
    senseless: impl Fn(&T) -> Vec<Finding>,
) -> Result<T, Vec<Trouble>> {
    let [text, shown] = [text, shown].map(|t| t.strip_prefix('\u{feff}').unwrap_or(t));
    let mut value = whole_value(text, name, "it begins with {").map_err(|t| vec![t])?;
    let as_written = value.clone();
    let mut found = structure::findings(schema, &value);
    if found.len() > MOST_TOLD {
        // No slip of the hand: the wrong file, or one written by a program gone wrong.
        found.truncate(MOST_TOLD);
        let mut first = troubles(found, shown, name);
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
        json::typed(&value).map_err(|wrong| told(&wrong))
    };
    match typed {
        Ok(read) => {
            let more = senseless(&read).into_iter().filter(|f| !follows_from(f, &unknown));
            let read_as = serde_json::to_value(&read).unwrap_or_default();
            let more: Vec<Finding> = more.map(|f| with_value(f, &as_written, &read_as)).collect();
            found.extend(more);
            if found.is_empty() { Ok(read) } else { Err(troubles(found, shown, name)) }
        }
        Err(trouble) => {
            let said =
                found.iter().any(|f| f.fault == Fault::Unreadable || f.place.to_string() == trouble.about);
            let mut all = troubles(found, shown, name);
            if !said {
                all.push(trouble);
            }
            Err(all)
        }
    }
}

fn bytes_of(path: &Path, name: &str, kind: &str) -> Result<Vec<u8>, Trouble> {
    let cannot = |e: std::io::Error| {
        let what = match e.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".to_string(),
            std::io::ErrorKind::PermissionDenied => {
                "the file may not be read (permission denied)".to_string()
            }
            std::io::ErrorKind::IsADirectory => format!("this is a folder, not a {kind}"),
            _ => format!("the file cannot be read: {e}"),
        };
        Trouble::bad_input(name, what)
    };
    let about = std::fs::metadata(path).map_err(cannot)?;
    if about.is_dir() {
        return Err(Trouble::bad_input(name, format!("this is a folder, not a {kind}"))
            .hint(format!("name the {kind} in it")));
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

fn text_of<'b>(bytes: &'b [u8], name: &str, kind: &str) -> Result<&'b str, Trouble> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let what = "the file is UTF-16 text: expected UTF-8";
        return Err(Trouble::bad_input(name, what).hint("save it again as UTF-8"));
    }
    std::str::from_utf8(bytes).map_err(|e| {
        let what = format!("the file is not text: byte {} is not UTF-8", e.valid_up_to() + 1);
        Trouble::bad_input(name, what).hint(format!("a {kind} is a JSON text file; is this the right file?"))
    })
}

fn whole_value(text: &str, name: &str, begins: &str) -> Result<Value, Trouble> {
    if text.trim().is_empty() {
        return Err(Trouble::bad_input(name, "the file is empty").hint(begins));
    }
    json::value(text).map_err(|wrong| {
        if let (true, Some((line, column))) = (wrong.ends_early, wrong.at) {
            let what = format!("the file ends too early, at line {line}, column {column}");
            return Trouble::bad_input(name, what)
                .hint("part of it is missing; a bracket or quotation mark is still open");
        }
        wrong.in_file(name)
    })
}

/// The typed reading, which alone sees a field given twice.
fn typed<T: DeserializeOwned>(text: &str) -> Result<T, Trouble> {
    json::read(text).map_err(|wrong| told(&wrong))
}

fn told(wrong: &Wrong) -> Trouble {
    let place = wrong.place.to_string();
    Trouble::bad_input(if place.is_empty() { "the job" } else { &place }, wrong.with_line())
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
