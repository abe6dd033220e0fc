//! What is said of JSON that is not as it should be.

use serde::Deserialize;

use super::*;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(dead_code)]
struct Sheet {
    name: String,
    #[serde(default)]
    at_mm: [f64; 2],
    #[serde(default)]
    rows: Vec<Row>,
    kind: Option<Kind>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(dead_code)]
struct Row {
    x_mm: f64,
    #[serde(default)]
    count: usize,
    #[serde(default)]
    cut: bool,
    #[serde(default)]
    list: Vec<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Free,
    Pair,
}

/// Words of the language the program is written in, and of its libraries.
const INSIDE: [&str; 16] = [
    "floating point",
    "sequence",
    "invalid type",
    "invalid value",
    "invalid length",
    "f64",
    "usize",
    "u32",
    "struct",
    "unit",
    "variant",
    "map",
    "ident",
    "EOF",
    "`",
    "trailing",
];

fn told(text: &str) -> String {
    let told = read::<Sheet>(text).unwrap_err().to_string();
    assert!(INSIDE.iter().all(|w| !told.contains(w)), "{told}");
    told
}

#[test]
fn what_stands_there_and_what_should_is_told_by_place_and_line() {
    for (text, said) in [
        (r#"{"name": 3}"#, "name: 3: expected a text in quotation marks (line 1, column 10)"),
        (r#"{"rows": []}"#, "the field \"name\" is missing"),
        (r#"{"name": "a", "nmae": 1}"#, "there is no field \"nmae\" here; is \"name\" meant?"),
        (r#"{"name": "a", "name": "b"}"#, "the field \"name\" is given twice"),
        ("{\"name\": \"a\",\n \"rows\": 99.8}", "rows: 99.8: expected a list, [ … ] (line 2, column 10)"),
        (
            "{\"name\": \"a\",\n \"rows\": [{\"x_mm\": \"1,5\"}]}",
            "rows[0].x_mm: \"1,5\": expected a number (line 2",
        ),
        (r#"{"name": "a", "rows": [7]}"#, "rows[0]: 7: expected fields in braces, { … }"),
        (
            r#"{"name": "a", "rows": [{"x_mm": 1, "count": -1}]}"#,
            "rows[0].count: -1: expected a whole number, 0 or more",
        ),
        (
            r#"{"name": "a", "rows": [{"x_mm": 1, "count": 1.5}]}"#,
            "rows[0].count: 1.5: expected a whole number",
        ),
        (
            r#"{"name": "a", "rows": [{"x_mm": 1, "cut": "yes"}]}"#,
            "rows[0].cut: \"yes\": expected true or false",
        ),
        (r#"{"name": "a", "rows": [{"x_mm": null}]}"#, "rows[0].x_mm: null: expected a number"),
        (r#"{"name": "a", "at_mm": [1]}"#, "at_mm: [1]: expected two of a kind in a list, [x, y]"),
        (r#"{"name": "a", "kind": "fere"}"#, "kind: \"fere\": expected one of free, pair"),
        (r#"{"name": "a", "kind": 3}"#, "kind: 3: expected a text in quotation marks"),
        ("[1]", "expected"),
        ("3", "3: expected fields in braces"),
    ] {
        let told = told(text);
        assert!(told.contains(said), "{text}: {told}");
    }
}

#[test]
fn what_is_badly_written_is_told_by_its_line() {
    for (text, said) in [
        ("", "it ends too early"),
        ("{\"name\": \"a", "it ends too early"),
        ("{name: 1}", "expected a field's name in quotation marks"),
        ("{\"name\" 1}", "expected a colon behind the field's name"),
        ("{\"name\": \"a\" \"rows\": []}", "expected a comma, or the brace }"),
        ("{\"name\": \"a\", \"at_mm\": [1 2]}", "expected a comma, or the bracket ]"),
        ("{\"name\": \"a\",}", "nothing follows the last comma"),
        ("{\"name\": \"a\", \"at_mm\": [1.,2]}", "expected a number, with a figure"),
        ("{\"name\": \"a\", \"at_mm\": [1e999,2]}", "larger than any"),
        ("{\"name\": tru}", "expected true, false or null"),
        ("{\"name\": x}", "expected a number, a text"),
        ("{\"name\": \"a\"} }", "something stands behind its end"),
        ("{\"name\": \"C:\\qa\"}", "a backslash"),
        ("{\"name\": \"a\nb\"}", "runs over the end of its line"),
        ("{\"name\":\n x}", "(line 2, column 2)"),
    ] {
        let told = told(text);
        assert!(told.starts_with("this is not JSON: ") && told.contains(said), "{text}: {told}");
    }
    let deep = "[".repeat(500);
    assert!(value(&deep).unwrap_err().what.contains("nested deeper"));
    assert!(read_bytes::<Sheet>(b"{\"name\": \"\xff\"}").unwrap_err().what.contains("byte 11 is not UTF-8"));
}

#[test]
fn a_long_value_is_cut_short() {
    let text = format!("{{\"name\": \"a\", \"rows\": \"{}\"}}", "9".repeat(5000));
    assert!(told(&text).len() < 200);
    let text = format!("{{\"name\": \"a\", \"{}\": 1}}", "y".repeat(5000));
    assert!(told(&text).len() < 200);
}
