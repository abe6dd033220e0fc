//! Guided local search: pieces that overlap are moved until none do.
//!
//! After Egeblad, Nielsen and Odgaard 2007 (European Journal of Operational Research 183) and Umetani et al.
//! 2009 (International Transactions in Operational Research 16): the worst pieces move to the spot of least
//! weighted overlap; pairs that stay stuck weigh more with every sweep.

use rayon::prelude::*;

use crate::shape::{Point, pt};

use super::board::{Board, Index, Layout, Spot};
use super::chance::Chance;
use super::seek::{Seeker, Zeal};

/// Weights of pairs of bodies.
#[derive(Clone, Debug)]
pub struct Weights {
    items: usize,
    bodies: usize,
    w: Vec<f32>,
}

impl Weights {
    /// All ones.
    pub fn new(board: &Board) -> Weights {
        let (items, bodies) = (board.items.len(), board.bodies());
        Weights { items, bodies, w: vec![1.0; items * bodies] }
    }

    /// The weight of `item` against `body`.
    pub fn get(&self, item: usize, body: usize) -> f64 {
        f64::from(self.w[item * self.bodies + body])
    }

    fn set(&mut self, item: usize, body: usize, weight: f32) {
        self.w[item * self.bodies + body] = weight;
        if body < self.items {
            self.w[body * self.bodies + item] = weight;
        }
    }
}

/// An overlap: item, body, depth.
pub type Clash = (usize, usize, f64);

/// Every overlap of `layout`, each pair of items once.
pub fn clashes(board: &Board, index: &Index, layout: &Layout) -> Vec<Clash> {
    let n = board.items.len();
    let mut all = Vec::new();
    for (i, spot) in layout.spots.iter().enumerate() {
        let way = board.way(i, spot);
        let from = all.len();
        index.near(way.form.bounds.shifted(spot.shift), |body| {
            if body > i {
                let depth = if body < n {
                    let other = &layout.spots[body];
                    way.form.depth(&board.way(body, other).form, other.shift - spot.shift)
                } else {
                    way.form.depth(&board.obstacles[body - n], pt(0.0, 0.0) - spot.shift)
                };
                if depth > 0.0 {
                    all.push((i, body, depth));
                }
            }
            true
        });
        all[from..].sort_by_key(|c: &Clash| c.1);
    }
    all
}

/// How long to keep trying.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// Sweeps without a better total before a try is given up.
    pub sweeps: usize,
    /// Tries from the best state so far.
    pub tries: usize,
}

/// What came of an attempt to separate.
pub struct Separated {
    /// The state with the least total overlap.
    pub layout: Layout,
    /// Its total overlap; 0 when it is a lay.
    pub overlap: f64,
    /// Moves spent.
    pub moves: u64,
}

/// Sweeps done side by side from the same state; the best is kept. Fixed, so that the result does not depend
/// on the number of threads.
const SIDE_BY_SIDE: usize = 2;

/// Moves overlapping pieces of `layout` until none overlap, patience ends, or
/// `over`, told the moves spent so far, says so.
/// `far` is the strip's far end; every piece of `layout` is within reach.
pub fn separate(
    board: &Board,
    mut layout: Layout,
    far: f64,
    patience: Patience,
    seed: u64,
    over: &dyn Fn(u64) -> bool,
) -> Separated {
    let mut weights = Weights::new(board);
    let mut index = Index::new(board, &layout, far);
    let mut now = clashes(board, &index, &layout);
    let total = |c: &[Clash]| c.iter().map(|c| c.2).sum::<f64>();
    let mut best = Separated { layout: layout.clone(), overlap: total(&now), moves: 0 };
    let mut stream = 0;
    for _ in 0..patience.tries {
        let mut idle = 0;
        let at_start = best.overlap;
        while idle < patience.sweeps && best.overlap > 0.0 && !over(best.moves) {
            let sweeps: Vec<(Layout, Index, Vec<Clash>, f64, u64)> = (0..SIDE_BY_SIDE as u64)
                .into_par_iter()
                .map(|k| {
                    let mut chance = Chance::new(seed, stream + k);
                    sweep(board, layout.clone(), index.clone(), far, &now, &weights, &mut chance)
                })
                .collect();
            stream += SIDE_BY_SIDE as u64;
            best.moves += sweeps.iter().map(|s| s.4).sum::<u64>();
            let mut winner = None;
            for s in sweeps {
                if winner.as_ref().is_none_or(|w: &(Layout, Index, Vec<Clash>, f64, u64)| s.3 < w.3) {
                    winner = Some(s);
                }
            }
            let Some((l, i, c, ..)) = winner else { break };
            (layout, index, now) = (l, i, c);
            let overlap = total(&now);
            idle += 1;
            if overlap < best.overlap {
                if overlap < best.overlap * 0.98 {
                    idle = 0;
                }
                best.overlap = overlap;
                best.layout = layout.clone();
            }
            reweigh(&mut weights, &now);
        }
        if best.overlap == 0.0 || over(best.moves) || best.overlap >= at_start {
            break;
        }
        layout = best.layout.clone();
        index = Index::new(board, &layout, far);
        now = clashes(board, &index, &layout);
    }
    best
}

/// Greatest factor on the weight of the worst pair after a sweep, and least on any that overlaps.
const RAISE_MOST: f64 = 2.0;
const RAISE_LEAST: f64 = 1.2;

/// What the weights of pairs that are apart fade by.
const FADE: f32 = 0.95;

fn reweigh(weights: &mut Weights, now: &[Clash]) {
    let worst = now.iter().map(|c| c.2).fold(0.0, f64::max);
    if worst <= 0.0 {
        return;
    }
    let raised: Vec<(usize, usize, f32)> = now
        .iter()
        .map(|&(i, j, depth)| {
            let factor = RAISE_LEAST + (RAISE_MOST - RAISE_LEAST) * depth / worst;
            (i, j, weights.get(i, j) as f32 * factor as f32)
        })
        .collect();
    for w in &mut weights.w {
        *w = (*w * FADE).max(1.0);
    }
    for (i, j, w) in raised {
        weights.set(i, j, w);
    }
}

/// Moves every overlapping piece once, in random order; returns the new state, its overlaps, their weighted
/// total and the moves made.
fn sweep(
    board: &Board,
    mut layout: Layout,
    mut index: Index,
    far: f64,
    now: &[Clash],
    weights: &Weights,
    chance: &mut Chance,
) -> (Layout, Index, Vec<Clash>, f64, u64) {
    let n = board.items.len();
    let mut stuck: Vec<usize> = now.iter().flat_map(|c| [c.0, c.1]).filter(|b| *b < n).collect();
    stuck.sort_unstable();
    stuck.dedup();
    chance.shuffle(&mut stuck);
    let mut moves = 0;
    for item in stuck {
        let found = {
            let seeker =
                Seeker { board, index: &index, spots: &layout.spots, phases: &layout.phases, far, item };
            let way = board.way(item, &layout.spots[item]);
            let weight = |body: usize| weights.get(item, body);
            let here = seeker.cost(way, layout.spots[item].shift, f64::INFINITY, &weight);
            if here == 0.0 {
                continue;
            }
            seeker.seek(ZEAL, chance, &weight)
        };
        moves += 1;
        move_to(board, &mut layout, &mut index, item, found.spot);
    }
    let clashes = clashes(board, &index, &layout);
    let weighted = clashes.iter().map(|&(i, j, d)| d * weights.get(i, j)).sum();
    (layout, index, clashes, weighted, moves)
}

const ZEAL: Zeal = Zeal { anywhere: 24, nearby: 12, refined: 3 };

fn move_to(board: &Board, layout: &mut Layout, index: &mut Index, item: usize, spot: Spot) {
    layout.spots[item] = spot;
    let way = board.way(item, &spot);
    index.put(item, way.form.bounds.shifted(spot.shift));
}

/// Brings a spot back within reach of a strip ending at `far`, onto its lattice if it has one; `None` when
/// its way does not fit at all.
pub fn clamp(board: &Board, item: usize, spot: Spot, phases: &[Point], far: f64) -> Option<Spot> {
    let way = board.way(item, &spot);
    let reach = board.reach(way, far);
    let shift = way.hold.nearest_within(spot.shift, phases, reach)?;
    Some(Spot { shift, ..spot })
}
