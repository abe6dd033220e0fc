//! What of a piece has to be stitched before what of another that lies on it.

use rayon::prelude::*;

use super::overs::Over;
use super::stretches::Stretches;
use crate::shape::{Point, Region, distance};

/// Cloth of a piece that no field holds is folded back from where it is not sewn yet; stitches of two pieces this
/// near each other are not kept apart so: the foot of the machine needs the room, mm (common practice, no source).
pub(super) const NEAR_MM: f64 = 10.0;

/// By stretch: those of lower pieces that are sewn before it.
///
/// Where one piece lies on another:
/// - a whole piece and what the other has stitched on that place wait for each other, since a whole piece cannot be
///   folded back;
/// - of two pieces that no field holds, the stretches on that place that come near each other;
/// - what the upper one has stitched there waits for the nearest edge of the lower one, which else would not lie there yet;
///   and what the lower one has stitched there is waited for by the nearest edge of the upper one, which else would
///   lie in the way.
pub(super) fn waits(stretches: &Stretches, overs: &[Over]) -> Vec<Vec<usize>> {
    let pairs: Vec<Vec<(usize, usize)>> = overs.par_iter().map(|over| of_one(stretches, over)).collect();
    let mut after: Vec<Vec<usize>> = vec![Vec::new(); stretches.all.len()];
    for (lower, upper) in pairs.into_iter().flatten() {
        after[upper].push(lower);
    }
    for waits in &mut after {
        waits.sort_unstable();
        waits.dedup();
    }
    after
}

/// (lower, upper) stretches of one piece on another.
fn of_one(stretches: &Stretches, over: &Over) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    for place in &over.places {
        let lower = on_place(stretches, over.lower, place);
        let upper = on_place(stretches, over.upper, place);
        if stretches.whole(over.lower) || stretches.whole(over.upper) {
            let each = |points: &[(Point, usize)]| {
                let mut all: Vec<usize> = points.iter().map(|p| p.1).collect();
                all.dedup();
                all
            };
            let uppers = each(&upper);
            pairs.extend(each(&lower).iter().flat_map(|&l| uppers.iter().map(move |&u| (l, u))));
        } else {
            pairs.extend(near(&lower, &upper));
        }
        pairs.extend(upper.iter().map(|&(p, u)| (stretches.nearest(over.lower, p), u)));
        pairs.extend(lower.iter().map(|&(p, l)| (l, stretches.nearest(over.upper, p))));
        if lower.is_empty() && upper.is_empty() {
            // Only their borders meet.
            let round = place.rings().flat_map(|r| r.points.iter().copied());
            pairs.extend(round.map(|p| (stretches.nearest(over.lower, p), stretches.nearest(over.upper, p))));
        }
        pairs.sort_unstable();
        pairs.dedup();
    }
    pairs
}

/// Points of `piece` on `place`, each with its stretch.
fn on_place(stretches: &Stretches, piece: usize, place: &Region) -> Vec<(Point, usize)> {
    let reach = place.bounds();
    let (from, to) = stretches.of[piece];
    let near = (from..to).filter(|&k| stretches.all[k].bounds.meets(reach));
    let points = near.flat_map(|k| stretches.all[k].points.iter().map(move |&p| (p, k)));
    points.filter(|(p, _)| reach.contains(*p) && place.contains(*p)).collect()
}

/// The pairs of stretches that come near each other.
fn near(some: &[(Point, usize)], others: &[(Point, usize)]) -> Vec<(usize, usize)> {
    let mut others = others.to_vec();
    others.sort_by(|a, b| a.0.x.total_cmp(&b.0.x));
    let mut pairs = Vec::new();
    for &(p, k) in some {
        let first = others.partition_point(|o| o.0.x < p.x - NEAR_MM);
        let within = others[first..].iter().take_while(|o| o.0.x <= p.x + NEAR_MM);
        pairs.extend(within.filter(|o| distance(o.0, p) < NEAR_MM).map(|o| (k, o.1)));
    }
    pairs.sort_unstable();
    pairs.dedup();
    pairs
}
