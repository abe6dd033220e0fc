//! What can be measured on the cloth before a pass: marks that are burnt, or crossings of its pattern's pivots.

use super::build::pair;
use super::cloth_model::PlanCloth;
use super::model::{Pair, Plan, PlanPass};
use crate::shape::{
    Affine, Bounds, Join, Lattice, Point, Region, Ring, booleans, distance, in_a_line, offset, pt, tol,
};

/// A place on the cloth that can be found again.
#[derive(Clone, Debug, PartialEq)]
pub struct ToMeasure {
    /// The mark's name, or which pivot it is, as a reading of it is named.
    pub name: String,
    /// Where the plan has it on the bed, mm.
    pub bed: Pair,
    /// True for a crossing of pivots, false for a mark.
    pub pivot: bool,
}

/// What a crossing of pivots is called: whole repeats across and along from the pattern's origin.
pub fn pivot_name(across: i32, along: i32) -> String {
    format!("pivot {across} {along}")
}

/// Crossings looked at: with smaller repeats than that makes of the bed, only every second, third, … is.
const MOST_CROSSINGS: f64 = 200_000.0;

/// What can be measured before the pass at `which`: the marks earlier passes have burnt; for a first pass as many as four
/// crossings of pivots, far apart, that lie on good cloth and within reach of the head. Nothing where the cloth has no
/// such pattern.
pub fn to_measure(plan: &Plan, which: usize) -> Vec<ToMeasure> {
    let pass = &plan.passes[which];
    let burnt = pass.marks.iter().filter(|m| !m.burnt_here);
    let marks: Vec<ToMeasure> =
        burnt.map(|m| ToMeasure { name: m.name.clone(), bed: m.bed, pivot: false }).collect();
    let first = !plan.passes.iter().any(|p| p.cloth == pass.cloth && p.number < pass.number);
    if !marks.is_empty() || !first {
        return marks;
    }
    let Some(cloth) = plan.cloths.iter().find(|c| c.name == pass.cloth) else { return Vec::new() };
    let Some(repeats) = repeats(cloth) else { return Vec::new() };
    far_apart(&within_reach(pass, cloth, &repeats))
}

/// Both repeats of the cloth's pattern; `None` where it has none, or repeats one way only.
fn repeats(cloth: &PlanCloth) -> Option<Lattice> {
    let pattern = cloth.pattern.as_ref()?;
    let point = |p: Pair| pt(p[0], p[1]);
    let (a, b) = (pattern.a.map(point)?, pattern.b.map(point)?);
    let (area, sides) = (a.x * b.y - a.y * b.x, distance(a, pt(0.0, 0.0)) * distance(b, pt(0.0, 0.0)));
    (area.is_finite() && area.abs() > FLAT * sides).then(|| Lattice {
        a: Some(a),
        b: Some(b),
        origin: point(pattern.origin),
    })
}

/// Repeats of less area than this, as a share of the product of their lengths, run the same way.
const FLAT: f64 = 1.0e-6;

/// A crossing: whole repeats across and along, and where it lies on the bed.
type Crossing = (i32, i32, Point);

/// The crossings on good cloth, within the bed less its margin.
fn within_reach(pass: &PlanPass, cloth: &PlanCloth, repeats: &Lattice) -> Vec<Crossing> {
    let to_bed = Affine(pass.cloth_to_bed);
    let Some(to_cloth) = to_bed.inverse() else { return Vec::new() };
    let [w, h] = pass.bed_mm;
    let m = pass.margin_mm;
    let reach = Bounds::new(pt(m, m), pt(w - m, h - m));
    let good = good_cloth(cloth);
    // The part of the cloth under the bed, counted in repeats.
    let under = Bounds::of(reach.corners().map(|p| to_cloth.apply(p)));
    let on = Bounds::of(good.iter().flat_map(|r| r.bounds().corners()));
    let shared = Bounds::new(
        pt(under.min.x.max(on.min.x), under.min.y.max(on.min.y)),
        pt(under.max.x.min(on.max.x), under.max.y.min(on.max.y)),
    );
    if !(shared.width() > 0.0 && shared.height() > 0.0) {
        return Vec::new();
    }
    let counted = Bounds::of(shared.corners().map(|p| repeats.fractions(p - repeats.origin)));
    let step = (counted.width() * counted.height() / MOST_CROSSINGS).sqrt().ceil().max(1.0);
    let from = |v: f64| (v / step).ceil() as i32;
    let upto = |v: f64| (v / step).floor() as i32;
    let mut all = Vec::new();
    for i in from(counted.min.x)..=upto(counted.max.x) {
        for j in from(counted.min.y)..=upto(counted.max.y) {
            let (i, j) = (i.saturating_mul(step as i32), j.saturating_mul(step as i32));
            let at = repeats.origin + repeats.vector(pt(f64::from(i), f64::from(j)));
            let bed = to_bed.apply(at);
            if reach.contains(bed) && good.iter().any(|r| r.contains(at)) {
                all.push((i, j, bed));
            }
        }
    }
    all
}

/// The cloth within its edge strip, without its flaws.
fn good_cloth(cloth: &PlanCloth) -> Vec<Region> {
    let region = |pairs: &[Pair]| Region::new(Ring::from_pairs(pairs), Vec::new());
    let inner = offset(&[region(&cloth.outline)], -cloth.edge_mm, Join::Mitre);
    let flaws: Vec<Region> = cloth.flaws.iter().map(|f| region(f)).collect();
    booleans::difference(&inner, &flaws)
}

/// Those nearest to the four corners of where they lie; two where all of them lie in a line.
fn far_apart(all: &[Crossing]) -> Vec<ToMeasure> {
    let box_of_all = Bounds::of(all.iter().map(|c| c.2));
    let mut chosen: Vec<Crossing> = Vec::new();
    // Opposite corners first.
    for k in [0, 2, 1, 3] {
        let corner = box_of_all.corners()[k];
        let nearest = all.iter().min_by(|a, b| distance(a.2, corner).total_cmp(&distance(b.2, corner)));
        chosen.extend(nearest.filter(|n| chosen.iter().all(|c| distance(c.2, n.2) > tol::SAME_POINT_MM)));
    }
    let points: Vec<Point> = chosen.iter().map(|c| c.2).collect();
    if points.len() > 2 && in_a_line(&points) {
        chosen.truncate(2);
    }
    let told = |(i, j, bed): &Crossing| ToMeasure { name: pivot_name(*i, *j), bed: pair(*bed), pivot: true };
    chosen.iter().map(told).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::PlanPattern;
    use crate::write::sample::sample_plan;

    fn plan_on(w: f64, h: f64, repeat: f64) -> Plan {
        let mut plan = sample_plan();
        let cloth = &mut plan.cloths[0];
        cloth.outline = vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
        cloth.pattern = Some(PlanPattern {
            a: Some([repeat, 0.0]),
            b: Some([0.0, repeat]),
            origin: [35.0, 20.0],
            half_turn: true,
        });
        plan
    }

    /// Held against the cloth anew: bed to cloth by the inverse worked out by hand, the outline as a box.
    #[test]
    fn pivots_are_asked_for_where_cloth_lies_and_the_head_reaches() {
        for (w, h, repeat) in
            [(1500.0, 900.0, 80.0), (300.0, 250.0, 64.5), (1500.0, 4000.0, 3.0), (90.0, 2000.0, 40.0)]
        {
            let plan = plan_on(w, h, repeat);
            let (pass, edge) = (&plan.passes[0], plan.cloths[0].edge_mm);
            assert_eq!(pass.cloth, plan.cloths[0].name);
            let [a, b, c, d, e, f] = pass.cloth_to_bed;
            let det = a * d - b * c;
            let asked = to_measure(&plan, 0);
            assert!(asked.len() >= 2, "{w} × {h}: {asked:?}");
            for m in &asked {
                let [u, v] = [m.bed[0] - e, m.bed[1] - f];
                let [x, y] = [(d * u - c * v) / det, (a * v - b * u) / det];
                assert!(
                    x > edge && x < w - edge && y > edge && y < h - edge,
                    "{m:?} lies at {x}, {y} of {w} × {h}"
                );
                let [i, j] = [(x - 35.0) / repeat, (y - 20.0) / repeat];
                assert!((i - i.round()).abs() < 1e-4 && (j - j.round()).abs() < 1e-4);
                assert_eq!(m.name, format!("pivot {} {}", i.round(), j.round()));
                let m = pass.margin_mm;
                assert!(
                    u + e >= m && u + e <= pass.bed_mm[0] - m && v + f >= m && v + f <= pass.bed_mm[1] - m
                );
            }
        }
    }

    #[test]
    fn a_flaw_is_no_place_to_measure_and_later_passes_go_by_their_marks() {
        let mut plan = plan_on(1500.0, 900.0, 80.0);
        let before = to_measure(&plan, 0);
        let [a, b, c, d, e, f] = plan.passes[0].cloth_to_bed;
        let det = a * d - b * c;
        let [u, v] = [before[0].bed[0] - e, before[0].bed[1] - f];
        let [x, y] = [(d * u - c * v) / det, (a * v - b * u) / det];
        plan.cloths[0].flaws =
            vec![vec![[x - 5.0, y - 5.0], [x + 5.0, y - 5.0], [x + 5.0, y + 5.0], [x - 5.0, y + 5.0]]];
        let after = to_measure(&plan, 0);
        assert!(!after.is_empty() && after.iter().all(|m| m.name != before[0].name));
        let second = to_measure(&plan, 1);
        let known: Vec<&str> =
            plan.passes[1].marks.iter().filter(|m| !m.burnt_here).map(|m| m.name.as_str()).collect();
        assert_eq!(second.iter().map(|m| m.name.as_str()).collect::<Vec<_>>(), known);
        assert!(second.iter().all(|m| !m.pivot));
    }
}
