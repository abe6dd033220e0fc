//! Which offcuts a job could be laid on, best fit first.

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{Job, LaySpec, PieceRule};
use crate::lay::{self, allowed_turns};
use crate::say::Watch;
use crate::shape::{Bounds, Pose, pt, tol};

use super::model::{Offcut, same_fabric};
use super::take::fabric_of;

/// How much is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Effort {
    /// Most offcuts laid for each fabric.
    pub tries: usize,
    /// Lays found after which no more are tried.
    pub wanted: usize,
    /// Thousands of moves a lay.
    pub moves: u32,
}

impl Default for Effort {
    fn default() -> Self {
        Effort { tries: 5, wanted: 2, moves: 1 }
    }
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
}

/// No lay of several pieces fills more of its cloth than this; not tried.
const FULLEST: f64 = 0.9;

/// After a lay that failed, the next offcut tried is larger by this factor: others would hardly do better.
const NEXT_TRIED: f64 = 1.12;

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
        found.part.extend(some.map(|p| Part { pieces: p.pieces.min(singles - 1), ..p }));
    }
    found.part.sort_by(|a, b| {
        let fuller = b.area_mm2.total_cmp(&a.area_mm2);
        fuller.then(a.offcut.area_mm2.total_cmp(&b.offcut.area_mm2)).then(a.offcut.id.cmp(&b.offcut.id))
    });
    let is_in = |list: &[&Offcut], o: &Offcut| list.iter().any(|l| l.id == o.id);
    found.whole.extend(laid.iter().map(|o| fit(o, true)));
    let untried = whole.iter().filter(|o| !is_in(&laid, o) && !is_in(&in_vain, o));
    found.whole.extend(untried.map(|o| fit(o, false)));
    found
}

/// Offcuts of `whole`, smallest first, on which all pieces were laid, and those on which that failed. Those with less
/// than `least` area are passed over.
fn tried<'a>(
    job: &Job,
    pieces: &[&Piece],
    whole: &[&'a Offcut],
    mut least: f64,
    effort: Effort,
    watch: &dyn Watch,
) -> (Vec<&'a Offcut>, Vec<&'a Offcut>) {
    let (mut laid, mut in_vain) = (Vec::new(), Vec::new());
    for &offcut in whole {
        if laid.len() >= effort.wanted || laid.len() + in_vain.len() >= effort.tries || watch.stopped() {
            break;
        }
        if offcut.area_mm2 < least {
            continue;
        }
        watch.step("lay", 0.0, &format!("{} pieces on {}?", pieces.len(), offcut.id));
        if goes_on(job, pieces, offcut, effort.moves, watch) {
            laid.push(offcut);
        } else {
            in_vain.push(offcut);
            least = offcut.area_mm2 * NEXT_TRIED;
        }
    }
    (laid, in_vain)
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
    let mut part = Part { offcut, pieces: 0, area_mm2: 0.0 };
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

/// True when a short search lays all `pieces` on the offcut.
fn goes_on(job: &Job, pieces: &[&Piece], offcut: &Offcut, moves: u32, watch: &dyn Watch) -> bool {
    let Ok(cloth) = offcut.understood() else { return false };
    let rules: Vec<PieceRule> =
        job.pieces.iter().map(|r| PieceRule { cloth: offcut.id.clone(), ..r.clone() }).collect();
    let pieces: Vec<Piece> = pieces.iter().map(|p| Piece { cloth: 0, ..(*p).clone() }).collect();
    let spec = LaySpec { effort: Some(moves), locked: Vec::new(), ..job.lay.clone() };
    let request = lay::Request {
        pieces: &pieces,
        rules: &rules,
        cloths: std::slice::from_ref(&cloth),
        spec: &spec,
        kept_clear: &[],
        keep: 1,
        live: None,
    };
    lay::lay(&request, watch).is_ok()
}
