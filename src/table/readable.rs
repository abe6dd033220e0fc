//! A job as JSON that a person can read: what is short stands on one line.

use serde_json::Value;

/// Longest line that is not broken up.
const WIDTH: usize = 110;

/// The value as text, two spaces a level, with a line feed at its end.
pub fn text(value: &Value) -> String {
    let mut out = String::new();
    put(value, 0, 0, &mut out);
    out.push('\n');
    out
}

/// Puts `value`, which begins at column `at` on a line indented by `depth` levels.
fn put(value: &Value, depth: usize, at: usize, out: &mut String) {
    let short = one_line(value);
    let open = match value {
        // A job's own blocks are always broken up, however short.
        Value::Object(fields) => depth == 0 && !fields.is_empty(),
        _ => false,
    };
    if !open && at + short.chars().count() <= WIDTH {
        out.push_str(&short);
        return;
    }
    let pad = "  ".repeat(depth + 1);
    match value {
        Value::Object(fields) => {
            out.push_str("{\n");
            for (k, (key, field)) in fields.iter().enumerate() {
                let name = format!("{pad}{}: ", Value::from(key.as_str()));
                out.push_str(&name);
                put(field, depth + 1, name.chars().count() + 1, out);
                out.push_str(if k + 1 < fields.len() { ",\n" } else { "\n" });
            }
            out.push_str(&format!("{}}}", "  ".repeat(depth)));
        }
        Value::Array(items) if items.iter().all(is_number_or_pair) => fill(items, &pad, depth, out),
        Value::Array(items) => {
            out.push_str("[\n");
            for (k, item) in items.iter().enumerate() {
                out.push_str(&pad);
                put(item, depth + 1, pad.len() + 1, out);
                out.push_str(if k + 1 < items.len() { ",\n" } else { "\n" });
            }
            out.push_str(&format!("{}]", "  ".repeat(depth)));
        }
        other => out.push_str(&other.to_string()),
    }
}

/// Numbers and points, as many on a line as fit.
fn fill(items: &[Value], pad: &str, depth: usize, out: &mut String) {
    out.push('[');
    let mut column = WIDTH + 1;
    for (k, item) in items.iter().enumerate() {
        let word = one_line(item);
        let comma = if k + 1 < items.len() { "," } else { "" };
        if column + word.len() + 2 > WIDTH {
            out.push_str(&format!("\n{pad}{word}{comma}"));
            column = pad.len() + word.len() + 1;
        } else {
            out.push_str(&format!(" {word}{comma}"));
            column += word.len() + 2;
        }
    }
    out.push_str(&format!("\n{}]", "  ".repeat(depth)));
}

fn is_number_or_pair(value: &Value) -> bool {
    value.is_number() || value.as_array().is_some_and(|a| a.iter().all(Value::is_number))
}

/// The value on one line, with a space after every comma and colon.
fn one_line(value: &Value) -> String {
    match value {
        Value::Object(fields) if fields.is_empty() => "{}".into(),
        Value::Object(fields) => {
            let all: Vec<String> =
                fields.iter().map(|(k, v)| format!("{}: {}", Value::from(k.as_str()), one_line(v))).collect();
            format!("{{ {} }}", all.join(", "))
        }
        Value::Array(items) => {
            format!("[{}]", items.iter().map(one_line).collect::<Vec<_>>().join(", "))
        }
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn short_blocks_stand_on_one_line_and_long_lists_fill_lines() {
        let points: Vec<[f64; 2]> = (0..40).map(|k| [f64::from(k), 1.5]).collect();
        let job = json!({"settlay": 1, "drawing": "a.svg", "cloths": [{"name": "reed", "width_mm": 1500.0}], "x": points});
        let text = text(&job);
        assert!(text.contains("  \"cloths\": [{ \"name\": \"reed\", \"width_mm\": 1500.0 }],\n"), "{text}");
        assert!(text.lines().all(|l| l.chars().count() <= WIDTH + 1) && text.lines().count() < 16, "{text}");
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), job);
    }

    proptest::proptest! {
        /// What is written reads back as it was, whatever it is.
        #[test]
        fn everything_reads_back(seed in proptest::collection::vec((0u8..5, ".{0,30}", -1e6f64..1e6), 0..30)) {
            let mut value = json!({});
            for (k, (kind, word, number)) in seed.iter().enumerate() {
                let key = format!("k{k}{word}");
                value[&key] = match kind {
                    0 => json!(word),
                    1 => json!(number),
                    2 => json!([[number, number], [1, 2]]),
                    3 => json!([{"a": value.clone()}, word]),
                    _ => json!(null),
                };
                if value.to_string().len() > 20_000 { break; }
            }
            proptest::prop_assert_eq!(serde_json::from_str::<Value>(&text(&value)).unwrap(), value);
        }
    }
}
