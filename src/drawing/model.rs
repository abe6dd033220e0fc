//! What a drawing is once read.

use crate::job::Match;
use crate::say::{Level, Note};
use crate::shape::{Bounds, Point, Region};

/// A drawing in the drawing frame: mm, y up, origin at the lower-left corner of the page.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// Width and height of the page, mm.
    pub page_mm: [f64; 2],
    /// Everything that has an outline, in stacking order, the lowest first.
    pub elements: Vec<Element>,
    /// What was mended or left out, and doubts about the scale.
    pub notes: Vec<Note>,
    /// True when the file states its size in a unit of length; false: in pixels alone, whose size is a guess.
    pub measured: bool,
    /// What the drawing loses or keeps otherwise than drawn, where its place is known; the notes name the rest
    /// as well.
    pub losses: Vec<Loss>,
}

/// Something the drawing shows that is lost, or read otherwise than it shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Loss {
    /// Its id, or that of the copy it came by.
    pub id: String,
    /// Line of the file it stands on, from 1; 0 when unknown.
    pub line: u32,
    /// How many elements of the drawing lie beneath it.
    pub beneath: usize,
    /// Where it is.
    pub bounds: Bounds,
    /// How much it matters.
    pub level: Level,
    /// What is lost: a full sentence.
    pub text: &'static str,
    /// What to do: a full sentence, or nothing.
    pub advice: &'static str,
}

/// One drawn element with its outlines.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Its id; made up, and unique, when the file gives none. Shapes copied by a `<use>` have the use's id, all
    /// of them; so a file may share one id among several elements.
    pub id: String,
    /// Line of the file it (or the `<use>` that copies it) stands on, from 1; 0 when unknown.
    pub line: u32,
    /// Ids and labels of the groups round it, outermost first, then its own labels.
    pub layers: Vec<String>,
    /// Fill colour, `#rrggbb` in lower case; `None` for gradients and patterns, and where nothing is filled.
    pub fill: Option<String>,
    /// Stroke colour, `#rrggbb` in lower case.
    pub stroke: Option<String>,
    /// Its outlines as drawn, flattened; where a clip path cuts it down, the outlines of what shows.
    pub subpaths: Vec<Subpath>,
    /// The filled region by the element's fill rule, in separate parts (islands), from left to right, then from
    /// bottom to top. Open outlines fill as if closed. What a clip path hides is gone.
    pub filled: Vec<Region>,
    /// The stroke as a band of its own width, in separate parts, ordered alike; empty without a stroke.
    pub band: Vec<Region>,
}

/// One outline as drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Subpath {
    /// Its flattened points; the first is not repeated when closed.
    pub points: Vec<Point>,
    /// True when the file closes it, or its ends meet within [`tol::CLOSE_GAP_MM`](crate::shape::tol::CLOSE_GAP_MM).
    pub closed: bool,
    /// Distance between its ends when the file leaves it open, mm, also where that gap was closed; 0 otherwise.
    pub gap_mm: f64,
}

/// One shape to cut from one cloth.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its name: the element's id, with `-1`, `-2`, … added for the islands of one element.
    pub id: String,
    /// Element it comes from, by index into [`Drawing::elements`].
    pub element: usize,
    /// Rule of the job it is cut by, by index.
    pub rule: usize,
    /// Cloth of the job it is cut from, by index; where its rule names a stock, the largest cloth of that stock
    /// (the lay says which it is cut from).
    pub cloth: usize,
    /// How many are cut.
    pub count: u32,
    /// The region within the drawn edge, drawing frame.
    pub drawn: Region,
    /// The region within the cut edge (allowance and underlap added, kerf not), drawing frame.
    pub cut: Region,
    /// How its pattern must sit.
    pub matching: Match,
    /// Name of the group it is matched with: the one its rule gives, else one for all pieces of the rule, or for it alone
    /// where the rule keeps its pieces apart.
    pub group: String,
    /// The point that is centred or paired: the rule's, or the middle of the drawn region's box.
    pub anchor: Point,
}
