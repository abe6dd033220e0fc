//! A shelf file read, and what can be saved of a damaged one.

use serde::Deserialize;
use serde_json::Value;

use crate::say::{Trouble, json};

use super::model::Offcut;

/// Version of the shelf format.
pub(super) const FORMAT: u64 = 1;

/// A shelf file, read.
#[derive(Debug, Default)]
pub(super) struct Read {
    /// What is sound.
    pub offcuts: Vec<Offcut>,
    /// What is not.
    pub damaged: Vec<Damage>,
}

/// A part of a shelf file that cannot be read.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Damage {
    /// What it is and what is wrong with it.
    pub what: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    settlay_shelf: u64,
    /// Which program wrote it; the first did not say.
    #[serde(default, rename = "program")]
    _program: String,
    offcuts: Vec<Offcut>,
}

/// Reads a shelf file. Entries that cannot be read are told apart from the sound ones.
///
/// # Errors
/// A file that is something else altogether, or was written by a newer program.
pub(super) fn read(bytes: &[u8], name: &str) -> Result<Read, Trouble> {
    let mut read = Read::default();
    match serde_json::from_slice::<Document>(bytes) {
        Ok(doc) if doc.settlay_shelf == FORMAT => doc.offcuts.into_iter().for_each(|o| take(&mut read, o)),
        _ => match json::value_of_bytes(bytes) {
            Ok(whole) => document(&mut read, &whole, name)?,
            Err(e) => rescue(&mut read, bytes, name, &e)?,
        },
    }
    Ok(read)
}

fn take(read: &mut Read, offcut: Offcut) {
    let nameless = || offcut.id.is_empty().then(|| "it has no id".to_owned());
    match offcut.fault().or_else(nameless) {
        None => read.offcuts.push(offcut),
        Some(fault) => {
            let bytes = serde_json::to_vec(&offcut).unwrap_or_default();
            read.damaged.push(Damage { what: format!("offcut {}: {fault}", offcut.id), bytes });
        }
    }
}

fn no_shelf(name: &str) -> Trouble {
    Trouble::bad_input(name, "this is not an offcut shelf; it was left as it is")
        .hint("name the shelf's file with --shelf, or move this one away")
}

/// A file that is JSON, entry by entry.
fn document(read: &mut Read, whole: &Value, name: &str) -> Result<(), Trouble> {
    let version = whole.get("settlay_shelf").and_then(Value::as_u64).ok_or_else(|| no_shelf(name))?;
    if version != FORMAT {
        let what = format!("the shelf is of format {version}, this program knows format {FORMAT}");
        return Err(Trouble::bad_input(name, what).hint("use a newer settlay to read it"));
    }
    let entries = whole.get("offcuts").and_then(Value::as_array).ok_or_else(|| no_shelf(name))?;
    entries.iter().enumerate().for_each(|(k, e)| entry(read, k, e));
    for (key, value) in whole.as_object().into_iter().flatten() {
        if !["settlay_shelf", "program", "offcuts"].contains(&key.as_str()) {
            let what = format!("\"{key}\" is nothing a shelf has");
            read.damaged.push(Damage { what, bytes: value.to_string().into_bytes() });
        }
    }
    Ok(())
}

fn entry(read: &mut Read, k: usize, value: &Value) {
    match json::typed::<Offcut>(value) {
        Ok(offcut) => take(read, offcut),
        Err(e) => {
            let id = value.get("id").and_then(Value::as_str);
            let what = id.map_or(format!("entry {}: {e}", k + 1), |id| format!("offcut {id}: {e}"));
            read.damaged.push(Damage { what, bytes: value.to_string().into_bytes() });
        }
    }
}

/// Longest text of one entry: some thousands of corners.
const LONGEST_ENTRY: usize = 1 << 20;

/// Places tried in vain before the rest is set aside as it is.
const MOST_IN_VAIN: usize = 20_000;

/// A file that is not JSON any more: every whole entry in it is saved, whatever lies between them set aside.
fn rescue(read: &mut Read, bytes: &[u8], name: &str, e: &json::Wrong) -> Result<(), Trouble> {
    let mut in_vain = 0;
    let mut done = 0;
    let mut at = 0;
    let mut between: Vec<(usize, usize)> = Vec::new();
    let mut headed = false;
    while let Some(k) = bytes.iter().skip(at).position(|b| *b == b'{').map(|k| k + at) {
        at = k + 1;
        let rest = bytes.get(k..bytes.len().min(k + LONGEST_ENTRY)).unwrap_or_default();
        let mut values = serde_json::Deserializer::from_slice(rest).into_iter::<Value>();
        let value = match values.next() {
            Some(Ok(value)) => value,
            _ => {
                in_vain += 1;
                if in_vain > MOST_IN_VAIN {
                    break;
                }
                continue;
            }
        };
        let end = k + values.byte_offset();
        if value.get("settlay_shelf").is_some() {
            // A whole shelf with rubbish about it.
            document(read, &value, name)?;
            headed = true;
        } else if value.get("id").is_some() && value.get("cloth").is_some() {
            entry(read, read.offcuts.len() + read.damaged.len(), &value);
        } else {
            continue;
        }
        between.push((done, k));
        (done, at) = (end, end);
    }
    between.push((done, bytes.len()));
    headed |= contains(bytes, b"settlay_shelf");
    if read.offcuts.is_empty() && !headed && bytes.iter().any(|b| !b.is_ascii_whitespace()) {
        return Err(no_shelf(name));
    }
    let before = read.damaged.len();
    for (from, to) in between {
        let part = bytes.get(from..to).unwrap_or_default();
        if !is_frame(part) {
            let line = bytes.iter().take(from).filter(|b| **b == b'\n').count() + 1;
            let id = id_in(part).map_or(String::new(), |id| format!(", offcut {id} it seems"));
            read.damaged.push(Damage { what: format!("from line {line}{id}"), bytes: part.to_vec() });
        }
    }
    if read.damaged.len() == before {
        read.damaged.push(Damage { what: format!("its frame: {e}"), bytes: Vec::new() });
    }
    Ok(())
}

fn contains(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|w| w == part)
}

/// True for what stands between entries in a sound file.
fn is_frame(part: &[u8]) -> bool {
    let bare: Vec<u8> = part.iter().copied().filter(|b| !b.is_ascii_whitespace()).collect();
    matches!(&bare[..], b"" | b"," | b"]}" | b"{\"settlay_shelf\":1,\"offcuts\":[")
}

/// The id in what is left of an entry.
fn id_in(part: &[u8]) -> Option<String> {
    let text = String::from_utf8_lossy(part);
    let (_, after) = text.split_once("\"id\"")?;
    let id = after.split('"').nth(1)?;
    (id.chars().count() <= 100 && !id.chars().any(char::is_control)).then(|| id.to_owned())
}
