//! Style sheets applied: the drawing's text with what its sheets set written into the `style` of every element, so
//! that everything that reads the file later sees one way of saying it.
//!
//! Order of precedence: CSS Cascading and Inheritance Level 4, section 6.

use std::collections::HashMap;
use std::fmt::Write;

use usvg::roxmltree::{Document, Node};

use super::css::{self, Declaration, Statement};
use super::family::Family;
use super::geometry;
use super::limits::{MAX_EXPANDED_BYTES, MAX_STYLE_TRIALS, beyond};
use super::selectors::{self, Selector};
use super::transforms::{self, shortened};
use super::valid::is_valid;
use super::xml::is_svg;
use crate::say::Trouble;

/// Stands for a semicolon within a value: what is told apart by semicolons cannot hold one.
pub(super) const PARTED: &str = "\u{fffd}";

/// What applying the sheets comes to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Applied {
    /// The drawing's text with its styles written out, line for line as before; `None` where nothing changes.
    pub text: Option<String>,
    /// What of the sheets is not followed.
    pub not_followed: Vec<String>,
}

struct Rule {
    selectors: Vec<Selector>,
    declarations: Vec<Declaration>,
}

/// Where a declaration stands among those for one element; the last wins.
type Rank = (bool, bool, [u32; 3], usize);

/// Applies the style sheets of `doc`, whose text is `text`.
///
/// # Errors
/// There are too many pairs of rule and element, or the styles written out are too long.
pub(super) fn apply(doc: &Document<'_>, text: &str, about: &str) -> Result<Applied, Trouble> {
    let mut applied = Applied::default();
    for pi in doc.root().children().filter_map(|n| n.pi()).filter(|pi| pi.target == "xml-stylesheet") {
        let what = shortened(pi.value.unwrap_or_default());
        applied.not_followed.push(format!("the style sheet outside the file ({what})"));
    }
    let mut rules = Vec::new();
    for sheet in doc.descendants().filter(|n| is_svg(n) && n.tag_name().name() == "style" && is_css(*n)) {
        let text: String = sheet.children().filter(|t| t.is_text()).filter_map(|t| t.text()).collect();
        let css = css::without_comments(&text);
        match css::holds_on_screen(sheet.attribute("media").unwrap_or_default()) {
            Some(true) => gather(&css, 0, &mut rules, &mut applied.not_followed),
            Some(false) => {}
            None => applied.not_followed.push(format!(
                "the style sheet for \"{}\"",
                shortened(sheet.attribute("media").unwrap_or_default())
            )),
        }
    }
    let family = Family::of(doc);
    let count = family.nodes().count();
    let trials = rules.iter().map(|r| selectors::count(&r.selectors)).sum::<usize>().saturating_mul(count);
    if trials > MAX_STYLE_TRIALS {
        return Err(beyond(about, "pairs of style rule and element", trials, MAX_STYLE_TRIALS));
    }
    let mut meant: Vec<Vec<([u32; 3], usize)>> = vec![Vec::new(); count];
    let mut bytes = 0usize;
    for (k, rule) in rules.iter().enumerate().filter(|(_, r)| !r.declarations.is_empty()) {
        let length: usize = rule.declarations.iter().map(|d| d.name.len() + d.value.len() + 2).sum();
        for selector in &rule.selectors {
            for (own, _) in meant.iter_mut().zip(family.meant(selector)).filter(|(_, meant)| *meant) {
                own.push((selector.weight, k));
                bytes = bytes.saturating_add(length);
            }
            if bytes > MAX_EXPANDED_BYTES {
                let what = "bytes of style once its style sheets are applied";
                return Err(beyond(about, what, bytes, MAX_EXPANDED_BYTES));
            }
        }
    }
    let mut out = String::new();
    let mut done = 0;
    for (node, meant) in family.nodes().zip(&meant).filter(|(n, _)| is_svg(n)) {
        let own = node.attribute_node("style").filter(|a| a.namespace().is_none());
        if meant.is_empty() && own.is_none() {
            continue;
        }
        let style = style_of(node, meant, &rules);
        if own.map(|a| a.value()) == Some(style.as_str()) {
            continue;
        }
        let range = own.map_or_else(|| end_of_name(text, node), |a| a.range());
        let Some(before) = text.get(done..range.start) else { continue };
        out.push_str(before);
        // Writing to a string cannot fail.
        let _ = write!(out, " style=\"");
        super::copy::escape(&mut out, &style);
        out.push('"');
        // Lines keep their numbers.
        let lines = text.get(range.clone()).unwrap_or_default().matches('\n').count();
        out.extend(std::iter::repeat_n('\n', lines));
        done = range.end;
    }
    if done > 0 {
        out.push_str(text.get(done..).unwrap_or_default());
        applied.text = Some(out);
    }
    Ok(applied)
}

/// True for a style sheet in CSS.
fn is_css(sheet: Node<'_, '_>) -> bool {
    sheet.attribute("type").is_none_or(|t| {
        let t = t.split(';').next().unwrap_or_default().trim();
        t.is_empty() || t.eq_ignore_ascii_case("text/css")
    })
}

/// Rules for media within rules for media, so deep at most.
const MAX_NESTING: usize = 8;

/// The rules of a sheet that can be read; the rest is named where it could change what is cut.
fn gather(css: &str, depth: usize, rules: &mut Vec<Rule>, not_followed: &mut Vec<String>) {
    for statement in css::statements(css) {
        match statement {
            Statement::Rule { head, body } => {
                let body = css::body(body);
                for nested in &body.nested {
                    not_followed.push(format!(
                        "what the style sheet sets for {} within {}",
                        shortened(nested),
                        shortened(head)
                    ));
                }
                match selectors::read(head) {
                    Some(selectors) => rules.push(Rule { selectors, declarations: body.declarations }),
                    None if body.declarations.iter().any(|d| geometry::matters(&d.name)) => {
                        not_followed.push(format!("what the style sheet sets for {}", shortened(head)));
                    }
                    None => {}
                }
            }
            Statement::At { name, head, body } => {
                let name = name.to_ascii_lowercase();
                let holds = if name == "media" { css::holds_on_screen(head) } else { None };
                match (name.as_str(), body) {
                    ("media", Some(body)) if holds.is_some() && depth < MAX_NESTING => {
                        if holds == Some(true) {
                            gather(body, depth + 1, rules, not_followed);
                        }
                    }
                    // What these hold is for pages of print, fonts, and movements that are told of by themselves;
                    // an order of layers alone sets nothing.
                    ("charset" | "namespace" | "page" | "font-face" | "font-feature-values", _) => {}
                    ("keyframes" | "-webkit-keyframes" | "color-profile" | "view-transition", _) => {}
                    ("layer", None) => {}
                    _ => not_followed.push(format!(
                        "the style sheet's \"@{}\"",
                        shortened(format!("{name} {head}").trim())
                    )),
                }
            }
        }
    }
}

/// The style of an element: what the rules that mean it and its own style set, the weakest first, each property
/// once.
fn style_of(node: Node<'_, '_>, meant: &[([u32; 3], usize)], rules: &[Rule]) -> String {
    let own = css::without_comments(node.attribute("style").unwrap_or_default());
    let own = css::body(&own).declarations;
    let mut all: Vec<(Rank, &Declaration)> =
        own.iter().map(|d| ((d.important, true, [0; 3], 0), d)).collect();
    for (weight, k) in meant {
        for d in rules.get(*k).map_or(&[][..], |r| &r.declarations) {
            // The size of the page is stated by its attributes, and told where it is doubtful.
            let of_page =
                node.parent_element().is_none() && matches!(d.name.as_str(), "x" | "y" | "width" | "height");
            if !of_page {
                all.push(((d.important, false, *weight, *k), d));
            }
        }
    }
    all.sort_by_key(|(rank, _)| *rank);
    // What is set last stands last: a shorthand and its longhands hold in their order.
    let mut last: HashMap<&str, usize> = HashMap::new();
    let mut kept: Vec<(&str, &str)> = Vec::new();
    for (_, d) in all {
        let name = known_name(&d.name);
        let idle = d.name.starts_with("--") || d.value.contains(';') && !geometry::matters(&d.name);
        if !idle && is_valid(name, &d.value) {
            last.insert(name, kept.len());
            kept.push((name, &d.value));
        }
    }
    let mut out = String::new();
    for (_, (name, value)) in kept.iter().enumerate().filter(|(k, (name, _))| last.get(name) == Some(k)) {
        let separator = if out.is_empty() { "" } else { ";" };
        let _ = write!(out, "{separator}{name}:{}", value.replace(';', PARTED));
    }
    out
}

/// Names that browsers take for others (Compatibility Standard, section 4).
fn known_name(name: &str) -> &str {
    match name {
        "-webkit-transform" => "transform",
        "-webkit-transform-origin" => "transform-origin",
        "-webkit-filter" => "filter",
        "-webkit-mask" => "mask",
        "-webkit-clip-path" => "clip-path",
        other => other,
    }
}

/// Behind the name of an element's start tag.
fn end_of_name(text: &str, node: Node<'_, '_>) -> std::ops::Range<usize> {
    let start = node.range().start + 1;
    let tail = text.get(start..).unwrap_or_default();
    let length = tail.find(|c: char| c.is_whitespace() || matches!(c, '/' | '>')).unwrap_or(tail.len());
    start + length..start + length
}

/// The declarations of a style that is written out.
pub(super) fn declarations(style: &str) -> impl Iterator<Item = (&str, &str)> {
    style.split(';').filter_map(|d| d.split_once(':')).map(|(n, v)| (n.trim(), v.trim()))
}

/// A style as the SVG reading library can take it: it gives up at the first declaration that it cannot read.
/// Transforms are in plain numbers; markers are left out, and what changes nothing that is cut: the library compares each
/// with each.
pub(super) fn for_library(style: &str) -> String {
    let mut out = String::new();
    for (name, value) in declarations(style) {
        let plain = match name {
            "transform" => transforms::plain(value).map(|t| if t.is_empty() { "none".to_owned() } else { t }),
            // The height of lines is none of a font's letters.
            "font" => Ok(value.split('/').next().unwrap_or_default().to_owned()
                + value
                    .split_once('/')
                    .map_or("", |(_, v)| v.trim_start_matches(|c: char| !c.is_whitespace()))),
            _ => Ok(value.to_owned()),
        };
        let value = plain.unwrap_or_default();
        if (geometry::matters(name) || name.starts_with("stop-"))
            && !name.starts_with("marker")
            && is_readable(&value)
        {
            let _ = write!(out, "{}{name}:{value}", if out.is_empty() { "" } else { ";" });
        }
    }
    out
}

/// True for a value that the SVG reading library takes apart rightly.
pub(super) fn is_readable(value: &str) -> bool {
    let mut quote = None;
    let mut open = false;
    for c in value.chars() {
        match (quote, c) {
            (Some(q), _) => quote = (q != c).then_some(q),
            (None, '(') if open => return false,
            (None, '(') => open = true,
            (None, ')') if !open => return false,
            (None, ')') => open = false,
            _ if open => {}
            (None, '"' | '\'') => quote = Some(c),
            (None, c) if c.is_ascii_alphanumeric() || " #%.,+-_".contains(c) || u32::from(c) > 237 => {}
            _ => return false,
        }
    }
    !value.is_empty() && !open && quote.is_none() && !value.contains('\\') && !value.contains(PARTED)
}

#[cfg(test)]
#[path = "styles_tests.rs"]
mod tests;
