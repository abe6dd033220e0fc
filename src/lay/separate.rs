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

/// Weights of pairs of bodies: 1 unless raised.
#[derive(Clone, Debug)]
pub struct Weights {
    /// For every item the bodies whose weight is raised, by body: few, as raised weights fade.
    raised: Vec<Vec<(u32, f32)>>,
}

impl Weights {
    /// All ones.
    pub fn new(board: &Board) -> Weights {
        Weights { raised: vec![Vec::new(); board.items.len()] }
    }

    /// The weight of `item` against `body`.
    pub fn get(&self, item: usize, body: usize) -> f64 {
        let row = &self.raised[item];
        row.binary_search_by_key(&(body as u32), |e| e.0).map_or(1.0, |k| f64::from(row[k].1))
    }

    fn set(&mut self, item: usize, body: usize, weight: f32) {
        self.put(item, body, weight);
        if body < self.raised.len() {
            self.put(body, item, weight);
        }
    }

    fn put(&mut self, item: usize, body: usize, weight: f32) {
        let row = &mut self.raised[item];
        match row.binary_search_by_key(&(body as u32), |e| e.0) {
            Ok(k) => row[k].1 = weight,
            Err(k) => row.insert(k, (body as u32, weight)),
        }
    }

    /// Lets all raised weights fade towards 1.
    fn fade(&mut self) {
        for row in &mut self.raised {
            row.retain_mut(|e| {
                e.1 *= FADE;
                e.1 > 1.0
            });
        }
    }
}

/// An overlap: item, body, depth.
pub type Clash = (usize, usize, f64);

/// Every overlap of `layout`, each pair of items once, in order.
pub fn clashes(board: &Board, index: &Index, layout: &Layout) -> Vec<Clash> {
    let mut all = Vec::new();
    for item in 0..board.items.len() {
        clashes_of(board, index, layout, item, |body| body > item, &mut all);
    }
    all.sort_unstable_by_key(|c| (c.0, c.1));
    all
}

/// Adds the overlaps of `item` with the bodies `with` says yes to; the lower index of two items comes first.
fn clashes_of(
    board: &Board,
    index: &Index,
    layout: &Layout,
    item: usize,
    with: impl Fn(usize) -> bool,
    all: &mut Vec<Clash>,
) {
    let n = board.items.len();
    let spot = &layout.spots[item];
    let way = board.way(item, spot);
    index.near(way.form.bounds.shifted(spot.shift), |body| {
        if body == item || !with(body) {
            return true;
        }
        let (one, other) = (item.min(body), item.max(body));
        let depth = if other < n {
            let (s, t) = (&layout.spots[one], &layout.spots[other]);
            board.way(one, s).form.depth(&board.way(other, t).form, t.shift - s.shift)
        } else {
            way.bare.depth(&board.obstacles[other - n], pt(0.0, 0.0) - spot.shift)
        };
        if depth > 0.0 {
            all.push((one, other, depth));
        }
        true
    });
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

/// A sweep under way may pass the moves there are by so many: all but the largest are finished.
const OVERRUN: u64 = 500;

/// Moves overlapping pieces of `layout` until none overlap, patience ends, or
/// `over`, told the moves spent so far, says so.
/// `far` is the strip's far end; every piece of `layout` is within reach.
pub fn separate(
    board: &Board,
    layout: Layout,
    far: f64,
    patience: Patience,
    seed: u64,
    over: &(dyn Fn(u64) -> bool + Sync),
) -> Separated {
    let mut weights = Weights::new(board);
    let total = |c: &[Clash]| c.iter().map(|c| c.2).sum::<f64>();
    let index = Index::new(board, &layout, far);
    let clashes = clashes(board, &index, &layout);
    let mut best = Separated { layout: layout.clone(), overlap: total(&clashes), moves: 0 };
    let mut now = State { layout, index, clashes };
    let mut lanes: Vec<Lane> = (0..SIDE_BY_SIDE).map(|_| Lane::new(&now)).collect();
    let mut stream = 0;
    for _ in 0..patience.tries {
        let mut idle = 0;
        let at_start = best.overlap;
        while idle < patience.sweeps && best.overlap > 0.0 && !over(best.moves) {
            let done = best.moves;
            lanes.par_iter_mut().enumerate().for_each(|(k, lane)| {
                let mut chance = Chance::new(seed, stream + k as u64);
                // Both lanes are taken to have moved as often, so that what ends a sweep is the same on any machine.
                let cut = |moves: u64| over((done + moves * SIDE_BY_SIDE as u64).saturating_sub(OVERRUN));
                lane.sweep(board, &now, far, &weights, &mut chance, &cut);
            });
            stream += SIDE_BY_SIDE as u64;
            best.moves += lanes.iter().map(|l| l.moves).sum::<u64>();
            let winner = lanes.iter_mut().reduce(|a, b| if b.weighted < a.weighted { b } else { a });
            let Some(winner) = winner else { break };
            std::mem::swap(&mut now, &mut winner.state);
            let overlap = total(&now.clashes);
            idle += 1;
            if overlap < best.overlap {
                if overlap < best.overlap * 0.98 {
                    idle = 0;
                }
                best.overlap = overlap;
                best.layout.clone_from(&now.layout);
            }
            reweigh(&mut weights, &now.clashes);
        }
        if best.overlap == 0.0 || over(best.moves) || best.overlap >= at_start {
            break;
        }
        now.layout.clone_from(&best.layout);
        now.index = Index::new(board, &now.layout, far);
        now.clashes = self::clashes(board, &now.index, &now.layout);
    }
    best
}

/// Where everything is and what overlaps.
#[derive(Clone)]
struct State {
    layout: Layout,
    index: Index,
    clashes: Vec<Clash>,
}

/// One of the sweeps side by side, with room of its own, so that a sweep allocates next to nothing.
struct Lane {
    state: State,
    moved: Vec<bool>,
    stuck: Vec<usize>,
    weighted: f64,
    moves: u64,
}

impl Lane {
    fn new(state: &State) -> Lane {
        Lane {
            state: state.clone(),
            moved: vec![false; state.layout.spots.len()],
            stuck: Vec::new(),
            weighted: 0.0,
            moves: 0,
        }
    }

    /// Moves every overlapping piece of `from` once, in random order, until `cut`, told the moves done, says to end.
    fn sweep(
        &mut self,
        board: &Board,
        from: &State,
        far: f64,
        weights: &Weights,
        chance: &mut Chance,
        cut: &dyn Fn(u64) -> bool,
    ) {
        let n = board.items.len();
        let Lane { state: State { layout, index, clashes }, moved, stuck, .. } = self;
        layout.clone_from(&from.layout);
        index.clone_from(&from.index);
        clashes.clone_from(&from.clashes);
        stuck.clear();
        stuck.extend(clashes.iter().flat_map(|c| [c.0, c.1]).filter(|b| *b < n));
        stuck.sort_unstable();
        stuck.dedup();
        chance.shuffle(stuck);
        self.moves = 0;
        for &item in stuck.iter() {
            if cut(self.moves) {
                break;
            }
            let found = {
                let seeker = Seeker { board, index, spots: &layout.spots, phases: &layout.phases, far, item };
                let way = board.way(item, &layout.spots[item]);
                let weight = |body: usize| weights.get(item, body);
                let here = seeker.cost(way, layout.spots[item].shift, f64::INFINITY, &weight);
                if here == 0.0 {
                    continue;
                }
                seeker.seek(ZEAL, chance, &weight)
            };
            self.moves += 1;
            moved[item] = true;
            move_to(board, layout, index, item, found.spot);
        }
        // Only what has moved can overlap anew.
        clashes.retain(|c| !(moved[c.0] || (c.1 < n && moved[c.1])));
        for &item in stuck.iter().filter(|i| moved[**i]) {
            clashes_of(board, index, layout, item, |b| b >= n || !moved[b] || b > item, clashes);
        }
        clashes.sort_unstable_by_key(|c| (c.0, c.1));
        stuck.iter().for_each(|i| moved[*i] = false);
        self.weighted = clashes.iter().map(|&(i, j, d)| d * weights.get(i, j)).sum();
    }
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
    weights.fade();
    for (i, j, w) in raised {
        weights.set(i, j, w);
    }
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

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::lay::form::Form;
    use crate::lay::kind::{Hold, Kind, Way};
    use crate::shape::{Bounds, Region};

    /// Thousands of pieces on one spot: a single sweep over all of them must not be waited for.
    #[test]
    fn a_sweep_ends_soon_after_its_moves_are_spent() {
        let square = Bounds::new(pt(0.0, 0.0), pt(10.0, 10.0));
        let form = Arc::new(Form::new(&Region::rectangle(square)));
        let way = Way { turn_deg: 0.0, bare: form.clone(), form, bounds: square, hold: Hold::Free };
        let count = 3000;
        let board = Board {
            kinds: vec![Kind { ways: vec![way], size: 10.0, turning: None, close: 0 }],
            items: vec![0; count],
            obstacles: Vec::new(),
            left: 0.0,
            right: 1000.0,
            near: 0.0,
            groups: Vec::new(),
        };
        // In pairs, so that every piece overlaps and none has many neighbours.
        let spot = |k: usize| Spot { way: 0, shift: pt(20.0 * (k / 2 % 50) as f64, 20.0 * (k / 100) as f64) };
        let layout = Layout { spots: (0..count).map(spot).collect(), phases: Vec::new() };
        let s = separate(&board, layout, 700.0, Patience { sweeps: 5, tries: 1 }, 1, &|moves| moves >= 10);
        assert!(s.moves >= 10 && s.moves <= 10 + OVERRUN + 2 * SIDE_BY_SIDE as u64, "{}", s.moves);
    }
}
