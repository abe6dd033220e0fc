//! The drawing as its file has it: every element with its id, line, labels and parents, and whether it will
//! be drawn. The SVG reading library loses all of this; its tree is matched back by id.

use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;

use usvg::roxmltree::{Document, Node};

use super::remarks::{Remark, Remarks};
use super::styles::declarations;
use super::{geometry, letters};
use crate::shape::Point;

pub(super) const SVG_NS: &str = "http://www.w3.org/2000/svg";
pub(super) const XLINK_NS: &str = "http://www.w3.org/1999/xlink";

/// One element of the file.
#[derive(Clone, Debug)]
pub(super) struct Source {
    /// Its id; made up and unique when the file gives none.
    pub id: String,
    /// True when the file gives the id.
    pub named: bool,
    pub tag: String,
    /// Line of the file, from 1.
    pub line: u32,
    /// What its label attributes say.
    pub labels: Vec<String>,
    pub parent: Option<usize>,
    pub fate: Fate,
    /// What its own style and its parents' say.
    pub look: Look,
    /// True for a copy of what is not in the file.
    pub orphan: bool,
    /// True when it asks for something that is not followed.
    pub not_followed: bool,
    /// Where a text would stand, user units of the page.
    pub letters: Option<[Point; 4]>,
}

/// Properties that go from parent to child, as written.
#[derive(Clone, Debug, Default)]
pub(super) struct Look {
    pub invisible: bool,
    /// At the start, the corners between and the end.
    markers: [bool; 3],
    stroke: Option<Rc<str>>,
    no_width: bool,
    pub font: Option<Rc<str>>,
}

impl Look {
    fn of(node: Node<'_, '_>, parent: Option<&Look>) -> Look {
        let mut look = parent.cloned().unwrap_or_default();
        if let Some(v) = property(node, "visibility") {
            look.invisible = matches!(v, "hidden" | "collapse");
        }
        if let Some(v) = property(node, "stroke") {
            look.stroke = Some(v.into());
        }
        if let Some(v) = property(node, "stroke-width") {
            look.no_width = super::scale::split_length(v).is_some_and(|(w, _)| w <= 0.0);
        }
        if let Some(v) = property(node, "font-family") {
            look.font = Some(v.into());
        }
        if let Some(v) = property(node, "marker") {
            look.markers = [v.contains("url("); 3];
        }
        for (own, name) in look.markers.iter_mut().zip(["marker-start", "marker-mid", "marker-end"]) {
            if let Some(v) = property(node, name) {
                *own = v.contains("url(");
            }
        }
        look
    }

    /// True where it carries markers.
    pub fn has_markers(&self) -> bool {
        self.markers.contains(&true)
    }

    /// Colour of a stroke without width, as written.
    pub fn hairline(&self) -> Option<&str> {
        self.stroke.as_deref().filter(|s| self.no_width && *s != "none")
    }
}

/// What becomes of an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fate {
    /// It is not drawn where it stands (a definition, editor's data, part of a hidden group), or it is a group.
    Apart,
    /// It is a shape, a text or a copy that must come out of the reading library.
    Drawn,
    /// It cannot be read; it is handed on empty.
    Refused,
}

/// All elements in document order.
#[derive(Clone, Debug, Default)]
pub(super) struct Sources {
    pub all: Vec<Source>,
    /// Place in [`Sources::all`] by number of the XML node; `usize::MAX` for nodes that are no SVG element.
    pub by_node: Vec<usize>,
    /// Places by id as handed to the reading library.
    pub by_id: HashMap<String, Vec<usize>>,
}

/// How a walk came to an element.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Way {
    Unseen,
    /// Through a `<use>`.
    Copied,
    /// In its own place.
    Direct,
}

impl Sources {
    /// Looks at every element of `doc`, whose text is `text`.
    pub fn look(doc: &Document<'_>, text: &str, remarks: &mut Remarks) -> Sources {
        let mut sources = Sources::gather(doc, text);
        let mut walk = Walk {
            way: vec![Way::Unseen; sources.all.len()],
            first_with_id: first_with_id(doc),
            sources: &mut sources,
            remarks,
        };
        for node in doc.descendants().filter(is_svg) {
            walk.refuse_unreadable(node);
        }
        walk.visit(doc.root_element(), Way::Direct);
        walk.tell_unseen(doc);
        sources
    }

    fn gather(doc: &Document<'_>, text: &str) -> Sources {
        let line_starts: Vec<usize> = std::iter::once(0)
            .chain(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1))
            .collect();
        let taken: BTreeSet<&str> = doc.descendants().filter_map(|n| n.attribute("id")).collect();
        let mut counts: HashMap<&str, usize> = HashMap::new();
        let mut s = Sources { by_node: vec![usize::MAX; doc.descendants().count()], ..Sources::default() };
        for node in doc.descendants().filter(is_svg) {
            let tag = node.tag_name().name();
            let count = counts.entry(tag).or_default();
            *count += 1;
            let given = node.attribute("id").map(str::trim).filter(|id| !id.is_empty());
            let mut id = given.map_or_else(|| format!("{tag}-{count}"), str::to_owned);
            while given.is_none() && taken.contains(id.as_str()) {
                id.push('x');
            }
            let parent = node.parent_element().and_then(|p| s.place(p));
            let look = Look::of(node, parent.and_then(|p| s.all.get(p)).map(|p| &p.look));
            let here = s.all.len();
            s.by_node[node.id().get_usize()] = here;
            s.by_id.entry(id.clone()).or_default().push(here);
            s.all.push(Source {
                id,
                named: given.is_some(),
                tag: tag.to_owned(),
                line: line_starts.partition_point(|start| *start <= node.range().start) as u32,
                labels: labels(node),
                parent,
                fate: Fate::Apart,
                look,
                orphan: false,
                not_followed: false,
                letters: (tag == "text").then(|| letters::stated(node)).flatten(),
            });
        }
        s
    }

    /// Place of an XML node.
    pub fn place(&self, node: Node<'_, '_>) -> Option<usize> {
        self.by_node.get(node.id().get_usize()).copied().filter(|i| *i != usize::MAX)
    }

    /// True for a copy of what is not in the file.
    pub fn copies_nothing(&self, node: Node<'_, '_>) -> bool {
        self.place(node).and_then(|at| self.all.get(at)).is_some_and(|s| s.orphan)
    }

    /// Ids and labels of the groups round an element, outermost first, then its own labels.
    pub fn layers(&self, at: usize) -> Vec<String> {
        let mut inside_out = Vec::new();
        let mut next = self.all.get(at);
        let mut own = true;
        while let Some(s) = next {
            let root = s.parent.is_none();
            for label in s.labels.iter().rev() {
                inside_out.push(label.clone());
            }
            if s.named && !own && !root {
                inside_out.push(s.id.clone());
            }
            own = false;
            next = s.parent.and_then(|p| self.all.get(p));
        }
        inside_out.reverse();
        inside_out.dedup();
        inside_out
    }

    /// The element's name with its line, for remarks.
    pub fn name(&self, at: usize) -> String {
        self.all.get(at).map_or_else(String::new, |s| {
            if s.named { s.id.clone() } else { format!("{} (line {})", s.id, s.line) }
        })
    }
}

struct Walk<'a, 'i> {
    sources: &'a mut Sources,
    remarks: &'a mut Remarks,
    way: Vec<Way>,
    first_with_id: HashMap<&'a str, Node<'a, 'i>>,
}

impl<'a, 'i> Walk<'a, 'i> {
    fn refuse_unreadable(&mut self, node: Node<'a, 'i>) {
        let Some(at) = self.sources.place(node) else { return };
        if at == 0 {
            return;
        }
        if let Err(why) = geometry::check(node) {
            let inside = match shapes_inside(node) {
                0 => String::new(),
                1 => ", 1 shape inside".to_owned(),
                n => format!(", {n} shapes inside"),
            };
            let source = &mut self.sources.all[at];
            source.fate = Fate::Refused;
            let name = format!("{} (line {}{inside}: {why})", source.id, source.line);
            self.remarks.add(Remark::Malformed, name);
        }
    }

    /// Follows what is drawn. Depth is held by the limits on nesting; an element is visited at most once each
    /// way, so loops of copies end.
    fn visit(&mut self, node: Node<'a, 'i>, way: Way) {
        let Some(at) = self.sources.place(node) else { return };
        if self.way[at] >= way || self.sources.all[at].fate == Fate::Refused {
            return;
        }
        let first = self.way[at] == Way::Unseen;
        self.way[at] = way;
        let tag = node.tag_name().name();
        if first && let Some(what) = geometry::not_followed(node) {
            self.sources.all[at].not_followed = true;
            self.remarks.add(Remark::NotFollowed, format!("{} ({what})", self.sources.name(at)));
        }
        if property(node, "display") == Some("none") {
            if first && !is_silent(tag) {
                let more = match shapes_inside(node) {
                    0 => String::new(),
                    1 => " (1 shape)".to_owned(),
                    n => format!(" ({n} shapes)"),
                };
                self.remarks.add(Remark::Hidden, self.sources.name(at) + &more);
            }
            return;
        }
        let linked = href(node).and_then(|h| h.strip_prefix('#')).and_then(|id| self.first_with_id.get(id));
        let viewport = match tag {
            "svg" => node.parent_element().is_some(),
            "use" => linked.is_some_and(|n| matches!(n.tag_name().name(), "svg" | "symbol")),
            _ => false,
        };
        if viewport && geometry::has_no_size(node) {
            // Nothing of it shows; the reading library would show all of it.
            self.sources.all[at].fate = Fate::Refused;
            self.remarks.add(Remark::NoOutline, format!("{} (no size)", self.sources.name(at)));
            return;
        }
        match tag {
            "image" if first => self.remarks.add(Remark::Picture, self.sources.name(at)),
            "svg" | "g" | "a" | "switch" | "symbol" => {
                for child in node.children().filter(is_svg) {
                    if child.tag_name().name() != "symbol" {
                        self.visit(child, way);
                    }
                }
            }
            "use" => match linked.copied() {
                Some(target) => {
                    self.mark_drawn(at, way);
                    self.visit(target, Way::Copied);
                }
                None => {
                    self.sources.all[at].orphan = true;
                    if first {
                        self.remarks.add(Remark::MissingCopy, self.sources.name(at));
                    }
                }
            },
            _ if is_shape(tag) || tag == "text" => {
                if let Some(why) = geometry::nothing_to_draw(node) {
                    if first {
                        self.remarks.add(Remark::NoOutline, format!("{} ({why})", self.sources.name(at)));
                    }
                    return;
                }
                if first && self.sources.all[at].look.has_markers() {
                    self.remarks.add(Remark::Markers, self.sources.name(at));
                }
                self.mark_drawn(at, way);
            }
            _ if is_silent(tag) => {}
            _ if first => self.remarks.add(Remark::Foreign, format!("{} ({tag})", self.sources.name(at))),
            _ => {}
        }
    }

    /// Tells of what the walk does not come to: parts of clip paths, and what moves by itself.
    fn tell_unseen(&mut self, doc: &Document<'i>) {
        for node in doc.descendants().filter(is_svg) {
            let tag = node.tag_name().name();
            let (Some(at), Some(parent)) = (self.sources.place(node), node.parent_element()) else {
                continue;
            };
            let of_clip = tag == "clipPath" || node.ancestors().any(|n| n.tag_name().name() == "clipPath");
            if of_clip && let Some(what) = geometry::not_followed(node) {
                self.remarks.add(Remark::NotFollowed, format!("{} ({what})", self.sources.name(at)));
            }
            if !moves(tag) {
                continue;
            }
            let linked = href(node)
                .and_then(|h| h.strip_prefix('#'))
                .and_then(|id| self.first_with_id.get(id).copied());
            let Some(target) = self.sources.place(linked.unwrap_or(parent)) else { continue };
            self.sources.all[target].not_followed = true;
            let of = node.attribute("attributeName").map(|n| format!(" of {}", n.trim())).unwrap_or_default();
            self.remarks.add(Remark::NotFollowed, format!("{} (its {tag}{of})", self.sources.name(target)));
        }
    }

    fn mark_drawn(&mut self, at: usize, way: Way) {
        if way == Way::Direct {
            self.sources.all[at].fate = Fate::Drawn;
        }
    }
}

/// Elements that change another as time goes by, from the start on too.
fn moves(tag: &str) -> bool {
    matches!(tag, "animate" | "animateTransform" | "animateMotion" | "animateColor" | "set")
}

/// How many shapes stand inside an element.
fn shapes_inside(node: Node<'_, '_>) -> usize {
    node.descendants().skip(1).filter(|n| is_shape(n.tag_name().name())).count()
}

/// Shapes that have an outline of their own.
pub(super) fn is_shape(tag: &str) -> bool {
    matches!(tag, "path" | "rect" | "circle" | "ellipse" | "line" | "polyline" | "polygon")
}

/// Elements that draw nothing where they stand and are no loss.
fn is_silent(tag: &str) -> bool {
    matches!(
        tag,
        "defs"
            | "symbol"
            | "clipPath"
            | "mask"
            | "pattern"
            | "marker"
            | "filter"
            | "linearGradient"
            | "radialGradient"
            | "style"
            | "script"
            | "metadata"
            | "title"
            | "desc"
            | "font"
            | "font-face"
            | "color-profile"
            | "cursor"
            | "view"
    ) || moves(tag)
}

/// True for an element in SVG's namespace or in none.
pub(super) fn is_svg(node: &Node<'_, '_>) -> bool {
    node.is_element() && matches!(node.tag_name().namespace(), None | Some(SVG_NS))
}

/// The first element with each id: the one copies and links mean.
pub(super) fn first_with_id<'a, 'i>(doc: &'a Document<'i>) -> HashMap<&'a str, Node<'a, 'i>> {
    let mut map = HashMap::new();
    for node in doc.descendants() {
        if let Some(id) = node.attribute("id") {
            map.entry(id).or_insert(node);
        }
    }
    map
}

/// What a `<use>` or image points at; `href` wins over `xlink:href`.
pub(super) fn href<'a>(node: Node<'a, '_>) -> Option<&'a str> {
    node.attributes()
        .find(|a| a.name() == "href" && a.namespace().is_none())
        .or_else(|| node.attributes().find(|a| a.name() == "href" && a.namespace() == Some(XLINK_NS)))
        .map(|a| a.value().trim())
}

/// A property of the element itself: from its style, which holds what style sheets set too, else from its attribute.
pub(super) fn property<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    styled(node, name).or_else(|| node.attribute(name).map(str::trim))
}

/// A property that the element's own style sets.
pub(super) fn styled<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    let style = node.attribute("style")?;
    declarations(style).filter(|(n, _)| *n == name).map(|(_, v)| v).last()
}

fn labels(node: Node<'_, '_>) -> Vec<String> {
    let mut labels: Vec<String> = Vec::new();
    for a in node.attributes().filter(|a| matches!(a.name(), "label" | "aria-label")) {
        let label = a.value().trim();
        if !label.is_empty() && !labels.iter().any(|l| l == label) {
            labels.push(label.to_owned());
        }
    }
    labels
}
