//! Room for marks round a whole lay, where no lay leaves it between the pieces.

use crate::cloth::Cloth;
use crate::job::Cutter;
use crate::lay::{self, ClothLay, Lay};
use crate::passes::{PassTrouble, Passes};
use crate::say::{Change, Trouble, Watch, Way};
use crate::shape::{Bounds, Point, pt};

use super::run::{Prepared, split_with};

/// Shares of the free cloth by which a lay is moved off the near cut end and the left selvedge, the least first.
const SHARES: [f64; 5] = [0.0, 0.1, 0.25, 0.5, 1.0];

/// On a cloth of open length a lay is moved off its end by at most so much of the bed's length: enough for marks.
const OF_THE_BED: f64 = 0.5;

/// Single pieces in all the splits that are tried together: of a large lay only few places and bands are tried.
const MOST_SPLIT: usize = 60_000;

/// So many splits of a lay of `pieces` are tried.
fn most_tries(pieces: usize) -> usize {
    MOST_SPLIT.div_ceil(pieces.max(1))
}

/// The lay on cloth `c` moved so that its passes have waste for their marks, by as little as does; `None` where no move
/// tried leaves it, or a piece was placed by hand. Nothing more is tried once the maker has asked to stop.
pub fn made(
    prepared: &Prepared,
    lay: &Lay,
    c: usize,
    split: &dyn Fn(&ClothLay) -> Result<Passes, PassTrouble>,
    watch: &dyn Watch,
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
    moves.into_iter().take(most_tries(on.placed.len())).find_map(|by| {
        if watch.stopped() {
            return None;
        }
        watch.step("passes", 0.5, &format!("room for marks on {}", cloth.name));
        let moved = lay::moved(on, cloth, by);
        let Prepared { job, pieces, cloths, .. } = prepared;
        if !lay::breaks(c, &moved, pieces, &job.pieces, cloths, job.lay.gap_mm, &|_| true).is_empty() {
            return None;
        }
        split(&moved).ok().map(|passes| (moved, passes))
    })
}

/// Bands tried in place of the cutter's own, as shares of it; the wider ones first, which give marks more room.
const BANDS: [f64; 8] = [1.25, 1.5, 2.0, 3.0, 4.0, 0.75, 0.5, 0.25];

/// The least a band may be, mm: what the job's sense asks.
const LEAST_BAND_MM: f64 = 10.0;

/// Why there are no passes where only room for marks is missing on the `cramped` cloths, with a band under which there are
/// some, if one that was tried gives them.
pub fn none(prepared: &Prepared, lay: &Lay, cramped: &[usize], watch: &dyn Watch) -> Trouble {
    let cutter = &prepared.job.cutter;
    let window = cutter.bed_mm.map(|side| side - 2.0 * cutter.margin_mm);
    let mut large: Vec<&str> = Vec::new();
    for placed in cramped.iter().flat_map(|c| &lay.cloths[*c].placed) {
        let b = placed.cut.bounds();
        let id = prepared.pieces[placed.piece].id.as_str();
        let longest = window[0].max(window[1]);
        if b.width().max(b.height()) > longest && !large.contains(&id) {
            large.push(id);
        }
    }
    let what = "no lay that was tried leaves waste for marks in every band that two passes share";
    let (what, hint) = match large[..] {
        [] => (what.to_owned(), "use a longer or wider cloth, or cut fewer pieces from this one"),
        [first, ..] => (
            format!(
                "{what}: piece {first} is larger than the bed, and marks lie beside it or in its cut-outs"
            ),
            "divide the piece in the drawing, or use a larger bed",
        ),
    };
    let all = |band: f64| {
        let other = Cutter { shared_band_mm: band, ..cutter.clone() };
        cramped.iter().all(|&c| {
            let split = |on: &ClothLay| split_with(prepared, &other, &prepared.cloths[c], on);
            split(&lay.cloths[c]).is_ok() || made(prepared, lay, c, &split, watch).is_some()
        })
    };
    let pieces: usize = cramped.iter().map(|c| lay.cloths[*c].placed.len()).sum();
    let most = window[0].min(window[1]);
    let tried = BANDS.into_iter().map(|share| (cutter.shared_band_mm * share).round());
    let fit = |band: &f64| (LEAST_BAND_MM.max(2.0 * cutter.joint_overlap_mm)..most).contains(band);
    let ways: Vec<Way> = tried
        .filter(fit)
        .take(most_tries(pieces))
        .find(|band| !watch.stopped() && all(*band))
        .map(|band| Way { changes: vec![Change::of_cutter("shared_band_mm", band as u64)] })
        .into_iter()
        .collect();
    let words: Vec<String> = ways.iter().map(Way::told).chain([hint.to_owned()]).collect();
    let trouble = Trouble::cannot("the passes", what).hint(words.join("; or "));
    Trouble { ways, ..trouble }
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
