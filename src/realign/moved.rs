//! A pass moved to where the cloth lies.

use crate::burn::{self, Burn, BurnKind};
use crate::job::Cutter;
use crate::plan::{self, Pair, PlanPass};
use crate::shape::{Affine, Bounds, Point, pt, tol};

/// The pass with the cloth lying on the bed as `map` says: burns, marks, key, bridges, lengths and time.
pub fn moved(pass: &PlanPass, map: &Affine, cutter: &Cutter) -> Option<PlanPass> {
    let back = Affine(pass.cloth_to_bed).inverse()?;
    // By way of the cloth, so that what was exact there stays so.
    let shift = |p: &Pair| pair(map.apply(back.apply(point(p))));
    let mut new = pass.clone();
    new.cloth_to_bed = map.0;
    for burn in &mut new.burns {
        burn.path.iter_mut().for_each(|p| *p = shift(p));
        burn.lead_in = burn.lead_in.as_ref().map(shift);
    }
    for mark in &mut new.marks {
        mark.bed = pair(map.apply(point(&mark.cloth)));
        (mark.measured, mark.left_out) = (None, false);
    }
    for bridge in &mut new.bridges {
        bridge.bed = pair(map.apply(point(&bridge.cloth)));
    }
    for line in &mut new.key {
        line.path.iter_mut().for_each(|p| *p = shift(p));
    }
    measure(&mut new, cutter);
    Some(new)
}

/// The rest of a pass from its burn number `from` (counted from 1) on: burns only. `None` when there is no such burn.
pub fn rest_of(pass: &PlanPass, from: usize, cutter: &Cutter) -> Option<PlanPass> {
    let mut rest = pass.clone();
    rest.burns = pass.burns.get(from.checked_sub(1)?..)?.to_vec();
    if rest.burns.is_empty() {
        return None;
    }
    measure(&mut rest, cutter);
    Some(rest)
}

/// Lengths and time of its burns.
fn measure(pass: &mut PlanPass, cutter: &Cutter) {
    let runs: Vec<Burn> = pass.burns.iter().map(run).collect();
    let (lengths, seconds) = burn::there_and_back(&runs, plan::resting_place(cutter), cutter, &pass.cloth);
    pass.cut_length_mm = round(lengths.cut_mm);
    pass.travel_length_mm = round(lengths.travel_mm);
    pass.seconds = round(seconds.total());
    pass.time.cut_s = round(seconds.cut);
    pass.time.travel_s = round(seconds.travel);
    pass.time.start_up_s = round(seconds.start_up);
}

/// What the beam does: with a lead-in a closed line is run from the waste and once round.
fn run(burn: &crate::plan::PlanBurn) -> Burn {
    let line = burn.path.iter().map(point);
    let kind = match burn.kind.as_str() {
        "mark" => BurnKind::Mark,
        "cutout" => BurnKind::Cutout,
        _ => BurnKind::Outline,
    };
    match &burn.lead_in {
        Some(at) => {
            let path = std::iter::once(point(at)).chain(line).chain(burn.path.first().map(point)).collect();
            Burn { kind, placed: None, ring: burn.ring, closed: false, path }
        }
        None => Burn { kind, placed: None, ring: burn.ring, closed: burn.closed, path: line.collect() },
    }
}

/// Burns that do not stay within the bed's margins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overrun {
    /// How far they reach beyond: left, near, right, far, mm; 0 where they do not.
    pub beyond_mm: [f64; 4],
    /// The shift of the cloth on the bed that brings all of them in; `None` when they are too large for any.
    pub shift_mm: Option<Pair>,
}

/// How far the burns of `pass` reach beyond the margins of its bed; `None` when they do not.
pub fn overrun(pass: &PlanPass) -> Option<Overrun> {
    let burnt = Bounds::of(pass.burns.iter().flat_map(|b| b.path.iter().chain(&b.lead_in)).map(point));
    if burnt.is_empty() {
        return None;
    }
    let m = pass.margin_mm;
    let [w, h] = pass.bed_mm;
    let beyond = [m - burnt.min.x, m - burnt.min.y, burnt.max.x - (w - m), burnt.max.y - (h - m)];
    if beyond.iter().all(|b| *b <= tol::SAME_POINT_MM) {
        return None;
    }
    let one = |low: f64, high: f64| match (low > 0.0, high > 0.0) {
        (true, _) if low + high <= 0.0 => Some(low),
        (_, true) if low + high <= 0.0 => Some(-high),
        (false, false) => Some(0.0),
        _ => None,
    };
    let shift = one(beyond[0], beyond[2]).zip(one(beyond[1], beyond[3]));
    Some(Overrun { beyond_mm: beyond.map(|b| b.max(0.0)), shift_mm: shift.map(|(x, y)| [x, y]) })
}

pub(super) fn point(p: &Pair) -> Point {
    pt(p[0], p[1])
}

pub(super) fn pair(p: Point) -> Pair {
    [round(p.x), round(p.y)]
}

/// Whole nanometres, and never −0.
pub(super) fn round(v: f64) -> f64 {
    (v * 1.0e6).round() / 1.0e6 + 0.0
}
