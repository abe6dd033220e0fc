//! Phases of groups in which every piece of the group has a place at all. A piece nearly as wide as the cloth leaves
//! its group few of them.

use crate::shape::{Bounds, Point, pt, tol};

use super::board::Board;
use super::chance::Chance;
use super::kind::{Hold, PhaseSpace, Way};

/// Phases drawn from the whole space before any is looked for.
const ANYWHERE: usize = 8;

/// Phases drawn from those that suit one of the pieces.
const FOR_ONE: usize = 64;

/// Most ends of pieces' reaches that are combined with each other.
const MOST_ENDS: usize = 64;

/// The kinds of piece in every group.
pub struct Members {
    kinds: Vec<Vec<usize>>,
}

impl Members {
    /// Of the groups of `board`.
    pub fn new(board: &Board) -> Members {
        let mut kinds: Vec<Vec<usize>> = vec![Vec::new(); board.groups.len()];
        let mut used: Vec<usize> = board.items.clone();
        used.sort_unstable();
        used.dedup();
        for k in used {
            for g in board.kinds[k].ways.iter().filter_map(|w| w.hold.group()) {
                if let Some(of) = kinds.get_mut(g)
                    && of.last() != Some(&k)
                {
                    of.push(k);
                }
            }
        }
        Members { kinds }
    }

    /// The first item of group `g`; 0 when it has none.
    pub fn first(&self, board: &Board, g: usize) -> usize {
        board.items.iter().position(|k| self.kinds[g].contains(k)).unwrap_or(0)
    }

    /// A phase of group `g` in which each of its pieces by itself has a place on a strip that ends at `far`, by chance;
    /// `None` when none was found.
    ///
    /// At first any phase is tried, then those at which one piece or another lies within its reach, then those at
    /// which some piece lies at an end of its reach: across, where all pieces have a place in common there is one of
    /// these.
    pub fn pick(&self, board: &Board, g: usize, far: f64, chance: &mut Chance) -> Option<Point> {
        let space = &board.groups[g];
        let kinds = &self.kinds[g];
        let mut phases = vec![Point::default(); board.groups.len()];
        let mut suits = |phase: Point| {
            phases[g] = phase;
            let has_place = |way: &Way| {
                let reach = reach(board, way, far);
                way.hold.nearest_within(reach.min, &phases, reach).is_some()
            };
            kinds.iter().all(|k| board.kinds[*k].ways.iter().any(has_place))
        };
        for _ in 0..ANYWHERE {
            let phase = space.at(chance.unit(), chance.unit());
            if suits(phase) {
                return Some(phase);
            }
        }
        if let PhaseSpace::Choices(all) = space {
            return all.iter().copied().find(|p| suits(*p));
        }
        for _ in 0..FOR_ONE {
            let ways = &board.kinds[*kinds.get(chance.below(kinds.len()))?].ways;
            let way = &ways[chance.below(ways.len())];
            let reach = reach(board, way, far);
            let (x, y) = (chance.between(reach.min.x, reach.max.x), chance.between(reach.min.y, reach.max.y));
            if !reach.is_empty()
                && let Some(phase) = way.hold.phase(pt(x, y)).and_then(|p| space.moved(p, 0.0, 0.0))
                && suits(phase)
            {
                return Some(phase);
            }
        }
        let mut ends = Vec::new();
        for way in kinds.iter().flat_map(|k| &board.kinds[*k].ways) {
            // A hair inside, so that rounding does not put the end outside.
            let reach = reach(board, way, far).grown(-tol::ON_LATTICE_MM);
            if !reach.is_empty() {
                ends.extend(reach.corners().iter().filter_map(|c| way.hold.phase(*c)));
            }
        }
        let mut all = ends.clone();
        if ends.len() <= MOST_ENDS {
            all.extend(ends.iter().flat_map(|p| ends.iter().map(move |q| pt(p.x, q.y))));
        }
        all.into_iter().filter_map(|p| space.moved(p, 0.0, 0.0)).find(|p| suits(*p))
    }
}

/// The shifts that keep `way` within the strip: of a long one no more than has all there is of a lattice.
fn reach(board: &Board, way: &Way, far: f64) -> Bounds {
    let mut reach = board.reach(way, far);
    let enough = match way.hold {
        Hold::Free => 0.0,
        Hold::Lattice { a, b, .. } => 2.0 * (a.y.abs() + b.y.abs()),
        Hold::Stripe { step, .. } => 2.0 * step.y.abs().max(1.0),
    };
    reach.max.y = reach.max.y.min(reach.min.y + enough);
    reach
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::lay::form::Form;
    use crate::lay::kind::{Kind, Offset};
    use crate::shape::Region;

    /// Pieces of these left sides and widths drawn as one group on a strip 200 wide, the repeat 100 each way.
    fn board(pieces: &[(f64, f64)]) -> Board {
        let kind = |&(left, width): &(f64, f64)| {
            let bounds = Bounds::new(pt(left, 0.0), pt(left + width, 50.0));
            let offset = Offset { base: pt(10.0, 10.0), group: Some(0), m: [pt(-1.0, 0.0), pt(0.0, -1.0)] };
            let (a, b) = (pt(100.0, 0.0), pt(0.0, 100.0));
            let form = Arc::new(Form::new(&Region::rectangle(bounds)));
            let hold = Hold::Lattice { a, b, offset };
            let way = Way { turn_deg: 0.0, bare: form.clone(), form, bounds, hold };
            Kind { ways: vec![way], size: 1.0, turning: None, close: 0 }
        };
        Board {
            kinds: pieces.iter().map(kind).collect(),
            items: (0..pieces.len()).collect(),
            obstacles: Vec::new(),
            left: 0.0,
            right: 200.0,
            near: 0.0,
            groups: vec![PhaseSpace::Cell { a: pt(100.0, 0.0), b: pt(0.0, 100.0) }],
        }
    }

    fn pick(pieces: &[(f64, f64)], far: f64) -> Option<Point> {
        let board = board(pieces);
        Members::new(&board).pick(&board, 0, far, &mut Chance::new(1, 0))
    }

    #[test]
    fn the_phase_that_suits_a_piece_almost_as_wide_as_the_strip_is_found() {
        for width in [150.0, 195.0, 199.0, 199.99] {
            let s = pick(&[(37.0, width)], f64::INFINITY).unwrap();
            // Its left side lies at 37 + 10 − s, and whole repeats, from 0 to what is left beside it.
            let left = (47.0 - s.x).rem_euclid(100.0);
            assert!(left <= 200.0 - width + 1e-9, "{width}: {left}");
        }
    }

    #[test]
    fn a_phase_that_suits_all_is_found_where_they_have_but_a_hair_in_common() {
        // On the strip the left side of one lies from 0 to 4, of the other from 0 to 2; drawn 3.999 right of the other, the
        // one still has room, drawn 4.001 right of it no more.
        assert!(pick(&[(3.999, 196.0), (0.0, 198.0)], f64::INFINITY).is_some());
        assert!(pick(&[(4.001, 196.0), (0.0, 198.0)], f64::INFINITY).is_none());
    }

    #[test]
    fn a_short_strip_leaves_few_phases_along_too() {
        assert!(pick(&[(0.0, 199.5)], 50.5).is_some());
        assert!(pick(&[(0.0, 199.5)], 49.9).is_none());
    }
}
