//! Why a job cannot be laid, and the smallest change that would free it.

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::Match;
use crate::say::{Quiet, Trouble, Watch};
use crate::shape::{Point, tol};

use super::board::{Board, Layout};
use super::kind::{Hold, PhaseSpace, Way};
use super::places::Places;
use super::search::{Budget, Listener, Outcome, search};

/// No lay is shorter: the tallest piece, or all pieces' area on the full width, whichever is more.
pub fn least_length(board: &Board) -> f64 {
    let tallest = board
        .items
        .iter()
        .map(|k| board.kinds[*k].ways.iter().map(|w| w.bounds.height()).fold(f64::INFINITY, f64::min))
        .fold(0.0, f64::max);
    // Grown forms overlap the strip's ends by half a gap each, so their area says little; the box does.
    board.near + tallest + tol::SAME_POINT_MM
}

/// Troubles of pieces that have no pose at all on this cloth, however long it were.
pub fn no_way_in(board: &Board, places: &Places, pieces: &[Piece], cloth: &Cloth) -> Vec<Trouble> {
    let mut troubles = Vec::new();
    let end = if cloth.open_length { Cloth::OPEN_LENGTH_MM } else { far_end(cloth) };
    for (item, place) in places.places.iter().enumerate() {
        let piece = &pieces[place.piece];
        if place.copy > 1 {
            continue;
        }
        let ways = &board.kinds[board.items[item]].ways;
        let fits = |w: &&Way| !board.reach(w, end).is_empty();
        let size = |w: &Way| format!("{:.0} × {:.0} mm", w.bounds.width(), w.bounds.height());
        let room = format!(
            "{:.0} mm across{}",
            board.right - board.left,
            if cloth.open_length { String::new() } else { format!(" and {:.0} mm along", end - board.near) }
        );
        if !ways.iter().any(|w| fits(&w)) {
            let hint = if ways[0].bounds.height() <= board.right - board.left
                && (cloth.open_length || ways[0].bounds.width() <= end - board.near)
            {
                "it would fit turned by 90°: set grain to \"across\" if the cloth's look allows it"
            } else {
                "use a larger cloth, or divide the piece in the drawing"
            };
            troubles.push(
                Trouble::cannot(
                    format!("piece {}", piece.id),
                    format!(
                        "is {} with its allowance at its allowed turn, the usable part of cloth {} is {room}",
                        size(&ways[0]),
                        cloth.name
                    ),
                )
                .hint(hint),
            );
            continue;
        }
        let in_step = ways.iter().filter(fits).any(|w| some_phase_fits(board, w, end));
        if !in_step {
            troubles.push(
                Trouble::cannot(
                    format!("piece {}", piece.id),
                    format!(
                        "has no place on cloth {} where its pattern sits as match \"{}\" asks: it is {} and \
                         the usable part is {room}, less than a repeat more",
                        cloth.name,
                        piece.matching.word(),
                        size(&ways[0]),
                    ),
                )
                .hint("use a wider cloth, set another pattern_at_mm, or set its match to \"free\""),
            );
        }
    }
    troubles
}

/// Number of phases tried each way when looking for one in which a piece fits.
const PHASES_TRIED: usize = 24;

fn some_phase_fits(board: &Board, way: &Way, end: f64) -> bool {
    let mut reach = board.reach(way, end);
    let group = match way.hold {
        Hold::Free => return true,
        Hold::Lattice { offset, b, a } => {
            // One repeat along is as good as any length.
            reach.max.y = reach.max.y.min(reach.min.y + 2.0 * (a.y.abs() + b.y.abs()));
            offset.group
        }
        Hold::Stripe { offset, step, .. } => {
            reach.max.y = reach.max.y.min(reach.min.y + 2.0 * step.y.abs().max(1.0));
            offset.group
        }
    };
    let fits = |phases: &[Point]| way.hold.nearest_within(reach.min, phases, reach).is_some();
    let Some(g) = group else { return fits(&[]) };
    let mut phases = vec![Point::default(); board.groups.len()];
    let tries = if matches!(board.groups[g], PhaseSpace::Choices(_)) { 4 } else { PHASES_TRIED };
    (0..tries).any(|i| {
        (0..tries).any(|j| {
            phases[g] = board.groups[g].at((i as f64 + 0.5) / tries as f64, j as f64 / tries as f64);
            fits(&phases)
        })
    })
}

fn far_end(cloth: &Cloth) -> f64 {
    cloth.outline.bounds().max.y - cloth.edge_mm
}

/// The trouble of an item for which no free spot was found though it has poses.
pub fn fits_nowhere(item: usize, places: &Places, pieces: &[Piece], cloth: &Cloth) -> Trouble {
    let piece = &pieces[places.places[item].piece];
    Trouble::cannot(
        format!("piece {}", piece.id),
        format!(
            "has no free place on cloth {} within the rules of its turn and match \"{}\"",
            cloth.name,
            piece.matching.word()
        ),
    )
    .hint("set its match to \"free\", allow another turn, or use a wider cloth")
}

/// The trouble of a lay that is longer than its cloth, with what would free it.
pub fn too_long(
    board: &Board,
    outcome: &Outcome,
    places: &Places,
    pieces: &[Piece],
    cloth: &Cloth,
    seed: u64,
) -> Option<Trouble> {
    let end = far_end(cloth);
    if cloth.open_length || outcome.length <= end + tol::SAME_POINT_MM {
        return None;
    }
    let more = (outcome.length - end).ceil();
    let mut helps = vec![format!("{more:.0} mm more length")];
    let matched = places.places.iter().any(|p| pieces[p.piece].matching != Match::Free);
    if matched && cloth.pattern.is_some() {
        let mut free = board.clone();
        for way in free.kinds.iter_mut().flat_map(|k| &mut k.ways) {
            way.hold = Hold::Free;
        }
        if fits_quickly(&free, seed, end) {
            helps.push("or match \"free\"".into());
        }
    }
    let one_way = places.places.iter().any(|p| p.turns.len() == 1);
    if one_way && with_half_turns(board).is_some_and(|turned| fits_quickly(&turned, seed, end)) {
        helps.push("or a half turn, on a cloth without nap or one-way pattern".into());
    }
    if board.items.len() > 1 {
        helps.push("or fewer pieces on this cloth".into());
    }
    Some(
        Trouble::cannot(
            format!("cloth {}", cloth.name),
            format!(
                "the pieces do not fit: the best lay found needs {:.0} mm of length, {:.0} mm are there",
                outcome.length + cloth.edge_mm,
                end + cloth.edge_mm
            ),
        )
        .hint(helps.join(", ")),
    )
}

/// Moves spent to see whether a changed rule would free a job.
const QUICK_MOVES: u64 = 1500;

fn fits_quickly(board: &Board, seed: u64, end: f64) -> bool {
    let budget = Budget { time: None, moves: Some(QUICK_MOVES) };
    search(board, budget, seed, end, &Deaf(&Quiet)).is_ok_and(|o| o.length <= end)
}

/// The same board with every way also turned by 180°, free of its match.
fn with_half_turns(board: &Board) -> Option<Board> {
    let mut turned = board.clone();
    for kind in &mut turned.kinds {
        if kind.ways.len() > 1 {
            continue;
        }
        let way = kind.ways.first()?.clone();
        let form = std::sync::Arc::new(way.form.half_turned());
        let b = way.bounds;
        let bounds = crate::shape::Bounds::new(b.max * -1.0, b.min * -1.0);
        let turn_deg = (way.turn_deg + 180.0).rem_euclid(360.0);
        kind.ways.push(Way { turn_deg, form, bounds, ..way });
    }
    Some(turned)
}

struct Deaf<'a>(&'a dyn Watch);

impl Listener for Deaf<'_> {
    fn hear(&self, _share: f64, _length: f64, _layout: &Layout) {}

    fn stopped(&self) -> bool {
        self.0.stopped()
    }
}
