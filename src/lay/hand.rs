//! Pieces moved by hand on a lay: where each may lie, by the same exact conditions the search walks.
//!
//! A piece bound to the pattern goes to the nearest place in step with those of its group that stay; what then
//! lies on what is for [`breaks`](super::breaks) to say.

use std::collections::BTreeMap;

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::PieceRule;
use crate::say::Trouble;
use crate::shape::{Point, Pose, distance, tol};

use super::bound;
use super::kind::{Hold, PhaseSpace};
use super::locked;
use super::model::{ClothLay, Lay, Placed};
use super::places::{Place, Places, Single, places};
use super::stand::{self, Stand};
use super::stock;
use super::task::Used;
use super::turns::{allowed_turns, turn_ranges};

/// One copy of one piece as it lies on a cloth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// Piece, by index.
    pub piece: usize,
    /// Which copy, from 1.
    pub copy: u32,
    /// The cloth, by index.
    pub cloth: usize,
    /// Its pose: drawing frame to cloth frame.
    pub pose: Pose,
    /// True when it stays where it is.
    pub locked: bool,
}

/// The turns a piece may take on its cloth.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Turns {
    /// Degrees; where there are ranges, some of each.
    pub few_deg: Vec<f64>,
    /// Lowest and highest turn of ranges within which any will do, degrees.
    pub ranges_deg: Vec<(f64, f64)>,
}

/// The shifts a piece may have at a turn, while all others stay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Allowed {
    /// Any.
    Free,
    /// `at + i·a + j·b` for whole i, j.
    Lattice {
        /// Repeat across.
        a: Point,
        /// Repeat along.
        b: Point,
        /// One of them.
        at: Point,
    },
    /// `at + i·step + t·along` for whole i and any t.
    Lines {
        /// Repeat of the stripe.
        step: Point,
        /// Unit vector the stripe runs in.
        along: Point,
        /// One of them.
        at: Point,
    },
}

/// A job's pieces and cloths, under the hand.
#[derive(Clone, Copy, Debug)]
pub struct Hand<'a> {
    /// All pieces of the job.
    pub pieces: &'a [Piece],
    /// The job's rules.
    pub rules: &'a [PieceRule],
    /// The job's cloths.
    pub cloths: &'a [Cloth],
    /// Least distance between pieces, mm.
    pub gap_mm: f64,
}

/// One cloth's places, with the phases its groups have.
struct Board {
    places: Places,
    phases: Vec<Point>,
    /// For every group the single that fixes its phase.
    fixed_by: BTreeMap<usize, Single>,
    /// Where every single stands among the places.
    index: BTreeMap<Single, usize>,
}

impl Hand<'_> {
    /// The turns a piece may take on a cloth, all others staying as `laid`: a group whose pattern runs through lies one way.
    ///
    /// # Errors
    /// A rule that contradicts the cloth.
    pub fn turns(&self, laid: &[Laid], single: Single, cloth: usize) -> Result<Turns, Vec<Trouble>> {
        let piece = &self.pieces[single.0];
        let (rule, on) = (piece.rule, &self.cloths[cloth]);
        let mut few_deg =
            allowed_turns(&self.rules[rule], on, &format!("pieces[{rule}]")).map_err(|t| vec![t])?;
        if let Some(pattern) = on.pattern.as_ref().filter(|_| stand::binds(piece.matching, on)) {
            let of_group = |l: &&Laid| {
                (l.piece, l.copy) != single && self.pieces[l.piece].group == piece.group && l.cloth == cloth
            };
            let stays = laid.iter().filter(of_group).map(|l| (&self.pieces[l.piece], l.pose.turn_deg));
            if let Some(way) = stand::of_laid(stays, on).get(&piece.group)
                && few_deg.iter().any(|t| Stand::of(*t, pattern) == Some(*way))
            {
                few_deg.retain(|t| Stand::of(*t, pattern) == Some(*way));
            }
        }
        Ok(Turns { few_deg, ranges_deg: turn_ranges(&self.rules[rule], on) })
    }

    /// The shifts a piece may have at `turn_deg`, all others staying as `laid`.
    ///
    /// # Errors
    /// A rule that contradicts the cloth or the pieces.
    pub fn allowed(&self, laid: &[Laid], single: Single, turn_deg: f64) -> Result<Allowed, Vec<Trouble>> {
        let Some(one) = laid.iter().find(|l| (l.piece, l.copy) == single) else { return Ok(Allowed::Free) };
        let board = self.board(laid, one.cloth, &[single])?;
        let Some(place) = board.place(single) else { return Ok(Allowed::Free) };
        let (_, hold) = at_turn(place, turn_deg);
        let alone =
            |group: Option<usize>| group.filter(|g| board.fixed_by.get(g).is_none_or(|s| *s == single));
        Ok(match hold {
            Hold::Free => Allowed::Free,
            Hold::Lattice { a, b, offset } => match alone(offset.group).map(|g| &board.places.groups[g]) {
                Some(PhaseSpace::Cell { .. }) => Allowed::Free,
                // Every kind of crossing: they lie half a repeat apart.
                Some(PhaseSpace::Choices(kinds)) => {
                    let parts = if kinds.len() > 1 { 2.0 } else { 1.0 };
                    Allowed::Lattice { a: a / parts, b: b / parts, at: offset.base }
                }
                None => Allowed::Lattice { a, b, at: offset.at(&board.phases) },
            },
            Hold::Stripe { step, along, offset } => {
                match alone(offset.group).map(|g| &board.places.groups[g]) {
                    Some(PhaseSpace::Cell { .. }) => Allowed::Free,
                    Some(PhaseSpace::Choices(kinds)) => {
                        let parts = if kinds.len() > 1 { 2.0 } else { 1.0 };
                        Allowed::Lines { step: step / parts, along, at: offset.base }
                    }
                    None => Allowed::Lines { step, along, at: offset.at(&board.phases) },
                }
            }
        })
    }

    /// `laid` with some pieces moved (or laid anew): each to the allowed pose nearest to the one asked for. Pieces of a
    /// group that move while others of it stay keep in step with those; a group that moves whole takes its new step from
    /// the first.
    ///
    /// # Errors
    /// A rule that contradicts the cloth or the pieces.
    pub fn moved(&self, laid: &[Laid], moves: &[Laid]) -> Result<Vec<Laid>, Vec<Trouble>> {
        let moving: Vec<Single> = moves.iter().map(|m| (m.piece, m.copy)).collect();
        let mut all: BTreeMap<Single, Laid> = laid.iter().map(|l| ((l.piece, l.copy), *l)).collect();
        for m in moves {
            let locked = all.get(&(m.piece, m.copy)).is_some_and(|l| l.locked) || m.locked;
            all.insert((m.piece, m.copy), Laid { locked, ..*m });
        }
        let mut new: Vec<Laid> = all.into_values().collect();
        let mut cloths: Vec<usize> = moves.iter().map(|m| m.cloth).collect();
        cloths.sort_unstable();
        cloths.dedup();
        for c in cloths {
            let board = self.board(&new, c, &moving)?;
            for l in new.iter_mut().filter(|l| l.cloth == c && moving.contains(&(l.piece, l.copy))) {
                let Some(place) = board.place((l.piece, l.copy)) else { continue };
                let (turn_deg, hold) = at_turn(place, l.pose.turn_deg);
                let shift = nearest(&hold, l.pose.shift, &board.phases);
                let was = laid.iter().find(|o| (o.piece, o.copy) == (l.piece, l.copy));
                let stays = was.filter(|o| {
                    o.cloth == c
                        && o.pose.turn_deg == turn_deg
                        && distance(o.pose.shift, shift) <= tol::ON_LATTICE_MM
                });
                // Back where it lay, to the last digit.
                l.pose = stays.map_or(Pose { turn_deg, shift }, |o| o.pose);
            }
        }
        Ok(new)
    }

    /// The lay these pieces make, each cloth with its figures.
    ///
    /// # Errors
    /// A rule that contradicts the cloth or the pieces.
    pub fn lay(&self, laid: &[Laid]) -> Result<Lay, Vec<Trouble>> {
        let mut cloths = Vec::new();
        for (c, cloth) in self.cloths.iter().enumerate() {
            let board = self.board(laid, c, &[])?;
            let placed: Vec<Placed> = on_cloth(laid, c)
                .map(|l| Placed {
                    piece: l.piece,
                    copy: l.copy,
                    pose: l.pose,
                    group_shift: board.places.drawn_shift(l.piece, &board.phases),
                    locked: l.locked,
                    cut: l.pose.region(&self.pieces[l.piece].cut),
                })
                .collect();
            if placed.is_empty() {
                cloths.push(ClothLay::default());
                continue;
            }
            let near = cloth.outline.bounds().min.y + cloth.edge_mm;
            let far = placed.iter().map(|p| p.cut.bounds().max.y).fold(near, f64::max);
            cloths.push(Used { cloth, far }.by(placed));
        }
        Ok(Lay { cloths })
    }

    /// No lay of the pieces that lie on cloth `c` takes less length than this, mm; 0 where there are none.
    ///
    /// # Errors
    /// A rule that contradicts the cloth or the pieces.
    pub fn least_length_mm(&self, laid: &[Laid], c: usize) -> Result<f64, Vec<Trouble>> {
        if on_cloth(laid, c).next().is_none() {
            return Ok(0.0);
        }
        let (board, cloth) = (self.board(laid, c, &[])?, &self.cloths[c]);
        let far = bound::least_far(&board.places, self.pieces, cloth, self.gap_mm, tol::CLEAR_MM);
        Ok(Used { cloth, far }.as_used(far))
    }

    /// The cloths a piece may be cut from, by index.
    pub fn choices(&self, piece: usize) -> Vec<usize> {
        stock::choices(&self.pieces[piece], self.rules, self.cloths)
    }

    /// The places of cloth `c`, and the phase of every group: that of a locked piece, else of one that stays.
    fn board(&self, laid: &[Laid], c: usize, moving: &[Single]) -> Result<Board, Vec<Trouble>> {
        let cloth = &self.cloths[c];
        let mut on: Vec<&Laid> = on_cloth(laid, c).collect();
        let singles: Vec<Single> = on.iter().map(|l| (l.piece, l.copy)).collect();
        // The locked say first how their group lies, those that move last.
        on.sort_by_key(|l| (moving.contains(&(l.piece, l.copy)), !l.locked));
        let stands = stand::of_laid(on.iter().map(|l| (&self.pieces[l.piece], l.pose.turn_deg)), cloth);
        let places = places(self.pieces, &singles, self.rules, cloth, &stands)?;
        let index = places.places.iter().enumerate().map(|(i, p)| ((p.piece, p.copy), i)).collect();
        let phases = vec![Point::default(); places.groups.len()];
        let mut board = Board { phases, places, fixed_by: BTreeMap::new(), index };
        for l in on {
            let Some(place) = board.place((l.piece, l.copy)) else { continue };
            let (turn_deg, hold) = at_turn(place, l.pose.turn_deg);
            let (Hold::Lattice { offset, .. } | Hold::Stripe { offset, .. }) = hold else { continue };
            // A pose from before the rules changed says nothing of the phase.
            let same_turn = turn_deg == l.pose.turn_deg || moving.contains(&(l.piece, l.copy));
            if let Some(g) = offset.group.filter(|g| same_turn && !board.fixed_by.contains_key(g)) {
                board.phases[g] = locked::phase(&board.places.groups[g], &hold, l.pose.shift);
                board.fixed_by.insert(g, (l.piece, l.copy));
            }
        }
        Ok(board)
    }
}

impl Board {
    fn place(&self, single: Single) -> Option<&Place> {
        self.index.get(&single).and_then(|i| self.places.places.get(*i))
    }
}

fn on_cloth(laid: &[Laid], c: usize) -> impl Iterator<Item = &Laid> {
    laid.iter().filter(move |l| l.cloth == c)
}

/// The allowed turn nearest to `turn_deg`, with the shifts allowed there.
fn at_turn(place: &Place, turn_deg: f64) -> (f64, Hold) {
    let wanted = if turn_deg.is_finite() { turn_deg.rem_euclid(360.0) } else { 0.0 };
    let off = |t: f64| {
        let d = (wanted - t).rem_euclid(360.0);
        d.min(360.0 - d)
    };
    // Cloth with ranges of turns has no pattern.
    let ends = place.ranges.iter().flat_map(|&(low, high)| {
        let within = (wanted - low).rem_euclid(360.0) <= high - low;
        if within { vec![wanted] } else { vec![low.rem_euclid(360.0), high.rem_euclid(360.0)] }
    });
    let all = ends.map(|t| (t, Hold::Free)).chain(place.turns.iter().copied());
    all.min_by(|a, b| off(a.0).total_cmp(&off(b.0))).unwrap_or((wanted, Hold::Free))
}

/// The allowed shift nearest to `target`.
fn nearest(hold: &Hold, target: Point, phases: &[Point]) -> Point {
    let near = hold.near(target, phases);
    let Hold::Lattice { a, b, .. } = hold else { return near };
    let mut best = near;
    for i in -1..=1 {
        for j in -1..=1 {
            let p = near + *a * f64::from(i) + *b * f64::from(j);
            if distance(p, target) < distance(best, target) {
                best = p;
            }
        }
    }
    // Worked out afresh, so that whole repeats do not gather rounding.
    if distance(best, near) > 0.0 { hold.near(best, phases) } else { best }
}
