//! What a burn is.

use crate::shape::{Point, Ring, distance};

/// What a burn is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BurnKind {
    /// The edge of a cut-out.
    Cutout,
    /// The outline of a piece.
    Outline,
    /// A registration mark.
    Mark,
}

impl BurnKind {
    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            BurnKind::Cutout => "cutout",
            BurnKind::Outline => "outline",
            BurnKind::Mark => "mark",
        }
    }
}

/// A whole closed line the beam must follow, cloth frame, kerf added.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// Piece it belongs to, by index into the placed pieces of its cloth.
    pub placed: usize,
    /// 0 for the outline, 1.. for the cut-outs, as in the plan.
    pub ring: usize,
    /// Where the beam's centre runs.
    pub path: Ring,
}

/// One continuous line of cutting.
#[derive(Clone, Debug, PartialEq)]
pub struct Burn {
    /// What it is for.
    pub kind: BurnKind,
    /// Piece it belongs to, by index into the placed pieces of its cloth; `None` for marks.
    pub placed: Option<usize>,
    /// Ring of the piece; 0 for marks.
    pub ring: usize,
    /// True when it ends where it begins; the first point is then not repeated.
    pub closed: bool,
    /// Its points; in which frame is said where it is used.
    pub path: Vec<Point>,
}

impl Contour {
    /// What burning it is for. A line that runs clockwise bounds waste inside the piece: a cut-out, or a pocket of
    /// the outline whose mouth is narrower than the kerf.
    pub fn kind(&self) -> BurnKind {
        if self.ring == 0 && self.path.signed_area() > 0.0 { BurnKind::Outline } else { BurnKind::Cutout }
    }
}

impl Burn {
    /// Length burnt, mm.
    pub fn length_mm(&self) -> f64 {
        let open: f64 = self.path.windows(2).map(|w| distance(w[0], w[1])).sum();
        match (self.closed, self.path.first(), self.path.last()) {
            (true, Some(&first), Some(&last)) => open + distance(last, first),
            _ => open,
        }
    }
}
