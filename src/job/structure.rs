//! Does a JSON value have the job's structure? Walks value and schema side by side and finds every fault,
//! where reading into types would stop at the first.
//!
//! Knows the parts of JSON Schema (draft 2020-12) that the job's schema uses.

use serde_json::{Map, Value};

use super::limits::COLOUR;
use super::read::MOST_TOLD;
use crate::say::json::{Place, quoted};
use crate::say::nearest_name;

/// Something wrong at a place.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Finding {
    /// The field.
    pub place: Place,
    /// What is wrong; begins with the value where there is one.
    pub what: String,
    /// What would help; may be empty.
    pub hint: String,
    /// What sort of fault.
    pub fault: Fault,
}

/// Sorts of fault, by what can still be read in spite of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// A field nobody knows: the rest can be read without it.
    Unknown,
    /// Missing or of the wrong kind: the file cannot be read into a job.
    Unreadable,
    /// Readable, but out of sense.
    Senseless,
}

/// Every fault of `value` against `schema`, or a few more than [`MOST_TOLD`] of them.
pub(super) fn findings(schema: &Value, value: &Value) -> Vec<Finding> {
    let mut walk = Walk { root: schema, found: Vec::new() };
    walk.value(schema, value, &Place::default());
    walk.found
}

struct Walk<'a> {
    root: &'a Value,
    found: Vec<Finding>,
}

impl Walk<'_> {
    /// True when more was found than is told.
    fn is_full(&self) -> bool {
        self.found.len() > MOST_TOLD
    }

    fn say(&mut self, place: &Place, fault: Fault, what: String, hint: String) {
        self.found.push(Finding { place: place.clone(), what, hint, fault });
    }

    fn expected(&mut self, place: &Place, fault: Fault, value: &Value, expected: &str) {
        self.say(place, fault, format!("{}: expected {expected}", quoted(value)), String::new());
    }

    fn value(&mut self, schema: &Value, value: &Value, place: &Place) {
        let root = self.root;
        if let Some(name) = schema.get("$ref").and_then(Value::as_str) {
            let target = name.strip_prefix('#').and_then(|pointer| root.pointer(pointer));
            return target.into_iter().for_each(|target| self.value(target, value, place));
        }
        if let Some(choices) = schema.get("anyOf").and_then(Value::as_array) {
            let is_null = |s: &&Value| s.get("type").and_then(Value::as_str) == Some("null");
            if value.is_null() && choices.iter().any(|s| is_null(&s)) {
                return;
            }
            return choices.iter().filter(|s| !is_null(s)).for_each(|s| self.value(s, value, place));
        }
        if let Some(choices) = schema.get("oneOf").and_then(Value::as_array) {
            let words: Vec<&str> =
                choices.iter().filter_map(|s| s.get("const").and_then(Value::as_str)).collect();
            return self.word(&words, value, place);
        }
        let kinds = kinds(schema);
        if !kinds.iter().any(|kind| is_of(value, kind)) {
            let hint = match value.as_str() {
                Some(text) if kinds.iter().any(|k| matches!(*k, "number" | "integer")) => text
                    .trim()
                    .parse::<f64>()
                    .map_or(String::new(), |_| "leave out the quotation marks".into()),
                _ => String::new(),
            };
            let expected = kinds.iter().map(|k| called(k, schema)).collect::<Vec<_>>().join(" or ");
            let what = format!("{}: expected {expected}", quoted(value));
            return self.say(place, Fault::Unreadable, what, hint);
        }
        match value {
            Value::Object(fields) => self.object(schema, fields, place),
            Value::Array(entries) => self.list(schema, value, entries, place),
            Value::Number(_) => self.number(schema, value, place),
            Value::String(text) => self.text(schema, value, text, place),
            Value::Null | Value::Bool(_) => {}
        }
    }

    fn word(&mut self, words: &[&str], value: &Value, place: &Place) {
        let given = value.as_str().unwrap_or_default();
        if !words.contains(&given) {
            let hint = nearest_name(given, words.iter().copied())
                .map_or(String::new(), |word| format!("did you mean \"{word}\"?"));
            let what = format!("{}: expected one of {}", quoted(value), words.join(", "));
            self.say(place, Fault::Unreadable, what, hint);
        }
    }

    fn object(&mut self, schema: &Value, fields: &Map<String, Value>, place: &Place) {
        let none = Map::new();
        let known = schema.get("properties").and_then(Value::as_object).unwrap_or(&none);
        for (key, value) in fields {
            if self.is_full() {
                return;
            }
            if let Some(property) = known.get(key) {
                self.value(property, value, &place.key(key));
            } else if let Some(others) = schema.get("additionalProperties").filter(|s| s.is_object()) {
                self.value(others, value, &place.key(key));
            } else {
                self.say(
                    &place.key(key),
                    Fault::Unknown,
                    "unknown field".into(),
                    self.field_hint(key, known),
                );
            }
        }
        let required = schema.get("required").and_then(Value::as_array);
        for key in required.into_iter().flatten().filter_map(Value::as_str) {
            if !fields.contains_key(key) {
                let what = format!("the field \"{key}\" is missing");
                let hint = known.get(key).and_then(|s| s.get("description")).and_then(Value::as_str);
                self.say(place, Fault::Unreadable, what, hint.unwrap_or_default().to_string());
            }
        }
        if schema.get("minProperties").is_some() && fields.values().all(Value::is_null) {
            let names: Vec<&str> = known.keys().map(String::as_str).collect();
            let what = format!("{{}}: expected at least one of {}", names.join(", "));
            self.say(place, Fault::Senseless, what, String::new());
        }
    }

    /// What was meant by a field nobody knows: a near name, the same name elsewhere, or what there is.
    fn field_hint(&self, key: &str, known: &Map<String, Value>) -> String {
        if let Some(name) = nearest_name(key, known.keys().map(String::as_str)) {
            return format!("did you mean \"{name}\"?");
        }
        let defs = self.root.get("$defs").and_then(Value::as_object);
        for (field, property) in self.root.get("properties").and_then(Value::as_object).into_iter().flatten()
        {
            let name =
                property.get("$ref").or_else(|| property.pointer("/items/$ref")).and_then(Value::as_str);
            let def = name.and_then(|n| n.strip_prefix("#/$defs/")).and_then(|n| defs.and_then(|d| d.get(n)));
            if def.and_then(|d| d.get("properties")).is_some_and(|p| p.get(key).is_some()) {
                return format!("\"{key}\" belongs in \"{field}\"");
            }
        }
        format!("known here: {}", known.keys().map(String::as_str).collect::<Vec<_>>().join(", "))
    }

    fn list(&mut self, schema: &Value, value: &Value, entries: &[Value], place: &Place) {
        let bound = |key: &str| schema.get(key).and_then(Value::as_u64).map(|n| n as usize);
        let (least, most) = (bound("minItems").unwrap_or(0), bound("maxItems").unwrap_or(usize::MAX));
        if least == most && entries.len() != least {
            return self.expected(place, Fault::Unreadable, value, &called("array", schema));
        }
        if entries.len() < least {
            let what =
                if least == 1 { "at least one entry".into() } else { format!("at least {least} points") };
            self.expected(place, Fault::Senseless, value, &what);
        }
        if entries.len() > most {
            let what = format!("{} entries: expected at most {most}", entries.len());
            return self.say(place, Fault::Senseless, what, String::new());
        }
        if let Some(items) = schema.get("items") {
            for (k, entry) in entries.iter().enumerate() {
                if self.is_full() {
                    return;
                }
                self.value(items, entry, &place.index(k));
            }
        }
    }

    fn number(&mut self, schema: &Value, value: &Value, place: &Place) {
        let Some(number) = value.as_f64() else { return };
        let bound = |key: &str| schema.get(key).and_then(Value::as_f64);
        if let (Some(low), Some(high)) = (bound("minimum"), bound("maximum"))
            && low == high
            && number != low
        {
            return self.expected(place, Fault::Senseless, value, &low.to_string());
        }
        if let Some(low) = bound("minimum").filter(|low| number < *low) {
            self.expected(place, Fault::Senseless, value, &format!("{low} or more"));
        }
        if let Some(low) = bound("exclusiveMinimum").filter(|low| number <= *low) {
            self.expected(place, Fault::Senseless, value, &format!("more than {low}"));
        }
        if let Some(high) = bound("maximum").filter(|high| number > *high) {
            self.expected(place, Fault::Senseless, value, &format!("{high} or less"));
        }
        if let Some(high) = bound("exclusiveMaximum").filter(|high| number >= *high) {
            self.expected(place, Fault::Senseless, value, &format!("less than {high}"));
        }
    }

    fn text(&mut self, schema: &Value, value: &Value, text: &str, place: &Place) {
        let length = text.chars().count() as u64;
        let bound = |key: &str| schema.get(key).and_then(Value::as_u64);
        if bound("minLength").is_some_and(|least| length < least) {
            self.expected(place, Fault::Senseless, value, "some text");
        }
        if let Some(most) = bound("maxLength").filter(|most| length > *most) {
            self.expected(place, Fault::Senseless, value, &format!("at most {most} characters"));
        }
        if schema.get("pattern").and_then(Value::as_str) == Some(COLOUR) && !is_colour(text) {
            self.expected(place, Fault::Senseless, value, "a colour written #rrggbb");
        }
        let many_lines = matches!(place.last_key(), Some("warp" | "weft"));
        if text.chars().any(|c| c.is_control() && !(many_lines && c.is_whitespace())) {
            self.expected(place, Fault::Senseless, value, "text without control characters");
        }
    }
}

fn is_colour(text: &str) -> bool {
    text.len() == 7 && text.starts_with('#') && text.bytes().skip(1).all(|b| b.is_ascii_hexdigit())
}

fn kinds(schema: &Value) -> Vec<&str> {
    match schema.get("type") {
        Some(Value::String(kind)) => vec![kind],
        Some(Value::Array(kinds)) => kinds.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    }
}

fn is_of(value: &Value, kind: &str) -> bool {
    match kind {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "integer" => value.is_u64() || value.is_i64(),
        "number" => value.is_number(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        _ => false,
    }
}

fn called(kind: &str, schema: &Value) -> String {
    match kind {
        "boolean" => "true or false".into(),
        "integer" => "a whole number".into(),
        "number" => "a number".into(),
        "string" => "a text in quotation marks".into(),
        "array" if schema.get("maxItems").and_then(Value::as_u64) == Some(2) => "two numbers, [x, y]".into(),
        "array" => "a list, [ … ]".into(),
        "object" => "fields in braces, { … }".into(),
        other => other.into(),
    }
}
