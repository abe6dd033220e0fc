//! The largest axis-parallel rectangle that is left of a cloth: what a maker can use again most easily.

use crate::shape::{Bounds, Point, Region, pt};

/// Width of a cell of the raster, mm, unless the cloth is so large that there would be too many.
const CELL_MM: f64 = 2.0;

/// Most cells of the raster: 100 m² of cloth in cells of 5 mm.
const MOST_CELLS: f64 = 4.0e6;

/// Rectangles found on the raster that are grown to their true size.
const GROWN: usize = 24;

/// Distance from a rectangle's sides, mm, within which an edge does not stop its growth: rounding.
const ALONGSIDE_MM: f64 = 1e-7;

/// The largest axis-parallel rectangle within `free` (regions that do not overlap), to the accuracy below;
/// `None` when there is none as large as a cell.
///
/// Cells that no edge runs through and whose middle is free are joined to the largest rectangles by the row-by-row
/// method with a stack (the largest rectangle under a histogram); the best of them are grown side by side until an
/// edge stops them. A free rectangle of w × h has cells of at least (w − 2c) × (h − 2c) within, c being the cell's
/// width (2 mm on up to 16 m², 5 mm on 100 m²), so the result has at least that area for every free w × h; and it is free
/// exactly, since its sides end at the true edges.
pub fn largest_rectangle(free: &[Region]) -> Option<Bounds> {
    let whole = free.iter().fold(Bounds::EMPTY, |b, r| b.union(r.bounds()));
    if whole.is_empty() || !(whole.width().is_finite() && whole.height().is_finite()) {
        return None;
    }
    let raster = Raster::new(free, whole);
    let edges: Vec<(Point, Point)> = free.iter().flat_map(Region::rings).flat_map(|r| r.sides()).collect();
    let area = |b: &Bounds| b.width() * b.height();
    let mut best: Option<Bounds> = None;
    for found in raster.largest() {
        for sideways_first in [true, false] {
            let mut b = found;
            for step in 0..2 {
                if (step == 0) == sideways_first {
                    (b.min.x, b.max.x) = grown(&edges, b, false);
                } else {
                    (b.min.y, b.max.y) = grown(&edges, b, true);
                }
            }
            if best.is_none_or(|k| area(&b) > area(&k)) {
                best = Some(b);
            }
        }
    }
    best
}

/// How far `b` can grow both ways across (or along, with `upright`) before an edge stops it.
fn grown(edges: &[(Point, Point)], b: Bounds, upright: bool) -> (f64, f64) {
    let swap = |p: Point| if upright { pt(p.y, p.x) } else { p };
    let (low, high) = (swap(b.min), swap(b.max));
    let (from, to) = (low.y + ALONGSIDE_MM, high.y - ALONGSIDE_MM);
    let middle = (low.x + high.x) / 2.0;
    let mut reach = (f64::NEG_INFINITY, f64::INFINITY);
    for &(p, q) in edges {
        let (p, q) = (swap(p), swap(q));
        let (p, q) = if p.y <= q.y { (p, q) } else { (q, p) };
        if q.y <= from || p.y >= to {
            continue;
        }
        let x = |y: f64| if q.y > p.y { p.x + (q.x - p.x) * (y - p.y) / (q.y - p.y) } else { p.x };
        let ends = if q.y > p.y { [x(from.max(p.y)), x(to.min(q.y))] } else { [p.x, q.x] };
        let (left, right) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        if left >= middle {
            reach.1 = reach.1.min(left);
        } else if right <= middle {
            reach.0 = reach.0.max(right);
        }
    }
    // Never smaller than what the raster showed to be free.
    let ends = (reach.0.min(low.x), reach.1.max(high.x));
    (if ends.0.is_finite() { ends.0 } else { low.x }, if ends.1.is_finite() { ends.1 } else { high.x })
}

struct Raster {
    origin: Point,
    cell: f64,
    columns: usize,
    rows: usize,
    free: Vec<bool>,
}

impl Raster {
    fn new(free: &[Region], whole: Bounds) -> Raster {
        let cell = CELL_MM.max((whole.width() * whole.height() / MOST_CELLS).sqrt());
        let columns = (whole.width() / cell).ceil().max(1.0) as usize;
        let rows = (whole.height() / cell).ceil().max(1.0) as usize;
        let mut raster = Raster { origin: whole.min, cell, columns, rows, free: vec![false; columns * rows] };
        free.iter().for_each(|r| raster.fill(r));
        for (p, q) in free.iter().flat_map(Region::rings).flat_map(|r| r.sides()) {
            raster.strike_out(p, q);
        }
        raster
    }

    fn fill(&mut self, region: &Region) {
        let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); self.rows];
        for (p, q) in region.rings().flat_map(|r| r.sides()) {
            let (p, q) = if p.y <= q.y { (p, q) } else { (q, p) };
            let first = ((p.y - self.origin.y) / self.cell - 0.5).ceil().max(0.0) as usize;
            for (row, list) in crossings.iter_mut().enumerate().skip(first) {
                let y = self.origin.y + (row as f64 + 0.5) * self.cell;
                if y >= q.y {
                    break;
                }
                list.push(p.x + (q.x - p.x) * (y - p.y) / (q.y - p.y));
            }
        }
        for (row, list) in crossings.iter_mut().enumerate() {
            list.sort_by(f64::total_cmp);
            for pair in list.chunks_exact(2) {
                let from = ((pair[0] - self.origin.x) / self.cell - 0.5).ceil().max(0.0) as usize;
                let to = ((pair[1] - self.origin.x) / self.cell - 0.5).ceil().max(0.0) as usize;
                for column in from..to.min(self.columns) {
                    self.free[row * self.columns + column] = true;
                }
            }
        }
    }

    /// Cells the edge runs through are not free.
    fn strike_out(&mut self, p: Point, q: Point) {
        let (p, q) = if p.y <= q.y { (p, q) } else { (q, p) };
        let index = |v: f64, most: usize| ((v / self.cell).floor().max(0.0) as usize).min(most - 1);
        let (first, last) = (index(p.y - self.origin.y, self.rows), index(q.y - self.origin.y, self.rows));
        let x = |y: f64| if q.y > p.y { p.x + (q.x - p.x) * (y - p.y) / (q.y - p.y) } else { p.x };
        for row in first..=last {
            let low = self.origin.y + row as f64 * self.cell;
            let ends = if q.y > p.y { [x(low.max(p.y)), x((low + self.cell).min(q.y))] } else { [p.x, q.x] };
            let (left, right) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
            let from = index(left - self.origin.x, self.columns);
            let to = index(right - self.origin.x, self.columns);
            self.free[row * self.columns + from..=row * self.columns + to].fill(false);
        }
    }

    /// The largest rectangles of free cells that end at one row, the best rows first.
    fn largest(&self) -> Vec<Bounds> {
        let mut heights = vec![0usize; self.columns];
        // Cells, left, right, bottom, top.
        let mut of_row: Vec<(usize, [usize; 4])> = Vec::new();
        for row in 0..self.rows {
            for (column, h) in heights.iter_mut().enumerate() {
                *h = if self.free[row * self.columns + column] { *h + 1 } else { 0 };
            }
            let mut best = (0, [0; 4]);
            let mut open: Vec<(usize, usize)> = Vec::new();
            for column in 0..=self.columns {
                let height = heights.get(column).copied().unwrap_or(0);
                let mut from = column;
                while let Some(&(start, high)) = open.last().filter(|o| o.1 >= height) {
                    open.pop();
                    from = start;
                    let cells = high * (column - start);
                    if cells > best.0 {
                        best = (cells, [start, column, row + 1 - high, row + 1]);
                    }
                }
                if height > 0 {
                    open.push((from, height));
                }
            }
            if best.0 > 0 {
                of_row.push(best);
            }
        }
        of_row.sort_by_key(|r| std::cmp::Reverse(r.0));
        of_row.truncate(GROWN);
        let at = |column: usize, row: usize| self.origin + pt(column as f64, row as f64) * self.cell;
        of_row.iter().map(|(_, [l, r, b, t])| Bounds::new(at(*l, *b), at(*r, *t))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Ring, booleans};
    use proptest::prelude::*;

    fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
    }

    #[test]
    fn an_angle_leaves_its_longer_leg() {
        let l = Region::new(
            Ring::from_pairs(&[
                [0.3, 0.7],
                [500.9, 0.7],
                [500.9, 90.4],
                [120.2, 90.4],
                [120.2, 700.0],
                [0.3, 700.0],
            ]),
            vec![],
        );
        let b = largest_rectangle(&[l]).unwrap();
        assert!((b.width() - 119.9).abs() < 1e-6 && (b.height() - 699.3).abs() < 1e-6, "{b:?}");
    }

    #[test]
    fn the_largest_rectangle_in_a_disc_is_a_square() {
        let n = 720;
        let points = (0..n).map(|k| {
            let t = std::f64::consts::TAU * f64::from(k) / f64::from(n);
            pt(300.0 * libm::cos(t), 300.0 * libm::sin(t))
        });
        let b = largest_rectangle(&[Region::new(Ring::new(points.collect()), vec![])]).unwrap();
        // 2r² for a disc (calculus: the inscribed rectangle of greatest area is the square).
        assert!(b.width() * b.height() > 2.0 * 300.0 * 300.0 * 0.985, "{b:?}");
    }

    #[test]
    fn nothing_free_gives_nothing() {
        assert_eq!(largest_rectangle(&[]), None);
        assert_eq!(largest_rectangle(&[rect(0.0, 0.0, 1.0, 0.5)]), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

        /// Against every rectangle whose sides run along sides of the blocks (the largest is one of these).
        #[test]
        fn no_free_rectangle_is_much_larger(
            blocks in prop::collection::vec((0.0..260.0f64, 0.0..180.0f64, 8.0..90.0f64, 8.0..90.0f64), 0..6),
        ) {
            let blocks: Vec<Region> = blocks.iter().map(|&(x, y, w, h)| rect(x, y, w, h)).collect();
            let free = rect(0.0, 0.0, 300.0, 220.0).minus(&blocks);
            let mut xs = vec![0.0, 300.0];
            let mut ys = vec![0.0, 220.0];
            for b in blocks.iter().map(Region::bounds) {
                xs.extend([b.min.x, b.max.x.min(300.0)]);
                ys.extend([b.min.y, b.max.y.min(220.0)]);
            }
            let mut most = 0.0f64;
            for &x in &xs { for &r in &xs { for &y in &ys { for &t in &ys {
                if r - x > 4.0 && t - y > 4.0 && !blocks.iter().map(Region::bounds).any(|b| {
                    b.min.x < r && b.max.x > x && b.min.y < t && b.max.y > y
                }) {
                    most = most.max((r - x - 4.0) * (t - y - 4.0));
                }
            }}}}
            let found = largest_rectangle(&free);
            let area = found.map_or(0.0, |b| b.width() * b.height());
            prop_assert!(area >= most - 1e-6, "{area} of {most}");
            if let Some(b) = found {
                let inside: f64 =
                    booleans::intersection(&free, &[Region::rectangle(b)]).iter().map(Region::area).sum();
                prop_assert!((inside - area).abs() < 1e-3, "{b:?} is not free");
            }
        }
    }
}
