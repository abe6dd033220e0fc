//! Selectors of style sheets, read; [`family`](super::family) finds the elements they mean.
//!
//! Selectors Level 4, as far as a still drawing can tell: no `:has`, no languages, no namespaces.

use super::css::{is_name, seek};

/// `a > b c`: what an element and those round and before it must be.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Selector {
    pub parts: Vec<(Relation, Vec<Simple>)>,
    /// How much it weighs against others: ids, classes, types.
    pub weight: [u32; 3],
}

/// How a part stands to the part before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Relation {
    First,
    Inside,
    Child,
    Next,
    Later,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum Simple {
    Type(String),
    Class(String),
    Attribute {
        name: String,
        how: How,
        value: String,
        any_case: bool,
    },
    /// Every `step`th from `start` on, counted from 1.
    Nth {
        step: i64,
        start: i64,
        of_type: bool,
        from_end: bool,
    },
    Is(Vec<Selector>),
    Not(Vec<Selector>),
    Root,
    Empty,
    Link,
    /// States no still drawing is in, and parts that shapes do not have.
    Never,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum How {
    There,
    Equals,
    Word,
    Dashed,
    Starts,
    Ends,
    Holds,
}

/// Selectors within selectors go so deep at most.
const MAX_NESTING: usize = 8;

/// Reads a list of selectors; `None` when one of them cannot be read.
pub(super) fn read(text: &str) -> Option<Vec<Selector>> {
    list(text, 0)
}

fn list(text: &str, depth: usize) -> Option<Vec<Selector>> {
    if depth > MAX_NESTING {
        return None;
    }
    let mut all = Vec::new();
    let mut from = 0;
    loop {
        let end = seek(text, from, b",");
        all.push(Reader { rest: text.get(from..end)?.trim(), depth }.selector()?);
        if end >= text.len() {
            return Some(all);
        }
        from = end + 1;
    }
}

struct Reader<'a> {
    rest: &'a str,
    depth: usize,
}

impl<'a> Reader<'a> {
    fn selector(mut self) -> Option<Selector> {
        let mut parts = Vec::new();
        let mut weight = [0; 3];
        let mut relation = Relation::First;
        loop {
            parts.push((relation, self.part(&mut weight)?));
            let tail = self.rest.trim_start();
            if tail.is_empty() {
                return Some(Selector { parts, weight });
            }
            relation = match tail.chars().next()? {
                '>' => Relation::Child,
                '+' => Relation::Next,
                '~' => Relation::Later,
                _ if tail.len() < self.rest.len() => Relation::Inside,
                _ => return None,
            };
            self.rest = if relation == Relation::Inside { tail } else { tail.get(1..)?.trim_start() };
        }
    }

    /// One element's worth: `rect.a#b`.
    fn part(&mut self, weight: &mut [u32; 3]) -> Option<Vec<Simple>> {
        let mut all = Vec::new();
        let start = self.rest.len();
        if self.take("*") {
        } else if self.rest.starts_with(|c| is_name(c) || c == '\\') {
            all.push(Simple::Type(self.name()?));
            weight[2] += 1;
        }
        loop {
            if self.take("#") {
                let value = self.name()?;
                all.push(Simple::Attribute { name: "id".into(), how: How::Equals, value, any_case: false });
                weight[0] += 1;
            } else if self.take(".") {
                all.push(Simple::Class(self.name()?));
                weight[1] += 1;
            } else if self.rest.starts_with('[') {
                all.push(attribute(self.bracket("]")?)?);
                weight[1] += 1;
            } else if self.take("::") {
                self.name()?;
                if self.rest.starts_with('(') {
                    self.bracket(")")?;
                }
                all.push(Simple::Never);
                weight[2] += 1;
            } else if self.take(":") {
                all.push(self.state(weight)?);
            } else if self.rest.is_empty()
                || self.rest.starts_with(|c: char| c.is_whitespace() || matches!(c, '>' | '+' | '~'))
            {
                return (self.rest.len() < start).then_some(all);
            } else {
                return None;
            }
        }
    }

    fn state(&mut self, weight: &mut [u32; 3]) -> Option<Simple> {
        let name = self.name()?.to_ascii_lowercase();
        let inside = if self.rest.starts_with('(') { Some(self.bracket(")")?) } else { None };
        if let Some(inside) = inside {
            let from_end = name.contains("last");
            return Some(match name.as_str() {
                "is" | "not" | "where" => {
                    let list = list(inside.trim(), self.depth + 1)?;
                    if name != "where" {
                        let most = list.iter().map(|s| s.weight).max()?;
                        weight.iter_mut().zip(most).for_each(|(w, m)| *w = w.saturating_add(m));
                    }
                    if name == "not" { Simple::Not(list) } else { Simple::Is(list) }
                }
                "nth-child" | "nth-last-child" | "nth-of-type" | "nth-last-of-type" => {
                    weight[1] += 1;
                    let (step, start) = steps(inside)?;
                    Simple::Nth { step, start, of_type: name.ends_with("type"), from_end }
                }
                _ => return None,
            });
        }
        weight[1] += 1;
        let nth = |of_type, from_end| Simple::Nth { step: 0, start: 1, of_type, from_end };
        let both = |of_type| {
            let parts = vec![(Relation::First, vec![nth(of_type, false), nth(of_type, true)])];
            Simple::Is(vec![Selector { parts, weight: [0; 3] }])
        };
        Some(match name.as_str() {
            "first-child" => nth(false, false),
            "last-child" => nth(false, true),
            "only-child" => both(false),
            "first-of-type" => nth(true, false),
            "last-of-type" => nth(true, true),
            "only-of-type" => both(true),
            "root" | "scope" => Simple::Root,
            "empty" => Simple::Empty,
            "link" | "any-link" => Simple::Link,
            "hover" | "active" | "focus" | "focus-within" | "focus-visible" | "visited" | "target"
            | "target-within" | "before" | "after" | "first-line" | "first-letter" => Simple::Never,
            _ => return None,
        })
    }

    fn take(&mut self, what: &str) -> bool {
        let rest = self.rest.strip_prefix(what);
        self.rest = rest.unwrap_or(self.rest);
        rest.is_some()
    }

    /// What stands in the bracket that opens here.
    fn bracket(&mut self, close: &str) -> Option<&'a str> {
        let end = seek(self.rest, 1, close.as_bytes());
        let inside = self.rest.get(1..end)?;
        self.rest = self.rest.get(end + 1..)?;
        Some(inside)
    }

    fn name(&mut self) -> Option<String> {
        let (name, rest) = name(self.rest)?;
        self.rest = rest;
        Some(name)
    }
}

/// A name, what is escaped in it read, and what follows it.
fn name(text: &str) -> Option<(String, &str)> {
    let mut out = String::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        if is_name(c) {
            out.push(c);
            rest = &rest[c.len_utf8()..];
        } else if c == '\\' {
            rest = &rest[1..];
            let digits = rest.chars().take(6).take_while(char::is_ascii_hexdigit).count();
            if digits > 0 {
                out.push(u32::from_str_radix(&rest[..digits], 16).ok().and_then(char::from_u32)?);
                rest = &rest[digits..];
                rest = rest.strip_prefix(char::is_whitespace).unwrap_or(rest);
            } else {
                let c = rest.chars().next()?;
                out.push(c);
                rest = &rest[c.len_utf8()..];
            }
        } else {
            break;
        }
    }
    let starts_well = !out.starts_with(|c: char| c.is_ascii_digit()) || text.starts_with('\\');
    (!out.is_empty() && starts_well).then_some((out, rest))
}

/// `name`, `name = value`, `name^="value" i`.
fn attribute(inside: &str) -> Option<Simple> {
    let (name, rest) = name(inside.trim())?;
    let rest = rest.trim_start();
    let simple = |how, value, any_case| Some(Simple::Attribute { name, how, value, any_case });
    if rest.is_empty() {
        return simple(How::There, String::new(), false);
    }
    let (sign, rest) = rest.split_once('=')?;
    let how = match sign {
        "" => How::Equals,
        "~" => How::Word,
        "|" => How::Dashed,
        "^" => How::Starts,
        "$" => How::Ends,
        "*" => How::Holds,
        _ => return None,
    };
    let rest = rest.trim_start();
    let (value, flag) = match rest.chars().next()? {
        quote @ ('"' | '\'') => {
            let (value, flag) = rest[1..].split_once(quote)?;
            if value.contains('\\') {
                return None;
            }
            (value.to_owned(), flag)
        }
        _ => self::name(rest)?,
    };
    match flag.trim() {
        "" | "s" | "S" => simple(how, value, false),
        "i" | "I" => simple(how, value, true),
        _ => None,
    }
}

/// `2n+1`, `odd`, `3`: step and start.
fn steps(text: &str) -> Option<(i64, i64)> {
    let text: String = text.split_whitespace().collect::<String>().to_ascii_lowercase();
    let number = |t: &str| t.strip_prefix('+').unwrap_or(t).parse::<i32>().ok().map(i64::from);
    match text.as_str() {
        "odd" => return Some((2, 1)),
        "even" => return Some((2, 0)),
        _ => {}
    }
    let Some((step, start)) = text.split_once('n') else { return Some((0, number(&text)?)) };
    let step = match step {
        "" | "+" => 1,
        "-" => -1,
        s => number(s)?,
    };
    Some((step, if start.is_empty() { 0 } else { number(start)? }))
}

/// How many simple selectors a list holds, those within others counted too.
pub(super) fn count(list: &[Selector]) -> usize {
    let inside = |s: &Simple| match s {
        Simple::Is(l) | Simple::Not(l) => 1 + count(l),
        _ => 1,
    };
    list.iter().flat_map(|s| &s.parts).map(|(_, part)| 1 + part.iter().map(inside).sum::<usize>()).sum()
}

#[cfg(test)]
#[path = "selectors_tests.rs"]
mod tests;
