//! `settlay schema job|plan|cutter`: the JSON Schemas of the files.

use serde_json::Value;

use super::tell;
use crate::say::{Trouble, nearest_name};
use crate::{job, plan};

/// The files a schema is published for.
const FILES: [&str; 3] = ["job", "plan", "cutter"];

/// Prints the schema of `which` (`job`, `plan` or `cutter`) on stdout.
///
/// # Errors
/// Another word, or stdout that cannot be written to. A reader that closes the pipe early is no trouble.
pub fn run(which: &str) -> Result<u8, Vec<Trouble>> {
    tell::out(&text(which).map_err(|t| vec![t])?).map(|()| 0)
}

/// The schema of `which` (`job`, `plan` or `cutter`) as text, indented, with a newline at the end.
///
/// # Errors
/// Another word.
pub fn text(which: &str) -> Result<String, Trouble> {
    let schema: Value = match which {
        "job" => job::schema(),
        "cutter" => job::cutter_schema(),
        "plan" => schemars::schema_for!(plan::Plan).to_value(),
        other => {
            let hint =
                nearest_name(other, FILES).map_or(String::new(), |file| format!("did you mean \"{file}\"?"));
            let what = format!("there is no schema \"{other}\"; there are: {}", FILES.join(", "));
            return Err(Trouble::bad_input("schema", what).hint(hint));
        }
    };
    Ok(format!("{schema:#}\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both schemas keep to the published meta-schema (JSON Schema, draft 2020-12), by a library of others.
    #[test]
    fn the_schemas_are_json_schemas() {
        for which in FILES {
            let schema: Value = serde_json::from_str(&text(which).unwrap()).unwrap();
            assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
            assert!(jsonschema::meta::is_valid(&schema), "{which}");
            assert!(jsonschema::validator_for(&schema).is_ok(), "{which}");
        }
    }

    #[test]
    fn every_field_of_both_files_is_described() {
        fn undescribed(value: &Value, path: &str, out: &mut Vec<String>) {
            let Some(fields) = value.as_object() else { return };
            for (name, property) in fields.get("properties").and_then(Value::as_object).into_iter().flatten()
            {
                if property.get("description").is_none() {
                    out.push(format!("{path}.{name}"));
                }
            }
            for (name, def) in fields.get("$defs").and_then(Value::as_object).into_iter().flatten() {
                undescribed(def, name, out);
            }
        }
        for which in FILES {
            let schema: Value = serde_json::from_str(&text(which).unwrap()).unwrap();
            let mut out = Vec::new();
            undescribed(&schema, which, &mut out);
            assert_eq!(out, Vec::<String>::new());
        }
    }

    #[test]
    fn another_word_is_named() {
        let trouble = text("plam").unwrap_err();
        assert_eq!(trouble.exit_code(), 2);
        assert!(trouble.hint.contains("plan"));
    }
}
