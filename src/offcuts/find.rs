//! Which offcuts a job could be laid on, best fit first.

use std::time::{Duration, Instant};

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{Job, PieceRule};
use crate::lay::{self, allowed_turns};
use crate::say::Watch;
use crate::shape::{Bounds, Pose, pt, tol};

use super::model::{Offcut, same_fabric};
use super::take::fabric_of;

/// How much is tried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Most lays tried for each fabric.
    pub tries: usize,
    /// Most moves of a first try; one that failed is taken up again with [`MORE_MOVES`] times as many.
    pub moves: u64,
    /// How long to try for each fabric, s; `None` for as long as it takes, which repeats on any machine.
    pub seconds: Option<f64>,
}

impl Default for Effort {
    fn default() -> Self {
        Effort { tries: 5, moves: 80, seconds: None }
    }
}

/// A second try may take so many times the moves of the first.
pub const MORE_MOVES: u64 = 10;

/// What was tried by laying.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tried {
    /// Offcuts large enough by size and area.
    pub large_enough: usize,
    /// Of these, those all pieces were laid on.
    pub laid: usize,
    /// Those on which no lay was found.
    pub in_vain: usize,
    /// Those not tried that are smaller than the smallest on which one was found.
    pub smaller_untried: usize,
}

/// What the shelf has for the pieces of one fabric.
#[derive(Clone, Debug, PartialEq)]
pub struct Found<'a> {
    /// The fabric.
    pub fabric: String,
    /// How many single pieces are cut from it.
    pub pieces: usize,
    /// Their area, mm².
    pub area_mm2: f64,
    /// Offcuts that all of them could be laid on: those they were laid on first, then those large enough by size and
    /// area, each sort with the least left over first.
    pub whole: Vec<Fit<'a>>,
    /// Offcuts that might take some of them, by size alone, those for the most area first.
    pub part: Vec<Part<'a>>,
    /// Offcuts of a fabric that has the same name but is another, and how it differs.
    pub others: Vec<(&'a Offcut, String)>,
    /// How many offcuts of the fabric were looked at.
    pub looked_at: usize,
    /// What was tried by laying.
    pub tried: Tried,
}

/// An offcut all pieces could be laid on.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit<'a> {
    /// The offcut.
    pub offcut: &'a Offcut,
    /// True when a lay was found; else only size and area say so.
    pub laid: bool,
    /// What would be left of it, mm².
    pub left_mm2: f64,
}

/// An offcut some pieces could be laid on.
#[derive(Clone, Debug, PartialEq)]
pub struct Part<'a> {
    /// The offcut.
    pub offcut: &'a Offcut,
    /// How many single pieces it might take.
    pub pieces: usize,
    /// Their area, mm².
    pub area_mm2: f64,
    /// True when all pieces were tried on it, in vain.
    pub tried: bool,
}

/// No lay of several pieces fills more of its cloth than this; not tried.
const FULLEST: f64 = 0.9;

/// After a lay that failed, the next offcut tried is larger by this factor; once one goes, those between are tried.
const NEXT_TRIED: f64 = 1.4;

/// Looks through the `offcuts` for the pieces of a job, fabric by fabric in the order of the job's cloths. Sizes and
/// areas rule out most; of the others the smallest likely ones are tried by a short lay.
pub fn find<'a>(
    job: &Job,
    pieces: &[Piece],
    cloths: &[Cloth],
    offcuts: &[&'a Offcut],
    effort: Effort,
    watch: &dyn Watch,
) -> Vec<Found<'a>> {
    let mut fabrics: Vec<&str> = Vec::new();
    for cloth in &job.cloths {
        if !fabrics.contains(&fabric_of(cloth)) {
            fabrics.push(fabric_of(cloth));
        }
    }
    let of = |fabric: &str| -> Vec<&Piece> {
        let on = |p: &&Piece| job.cloths.get(p.cloth).is_some_and(|c| fabric_of(c) == fabric) && p.count > 0;
        pieces.iter().filter(on).collect()
    };
    fabrics
        .into_iter()
        .map(|fabric| (fabric, of(fabric)))
        .filter(|(_, pieces)| !pieces.is_empty())
        .map(|(fabric, pieces)| of_fabric(job, cloths, fabric, &pieces, offcuts, effort, watch))
        .collect()
}

fn of_fabric<'a>(
    job: &Job,
    cloths: &[Cloth],
    fabric: &str,
    pieces: &[&Piece],
    offcuts: &[&'a Offcut],
    effort: Effort,
    watch: &dyn Watch,
) -> Found<'a> {
    let wants: Vec<Want> = pieces.iter().map(|p| Want::new(p, &job.pieces, cloths)).collect();
    let singles: usize = pieces.iter().map(|p| p.count as usize).sum();
    let area: f64 = wants.iter().map(|w| w.area * f64::from(w.count)).sum();
    let mut found = Found {
        fabric: fabric.into(),
        pieces: singles,
        area_mm2: area,
        whole: Vec::new(),
        part: Vec::new(),
        others: Vec::new(),
        looked_at: 0,
        tried: Tried::default(),
    };
    let spec = pieces.first().and_then(|p| job.cloths.get(p.cloth));
    let mut whole: Vec<&'a Offcut> = Vec::new();
    for &offcut in offcuts.iter().filter(|o| o.cloth.name == fabric) {
        found.looked_at += 1;
        if let Some(Err(why)) = spec.map(|s| same_fabric(s, &offcut.cloth)) {
            found.others.push((offcut, why));
            continue;
        }
        let room = offcut.bounds().grown(tol::CLEAR_MM - offcut.cloth.edge_mm);
        if offcut.area_mm2 >= area && wants.iter().all(|w| w.fits(room, offcut.area_mm2)) {
            whole.push(offcut);
        } else {
            found.part.extend(part(&wants, offcut, room));
        }
    }
    whole.sort_by(|a, b| a.area_mm2.total_cmp(&b.area_mm2).then(a.id.cmp(&b.id)));
    let fit = |offcut: &'a Offcut, laid| Fit { offcut, laid, left_mm2: offcut.area_mm2 - area };
    let (laid, in_vain) =
        tried(job, pieces, &whole, if singles > 1 { area / FULLEST } else { area }, effort, watch);
    for &offcut in in_vain.iter().filter(|_| singles > 1) {
        let room = offcut.bounds().grown(tol::CLEAR_MM - offcut.cloth.edge_mm);
        let some = part(&wants, offcut, room);
        found.part.extend(some.map(|p| Part { pieces: p.pieces.min(singles - 1), tried: true, ..p }));
    }
    found.part.sort_by(|a, b| {
        let fuller = b.area_mm2.total_cmp(&a.area_mm2);
        fuller.then(a.offcut.area_mm2.total_cmp(&b.offcut.area_mm2)).then(a.offcut.id.cmp(&b.offcut.id))
    });
    let is_in = |list: &[&Offcut], o: &Offcut| list.iter().any(|l| l.id == o.id);
    found.whole.extend(laid.iter().map(|o| fit(o, true)));
    let smallest = laid.iter().map(|o| o.area_mm2).fold(f64::INFINITY, f64::min);
    let smaller = whole.iter().filter(|o| o.area_mm2 < smallest && !is_in(&in_vain, o));
    found.tried = Tried {
        large_enough: whole.len(),
        laid: laid.len(),
        in_vain: in_vain.len(),
        smaller_untried: smaller.count(),
    };
    let untried = whole.iter().filter(|o| !is_in(&laid, o) && !is_in(&in_vain, o));
    // Smaller than one that was tried in vain: hardly.
    let failed = in_vain.iter().map(|o| o.area_mm2).fold(0.0, f64::max);
    let (likely, hardly): (Vec<&Offcut>, Vec<&Offcut>) = untried.copied().partition(|o| o.area_mm2 > failed);
    found.whole.extend(likely.into_iter().chain(hardly).map(|o| fit(o, false)));
    found
}

/// Offcuts of `whole` (smallest first) on which all pieces were laid, smallest first, and those on which that failed.
/// Those with less than `least` area are tried last of all. Tries ever larger ones until one goes, then halves what lies
/// between it and the last that did not. With tries to spare, all smaller than the smallest that goes are tried with
/// more moves, the largest first: these are the likeliest; then the next larger ones.
fn tried<'a>(
    job: &Job,
    pieces: &[&Piece],
    whole: &[&'a Offcut],
    least: f64,
    effort: Effort,
    watch: &dyn Watch,
) -> (Vec<&'a Offcut>, Vec<&'a Offcut>) {
    let own: Vec<Piece> = pieces.iter().map(|p| Piece { cloth: 0, ..(*p).clone() }).collect();
    let mut trials = Trials {
        fits: lay::Fits::new(&own, &job.pieces, &job.lay),
        whole,
        goes: vec![None; whole.len()],
        left: effort.tries,
        until: effort.seconds.map(|s| Instant::now() + Duration::from_secs_f64(s.max(0.0))),
        watch,
    };
    // From `low` on it is not known that they fail; at `high` one goes.
    let mut low = whole.partition_point(|o| o.area_mm2 < least);
    let mut high = None;
    let mut next = low;
    let mut larger = least;
    while next < whole.len() && trials.may() {
        if trials.goes(next, effort.moves) {
            high = Some(next);
            break;
        }
        larger = (whole[next].area_mm2 * NEXT_TRIED).max(larger);
        low = next + 1;
        // Where none is that much larger, the largest is tried all the same.
        next = whole.partition_point(|o| o.area_mm2 < larger).max(low).min(whole.len() - 1).max(low);
    }
    while let Some(h) = high.filter(|h| low < *h && trials.may()) {
        let middle = low + (h - low) / 2;
        if trials.goes(middle, effort.moves) {
            high = Some(middle);
        } else {
            low = middle + 1;
        }
    }
    let more = effort.moves.saturating_mul(MORE_MOVES);
    let smaller = (0..high.unwrap_or(whole.len())).rev();
    let (likely, hardly): (Vec<usize>, Vec<usize>) = smaller.partition(|k| whole[*k].area_mm2 >= least);
    for k in likely.into_iter().chain(hardly) {
        if trials.may() {
            trials.goes(k, more);
        }
    }
    for k in high.map_or(whole.len(), |h| h + 1)..whole.len() {
        if trials.goes[k].is_none() && trials.may() {
            trials.goes(k, effort.moves);
        }
    }
    let of = |goes: bool| -> Vec<&'a Offcut> {
        let tried = whole.iter().zip(&trials.goes);
        tried.filter(|(_, g)| **g == Some(goes)).map(|(o, _)| *o).collect()
    };
    (of(true), of(false))
}

/// Offcuts tried one after another, within tries and time.
struct Trials<'a, 'b> {
    fits: lay::Fits<'b>,
    whole: &'b [&'a Offcut],
    /// What is known of each.
    goes: Vec<Option<bool>>,
    left: usize,
    until: Option<Instant>,
    watch: &'b dyn Watch,
}

impl Trials<'_, '_> {
    fn may(&self) -> bool {
        self.left > 0 && !self.watch.stopped() && self.until.is_none_or(|u| Instant::now() < u)
    }

    fn goes(&mut self, k: usize, moves: u64) -> bool {
        let offcut = self.whole[k];
        self.left = self.left.saturating_sub(1);
        self.watch.step("lay", 0.0, &format!("all on {}?", offcut.id));
        let time = self.until.map(|u| u.saturating_duration_since(Instant::now()));
        let budget = lay::Budget { time, moves: Some(moves) };
        let goes = offcut.understood().is_ok_and(|cloth| self.fits.goes(&cloth, budget, self.watch));
        self.goes[k] = Some(goes);
        goes
    }
}

/// A piece and how large it is at each of its turns.
struct Want {
    count: u32,
    area: f64,
    sizes: Vec<(f64, f64)>,
}

impl Want {
    fn new(piece: &Piece, rules: &[PieceRule], cloths: &[Cloth]) -> Want {
        let turns = match (rules.get(piece.rule), cloths.get(piece.cloth)) {
            (Some(rule), Some(cloth)) => allowed_turns(rule, cloth, "rule").unwrap_or_default(),
            _ => Vec::new(),
        };
        let size = |turn_deg: &f64| {
            let b = Pose { turn_deg: *turn_deg, shift: pt(0.0, 0.0) }.region(&piece.cut).bounds();
            (b.width(), b.height())
        };
        Want { count: piece.count, area: piece.cut.area(), sizes: turns.iter().map(size).collect() }
    }

    fn fits(&self, room: Bounds, area: f64) -> bool {
        self.area <= area && self.sizes.iter().any(|(w, h)| *w <= room.width() && *h <= room.height())
    }
}

/// The pieces one offcut might take, the largest first.
fn part<'a>(wants: &[Want], offcut: &'a Offcut, room: Bounds) -> Option<Part<'a>> {
    let mut fitting: Vec<&Want> = wants.iter().filter(|w| w.fits(room, offcut.area_mm2)).collect();
    fitting.sort_by(|a, b| b.area.total_cmp(&a.area));
    let mut part = Part { offcut, pieces: 0, area_mm2: 0.0, tried: false };
    let most = offcut.area_mm2 * FULLEST;
    for want in fitting {
        for _ in 0..want.count {
            if part.area_mm2 + want.area > most && part.pieces > 0 {
                break;
            }
            part.pieces += 1;
            part.area_mm2 += want.area;
        }
    }
    (part.pieces > 0).then_some(part)
}
