//! A raster of a room: at every spot an upper bound of how deep it lies, found in one sweep.

use crate::shape::{Bounds, Point, distance, pt};

/// Spots of the raster lie this far apart, mm, unless the room is so large that there would be too many.
const STEP_MM: f64 = 1.0;

/// Most spots.
const MOST_SPOTS: f64 = 1.5e6;

/// For every spot of an even grid the distance to the nearest spot that is not in the room.
pub(super) struct Raster {
    origin: Point,
    step: f64,
    columns: usize,
    rows: usize,
    far: Vec<f32>,
}

impl Raster {
    /// Of the room that `sides` enclose (even-odd) within `bounds`.
    pub fn new(bounds: Bounds, sides: &[(Point, Point)]) -> Raster {
        if bounds.is_empty() {
            return Raster { origin: pt(0.0, 0.0), step: STEP_MM, columns: 0, rows: 0, far: Vec::new() };
        }
        let step = STEP_MM.max((bounds.width() * bounds.height() / MOST_SPOTS).sqrt());
        // A spot all round lies outside.
        let count = |size: f64| (size / step).ceil() as usize + 3;
        let (columns, rows) = (count(bounds.width()), count(bounds.height()));
        let origin = bounds.min - pt(step, step);
        let mut raster = Raster { origin, step, columns, rows, far: vec![0.0; columns * rows] };
        raster.fill(sides);
        raster.far = squared_distances(&raster.far, columns, rows);
        // Rounding up, so that it stays an upper bound.
        raster.far.iter_mut().for_each(|f| *f = f.sqrt() * step as f32 * (1.0 + 4.0 * f32::EPSILON));
        raster
    }

    /// 1 at spots in the room, 0 elsewhere.
    fn fill(&mut self, sides: &[(Point, Point)]) {
        let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); self.rows];
        for &(p, q) in sides {
            let (p, q) = if p.y <= q.y { (p, q) } else { (q, p) };
            let first = ((p.y - self.origin.y) / self.step).ceil().max(0.0) as usize;
            for (row, list) in crossings.iter_mut().enumerate().skip(first) {
                let y = self.origin.y + row as f64 * self.step;
                if y >= q.y {
                    break;
                }
                list.push(p.x + (q.x - p.x) * (y - p.y) / (q.y - p.y));
            }
        }
        for (row, list) in crossings.iter_mut().enumerate() {
            list.sort_by(f64::total_cmp);
            for pair in list.chunks_exact(2) {
                let from = ((pair[0] - self.origin.x) / self.step).ceil().max(0.0) as usize;
                let to = ((pair[1] - self.origin.x) / self.step).floor().max(0.0) as usize;
                let end = (to + 1).min(self.columns);
                if from < end {
                    self.far[row * self.columns + from..row * self.columns + end].fill(1.0);
                }
            }
        }
    }

    /// No disc about `p` that is larger than this lies in the room, mm: the distance to a spot outside, by way of the
    /// spot nearest to `p`.
    pub fn most(&self, p: Point) -> f64 {
        let size = pt(self.columns as f64, self.rows as f64) * self.step;
        if self.far.is_empty() || !Bounds::new(self.origin, self.origin + size).contains(p) {
            return 0.0;
        }
        let index = |v: f64, most: usize| ((v / self.step).round().max(0.0) as usize).min(most - 1);
        let (column, row) = (index(p.x - self.origin.x, self.columns), index(p.y - self.origin.y, self.rows));
        let at = self.origin + pt(column as f64, row as f64) * self.step;
        f64::from(self.far[row * self.columns + column]) + distance(at, p)
    }

    /// No disc larger than this lies in the room, wherever it is, mm.
    pub fn most_anywhere(&self) -> f64 {
        // No place is farther from a spot than half a step each way.
        f64::from(self.far.iter().copied().fold(0.0, f32::max)) + self.step * std::f64::consts::FRAC_1_SQRT_2
    }

    /// By how much that may be too much, mm: the way to the spot nearest
    /// to `p`, twice, and from the nearest place outside to a spot there.
    pub fn coarse_mm(&self) -> f64 {
        4.0 * self.step
    }
}

/// The squared distance, in steps, from every spot to the nearest that is 0: one way, then the other, by the lower
/// envelope of parabolas (Felzenszwalb & Huttenlocher 2012, Theory of Computing 8, 415-428).
fn squared_distances(set: &[f32], columns: usize, rows: usize) -> Vec<f32> {
    let far = ((columns + rows) as f32).powi(2);
    // Up and down: the way to the nearest 0 in the column.
    let mut by_column = vec![0f32; set.len()];
    for (from, to) in [(0, rows), (rows, 0)] {
        let up = from < to;
        let mut gone = vec![far.sqrt(); columns];
        for k in 0..rows {
            let row = if up { k } else { rows - 1 - k };
            for (column, gone) in gone.iter_mut().enumerate() {
                let at = row * columns + column;
                *gone = if set[at] == 0.0 { 0.0 } else { *gone + 1.0 };
                let square = *gone * *gone;
                by_column[at] = if up { square } else { by_column[at].min(square) };
            }
        }
    }
    let mut out = vec![0f32; set.len()];
    let mut vertices = vec![0usize; columns];
    let mut begins = vec![0f64; columns + 1];
    for (values, out) in by_column.chunks_exact(columns).zip(out.chunks_exact_mut(columns)) {
        let mut k = 0;
        vertices[0] = 0;
        (begins[0], begins[1]) = (f64::NEG_INFINITY, f64::INFINITY);
        let f = |x: usize| f64::from(values[x]) + (x * x) as f64;
        for x in 1..columns {
            loop {
                let v = vertices[k];
                let s = (f(x) - f(v)) / (2.0 * (x - v) as f64);
                // The first begins before everything.
                if s > begins[k] {
                    k += 1;
                    vertices[k] = x;
                    (begins[k], begins[k + 1]) = (s, f64::INFINITY);
                    break;
                }
                k -= 1;
            }
        }
        let mut k = 0;
        for (x, out) in out.iter_mut().enumerate() {
            while begins[k + 1] < x as f64 {
                k += 1;
            }
            let v = vertices[k];
            *out = (x.abs_diff(v).pow(2)) as f32 + values[v];
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against every pair of spots.
    #[test]
    fn distances_are_those_of_the_nearest_of_all() {
        let (columns, rows) = (37, 23);
        let set: Vec<f32> =
            (0..columns * rows).map(|k| f32::from(u8::from((k * 7919 + k * k) % 61 != 0))).collect();
        let got = squared_distances(&set, columns, rows);
        for (k, got) in got.iter().enumerate() {
            let (x, y) = ((k % columns) as i64, (k / columns) as i64);
            let near = (0..set.len())
                .filter(|o| set[*o] == 0.0)
                .map(|o| ((o % columns) as i64 - x).pow(2) + ((o / columns) as i64 - y).pow(2))
                .min();
            assert_eq!(Some(*got as i64), near, "{x} {y}");
        }
    }
}
