//! What the maker measured: a table (CSV) or JSON, read.

use serde_json::Value;

use crate::plan::pivot_name;
use crate::say::{Trouble, json, nearest_name};
use crate::shape::{Point, pt, tol};

/// Largest file of marks, bytes.
pub const LARGEST_FILE: u64 = 1024 * 1024;
/// Most marks in one file: no pass has nearly as many.
const MOST_MARKS: usize = 64;
/// A pivot this many repeats away is a slip of the pen.
const MOST_REPEATS: i32 = 100_000;

/// What was measured.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum At {
    /// A mark, by its name.
    Mark(String),
    /// A crossing of pivots: whole repeats across and along from the pattern's origin.
    Pivot(i32, i32),
}

impl At {
    /// What it is called in reports.
    pub fn name(&self) -> String {
        match self {
            At::Mark(name) => name.clone(),
            At::Pivot(i, j) => pivot_name(*i, *j),
        }
    }
}

/// One measured place.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// What.
    pub at: At,
    /// Where it lies on the bed, mm.
    pub bed: Point,
}

/// Reads the text of a file of marks; `file` stands for it in troubles.
///
/// A table has a line of headings, `name`, `x_mm`, `y_mm` (or `i`, `j`, `x_mm`, `y_mm` for pivots), divided by commas,
/// semicolons or tabs, with decimal commas where the comma does not divide. JSON is a list of objects with these fields.
/// Pivots may also be named: `pivot 3 -1`.
///
/// # Errors
/// The first line that makes no sense, a name given twice, nothing at all.
pub fn parse(text: &str, file: &str) -> Result<Vec<Measured>, Trouble> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Trouble::bad_input(file, "the file is empty").hint(SHAPE));
    }
    let rows =
        if text.trim_start().starts_with(['[', '{']) { listed(text, file)? } else { table(text, file)? };
    if rows.is_empty() {
        return Err(Trouble::bad_input(file, "no mark stands in it").hint(SHAPE));
    }
    if rows.len() > MOST_MARKS {
        let what = format!("it has {} marks; {MOST_MARKS} at most", rows.len());
        return Err(Trouble::bad_input(file, what).hint("is this the right file?"));
    }
    for (i, row) in rows.iter().enumerate() {
        if rows[..i].iter().any(|r| r.at == row.at) {
            let what = format!("{} stands in it twice", called(&row.at));
            return Err(Trouble::bad_input(file, what).hint("keep the better measurement, or their mean"));
        }
    }
    Ok(rows)
}

const SHAPE: &str = "a first line name,x_mm,y_mm and a line for every mark, such as A,312.4,77.1";

/// With its kind, for sentences.
pub(super) fn called(at: &At) -> String {
    match at {
        At::Mark(name) => format!("mark {name}"),
        At::Pivot(..) => at.name(),
    }
}

fn table(text: &str, file: &str) -> Result<Vec<Measured>, Trouble> {
    let mut lines = text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty());
    let Some((_, heading)) = lines.next() else { return Ok(Vec::new()) };
    let divider = [';', '\t'].into_iter().find(|d| heading.contains(*d)).unwrap_or(',');
    let cells = |line: &str| -> Vec<String> {
        line.split(divider).map(|c| c.trim().trim_matches('"').trim().to_owned()).collect()
    };
    let headings: Vec<String> = cells(heading).iter().map(|h| h.to_lowercase()).collect();
    let column = |name: &str| headings.iter().position(|h| h == name);
    let need = |name: &str| {
        column(name).ok_or_else(|| {
            // A heading that has its own meaning is not meant for another.
            let own = ["name", "x_mm", "y_mm", "i", "j"];
            let near = nearest_name(name, headings.iter().map(String::as_str).filter(|h| !own.contains(h)));
            let meant = near.map_or(String::new(), |n| format!("; is \"{n}\" meant for it?"));
            Trouble::bad_input(file, format!("its first line has no heading {name}{meant}")).hint(SHAPE)
        })
    };
    let (x, y) = (need("x_mm")?, need("y_mm")?);
    let pivots = column("i").zip(column("j"));
    let name = if pivots.is_some() { column("name") } else { Some(need("name")?) };
    let mut rows = Vec::new();
    for (n, line) in lines {
        let place = format!("line {}", n + 1);
        let cells = cells(line);
        let cell = |k: usize| {
            cells.get(k).filter(|c| !c.is_empty()).ok_or_else(|| {
                let what = format!("{place} has too few cells: {}", line.trim());
                let hint = if divider == ',' && line.matches(',').count() > 2 { DECIMAL } else { SHAPE };
                Trouble::bad_input(file, what).hint(hint)
            })
        };
        if cells.len() > headings.len() {
            let what = format!("{place} has more cells than headings: {}", line.trim());
            return Err(Trouble::bad_input(file, what).hint(DECIMAL));
        }
        let number = |k: usize| -> Result<f64, Trouble> {
            let text = cell(k)?;
            let plain = if divider == ',' { text.clone() } else { text.replace(',', ".") };
            within(plain.parse::<f64>().ok(), file, &place, text)
        };
        let whole = |k: usize| -> Result<i32, Trouble> {
            let text = cell(k)?;
            count(text.parse::<i64>().ok(), file, &place, text)
        };
        let at = match (name.and_then(|k| cells.get(k)).filter(|c| !c.is_empty()), pivots) {
            (Some(name), _) => named(name, file, &place)?,
            (None, Some((i, j))) => At::Pivot(whole(i)?, whole(j)?),
            (None, None) => named(cell(name.unwrap_or(0))?, file, &place)?,
        };
        rows.push(Measured { at, bed: pt(number(x)?, number(y)?) });
    }
    Ok(rows)
}

const DECIMAL: &str = "write decimals with a point, or divide the cells by semicolons";

fn listed(text: &str, file: &str) -> Result<Vec<Measured>, Trouble> {
    let value = json::value(text).map_err(|wrong| wrong.in_file(file))?;
    let Value::Array(items) = &value else {
        let what = "expected a list of marks: [ {\"name\": \"A\", \"x_mm\": 312.4, \"y_mm\": 77.1}, … ]";
        return Err(Trouble::bad_input(file, what));
    };
    let mut rows = Vec::new();
    for (n, item) in items.iter().enumerate() {
        let place = format!("entry {}", n + 1);
        let field = |name: &str| {
            item.get(name).ok_or_else(|| {
                let what = format!("{place} has no {name}");
                Trouble::bad_input(file, what).hint("each needs name, x_mm and y_mm")
            })
        };
        let number = |name: &str| -> Result<f64, Trouble> {
            let value = field(name)?;
            within(value.as_f64(), file, &format!("{place}, {name}"), json::quoted(value).trim_matches('"'))
        };
        let whole = |name: &str| -> Result<i32, Trouble> {
            let value = field(name)?;
            count(value.as_i64(), file, &format!("{place}, {name}"), json::quoted(value).trim_matches('"'))
        };
        let at = match item.get("name") {
            Some(Value::String(name)) => named(name, file, &place)?,
            None if item.get("i").is_some() => At::Pivot(whole("i")?, whole("j")?),
            None => field("name").map(|_| At::Pivot(0, 0))?,
            Some(other) => {
                return Err(Trouble::bad_input(
                    file,
                    format!("{place}: its name is {}: expected text", json::quoted(other)),
                ));
            }
        };
        rows.push(Measured { at, bed: pt(number("x_mm")?, number("y_mm")?) });
    }
    Ok(rows)
}

fn named(name: &str, file: &str, place: &str) -> Result<At, Trouble> {
    let name = name.trim();
    let mut words = name.split_whitespace();
    if !words.next().is_some_and(|w| w.eq_ignore_ascii_case("pivot")) {
        return Ok(At::Mark(name.to_owned()));
    }
    let mut repeats = || words.next().and_then(|w| w.parse::<i64>().ok());
    let (i, j) = (repeats(), repeats());
    match (i, j, words.next()) {
        (Some(i), Some(j), None) => Ok(At::Pivot(
            count(Some(i), file, place, &i.to_string())?,
            count(Some(j), file, place, &j.to_string())?,
        )),
        _ => {
            let what = format!(
                "{place}: \"{name}\" names no pivot: expected pivot I J, whole repeats across and along"
            );
            Err(Trouble::bad_input(file, what).hint("pivot 0 0 is the pattern's origin"))
        }
    }
}

fn within(value: Option<f64>, file: &str, place: &str, text: &str) -> Result<f64, Trouble> {
    match value.filter(|v| v.is_finite()) {
        Some(v) if v.abs() <= tol::FARTHEST_MM => Ok(v),
        Some(_) => Err(Trouble::bad_input(file, format!("{place}: {text} mm is off every bed"))),
        None => {
            let hint =
                if text.contains(',') { DECIMAL } else { "expected millimetres on the bed, such as 312.4" };
            Err(Trouble::bad_input(file, format!("{place}: \"{text}\" is no number")).hint(hint))
        }
    }
}

fn count(value: Option<i64>, file: &str, place: &str, text: &str) -> Result<i32, Trouble> {
    let whole = value.and_then(|v| i32::try_from(v).ok()).filter(|v| v.abs() <= MOST_REPEATS);
    whole.ok_or_else(|| {
        Trouble::bad_input(file, format!("{place}: {text} is no count of repeats: expected a whole number"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marks(text: &str) -> Vec<(String, f64, f64)> {
        parse(text, "m").unwrap().iter().map(|m| (m.at.name(), m.bed.x, m.bed.y)).collect()
    }

    #[test]
    fn tables_read_alike_however_they_are_divided() {
        let want = vec![("A".to_string(), 312.4, 77.1), ("B".to_string(), -5.0, 800.25)];
        assert_eq!(marks("name,x_mm,y_mm\nA,312.4,77.1\nB,-5,800.25\n"), want);
        assert_eq!(marks("\u{feff}Name;x_mm;y_mm\r\nA;312,4;77,1\r\n\r\n\"B\"; -5 ;800,25\r\n"), want);
        assert_eq!(marks("y_mm\tname\tx_mm\n77,1\tA\t312.4\n800.25\tB\t-5"), want);
        assert_eq!(
            marks(r#"[{"name":"A","x_mm":312.4,"y_mm":77.1},{"name":"B","x_mm":-5,"y_mm":800.25}]"#),
            want
        );
    }

    #[test]
    fn pivots_are_named_or_counted() {
        let want = vec![("pivot 0 3".to_string(), 10.0, 20.0), ("pivot -1 2".to_string(), 30.0, 40.0)];
        assert_eq!(marks("name,x_mm,y_mm\nPivot 0 3,10,20\npivot  -1 2,30,40"), want);
        assert_eq!(marks("i,j,x_mm,y_mm\n0,3,10,20\n-1,2,30,40"), want);
        assert_eq!(
            marks(r#"[{"i":0,"j":3,"x_mm":10,"y_mm":20},{"name":"pivot -1 2","x_mm":30,"y_mm":40}]"#),
            want
        );
    }

    #[test]
    fn what_makes_no_sense_is_said_with_its_place() {
        for (text, said) in [
            ("", "empty"),
            ("name,x_mm,y_mm\n", "no mark"),
            ("name,left,y_mm\nA,1,2", "no heading x_mm"),
            ("name,x_m,y_mm\nA,1,2", "no heading x_mm; is \"x_m\" meant"),
            ("name,x_mm,y_mm\nA,1,2\nA,3,4", "mark A stands in it twice"),
            ("name,x_mm,y_mm\nA,NaN,2", "line 2: \"NaN\" is no number"),
            ("name,x_mm,y_mm\nA,inf,2", "is no number"),
            ("name,x_mm,y_mm\nA,1e9,2", "off every bed"),
            ("name,x_mm,y_mm\nA,312,4,77,1", "more cells"),
            ("name,x_mm,y_mm\nA,1", "too few cells"),
            ("i,j,x_mm,y_mm\n0.5,1,2,3", "no count of repeats"),
            ("name,x_mm,y_mm\npivot 1,2,3", "names no pivot"),
            ("name,x_mm,y_mm\npivot 1 99999999999,2,3", "no count of repeats"),
            ("{}", "a list of marks"),
            ("[", "not JSON"),
            ("[{\"x_mm\":1}]", "entry 1 has no name"),
            ("[{\"name\":7,\"x_mm\":1,\"y_mm\":1}]", "expected text"),
            ("[{\"name\":\"A\",\"x_mm\":\"1\",\"y_mm\":1}]", "is no number"),
        ] {
            let trouble = parse(text, "m").unwrap_err();
            assert!(trouble.what.contains(said), "{text:?}: {trouble}");
            assert_eq!(trouble.exit_code(), 2);
        }
    }
}
