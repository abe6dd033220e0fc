//! The drawing as it is handed to the SVG reading library: every element with an id, what cannot be read
//! emptied, pictures and markers gone, circles and arcs fine, and the root without a size of its own, so that
//! scale is decided by [`scale`](super::scale) alone.

use std::fmt::Write;

use usvg::roxmltree::{Document, Node};

use super::geometry::{fine_outline, length_attributes};
use super::limits::MAX_COPY_BYTES;
use super::probe::StandIn;
use super::scale::{Scale, shape_length_px, split_length, view_box};
use super::xml::{Fate, SVG_NS, Sources, XLINK_NS, is_svg, property, styled};
use super::{styles, transforms};

/// Size percentages refer to when the file states none, user units: what the reading library takes too.
const UNSTATED_SIZE: [f64; 2] = [100.0, 100.0];

/// Side of a stand-in for something without size, user units.
const STAND_IN_SIDE: f64 = 1.0;

/// Writes the copy; `None` when it would pass [`MAX_COPY_BYTES`].
pub(super) fn write(doc: &Document<'_>, sources: &Sources, scale: &Scale) -> Option<String> {
    let [w, h] = scale.user_size().unwrap_or(UNSTATED_SIZE);
    let mut writer = Writer { out: String::with_capacity(doc.input_text().len()), page: [w, h], sources };
    let open = format!(
        "<svg xmlns=\"{SVG_NS}\" xmlns:xlink=\"{XLINK_NS}\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\""
    );
    writer.out.push_str(&open);
    let root = doc.root_element();
    writer.attributes(root, |name| {
        matches!(name, "id" | "width" | "height" | "viewBox" | "preserveAspectRatio" | "x" | "y")
    });
    writer.out.push('>');
    writer.children(root, false);
    writer.out.push_str("</svg>");
    (writer.out.len() <= MAX_COPY_BYTES).then_some(writer.out)
}

struct Writer<'a> {
    out: String,
    /// Size of the page, user units.
    page: [f64; 2],
    sources: &'a Sources,
}

impl Writer<'_> {
    fn element(&mut self, node: Node<'_, '_>, in_text: bool) {
        if self.out.len() > MAX_COPY_BYTES {
            return;
        }
        let Some(at) = self.sources.place(node) else { return };
        let Some(source) = self.sources.all.get(at) else { return };
        let tag = source.tag.as_str();
        if matches!(tag, "script" | "metadata" | "title" | "desc" | "style") {
            return;
        }
        if source.fate != Fate::Refused
            && let Some(stand_in) = self.stand_in(node)
        {
            self.out.push_str(&stand_in);
            return;
        }
        if source.fate == Fate::Refused || matches!(tag, "image" | "marker" | "foreignObject") {
            // The element stays, empty, so that a switch chooses as before.
            self.out.push_str("<g display=\"none\"/>");
            return;
        }
        let fine = fine_outline(node);
        let tag = if fine.is_some() { "path" } else { tag };
        self.out.push('<');
        self.out.push_str(tag);
        self.out.push_str(" id=\"");
        escape(&mut self.out, &source.id);
        self.out.push('"');
        let lengths = own_lengths(node, self.page);
        self.attributes(node, |name| {
            name == "id"
                || name.starts_with("marker")
                || (fine.is_some() && is_outline(name))
                || lengths.iter().any(|(own, _)| *own == name)
        });
        for (name, text) in lengths.iter().filter(|(name, _)| fine.is_none() || !is_outline(name)) {
            let _ = write!(self.out, " {name}=\"");
            escape(&mut self.out, text);
            self.out.push('"');
        }
        if let Some(d) = &fine {
            let _ = write!(self.out, " d=\"{d}\"");
        }
        self.out.push('>');
        self.children(node, in_text || tag == "text");
        self.out.push_str("</");
        self.out.push_str(tag);
        self.out.push('>');
    }

    /// What stands in for an element that is no shape, where it would be seen.
    fn stand_in(&mut self, node: Node<'_, '_>) -> Option<String> {
        let kind = match node.tag_name().name() {
            "image" => StandIn::Picture,
            "foreignObject" => StandIn::Foreign,
            "use" if self.sources.copies_nothing(node) => StandIn::MissingCopy,
            _ => return None,
        };
        let defines =
            |tag: &str| matches!(tag, "clipPath" | "mask" | "pattern" | "marker" | "filter" | "text");
        if node.ancestors().any(|n| defines(n.tag_name().name())) {
            return None;
        }
        let room = viewport(node, self.page).unwrap_or(self.page);
        let length = |name: &str, k: usize| match property(node, name).and_then(split_length) {
            Some((share, "%")) => share / 100.0 * room[k],
            Some(_) => property(node, name).and_then(shape_length_px).unwrap_or(0.0),
            None => 0.0,
        };
        let seen = |size: f64| if size > 0.0 { size } else { STAND_IN_SIDE };
        let side =
            |name: &str, k: usize| seen(if kind == StandIn::MissingCopy { 0.0 } else { length(name, k) });
        let place = [length("x", 0), length("y", 1), side("width", 0), side("height", 1)];
        let style = node.attribute("style").map(styles::for_library).unwrap_or_default();
        let mut inner = Writer { out: String::new(), page: self.page, sources: self.sources };
        inner.attributes(node, |name| {
            matches!(
                name,
                "id" | "x"
                    | "y"
                    | "width"
                    | "height"
                    | "href"
                    | "style"
                    | "fill"
                    | "stroke"
                    | "preserveAspectRatio"
            ) || name.starts_with("marker")
        });
        let at = self.sources.place(node).and_then(|at| self.sources.all.get(at))?;
        let mut out = String::from("<path id=\"");
        escape(&mut out, &at.id);
        out.push('"');
        out.push_str(&inner.out);
        out.push_str(" style=\"");
        escape(&mut out, &style);
        let _ = write!(out, ";fill:#000;stroke:none\" d=\"{}\"/>", kind.outline(place));
        Some(out)
    }

    fn children(&mut self, node: Node<'_, '_>, in_text: bool) {
        for child in node.children() {
            if is_svg(&child) {
                self.element(child, in_text);
            } else if let Some(text) = child.text()
                && in_text
                && child.is_text()
            {
                escape(&mut self.out, text);
            }
        }
    }

    fn attributes(&mut self, node: Node<'_, '_>, skip: impl Fn(&str) -> bool) {
        for a in node.attributes() {
            let prefix = match a.namespace() {
                None => "",
                Some(XLINK_NS) => "xlink:",
                Some("http://www.w3.org/XML/1998/namespace") => "xml:",
                Some(_) => continue,
            };
            if skip(a.name()) {
                continue;
            }
            let _ = write!(self.out, " {prefix}{}=\"", a.name());
            match a.name() {
                "style" => escape(&mut self.out, &styles::for_library(a.value())),
                "transform" => match transforms::plain(a.value()) {
                    Ok(list) => self.out.push_str(&list),
                    Err(_) => escape(&mut self.out, a.value()),
                },
                _ => escape(&mut self.out, a.value()),
            }
            self.out.push('"');
        }
    }
}

/// Lengths of an element that its attributes do not give in a way the reading library follows: those its style
/// sets, and those of a copy in percent, which the library takes of the copy's own size.
fn own_lengths(node: Node<'_, '_>, page: [f64; 2]) -> Vec<(&'static str, String)> {
    let tag = node.tag_name().name();
    let of_use = |name: &str| {
        let (share, _) =
            property(node, name).and_then(split_length).filter(|l| tag == "use" && l.1 == "%")?;
        let size = viewport(node, page)?[usize::from(matches!(name, "y" | "height"))];
        Some((share / 100.0 * size).to_string())
    };
    let own = |name| of_use(name).or_else(|| styled(node, name).map(str::to_owned));
    length_attributes(tag).iter().filter_map(|name| Some((*name, own(name)?))).collect()
}

/// Size of the user space round an element, which percentages refer to (SVG 2, section 8.9); `None` where the
/// copies of a symbol decide it.
fn viewport(node: Node<'_, '_>, page: [f64; 2]) -> Option<[f64; 2]> {
    let frame = node.ancestors().skip(1).find(|n| matches!(n.tag_name().name(), "svg" | "symbol"))?;
    if frame.parent_element().is_none() {
        return Some(page);
    }
    if let Some(view) = frame.attribute("viewBox").and_then(view_box) {
        return Some([view[2], view[3]]);
    }
    if frame.tag_name().name() == "symbol" {
        return None;
    }
    let outer = viewport(frame, page)?;
    let side = |name: &str, outer: f64| match property(frame, name).and_then(split_length) {
        Some((share, "%")) => Some(share / 100.0 * outer),
        Some(_) => property(frame, name).and_then(shape_length_px),
        None => Some(outer),
    };
    Some([side("width", outer[0])?, side("height", outer[1])?])
}

fn is_outline(name: &str) -> bool {
    matches!(name, "d" | "x" | "y" | "width" | "height" | "rx" | "ry" | "cx" | "cy" | "r")
}

/// Writes text so that XML reads it back as it is.
pub(super) fn escape(out: &mut String, text: &str) {
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' => out.push_str("&#10;"),
            '\r' => out.push_str("&#13;"),
            '\t' => out.push_str("&#9;"),
            c => out.push(c),
        }
    }
}
