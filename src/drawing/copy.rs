//! The drawing as it is handed to the SVG reading library: every element with an id, what cannot be read
//! emptied, pictures and markers gone, circles and arcs fine, and the root without a size of its own, so that
//! scale is decided by [`scale`](super::scale) alone.

use std::fmt::Write;

use usvg::roxmltree::{Document, Node};

use super::geometry::fine_outline;
use super::limits::MAX_COPY_BYTES;
use super::scale::Scale;
use super::transforms;
use super::xml::{Fate, SVG_NS, Sources, XLINK_NS, is_svg};

/// Size percentages refer to when the file states none, user units: what the reading library takes too.
const UNSTATED_SIZE: [f64; 2] = [100.0, 100.0];

/// Writes the copy; `None` when it would pass [`MAX_COPY_BYTES`].
pub(super) fn write(doc: &Document<'_>, sources: &Sources, scale: &Scale) -> Option<String> {
    let styles: String = doc
        .descendants()
        .filter(|n| n.tag_name().name() == "style")
        .flat_map(|n| n.children().filter_map(|t| t.text()))
        .collect();
    let mut writer = Writer { out: String::with_capacity(doc.input_text().len()), sources, styles };
    let [w, h] = scale.user_size().unwrap_or(UNSTATED_SIZE);
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
    sources: &'a Sources,
    styles: String,
}

impl Writer<'_> {
    fn element(&mut self, node: Node<'_, '_>, in_text: bool) {
        if self.out.len() > MAX_COPY_BYTES {
            return;
        }
        let Some(at) = self.sources.place(node) else { return };
        let Some(source) = self.sources.all.get(at) else { return };
        let tag = source.tag.as_str();
        if matches!(tag, "script" | "metadata" | "title" | "desc" | "foreignObject") {
            return;
        }
        if source.fate == Fate::Refused || matches!(tag, "image" | "marker") {
            // The element stays, empty, so that selectors by position still mean the same.
            self.out.push_str("<g display=\"none\"/>");
            return;
        }
        let fine = fine_outline(node).filter(|_| tag == "path" || !self.styles.contains(tag));
        let tag = if fine.is_some() { "path" } else { tag };
        self.out.push('<');
        self.out.push_str(tag);
        self.out.push_str(" id=\"");
        escape(&mut self.out, &source.id);
        self.out.push('"');
        self.attributes(node, |name| {
            name == "id" || name.starts_with("marker") || (fine.is_some() && is_outline(name))
        });
        if let Some(d) = &fine {
            let _ = write!(self.out, " d=\"{d}\"");
        }
        self.out.push('>');
        self.children(node, in_text || matches!(tag, "text" | "style"));
        self.out.push_str("</");
        self.out.push_str(tag);
        self.out.push('>');
    }

    fn children(&mut self, node: Node<'_, '_>, in_text: bool) {
        for child in node.children() {
            if is_svg(&child) {
                self.element(child, in_text);
            } else if let Some(text) = child.text()
                && in_text
                && child.is_text()
            {
                if node.tag_name().name() == "style" {
                    escape(&mut self.out, &transforms::in_plain_numbers(text));
                } else {
                    escape(&mut self.out, text);
                }
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
                "style" => escape(&mut self.out, &transforms::in_plain_numbers(a.value())),
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

fn is_outline(name: &str) -> bool {
    matches!(name, "d" | "x" | "y" | "width" | "height" | "rx" | "ry" | "cx" | "cy" | "r")
}

fn escape(out: &mut String, text: &str) {
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
