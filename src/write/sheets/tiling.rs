//! How many papers something in full size takes, and which part of it falls on which.

use crate::shape::{Affine, Bounds, Point, pt, turn_cos_sin};

use super::view::enters;

/// How far neighbouring tiles overlap, mm.
pub(super) const OVERLAP: f64 = 12.0;
/// One thing on more papers than this is no longer worth gluing.
pub(super) const MOST: usize = 200;
/// A grid of more cells than this is not even looked at.
const CELLS: f64 = 20_000.0;
/// Where the grid may stand within its slack, as shares of it, the plainest first.
const SHARES: [f64; 5] = [0.5, 0.0, 1.0, 0.25, 0.75];

/// A paper that has something on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Tile {
    /// Its row, from the far side, from 0.
    pub row: u32,
    /// Its column, from the left, from 0.
    pub column: u32,
    /// What it shows, in the frame turned by the tiling.
    pub reach: Bounds,
}

/// A grid of papers over something, and those that are used.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tiling {
    /// Turns what is drawn into the frame of the grid.
    pub turn: Affine,
    /// The same, degrees counter-clockwise.
    pub turn_deg: f64,
    /// Rows of the grid.
    pub rows: u32,
    /// Columns of the grid.
    pub columns: u32,
    /// The papers that are used, row by row.
    pub tiles: Vec<Tile>,
}

/// The turn about the origin.
pub(super) fn turned(deg: f64) -> Affine {
    let (c, s) = turn_cos_sin(deg);
    Affine([c, s, -s, c, 0.0, 0.0])
}

/// The tiling of papers of `room` (width, height, mm) that shows every part of `lines` on the fewest, turned by one of
/// `turns_deg`; of equals the first. Neighbours overlap by [`OVERLAP`]; a line that runs in an overlap counts for the
/// paper whose middle is nearer, but a paper that shows nothing beyond what its neighbours show as well is left out.
///
/// # Errors
/// More than [`MOST`] papers: how many columns and rows the first turn would take.
pub(super) fn fewest(lines: &[Vec<Point>], turns_deg: &[f64], room: [f64; 2]) -> Result<Tiling, [f64; 2]> {
    let mut best: Option<Tiling> = None;
    let mut too_many = [f64::INFINITY; 2];
    for (i, &deg) in turns_deg.iter().enumerate() {
        let turn = turned(deg);
        let lines: Vec<Vec<Point>> =
            lines.iter().map(|l| l.iter().map(|&p| turn.apply(p)).collect()).collect();
        let b = Bounds::of(lines.iter().flatten().copied());
        let count = |size: f64, paper: f64| ((size - OVERLAP) / (paper - OVERLAP).max(1.0)).ceil().max(1.0);
        let (columns, rows) = (count(b.width(), room[0]), count(b.height(), room[1]));
        if i == 0 {
            too_many = [columns, rows];
        }
        let cells = columns * rows;
        if cells.is_nan() || cells > CELLS {
            continue;
        }
        for (sx, sy) in SHARES.iter().flat_map(|&x| SHARES.map(|y| (x, y))) {
            let slack = |n: f64, paper: f64, size: f64| n * (paper - OVERLAP) + OVERLAP - size;
            let left = b.min.x - sx * slack(columns, room[0], b.width());
            let far = b.max.y + sy * slack(rows, room[1], b.height());
            let grid = Grid { left, far, room, columns: columns as u32, rows: rows as u32 };
            let tiles = grid.used(&lines);
            if tiles.len() <= MOST && best.as_ref().is_none_or(|t| tiles.len() < t.tiles.len()) {
                best = Some(Tiling { turn, turn_deg: deg, rows: grid.rows, columns: grid.columns, tiles });
            }
        }
        if best.as_ref().is_some_and(|t| t.tiles.len() <= 1) {
            break;
        }
    }
    best.ok_or(too_many)
}

/// A grid of papers, its far left corner given.
struct Grid {
    left: f64,
    far: f64,
    room: [f64; 2],
    columns: u32,
    rows: u32,
}

impl Grid {
    fn pitch(&self) -> [f64; 2] {
        self.room.map(|v| (v - OVERLAP).max(1.0))
    }

    fn reach(&self, column: u32, row: u32) -> Bounds {
        let [px, py] = self.pitch();
        let min = pt(self.left + f64::from(column) * px, self.far - f64::from(row) * py - self.room[1]);
        Bounds::new(min, min + pt(self.room[0], self.room[1]))
    }

    /// The part of a paper that is no other's: up to the middle of its overlaps.
    fn own(&self, column: u32, row: u32) -> Bounds {
        let mut b = self.reach(column, row);
        let half = OVERLAP / 2.0;
        b.min.x += if column > 0 { half } else { 0.0 };
        b.max.x -= if column + 1 < self.columns { half } else { 0.0 };
        b.max.y -= if row > 0 { half } else { 0.0 };
        b.min.y += if row + 1 < self.rows { half } else { 0.0 };
        b
    }

    fn used(&self, lines: &[Vec<Point>]) -> Vec<Tile> {
        let [px, py] = self.pitch();
        let (columns, rows) = (self.columns as usize, self.rows as usize);
        let mut used = vec![false; columns * rows];
        // Cells a coordinate may be in, one more each way for what rounding does.
        let cells = |low: f64, high: f64, pitch: f64, n: u32| {
            let at = |v: f64| (v / pitch).floor().clamp(0.0, f64::from(n) - 1.0) as u32;
            at(low - OVERLAP - 1.0)..=at(high + 1.0)
        };
        for (p, q) in lines.iter().flat_map(|l| l.iter().zip(l.iter().skip(1))) {
            let b = Bounds::of([*p, *q]);
            for row in cells(self.far - b.max.y, self.far - b.min.y, py, self.rows) {
                for column in cells(b.min.x - self.left, b.max.x - self.left, px, self.columns) {
                    let at = row as usize * columns + column as usize;
                    if let Some(cell) = used.get_mut(at)
                        && !*cell
                    {
                        *cell = enters(self.own(column, row), *p, *q);
                    }
                }
            }
        }
        self.leave_out(lines, &mut used);
        let all = (0..self.rows).flat_map(|r| (0..self.columns).map(move |c| (r, c)));
        all.zip(used)
            .filter(|(_, used)| *used)
            .map(|((row, column), _)| Tile { row, column, reach: self.reach(column, row) })
            .collect()
    }

    /// Takes papers away whose own part holds lines only where a paper beside them that stays shows them too.
    fn leave_out(&self, lines: &[Vec<Point>], used: &mut [bool]) {
        let columns = self.columns as usize;
        let boxes: Vec<Bounds> = lines.iter().map(|l| Bounds::of(l.iter().copied())).collect();
        let mut needed = vec![false; used.len()];
        for (row, column) in (0..self.rows).flat_map(|r| (0..self.columns).map(move |c| (r, c))) {
            let at = row as usize * columns + column as usize;
            if !used.get(at).is_some_and(|used| *used) || needed.get(at).is_some_and(|needed| *needed) {
                continue;
            }
            // Up to where its neighbours show what it shows.
            let mut core = self.own(column, row);
            let half = OVERLAP / 2.0;
            let mut beside = Vec::new();
            for (there, index, side, by) in [
                (column > 0, at.wrapping_sub(1), &mut core.min.x, half),
                (column + 1 < self.columns, at + 1, &mut core.max.x, -half),
                (row > 0, at.wrapping_sub(columns), &mut core.max.y, -half),
                (row + 1 < self.rows, at + columns, &mut core.min.y, half),
            ] {
                if there && used.get(index).is_some_and(|used| *used) {
                    *side += by;
                    beside.push(index);
                }
            }
            let shows_more = beside.is_empty()
                || lines
                    .iter()
                    .zip(&boxes)
                    .filter(|(_, b)| b.meets(core))
                    .any(|(l, _)| l.iter().zip(l.iter().skip(1)).any(|(p, q)| enters(core, *p, *q)));
            if !shows_more {
                used[at] = false;
                beside.into_iter().for_each(|k| needed[k] = true);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::lerp;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_part_of_every_line_is_on_a_paper_and_no_paper_is_empty(
            corners in proptest::collection::vec((-900.0f64..900.0, -700.0f64..700.0), 2..9),
        ) {
            let line: Vec<Point> = corners.iter().map(|&(x, y)| pt(x, y)).collect();
            let tiling = fewest(std::slice::from_ref(&line), &[0.0, 90.0], [186.0, 257.0]).unwrap();
            for w in line.windows(2) {
                for i in 0..=200 {
                    let p = tiling.turn.apply(lerp(w[0], w[1], f64::from(i) / 200.0));
                    prop_assert!(tiling.tiles.iter().any(|t| t.reach.grown(1e-6).contains(p)));
                }
            }
            for t in &tiling.tiles {
                let on = |p: Point, q: Point| enters(t.reach, tiling.turn.apply(p), tiling.turn.apply(q));
                prop_assert!(line.windows(2).any(|w| on(w[0], w[1])));
            }
        }
    }

    #[test]
    fn a_long_strip_is_turned_along_the_paper() {
        let strip = vec![pt(0.0, 0.0), pt(240.0, 0.0), pt(240.0, 20.0), pt(0.0, 20.0), pt(0.0, 0.0)];
        let tiling = fewest(std::slice::from_ref(&strip), &[0.0, 90.0], [186.0, 257.0]).unwrap();
        assert_eq!((tiling.tiles.len(), tiling.turn_deg), (1, 90.0));
        assert_eq!(fewest(&[strip], &[0.0], [186.0, 257.0]).unwrap().tiles.len(), 2);
    }

    #[test]
    fn a_frame_leaves_its_middle_out() {
        let ring = Bounds::new(pt(0.0, 0.0), pt(850.0, 850.0)).corners();
        let line: Vec<Point> = ring.iter().chain(ring.first()).copied().collect();
        let tiling = fewest(&[line], &[0.0], [186.0, 257.0]).unwrap();
        assert_eq!((tiling.columns, tiling.rows), (5, 4));
        assert_eq!(tiling.tiles.len(), 14);
    }

    #[test]
    fn a_paper_that_shows_only_what_its_neighbour_shows_is_left_out() {
        // Two far corners hold the grid in place; between them a line that just leaves one paper's own part.
        let pitch = 186.0 - OVERLAP;
        let far = vec![pt(0.0, 600.0), pt(5.0, 600.0)];
        let near = vec![pt(0.0, 0.0), pt(5.0, 0.0), pt(2.0 * pitch, 0.0)];
        let edge = |by: f64| vec![pt(20.0, 400.0), pt(pitch + OVERLAP / 2.0 + by, 400.0)];
        let count = |by: f64| {
            let lines = [far.clone(), near.clone(), edge(by)];
            let grid = Grid { left: 0.0, far: 600.0, room: [186.0, 257.0], columns: 3, rows: 3 };
            let tiles = grid.used(&lines);
            (tiles.len(), tiles.iter().any(|t| (t.row, t.column) == (0, 1)))
        };
        assert_eq!(count(-1.0), (3, false), "within its own part");
        assert_eq!(count(OVERLAP / 2.0 - 1.0), (3, false), "shown whole by the paper beside");
        assert_eq!(count(OVERLAP / 2.0 + 1.0), (4, true), "beyond what that shows");
    }

    #[test]
    fn what_takes_too_many_papers_is_refused_with_its_count_not_cut_off() {
        let line = vec![pt(0.0, 0.0), pt(60_000.0, 0.0)];
        let [columns, rows] = fewest(&[line], &[0.0], [186.0, 257.0]).unwrap_err();
        assert_eq!((columns, rows), (345.0, 1.0));
        let endless = vec![pt(0.0, 0.0), pt(f64::INFINITY, 0.0)];
        assert!(fewest(&[endless], &[0.0, 90.0], [186.0, 257.0]).is_err());
    }
}
