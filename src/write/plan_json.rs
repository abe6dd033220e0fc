//! `plan.json`: every number as the plan holds it, one point list a line, so that people can read it too.

use serde_json::Value;

use crate::plan::Plan;
use crate::say::Trouble;

/// The plan as JSON text, ending in a line break. Reading it back gives the same plan, bit for bit.
///
/// # Errors
/// A number that is not finite, which JSON cannot hold.
pub fn plan_json(plan: &Plan) -> Result<String, Trouble> {
    let broken = |e: String| Trouble::cannot("plan.json", format!("the plan cannot be written: {e}"));
    let value = serde_json::to_value(plan).map_err(|e| broken(e.to_string()))?;
    let mut text = String::new();
    push(&mut text, &value, 0);
    text.push('\n');
    let again: Plan =
        serde_json::from_str(&text).map_err(|e| broken(format!("it does not read back ({e})")))?;
    if again == *plan { Ok(text) } else { Err(broken("it does not read back the same".into())) }
}

/// True for what fits a line: a single value, a point, a list of points, an object of these.
fn stands_on_one_line(value: &Value, depth: usize) -> bool {
    match value {
        Value::Array(items) => {
            depth < 2 && items.iter().all(|v| !v.is_object() && stands_on_one_line(v, depth + 1))
        }
        Value::Object(_) => false,
        _ => true,
    }
}

fn push(text: &mut String, value: &Value, indent: usize) {
    match value {
        Value::Array(items) if !stands_on_one_line(value, 0) => {
            push_block(text, indent, ('[', ']'), items.iter().map(|v| (None, v)));
        }
        Value::Object(fields) if !fields.is_empty() => {
            push_block(text, indent, ('{', '}'), fields.iter().map(|(k, v)| (Some(k), v)));
        }
        other => text.push_str(&other.to_string()),
    }
}

fn push_block<'a>(
    text: &mut String,
    indent: usize,
    (open, close): (char, char),
    entries: impl Iterator<Item = (Option<&'a String>, &'a Value)>,
) {
    text.push(open);
    for (i, (key, value)) in entries.enumerate() {
        text.push_str(if i == 0 { "\n" } else { ",\n" });
        text.extend(std::iter::repeat_n(' ', indent + 2));
        if let Some(key) = key {
            text.push_str(&format!("{}: ", Value::String(key.clone())));
        }
        push(text, value, indent + 2);
    }
    text.push('\n');
    text.extend(std::iter::repeat_n(' ', indent));
    text.push(close);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    #[test]
    fn the_file_reads_back_as_the_same_plan() {
        let mut plan = sample_plan();
        plan.title = "a \"title\" with \n </script> and 雪".into();
        plan.pieces[0].shift = [0.1 + 0.2, -1.0 / 3.0];
        let text = plan_json(&plan).unwrap();
        assert_eq!(serde_json::from_str::<Plan>(&text).unwrap(), plan);
        assert!(text.lines().count() < 1500, "point lists stand on one line: {}", text.lines().count());
    }

    #[test]
    fn a_number_json_cannot_hold_is_a_trouble() {
        let mut plan = sample_plan();
        plan.passes[0].seconds = f64::NAN;
        assert_eq!(plan_json(&plan).unwrap_err().about, "plan.json");
    }
}
