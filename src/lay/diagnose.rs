//! Why a job cannot be laid, and the smallest change that would free it.

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::say::{Stuck, Trouble, Watch};
use crate::shape::{Bounds, Join, Point, Region, distance, offset, pt, tol};

use super::board::Board;
use super::chance::Chance;
use super::form::Form;
use super::kind::{Hold, PhaseSpace, Way};
use super::phases::Members;
use super::places::Places;
use super::search::{Budget, Deaf, search};
use super::task::{Found, Task};

/// Troubles of pieces that have no pose at all on this cloth, however long it were.
pub fn no_way_in(
    board: &Board,
    places: &Places,
    pieces: &[Piece],
    cloth: &Cloth,
    cloth_index: usize,
    gap_mm: f64,
) -> Vec<Trouble> {
    let mut troubles = Vec::new();
    let half_gap = gap_mm / 2.0;
    let mut lanes = Lanes { takes: 0.0, too_wide: f64::INFINITY };
    let end = if cloth.open_length { Cloth::OPEN_LENGTH_MM } else { far_end(cloth) };
    let parts = parts(cloth);
    let mut seen = std::collections::BTreeSet::new();
    for (item, place) in places.free().enumerate() {
        let piece = &pieces[place.piece];
        if !seen.insert(place.piece) {
            continue;
        }
        let ways = &board.kinds[board.items[item]].ways;
        let fits = |w: &&Way| !board.reach(w, end).is_empty();
        let size = |w: &Way| format!("{:.0} × {:.0} mm", w.bounds.width(), w.bounds.height());
        let stuck = |w: &Way| stuck(cloth_index, &[piece], Some(&w.bounds));
        let room = format!(
            "{:.0} mm across{}",
            board.right - board.left,
            if cloth.open_length { String::new() } else { format!(" and {:.0} mm along", end - board.near) }
        );
        if !ways.iter().any(|w| fits(&w)) {
            troubles.push(
                Trouble::cannot(
                    format!("piece {}", piece.id),
                    format!(
                        "is {} with its allowance at its allowed turn, the usable part of cloth {} is {room}",
                        size(&ways[0]),
                        cloth.name
                    ),
                )
                .stuck(stuck(&ways[0]))
                .hint("divide the piece in the drawing, or use a larger cloth"),
            );
            continue;
        }
        // What is left between flaws and odd edges must at least have a part as large as the piece.
        let some_part = |w: &Way| {
            let takes = |b: &Bounds| b.width() >= w.bounds.width() && b.height() >= w.bounds.height();
            parts.iter().any(|(b, area)| takes(b) && *area >= piece.cut.area())
        };
        if !cloth.open_length && !ways.iter().filter(fits).any(some_part) {
            troubles.push(
                Trouble::cannot(
                    format!("piece {}", piece.id),
                    format!(
                        "is {} with its allowance, and no part of cloth {} is that large once its edge strip and \
                         flaws are taken off",
                        size(&ways[0]),
                        cloth.name
                    ),
                )
                .stuck(stuck(&ways[0]))
                .hint(ANOTHER),
            );
            continue;
        }
        // However narrow the piece, its largest inscribed circle must fit somewhere between flaws.
        let widest = |w: &Way| w.form.discs.first().map_or(0.0, |d| d.radius) - HALF_GAP_SLACK_MM - half_gap;
        let least = ways.iter().filter(fits).map(widest).fold(f64::INFINITY, f64::min);
        if !cloth.open_length && least.is_finite() && !lanes.take(cloth, least) {
            troubles.push(
                Trouble::cannot(
                    format!("piece {}", piece.id),
                    format!(
                        "is {} with its allowance, and nowhere on cloth {} are flaws and edges far enough apart for it",
                        size(&ways[0]),
                        cloth.name
                    ),
                )
                .stuck(stuck(&ways[0]))
                .hint(ANOTHER),
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
                .stuck(stuck(&ways[0]))
                .hint("use a wider cloth"),
            );
        }
    }
    if troubles.is_empty() {
        troubles = no_common_phase(board, places, pieces, cloth, cloth_index);
    }
    troubles
}

const ANOTHER: &str = "use another cloth, or divide the piece in the drawing";

/// What is stuck: the rules of these pieces on a cloth; the size of one, at a turn it may have.
fn stuck(cloth: usize, pieces: &[&Piece], size: Option<&Bounds>) -> Stuck {
    let mut rules: Vec<usize> = pieces.iter().map(|p| p.rule).collect();
    rules.sort_unstable();
    rules.dedup();
    Stuck { cloth, rules, size_mm: size.map(|b| [b.width(), b.height()]), length_mm: None }
}

/// The search draws pieces up to this much larger than they are, mm, and grows discs a little less.
const HALF_GAP_SLACK_MM: f64 = 2.0 * tol::SEARCH_OUTLINE_MM;

/// What circles go between flaws and edges, as far as it was asked.
struct Lanes {
    takes: f64,
    too_wide: f64,
}

impl Lanes {
    /// True when a circle of `radius` has room somewhere on the usable cloth.
    fn take(&mut self, cloth: &Cloth, radius: f64) -> bool {
        if radius <= self.takes {
            return true;
        }
        let room = radius < self.too_wide && !offset(&cloth.usable(), -radius, Join::Round).is_empty();
        if room {
            self.takes = radius;
        } else {
            self.too_wide = self.too_wide.min(radius);
        }
        room
    }
}

/// True when `way` has a place in some phase of its group by itself. A group that slides over the whole repeat brings
/// any of its pieces anywhere.
fn some_phase_fits(board: &Board, way: &Way, end: f64) -> bool {
    let mut reach = board.reach(way, end);
    let high = match way.hold {
        Hold::Free => return true,
        // One repeat along is as good as any length.
        Hold::Lattice { a, b, .. } => 2.0 * (a.y.abs() + b.y.abs()),
        Hold::Stripe { step, .. } => 2.0 * step.y.abs().max(1.0),
    };
    reach.max.y = reach.max.y.min(reach.min.y + high);
    let fits = |phases: &[Point]| way.hold.nearest_within(reach.min, phases, reach).is_some();
    let Some(g) = way.hold.group() else { return fits(&[]) };
    let PhaseSpace::Choices(all) = &board.groups[g] else { return true };
    let mut phases = vec![Point::default(); board.groups.len()];
    all.iter().any(|p| {
        phases[g] = *p;
        fits(&phases)
    })
}

/// The trouble of groups whose pieces each have places, but none in the same phase of the pattern.
fn no_common_phase(
    board: &Board,
    places: &Places,
    pieces: &[Piece],
    cloth: &Cloth,
    cloth_index: usize,
) -> Vec<Trouble> {
    let members = Members::new(board);
    let mut chance = Chance::new(0, 0);
    (0..board.groups.len())
        .filter(|g| members.pick(board, *g, f64::INFINITY, &mut chance).is_none())
        .filter_map(|g| places.free().nth(members.first(board, g)))
        .map(|place| {
            let piece = &pieces[place.piece];
            let across = board.right - board.left;
            let wide = |i: &usize| board.kinds[board.items[*i]].ways[0].bounds.width();
            let of_group = places.free().enumerate().filter(|(_, p)| {
                let q = &pieces[p.piece];
                (q.group.as_str(), q.matching) == (piece.group.as_str(), piece.matching)
            });
            let (items, all): (Vec<usize>, Vec<&Piece>) = of_group.map(|(i, p)| (i, &pieces[p.piece])).unzip();
            let widest = items.into_iter().max_by(|a, b| wide(a).total_cmp(&wide(b)));
            let size = widest.map(|i| &board.kinds[board.items[i]].ways[0].bounds);
            Trouble::cannot(
                format!("group {}", piece.group),
                format!(
                    "each of its pieces has a place on cloth {} by itself, but not all in step with each other: with \
                     match \"{}\" the pattern would have to lie otherwise for one than for another, and the usable \
                     part is {across:.0} mm across",
                    cloth.name,
                    piece.matching.word()
                ),
            )
            .stuck(stuck(cloth_index, &all, size))
            .hint("use a wider cloth")
        })
        .collect()
}

fn far_end(cloth: &Cloth) -> f64 {
    cloth.outline.bounds().max.y - cloth.edge_mm
}

/// Boxes and areas of the usable cloth's parts.
fn parts(cloth: &Cloth) -> Vec<(Bounds, f64)> {
    if cloth.open_length {
        return Vec::new();
    }
    cloth.usable().iter().map(|r: &Region| (r.bounds().grown(tol::SAME_POINT_MM), r.area())).collect()
}

/// The trouble of a pattern so fine that matching means nothing.
pub fn too_fine(places: &Places, cloth: &Cloth, cloth_index: usize, gap_mm: f64) -> Vec<Trouble> {
    let held = places.places.iter().any(|p| p.turns.iter().any(|t| t.1 != Hold::Free));
    let Some(pattern) = cloth.pattern.as_ref().filter(|_| held) else { return Vec::new() };
    let repeats = [("across", pattern.lattice.a), ("along", pattern.lattice.b)];
    let length = |v: Point| distance(v, pt(0.0, 0.0));
    repeats
        .iter()
        .filter_map(|(word, v)| Some((word, v.map(length)?)))
        .filter(|(_, l)| *l < gap_mm)
        .map(|(word, l)| {
            Trouble::cannot(
                format!("cloth {}", cloth.name),
                format!(
                    "its repeat {word} is {l:.2} mm, less than the gap of {gap_mm} mm between pieces: a match that \
                     fine cannot be cut"
                ),
            )
            .stuck(stuck(cloth_index, &[], None))
            .hint("correct the repeat or the threads per centimetre")
        })
        .collect()
}

/// The trouble of pieces that cannot fit a cloth of fixed length, however they lie.
pub fn too_much(task: &Task) -> Option<Trouble> {
    if task.cloth.open_length || task.fits(task.least) {
        return None;
    }
    let (near, edge) = (task.board.near, task.cloth.edge_mm);
    let there = task.end() - near + 2.0 * edge;
    let needed = task.least - near + 2.0 * edge;
    Some(
        Trouble::cannot(
            format!("cloth {}", task.cloth.name),
            format!(
                "its {} pieces need at least {:.2} m of length however they lie, {:.2} m are there",
                task.places.places.len(),
                needed / 1000.0,
                there / 1000.0
            ),
        )
        .stuck(stuck(task.cloth_index, &[], None))
        .hint(FEWER),
    )
}

const FEWER: &str = "use a larger cloth, or cut fewer pieces from this one";

/// The trouble of a cloth on which every combination of places was tried.
pub fn none_at_all(task: &Task) -> Trouble {
    Trouble::cannot(
        format!("cloth {}", task.cloth.name),
        format!(
            "there is no lay of its {} pieces: every combination of the places their match allows was tried",
            task.places.places.len()
        ),
    )
    .stuck(stuck(task.cloth_index, &[], None))
    .hint(FEWER)
}

/// The trouble of an item for which no free spot was found though it has poses.
pub fn fits_nowhere(item: usize, task: &Task) -> Trouble {
    let cloth = task.cloth;
    let Some(place) = task.places.free().nth(item) else { return none_at_all(task) };
    let piece = &task.request.pieces[place.piece];
    Trouble::cannot(
        format!("piece {}", piece.id),
        format!(
            "has no free place on cloth {} within the rules of its turn and match \"{}\"",
            cloth.name,
            piece.matching.word()
        ),
    )
    .stuck(stuck(task.cloth_index, &[piece], None))
    .hint(FEWER)
}

/// The trouble of a lay that is longer than its cloth, with what would free it.
pub fn too_long(task: &Task, found: &Found, watch: &dyn Watch) -> Option<Trouble> {
    let Task { board, places, cloth, .. } = task;
    let end = far_end(cloth);
    if task.fits(found.length) {
        return None;
    }
    let mut helps = Vec::new();
    let one_way = places.places.iter().all(|p| p.turns.len() == 1 && p.turns[0].1 == Hold::Free);
    let seed = task.request.spec.seed;
    if one_way
        && !watch.stopped()
        && with_half_turns(board).is_some_and(|turned| fits_quickly(&turned, seed, end, watch))
    {
        helps.push("use a cloth without nap or one-way pattern, so that pieces may be turned by half");
    }
    helps.push(FEWER);
    // Of a search that was stopped nobody knows what it would have found.
    let stopped = if watch.stopped() { " when the search was stopped" } else { "" };
    Some(
        Trouble::cannot(
            format!("cloth {}", cloth.name),
            format!(
                "the pieces do not fit: the best lay found{stopped} needs {:.0} mm of length, {:.0} mm are there",
                found.length + cloth.edge_mm,
                end + cloth.edge_mm
            ),
        )
        .stuck(Stuck { length_mm: Some(found.length + cloth.edge_mm), ..stuck(task.cloth_index, &[], None) })
        .hint(helps.join("; or ")),
    )
}

/// Moves spent to see whether a changed rule would free a job.
const QUICK_MOVES: u64 = 1500;

fn fits_quickly(board: &Board, seed: u64, end: f64, watch: &dyn Watch) -> bool {
    let budget = Budget { time: None, moves: Some(QUICK_MOVES) };
    search(board, budget, seed, end, &Deaf(watch)).is_ok_and(|o| o.length <= end)
}

/// The same board with every way also turned by 180°, free of its match.
fn with_half_turns(board: &Board) -> Option<Board> {
    let mut turned = board.clone();
    for kind in &mut turned.kinds {
        if kind.ways.len() > 1 {
            continue;
        }
        let way = kind.ways.first()?.clone();
        let half = |form: &std::sync::Arc<Form>| std::sync::Arc::new(form.half_turned());
        let (form, bare) = (half(&way.form), half(&way.bare));
        let b = way.bounds;
        let bounds = crate::shape::Bounds::new(b.max * -1.0, b.min * -1.0);
        let turn_deg = (way.turn_deg + 180.0).rem_euclid(360.0);
        kind.ways.push(Way { turn_deg, form, bare, bounds, ..way });
    }
    Some(turned)
}
