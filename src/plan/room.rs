//! Room for marks round a whole lay, where no lay leaves it between the pieces.

use crate::cloth::Cloth;
use crate::lay::{self, ClothLay, Lay};
use crate::passes::{PassTrouble, Passes};
use crate::shape::{Bounds, Point, pt};

use super::run::Prepared;

/// Shares of the free cloth by which a lay is moved off the near cut end and the left selvedge, the least first.
const SHARES: [f64; 5] = [0.0, 0.1, 0.25, 0.5, 1.0];

/// On a cloth of open length a lay is moved off its end by at most so much of the bed's length: enough for marks.
const OF_THE_BED: f64 = 0.5;

/// The lay on cloth `c` moved so that its passes have waste for their marks, by as little as does; `None` where no move
/// tried leaves it, or a piece was placed by hand.
pub fn made(
    prepared: &Prepared,
    lay: &Lay,
    c: usize,
    split: &dyn Fn(&ClothLay) -> Result<Passes, PassTrouble>,
) -> Option<(ClothLay, Passes)> {
    let (cloth, on) = (&prepared.cloths[c], &lay.cloths[c]);
    if on.placed.iter().any(|p| p.locked) {
        return None;
    }
    let bed = prepared.job.cutter.bed_mm;
    let free = free(cloth, on, bed[0].max(bed[1]) * OF_THE_BED);
    let mut moves: Vec<Point> = SHARES
        .iter()
        .flat_map(|v| SHARES.map(|u| pt(u * free.max.x, v * free.max.y)))
        .map(|by| in_step(cloth, by))
        .filter(|by| by.x <= free.max.x && by.y <= free.max.y && (by.x > 0.0 || by.y > 0.0))
        .collect();
    moves.sort_by(|p, q| (p.x + p.y).total_cmp(&(q.x + q.y)).then(p.y.total_cmp(&q.y)));
    moves.dedup();
    moves.into_iter().find_map(|by| {
        let moved = lay::moved(on, cloth, by);
        let Prepared { job, pieces, cloths, .. } = prepared;
        if !lay::breaks(c, &moved, pieces, &job.pieces, cloths, job.lay.gap_mm, &|_| true).is_empty() {
            return None;
        }
        split(&moved).ok().map(|passes| (moved, passes))
    })
}

/// How far the lay may be moved to the right and along.
fn free(cloth: &Cloth, on: &ClothLay, most_along: f64) -> Bounds {
    let usable = cloth.outline.bounds().grown(-cloth.edge_mm);
    let all = on.placed.iter().map(|p| p.cut.bounds()).fold(Bounds::EMPTY, Bounds::union);
    let far = pt(usable.max.x - all.max.x, usable.max.y - all.max.y);
    let along = if cloth.open_length { most_along } else { far.y };
    Bounds::new(pt(0.0, 0.0), pt(far.x.max(0.0), along.max(0.0)))
}

/// The move that leaves the pattern where it is on every piece and is nearest to `by` from below.
fn in_step(cloth: &Cloth, by: Point) -> Point {
    let Some(pattern) = &cloth.pattern else { return by };
    let (a, b) = (pattern.lattice.a, pattern.lattice.b);
    let whole = |v: Option<Point>, share: f64| v.map_or(pt(0.0, 0.0), |v| v * share.floor());
    match (a, b) {
        (Some(across), Some(along)) => {
            let columns = (by.x / across.x).floor();
            let left = by.y - across.y * columns;
            across * columns + along * (left / along.y).floor()
        }
        (Some(v), None) => whole(a, by.x / v.x) + pt(0.0, by.y),
        (None, Some(v)) => whole(b, by.y / v.y) + pt(by.x, 0.0),
        (None, None) => by,
    }
}
