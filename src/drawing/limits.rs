//! How much a drawing may hold. An error states the limit and the count found.

use crate::say::Trouble;

/// The trouble of a drawing that holds more than it may.
pub(super) fn beyond(about: &str, what: &str, found: usize, limit: usize) -> Trouble {
    Trouble::bad_input(about, format!("it has {found} {what}; the limit is {limit}"))
        .hint("simplify the drawing or split it into several files")
}

/// Largest file, and largest unpacked file, bytes: some thirty times a rich drawing of 100,000 vertices.
pub const MAX_BYTES: usize = 32 << 20;

/// Most elements in the file itself.
pub const MAX_ELEMENTS: usize = 200_000;

/// Deepest nesting, `<use>` followed: editors stay below thirty, and every reader below walks recursively.
pub const MAX_DEPTH: usize = 200;

/// Most attributes on one element: the XML reader compares each with each.
pub const MAX_ATTRIBUTES: usize = 2_000;

/// Most bytes that entities may add to the file: editors use a few dozen short ones for namespaces.
pub const MAX_ENTITY_BYTES: usize = 1 << 20;

/// Most elements once every `<use>`, clip path and pattern is written out.
pub const MAX_EXPANDED_ELEMENTS: usize = 400_000;

/// Most bytes of attributes once every `<use>`, clip path and pattern is written out.
pub const MAX_EXPANDED_BYTES: usize = 64 << 20;

/// Most elements when those of a clip path are counted again wherever it clips something, other clip paths too: the
/// SVG reading library walks through them each time.
pub const MAX_CLIPPING_ELEMENTS: usize = 4_000_000;

/// Most times that a clip path within a clip path is worked out anew, each under a map of its own.
pub const MAX_CLIPS_WITHIN: usize = 20_000;

/// Most pairs of style rule and element; each pair is tried, a hundred million in some two seconds. An editor writes a class
/// for every look, on tens of thousands of elements.
pub const MAX_STYLE_TRIALS: usize = 120_000_000;

/// Largest copy handed to the SVG reading library, bytes; arcs grow when they are written out.
pub const MAX_COPY_BYTES: usize = 128 << 20;

/// Most letters in one text.
pub const MAX_LETTERS: usize = 5_000;

/// Most bytes of layer names, counted anew for every shape under them.
pub const MAX_LAYER_BYTES: usize = 64 << 20;

/// Most places where a shape's sides may cross or nearly meet; a traced scribble has some thousands.
pub const MAX_MEETINGS: usize = 2_000_000;

/// Most points once curves are flattened.
pub const MAX_POINTS: usize = 4_000_000;

/// Longest time reading may take, seconds: the last guard against a file built to be slow.
pub const MAX_SECONDS: u64 = 60;

/// Stack of the reading thread, bytes: several times what [`MAX_DEPTH`] levels need, unoptimised.
pub const STACK_BYTES: usize = 64 << 20;
