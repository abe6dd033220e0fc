//! What the reader has to say about shapes: one note per kind of remark, the shapes listed in it.
//!
//! Nothing is left out silently: whatever the file draws is either an element of the drawing or named here.

use std::collections::BTreeMap;

use crate::say::{Level, Note};

/// How many shapes a note names before it counts the rest.
const MOST_NAMED: usize = 12;

/// Kinds of remark, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Remark {
    Malformed,
    Unread,
    TooFar,
    Tangled,
    MissingCopy,
    Picture,
    TextLost,
    NoPaint,
    Masked,
    DuplicateId,
    ClosedGap,
    OffClip,
    NoOutline,
    Hidden,
    Foreign,
    Markers,
    TextKept,
    Clipped,
    Filtered,
    Gradient,
    Pattern,
    Dashed,
    Hairline,
}

impl Remark {
    /// Level, and the sentence before the list of names.
    fn words(self) -> (Level, &'static str) {
        use Level::{Advice, Caution};
        use Remark as R;
        match self {
            R::Malformed => (Caution, "cannot be read and are left out whole"),
            R::Unread => (
                Caution,
                "are left out: they are hidden by a style sheet, not chosen by a switch, or use something that is not there",
            ),
            R::TooFar => (Caution, "lie more than a kilometre away and are left out"),
            R::Tangled => (Caution, "cross or cover themselves more than two million times and are left out"),
            R::MissingCopy => (Caution, "copy something that is not in the file and are left out"),
            R::Picture => (Caution, "are pictures and are left out; only outlines can be cut"),
            R::TextLost => (
                Caution,
                "are text without outlines and are left out; turn them into paths in the drawing program",
            ),
            R::NoPaint => (Caution, "have neither fill nor stroke and are left out"),
            R::Masked => (Caution, "are masked; the mask is not followed and the whole shape is kept"),
            R::DuplicateId => {
                (Caution, "are ids that several shapes share; their pieces are told apart by numbers")
            }
            R::ClosedGap => (Caution, "are outlines left open by a small gap that were closed"),
            R::OffClip => (Advice, "lie wholly outside their clip path and are left out"),
            R::NoOutline => (Advice, "have no size or are a single point and are left out"),
            R::Hidden => (Advice, "are hidden and are left out"),
            R::Foreign => (Advice, "are not shapes and are left out"),
            R::Markers => (Advice, "carry markers (arrowheads and the like), which are left out"),
            R::TextKept => (
                Advice,
                "are text turned into outlines with a font of this machine; paths would look the same everywhere",
            ),
            R::Clipped => (Advice, "are cut down by a clip path; what shows is kept"),
            R::Filtered => (Advice, "have a filter, which does not change what is cut"),
            R::Gradient => (Advice, "are filled with a gradient; no rule can pick them by fill"),
            R::Pattern => (Advice, "are filled with a pattern; no rule can pick them by fill"),
            R::Dashed => (Advice, "have a dashed stroke; as a line it is read without gaps"),
            R::Hairline => (Advice, "have a stroke of no width, which makes no band"),
        }
    }
}

/// Remarks gathered while reading.
#[derive(Clone, Debug, Default)]
pub(super) struct Remarks {
    by_kind: BTreeMap<Remark, Vec<String>>,
}

impl Remarks {
    /// Adds a shape's name, which may carry a detail (`petal (line 12: …)`). A name is listed once.
    pub fn add(&mut self, kind: Remark, name: impl Into<String>) {
        let names = self.by_kind.entry(kind).or_default();
        let name = name.into();
        if names.last() != Some(&name) {
            names.push(name);
        }
    }

    /// The notes about the drawing `about`.
    pub fn notes(self, about: &str) -> Vec<Note> {
        self.by_kind
            .into_iter()
            .map(|(kind, names)| {
                let (level, words) = kind.words();
                let text = format!("these {words}: {}.", list(&names));
                Note { level, about: format!("drawing {about}"), text }
            })
            .collect()
    }
}

/// Sentences set one after another, so many of them, the rest counted.
pub(super) fn listed(sentences: &[String]) -> String {
    /// Sentences told one by one.
    const MOST_TOLD: usize = 6;
    let told: Vec<&str> = sentences.iter().take(MOST_TOLD).map(String::as_str).collect();
    match sentences.len().saturating_sub(MOST_TOLD) {
        0 => told.join("; "),
        more => format!("{}, and {more} more", told.join("; ")),
    }
}

/// Names with commas, shortened when there are many.
pub(super) fn list(names: &[String]) -> String {
    let shown = names.iter().take(MOST_NAMED).map(String::as_str).collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(MOST_NAMED) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lists_are_shortened_and_counted() {
        let mut r = Remarks::default();
        for i in 0..40 {
            r.add(Remark::Picture, format!("photo-{i}"));
        }
        r.add(Remark::Malformed, "leaf (line 3: a number was expected at character 9)");
        let notes = r.notes("rose.svg");
        assert_eq!(notes.len(), 2);
        assert!(notes[0].text.starts_with("these cannot be read and are left out whole: leaf (line 3"));
        assert!(notes[1].text.ends_with("photo-11 and 28 more."), "{}", notes[1].text);
    }
}
