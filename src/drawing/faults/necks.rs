//! Places too narrow to survive.
//!
//! Where a region is thinner than a width, its edge falls into thin stretches, and stretches that face each
//! other belong to one thin place. How many stretches a thin place has tells how many wide places it joins:
//! a tip has one (it runs up to the point and back), a waist between two wide places two, so has a bridge
//! between a cut-out and the outline. Tips taper on purpose and are no necks; a tip that first narrows and
//! widens again, or that stays narrow over a long way, is one.

use std::collections::{BTreeMap, BTreeSet};

use super::sides::Sides;
use super::subject::Subject;
use super::thickness::{Edge, Look, Spot};
use super::{Fault, FaultKind, FaultLimits, Severity};
use crate::shape::{Point, Region, distance, lerp, tol};

/// A neck of a region.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Neck {
    /// Its narrowest place (of a part that is narrow everywhere its widest): the two points that face each other.
    pub across: (Point, Point),
    /// Distance of these, mm.
    pub width_mm: f64,
    /// How far it runs, mm.
    pub length_mm: f64,
    /// What sort.
    pub sort: Sort,
}

/// What sort of neck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sort {
    /// It joins this many wide places.
    Waist(usize),
    /// It is the narrowest place of a tip that widens again beyond it, though not to the width asked for.
    Stalk,
    /// A strip with a free end.
    Tongue,
    /// The region is no wider anywhere.
    Everywhere,
}

/// Flattened curves make a band look narrower by up to this, mm; necks are told from there on.
const FLATTENED_MM: f64 = tol::DRAWN_MM;

/// Two points face each other squarely from here on: cosine of the angle between edge and crossing, 37°.
const SQUARE: f64 = 0.8;

/// A tip that widens again by this factor beyond its narrowest place has a neck there.
const WIDENS: f64 = 1.25;

/// A tip at least this many widths long that still has this share of its width half-way along is a tongue.
const TONGUE_LENGTH: f64 = 3.0;
const TONGUE_SHARE: f64 = 0.85;

/// The necks of an element, the narrowest first.
pub(super) fn find(subject: &Subject, limits: &FaultLimits) -> Vec<Fault> {
    // A width that is no number gives the widest, as `min` goes by the other.
    let width_mm = limits.neck_mm.min(FaultLimits::WIDEST_NECK_MM);
    if width_mm <= FLATTENED_MM || !subject.means_its_inside(limits) {
        return Vec::new();
    }
    let regions = subject
        .element
        .filled
        .iter()
        .filter(|r| r.is_sane() && r.bounds().width().max(r.bounds().height()) >= limits.crumb_mm);
    let (mut necks, mut left) = (Vec::new(), MOST_LOOKS_OF_ONE);
    let mut gave_up = false;
    for region in regions {
        match of_region_within(region, width_mm, left) {
            Some((found, looks)) => {
                necks.extend(found);
                left -= looks.min(left);
            }
            None => gave_up = true,
        }
    }
    necks.sort_by(|a, b| a.width_mm.total_cmp(&b.width_mm));
    let mut faults: Vec<Fault> = necks.iter().map(|neck| tell(subject, neck, width_mm)).collect();
    if gave_up {
        faults.splice(0..0, subject.too_tangled(FaultKind::Neck, "necks"));
    }
    faults
}

fn tell(subject: &Subject, neck: &Neck, limit_mm: f64) -> Fault {
    let width = neck.width_mm;
    let over = if neck.length_mm >= 2.0 * limit_mm {
        format!(", {:.0} mm long", neck.length_mm)
    } else {
        String::new()
    };
    let (text, advice) = match neck.sort {
        Sort::Waist(2) | Sort::Stalk => (
            format!("A neck {width:.2} mm wide{over}, narrower than {limit_mm} mm."),
            "Widen it, or draw the two sides of it as pieces of their own.",
        ),
        Sort::Waist(_) => (
            format!(
                "A neck {width:.2} mm wide{over}, narrower than {limit_mm} mm, where several parts join."
            ),
            "Widen it, or draw its sides as pieces of their own.",
        ),
        Sort::Tongue => (
            format!("A strip {width:.2} mm wide{over}, with a free end, narrower than {limit_mm} mm."),
            "Widen it, or leave it to the stitching.",
        ),
        Sort::Everywhere => (
            format!("A whole part is nowhere wider than {width:.2} mm, less than {limit_mm} mm."),
            "Widen it, or leave it to the stitching.",
        ),
    };
    let at = lerp(neck.across.0, neck.across.1, 0.5);
    subject.fault(FaultKind::Neck, Severity::Mend, at, width, text, advice)
}

/// Most looks at the edge of one element: thirty metres of edge, all of it thin. More is a tangle or a weave, no
/// shape to cut.
const MOST_LOOKS_OF_ONE: usize = 40_000;

/// The necks of one region narrower than `width_mm`, in the order of its edge, and how often its edge was
/// looked at; `None` when that would be more than `most` times.
fn of_region_within(region: &Region, width_mm: f64, most: usize) -> Option<(Vec<Neck>, usize)> {
    let edge = Edge::new(region, width_mm - FLATTENED_MM);
    let looks = edge.look(most)?;
    let all: Vec<Look> = looks.iter().flatten().flatten().copied().collect();
    if !all.iter().any(|l| l.thin.is_some()) {
        return Some((Vec::new(), all.len()));
    }
    let runs = runs(&edge.sides, &looks, &all);
    let judged = places(&all, &runs)
        .into_values()
        .filter_map(|place| judge(&edge.sides, &all, &runs, &place))
        .collect();
    Some((judged, all.len()))
}

/// The necks of one region narrower than `width_mm`, however long it takes.
#[cfg(test)]
pub(super) fn of_region(region: &Region, width_mm: f64) -> Vec<Neck> {
    of_region_within(region, width_mm, usize::MAX).map_or_else(Vec::new, |(necks, _)| necks)
}

/// A stretch of thin edge.
struct Run {
    /// Looks that lie in it or have their opposite point in it.
    looks: Vec<usize>,
    ring: u32,
    /// Where it starts and how far it goes, mm along the ring.
    from_mm: f64,
    length_mm: f64,
    /// True when the whole ring is thin.
    whole_ring: bool,
}

/// The thin stretches of every ring.
fn runs(sides: &Sides, looks: &[Option<Vec<Look>>], all: &[Look]) -> Vec<Run> {
    // What is seen along each ring in order: thin looks and the spots across from them, or wide places.
    let mut seen: Vec<(Spot, Option<usize>)> = Vec::new();
    for (n, look) in all.iter().enumerate() {
        seen.push((look.spot, look.thin.is_some().then_some(n)));
        seen.extend(look.thin.map(|across| (across.spot, Some(n))));
    }
    for (side, looked) in looks.iter().enumerate() {
        if looked.is_none() {
            seen.push((Spot { side, share: 0.5 }, None));
        }
    }
    let order = |s: &Spot, t: &Spot| s.side.cmp(&t.side).then(s.share.total_cmp(&t.share));
    seen.sort_by(|a, b| order(&a.0, &b.0).then(a.1.cmp(&b.1)));
    let mut out = Vec::new();
    for on_ring in seen.chunk_by(|a, b| sides.all[a.0.side].ring == sides.all[b.0.side].ring) {
        runs_of_ring(sides, on_ring, &mut out);
    }
    out
}

/// Way along the ring to a spot, mm.
fn way_mm(sides: &Sides, spot: Spot) -> f64 {
    let side = &sides.all[spot.side];
    side.from_mm + side.length() * spot.share.max(0.0)
}

fn runs_of_ring(sides: &Sides, seen: &[(Spot, Option<usize>)], out: &mut Vec<Run>) {
    let Some(&(first, _)) = seen.first() else { return };
    let ring = sides.all[first.side].ring;
    let round_mm = sides.rings[ring as usize].length_mm;
    let Some(wide) = seen.iter().position(|s| s.1.is_none()) else {
        let looks = seen.iter().filter_map(|s| s.1).collect();
        out.push(Run { looks, ring, from_mm: 0.0, length_mm: round_mm, whole_ring: true });
        return;
    };
    // Start behind a wide place, so that no run is cut in two where the ring begins.
    let mut run: Option<Run> = None;
    for &(spot, thin) in seen[wide..].iter().chain(&seen[..wide]) {
        let way = way_mm(sides, spot);
        match (thin, &mut run) {
            (Some(n), Some(run)) => {
                run.looks.push(n);
                run.length_mm = (way - run.from_mm).rem_euclid(round_mm);
            }
            (Some(n), None) => {
                run = Some(Run { looks: vec![n], ring, from_mm: way, length_mm: 0.0, whole_ring: false });
            }
            (None, _) => out.extend(run.take()),
        }
    }
    out.extend(run);
}

/// Runs that face each other belong to one thin place: the runs of each place, by the lowest run.
fn places(all: &[Look], runs: &[Run]) -> BTreeMap<usize, Vec<usize>> {
    let mut run_of_look: Vec<Option<usize>> = vec![None; all.len()];
    let mut parent: Vec<usize> = (0..runs.len()).collect();
    fn root(parent: &mut [usize], mut i: usize) -> usize {
        while parent[i] != i {
            parent[i] = parent[parent[i]];
            i = parent[i];
        }
        i
    }
    for (r, run) in runs.iter().enumerate() {
        for &look in &run.looks {
            match run_of_look[look] {
                None => run_of_look[look] = Some(r),
                Some(other) => {
                    let (a, b) = (root(&mut parent, r), root(&mut parent, other));
                    parent[a.max(b)] = a.min(b);
                }
            }
        }
    }
    let mut places: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for r in 0..runs.len() {
        places.entry(root(&mut parent, r)).or_default().push(r);
    }
    places
}

/// What a thin place is, if it is a neck.
fn judge(sides: &Sides, all: &[Look], runs: &[Run], place: &[usize]) -> Option<Neck> {
    let ends = place.iter().filter(|&&r| !runs[r].whole_ring).count();
    let whole = place.len() - ends;
    let length_mm = place.iter().map(|&r| runs[r].length_mm).fold(0.0, f64::max);
    match (ends, whole) {
        (0, _) => {
            let seen = place.iter().flat_map(|&r| &runs[r].looks).map(|&n| &all[n]);
            let widest = seen
                .filter_map(|l| l.thin.map(|a| (a.diameter_mm, l.spot, a.spot)))
                .max_by(|x, y| x.0.total_cmp(&y.0).then(y.1.side.cmp(&x.1.side)))?;
            let across = (point(sides, widest.1), point(sides, widest.2));
            Some(Neck { across, width_mm: widest.0, length_mm: length_mm / 2.0, sort: Sort::Everywhere })
        }
        (1, 0) => of_tip(sides, all, &runs[*place.first()?]),
        _ => {
            let (width_mm, across) = narrowest(sides, between_runs(all, runs, place).into_iter())?;
            Some(Neck { across, width_mm, length_mm, sort: Sort::Waist(ends.max(2)) })
        }
    }
}

/// The looks from one run to another, in order; a look back to its own run crosses a spur, not the waist.
fn between_runs<'a>(all: &'a [Look], runs: &[Run], place: &[usize]) -> Vec<&'a Look> {
    let mut of_look: BTreeMap<usize, usize> = BTreeMap::new();
    let mut between = BTreeSet::new();
    for &r in place {
        for &n in &runs[r].looks {
            if *of_look.entry(n).or_insert(r) != r {
                between.insert(n);
            }
        }
    }
    between.into_iter().map(|n| &all[n]).collect()
}

fn point(sides: &Sides, spot: Spot) -> Point {
    let side = &sides.all[spot.side];
    lerp(side.a, side.b, spot.share.max(0.0))
}

/// The narrowest crossing among looks: the squarely facing ones if there are any.
fn narrowest<'a>(sides: &Sides, looks: impl Iterator<Item = &'a Look>) -> Option<(f64, (Point, Point))> {
    let look = looks
        .filter_map(|l| {
            l.thin.map(|a| (a.square < SQUARE, a.diameter_mm / a.square.max(f64::MIN_POSITIVE), l, a))
        })
        .min_by(|x, y| x.0.cmp(&y.0).then(x.1.total_cmp(&y.1)));
    let (_, _, look, across) = look?;
    Some(nearest_crossing(sides, look.spot.side, across.spot.side))
}

/// The shortest way across between two sides or, as the shortest often ends in corners, between those next to
/// them.
fn nearest_crossing(sides: &Sides, i: usize, j: usize) -> (f64, (Point, Point)) {
    let with_next = |k: usize| [Some(k), sides.before(k), sides.after(k)].into_iter().flatten();
    let crossing = |i: usize, j: usize| {
        let (s, t) = (&sides.all[i], &sides.all[j]);
        [(s.a, t.nearest(s.a).0), (s.b, t.nearest(s.b).0), (s.nearest(t.a).0, t.a), (s.nearest(t.b).0, t.b)]
            .map(|(p, q)| (distance(p, q), (p, q)))
            .into_iter()
            .min_by(|x, y| x.0.total_cmp(&y.0))
    };
    with_next(i)
        .flat_map(|i| with_next(j).map(move |j| (i, j)))
        .filter(|&(k, l)| {
            (k, l) == (i, j) || sides.ways_between(k, l).is_none_or(|ways| ways[0].min(ways[1]) > 0.0)
        })
        .filter_map(|(k, l)| crossing(k, l))
        .min_by(|x, y| x.0.total_cmp(&y.0))
        .unwrap_or_else(|| (0.0, (sides.all[i].a, sides.all[j].a)))
}

/// The neck in a tip: one that narrows and widens again, or that stays narrow over a long way.
fn of_tip(sides: &Sides, all: &[Look], run: &Run) -> Option<Neck> {
    let span = sides.rings[run.ring as usize];
    let depth = |way: f64| (way - run.from_mm).rem_euclid(span.length_mm);
    // Crossings nested in each other from the tip's foot to its point.
    let mut nested: Vec<(f64, f64, &Look)> = Vec::new();
    let mut looks: Vec<&Look> = run.looks.iter().map(|&n| &all[n]).collect();
    looks.sort_by(|a, b| depth(way_mm(sides, a.spot)).total_cmp(&depth(way_mm(sides, b.spot))));
    let mut closes_at = f64::INFINITY;
    for look in looks {
        let Some(across) = look.thin.filter(|a| a.square >= SQUARE) else { continue };
        let (from, to) = (depth(way_mm(sides, look.spot)), depth(way_mm(sides, across.spot)));
        if from < to && to <= closes_at {
            closes_at = to;
            nested.push((from, across.diameter_mm, look));
        }
    }
    let (_, foot_width, _) = *nested.first()?;
    let mut low = (f64::INFINITY, None);
    for &(_, width, look) in &nested {
        if width < low.0 {
            low = (width, Some(look));
        } else if width >= low.0 * WIDENS && width - low.0 >= FLATTENED_MM * 2.0 {
            let (width_mm, across) = narrowest(sides, low.1.into_iter())?;
            return Some(Neck { across, width_mm, length_mm: 0.0, sort: Sort::Stalk });
        }
    }
    let length_mm = run.length_mm / 2.0;
    let half_way = nested
        .iter()
        .min_by(|a, b| (a.0 - length_mm / 2.0).abs().total_cmp(&(b.0 - length_mm / 2.0).abs()))?;
    let long = length_mm >= TONGUE_LENGTH * foot_width && length_mm > 0.0;
    if long && half_way.1 >= TONGUE_SHARE * foot_width {
        let (width_mm, across) = narrowest(sides, std::iter::once(half_way.2))?;
        return Some(Neck { across, width_mm, length_mm, sort: Sort::Tongue });
    }
    None
}
