//! A first lay, built greedily: the largest pieces first, each as near the near end as it goes.
//!
//! Its work is bounded by a count of spots looked at. Once that is spent, or the maker has asked to stop, the pieces
//! that are left go one after another beyond the last one.

use std::cell::Cell;

use crate::shape::{Point, pt};

use super::board::{Board, Index, Layout, Spot};
use super::chance::Chance;
use super::kind::Hold;
use super::seek::Seeker;

/// Spots tried for each piece before it is put beyond the last one.
const TRIES: usize = 60;

/// A distance that does not matter for a first lay, as a share of a piece's size.
const HAIR: f64 = 1e-3;

/// Spots that first lays may look at.
pub struct Looks<'a> {
    /// Looks that are left, for all items still to be placed.
    left: Cell<u64>,
    /// Looks that are left for the item in hand.
    own: Cell<u64>,
    /// True once the maker has asked to stop.
    stopped: &'a dyn Fn() -> bool,
    /// Told how many items are placed, and of how many.
    placed: &'a dyn Fn(usize, usize),
    heeded: Cell<bool>,
    cut_short: Cell<bool>,
}

/// Looks for a board, whatever its items, and for each of its items besides.
const LOOKS: u64 = 4_000_000;
const LOOKS_AN_ITEM: u64 = 600;

/// Looks that are left once the maker has asked to stop: a small job still gets its first lay.
const LOOKS_AFTER_STOP: u64 = 300_000;

/// So many times its share of the looks left may one item take.
const OF_ITS_SHARE: u64 = 16;

/// So many items are placed between two words of progress.
const TOLD_EVERY: usize = 256;

impl<'a> Looks<'a> {
    /// For the first lays of `board`.
    pub fn new(board: &Board, stopped: &'a dyn Fn() -> bool, placed: &'a dyn Fn(usize, usize)) -> Looks<'a> {
        Looks::of(LOOKS + LOOKS_AN_ITEM * board.items.len() as u64, stopped, placed)
    }

    /// So many, whatever is to be placed.
    pub fn of(left: u64, stopped: &'a dyn Fn() -> bool, placed: &'a dyn Fn(usize, usize)) -> Looks<'a> {
        let (heeded, cut_short) = (Cell::new(false), Cell::new(false));
        Looks { left: Cell::new(left), own: Cell::new(0), stopped, placed, heeded, cut_short }
    }

    /// Looks not spent.
    pub fn left(&self) -> u64 {
        self.left.get()
    }

    /// True when the wish to stop left pieces of a first lay without a proper place.
    pub fn is_cut_short(&self) -> bool {
        self.cut_short.get()
    }

    /// Before an item is placed with which `waiting` are still to be.
    pub fn begin(&self, waiting: usize) {
        if !self.heeded.get() && (self.stopped)() {
            self.heeded.set(true);
            self.left.set(self.left.get().min(LOOKS_AFTER_STOP));
        }
        let left = self.left.get();
        self.own.set(left.min(OF_ITS_SHARE * left.div_ceil(waiting.max(1) as u64)));
        if left == 0 && self.heeded.get() {
            self.cut_short.set(true);
        }
    }

    /// One look; false when none is left.
    fn look(&self) -> bool {
        let own = self.own.get();
        if own == 0 {
            return false;
        }
        self.own.set(own - 1);
        self.left.set(self.left.get().saturating_sub(1));
        true
    }
}

/// Most points of a lattice looked at for one piece.
const MOST_LOOKED: usize = 4000;

/// A lay without overlaps on a strip as long as it needs, in the given phases.
///
/// # Errors
/// The index of an item that fits nowhere, however long the strip.
pub fn first_lay(
    board: &Board,
    phases: Vec<Point>,
    chance: &mut Chance,
    looks: &Looks,
) -> Result<Layout, usize> {
    let mut order: Vec<usize> = (0..board.items.len()).collect();
    let size = |i: &usize| board.kinds[board.items[*i]].size;
    order.sort_by(|a, b| size(b).total_cmp(&size(a)).then(a.cmp(b)));
    let area: f64 = order.iter().map(|i| size(i) * size(i)).sum();
    let width = (board.right - board.left).max(f64::MIN_POSITIVE);
    let guess = board.near + 1.6 * area / width + order.iter().map(size).fold(0.0, f64::max);
    let obstacles_end = board.obstacles.iter().map(|o| o.bounds.max.y).fold(board.near, f64::max);
    let mut placer = Placer::new(board, phases, guess, chance.clone());
    let all = order.len();
    for (done, item) in order.into_iter().enumerate() {
        looks.begin(all - done);
        if done % TOLD_EVERY == TOLD_EVERY - 1 {
            (looks.placed)(done, all);
        }
        let spot = placer
            .low_spot(item, f64::INFINITY, looks)
            .or_else(|| beyond(board, &placer.index, &placer.layout, item, placer.end.max(obstacles_end)))
            .ok_or(item)?;
        placer.put(item, spot);
    }
    *chance = placer.chance;
    Ok(placer.layout)
}

/// Puts one piece after another on a board, each as near the near end as it goes.
pub struct Placer<'a> {
    board: &'a Board,
    index: Index,
    /// Where they lie. Pieces not yet placed wait far beyond the near end, out of everyone's way.
    pub layout: Layout,
    begun: Vec<Vec<f64>>,
    end: f64,
    chance: Chance,
}

impl<'a> Placer<'a> {
    /// With nothing placed, in the given phases; the lay is likely to end before `guess`.
    pub fn new(board: &'a Board, phases: Vec<Point>, guess: f64, chance: Chance) -> Placer<'a> {
        let away = Spot { way: 0, shift: pt(0.0, -1.0e9) };
        Placer {
            board,
            index: Index::new(board, &Layout { spots: Vec::new(), phases: Vec::new() }, guess),
            layout: Layout { spots: vec![away; board.items.len()], phases },
            begun: vec![Vec::new(); board.kinds.len()],
            end: board.near,
            chance,
        }
    }

    /// Places `item` where it ends at `limit` at the farthest; false when no such spot was found.
    pub fn place_within(&mut self, item: usize, limit: f64, looks: &Looks) -> bool {
        let found = self.low_spot(item, limit, looks);
        found.is_some_and(|spot| {
            self.put(item, spot);
            true
        })
    }

    fn put(&mut self, item: usize, spot: Spot) {
        self.layout.spots[item] = spot;
        let way = self.board.way(item, &spot);
        self.index.put(item, way.form.bounds.shifted(spot.shift));
        self.end = self.end.max(way.bounds.max.y + spot.shift.y);
    }

    /// The lowest free spot found for `item` that ends at `limit` at the farthest. What was begun of its kind is known: for
    /// every way how near the near end a point of its lattice may still be free; nearer ones were taken when a piece of
    /// this kind was placed before.
    fn low_spot(&mut self, item: usize, limit: f64, looks: &Looks) -> Option<Spot> {
        let Placer { board, index, layout, begun, end, chance } = self;
        let board: &Board = board;
        let begun = &mut begun[board.items[item]];
        let kind = &board.kinds[board.items[item]];
        // A little more than its height, so that rounding leaves room even on an empty strip.
        let tall = kind.ways.iter().map(|w| w.bounds.height()).fold(0.0, f64::max);
        let far = (*end + tall + kind.size * HAIR).min(limit);
        let seeker = Seeker { board, index, spots: &layout.spots, phases: &layout.phases, far, item };
        let free = |spot: &Spot| seeker.cost(&kind.ways[spot.way], spot.shift, 0.0, &|_| 1.0) == 0.0;
        let mut best: Option<(f64, Spot)> = None;
        let keep = |spot: Spot, best: &mut Option<(f64, Spot)>| {
            let top = kind.ways[spot.way].bounds.max.y + spot.shift.y;
            if best.is_none_or(|(b, _)| top < b) {
                *best = Some((top, spot));
            }
        };
        begun.resize(kind.ways.len(), f64::NEG_INFINITY);
        for (w, way) in kind.ways.iter().enumerate() {
            let reach = board.reach(way, far);
            // A lattice is walked from its near rows: the first free point is the best of this way.
            let mut looked = 0;
            let mut walked = reach;
            walked.min.y = walked.min.y.max(begun[w]);
            let climb = match way.hold {
                // By so much a row may climb over the strip: lower points of it come later.
                Hold::Lattice { a, .. } => (a.y / a.x).abs() * walked.width().max(0.0) + way.form.size * HAIR,
                _ => 0.0,
            };
            way.hold.points(&layout.phases, walked, |shift| {
                if !looks.look() {
                    return false;
                }
                looked += 1;
                begun[w] = begun[w].max(shift.y - climb);
                let spot = Spot { way: w, shift };
                if free(&spot) {
                    keep(spot, &mut best);
                    return false;
                }
                looked < MOST_LOOKED
            });
            if matches!(way.hold, Hold::Lattice { .. }) || reach.is_empty() {
                continue;
            }
            for _ in 0..TRIES / kind.ways.len().min(6) {
                let target =
                    pt(chance.between(reach.min.x, reach.max.x), chance.between(reach.min.y, reach.max.y));
                if !looks.look() {
                    return best.map(|(_, spot)| spot);
                }
                let Some(shift) = way.hold.nearest_within(target, &layout.phases, reach) else { continue };
                let mut spot = Spot { way: w, shift };
                if !free(&spot) {
                    continue;
                }
                // Slide towards the near end, then sideways, in halving steps.
                let mut step = way.form.size;
                while step > way.form.size * HAIR {
                    let mut moved = false;
                    for (dx, dy) in [(0.0, -step), (-step, 0.0)] {
                        let target = spot.shift + pt(dx, dy);
                        let Some(shift) = way.hold.nearest_within(target, &layout.phases, reach) else {
                            continue;
                        };
                        let slid = Spot { way: w, shift };
                        let closer =
                            shift.y < spot.shift.y || (shift.y == spot.shift.y && shift.x < spot.shift.x);
                        if closer && looks.look() && free(&slid) {
                            spot = slid;
                            moved = true;
                        }
                    }
                    if !moved {
                        step /= 2.0;
                    }
                }
                keep(spot, &mut best);
            }
        }
        best.map(|(_, spot)| spot)
    }
}

/// A spot beyond everything placed so far.
fn beyond(board: &Board, index: &Index, layout: &Layout, item: usize, end: f64) -> Option<Spot> {
    let kind = &board.kinds[board.items[item]];
    let mut best: Option<(f64, Spot)> = None;
    for (w, way) in kind.ways.iter().enumerate() {
        // Room for a whole repeat beyond the end, whatever the lattice.
        let repeat = match way.hold {
            Hold::Free => way.form.size * HAIR,
            Hold::Lattice { a, b, .. } => 2.0 * (a.y.abs() + b.y.abs()),
            Hold::Stripe { step, .. } => 2.0 * step.y.abs() + way.form.size * HAIR,
        };
        let clear = end + way.form.size * HAIR + (way.bounds.min.y - way.form.bounds.min.y) * 2.0;
        let mut reach = board.reach(way, clear + way.bounds.height() + repeat);
        reach.min.y = clear - way.bounds.min.y;
        let target = reach.min;
        let Some(shift) = way.hold.nearest_within(target, &layout.phases, reach) else { continue };
        let spot = Spot { way: w, shift };
        let far = f64::INFINITY;
        let seeker = Seeker { board, index, spots: &layout.spots, phases: &layout.phases, far, item };
        if seeker.cost(way, shift, 0.0, &|_| 1.0) > 0.0 {
            continue;
        }
        let top = way.bounds.max.y + shift.y;
        if best.is_none_or(|(b, _)| top < b) {
            best = Some((top, spot));
        }
    }
    best.map(|(_, spot)| spot)
}
