//! From a file to a [`Drawing`]: limits first, then scale, then shapes.

use std::path::Path;
use std::sync::{Arc, mpsc};
use std::time::Duration;

use usvg::roxmltree::{Document, ParsingOptions};

use super::limits::{MAX_COPY_BYTES, MAX_ELEMENTS, MAX_SECONDS, STACK_BYTES};
use super::model::Drawing;
use super::remarks::{Remark, Remarks};
use super::scale::{Mend, Scale, Stated};
use super::tree::{Reading, elements, reach};
use super::xml::{Sources, property};
use super::{copy, fonts, scan, styles, unpack, weigh};
use crate::say::Trouble;
use crate::shape::tol;

/// How a drawing is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadOptions {
    /// Factor on the drawing's own size.
    pub drawing_scale: f64,
    /// The maker stands for the size that comes of that factor, be it 1.
    pub confirmed: bool,
    /// Width of the page as the maker states it, mm. Wins over the file's size and over `drawing_scale`; the
    /// height follows in proportion.
    pub width_mm: Option<f64>,
    /// Greatest distance of a flattened curve from the true one, mm.
    pub chord_mm: f64,
}

impl Default for ReadOptions {
    fn default() -> Self {
        ReadOptions { drawing_scale: 1.0, confirmed: false, width_mm: None, chord_mm: tol::CHORD_MM }
    }
}

/// The smallest scale, and the smallest page in mm, that make sense.
const SMALLEST: f64 = 1e-3;

/// Chord errors that make sense, mm: from a hundredth of what a laser repeats to what an eye sees at once.
const CHORD_RANGE_MM: [f64; 2] = [0.001, 5.0];

/// Reads a drawing from a file. Nothing but this file (and, for text, the machine's fonts) is opened.
///
/// # Errors
/// The file cannot be opened, or as [`parse`].
pub fn read(path: &Path, options: &ReadOptions) -> Result<Drawing, Trouble> {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    let bytes = unpack::load(path)?;
    parse(&bytes, &name, options)
}

/// Reads a drawing from the bytes of an SVG or gzipped SVG file; `name` is what troubles and notes call it.
///
/// # Errors
/// Bad input, told by what is wrong: no SVG, malformed, beyond a limit of [`limits`](super::limits), a page
/// without size, options that make no sense.
pub fn parse(bytes: &[u8], name: &str, options: &ReadOptions) -> Result<Drawing, Trouble> {
    check_options(options)?;
    let text = unpack::text(bytes, name)?;
    let (name, options) = (name.to_owned(), *options);
    // Readers of XML and SVG walk recursively: they get a stack that the limits on nesting cannot exhaust.
    let (send, receive) = mpsc::channel();
    let about = name.clone();
    std::thread::Builder::new()
        .name("drawing".to_owned())
        .stack_size(STACK_BYTES)
        .spawn(move || send.send(parse_text(&text, &name, &options)))
        .map_err(|e| Trouble::cannot(about.as_str(), format!("no room to read it: {e}")))?;
    let unreadable = |what: &str| {
        Trouble::bad_input(about.as_str(), what.to_owned())
            .hint("export it again as plain SVG, or simplify it and split it into several files")
    };
    match receive.recv_timeout(Duration::from_secs(MAX_SECONDS)) {
        Ok(result) => result,
        Err(mpsc::RecvTimeoutError::Timeout) => {
            Err(unreadable(&format!("it could not be read within {MAX_SECONDS} seconds")))
        }
        Err(mpsc::RecvTimeoutError::Disconnected) => {
            Err(unreadable("the SVG reading library broke down on it"))
        }
    }
}

fn check_options(options: &ReadOptions) -> Result<(), Trouble> {
    let positive = |about: &str, v: f64| {
        if (SMALLEST..=tol::FARTHEST_MM).contains(&v) {
            Ok(())
        } else {
            Err(Trouble::bad_input(about, format!("{v:e} is not a number above 0 and of sensible size")))
        }
    };
    positive("drawing_scale", options.drawing_scale)?;
    if let Some(w) = options.width_mm {
        positive("width of the page (mm)", w)?;
    }
    let [least, most] = CHORD_RANGE_MM;
    if !(least..=most).contains(&options.chord_mm) {
        let what = format!("{} mm is not between {least} and {most} mm", options.chord_mm);
        return Err(Trouble::bad_input("chord error", what));
    }
    Ok(())
}

fn parse_text(text: &str, about: &str, options: &ReadOptions) -> Result<Drawing, Trouble> {
    scan::check(text, about)?;
    let doc = document(text, about)?;
    let styled = styles::apply(&doc, text, about)?;
    let (doc, text) = match styled.text.as_deref() {
        Some(text) => (document(text, about)?, text),
        None => (doc, text),
    };
    weigh::check(&doc, about)?;
    let mut remarks = Remarks::default();
    let sources = Sources::look(&doc, text, &mut remarks);
    for (at, source) in sources.all.iter().enumerate() {
        if sources.by_id.get(&source.id).is_some_and(|places| places.len() > 1 && places.first() == Some(&at))
        {
            remarks.add(Remark::DuplicateId, source.id.as_str());
        }
    }
    for what in &styled.not_followed {
        remarks.add(Remark::NotFollowed, what.as_str());
    }
    let scale = read_scale(&doc, about)?;
    let copied = copy::write(&doc, &sources, &scale).ok_or_else(|| {
        Trouble::bad_input(about, format!("written out it is larger than {MAX_COPY_BYTES} bytes"))
            .hint("simplify the drawing or split it into several files")
    })?;
    let has_text = sources.all.iter().any(|s| s.tag == "text");
    drop(doc);

    let lacks = Arc::new(fonts::Lacks::default());
    let mut library =
        usvg::Options { font_resolver: fonts::strict(Arc::clone(&lacks)), ..usvg::Options::default() };
    library.image_href_resolver.resolve_string = Box::new(|_, _| None);
    library.image_href_resolver.resolve_data = Box::new(|_, _, _| None);
    if has_text {
        library.fontdb_mut().load_system_fonts();
    }
    let tree = usvg::Tree::from_str(&copied, &library)
        .map_err(|e| Trouble::bad_input(about, format!("it cannot be read as SVG: {e}")))?;
    drop(copied);

    let reach = reach(&tree);
    let mend = Mend {
        drawing_scale: options.drawing_scale,
        width_mm: options.width_mm,
        confirmed: options.confirmed,
    };
    let page = scale.page(reach, mend, about)?;
    let reading =
        Reading { sources: &sources, lacks: &lacks, to_mm: page.to_mm, chord_mm: options.chord_mm, about };
    let elements = elements(&tree, &reading, &mut remarks)?;
    let losses = remarks.losses();
    let mut notes = page.notes;
    notes.extend(remarks.notes(about));
    Ok(Drawing { page_mm: page.size_mm, elements, notes, losses, measured: page.physical })
}

fn document<'a>(text: &'a str, about: &str) -> Result<Document<'a>, Trouble> {
    let options = ParsingOptions {
        allow_dtd: true,
        // Elements and the texts and comments between them.
        nodes_limit: (4 * MAX_ELEMENTS) as u32,
        ..ParsingOptions::default()
    };
    let doc = Document::parse_with_options(text, options).map_err(|e| {
        Trouble::bad_input(about, format!("it is not well-formed XML: {e}"))
            .hint("the file may be cut off; export or download it again")
    })?;
    let root = doc.root_element();
    if root.tag_name().name() != "svg" || !super::xml::is_svg(&root) {
        let what = format!("it is no SVG drawing: its outermost element is <{}>", root.tag_name().name());
        return Err(Trouble::bad_input(about, what).hint("export the drawing as SVG"));
    }
    if property(root, "transform").is_some_and(|t| t != "none") {
        return Err(Trouble::bad_input(about, "its outermost <svg> has a transform, which is not read")
            .hint("put the transform on a group inside"));
    }
    Ok(doc)
}

fn read_scale(doc: &Document<'_>, about: &str) -> Result<Scale, Trouble> {
    let root = doc.root_element();
    let stated = Stated {
        width: property(root, "width"),
        height: property(root, "height"),
        view_box: root.attribute("viewBox"),
        aspect: root.attribute("preserveAspectRatio"),
    };
    Scale::read(stated, about)
}

#[cfg(test)]
#[path = "read_tests.rs"]
mod tests;
