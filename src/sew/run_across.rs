//! How well the pattern runs across from one piece to its neighbour.
//!
//! Two pieces on patterned cloth are neighbours when their drawn edges, or the edge of the upper one and the
//! region of the lower, lie within a distance of each other along at least [`LEAST_COMMON_MM`]. What is measured:
//!
//! - *Phase*, where both carry the same pattern the same way round (a half turn counts as that where it leaves the
//!   pattern as it is): the vector by which the lower piece's pattern lies off that of the upper one, less whole
//!   repeats, in mm across and along. Its score is Π (1 − 2·|off| / repeat) over the directions that repeat: 1 in step,
//!   0 half a repeat out.
//! - *Colours*, where the threads are known: along the common edge what the upper cloth shows at a point against what
//!   the lower one would show at that same point of the drawing, as the mean CIE 1976 difference D; and D₀, the
//!   same between any point of one repeat and any point of the other: chance. The score is 1 − D / D₀, not below 0.
//!   Single threads are mixed: two cloths are compared as seen from across a room.
//!
//! The score of the pair is that of the colours where there is one, else that of the phase. (Both formulas are ours:
//! there is no published one.)

use std::collections::BTreeMap;

use rstar::RTree;

use super::sewn::{SewnPiece, Work};
use super::side::Side;
use crate::cloth::lab::{apart, lab};
use crate::cloth::look::Look;
use crate::cloth::{Cloth, Pattern};
use crate::shape::{Point, Ring, distance, lerp, pt};

/// Pieces are neighbours within so many widths of the border: room for both borders and as much bare ground
/// between them, which the eye still leaps. (Common practice, no source.)
pub const NEAR_BORDERS: f64 = 4.0;

/// Points of an edge that are looked at lie this far apart, mm.
const STEP_MM: f64 = 2.0;

/// Most points looked at along one ring.
const MOST_POINTS: f64 = 4_000.0;

/// Pieces with less of an edge in common only touch, mm.
const LEAST_COMMON_MM: f64 = 10.0;

/// Up to here a pattern runs through, mm: about what the border's edge hides. (Common practice, no source.)
const IN_STEP_MM: f64 = 0.5;

/// Without a phase the pattern runs through from this score on.
const LIKE_ENOUGH: f64 = 0.95;

/// Colours nearer to each other than this by chance are no pattern to the eye; see [`apart`].
const SEEN: f64 = 2.3;

/// Points across and along one repeat that stand for all of it.
const GRID: i32 = 12;

/// The pattern across two neighbours.
#[derive(Clone, Debug, PartialEq)]
pub struct RunAcross {
    /// The upper piece, by its own index.
    pub upper: usize,
    /// The lower one.
    pub lower: usize,
    /// A point about the middle of the common edge, drawing frame.
    pub at: Point,
    /// Length of the upper piece's edge that they have in common, mm.
    pub common_mm: f64,
    /// By how much the lower pattern lies off the upper, across and along, mm, on the upper piece's cloth; `None`
    /// where nothing repeats that way or the two patterns cannot be compared.
    pub off_mm: [Option<f64>; 2],
    /// Score of the colours either side, 0 to 1.
    pub colours: Option<f64>,
    /// Score of the pair, 0 to 1.
    pub score: f64,
    /// True when the pattern runs through.
    pub runs_through: bool,
}

/// Every pair of neighbours within `near_mm`, in stacking order.
pub fn run_across(work: &Work, cloths: &[Cloth], near_mm: f64) -> Vec<RunAcross> {
    let patterned = |p: &SewnPiece| p.cloth.and_then(|c| cloths.get(c)).is_some_and(|c| c.pattern.is_some());
    let borders = borders(work, near_mm, &|upper, lower| patterned(upper) && patterned(lower));
    let mut at: BTreeMap<usize, &SewnPiece> = BTreeMap::new();
    at.extend(work.pieces.iter().map(|p| (p.index, p)));
    let across = |b: &Border| {
        Some(measured(on_pattern(at.get(&b.upper)?, cloths)?, on_pattern(at.get(&b.lower)?, cloths)?, b))
    };
    borders.iter().filter_map(across).collect()
}

/// A piece with its cloth and that cloth's pattern.
type OnPattern<'a> = (&'a SewnPiece, (&'a Cloth, &'a Pattern));

fn on_pattern<'a>(piece: &'a SewnPiece, cloths: &'a [Cloth]) -> Option<OnPattern<'a>> {
    let cloth = cloths.get(piece.cloth?)?;
    Some((piece, (cloth, cloth.pattern.as_ref()?)))
}

/// Where two pieces of a drawing border on each other: that depends on no lay.
#[derive(Clone, Debug, PartialEq)]
pub struct Border {
    /// The upper piece, by its own index.
    pub upper: usize,
    /// The lower one.
    pub lower: usize,
    common: Common,
}

/// The borders within `near_mm` between pieces of which `wanted` is true (the upper one first), in stacking order.
pub fn borders(work: &Work, near_mm: f64, wanted: &dyn Fn(&SewnPiece, &SewnPiece) -> bool) -> Vec<Border> {
    let mut sides: Vec<Option<RTree<Side>>> = work.pieces.iter().map(|_| None).collect();
    let mut all = Vec::new();
    for (u, upper) in work.pieces.iter().enumerate() {
        for (l, lower) in work.pieces.iter().enumerate().take(u) {
            if !work.bounds(u).grown(near_mm).meets(work.bounds(l)) || !wanted(upper, lower) {
                continue;
            }
            let tree = sides[l].get_or_insert_with(|| Side::tree(&lower.drawn));
            let common = common_edge(work, u, l, tree, near_mm);
            if common.length_mm >= LEAST_COMMON_MM {
                all.push(Border { upper: upper.index, lower: lower.index, common });
            }
        }
    }
    all
}

/// By how much the lower pattern lies off the upper at a border, across and along, and whether it runs through, as
/// [`RunAcross`] tells it; `None` where either has no pattern.
pub fn through(
    border: &Border,
    upper: &SewnPiece,
    lower: &SewnPiece,
    cloths: &[Cloth],
) -> Option<([Option<f64>; 2], bool)> {
    let ((_, (upper_cloth, above)), (_, (lower_cloth, below))) =
        (on_pattern(upper, cloths)?, on_pattern(lower, cloths)?);
    let points = &border.common.points;
    let off = phase_off(upper, above, lower, below, border.common.middle());
    let runs = in_step(off).unwrap_or_else(|| {
        colours(upper, upper_cloth, lower, lower_cloth, points).is_some_and(|c| c >= LIKE_ENOUGH)
    });
    Some((off.unwrap_or([None, None]), runs))
}

fn in_step(off: Option<[Option<f64>; 2]>) -> Option<bool> {
    off.map(|off| off.iter().flatten().all(|mm| mm.abs() <= IN_STEP_MM))
}

/// Points of the upper piece's edge that border on the lower.
#[derive(Clone, Debug, PartialEq)]
struct Common {
    points: Vec<Point>,
    length_mm: f64,
}

impl Common {
    fn middle(&self) -> Point {
        self.points.get(self.points.len() / 2).copied().unwrap_or_default()
    }
}

fn common_edge(work: &Work, u: usize, l: usize, lower_sides: &RTree<Side>, near_mm: f64) -> Common {
    let (upper, lower) = (&work.pieces[u].drawn, &work.pieces[l].drawn);
    let reach = work.bounds(l).grown(near_mm);
    let borders = |q: Point| {
        if !reach.contains(q) || work.is_hidden(u, q) {
            return false;
        }
        if lower.contains(q) {
            return true;
        }
        let Some(side) = lower_sides.nearest_neighbor(&[q.x, q.y]) else { return false };
        let nearest = side.nearest(q).0;
        // A slender piece has a far edge near by as well: only the one that faces the other piece counts.
        let crosses = |share: f64| upper.contains(lerp(q, nearest, share));
        distance(nearest, q) <= near_mm && !crosses(0.05) && !crosses(0.5)
    };
    let mut common = Common { points: Vec::new(), length_mm: 0.0 };
    for ring in upper.rings() {
        let (points, step) = spaced(ring);
        let here: Vec<Point> = points.into_iter().filter(|q| borders(*q)).collect();
        common.length_mm += step * here.len() as f64;
        common.points.extend(here);
    }
    common
}

/// Points evenly spaced along a ring, and how far apart.
fn spaced(ring: &Ring) -> (Vec<Point>, f64) {
    let length = ring.length();
    let n = (length / STEP_MM).round().clamp(1.0, MOST_POINTS);
    let step = length / n;
    let mut points = Vec::with_capacity(n as usize);
    let mut next = step / 2.0;
    let mut gone = 0.0;
    for (a, b) in ring.sides() {
        let d = distance(a, b);
        while d > 0.0 && next < gone + d {
            points.push(lerp(a, b, (next - gone) / d));
            next += step;
        }
        gone += d;
    }
    (points, step)
}

fn measured(
    (upper, (upper_cloth, above)): OnPattern,
    (lower, (lower_cloth, below)): OnPattern,
    border: &Border,
) -> RunAcross {
    let common = &border.common;
    let at = common.middle();
    let off = phase_off(upper, above, lower, below, at);
    let off_mm = off.unwrap_or([None, None]);
    let colours = colours(upper, upper_cloth, lower, lower_cloth, &common.points);
    let repeats = [above.lattice.a, above.lattice.b];
    let phase_score = off.map(|off| {
        let each = off.iter().zip(repeats).filter_map(|(off, repeat)| Some((off.as_ref()?, repeat?)));
        each.map(|(off, v)| (1.0 - 2.0 * off.abs() / distance(v, pt(0.0, 0.0))).max(0.0)).product::<f64>()
    });
    RunAcross {
        upper: upper.index,
        lower: lower.index,
        at,
        common_mm: common.length_mm,
        off_mm,
        colours,
        score: colours.or(phase_score).unwrap_or(0.0),
        runs_through: in_step(off).unwrap_or_else(|| colours.is_some_and(|c| c >= LIKE_ENOUGH)),
    }
}

/// By how much the lower pattern lies off the upper, less whole repeats; `None` when they are not the same
/// pattern the same way round.
fn phase_off(
    upper: &SewnPiece,
    above: &Pattern,
    lower: &SewnPiece,
    below: &Pattern,
    at: Point,
) -> Option<[Option<f64>; 2]> {
    let same = above.lattice.a == below.lattice.a
        && above.lattice.b == below.lattice.b
        && above.half_turn == below.half_turn
        && above.warp_threads == below.warp_threads
        && above.weft_threads == below.weft_threads;
    let turned = (lower.pose.turn_deg - upper.pose.turn_deg).rem_euclid(360.0);
    let is = |deg: f64| (turned - deg).abs() < 1e-6 || (turned - deg - 360.0).abs() < 1e-6;
    let on_upper = upper.pose.apply(at) - above.lattice.origin;
    let on_lower = lower.pose.apply(at) - below.lattice.origin;
    let off = match (same, is(0.0), is(180.0) && above.half_turn) {
        (true, true, _) => on_upper - on_lower,
        // The same pattern seen from the other end: −w shows what w shows.
        (true, _, true) => on_upper + on_lower,
        _ => return None,
    };
    let lattice = &above.lattice;
    let share = lattice.fractions(off - lattice.nearest(off));
    let along = |v: Option<Point>, share: f64| v.map(|v| share * distance(v, pt(0.0, 0.0)));
    Some([along(lattice.a, share.x), along(lattice.b, share.y)])
}

/// Score of the colours either side of the common edge; `None` when the threads of either are not known, or
/// differ too little to be seen.
fn colours(
    upper: &SewnPiece,
    upper_cloth: &Cloth,
    lower: &SewnPiece,
    lower_cloth: &Cloth,
    points: &[Point],
) -> Option<f64> {
    let (above, below) = (seen(upper_cloth)?, seen(lower_cloth)?);
    let (one, other) = (repeat_of(upper_cloth, &above), repeat_of(lower_cloth, &below));
    let all = one.iter().flat_map(|p| other.iter().map(|q| apart(*p, *q)));
    let by_chance = all.sum::<f64>() / (one.len() * other.len()).max(1) as f64;
    if by_chance < SEEN || points.is_empty() {
        return None;
    }
    let differ =
        |q: &Point| apart(lab(above.colour(upper.pose.apply(*q))), lab(below.colour(lower.pose.apply(*q))));
    let mean = points.iter().map(differ).sum::<f64>() / points.len() as f64;
    Some((1.0 - mean / by_chance).max(0.0))
}

/// A cloth seen from so far that its threads mix; `None` when they are not known.
fn seen(cloth: &Cloth) -> Option<Look> {
    let pattern = cloth.pattern.as_ref()?;
    if pattern.warp_threads.is_empty() && pattern.weft_threads.is_empty() {
        return None;
    }
    let thread_mm = pattern.thread_mm[0].max(pattern.thread_mm[1]);
    Some(Look::new(cloth, (2.0 * thread_mm).max(1.0)))
}

/// Colours all over one repeat.
fn repeat_of(cloth: &Cloth, look: &Look) -> Vec<[f64; 3]> {
    let Some(lattice) = cloth.pattern.as_ref().map(|p| p.lattice) else { return Vec::new() };
    let share = |k: i32| (f64::from(k) + 0.5) / f64::from(GRID);
    let each = (0..GRID).flat_map(|i| (0..GRID).map(move |j| pt(share(i), share(j))));
    each.map(|s| lab(look.colour(lattice.origin + lattice.vector(s)))).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sewn::tests::{cloths, piece, square};
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    /// Two squares side by side, 4 mm apart, the second shifted by `off` on the cloth.
    fn side_by_side(turn_deg: f64, off: Point) -> RunAcross {
        let cloths = cloths();
        let lattice = cloths[0].pattern.as_ref().unwrap().lattice;
        let first = piece(square(0.0, 0.0, 80.0), 0.0, pt(100.0, 100.0), 0);
        let whole = lattice.a.unwrap() * 3.0 + lattice.b.unwrap();
        let shift = match turn_deg {
            0.0 => first.pose.shift + whole + off,
            // p + s and 2·o − (p + s) show the same.
            _ => lattice.origin * 2.0 - first.pose.shift - whole - off,
        };
        let second = piece(square(84.0, 0.0, 80.0), turn_deg, shift, 1);
        let mut pairs = run_across(&Work::new(vec![first, second]), &cloths, 6.0);
        assert_eq!(pairs.len(), 1);
        pairs.remove(0)
    }

    #[test]
    fn a_pattern_in_step_runs_through_also_after_a_half_turn() {
        for turn in [0.0, 180.0] {
            let pair = side_by_side(turn, pt(0.0, 0.0));
            assert!(pair.runs_through && pair.score > 0.999, "{turn}: {pair:?}");
            assert!(pair.off_mm.iter().all(|mm| mm.unwrap().abs() < 1e-9));
            assert_eq!((pair.upper, pair.lower), (1, 0));
            assert!((pair.common_mm - 80.0).abs() < 4.1, "{}", pair.common_mm);
            assert!((pair.at.x - 84.0).abs() < 1e-9);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

        /// The shift put in comes out, whole repeats left aside, and farther off is never called better by phase.
        #[test]
        fn what_is_off_is_measured(x in -12.0..12.0f64, y in -12.0..12.0f64, half in any::<bool>()) {
            let lattice = cloths()[0].pattern.as_ref().unwrap().lattice;
            let pair = side_by_side(if half { 180.0 } else { 0.0 }, pt(x, y));
            // The upper lies `off` farther along on the cloth; the lower one's pattern seems moved by it.
            let found = lattice.vector(pt(
                pair.off_mm[0].unwrap() / distance(lattice.a.unwrap(), pt(0.0, 0.0)),
                pair.off_mm[1].unwrap() / distance(lattice.b.unwrap(), pt(0.0, 0.0)),
            ));
            // For the half-turned piece the same sum in its own words.
            let want = pt(x, y);
            let miss = lattice.residual(found - want).min(lattice.residual(found + want));
            prop_assert!(miss < 1e-6, "{found:?} for {want:?}");
            prop_assert!((0.0..=1.0).contains(&pair.score));
            prop_assert_eq!(pair.runs_through, pair.off_mm.iter().flatten().all(|mm| mm.abs() <= IN_STEP_MM));
        }
    }

    #[test]
    fn half_a_repeat_out_scores_about_chance() {
        let lattice = cloths()[0].pattern.as_ref().unwrap().lattice;
        let pair = side_by_side(0.0, lattice.vector(pt(0.5, 0.5)));
        assert!(!pair.runs_through && pair.score < 0.35, "{pair:?}");
        let nearly = side_by_side(0.0, pt(1.0, 0.0));
        assert!(nearly.score > pair.score + 0.2 && nearly.score < 0.999, "{nearly:?}");
    }

    #[test]
    fn cloth_known_by_its_repeats_is_judged_by_phase() {
        let spec = json!({"name": "c", "width_mm": 900, "pattern": {"repeat_across_mm": 40, "repeat_along_mm": 50,
            "symmetrical": false}});
        let cloth = crate::cloth::understand(&serde_json::from_value(spec).unwrap(), "cloths[0]").unwrap().0;
        let pair = |turn: f64| {
            let first = piece(square(0.0, 0.0, 80.0), 0.0, pt(0.0, 0.0), 0);
            let second = piece(square(80.0, 0.0, 80.0), turn, pt(-10.0, 0.0), 1);
            run_across(&Work::new(vec![first, second]), std::slice::from_ref(&cloth), 6.0).remove(0)
        };
        let off = pair(0.0);
        assert_eq!((off.off_mm, off.colours), ([Some(-10.0), Some(0.0)], None));
        assert!((off.score - 0.5).abs() < 1e-9, "a quarter of a repeat out: {}", off.score);
        // The other way up it is another pattern.
        assert_eq!((pair(180.0).off_mm, pair(180.0).score), ([None, None], 0.0));
    }

    #[test]
    fn only_what_borders_and_shows_is_a_neighbour() {
        let cloths = cloths();
        let at = |x: f64, order| piece(square(x, 0.0, 60.0), 0.0, pt(0.0, 0.0), order);
        let count = |pieces: Vec<SewnPiece>| run_across(&Work::new(pieces), &cloths, 6.0).len();
        assert_eq!(count(vec![at(0.0, 0), at(67.0, 1)]), 0);
        assert_eq!(count(vec![at(0.0, 0), at(65.0, 1)]), 1);
        // A third piece over the common edge hides it, and is itself a neighbour of both.
        assert_eq!(
            count(vec![at(0.0, 0), at(62.0, 1), piece(square(20.0, -30.0, 120.0), 0.0, pt(0.0, 0.0), 2)]),
            1
        );
        // Plain cloth has no pattern to run across.
        let mut plain = at(65.0, 1);
        plain.cloth = Some(1);
        assert_eq!(count(vec![at(0.0, 0), plain]), 0);
        // A slender piece has its far edge near by too, which borders on nothing.
        let thin = Ring::from_pairs(&[[62.0, 0.0], [64.0, 0.0], [64.0, 60.0], [62.0, 60.0]]);
        let thin = piece(crate::shape::Region::new(thin, Vec::new()), 0.0, pt(0.0, 0.0), 1);
        let pairs = run_across(&Work::new(vec![at(0.0, 0), thin]), &cloths, 6.0);
        assert!((pairs[0].common_mm - 60.0).abs() < 6.0, "{}", pairs[0].common_mm);
    }
}
