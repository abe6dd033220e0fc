//! Style sheets and styles as files write them, taken apart: rules, rules with an @, declarations.
//!
//! Syntax: CSS Syntax Module Level 3, section 5; media: Media Queries Level 4, sections 2.1 to 2.3.

/// One statement of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Statement<'a> {
    /// `head { body }`
    Rule { head: &'a str, body: &'a str },
    /// `@name head;` or `@name head { body }`
    At { name: &'a str, head: &'a str, body: Option<&'a str> },
}

/// `name: value`, the name in lower case.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Declaration {
    pub name: String,
    pub value: String,
    pub important: bool,
}

/// What stands in the body of a rule.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Body<'a> {
    pub declarations: Vec<Declaration>,
    /// Heads of rules within it.
    pub nested: Vec<&'a str>,
}

/// The text without its comments; what stands in quotation marks is none.
pub(super) fn without_comments(css: &str) -> String {
    let mut out = String::with_capacity(css.len());
    let mut from = 0;
    let mut at = 0;
    while let Some(b) = css.as_bytes().get(at) {
        match b {
            b'"' | b'\'' => at = after_string(css, at),
            b'\\' => at += 2,
            b'/' if css.as_bytes().get(at + 1) == Some(&b'*') => {
                out.push_str(&css[from..at]);
                let inside = css.get(at + 2..).unwrap_or_default();
                at = inside.find("*/").map_or(css.len(), |i| at + 2 + i + 2);
                from = at;
            }
            _ => at += 1,
        }
    }
    out.push_str(css.get(from..).unwrap_or_default());
    out
}

/// The statements of a sheet without comments.
pub(super) fn statements(css: &str) -> Vec<Statement<'_>> {
    let mut found = Vec::new();
    let mut at = 0;
    while at < css.len() {
        let rest = &css[at..];
        let rest = rest.trim_start();
        let rest =
            rest.strip_prefix("<!--").or_else(|| rest.strip_prefix("-->")).unwrap_or(rest).trim_start();
        let from = css.len() - rest.len();
        let ends: &[u8] = if rest.starts_with('@') { b"{;}" } else { b"{" };
        let end = seek(css, from, ends);
        let head = css[from..end].trim();
        let body = (css.as_bytes().get(end) == Some(&b'{')).then(|| {
            let close = seek(css, end + 1, b"}");
            at = close + 1;
            &css[end + 1..close]
        });
        if body.is_none() {
            at = end + 1;
        }
        match (head.strip_prefix('@'), body) {
            (Some(head), body) => {
                let name_end = head.find(|c: char| !is_name(c)).unwrap_or(head.len());
                let (name, head) = head.split_at(name_end);
                found.push(Statement::At { name, head: head.trim(), body });
            }
            (None, Some(body)) => found.push(Statement::Rule { head, body }),
            (None, None) => {}
        }
    }
    found
}

/// What stands in the body of a rule, or in a `style` attribute, without comments.
pub(super) fn body(css: &str) -> Body<'_> {
    let mut found = Body::default();
    let mut at = 0;
    while at < css.len() {
        let end = seek(css, at, b";{");
        let text = css[at..end].trim();
        at = end + 1;
        if css.as_bytes().get(end) != Some(&b'{') {
            found.declarations.extend(declaration(text));
            continue;
        }
        at = seek(css, at, b"}") + 1;
        if text.starts_with("--") {
            // A property of the file's own may hold a block.
            at = seek(css, at.min(css.len()), b";") + 1;
        } else {
            found.nested.push(text);
        }
    }
    found
}

fn declaration(text: &str) -> Option<Declaration> {
    let (name, value) = text.split_once(':')?;
    let name = name.trim();
    if name.is_empty() || !name.chars().all(is_name) {
        return None;
    }
    let important = value.rsplit_once('!').filter(|(_, w)| w.trim().eq_ignore_ascii_case("important"));
    let words: Vec<&str> = important.map_or(value, |(v, _)| v).split_whitespace().collect();
    let value = words.join(" ");
    (!value.is_empty()).then(|| {
        let name = name.to_ascii_lowercase();
        let value = if keeps_case(&name, &value) { value } else { value.to_ascii_lowercase() };
        // The one keyword that SVG readers know in its own case only.
        let value = if value == "currentcolor" { "currentColor".to_owned() } else { value };
        Declaration { name, value, important: important.is_some() }
    })
}

/// True where upper and lower case are not the same: names of fonts and links, and functions of transforms, whose
/// names are looked for as SVG writes them.
fn keeps_case(name: &str, value: &str) -> bool {
    name.starts_with("--")
        || name.starts_with("font")
        || name.starts_with("animation")
        || name.ends_with("transform")
        || name == "d"
        || value.contains(['#', '"', '\'', '\\'])
}

/// Whether rules for a medium hold for a drawing on a screen; `None` when it asks for something that is not known.
pub(super) fn holds_on_screen(query: &str) -> Option<bool> {
    if query.trim().is_empty() {
        return Some(true);
    }
    let mut unknown = false;
    for one in query.split(',') {
        let one = one.trim().to_ascii_lowercase();
        let (not, one) = match one.split_once(char::is_whitespace) {
            Some(("not", rest)) => (true, rest.trim()),
            Some(("only", rest)) => (false, rest.trim()),
            _ => (false, one.as_str()),
        };
        let (medium, more) = one.split_once(char::is_whitespace).unwrap_or((one, ""));
        let holds = match medium {
            "all" | "screen" if more.is_empty() => Some(true),
            "all" | "screen" => None,
            m if !m.is_empty() && m.chars().all(is_name) => Some(false),
            _ => None,
        };
        match holds {
            Some(holds) if holds != not => return Some(true),
            Some(_) => {}
            None => unknown = true,
        }
    }
    (!unknown).then_some(false)
}

/// True for the letters of a name.
pub(super) fn is_name(c: char) -> bool {
    c.is_ascii_alphanumeric() || matches!(c, '-' | '_') || !c.is_ascii()
}

/// Where one of `ends` first stands from `from` on, outside strings, brackets and blocks; the end of the text when
/// nowhere.
pub(super) fn seek(css: &str, from: usize, ends: &[u8]) -> usize {
    let mut open = Vec::new();
    let mut blocks = 0;
    let mut at = from;
    while let Some(b) = css.as_bytes().get(at) {
        if open.is_empty() && ends.contains(b) {
            return at;
        }
        match b {
            b'"' | b'\'' => {
                at = after_string(css, at);
                continue;
            }
            b'\\' => at += 1,
            b'(' => open.push(b')'),
            b'[' => open.push(b']'),
            b'{' => {
                open.push(b'}');
                blocks += 1;
            }
            // A block that ends closes the brackets in it that were left open.
            b'}' if blocks > 0 => {
                blocks -= 1;
                while open.pop().is_some_and(|c| c != b'}') {}
            }
            b')' | b']' if open.last() == Some(b) => {
                open.pop();
            }
            _ => {}
        }
        at += 1;
    }
    css.len()
}

/// Where a string that starts at `at` is over; a line's end breaks it off.
fn after_string(css: &str, at: usize) -> usize {
    let bytes = css.as_bytes();
    let quote = bytes.get(at).copied();
    let mut i = at + 1;
    while let Some(b) = bytes.get(i) {
        match b {
            b'\\' => i += 1,
            b'\n' => return i,
            b if Some(*b) == quote => return i + 1,
            _ => {}
        }
        i += 1;
    }
    css.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_is_taken_apart_where_css_parts_it() {
        let css = without_comments(
            "<!-- @import 'a;b{.css'; .a/* } */.b , c { fill : RED ; clip-path:url(#C;x) } @media print { g{ d:none } }\n\
             @layer p, q; svg { x:1; g { y:2 } --own:{a:b}; Opacity:0!IMPORTANT } -->",
        );
        let all = statements(&css);
        let heads: Vec<String> = all
            .iter()
            .map(|s| match s {
                Statement::Rule { head, .. } => (*head).to_owned(),
                Statement::At { name, head, .. } => format!("@{name} {head}"),
            })
            .collect();
        assert_eq!(heads, ["@import 'a;b{.css'", ".a.b , c", "@media print", "@layer p, q", "svg"]);
        let Statement::Rule { body: inside, .. } = all[1] else { panic!("{all:?}") };
        let told: Vec<_> = body(inside).declarations.into_iter().map(|d| (d.name, d.value)).collect();
        assert_eq!(told, [("fill".into(), "red".into()), ("clip-path".into(), "url(#C;x)".to_owned())]);
        let Statement::Rule { body: inside, .. } = all[4] else { panic!("{all:?}") };
        let last = body(inside);
        assert_eq!(last.nested, ["g"]);
        let last = last.declarations.last().unwrap().clone();
        assert_eq!((last.name.as_str(), last.value.as_str(), last.important), ("opacity", "0", true));
    }

    #[test]
    fn broken_sheets_end() {
        for css in
            ["", "}", "a{", "a", "@", "@x", "a{b:'", "a{b:(;}", "/*", "\\", "a{\\", "é{ü:ö", "'\\", "a{--x:{"]
        {
            let css = without_comments(css);
            for s in statements(&css) {
                if let Statement::Rule { body: b, .. } = s {
                    let _ = body(b);
                }
            }
        }
    }

    #[test]
    fn media_are_those_of_a_screen() {
        for (query, holds) in [
            ("", Some(true)),
            ("screen", Some(true)),
            ("print, ALL", Some(true)),
            ("only screen", Some(true)),
            ("print", Some(false)),
            ("not print", Some(true)),
            ("not all", Some(false)),
            ("screen and (width > 3px)", None),
            ("(prefers-color-scheme: dark)", None),
            ("print, (width)", None),
        ] {
            assert_eq!(holds_on_screen(query), holds, "{query}");
        }
    }
}
