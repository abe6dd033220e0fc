//! Does a photograph of one repeat look the same after a half turn?
//!
//! The repeat is taken as a plane tiling: a pixel at `p` has its counterpart at `c − p`, less whole repeats, and every
//! `c` of the repeat is tried, since nobody knows where a pivot lies in the picture. For the best one it is asked how
//! much of the picture differs plainly (CIE 1976) from its counterpart, once what a camera adds is allowed for: light
//! that falls off evenly to a side, edges that lie a cell off. What counts as plain goes by how different any two
//! places of the picture look, which is chance. (The measure is ours: there is no published one.)

use super::Photo;
use super::lab::{apart, lab};
use super::look::{decode, encode};

/// Cells a side at most, for the search of the centre and for the verdict.
const COARSE: usize = 24;
const FINE: usize = 72;

/// A cell is no smaller than this, mm and pixels, so that single threads and the noise of a camera are mixed away.
const LEAST_CELL_MM: f64 = 0.8;
const LEAST_CELL_PX: f64 = 3.0;

/// Fewer cells a side say nothing of a stripe.
const LEAST_CELLS: usize = 32;

/// Counterparts are met to so many cells: a picture is never quite cut to the repeat, nor quite upright.
const BESIDE: usize = 2;

/// Centres of the coarse search that are looked at finely.
const CENTRES: usize = 8;

/// A picture of more pixels is looked at by part of them, evenly spread.
const MOST_LOOKED_AT: f64 = 4.0e6;

/// A picture whose places differ less than this on average shows no pattern to speak of, CIE 1976: little more than is
/// just seen side by side (about 2.3; see `lab`).
const FAINT: f64 = 3.0;

/// Two places differ plainly from here on, CIE 1976: well more than twice what is just seen, and more than this share of
/// chance, so that edges of strong colours, half in one cell and half in the next, do not count.
const PLAIN: f64 = 6.0;
const PLAIN_OF_CHANCE: f64 = 0.35;

/// At most this share of a picture that is the same after a half turn differs plainly, and at least that share of one that
/// is not. Found by photographing woven orders badly, as the tests do: up to 2.8 % and from 4.7 %.
const SAME_TO: f64 = 0.03;
const DIFFERS_FROM: f64 = 0.045;

/// Light may fall off by so much from one side of the picture to the other, as a share of its cube root, by which L*, a*
/// and b* go: to a quarter.
const LIGHT_FALLS: f64 = 0.35;
/// Black is this much above no light, in L*.
const BLACK: f64 = 16.0;

/// What a half turn makes of a photographed repeat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HalfTurn {
    /// It looks the same.
    Same,
    /// It looks otherwise.
    Differs {
        /// Share of the picture that differs plainly from its counterpart, 0 to 1.
        share: f64,
        /// Where it differs most, mm from the picture's lower left corner.
        at_mm: [f64; 2],
    },
    /// The picture is too coarse or too faint to tell.
    Faint,
    /// It is somewhat different: more than folds and fluff make, less than a stripe would.
    Between,
}

/// A colour as L*, a*, b*.
type Lab = [f64; 3];

/// The picture in square cells, as many a side, row by row from below.
struct Cells {
    side: usize,
    colours: Vec<Lab>,
}

impl HalfTurn {
    /// Looks at `photo`.
    pub fn of(photo: &Photo) -> HalfTurn {
        let [w, h] = photo.pixels().map(f64::from);
        let [wide, high] = photo.size_mm;
        let most = (w.min(h) / LEAST_CELL_PX).min(wide.min(high) / LEAST_CELL_MM);
        let side = FINE.min(most as usize);
        if side < LEAST_CELLS {
            return HalfTurn::Faint;
        }
        let coarse = Cells::of(photo, COARSE.min(side));
        let fine = Cells::of(photo, side);
        let chance = fine.chance();
        if chance < FAINT {
            return HalfTurn::Faint;
        }
        let plain = PLAIN.max(PLAIN_OF_CHANCE * chance);
        // Cells may be little more than a thread, and single threads then outweigh a thin stripe: what the search of the
        // centre takes for next best is judged by the verdict's measure too.
        let judged = coarse.centres().into_iter().map(|near| {
            let off = fine.off(fine.finer(near, coarse.side));
            let share = off.iter().filter(|d| **d > plain).count() as f64 / off.len() as f64;
            (share, off)
        });
        let Some((share, off)) = judged.min_by(|p, q| p.0.total_cmp(&q.0)) else { return HalfTurn::Faint };
        match share {
            s if s <= SAME_TO => HalfTurn::Same,
            s if s < DIFFERS_FROM => HalfTurn::Between,
            share => HalfTurn::Differs { share, at_mm: fine.worst(&off, photo.size_mm) },
        }
    }
}

impl Cells {
    /// `photo` in cells, `side` a side.
    fn of(photo: &Photo, side: usize) -> Cells {
        let [w, h] = photo.pixels();
        let step = (f64::from(w) * f64::from(h) / MOST_LOOKED_AT).sqrt().ceil().max(1.0) as usize;
        let light: Vec<[f64; 3]> = (0..=255).map(|v| decode([v; 3])).collect();
        let mut sums = vec![([0.0; 3], 0.0); side * side];
        for row in (0..h).step_by(step) {
            let v = (f64::from(row) + 0.5) / f64::from(h);
            for column in (0..w).step_by(step) {
                let u = (f64::from(column) + 0.5) / f64::from(w);
                let cell = |share: f64| ((share * side as f64) as usize).min(side - 1);
                let (sum, count) = &mut sums[cell(v) * side + cell(u)];
                let seen = photo.pixel(u, v);
                *sum = std::array::from_fn(|c| sum[c] + light[usize::from(seen[c])][c]);
                *count += 1.0;
            }
        }
        // Light is mixed as the eye mixes it.
        let colours = sums.iter().map(|(sum, n)| lab(encode(sum.map(|s| s / f64::max(*n, 1.0))))).collect();
        Cells { side, colours }
    }

    fn at(&self, column: usize, row: usize) -> Lab {
        self.colours[(row % self.side) * self.side + column % self.side]
    }

    /// Column and row of every cell.
    fn each(&self) -> impl Iterator<Item = (usize, usize)> {
        let side = self.side;
        (0..side * side).map(move |k| (k % side, k / side))
    }

    /// The counterpart of a cell about a centre, which is told as the sum of two counterparts' numbers.
    fn counterpart(&self, (column, row): (usize, usize), centre: (usize, usize)) -> (usize, usize) {
        let of = |sum: usize, k: usize| (sum + 2 * self.side - k) % self.side;
        (of(centre.0, column), of(centre.1, row))
    }

    /// How different two places of the picture look on average.
    fn chance(&self) -> f64 {
        // Steps without a common divisor with the side meet every stripe.
        let steps = [(5, 7), (11, 23), (17, 35), (29, 13), (31, 19), (23, 41)];
        let n = self.colours.len() * steps.len();
        let of = |(i, j): (usize, usize)| {
            self.each().map(move |(c, r)| apart(self.at(c, r), self.at(c + i, r + j))).sum::<f64>()
        };
        steps.into_iter().map(of).sum::<f64>() / n as f64
    }

    /// How much evenly falling light makes counterparts about `centre` differ, over the whole side, across and along: least
    /// squares.
    fn light(&self, centre: (usize, usize)) -> [f64; 2] {
        let (mut uu, mut uv, mut vv, mut ud, mut vd) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for cell in self.each() {
            let other = self.counterpart(cell, centre);
            let (here, there) = (self.at(cell.0, cell.1)[0], self.at(other.0, other.1)[0]);
            let d = here - there;
            let [u, v] = self.between(cell, other).map(|w| w * ((here + there) / 2.0 + BLACK));
            uu += u * u;
            uv += u * v;
            vv += v * v;
            ud += u * d;
            vd += v * d;
        }
        let det = uu * vv - uv * uv;
        if det <= f64::EPSILON * uu * vv {
            return [0.0; 2];
        }
        [(ud * vv - vd * uv) / det, (vd * uu - ud * uv) / det].map(|s| s.clamp(-LIGHT_FALLS, LIGHT_FALLS))
    }

    /// From one cell to another, in sides.
    fn between(&self, to: (usize, usize), from: (usize, usize)) -> [f64; 2] {
        let of = |a: usize, b: usize| (a as f64 - b as f64) / self.side as f64;
        [of(to.0, from.0), of(to.1, from.1)]
    }

    /// Mean difference from the counterparts about `centre`. No place counts for more than chance would, by far: a spot
    /// must not outweigh the stripes.
    fn mean_off(&self, centre: (usize, usize)) -> f64 {
        let most = 4.0 * PLAIN;
        let light = self.light(centre);
        let off = |cell: (usize, usize)| {
            let other = self.counterpart(cell, centre);
            apart(self.lit(cell, other, light), self.at(other.0, other.1)).min(most)
        };
        self.each().map(off).sum::<f64>() / self.colours.len() as f64
    }

    /// The colour of `cell` in the light of `other`.
    fn lit(&self, cell: (usize, usize), other: (usize, usize), light: [f64; 2]) -> Lab {
        let [u, v] = self.between(cell, other);
        let [l, a, b] = self.at(cell.0, cell.1);
        let factor = 1.0 - light[0] * u - light[1] * v;
        [(l + BLACK) * factor - BLACK, a * factor, b * factor]
    }

    /// The best centres, best first.
    fn centres(&self) -> Vec<(usize, usize)> {
        let mut all: Vec<(f64, (usize, usize))> = self.each().map(|c| (self.mean_off(c), c)).collect();
        all.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)));
        all.into_iter().take(CENTRES).map(|(_, c)| c).collect()
    }

    /// The best centre near the one that cells, `coarse` a side, gave.
    fn finer(&self, centre: (usize, usize), coarse: usize) -> (usize, usize) {
        let side = self.side;
        let within = side.div_ceil(coarse);
        // Cell k's middle lies at (k + ½) / side, so that counterparts' middles add up to (sum + 1) / side.
        let near = |sum: usize| {
            let middle = (sum + 1) * side / coarse + 2 * side - 1;
            (0..=2 * within).map(move |k| (middle + k - within) % side)
        };
        let tried = near(centre.0).flat_map(|i| near(centre.1).map(move |j| (i, j)));
        let off = tried.map(|c| (self.mean_off(c), c));
        off.min_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1))).unwrap_or_default().1
    }

    /// Cells at most `far` columns and rows from one.
    fn around(
        &self,
        (column, row): (usize, usize),
        far: usize,
    ) -> impl Iterator<Item = (usize, usize)> + use<> {
        let side = self.side;
        let near = move |k: usize| (0..=2 * far).map(move |i| (k + side + i - far) % side);
        near(row).flat_map(move |r| near(column).map(move |c| (c, r)))
    }

    /// How different each cell is from its counterpart, or from one beside that where it is less so: an edge is
    /// never met to the cell.
    fn off(&self, centre: (usize, usize)) -> Vec<f64> {
        let light = self.light(centre);
        let least = |cell: (usize, usize)| {
            let other = self.counterpart(cell, centre);
            let lit = self.lit(cell, other, light);
            self.around(other, BESIDE).map(|(c, r)| apart(lit, self.at(c, r))).fold(f64::INFINITY, f64::min)
        };
        self.each().map(least).collect()
    }

    /// Where a block of cells differs most, mm.
    fn worst(&self, off: &[f64], size_mm: [f64; 2]) -> [f64; 2] {
        let block = |cell| self.around(cell, BESIDE).map(|(c, r)| off[r * self.side + c]).sum::<f64>();
        let worst = self.each().max_by(|p, q| block(*p).total_cmp(&block(*q))).unwrap_or_default();
        let mm = |k: usize, size: f64| (k as f64 + 0.5) / self.side as f64 * size;
        [mm(worst.0, size_mm[0]), mm(worst.1, size_mm[1])]
    }
}

#[cfg(test)]
#[path = "half_turn_tests.rs"]
mod tests;
