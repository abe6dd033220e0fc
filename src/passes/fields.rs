//! Fields of an embroidery frame over a work: the windows of passes, with the drawing in place of a cloth.

use super::links::linked;
use super::marks::{MARK_APART_MM, MARK_INSET_MM, mark_band};
use super::windows::{Ground, Item, bare_windows, windows};
use crate::shape::{Bounds, Point, Region};

/// Share of a field's smaller side two fields overlap by at least where a piece is handed from one to the other, in
/// fields too small for the band that marks take.
const BAND_SHARE: f64 = 1.0 / 3.0;

/// The fewest fields of `size` (across, along) that hold every piece that fits in one and cover the others, overlapping
/// by a band where these are handed over. Where it takes no more of them, each shares room for marks with
/// another. Drawing frame; `None` when the band leaves no way on.
pub fn fields(pieces: &[&Region], size: Point) -> Option<Vec<Bounds>> {
    let fits = |b: Bounds| b.width() <= size.x && b.height() <= size.y;
    let mut items = Vec::new();
    for piece in pieces {
        let whole = fits(piece.bounds());
        for (k, ring) in piece.rings().enumerate().filter(|(k, _)| *k == 0 || !whole) {
            items.push(Item { bounds: ring.bounds(), outline: k == 0, ring });
        }
    }
    let least = size.x.min(size.y);
    if items.is_empty() || !(least > 0.0 && least.is_finite()) {
        return None;
    }
    let cloth = items.iter().map(|i| i.bounds).fold(Bounds::EMPTY, Bounds::union);
    // Alone, a field stands with the work in its middle.
    let prefer = cloth.centre() - size / 2.0;
    let band = mark_band(MARK_INSET_MM).min(least * BAND_SHARE);
    let ground = Ground { items: &items, size, band, cloth, prefer, spots: &[], inset: MARK_INSET_MM };
    let bare = bare_windows(&ground)?;
    if bare.len() < 2 || least < MARK_APART_MM + mark_band(MARK_INSET_MM) {
        return Some(bare);
    }
    Some(windows(&ground).filter(|set| set.len() <= bare.len()).unwrap_or(bare))
}

/// True when two fields share enough of the work for marks.
pub fn share_marks(a: Bounds, b: Bounds) -> bool {
    linked(a, b, MARK_INSET_MM)
}

/// What two fields share at least, across and up, where they share enough of the work for marks, mm.
pub fn least_shared_mm() -> f64 {
    mark_band(MARK_INSET_MM)
}
