//! The gauge's readings as a maker wrote them down.

use serde_json::{Map, Value};

use super::gauge::{Measured, Readings};
use crate::say::json::{self, Place, quoted};
use crate::say::{Trouble, nearest_name};

/// A field of the form.
struct Field {
    name: &'static str,
    needed: bool,
}

const fn needed(name: &'static str) -> Field {
    Field { name, needed: true }
}

const LENGTHS: [Field; 7] = [
    needed("plug_x_mm"),
    needed("plug_y_mm"),
    needed("hole_x_mm"),
    needed("hole_y_mm"),
    needed("diagonal_rising_mm"),
    needed("diagonal_falling_mm"),
    Field { name: "gap_mm", needed: false },
];
const CALLIPERS: &str = "callipers_mm";
const HOLD: &str = "how_to_hold";
/// Which program wrote the form; nothing to fill in.
const PROGRAM: &str = "program";

/// How a length is written down.
const SHAPE: &str =
    "each length is a list of its readings, numbers with a point for decimals: \"plug_x_mm\": [99.81, 99.8]";

/// Most faults told at once.
const MOST_TOLD: usize = 20;

/// Reads a filled-in form; `name` is the file's.
///
/// # Errors
/// Everything that cannot be read as readings, each by its field, in words.
pub fn read(text: &str, name: &str) -> Result<Measured, Vec<Trouble>> {
    let value = json::value(text).map_err(|wrong| vec![wrong.in_file(name).hint(SHAPE)])?;
    let Value::Object(fields) = value else {
        let what = "these are no readings: expected the form's fields in braces";
        return Err(vec![Trouble::bad_input(name, what).hint(SHAPE)]);
    };
    let mut read = Read { fields: &fields, troubles: Vec::new() };
    read.unknown();
    let callipers_mm = read.callipers();
    let [plug_x_mm, plug_y_mm, hole_x_mm, hole_y_mm, diagonal_rising_mm, diagonal_falling_mm, gap_mm] =
        LENGTHS.map(|f| read.length(&f));
    read.troubles.truncate(MOST_TOLD);
    if !read.troubles.is_empty() {
        let told = |t: Trouble| {
            let line = Place::default().key(&t.about).line_and_column(text);
            let what = line.map_or(t.what.clone(), |(line, _)| format!("{} (line {line})", t.what));
            Trouble { about: format!("{name}: {}", t.about), what, ..t }
        };
        return Err(read.troubles.into_iter().map(told).collect());
    }
    Ok(Measured {
        how_to_hold: Vec::new(),
        callipers_mm,
        plug_x_mm,
        plug_y_mm,
        hole_x_mm,
        hole_y_mm,
        diagonal_rising_mm,
        diagonal_falling_mm,
        gap_mm,
    })
}

struct Read<'a> {
    fields: &'a Map<String, Value>,
    troubles: Vec<Trouble>,
}

impl Read<'_> {
    fn unknown(&mut self) {
        let known = || LENGTHS.iter().map(|f| f.name).chain([CALLIPERS, HOLD]);
        let asked = self.fields.keys().filter(|n| n.as_str() != PROGRAM);
        for name in asked.filter(|n| known().all(|k| k != n.as_str())) {
            let hint = match nearest_name(name, known()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!("take it out; the form has {}", known().collect::<Vec<_>>().join(", ")),
            };
            let name = quoted(&name.as_str().into());
            let name = name.trim_matches('"');
            self.troubles.push(Trouble::bad_input(name, "the form has no such field").hint(hint));
        }
    }

    fn callipers(&mut self) -> f64 {
        let hint = "give the limit of error of the callipers, as their maker states it: 0.02";
        match self.fields.get(CALLIPERS).map(|v| number(v, CALLIPERS, "")) {
            Some(Ok(mm)) => return mm,
            Some(Err(t)) => self.troubles.push(t),
            None => self.troubles.push(Trouble::bad_input(CALLIPERS, "is missing").hint(hint)),
        }
        f64::NAN
    }

    fn length(&mut self, field: &Field) -> Readings {
        match self.fields.get(field.name) {
            None if field.needed => {
                self.troubles.push(Trouble::bad_input(field.name, "is missing").hint(SHAPE));
            }
            None => {}
            Some(Value::Array(all)) => {
                let mut read = Vec::new();
                for (k, v) in all.iter().enumerate() {
                    match number(v, field.name, &format!("reading {}, ", k + 1)) {
                        Ok(mm) => read.push(mm),
                        Err(t) => self.troubles.push(t),
                    }
                }
                return read;
            }
            Some(single) => {
                let what = format!("{} stands alone: expected a list of readings", quoted(single));
                let hint = match number(single, field.name, "") {
                    Ok(mm) => {
                        format!("put it into square brackets: [{mm}]; further readings follow after commas")
                    }
                    Err(_) => SHAPE.to_owned(),
                };
                self.troubles.push(Trouble::bad_input(field.name, what).hint(hint));
            }
        }
        Vec::new()
    }
}

/// A value as a number of millimetres.
fn number(value: &Value, field: &str, which: &str) -> Result<f64, Trouble> {
    let text = match value {
        Value::Number(n) => return Ok(n.as_f64().unwrap_or(f64::NAN)),
        Value::String(text) => text,
        other => {
            let what = format!("{which}{}: expected a number of millimetres", quoted(other));
            return Err(Trouble::bad_input(field, what).hint(SHAPE));
        }
    };
    let plain = text.trim().trim_end_matches("mm").trim_end().replace(',', ".");
    let (what, hint) = match plain.parse::<f64>() {
        Ok(mm) if mm.is_finite() && text.contains(',') => (
            "has a comma for the decimal point, and stands in quotation marks",
            format!("write {plain}, with a point and without quotation marks"),
        ),
        Ok(mm) if mm.is_finite() => {
            ("is text, not a number", format!("write {plain}, without quotation marks or unit"))
        }
        _ => ("is text, not a number of millimetres", SHAPE.to_owned()),
    };
    Err(Trouble::bad_input(field, format!("{which}{}, {what}", quoted(value))).hint(hint))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::burn::gauge::found;
    use serde_json::json;

    fn form(change: &[(&str, Value)]) -> String {
        let mut form = json!({"callipers_mm": 0.02, "plug_x_mm": [99.8], "plug_y_mm": [99.8], "hole_x_mm": [100.2],
            "hole_y_mm": [100.2], "diagonal_rising_mm": [141.14], "diagonal_falling_mm": [141.14], "gap_mm": [2.2]});
        for (key, value) in change {
            form[key] = value.clone();
        }
        form.to_string()
    }

    #[test]
    fn a_form_filled_in_as_it_asks_is_read() {
        assert!(found(&read(&form(&[]), "f").unwrap()).is_ok());
    }

    #[test]
    fn slips_of_the_pen_are_told_by_their_field_with_what_to_write() {
        for (key, value, what, hint) in [
            (
                "plug_x_mm",
                json!(["99,8"]),
                "plug_x_mm: reading 1, \"99,8\", has a comma",
                "write 99.8, with a point",
            ),
            ("plug_x_mm", json!([99.8, "99.9 mm"]), "reading 2, \"99.9 mm\", is text", "write 99.9, without"),
            (
                "plug_x_mm",
                json!(99.8),
                "plug_x_mm: 99.8 stands alone: expected a list",
                "square brackets: [99.8]",
            ),
            ("plug_x_mm", json!("about 100"), "stands alone", "each length is a list"),
            ("plug_x_mm", json!([null]), "reading 1, null: expected a number", "each length is a list"),
            ("callipers_mm", json!("0,02"), "callipers_mm: \"0,02\", has a comma", "write 0.02"),
            ("plug_z_mm", json!([1]), "plug_z_mm: the form has no such field", "did you mean"),
        ] {
            let told = read(&form(&[(key, value)]), "f").unwrap_err();
            assert_eq!(told.len(), 1, "{told:?}");
            let text = told[0].to_string();
            assert!(text.contains(what) && text.contains(hint), "{text}");
        }
    }

    #[test]
    fn all_that_is_wrong_is_told_at_once_and_never_at_length() {
        let told =
            read(&form(&[("plug_x_mm", json!("9".repeat(5000))), ("gap_mm", json!(2))]), "f").unwrap_err();
        assert!(told.len() == 2 && told.iter().all(|t| t.to_string().len() < 300), "{told:?}");
        assert_eq!(read("{}", "f").unwrap_err().len(), 7);
        for text in ["", "[", "[1]", "{\"plug_x_mm\": [99,8 99,8]}"] {
            assert_eq!(read(text, "f").unwrap_err().len(), 1, "{text}");
        }
    }
}
