//! A first look at the raw text, before anything walks it: nesting, counts and entities are held to the
//! limits here, so that no reader below can be made to run long, deep or out of memory.

use super::limits::{MAX_ATTRIBUTES, MAX_DEPTH, MAX_ELEMENTS, MAX_ENTITY_BYTES};
use crate::say::Trouble;

/// What the first look found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Counts {
    /// Elements.
    pub elements: usize,
    /// Deepest nesting.
    pub depth: usize,
    /// Most attributes on one element.
    pub attributes: usize,
}

/// Looks through `text` (an XML document; it may be malformed, then the XML reader says so later).
///
/// # Errors
/// Names the limit that is passed and the count found.
pub(super) fn check(text: &str, about: &str) -> Result<(), Trouble> {
    let found = count(text);
    for (what, found, limit) in [
        ("elements", found.elements, MAX_ELEMENTS),
        ("levels of nested groups", found.depth, MAX_DEPTH),
        ("attributes on one element", found.attributes, MAX_ATTRIBUTES),
    ] {
        if found > limit {
            return Err(Trouble::bad_input(about, format!("it has {found} {what}; the limit is {limit}"))
                .hint("simplify the drawing or split it into several files"));
        }
    }
    check_entities(text, about)
}

fn count(text: &str) -> Counts {
    let bytes = text.as_bytes();
    let mut found = Counts::default();
    let mut depth = 0usize;
    let mut at = 0;
    while let Some(open) = find(bytes, at, b"<") {
        let rest = &bytes[open..];
        if rest.starts_with(b"<!--") {
            at = after(bytes, open + 4, b"-->");
        } else if rest.starts_with(b"<![CDATA[") {
            at = after(bytes, open + 9, b"]]>");
        } else if rest.starts_with(b"<?") {
            at = after(bytes, open + 2, b"?>");
        } else if rest.starts_with(b"<!DOCTYPE") || rest.starts_with(b"<!ENTITY") {
            at = declaration(bytes, open + 2);
        } else if rest.starts_with(b"<!") {
            at = after(bytes, open + 2, b">");
        } else if rest.starts_with(b"</") {
            depth = depth.saturating_sub(1);
            at = after(bytes, open + 2, b">");
        } else {
            let (end, attributes, closes) = tag(bytes, open + 1);
            found.elements += 1;
            found.attributes = found.attributes.max(attributes);
            depth += 1;
            found.depth = found.depth.max(depth);
            depth -= usize::from(closes);
            at = end;
        }
    }
    found
}

/// Walks a start tag from behind its `<`: where it ends, how many attributes it has, whether it closes itself.
fn tag(bytes: &[u8], from: usize) -> (usize, usize, bool) {
    let mut quote = None;
    let mut attributes = 0;
    let mut last = 0;
    for (i, &b) in bytes.iter().enumerate().skip(from) {
        match (quote, b) {
            (Some(q), _) if q == b => quote = None,
            (Some(_), _) => {}
            (None, b'"' | b'\'') => quote = Some(b),
            (None, b'=') => attributes += 1,
            (None, b'>') => return (i + 1, attributes, last == b'/'),
            _ => {}
        }
        last = b;
    }
    (bytes.len(), attributes, false)
}

/// The end of a declaration, or the bracket that opens its list of further ones; what stands in quotation marks
/// is no part of it, so that a quoted comment sign cannot hide what follows.
fn declaration(bytes: &[u8], from: usize) -> usize {
    let mut quote = None;
    for (i, &b) in bytes.iter().enumerate().skip(from) {
        match (quote, b) {
            (Some(q), _) if q == b => quote = None,
            (Some(_), _) => {}
            (None, b'"' | b'\'') => quote = Some(b),
            (None, b'>' | b'[') => return i + 1,
            _ => {}
        }
    }
    bytes.len()
}

fn find(bytes: &[u8], from: usize, what: &[u8]) -> Option<usize> {
    let rest = bytes.get(from..)?;
    rest.windows(what.len()).position(|w| w == what).map(|i| from + i)
}

fn after(bytes: &[u8], from: usize, what: &[u8]) -> usize {
    find(bytes, from, what).map_or(bytes.len(), |i| i + what.len())
}

/// Entities may stand for short plain text (editors use them for namespaces), not for elements, other
/// entities or files.
fn check_entities(text: &str, about: &str) -> Result<(), Trouble> {
    let mut longest = 0;
    let mut rest = text;
    let mut declared = false;
    while let Some(i) = rest.find("<!ENTITY") {
        declared = true;
        rest = &rest[i + 8..];
        let Some(value) = quoted(rest) else { break };
        let head = rest.split(['"', '\'', '>']).next().unwrap_or_default();
        let name = head.split_whitespace().find(|w| *w != "%").unwrap_or("?");
        let refuse = |what: &str| {
            Err(Trouble::bad_input(about, format!("its entity \"{name}\" {what}"))
                .hint("export the drawing again as plain SVG"))
        };
        if head.split_whitespace().any(|w| w == "SYSTEM" || w == "PUBLIC") {
            return refuse("stands for another file; other files are never opened");
        }
        if value.contains(['&', '<', '%']) {
            return refuse("stands for elements or other entities; only plain text is read");
        }
        longest = longest.max(value.len());
    }
    if !declared {
        return Ok(());
    }
    let uses = text.bytes().filter(|b| *b == b'&').count();
    let grown = uses.saturating_mul(longest);
    if grown > MAX_ENTITY_BYTES {
        return Err(Trouble::bad_input(
            about,
            format!("its entities would add up to {grown} bytes; the limit is {MAX_ENTITY_BYTES}"),
        )
        .hint("export the drawing again as plain SVG"));
    }
    Ok(())
}

fn quoted(text: &str) -> Option<&str> {
    let start = text.find(['"', '\''])?;
    let quote = text[start..].chars().next()?;
    text[start + 1..].split(quote).next()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> String {
        check(text, "rose.svg").unwrap_err().what
    }

    #[test]
    fn elements_depth_and_attributes_are_counted() {
        let text = "<?xml version='1.0'?><!-- <g><g> --><svg a='1' b=\"x>y='2'\"><g/><g><path d=''/></g>\
                    <style><![CDATA[ a > <b> ]]></style></svg>";
        assert_eq!(count(text), Counts { elements: 5, depth: 3, attributes: 2 });
    }

    #[test]
    fn thousands_of_nested_groups_are_refused_with_both_numbers() {
        let text = format!("<svg>{}{}</svg>", "<g>".repeat(5000), "</g>".repeat(5000));
        assert_eq!(refused(&text), "it has 5001 levels of nested groups; the limit is 200");
    }

    /// Rules of where instructions, declarations and comments end: XML 1.0, productions 15, 16 and 28.
    #[test]
    fn nesting_cannot_hide_behind_a_comment_sign_that_is_none() {
        let deep = "<g>".repeat(300);
        for text in [
            format!("<svg><?note > <!-- ?>{deep}"),
            format!("<!DOCTYPE svg PUBLIC \">\" \"<!--\"><svg>{deep}"),
            format!("<!DOCTYPE svg SYSTEM '<![CDATA['><svg>{deep}"),
            format!("<!DOCTYPE svg [<?note > <![CDATA[ ?>]><svg>{deep}"),
        ] {
            assert_eq!(count(&text).depth, 301, "{}", &text[..40]);
        }
    }

    #[test]
    fn entity_bombs_are_refused() {
        let nested = "<!DOCTYPE svg [<!ENTITY a \"ha\"><!ENTITY b \"&a;&a;\">]><svg>&b;</svg>";
        assert!(refused(nested).contains("\"b\" stands for elements or other entities"));
        let wide =
            format!("<!DOCTYPE svg [<!ENTITY a '{}'>]><svg>{}</svg>", "x".repeat(20_000), "&a;".repeat(1000));
        assert!(refused(&wide).contains("20000000 bytes"));
    }

    #[test]
    fn entities_that_name_files_are_refused() {
        let text = "<!DOCTYPE svg [<!ENTITY secret SYSTEM \"file:///etc/hostname\">]><svg>&secret;</svg>";
        assert!(refused(text).contains("\"secret\" stands for another file"));
    }

    #[test]
    fn the_short_entities_editors_write_pass() {
        let text = "<!DOCTYPE svg PUBLIC \"-//W3C//DTD SVG 1.1//EN\" \"svg11.dtd\" [\
                    <!ENTITY ns_svg \"http://www.w3.org/2000/svg\">]><svg xmlns=\"&ns_svg;\"/>";
        assert_eq!(check(text, "rose.svg"), Ok(()));
    }

    #[test]
    fn cut_off_text_ends_the_look() {
        for text in ["<svg", "<svg a='", "<!--", "<![CDATA[", "<", "<!ENTITY", "<!ENTITY x \""] {
            let _ = check(text, "rose.svg");
        }
    }
}
