//! The first pass, aligned to the cloth's own pattern.

use super::fit::{Distortion, FitKind, Sighting};
use super::measured::{At, Measured};
use super::moved::{point, round};
use super::report::{PieceOutOfStep, RepeatFound};
use crate::job::Match;
use crate::plan::{Plan, PlanPattern, PlanPiece};
use crate::say::Trouble;
use crate::shape::{Affine, Bounds, Lattice, Point, pt};

/// Both repeats of a cloth's pattern.
pub(super) struct Repeats {
    a: Point,
    b: Point,
    origin: Point,
}

impl Repeats {
    /// Those of `cloth` in the plan.
    ///
    /// # Errors
    /// It has no pattern, or one that repeats in one direction only.
    pub fn of(plan: &Plan, cloth: &str, about: &str) -> Result<Repeats, Trouble> {
        let pattern = plan.cloths.iter().find(|c| c.name == cloth).and_then(|c| c.pattern.as_ref());
        let Some(pattern) = pattern else {
            let what = format!(
                "cloth {cloth} has no pattern, and before this pass no mark is burnt: nothing to go by"
            );
            return Err(Trouble::cannot(about, what)
                .hint("lay the cloth by its selvedge and its cut end, as the report shows"));
        };
        match (pattern.a, pattern.b) {
            (Some(a), Some(b)) => {
                let repeats = Repeats { a: point(&a), b: point(&b), origin: point(&pattern.origin) };
                let area = repeats.a.x * repeats.b.y - repeats.a.y * repeats.b.x;
                let flat = area.abs() <= 1e-6 * (len(repeats.a) * len(repeats.b)) || !area.is_finite();
                if flat {
                    let what = format!("the repeats of cloth {cloth} in the plan run the same way");
                    return Err(Trouble::bad_input(about, what).hint("plan the job anew"));
                }
                Ok(repeats)
            }
            _ => {
                let what = format!(
                    "cloth {cloth} is striped: its pattern repeats one way only, so that pivots say nothing of where the \
                     cloth lies the other way"
                );
                Err(Trouble::cannot(about, what).hint(
                    "pivots need a check, which repeats both ways; lay a stripe along a straight edge by one of its \
                     stripes, and its cut end where the report shows it",
                ))
            }
        }
    }

    /// Where the crossing so many repeats across and along from the origin lies on the cloth.
    pub fn crossing(&self, i: i32, j: i32) -> Point {
        self.origin + self.a * f64::from(i) + self.b * f64::from(j)
    }

    /// Where the pivots lie on the cloth, as noted.
    pub fn sightings(&self, measured: &[Measured], about: &str) -> Result<Vec<Sighting>, Trouble> {
        let one = |m: &Measured| match &m.at {
            At::Pivot(i, j) => Ok(Sighting { cloth: self.crossing(*i, *j), bed: m.bed }),
            At::Mark(name) => {
                let what = format!("mark {name} is not burnt yet: this is the first pass of its cloth");
                Err(Trouble::bad_input(about, what).hint(
                    "give pivots, named pivot I J by whole repeats across and along from the pattern's origin, and \
                     where they lie on the bed",
                ))
            }
        };
        measured.iter().map(one).collect()
    }
}

/// How the cloth lies, and its pattern as measured.
pub(super) struct Understood {
    /// Cloth frame to bed frame: pieces keep their size, so it neither stretches nor shears.
    pub map: Affine,
    /// The pattern, where it differs.
    pub pattern: Option<(PlanPattern, RepeatFound)>,
}

/// Takes `fitted` (noted pattern to bed) apart into how the cloth lies and what its repeat is. The cloth is turned so
/// that the warp runs true, for grain comes first, and shifted so that the middle of its pieces is in step.
pub(super) fn understand(plan: &Plan, cloth: &str, fitted: &Affine, kind: FitKind) -> Option<Understood> {
    if kind == FitKind::Rigid {
        return Some(Understood { map: *fitted, pattern: None });
    }
    let noted = plan.cloths.iter().find(|c| c.name == cloth)?.pattern.as_ref()?;
    let (a, b) = (point(&noted.a?), point(&noted.b?));
    let linear = |p: Point| fitted.apply(p) - fitted.apply(pt(0.0, 0.0));
    let flip = if fitted.determinant() < 0.0 { -1.0 } else { 1.0 };
    let (from, to) = (pt(flip * b.x, b.y) / len(b), linear(b) / len(linear(b)));
    let (c, s) = (from.x * to.x + from.y * to.y, from.x * to.y - from.y * to.x);
    let turn = Affine([flip * c, flip * s, -s, c, 0.0, 0.0]);
    let of_cloth = || plan.pieces.iter().filter(|p| p.cloth == cloth && p.matching != Match::Free);
    let all = Bounds::of(of_cloth().flat_map(|p| p.cut.outline.iter().map(point)));
    let centre = if all.is_empty() { point(&noted.origin) } else { all.centre() };
    let shift = fitted.apply(centre) - turn.apply(centre);
    let map = Affine([turn.0[0], turn.0[1], turn.0[2], turn.0[3], shift.x, shift.y]);
    // From the pattern as noted to the pattern as it is, both on the cloth.
    let differs = map.inverse()?.after(fitted);
    let vector = |p: Point| differs.apply(p) - differs.apply(pt(0.0, 0.0));
    let found =
        Lattice { a: Some(vector(a)), b: Some(vector(b)), origin: differs.apply(point(&noted.origin)) };
    let mismatch = |p: &PlanPiece| {
        p.cut.outline.iter().map(|q| len(differs.apply(point(q)) - point(q))).fold(0.0, f64::max)
    };
    let out =
        |p: &PlanPiece| PieceOutOfStep { piece: p.id.clone(), copy: p.copy, mismatch_mm: round(mismatch(p)) };
    let mut pieces: Vec<PieceOutOfStep> = of_cloth().map(out).collect();
    pieces.sort_by(|x, y| y.mismatch_mm.total_cmp(&x.mismatch_mm));
    let skew = |a: Point| 1000.0 * a.y / a.x;
    let (fa, fb) = (found.a?, found.b?);
    let report = RepeatFound {
        across_mm: [a.x, fa.x],
        along_mm: [len(b), len(fb)],
        skew_mm_per_m: [skew(a), skew(fa)],
        worst_mismatch_mm: pieces.first().map_or(0.0, |w| w.mismatch_mm),
        worst_piece: pieces.first().map_or_else(String::new, |w| w.piece.clone()),
        pieces,
    };
    let exact = |p: Point| [p.x, p.y];
    let pattern = PlanPattern {
        a: Some(exact(fa)),
        b: Some(exact(fb)),
        origin: exact(found.origin),
        half_turn: noted.half_turn,
    };
    Distortion::of(&map)?;
    Some(Understood { map, pattern: Some((pattern, report)) })
}

fn len(p: Point) -> f64 {
    (p.x * p.x + p.y * p.y).sqrt()
}
