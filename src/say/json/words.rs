//! What a reader of JSON says, put into words for people who never saw a program's inside.

use serde_json::Value;

use crate::say::nearest_name;

/// A value as it stands in its file, shortened.
pub fn quoted(value: &Value) -> String {
    const MOST: usize = 60;
    let text = value.to_string();
    if text.chars().count() <= MOST {
        return text;
    }
    text.chars().take(MOST - 1).chain(['…']).collect()
}

/// What is wrong with the writing itself: a comma, a bracket, a quotation mark.
pub(super) fn of_writing(e: &serde_json::Error) -> &'static str {
    let text = e.to_string();
    let words = text.split(" at line ").next().unwrap_or_default();
    match words {
        "expected `:`" => "expected a colon behind the field's name",
        "expected `,` or `]`" => "expected a comma, or the bracket ] that ends the list",
        "expected `,` or `}`" => "expected a comma, or the brace } that ends the fields",
        "expected ident" => "expected true, false or null",
        "expected value" => "expected a number, a text in quotation marks, a list [ … ] or fields { … }",
        "key must be a string" => {
            "expected a field's name in quotation marks (decimals are written with a point, not with a comma)"
        }
        "trailing comma" => "nothing follows the last comma",
        "trailing characters" => "something stands behind its end",
        "invalid number" => "expected a number, with a figure before and behind its point",
        "number out of range" => "the number is larger than any that can be reckoned with",
        "recursion limit exceeded" => "its brackets are nested deeper than in any job",
        "invalid escape"
        | "invalid unicode code point"
        | "lone leading surrogate in hex escape"
        | "unexpected end of hex escape" => {
            "a backslash stands in a text before what may not follow it (write \\\\ for a backslash)"
        }
        w if w.starts_with("control character") => {
            "a text runs over the end of its line or holds a control character; a quotation mark may be missing"
        }
        _ if e.is_eof() => "it ends too early: a bracket or quotation mark is still open",
        _ => "what stands there is not understood",
    }
}

/// What is wrong with what is written, where `found` stands.
pub(super) fn of_content(e: &serde_json::Error, found: Option<&Value>) -> String {
    let text = e.to_string();
    let words = text.split(" at line ").next().unwrap_or_default();
    if let Some(field) = words.strip_prefix("missing field ") {
        return format!("the field \"{}\" is missing", field.trim_matches('`'));
    }
    if let Some(field) = words.strip_prefix("duplicate field ") {
        return format!("the field \"{}\" is given twice", field.trim_matches('`'));
    }
    let names = |of: &str| -> Vec<String> { of.split('`').skip(1).step_by(2).map(str::to_owned).collect() };
    if let Some((given, known)) = words.strip_prefix("unknown field ").and_then(|w| w.split_once(", ")) {
        let (given, known) = (given.trim_matches('`'), names(known));
        let near = nearest_name(given, known.iter().map(String::as_str));
        let meant = near.map_or(String::new(), |n| format!("; is \"{n}\" meant?"));
        return format!("there is no field \"{}\" here{meant}", quoted(&given.into()).trim_matches('"'));
    }
    let stands = found.map_or(String::new(), |v| format!("{}: ", quoted(v)));
    if let Some((given, known)) = words.strip_prefix("unknown variant ").and_then(|w| w.split_once(", ")) {
        let stands = if found.is_some_and(Value::is_string) || found.is_none() {
            format!("{}: ", quoted(&given.trim_matches('`').into()))
        } else {
            stands
        };
        return format!("{stands}expected {}", one_of(&names(known)));
    }
    let wanted = ["invalid type: ", "invalid value: ", "invalid length "];
    if wanted.iter().any(|w| words.starts_with(w)) {
        let wanted = words.rsplit_once("expected ").map_or("", |(_, w)| w);
        return format!("{stands}expected {}", wanted_words(wanted));
    }
    if words.contains("did not match any variant") {
        return format!("{stands}expected something else");
    }
    // The program's own sentence.
    format!("{stands}{words}")
}

fn one_of(names: &[String]) -> String {
    match names {
        [one] => format!("\"{one}\""),
        _ => format!("one of {}", names.join(", ")),
    }
}

/// A kind of value, for those who write it.
fn wanted_words(kind: &str) -> String {
    let number =
        |prefix: &str| kind.strip_prefix(prefix).is_some_and(|n| n == "size" || n.parse::<u8>().is_ok());
    let length = kind.split_whitespace().find_map(|w| w.parse::<usize>().ok());
    let is_list = ["a sequence", "a tuple", "an array", "tuple", "list"].iter().any(|w| kind.starts_with(w));
    match (kind, length) {
        _ if number("f") => "a number".into(),
        _ if number("u") => "a whole number, 0 or more".into(),
        _ if number("i") => "a whole number".into(),
        (k, _) if k.starts_with("a nonzero") => "a whole number other than 0".into(),
        ("a boolean", _) => "true or false".into(),
        ("unit" | "null", _) => "null".into(),
        (_, Some(2)) if is_list => "two of a kind in a list, [x, y]".into(),
        (_, Some(n)) if is_list => format!("a list of {n}"),
        _ if is_list => "a list, [ … ]".into(),
        (k, _) if k.starts_with("struct") || k.contains("map") && !k.contains("string") => {
            "fields in braces, { … }".into()
        }
        (k, _)
            if ["string", "char", "enum", "variant", "identifier", "str"].iter().any(|w| k.contains(w)) =>
        {
            "a text in quotation marks".into()
        }
        _ => "something else".into(),
    }
}
