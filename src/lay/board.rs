//! The board the search plays on: a strip, the pieces, what stands in the way, and an index of boxes.

use std::sync::Arc;

use crate::shape::{Bounds, Point, pt};

use super::form::Form;
use super::kind::{Kind, PhaseSpace, Way};

/// What is to be laid and where. y is the open direction.
#[derive(Clone, Debug)]
pub struct Board {
    /// The kinds of piece.
    pub kinds: Vec<Kind>,
    /// The kind of every single piece to lay.
    pub items: Vec<usize>,
    /// What stands in the way, in place.
    pub obstacles: Vec<Arc<Form>>,
    /// The strip's sides: pieces stay between them.
    pub left: f64,
    /// See `left`.
    pub right: f64,
    /// The strip's near end.
    pub near: f64,
    /// The phases each group may choose from.
    pub groups: Vec<PhaseSpace>,
}

impl Board {
    /// The way `spot` lies.
    pub fn way(&self, item: usize, spot: &Spot) -> &Way {
        &self.kinds[self.items[item]].ways[spot.way]
    }

    /// The shifts that keep `way` within the strip up to `far`; empty when it does not fit.
    pub fn reach(&self, way: &Way, far: f64) -> Bounds {
        let b = way.bounds;
        Bounds::new(pt(self.left - b.min.x, self.near - b.min.y), pt(self.right - b.max.x, far - b.max.y))
    }

    /// Where the farthest piece ends.
    pub fn length(&self, spots: &[Spot]) -> f64 {
        spots
            .iter()
            .enumerate()
            .map(|(i, s)| self.way(i, s).bounds.max.y + s.shift.y)
            .fold(self.near, f64::max)
    }

    /// Number of bodies: items, then obstacles.
    pub fn bodies(&self) -> usize {
        self.items.len() + self.obstacles.len()
    }
}

/// How one piece lies.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Spot {
    /// Which of its kind's ways.
    pub way: usize,
    /// Its shift.
    pub shift: Point,
}

/// All pieces' spots and the groups' phases.
#[derive(Debug, PartialEq, Default)]
pub struct Layout {
    /// One spot an item.
    pub spots: Vec<Spot>,
    /// One phase a group.
    pub phases: Vec<Point>,
}

impl Clone for Layout {
    fn clone(&self) -> Layout {
        Layout { spots: self.spots.clone(), phases: self.phases.clone() }
    }

    /// Takes no new memory.
    fn clone_from(&mut self, other: &Layout) {
        self.spots.clone_from(&other.spots);
        self.phases.clone_from(&other.phases);
    }
}

/// An index of bodies' boxes on a grid, so that only near ones are looked at.
#[derive(Debug)]
pub struct Index {
    origin: Point,
    cell: f64,
    columns: usize,
    rows: usize,
    cells: Vec<Vec<u32>>,
    boxes: Vec<Bounds>,
    spans: Vec<[u32; 4]>,
}

impl Clone for Index {
    fn clone(&self) -> Index {
        let (cells, boxes, spans) = (self.cells.clone(), self.boxes.clone(), self.spans.clone());
        Index { cells, boxes, spans, ..*self }
    }

    /// Takes next to no new memory.
    fn clone_from(&mut self, other: &Index) {
        self.cells.clone_from(&other.cells);
        self.boxes.clone_from(&other.boxes);
        self.spans.clone_from(&other.spans);
        (self.origin, self.cell) = (other.origin, other.cell);
        (self.columns, self.rows) = (other.columns, other.rows);
    }
}

impl Index {
    /// An index over the strip up to `far` with all of `layout` in it.
    pub fn new(board: &Board, layout: &Layout, far: f64) -> Index {
        let n = board.items.len().max(1);
        let mean: f64 = board.items.iter().map(|k| board.kinds[*k].size).sum::<f64>() / n as f64;
        let (width, height) = (board.right - board.left, (far - board.near).max(mean));
        // About one piece a cell, and never so many cells that clearing them costs more than looking.
        let cell = mean.max((width * height / (4.0 * n as f64 + 64.0)).sqrt());
        let columns = ((width / cell).ceil() as usize).max(1);
        let rows = ((height / cell).ceil() as usize).max(1);
        let mut index = Index {
            origin: pt(board.left, board.near),
            cell,
            columns,
            rows,
            cells: vec![Vec::new(); columns * rows],
            boxes: vec![Bounds::EMPTY; board.bodies()],
            spans: vec![[1, 0, 1, 0]; board.bodies()],
        };
        for (i, spot) in layout.spots.iter().enumerate() {
            index.put(i, board.way(i, spot).form.bounds.shifted(spot.shift));
        }
        for (k, obstacle) in board.obstacles.iter().enumerate() {
            index.put(board.items.len() + k, obstacle.bounds);
        }
        index
    }

    fn span(&self, b: Bounds) -> [u32; 4] {
        let at = |v: f64, origin: f64, most: usize| {
            (((v - origin) / self.cell).floor().max(0.0) as u32).min(most as u32 - 1)
        };
        [
            at(b.min.x, self.origin.x, self.columns),
            at(b.max.x, self.origin.x, self.columns),
            at(b.min.y, self.origin.y, self.rows),
            at(b.max.y, self.origin.y, self.rows),
        ]
    }

    /// Puts a body in, or moves it.
    pub fn put(&mut self, body: usize, b: Bounds) {
        let span = self.span(b);
        self.boxes[body] = b;
        if span == self.spans[body] {
            return;
        }
        self.take(body);
        self.spans[body] = span;
        for y in span[2]..=span[3] {
            for x in span[0]..=span[1] {
                self.cells[y as usize * self.columns + x as usize].push(body as u32);
            }
        }
    }

    fn take(&mut self, body: usize) {
        let span = self.spans[body];
        for y in span[2]..=span[3] {
            for x in span[0]..=span[1] {
                let cell = &mut self.cells[y as usize * self.columns + x as usize];
                if let Some(k) = cell.iter().position(|b| *b == body as u32) {
                    cell.swap_remove(k);
                }
            }
        }
        self.spans[body] = [1, 0, 1, 0];
    }

    /// Calls `f` once for every body whose box meets `b`, until it returns false.
    pub fn near(&self, b: Bounds, mut f: impl FnMut(usize) -> bool) {
        let span = self.span(b);
        for y in span[2]..=span[3] {
            for x in span[0]..=span[1] {
                for &body in &self.cells[y as usize * self.columns + x as usize] {
                    let theirs = self.spans[body as usize];
                    // A body spread over several cells counts in the first cell both spans share.
                    if x == span[0].max(theirs[0])
                        && y == span[2].max(theirs[2])
                        && self.boxes[body as usize].meets(b)
                        && !f(body as usize)
                    {
                        return;
                    }
                }
            }
        }
    }
}
