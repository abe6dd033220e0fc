//! The search for a short lay: shorten, separate, disturb, and at last squeeze.

use std::time::{Duration, Instant};

use crate::say::Watch;
use crate::shape::{pt, tol};

use super::board::{Board, Index, Layout, Spot};
use super::chance::Chance;
use super::finer;
use super::phases::Members;
use super::separate::{Patience, clamp, clashes, separate};
use super::start::{Looks, first_lay};

/// How long to search.
#[derive(Clone, Copy, Debug)]
pub struct Budget {
    /// By the clock.
    pub time: Option<Duration>,
    /// By moves: repeats on any machine.
    pub moves: Option<u64>,
}

/// The best lay found.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The lay: no overlaps, all within the strip.
    pub layout: Layout,
    /// The turn of every item, degrees.
    pub turns_deg: Vec<f64>,
    /// Where its farthest piece ends.
    pub length: f64,
    /// Moves spent.
    pub moves: u64,
    /// True when the clock, not the moves, ended the search.
    pub ended_by_clock: bool,
    /// True when the maker stopped it before every piece had a proper place: the lay says nothing of what would fit.
    pub cut_short: bool,
}

/// Listens to the search: share of the budget spent, the best length, the best lay and the board it speaks of.
pub trait Listener: Sync {
    /// Called when a better lay is found and now and then in between.
    fn hear(&self, share: f64, length: f64, board: &Board, layout: &Layout);
    /// Told now and then while a first lay is built how many pieces are placed, and of how many.
    fn placing(&self, _placed: usize, _of: usize) {}
    /// True once the search should end.
    fn stopped(&self) -> bool;
}

/// Listens to nothing but a wish to stop.
pub(super) struct Deaf<'a>(pub &'a dyn Watch);

impl Listener for Deaf<'_> {
    fn hear(&self, _share: f64, _length: f64, _board: &Board, _layout: &Layout) {}

    fn stopped(&self) -> bool {
        self.0.stopped()
    }
}

struct Clock<'a> {
    start: Instant,
    budget: Budget,
    moves: u64,
    listener: &'a dyn Listener,
}

impl Clock<'_> {
    /// Share of the budget spent, 1 or more when it is used up.
    fn share(&self) -> f64 {
        self.share_with(0)
    }

    fn share_with(&self, more_moves: u64) -> f64 {
        let moves = self.moves + more_moves;
        let by_moves = self.budget.moves.map_or(0.0, |m| moves as f64 / m.max(1) as f64);
        let by_time =
            self.budget.time.map_or(0.0, |t| self.start.elapsed().as_secs_f64() / t.as_secs_f64().max(1e-9));
        by_moves.max(by_time)
    }

    /// True when the budget is used up or the search should end, `more_moves` not yet counted.
    fn over(&self, more_moves: u64) -> bool {
        self.share_with(more_moves) >= 1.0 || self.listener.stopped()
    }

    fn done(&self) -> bool {
        self.over(0)
    }
}

/// Share of the budget for exploring; the rest squeezes the best lay found.
const EXPLORE: f64 = 0.75;

/// How much shorter each next strip is while exploring, and at the start and end of squeezing.
const SHORTEN_EXPLORE: f64 = 0.004;
const SHORTEN_SQUEEZE: (f64, f64) = (1e-3, 1e-5);

/// Searches for a lay on the shortest strip. `goal`: a length that is good enough, where the search ends.
///
/// # Errors
/// The index of an item that fits nowhere, however long the strip.
pub fn search(
    board: &Board,
    budget: Budget,
    seed: u64,
    goal: f64,
    listener: &dyn Listener,
) -> Result<Outcome, usize> {
    // Rounding must not keep a search going that has reached its goal.
    let good = goal + tol::ON_LATTICE_MM;
    let mut chance = Chance::new(seed, u64::MAX);
    let mut clock = Clock { start: Instant::now(), budget, moves: 0, listener };
    let mut best: Option<(f64, Layout)> = None;
    let members = Members::new(board);
    // A few first lays in other phases: groups may slide over the repeat.
    let starts = if board.groups.is_empty() { 1 } else { 6 };
    let (stopped, placed) = (|| listener.stopped(), |n: usize, of: usize| listener.placing(n, of));
    let looks = Looks::new(board, &stopped, &placed);
    for start in 0..starts {
        let before = looks.left();
        let mut phases = Vec::with_capacity(board.groups.len());
        for g in 0..board.groups.len() {
            let phase = members.pick(board, g, f64::INFINITY, &mut chance);
            phases.push(phase.ok_or_else(|| members.first(board, g))?);
        }
        match first_lay(board, phases, &mut chance, &looks) {
            Ok(layout) => {
                let length = board.length(&layout.spots);
                if best.as_ref().is_none_or(|b| length < b.0) {
                    best = Some((length, layout));
                }
            }
            // Other phases may still have room for it.
            Err(item) if starts == 1 => return Err(item),
            Err(_) => {}
        }
        // Another start is likely to take as many looks as this one did.
        let spent = before - looks.left();
        if clock.done() || (start + 1 < starts && looks.left() < spent) {
            break;
        }
    }
    let Some((mut length, mut layout)) = best else {
        let phases = board.groups.iter().map(|g| g.at(0.0, 0.0)).collect();
        return Err(first_lay(board, phases, &mut chance, &looks).err().unwrap_or(0));
    };
    listener.hear(clock.share(), length, board, &layout);
    let mut stream = 0u64;
    let mut attempt = |board: &Board, from: Layout, far: f64, patience: Patience, clock: &mut Clock| {
        stream += 1;
        let seed = seed.wrapping_add(stream.wrapping_mul(0x1000_0001));
        let separated = separate(board, from, far, patience, seed, &|moves| clock.over(moves));
        // An attempt without a move must still use up effort.
        clock.moves += separated.moves.max(1);
        separated
    };
    // Explore.
    let mut pool: Vec<(f64, Layout)> = Vec::new();
    let mut from = layout.clone();
    let mut far = shorter(board, length, SHORTEN_EXPLORE).max(goal);
    while clock.share() < EXPLORE && !clock.done() && length > good {
        let Some(start) = shortened(board, &from, far) else { break };
        let s = attempt(board, start, far, Patience { sweeps: 100, tries: 3 }, &mut clock);
        if s.overlap == 0.0 && is_clear(board, &s.layout, far) {
            length = board.length(&s.layout.spots);
            layout = s.layout.clone();
            listener.hear(clock.share(), length, board, &layout);
            from = s.layout;
            far = shorter(board, length, SHORTEN_EXPLORE).max(goal);
            pool.clear();
        } else {
            let at = pool.partition_point(|p| p.0 <= s.overlap);
            pool.insert(at, (s.overlap, s.layout));
            pool.truncate(12);
            // The better ones are taken up again more often.
            let pick = (chance.unit() * chance.unit() * pool.len() as f64) as usize;
            let pick = pick.min(pool.len() - 1);
            from = disturb(board, &members, pool[pick].1.clone(), &mut chance, far);
            listener.hear(clock.share(), length, board, &layout);
        }
    }
    // Squeeze, with closer and closer turns where ranges allow.
    let begun = clock.share();
    let rounds = if finer::has_ranges(board) { finer::ROUNDS } else { 0 };
    let mut round = 0;
    let mut own: Option<Board> = None;
    let mut stuck = 0;
    while !clock.done() && length > good {
        let t = ((clock.share() - begun) / (1.0 - begun).max(1e-9)).clamp(0.0, 1.0);
        if round < rounds && t * rounds as f64 >= round as f64 {
            let (closer, same) = finer::closer(board, own.as_ref().unwrap_or(board), &layout, round);
            (own, layout) = (Some(closer), same);
            round += 1;
        }
        let board = own.as_ref().unwrap_or(board);
        let rate = SHORTEN_SQUEEZE.0 * libm::pow(SHORTEN_SQUEEZE.1 / SHORTEN_SQUEEZE.0, t);
        let far = shorter(board, length, rate).max(goal);
        let slide = !board.groups.is_empty() && chance.unit() < SLIDES;
        let start =
            if slide { slid(board, &layout, far, &mut chance) } else { shortened(board, &layout, far) };
        let Some(start) = start else {
            // Without groups the strip is as short as its longest piece; a group may slide and make room.
            stuck += 1;
            if board.groups.is_empty() || stuck > MOST_STUCK {
                break;
            }
            continue;
        };
        stuck = 0;
        let s = attempt(board, start, far, Patience { sweeps: 60, tries: 1 }, &mut clock);
        if s.overlap == 0.0 && is_clear(board, &s.layout, far) {
            length = board.length(&s.layout.spots);
            layout = s.layout;
            listener.hear(clock.share(), length, board, &layout);
        }
    }
    let board = own.as_ref().unwrap_or(board);
    // Whatever is left of the budget now could not make it shorter.
    if !clock.done() {
        layout = gathered(board, layout, length, seed, &mut clock);
    }
    let ended_by_clock = budget.time.is_some() && budget.moves.is_none_or(|m| clock.moves < m);
    let turns_deg = layout.spots.iter().enumerate().map(|(i, s)| board.way(i, s).turn_deg).collect();
    let cut_short = looks.is_cut_short();
    Ok(Outcome { layout, turns_deg, length, moves: clock.moves, ended_by_clock, cut_short })
}

/// Share of the squeezes that begin with a group slid along.
const SLIDES: f64 = 0.5;

/// Squeezes in a row that leave no place for some piece before the strip counts as shortest.
const MOST_STUCK: usize = 400;

/// Longest and shortest slide, as shares of the repeat.
const SLIDE: (f64, f64) = (0.25, 2e-4);

/// `layout` on a strip ending at `far` with one group slid over its repeat by a little or more. `None` when a piece
/// then has no place.
fn slid(board: &Board, layout: &Layout, far: f64, chance: &mut Chance) -> Option<Layout> {
    let g = chance.below(board.groups.len());
    let by = SLIDE.0 * libm::pow(SLIDE.1 / SLIDE.0, chance.unit());
    let (u, v) = (by * chance.bell(), by * chance.bell());
    let mut phases = layout.phases.clone();
    phases[g] = board.groups[g].moved(phases[g], u, v)?;
    let spots = layout
        .spots
        .iter()
        .enumerate()
        .map(|(i, s)| clamp(board, i, *s, &phases, far))
        .collect::<Option<Vec<Spot>>>()?;
    Some(Layout { spots, phases })
}

/// How much narrower each next try is while gathering, at first and at least.
const NARROWER: (f64, f64) = (0.08, 0.004);

/// A lay that cannot be shorter is drawn together to one side, so that what is left over lies in one piece.
fn gathered(board: &Board, mut layout: Layout, far: f64, seed: u64, clock: &mut Clock) -> Layout {
    let mut rate = NARROWER.0;
    let mut stream = 1u64 << 40;
    while rate > NARROWER.1 && !clock.done() {
        let right = layout
            .spots
            .iter()
            .enumerate()
            .map(|(i, s)| board.way(i, s).bounds.max.x + s.shift.x)
            .fold(board.left, f64::max);
        let narrow = Board { right: board.left + (right - board.left) * (1.0 - rate), ..board.clone() };
        let before = clock.moves;
        stream += 1;
        let better = shortened(&narrow, &layout, far).and_then(|start| {
            let patience = Patience { sweeps: 60, tries: 1 };
            let s = separate(&narrow, start, far, patience, seed.wrapping_add(stream), &|m| clock.over(m));
            clock.moves += s.moves;
            (s.overlap == 0.0 && is_clear(board, &s.layout, far)).then_some(s.layout)
        });
        clock.moves = clock.moves.max(before + 1);
        match better {
            Some(l) => layout = l,
            None => rate /= 2.0,
        }
    }
    layout
}

fn shorter(board: &Board, length: f64, rate: f64) -> f64 {
    board.near + (length - board.near) * (1.0 - rate)
}

/// `layout` on a strip ending at `far`: pieces that stick out are brought back in, over others if need be.
/// `None` when one does not fit at all.
fn shortened(board: &Board, layout: &Layout, far: f64) -> Option<Layout> {
    let spots = layout
        .spots
        .iter()
        .enumerate()
        .map(|(i, s)| clamp(board, i, *s, &layout.phases, far))
        .collect::<Option<Vec<Spot>>>()?;
    Some(Layout { spots, phases: layout.phases.clone() })
}

fn is_clear(board: &Board, layout: &Layout, far: f64) -> bool {
    clashes(board, &Index::new(board, layout, far), layout).is_empty()
}

/// Swaps two large pieces of different kinds, and now and then slides a group over its repeat.
fn disturb(board: &Board, members: &Members, mut layout: Layout, chance: &mut Chance, far: f64) -> Layout {
    let n = board.items.len();
    if n == 0 {
        return layout;
    }
    if !board.groups.is_empty() && chance.unit() < 0.5 {
        let g = chance.below(board.groups.len());
        if let Some(phase) = members.pick(board, g, far, chance) {
            let mut phases = layout.phases.clone();
            phases[g] = phase;
            let spots: Option<Vec<Spot>> =
                layout.spots.iter().enumerate().map(|(i, s)| clamp(board, i, *s, &phases, far)).collect();
            if let Some(spots) = spots {
                return Layout { spots, phases };
            }
        }
    }
    let mut by_size: Vec<usize> = (0..n).collect();
    let size = |i: usize| board.kinds[board.items[i]].size;
    by_size.sort_by(|a, b| size(*b).total_cmp(&size(*a)).then(a.cmp(b)));
    let large = (n / 3).max(2).min(n);
    for _ in 0..8 {
        let (a, b) = (by_size[chance.below(large)], by_size[chance.below(large)]);
        if board.items[a] == board.items[b] {
            continue;
        }
        let centre = |i: usize| {
            let s = layout.spots[i];
            board.way(i, &s).bounds.centre() + s.shift
        };
        let (ca, cb) = (centre(a), centre(b));
        let moved = |i: usize, to: crate::shape::Point| {
            let s = layout.spots[i];
            let way = board.way(i, &s);
            clamp(board, i, Spot { shift: to - way.bounds.centre(), ..s }, &layout.phases, far)
        };
        if let (Some(sa), Some(sb)) = (moved(a, cb), moved(b, ca)) {
            layout.spots[a] = sa;
            layout.spots[b] = sb;
            return layout;
        }
    }
    // Nothing to swap: shake the lot a little.
    for i in 0..n {
        let s = layout.spots[i];
        let spread = size(i) * 0.2;
        let shift = s.shift + pt(chance.bell() * spread, chance.bell() * spread);
        if let Some(s) = clamp(board, i, Spot { shift, ..s }, &layout.phases, far) {
            layout.spots[i] = s;
        }
    }
    layout
}
