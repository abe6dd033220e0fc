//! SVG elements in few words, on the `svg` crate, whose sorted attributes give the same bytes every time.

use svg::node::element::Element;
use svg::node::{Node, Text};

use super::number::number;

/// An element under construction.
#[derive(Clone, Debug)]
pub(super) struct El(Element);

/// An element called `name`.
pub(super) fn el(name: &str) -> El {
    El(Element::new(name))
}

impl El {
    /// With an attribute of text.
    pub fn set(mut self, name: &str, value: impl Into<String>) -> El {
        self.0.assign(name, legal(&value.into()));
        self
    }

    /// With an attribute that is a number.
    pub fn num(self, name: &str, value: f64) -> El {
        self.set(name, number(value))
    }

    /// With a child element.
    pub fn add(mut self, child: El) -> El {
        self.0.append(child.0);
        self
    }

    /// With child elements.
    pub fn add_all(self, children: impl IntoIterator<Item = El>) -> El {
        children.into_iter().fold(self, El::add)
    }

    /// With text inside.
    pub fn text(mut self, text: &str) -> El {
        self.0.append(Text::new(legal(text)));
        self
    }
}

impl std::fmt::Display for El {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// The whole file: one `svg` element of a size in `unit` whose user units are the same, and which program wrote it (a
/// `data-` attribute, which every reader passes over: SVG 2, section 2.6).
pub(super) fn picture(width: f64, height: f64, unit: &str) -> El {
    el("svg")
        .set("xmlns", "http://www.w3.org/2000/svg")
        .set("width", format!("{}{unit}", number(width)))
        .set("height", format!("{}{unit}", number(height)))
        .set("viewBox", format!("0 0 {} {}", number(width), number(height)))
        .set("data-program", crate::PROGRAM)
}

/// `text` without the control characters XML 1.0 forbids (section 2.2, Char).
pub(super) fn legal(text: &str) -> String {
    text.chars()
        .filter(|&c| matches!(c, '\t' | '\n' | '\r') || (c >= ' ' && !matches!(c, '\u{fffe}' | '\u{ffff}')))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wild_names_leave_a_file_that_can_be_read() {
        let wild = "a<b>&\"c'\u{0}\u{1b}]]>";
        let file = picture(10.0, 20.5, "mm").add(el("title").text(wild)).set("id", wild).to_string();
        let read = usvg::roxmltree::Document::parse(&file).unwrap();
        assert_eq!(read.root_element().attribute("id"), Some("a<b>&\"c']]>"));
        assert_eq!(read.root_element().first_element_child().unwrap().text().unwrap().trim(), "a<b>&\"c']]>");
        assert_eq!(read.root_element().attribute("viewBox"), Some("0 0 10 20.5"));
    }
}
