//! How large a drawing becomes once every copy is written out, found without writing it out.
//!
//! A few nested `<use>` lines can stand for billions of shapes, and a copy can contain itself. Both are
//! refused here, before the SVG reading library starts copying.

use std::collections::HashMap;

use usvg::roxmltree::{Document, Node};

use super::limits::{MAX_CLIPPING_ELEMENTS, MAX_DEPTH, MAX_EXPANDED_BYTES, MAX_EXPANDED_ELEMENTS, beyond};
use super::xml::{first_with_id, href, is_svg};
use crate::say::Trouble;

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Weight {
    elements: usize,
    bytes: usize,
    depth: usize,
    /// Elements, those of a clip path counted again wherever it clips something.
    walked: usize,
}

#[derive(Clone, Copy)]
enum Memo {
    New,
    Open,
    Done(Weight),
}

/// Holds the written-out drawing to the limits.
///
/// # Errors
/// Names the limit passed and the count found, or the copy that contains itself.
pub(super) fn check(doc: &Document<'_>, about: &str) -> Result<(), Trouble> {
    // Before anything walks recursively, and by the parsed file itself: the first look saw only text.
    let depth = depth_of(doc);
    if depth > MAX_DEPTH {
        return Err(beyond(about, "levels of nested groups", depth, MAX_DEPTH));
    }
    let mut scales = Scales {
        by_id: first_with_id(doc),
        memo: vec![Memo::New; doc.descendants().count()],
        level: 0,
        about,
    };
    let whole = scales.weigh(doc.root_element())?;
    let limits = [
        ("elements once its copies are written out", whole.elements, MAX_EXPANDED_ELEMENTS),
        ("bytes once its copies are written out", whole.bytes, MAX_EXPANDED_BYTES),
        (LEVELS, whole.depth, MAX_DEPTH),
        ("elements once its clip paths are written out", whole.walked, MAX_CLIPPING_ELEMENTS),
    ];
    for (what, found, limit) in limits {
        if found > limit {
            return Err(beyond(about, what, found, limit));
        }
    }
    Ok(())
}

const LEVELS: &str = "levels of nested groups and copies";

/// Deepest nesting of elements. Parents come before their children in the list of nodes.
fn depth_of(doc: &Document<'_>) -> usize {
    let mut depths: Vec<usize> = Vec::new();
    for node in doc.descendants() {
        let above = node.parent().and_then(|p| depths.get(p.id().get_usize()).copied()).unwrap_or(0);
        depths.push(above + usize::from(node.is_element()));
    }
    depths.into_iter().max().unwrap_or(0)
}

struct Scales<'a, 'i> {
    by_id: HashMap<&'a str, Node<'a, 'i>>,
    memo: Vec<Memo>,
    /// How deep the walk is.
    level: usize,
    about: &'a str,
}

impl<'a, 'i> Scales<'a, 'i> {
    fn weigh(&mut self, node: Node<'a, 'i>) -> Result<Weight, Trouble> {
        let at = node.id().get_usize();
        match self.memo.get(at).copied().unwrap_or(Memo::New) {
            Memo::Done(w) => return Ok(w),
            Memo::Open => {
                let name = node.attribute("id").unwrap_or_else(|| node.tag_name().name());
                return Err(Trouble::bad_input(self.about, format!("\"{name}\" contains a copy of itself"))
                    .hint("unlink the copy (use element) in the drawing program"));
            }
            Memo::New => {}
        }
        if let Some(memo) = self.memo.get_mut(at) {
            *memo = Memo::Open;
        }
        self.level += 1;
        if self.level > MAX_DEPTH {
            return Err(beyond(self.about, LEVELS, self.level, MAX_DEPTH));
        }
        let mut sum = Weight { elements: 1, bytes: 0, depth: 0, walked: 1 };
        for a in node.attributes() {
            sum.bytes += a.value().len();
            for (target, costly) in self.links(a.value()) {
                let weight = self.weigh(target)?;
                sum.add(if costly { weight } else { Weight { elements: 0, bytes: 0, ..weight } });
            }
        }
        if node.tag_name().name() == "use"
            && let Some(target) =
                href(node).and_then(|h| h.strip_prefix('#')).and_then(|id| self.by_id.get(id))
        {
            let target = *target;
            sum.add(self.weigh(target)?);
        }
        for child in node.children().filter(is_svg) {
            sum.add(self.weigh(child)?);
        }
        sum.depth += 1;
        self.level -= 1;
        if let Some(memo) = self.memo.get_mut(at) {
            *memo = Memo::Done(sum);
        }
        Ok(sum)
    }

    /// Clip paths, masks and patterns that a value links to, and whether they are written out again for every
    /// shape that has them. Clip paths in units of the page are not, but walked through each time.
    fn links(&self, value: &str) -> Vec<(Node<'a, 'i>, bool)> {
        let mut found = Vec::new();
        let mut rest = value;
        while let Some(i) = rest.find("url(") {
            rest = &rest[i + 4..];
            let link = rest.split(')').next().unwrap_or_default();
            let id = link.trim().trim_matches(['"', '\'']).trim_start_matches('#');
            if let Some(target) = self.by_id.get(id) {
                let boxed = target.attribute("clipPathUnits") == Some("objectBoundingBox");
                match target.tag_name().name() {
                    "mask" | "pattern" => found.push((*target, true)),
                    "clipPath" => found.push((*target, boxed)),
                    _ => {}
                }
            }
        }
        found
    }
}

impl Weight {
    fn add(&mut self, other: Weight) {
        self.elements = self.elements.saturating_add(other.elements);
        self.bytes = self.bytes.saturating_add(other.bytes);
        self.walked = self.walked.saturating_add(other.walked);
        self.depth = self.depth.max(other.depth);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weigh(text: &str) -> Result<(), String> {
        check(&Document::parse(text).unwrap(), "rose.svg").map_err(|t| t.what)
    }

    #[test]
    fn a_billion_copies_in_ten_lines_are_counted_without_being_made() {
        let mut text = "<svg><path id='l0' d='M0 0h1'/>".to_owned();
        for i in 1..=9 {
            text += &format!("<g id='l{i}'>{}</g>", format!("<use href='#l{}'/>", i - 1).repeat(10));
        }
        let told = weigh(&(text + "</svg>")).unwrap_err();
        assert!(told.contains("elements once its copies are written out; the limit is 400000"), "{told}");
    }

    #[test]
    fn a_copy_that_contains_itself_is_named() {
        let told =
            weigh("<svg><g id='a'><use href='#b'/></g><g id='b'><use href='#a'/></g></svg>").unwrap_err();
        assert_eq!(told, "\"a\" contains a copy of itself");
        assert!(weigh("<svg><use id='u' href='#u'/></svg>").is_err());
    }

    #[test]
    fn clip_paths_within_clip_paths_are_counted_and_their_circles_found() {
        let chain = |levels: usize| {
            let level = |i: usize| {
                let by = i - 1;
                format!(
                    "<clipPath id='c{i}' clip-path='url(#c{by})'><rect clip-path='url(#c{by})'/></clipPath>"
                )
            };
            let [onward, back]: [String; 2] =
                [(1..=levels).map(level).collect(), (1..=levels).rev().map(level).collect()];
            let told = [onward, back].map(|chain| weigh(&format!("<svg>{chain}</svg>")));
            assert_eq!(told[0].is_ok(), told[1].is_ok());
            told.into_iter().collect::<Result<Vec<()>, String>>().map(|_| ())
        };
        assert_eq!(chain(18), Ok(()));
        let told = chain(60).unwrap_err();
        assert!(
            told.contains("elements once its clip paths are written out; the limit is 4000000"),
            "{told}"
        );
        assert!(chain(5000).unwrap_err().contains("levels of nested groups and copies"));
        let circle = "<svg><clipPath id='a'><g clip-path='url(#b)'/></clipPath><clipPath id='b'><g clip-path='url(#c)'/></clipPath>\
                      <clipPath id='c' clip-path='url(#a)'/></svg>";
        assert_eq!(weigh(circle).unwrap_err(), "\"a\" contains a copy of itself");
    }
}
