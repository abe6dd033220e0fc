//! What has to be sewn and what waits for what, as the search and the bound see it.
//!
//! A piece that fits in a field is one item; of one that does not, every short stretch of its edge is an item. An item
//! is sewn in one hooping, whose field holds its box. A sequence of fields does for a work when every item can be given
//! to a hooping whose field holds it, none before the items it waits for, and no piece is begun before those
//! beneath it are.

use crate::shape::{Bounds, Point, tol};

/// Sewn in one go.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Item {
    /// The piece it is of.
    pub piece: usize,
    /// The field's lower-left corner lies from here …
    pub from: Point,
    /// … to here.
    pub to: Point,
    /// Items of lower pieces that come first.
    pub after: Vec<usize>,
}

impl Item {
    /// Box `b` of `piece` in fields of `size`; waits for nothing yet.
    pub fn new(piece: usize, b: Bounds, size: Point) -> Item {
        let play = crate::shape::pt(tol::SAME_POINT_MM, tol::SAME_POINT_MM);
        Item { piece, from: b.max - size - play, to: b.min + play, after: Vec::new() }
    }

    /// True when the field whose lower-left corner is `field` holds it.
    pub fn held(&self, field: Point) -> bool {
        field.x >= self.from.x && field.x <= self.to.x && field.y >= self.from.y && field.y <= self.to.y
    }

    /// The place nearest to `field` of a field that holds it.
    pub fn nearest(&self, field: Point) -> Point {
        crate::shape::pt(field.x.max(self.from.x).min(self.to.x), field.y.max(self.from.y).min(self.to.y))
    }
}

/// All that is to be sewn.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Task {
    /// What a field holds, without the border: across, up.
    pub size: Point,
    /// In stacking order of their pieces, the lowest first; items of a piece stand together.
    pub items: Vec<Item>,
    /// By piece: the pieces beneath it.
    pub upon: Vec<Vec<usize>>,
    /// Successive items of a closed edge, by index, for pieces that no field holds.
    pub rings: Vec<Vec<usize>>,
}

/// No hooping.
pub(super) const NEVER: usize = usize::MAX;

impl Task {
    /// The field at `corner`.
    pub fn field(&self, corner: Point) -> Bounds {
        Bounds::new(corner, corner + self.size)
    }

    /// The earliest hooping of every item in fields worked in the order given; `NEVER` where none is left for it, or for what it
    /// waits for. With them, by piece, where it is begun. Says how many have
    /// none; no more are looked for when that is more than `most`.
    ///
    /// Whatever can be done is done as early as can be, so that a sequence does for the work if and only if this gives
    /// every item a hooping: an item's earliest hooping depends on nothing but the earliest ones of what it waits for.
    pub fn earliest(
        &self,
        fields: &[Point],
        out: &mut Vec<usize>,
        begun: &mut Vec<usize>,
        most: usize,
    ) -> usize {
        out.clear();
        begun.clear();
        begun.resize(self.upon.len(), NEVER);
        let mut never = 0;
        for item in &self.items {
            let beneath = self.upon[item.piece].iter().map(|&p| begun[p]);
            // NEVER is the greatest of all.
            let least = item.after.iter().map(|&b| out[b]).chain(beneath).max().unwrap_or(0);
            let found = (least..fields.len()).find(|&h| item.held(fields[h]));
            out.push(found.unwrap_or(NEVER));
            match found {
                Some(h) => begun[item.piece] = begun[item.piece].min(h),
                None => never += 1,
            }
            if never > most {
                break;
            }
        }
        never
    }
}
