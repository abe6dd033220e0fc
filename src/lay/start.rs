//! A first lay, built greedily: the largest pieces first, each as near the near end as it goes.

use crate::shape::{Point, pt};

use super::board::{Board, Index, Layout, Spot};
use super::chance::Chance;
use super::kind::Hold;
use super::seek::Seeker;

/// Spots tried for each piece before it is put beyond the last one.
const TRIES: usize = 60;

/// A distance that does not matter for a first lay, as a share of a piece's size.
const HAIR: f64 = 1e-3;

/// A lay without overlaps on a strip as long as it needs, in the given phases.
///
/// # Errors
/// The index of an item that fits nowhere, however long the strip.
pub fn first_lay(board: &Board, phases: Vec<Point>, chance: &mut Chance) -> Result<Layout, usize> {
    let mut order: Vec<usize> = (0..board.items.len()).collect();
    let size = |i: &usize| board.kinds[board.items[*i]].size;
    order.sort_by(|a, b| size(b).total_cmp(&size(a)).then(a.cmp(b)));
    // Pieces not yet placed wait far beyond the near end, out of everyone's way.
    let area: f64 = order.iter().map(|i| size(i) * size(i)).sum();
    let width = (board.right - board.left).max(f64::MIN_POSITIVE);
    let guess = board.near + 1.6 * area / width + order.iter().map(size).fold(0.0, f64::max);
    let away = Spot { way: 0, shift: pt(0.0, -1.0e9) };
    let mut layout = Layout { spots: vec![away; board.items.len()], phases };
    let mut index = Index::new(board, &Layout { spots: Vec::new(), phases: Vec::new() }, guess);
    let mut begun = vec![Vec::new(); board.kinds.len()];
    let obstacles_end = board.obstacles.iter().map(|o| o.bounds.max.y).fold(board.near, f64::max);
    let mut end = board.near;
    for item in order {
        let spot = low_spot(board, &index, &layout, item, end, &mut begun[board.items[item]], chance)
            .or_else(|| beyond(board, &index, &layout, item, end.max(obstacles_end)))
            .ok_or(item)?;
        layout.spots[item] = spot;
        let way = board.way(item, &spot);
        index.put(item, way.form.bounds.shifted(spot.shift));
        end = end.max(way.bounds.max.y + spot.shift.y);
    }
    Ok(layout)
}

/// Most points of a lattice looked at for one piece.
const MOST_LOOKED: usize = 4000;

/// The lowest free spot found for `item` among those already placed. `begun`: for every way of its kind, how near the
/// near end a point of its lattice may still be free; nearer ones were taken when a piece of this kind was placed before.
fn low_spot(
    board: &Board,
    index: &Index,
    layout: &Layout,
    item: usize,
    end: f64,
    begun: &mut Vec<f64>,
    chance: &mut Chance,
) -> Option<Spot> {
    let kind = &board.kinds[board.items[item]];
    // A little more than its height, so that rounding leaves room even on an empty strip.
    let far = end + kind.ways.iter().map(|w| w.bounds.height()).fold(0.0, f64::max) + kind.size * HAIR;
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
                    if closer && free(&slid) {
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
