//! What the passes burn into a cloth outside its pieces: crosses for finding the place again, and the ways on to the
//! pieces' edges. It is a flaw of what is left over.

use crate::passes::{MARK_ARM_MM, Passes};
use crate::shape::{Affine, Bounds, Point, Region, Ring, booleans, pt, tol};

use super::build::pair;
use super::cloth_model::PlanOffcut;
use super::model::{Pair, Plan};

/// Something burnt into cloth that is no piece. Cloth frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Burnt {
    /// The middle of a mark's cross; `None` for a way on to an edge.
    pub mark: Option<Point>,
    /// What of the cloth is spoilt by it.
    pub region: Region,
}

/// What the passes of `plan` burn into cloth `cloth` besides its pieces' edges. All of them count, cut already or not: a
/// cross still to be burnt needs its cloth, and nothing is left over before all is cut. Where two passes cut past each
/// other at a joint they follow the piece's edge, within the gap that is kept round it.
pub fn burnt(plan: &Plan, cloth: &str) -> Vec<Burnt> {
    let mut all = Vec::new();
    for pass in plan.passes.iter().filter(|p| p.cloth == cloth) {
        let Some(to_cloth) = Affine(pass.cloth_to_bed).inverse() else { continue };
        let at = |p: &Pair| to_cloth.apply(pt(p[0], p[1]));
        let mut names: Vec<&str> = Vec::new();
        for burn in &pass.burns {
            if burn.kind == "mark" {
                if !names.contains(&burn.piece.as_str()) {
                    names.push(&burn.piece);
                    let strokes = pass.burns.iter().filter(|b| b.kind == "mark" && b.piece == burn.piece);
                    let round = Bounds::of(strokes.flat_map(|b| &b.path).map(at));
                    all.push(Burnt { mark: Some(round.centre()), region: spoilt(round) });
                }
            } else if let (Some(from), Some(to)) = (&burn.lead_in, burn.path.first()) {
                all.push(Burnt { mark: None, region: spoilt(Bounds::of([at(from), at(to)])) });
            }
        }
    }
    all.retain(|b| b.region.is_sane());
    all
}

/// What the crosses spoil that `passes` burn.
pub(super) fn spoilt_by_marks(passes: &Passes) -> Vec<Region> {
    let marks = passes.passes.iter().flat_map(|p| &p.marks).filter(|m| m.burnt_here);
    marks.map(|m| cross(m.at)).collect()
}

/// What of the cloth a mark's cross at `at` spoils.
pub fn cross(at: Point) -> Region {
    spoilt(Bounds::of([at]).grown(MARK_ARM_MM))
}

fn spoilt(lines: Bounds) -> Region {
    Region::rectangle(lines.grown(tol::BURNT_MM))
}

impl PlanOffcut {
    /// What is there of it: its outline less its cut-outs.
    pub fn region(&self) -> Region {
        let ring = |pairs: &Vec<Pair>| Ring::from_pairs(pairs);
        Region::new(ring(&self.outline), self.cutouts.iter().map(ring).collect())
    }

    /// Notes as its flaws what of `burnt` lies within it.
    pub(super) fn keep_burnt(&mut self, burnt: &[Burnt]) {
        let left = self.region();
        let meets = |b: &&Burnt| b.region.bounds().meets(left.bounds());
        let near: Vec<Region> = burnt.iter().filter(meets).map(|b| b.region.clone()).collect();
        let within = booleans::intersection(&[left], &booleans::union(&near));
        self.flaws = within.iter().map(|r| r.outline.points.iter().map(|p| pair(*p)).collect()).collect();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cross_spoils_its_arms_and_what_is_scorched_beyond_them() {
        let b = cross(pt(100.0, 50.0)).bounds();
        assert_eq!((b.width(), b.height()), (10.0, 10.0));
        assert_eq!(b.centre(), pt(100.0, 50.0));
    }
}
