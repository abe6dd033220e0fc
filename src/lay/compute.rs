//! The stage: pieces and cloths in, a lay out.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{LaySpec, PieceRule};
use crate::say::{Trouble, Watch};
use crate::shape::{Pose, Region, tol};

use super::audit;
use super::board::{Board, Layout};
use super::diagnose;
use super::either;
use super::locked;
use super::model::{ClothLay, Lay};
use super::prove::{self, Tried};
use super::search::{Budget, Listener};
use super::stock;
use super::task::{Found, Task};
use super::ways;

/// What is to be laid.
pub struct Request<'a> {
    /// All pieces of the job.
    pub pieces: &'a [Piece],
    /// The job's rules.
    pub rules: &'a [PieceRule],
    /// The job's cloths.
    pub cloths: &'a [Cloth],
    /// How to search.
    pub spec: &'a LaySpec,
    /// For each cloth, spots that something other than a piece needs.
    pub kept_clear: &'a [Vec<Region>],
    /// Turns that pieces are to do without where their rules leave them others: piece by index, turn in degrees. Only
    /// on cloth whose pattern binds them to nothing.
    pub struck: Option<Struck<'a>>,
    /// How many lays of nearly the same length are wanted of each cloth, the best included; 0 and 1 both mean
    /// the best alone.
    pub keep: usize,
    /// Who looks on while the lay gets better.
    pub live: Option<&'a dyn Live>,
}

/// Says of a piece, by index, and a turn in degrees whether it is to do without.
pub type Struck<'a> = &'a (dyn Fn(usize, f64) -> bool + Sync);

/// Where one copy of one piece lies in a lay on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LivePose {
    /// Piece, by index into the pieces laid.
    pub piece: usize,
    /// Which copy, from 1.
    pub copy: u32,
    /// Its pose: drawing frame to cloth frame.
    pub pose: Pose,
}

/// A lay better than all before it, while the search goes on. It holds every rule.
#[derive(Clone, Copy, Debug)]
pub struct Better<'a> {
    /// The cloth, by index.
    pub cloth: usize,
    /// Where its farthest piece ends, cloth frame, mm.
    pub length_mm: f64,
    /// Share of the strip up to there that is pieces, 0 to 1.
    pub efficiency: f64,
    /// Every piece and copy on that cloth.
    pub poses: &'a [LivePose],
}

/// Looks on while a lay gets better. Called from the searching thread: it must return soon.
pub trait Live: Sync {
    /// A better lay was found.
    fn better(&self, better: &Better);
}

/// Moves in one unit of [`LaySpec::effort`].
pub(super) const MOVES_PER_EFFORT: u64 = 1000;

/// Most single pieces in a job: a lay of more is not searched in sensible time.
const MOST_SINGLES: u64 = 20_000;

/// Lays all pieces.
///
/// # Errors
/// Every piece, rule or cloth that makes it impossible, with changes that were tried and would free it.
pub fn lay(request: &Request, watch: &dyn Watch) -> Result<Lay, Vec<Trouble>> {
    attempt(request, watch).map_err(|troubles| ways::told(request, troubles, watch))
}

/// Lays all pieces, or says why it cannot be done without trying what would help: for those who try many a lay.
///
/// # Errors
/// Every piece, rule or cloth that makes it impossible.
pub fn attempt(request: &Request, watch: &dyn Watch) -> Result<Lay, Vec<Trouble>> {
    let Request { pieces, rules, cloths, .. } = *request;
    // What cannot be done is said at once, for all cloths, before any search begins.
    let singles: u64 = pieces.iter().map(|p| u64::from(p.count)).sum();
    if singles > MOST_SINGLES {
        let what = format!("{singles} single pieces in all: at most {MOST_SINGLES} can be laid in one job");
        return Err(vec![
            Trouble::cannot("the job", what).hint("lessen the counts, or make several jobs of it"),
        ]);
    }
    let begun = Instant::now();
    watch.step("lay", 0.0, "");
    let locked = locked::read(&request.spec.locked, pieces, rules, cloths)?;
    let shared = stock::share(request, &locked, watch)?;
    let mut troubles = Vec::new();
    let mut tasks = Vec::new();
    for (c, on_cloth) in shared.on_cloth.iter().enumerate() {
        match either::task(request, c, on_cloth, &locked, watch) {
            Ok(task) => tasks.push(task),
            Err(t) => troubles.extend(t),
        }
    }
    if !troubles.is_empty() {
        return Err(troubles);
    }
    let chosen = begun.elapsed();
    let busy = tasks.iter().filter(|t| !t.board.items.is_empty()).count().max(1);
    let mut lay = Lay { cloths: Vec::new() };
    for (task, known) in tasks.iter().zip(&shared.known) {
        if task.places.places.is_empty() {
            lay.cloths.push(ClothLay::default());
            continue;
        }
        match lay_one(task, known.as_ref(), budget(request.spec, chosen, busy), watch) {
            Ok(on) => lay.cloths.push(on),
            Err(t) => troubles.push(t),
        }
    }
    if !troubles.is_empty() {
        return Err(troubles);
    }
    let faults = audit::faults(&lay, pieces, rules, cloths, request.spec.gap_mm);
    if let Some(first) = faults.first() {
        return Err(vec![Trouble::cannot(
            "the lay",
            format!("did not pass its own exact test ({} faults): {first}", faults.len()),
        )
        .hint("this is a fault of the program; another lay.seed may avoid it, and a report with the job would help")]);
    }
    for (on, ended) in lay.cloths.iter_mut().zip(&shared.ended) {
        on.choice_ended = *ended;
    }
    // Other lays are offered only when they pass the same test.
    for c in 0..cloths.len() {
        let others = std::mem::take(&mut lay.cloths[c].others);
        let sound = |on: &ClothLay| {
            let mut whole = lay.clone();
            whole.cloths[c] = on.clone();
            audit::faults(&whole, pieces, rules, cloths, request.spec.gap_mm).is_empty()
        };
        let others: Vec<ClothLay> = others.into_iter().filter(|on| sound(on)).collect();
        lay.cloths[c].others = others;
    }
    Ok(lay)
}

/// Least share of the job's seconds that is left for laying once the cloths are chosen.
const FOR_LAYING: f64 = 0.5;

/// The share of the job's budget that one of `busy` cloths gets, once it took the time `chosen` to choose cloths.
fn budget(spec: &LaySpec, chosen: Duration, busy: usize) -> Budget {
    match spec.effort {
        Some(effort) => {
            Budget { time: None, moves: Some(u64::from(effort) * MOVES_PER_EFFORT / busy as u64) }
        }
        None => {
            let left = (spec.seconds - chosen.as_secs_f64()).max(spec.seconds * FOR_LAYING);
            Budget { time: Some(Duration::from_secs_f64(left / busy as f64)), moves: None }
        }
    }
}

fn part(budget: Budget, share: f64) -> Budget {
    Budget {
        time: budget.time.map(|t| t.mul_f64(share)),
        moves: budget.moves.map(|m| (m as f64 * share) as u64),
    }
}

/// Moves spent before all poses are tried, for a lay to be better than.
const MOVES_BEFORE_PROOF: u64 = 2_000;

/// Share of the budget for other lays of the same length, where they are wanted.
const FOR_OTHERS: f64 = 0.15;

/// Lays of at most this much more length count as nearly the same.
const NEARLY: f64 = 0.001;

fn lay_one(
    task: &Task,
    known: Option<&Found>,
    budget: Budget,
    watch: &dyn Watch,
) -> Result<ClothLay, Trouble> {
    let seed = task.request.spec.seed;
    let keep = task.request.keep.max(1);
    let hear = Hear::new(task, watch);
    // What the seconds leave: the proof, too, heeds them.
    let until = budget.time.map(|time| Instant::now() + time);
    let over = || watch.stopped() || until.is_some_and(|u| Instant::now() >= u);
    if prove::is_listed(task) {
        let moves = budget.moves.unwrap_or(MOVES_BEFORE_PROOF).min(MOVES_BEFORE_PROOF);
        let first = task.search(Budget { moves: Some(moves), ..budget }, seed, task.goal, &hear).ok();
        let limit = first.as_ref().map_or(task.end(), |f| f.length);
        watch.step("lay", 0.5, &format!("{}: is there a shorter one?", task.cloth.name));
        match (prove::shortest(task, limit, &over), first) {
            (Tried::Shortest(layout, length), _) => {
                let length = length.max(task.locked_end);
                let turns_deg = task.turns_deg(&layout);
                let found =
                    Found { layout, turns_deg, length, moves: 0, ended_by_clock: false, cut_short: false };
                return Ok(task.told(&found, true));
            }
            (Tried::NoneShorter, Some(first)) if task.fits(first.length) => {
                return Ok(task.told(&Found { ended_by_clock: false, ..first }, true));
            }
            (Tried::NoneShorter, _) if !task.cloth.open_length => return Err(diagnose::none_at_all(task)),
            _ => {}
        }
    }
    let left = Budget { time: until.map(|u| u.saturating_duration_since(Instant::now())), ..budget };
    let main = if keep > 1 { part(left, 1.0 - FOR_OTHERS) } else { left };
    let searched = task.search(main, seed, task.goal, &hear);
    let found = match (searched, known) {
        (Ok(f), Some(k)) if !task.fits(f.length) => {
            if f.length > k.length {
                k.clone()
            } else {
                f
            }
        }
        (Ok(f), _) => f,
        (Err(_), Some(k)) => k.clone(),
        (Err(item), None) => return Err(diagnose::fits_nowhere(item, task)),
    };
    if found.cut_short && known.is_none() {
        return Err(stopped_early(task));
    }
    if let Some(trouble) = diagnose::too_long(task, &found, watch) {
        return Err(trouble);
    }
    // Nothing is shorter than the bound, where the search ends, but for rounding.
    let proved = found.length <= task.goal + tol::ON_LATTICE_MM;
    let mut on = task.told(&found, proved);
    if keep > 1 && task.board.items.len() > 1 {
        on.others = others(task, &hear, &found, part(left, FOR_OTHERS), keep - 1)
            .iter()
            .map(|f| task.told(f, false))
            .collect();
    }
    Ok(on)
}

/// The trouble of a cloth whose first lay was stopped.
fn stopped_early(task: &Task) -> Trouble {
    let what = format!(
        "stopped before its {} pieces had a place, so there is no lay to keep",
        task.places.places.len()
    );
    Trouble::stopped(format!("cloth {}", task.cloth.name), what)
}

/// Up to `most` other lays of nearly the same length: those met on the way, and the first such ones from other seeds.
fn others(task: &Task, hear: &Hear, best: &Found, budget: Budget, most: usize) -> Vec<Found> {
    let near = task.board.near;
    let limit = near + (best.length - near) * (1.0 + NEARLY);
    let seed = task.request.spec.seed;
    let mut all: Vec<Found> = Vec::new();
    let add = |found: Found, all: &mut Vec<Found>| {
        let new = found.layout != best.layout && all.iter().all(|o| o.layout != found.layout);
        if new && found.length <= limit && task.fits(found.length) {
            all.push(found);
        }
    };
    for k in 1..=most as u64 {
        if hear.stopped() {
            break;
        }
        let share = part(budget, 1.0 / most as f64);
        let quiet = Hear { heard: Mutex::default(), shown: Mutex::new(0.0), ..*hear };
        if let Ok(found) = task.search(share, seed.wrapping_add(k * 7919), limit, &quiet) {
            add(found, &mut all);
        }
    }
    let met = hear.heard.lock().map(|h| h.clone()).unwrap_or_default();
    for (length, layout, turns_deg) in met.into_iter().rev() {
        if all.len() >= most {
            break;
        }
        add(
            Found {
                layout,
                turns_deg,
                length: length.max(task.locked_end),
                moves: 0,
                ended_by_clock: best.ended_by_clock,
                cut_short: false,
            },
            &mut all,
        );
    }
    all.sort_by(|a, b| a.length.total_cmp(&b.length));
    all
}

struct Hear<'a> {
    watch: &'a dyn Watch,
    task: &'a Task<'a>,
    area: f64,
    /// The last few lays met, each shorter than the one before.
    heard: Mutex<Vec<(f64, Layout, Vec<f64>)>>,
    /// The shortest length shown so far.
    shown: Mutex<f64>,
}

/// Lays remembered on the way.
const REMEMBERED: usize = 8;

impl<'a> Hear<'a> {
    fn new(task: &'a Task<'a>, watch: &'a dyn Watch) -> Hear<'a> {
        let pieces = task.request.pieces;
        let area = task.places.places.iter().map(|p| pieces[p.piece].cut.area()).sum();
        Hear { watch, task, area, heard: Mutex::default(), shown: Mutex::new(f64::INFINITY) }
    }
}

impl Hear<'_> {
    /// Shows a lay that is shorter than all before to whoever looks on.
    fn show(&self, length: f64, used: f64, board: &Board, layout: &Layout) {
        let Some(live) = self.task.request.live else { return };
        let Ok(mut shown) = self.shown.lock() else { return };
        if length >= *shown {
            return;
        }
        *shown = length;
        let mut spots = layout.spots.iter().enumerate();
        let poses: Vec<LivePose> = self
            .task
            .places
            .places
            .iter()
            .filter_map(|place| {
                let pose = match place.locked {
                    Some(pose) => pose,
                    None => {
                        let (i, spot) = spots.next()?;
                        Pose { turn_deg: board.way(i, spot).turn_deg, shift: spot.shift }
                    }
                };
                Some(LivePose { piece: place.piece, copy: place.copy, pose })
            })
            .collect();
        live.better(&Better {
            cloth: self.task.cloth_index,
            length_mm: length.max(self.task.locked_end),
            efficiency: self.area / used.max(1e-9),
            poses: &poses,
        });
    }
}

impl Listener for Hear<'_> {
    fn hear(&self, share: f64, length: f64, board: &Board, layout: &Layout) {
        let used = (board.right - board.left) * (length - board.near);
        let now =
            format!("{} {:.0} mm, {:.1} %", self.task.cloth.name, length, 100.0 * self.area / used.max(1e-9));
        self.watch.step("lay", share.clamp(0.0, 1.0), &now);
        self.show(length, used, board, layout);
        if self.task.request.keep < 2 {
            return;
        }
        let turns = layout.spots.iter().enumerate().map(|(i, s)| board.way(i, s).turn_deg).collect();
        if let Ok(mut heard) = self.heard.lock() {
            // Steps of a last squeeze differ by a hair: a lay too like the one before takes its place.
            let like = |l: f64| (l - length).abs() < tol::CLEAR_MM;
            if heard.last().is_some_and(|h| like(h.0)) {
                heard.pop();
            }
            heard.push((length, layout.clone(), turns));
            if heard.len() > REMEMBERED {
                heard.remove(0);
            }
        }
    }

    fn placing(&self, placed: usize, of: usize) {
        let now = format!("{} {placed} of {of} pieces have a first place", self.task.cloth.name);
        self.watch.step("lay", 0.0, &now);
    }

    fn stopped(&self) -> bool {
        self.watch.stopped()
    }
}
