//! What the reader has to say about shapes: one note per kind of remark, the shapes listed in it.
//!
//! Nothing is left out silently: whatever the file draws is either an element of the drawing or named here.

use std::collections::BTreeMap;

use super::model::Loss;
use crate::say::{Level, Note};
use crate::shape::{Bounds, tol};

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
    Reshaped,
    NotFollowed,
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
            R::Reshaped => (
                Caution,
                "have a filter that moves them or changes their outline; it is not followed, and they are kept as they are without it",
            ),
            R::NotFollowed => (
                Caution,
                "ask for something that is not followed, and are kept as they are without it; apply it in the drawing program",
            ),
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

impl Remark {
    /// What is said, and what to do, where a single thing of this kind stands; `None` where nothing is lost.
    fn of_one(self) -> Option<(&'static str, &'static str)> {
        use Remark as R;
        Some(match self {
            R::Tangled => (
                "It crosses or covers itself more than two million times and is left out.",
                "Draw it anew, or divide it into several shapes.",
            ),
            R::MissingCopy => (
                "It copies something that is not in the file and is left out.",
                "Copy something that is there, or delete it.",
            ),
            R::Picture => (
                "This is a picture and is left out; only outlines can be cut.",
                "Trace it in the drawing program if it is to be cut.",
            ),
            R::TextLost => (
                "This is text without outlines and is left out.",
                "Turn it into paths in the drawing program.",
            ),
            R::NoPaint => {
                ("It has neither fill nor stroke and is left out.", "Give it a fill if it is to be cut.")
            }
            R::Masked => (
                "It is masked; the mask is not followed and the whole shape is kept.",
                "Cut the shape itself in the drawing program.",
            ),
            R::Reshaped => (
                "It has a filter that moves it or changes its outline; it is not followed, and the shape is kept as it is without it.",
                "Apply it in the drawing program.",
            ),
            R::NotFollowed => (
                "It asks for something that is not followed, and is kept as it is without it.",
                "Apply it in the drawing program.",
            ),
            R::OffClip => ("It lies wholly outside its clip path and is left out.", ""),
            R::NoOutline => ("It has no size or is a single point and is left out.", ""),
            R::Hidden => ("It is hidden and is left out.", "Show it if it is to be cut."),
            R::Foreign => ("This is no shape and is left out.", ""),
            R::Markers => ("Its markers (arrowheads and the like) are left out.", ""),
            R::Filtered => ("It has a filter, which does not change what is cut.", ""),
            R::Gradient => ("It is filled with a gradient; no rule can pick it by fill.", ""),
            R::Pattern => ("It is filled with a pattern; no rule can pick it by fill.", ""),
            R::Dashed => ("Its stroke is dashed; as a line it is read without gaps.", ""),
            R::Malformed
            | R::Unread
            | R::TooFar
            | R::DuplicateId
            | R::ClosedGap
            | R::TextKept
            | R::Clipped
            | R::Hairline => return None,
        })
    }
}

/// Remarks gathered while reading.
#[derive(Clone, Debug, Default)]
pub(super) struct Remarks {
    by_kind: BTreeMap<Remark, Vec<String>>,
    losses: Vec<Loss>,
}

/// Something in the drawing frame that a remark is about.
#[derive(Clone, Debug)]
pub(super) struct Spot {
    pub id: String,
    pub line: u32,
    /// How many elements lie beneath it.
    pub beneath: usize,
    pub bounds: Bounds,
}

impl Remarks {
    /// Keeps the place of something a remark of this kind is about.
    pub fn place(&mut self, kind: Remark, spot: &Spot) {
        let far = spot.bounds.min.x.abs().max(spot.bounds.max.y.abs());
        let known = !spot.bounds.is_empty() && far <= tol::FARTHEST_MM;
        let Some((text, advice)) = kind.of_one().filter(|_| known) else { return };
        let Spot { id, line, beneath, bounds } = spot.clone();
        self.losses.push(Loss { id, line, beneath, bounds, level: kind.words().0, text, advice });
    }

    /// The places, in the order they were met.
    pub fn losses(&mut self) -> Vec<Loss> {
        std::mem::take(&mut self.losses)
    }

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
