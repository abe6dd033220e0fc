//! The stage: pieces and cloths in, a lay out.

use std::time::Duration;

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{LaySpec, PieceRule};
use crate::say::{Trouble, Watch};
use crate::shape::{Bounds, Pose, Region, booleans, pt};

use super::audit;
use super::board::{Board, Layout};
use super::diagnose;
use super::model::{ClothLay, Lay, Placed};
use super::places::{Places, places};
use super::prepare;
use super::search::{Budget, Listener, Outcome, search};

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
}

/// Moves in one unit of [`LaySpec::effort`].
const MOVES_PER_EFFORT: u64 = 1000;

/// Lays all pieces.
///
/// # Errors
/// Every piece, rule or cloth that makes it impossible, with the smallest change found that would free it.
pub fn lay(request: &Request, watch: &dyn Watch) -> Result<Lay, Vec<Trouble>> {
    let Request { pieces, rules, cloths, .. } = *request;
    let on_cloth: Vec<Vec<usize>> = (0..cloths.len())
        .map(|c| (0..pieces.len()).filter(|p| pieces[*p].cloth == c && pieces[*p].count > 0).collect())
        .collect();
    // What cannot be done is said at once, for all cloths, before any search begins.
    let mut troubles = Vec::new();
    let mut boards = Vec::new();
    for (c, cloth) in cloths.iter().enumerate() {
        match places(pieces, &on_cloth[c], rules, cloth) {
            Ok(p) => {
                let kept_clear = request.kept_clear.get(c).map_or(&[][..], |k| k);
                let board = prepare::board(pieces, &p, cloth, kept_clear, request.spec.gap_mm);
                troubles.extend(diagnose::no_way_in(&board, &p, pieces, cloth));
                boards.push((p, board));
            }
            Err(t) => troubles.extend(t),
        }
    }
    if !troubles.is_empty() {
        return Err(troubles);
    }
    let busy = on_cloth.iter().filter(|o| !o.is_empty()).count().max(1);
    let mut lay = Lay { cloths: Vec::new() };
    for (c, (places, board)) in boards.iter().enumerate() {
        if on_cloth[c].is_empty() {
            lay.cloths.push(ClothLay::default());
            continue;
        }
        let cloth = &cloths[c];
        let hear = Hear { watch, cloth: &cloth.name, board, area: pieces_area(places, pieces) };
        let goal = diagnose::least_length(board);
        let outcome = search(board, budget(request.spec, busy), request.spec.seed, goal, &hear)
            .map_err(|item| vec![diagnose::fits_nowhere(item, places, pieces, cloth)])?;
        if let Some(trouble) = diagnose::too_long(board, &outcome, places, pieces, cloth, request.spec.seed) {
            troubles.push(trouble);
            continue;
        }
        lay.cloths.push(told(board, places, pieces, cloth, &outcome));
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
    Ok(lay)
}

/// The share of the job's budget that one of `busy` cloths gets.
fn budget(spec: &LaySpec, busy: usize) -> Budget {
    match spec.effort {
        Some(effort) => {
            Budget { time: None, moves: Some(u64::from(effort) * MOVES_PER_EFFORT / busy as u64) }
        }
        None => Budget { time: Some(Duration::from_secs_f64(spec.seconds / busy as f64)), moves: None },
    }
}

fn pieces_area(places: &Places, pieces: &[Piece]) -> f64 {
    places.places.iter().map(|p| pieces[p.piece].cut.area()).sum()
}

fn told(board: &Board, places: &Places, pieces: &[Piece], cloth: &Cloth, outcome: &Outcome) -> ClothLay {
    let Layout { spots, phases } = &outcome.layout;
    let placed: Vec<Placed> = places
        .places
        .iter()
        .zip(spots)
        .enumerate()
        .map(|(i, (place, spot))| {
            let pose = Pose { turn_deg: board.way(i, spot).turn_deg, shift: spot.shift };
            let piece = &pieces[place.piece];
            Placed {
                piece: place.piece,
                copy: place.copy,
                pose,
                group_shift: places.drawn_shift(place.piece, phases),
                cut: pose.region(&piece.cut),
            }
        })
        .collect();
    let whole = cloth.outline.bounds();
    let used_length_mm = (outcome.length + cloth.edge_mm - whole.min.y).min(if cloth.open_length {
        f64::INFINITY
    } else {
        whole.height()
    });
    let used = Bounds::new(whole.min, pt(whole.max.x, whole.min.y + used_length_mm));
    let outline = Region::new(cloth.outline.clone(), Vec::new());
    let used_area_mm2 =
        booleans::intersection(&[outline], &[Region::rectangle(used)]).iter().map(Region::area).sum();
    let pieces_area_mm2 = placed.iter().map(|p| p.cut.area()).sum();
    ClothLay {
        placed,
        used_length_mm,
        used_area_mm2,
        pieces_area_mm2,
        ended_by_clock: outcome.ended_by_clock,
    }
}

struct Hear<'a> {
    watch: &'a dyn Watch,
    cloth: &'a str,
    board: &'a Board,
    area: f64,
}

impl Listener for Hear<'_> {
    fn hear(&self, share: f64, length: f64, _layout: &Layout) {
        let used = (self.board.right - self.board.left) * (length - self.board.near);
        let now = format!("{} {:.0} mm, {:.1} %", self.cloth, length, 100.0 * self.area / used.max(1e-9));
        self.watch.step("lay", share.clamp(0.0, 1.0), &now);
    }

    fn stopped(&self) -> bool {
        self.watch.stopped()
    }
}
