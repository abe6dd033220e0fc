//! Places in a JSON file: a field's path, and the line where it stands.

use std::fmt;

use serde_json::Value;

/// One step of a path.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Step {
    Key(String),
    Index(usize),
}

/// A field's path, written `cloths[1].pattern.warp`; empty for the whole file.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    steps: Vec<Step>,
}

impl Place {
    /// The field `key` of this place.
    pub fn key(&self, key: &str) -> Place {
        self.with(Step::Key(key.to_string()))
    }

    /// The entry `index` of this place.
    pub fn index(&self, index: usize) -> Place {
        self.with(Step::Index(index))
    }

    fn with(&self, step: Step) -> Place {
        let mut steps = self.steps.clone();
        steps.push(step);
        Place { steps }
    }

    /// The last field's name, if the path ends in a field.
    pub fn last_key(&self) -> Option<&str> {
        match self.steps.last() {
            Some(Step::Key(key)) => Some(key),
            _ => None,
        }
    }

    /// True when this is a field straight inside `owner`.
    pub fn is_field_of(&self, owner: &Place) -> bool {
        self.steps
            .split_last()
            .is_some_and(|(last, path)| matches!(last, Step::Key(_)) && path == owner.steps)
    }

    /// The value at this place.
    pub fn look_up<'v>(&self, root: &'v Value) -> Option<&'v Value> {
        self.steps.iter().try_fold(root, |value, step| match step {
            Step::Key(key) => value.get(key),
            Step::Index(index) => value.get(index),
        })
    }

    /// Takes the field at this place out of `root`.
    pub fn remove(&self, root: &mut Value) {
        let Some((Step::Key(last), path)) = self.steps.split_last() else { return };
        let owner = path.iter().try_fold(root, |value, step| match step {
            Step::Key(key) => value.get_mut(key),
            Step::Index(index) => value.get_mut(index),
        });
        if let Some(fields) = owner.and_then(Value::as_object_mut) {
            fields.shift_remove(last);
        }
    }

    /// Line and column (from 1, in characters) where the value at this place begins in `text`, which must be
    /// sound JSON.
    pub fn line_and_column(&self, text: &str) -> Option<(usize, usize)> {
        let before = text.get(..self.offset(text)?)?;
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
        Some((line, column))
    }

    /// Where the place's value begins in `text`, which is sound JSON, in bytes.
    pub fn offset(&self, text: &str) -> Option<usize> {
        let mut scan = Scan { text: text.as_bytes(), at: 0 };
        scan.space();
        for step in &self.steps {
            match step {
                Step::Key(key) => scan.enter_field(key)?,
                Step::Index(index) => scan.enter_entry(*index)?,
            }
        }
        Some(scan.at)
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (k, step) in self.steps.iter().enumerate() {
            match step {
                Step::Key(key) if k == 0 => f.write_str(key)?,
                Step::Key(key) => write!(f, ".{key}")?,
                Step::Index(index) => write!(f, "[{index}]")?,
            }
        }
        Ok(())
    }
}

/// Walks sound JSON without building anything.
struct Scan<'a> {
    text: &'a [u8],
    at: usize,
}

impl Scan<'_> {
    fn peek(&self) -> Option<u8> {
        self.text.get(self.at).copied()
    }

    fn space(&mut self) {
        while self.peek().is_some_and(|b| b.is_ascii_whitespace()) {
            self.at += 1;
        }
    }

    fn pass(&mut self, byte: u8) -> Option<()> {
        self.space();
        (self.peek()? == byte).then(|| self.at += 1)?;
        self.space();
        Some(())
    }

    fn string(&mut self) -> Option<&[u8]> {
        let start = self.at;
        self.at += 1;
        loop {
            match self.peek()? {
                b'"' => break,
                b'\\' => self.at += 2,
                _ => self.at += 1,
            }
        }
        self.at += 1;
        self.text.get(start..self.at)
    }

    /// Passes over one value of any kind; brackets are counted, not recursed into.
    fn value(&mut self) -> Option<()> {
        let mut depth = 0usize;
        loop {
            self.space();
            match self.peek()? {
                b'"' => {
                    self.string()?;
                }
                b'{' | b'[' => {
                    depth += 1;
                    self.at += 1;
                    continue;
                }
                b'}' | b']' => {
                    depth = depth.checked_sub(1)?;
                    self.at += 1;
                }
                b',' | b':' => {
                    self.at += 1;
                    continue;
                }
                _ => {
                    while self.peek().is_some_and(|b| !b",:]} \t\r\n".contains(&b)) {
                        self.at += 1;
                    }
                }
            }
            if depth == 0 {
                return Some(());
            }
        }
    }

    fn enter_field(&mut self, wanted: &str) -> Option<()> {
        self.pass(b'{')?;
        loop {
            let found: String = serde_json::from_slice(self.string()?).ok()?;
            self.pass(b':')?;
            if found == wanted {
                return Some(());
            }
            self.value()?;
            self.pass(b',')?;
        }
    }

    fn enter_entry(&mut self, index: usize) -> Option<()> {
        self.pass(b'[')?;
        for _ in 0..index {
            self.value()?;
            self.pass(b',')?;
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str =
        "{ \"a\": [1, {\"}\": \"\\\"]\"}],\n  \"ü\": null, \"c\": [ {\"d\": true}, {\n\"e\" : -1.5e3} ] }";

    #[test]
    fn a_place_is_found_by_line_and_column() {
        let root = Place::default();
        assert_eq!(root.key("a").index(1).line_and_column(TEXT), Some((1, 12)));
        assert_eq!(root.key("ü").line_and_column(TEXT), Some((2, 8)));
        let e = root.key("c").index(1).key("e");
        assert_eq!(e.line_and_column(TEXT), Some((3, 7)));
        assert_eq!(e.to_string(), "c[1].e");
        assert_eq!(root.key("c").index(2).line_and_column(TEXT), None);
        assert_eq!(root.key("d").line_and_column(TEXT), None);
    }

    #[test]
    fn a_field_can_be_taken_out() {
        let mut value: Value = serde_json::from_str(TEXT).unwrap();
        Place::default().key("c").index(0).key("d").remove(&mut value);
        assert_eq!(value["c"][0], serde_json::json!({}));
    }
}
