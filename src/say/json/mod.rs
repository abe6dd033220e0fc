//! JSON that a maker hands over, read: what is wrong is told by its place, what stands there and what should.
//!
//! Every reader of JSON in the program goes this way, so that no maker meets the words of a program's inside.

mod place;
mod words;

use std::fmt;

use serde::de::DeserializeOwned;
use serde_json::Value;

use super::Trouble;

pub use place::Place;
pub use words::quoted;

/// Longest place told, characters: far longer than any that is meant.
const LONGEST_PLACE: usize = 80;

/// What is wrong with JSON, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wrong {
    /// The field; empty for the whole.
    pub place: Place,
    /// What is wrong; begins with what stands there where something does.
    pub what: String,
    /// Line and column, from 1, where they are known.
    pub at: Option<(usize, usize)>,
    /// The text ends in the middle.
    pub ends_early: bool,
}

impl Wrong {
    /// What is wrong, with line and column where they are known.
    pub fn with_line(&self) -> String {
        match self.at {
            Some((line, column)) => format!("{} (line {line}, column {column})", self.what),
            None => self.what.clone(),
        }
    }

    /// The same with its line and column in `text`, which it was found in.
    #[must_use]
    pub fn in_text(mut self, text: &str) -> Wrong {
        self.at = self.at.or_else(|| self.place.line_and_column(text));
        self
    }

    /// As a trouble with the file `name`.
    pub fn in_file(&self, name: &str) -> Trouble {
        Trouble::bad_input(name, self.to_string())
    }
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = self.place.to_string();
        match place.char_indices().nth(LONGEST_PLACE) {
            Some((end, _)) => write!(f, "{}…: ", &place[..end])?,
            None if !place.is_empty() => write!(f, "{place}: ")?,
            None => {}
        }
        f.write_str(&self.with_line())
    }
}

/// JSON text as a value; a byte order mark before it is passed over.
///
/// # Errors
/// It is no JSON.
pub fn value(text: &str) -> Result<Value, Wrong> {
    serde_json::from_str(text.strip_prefix('\u{feff}').unwrap_or(text)).map_err(|e| badly_written(&e))
}

/// A value as a `T`.
///
/// # Errors
/// The first thing that is not as it should be.
pub fn typed<T: DeserializeOwned>(value: &Value) -> Result<T, Wrong> {
    serde_path_to_error::deserialize(value).map_err(|e| not_as_it_should_be(&e, Some(value)))
}

/// JSON text as a `T`; sees also a field given twice.
///
/// # Errors
/// It is no JSON, or the first thing that is not as it should be.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, Wrong> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = serde_json::Deserializer::from_str(text);
    let read: Result<T, _> = serde_path_to_error::deserialize(&mut reader);
    let read = read.map_err(|e| {
        let whole = match value(text) {
            Ok(whole) => whole,
            Err(wrong) => return wrong,
        };
        // It is JSON: what was taken for a slip of writing is something of another kind than expected.
        let wrong = match e.inner().classify() {
            serde_json::error::Category::Data => not_as_it_should_be(&e, Some(&whole)),
            _ => typed::<T>(&whole).err().unwrap_or_else(|| badly_written(e.inner())),
        };
        let at = wrong.place.line_and_column(text).or(wrong.at);
        Wrong { at: at.or(Some((e.inner().line(), e.inner().column()))), ..wrong }
    })?;
    reader.end().map_err(|e| badly_written(&e))?;
    Ok(read)
}

/// The same from the bytes of a file.
///
/// # Errors
/// As [`read`], and bytes that are no text.
pub fn read_bytes<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Wrong> {
    read(text_of(bytes)?)
}

/// The bytes of a file as a value.
///
/// # Errors
/// As [`value`], and bytes that are no text.
pub fn value_of_bytes(bytes: &[u8]) -> Result<Value, Wrong> {
    value(text_of(bytes)?)
}

fn text_of(bytes: &[u8]) -> Result<&str, Wrong> {
    std::str::from_utf8(bytes).map_err(|e| {
        let what = format!("this is not text: byte {} is not UTF-8", e.valid_up_to() + 1);
        Wrong { place: Place::default(), what, at: None, ends_early: false }
    })
}

fn badly_written(e: &serde_json::Error) -> Wrong {
    let what = format!("this is not JSON: {}", words::of_writing(e));
    Wrong { place: Place::default(), what, at: Some((e.line(), e.column())), ends_early: e.is_eof() }
}

fn not_as_it_should_be(e: &serde_path_to_error::Error<serde_json::Error>, whole: Option<&Value>) -> Wrong {
    let mut place = Place::default();
    for step in e.path() {
        place = match step {
            serde_path_to_error::Segment::Seq { index } => place.index(*index),
            serde_path_to_error::Segment::Map { key } => place.key(key),
            serde_path_to_error::Segment::Enum { .. } | serde_path_to_error::Segment::Unknown => place,
        };
    }
    let found = whole.and_then(|v| place.look_up(v));
    let what = words::of_content(e.inner(), found);
    Wrong { place, what, at: None, ends_early: false }
}

#[cfg(test)]
mod tests;
