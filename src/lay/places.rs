//! Rules of cloth → allowed poses: every piece's turns, and for each turn the shifts its match allows.
//!
//! Every match is an exact condition on the pose: the shift is an allowed offset plus whole repeats. The
//! search walks these; nothing is moved onto the pattern afterwards.

use std::collections::BTreeMap;

use crate::cloth::{Cloth, Pattern};
use crate::drawing::Piece;
use crate::job::{Match, PieceRule};
use crate::say::Trouble;
use crate::shape::{Point, Pose, distance, pt, tol, turn_cos_sin};
use geo::MinimumRotatedRect;

use super::kind::{Hold, Offset, PhaseSpace};
use super::pairs;
use super::stand::{self, Stand, Stands};
use super::turns::{allowed_turns, between_turns_deg, may_turn, turn_ranges};

/// One single piece to lay: a copy of a piece, with the turns and shifts it may have.
#[derive(Clone, Debug)]
pub struct Place {
    /// Piece, by index.
    pub piece: usize,
    /// Which copy, from 1.
    pub copy: u32,
    /// Allowed turns, each with the shifts allowed at that turn.
    pub turns: Vec<(f64, Hold)>,
    /// Its pose, when a maker has placed it by hand: the search leaves it alone.
    pub locked: Option<Pose>,
    /// How far, degrees, an allowed turn may lie from the nearest one listed: 0 unless ranges are walked in steps.
    pub between_deg: f64,
    /// Lowest and highest turn of every range it may be turned within by any angle; none where its turns are few.
    pub ranges: Vec<(f64, f64)>,
}

/// A single piece: piece by index, copy from 1.
pub type Single = (usize, u32);

/// All places on one cloth, and the phases their groups may choose from.
#[derive(Clone, Debug, Default)]
pub struct Places {
    /// Every single piece.
    pub places: Vec<Place>,
    /// Phase spaces, by group index.
    pub groups: Vec<PhaseSpace>,
    /// Groups that might as well lie otherwise on the cloth, each with all the ways it may.
    pub open: Vec<(String, Vec<Stand>)>,
    /// For each piece matched `drawn` with a shift the lay chooses: its group's index, by piece.
    drawn_group: BTreeMap<usize, usize>,
    /// For each piece matched `drawn` with a shift the job gives: that shift, by piece.
    given: BTreeMap<usize, [f64; 2]>,
}

impl Places {
    /// The places the search has to find poses for, in order: the board's items.
    pub fn free(&self) -> impl Iterator<Item = &Place> {
        self.places.iter().filter(|p| p.locked.is_none())
    }

    /// Leaves out the turns that are `struck` (piece, turn in degrees) wherever others remain. Pieces that a pattern
    /// holds keep theirs.
    pub fn strike(&mut self, struck: &dyn Fn(usize, f64) -> bool) {
        let mut known: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        for place in &mut self.places {
            if place.turns.iter().any(|(_, hold)| *hold != Hold::Free) {
                continue;
            }
            let all: Vec<f64> = place.turns.iter().map(|t| t.0).collect();
            let left = known
                .entry(place.piece)
                .or_insert_with(|| all.iter().copied().filter(|t| !struck(place.piece, *t)).collect());
            if left.is_empty() || left.len() == all.len() {
                continue;
            }
            // Any angle will do between neighbouring turns that are both left.
            let within = |a: f64, b: f64| place.ranges.iter().any(|(from, to)| range_holds(*from, *to, a, b));
            let mut ranges: Vec<(f64, f64)> = Vec::new();
            for pair in all.windows(2) {
                let (a, b) = (pair[0], pair[1]);
                if !(left.contains(&a) && left.contains(&b) && within(a, b)) {
                    continue;
                }
                match ranges.last_mut() {
                    Some(last) if last.1 == a => last.1 = b,
                    _ => ranges.push((a, b)),
                }
            }
            place.turns.retain(|t| left.contains(&t.0));
            place.ranges = ranges;
        }
    }

    /// For a piece matched `drawn` with a shift the lay chooses: that shift at the given phases.
    fn chosen_shift(&self, piece: usize, phases: &[Point]) -> Option<Point> {
        self.drawn_group.get(&piece).and_then(|g| phases.get(*g)).copied()
    }

    /// For a piece matched `drawn`: where the crossing of the first pivots falls on the drawing.
    pub fn drawn_shift(&self, piece: usize, phases: &[Point]) -> Option<[f64; 2]> {
        self.chosen_shift(piece, phases).map(|s| [s.x, s.y]).or_else(|| self.given.get(&piece).copied())
    }
}

/// Works out the places of the single `pieces` that are cut from `cloth`, `on_cloth`, in order. A group that may lie along
/// or across lies as `stands` says, else along.
///
/// # Errors
/// Every rule that contradicts the cloth or the pieces.
pub fn places(
    pieces: &[Piece],
    on_cloth: &[Single],
    rules: &[PieceRule],
    cloth: &Cloth,
    stands: &Stands,
) -> Result<Places, Vec<Trouble>> {
    let mut out = Places::default();
    let mut troubles = Vec::new();
    let mut turns_by_rule: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    let mut refused: BTreeMap<usize, Trouble> = BTreeMap::new();
    for rule in on_cloth.iter().map(|s| pieces[s.0].rule) {
        if turns_by_rule.contains_key(&rule) || refused.contains_key(&rule) {
            continue;
        }
        match allowed_turns(&rules[rule], cloth, &format!("pieces[{rule}]")) {
            Ok(turns) => drop(turns_by_rule.insert(rule, turns)),
            Err(t) => drop(refused.insert(rule, t)),
        }
    }
    troubles.extend(refused.into_values());
    let mut ways: BTreeMap<&str, Stand> = BTreeMap::new();
    match stand::choices(on_cloth.iter().map(|s| &pieces[s.0]), &turns_by_rule, cloth) {
        Ok(choices) => {
            for (group, all) in choices {
                let chosen = stands.get(group).filter(|s| all.contains(s)).or(all.first());
                ways.extend(chosen.map(|s| (group, *s)));
                if all.len() > 1 {
                    out.open.push((group.to_owned(), all));
                }
            }
        }
        Err(t) => troubles.extend(t),
    }
    let mut upright: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    let mut group_index: BTreeMap<(Match, &str), usize> = BTreeMap::new();
    let mut paired: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    // One shift for a whole group, even when only one of its rules gives it.
    let mut given_to: BTreeMap<&str, [f64; 2]> = BTreeMap::new();
    for &(p, _) in on_cloth {
        if let (Match::Drawn, Some(s)) = (pieces[p].matching, rules[pieces[p].rule].pattern_at_mm) {
            given_to.entry(&pieces[p].group).or_insert(s);
        }
    }
    for &(p, copy) in on_cloth {
        let piece = &pieces[p];
        let Some(turns) = turns_by_rule.get(&piece.rule) else { continue };
        let lies = ways.get(piece.group.as_str()).filter(|_| stand::binds(piece.matching, cloth));
        let as_group = |t: &f64| match (lies, &cloth.pattern) {
            (Some(way), Some(pattern)) => Stand::of(*t, pattern) == Some(*way),
            _ => true,
        };
        let free = turns.iter().filter(|t| as_group(t)).map(|t| (*t, Hold::Free)).collect();
        let between_deg = between_turns_deg(&rules[piece.rule], cloth);
        let ranges = turn_ranges(&rules[piece.rule], cloth);
        let mut place = Place { piece: p, copy, turns: free, locked: None, between_deg, ranges };
        if !place.ranges.is_empty() {
            add_upright(&mut place, &mut upright, piece, &rules[piece.rule], cloth);
        }
        if let Some(pattern) = &cloth.pattern {
            let given = given_to.get(piece.group.as_str()).copied();
            match piece.matching {
                Match::Free => {}
                Match::Drawn => {
                    let group = given.is_none().then(|| {
                        *group_index.entry((Match::Drawn, &piece.group)).or_insert_with(|| {
                            out.groups.push(cell(pattern, lies.copied()));
                            out.groups.len() - 1
                        })
                    });
                    match (group, given) {
                        (Some(g), _) => drop(out.drawn_group.insert(p, g)),
                        (None, Some(s)) => drop(out.given.insert(p, s)),
                        (None, None) => {}
                    }
                    for (turn, hold) in &mut place.turns {
                        *hold = drawn(pattern, *turn, given, group);
                    }
                }
                Match::Centred => {
                    let g = *group_index.entry((Match::Centred, &piece.group)).or_insert_with(|| {
                        out.groups.push(crossings(pattern));
                        out.groups.len() - 1
                    });
                    for (turn, hold) in &mut place.turns {
                        *hold = centred(pattern, *turn, piece.anchor, g);
                    }
                }
                Match::Pair => paired.entry(&piece.group).or_default().push(out.places.len()),
            }
        }
        out.places.push(place);
    }
    for (group, members) in paired {
        if let Some(pattern) = &cloth.pattern {
            let across = ways.get(group).is_some_and(|s| s.is_across());
            if let Err(t) = pair_up(&mut out, pieces, pattern, &members, cloth, across) {
                troubles.push(Trouble { about: format!("group {group}"), ..t });
            }
        }
    }
    if troubles.is_empty() { Ok(out) } else { Err(troubles) }
}

/// True when both turns, the first the lower, lie in the range, which may be given any whole turns off.
fn range_holds(from: f64, to: f64, a: f64, b: f64) -> bool {
    let past = (a - from).rem_euclid(360.0);
    let past = if 360.0 - past < tol::SAME_TURN_DEG { 0.0 } else { past };
    past + (b - a) <= to - from + tol::SAME_TURN_DEG
}

/// Adds the turns within the ranges at which the least rectangle round the piece stands upright: those are the
/// turns at which it takes least of the strip's width or length.
fn add_upright(
    place: &mut Place,
    known: &mut BTreeMap<usize, Vec<f64>>,
    piece: &Piece,
    rule: &PieceRule,
    cloth: &Cloth,
) {
    let turns = known.entry(place.piece).or_insert_with(|| {
        let line = geo::LineString::new(piece.cut.outline.points.clone());
        let Some(rectangle) = line.minimum_rotated_rect() else { return Vec::new() };
        let corners = &rectangle.exterior().0;
        let side = corners[1] - corners[0];
        let lean = libm::atan2(side.y, side.x).to_degrees();
        let all = (0..4).map(|quarter| (f64::from(quarter) * 90.0 - lean).rem_euclid(360.0));
        all.filter(|t| may_turn(rule, cloth, "", *t).unwrap_or(false)).collect()
    });
    place.turns.extend(turns.iter().map(|t| (*t, Hold::Free)));
    place.turns.sort_by(|a, b| a.0.total_cmp(&b.0));
    place.turns.dedup_by(|a, b| (a.0 - b.0).abs() < tol::SAME_TURN_DEG);
}

/// The phases of a group that may slide over the whole repeat, in the drawing: where the cloth lies across, its repeats do.
fn cell(pattern: &Pattern, lies: Option<Stand>) -> PhaseSpace {
    let as_drawn = |v: Point| if lies.is_some_and(Stand::is_across) { pt(v.y, -v.x) } else { v };
    let (a, b) = (pattern.lattice.a.map(as_drawn), pattern.lattice.b.map(as_drawn));
    match (a, b) {
        (Some(a), b) => PhaseSpace::Cell { a, b: b.unwrap_or_default() },
        (None, b) => PhaseSpace::Cell { a: b.unwrap_or_default(), b: pt(0.0, 0.0) },
    }
}

/// The kinds of pivot crossing: a symmetrical order has a second pivot half a repeat from the first.
fn crossings(pattern: &Pattern) -> PhaseSpace {
    let l = pattern.lattice;
    let halves = |v: Option<Point>| match v {
        Some(v) if pattern.half_turn => vec![pt(0.0, 0.0), v * 0.5],
        _ => vec![pt(0.0, 0.0)],
    };
    PhaseSpace::Choices(
        halves(l.a).iter().flat_map(|a| halves(l.b).into_iter().map(move |b| *a + b)).collect(),
    )
}

/// Shifts that leave the pattern in step: the offset plus whole repeats.
fn held(pattern: &Pattern, offset: Offset) -> Hold {
    match (pattern.lattice.a, pattern.lattice.b) {
        (Some(a), Some(b)) => Hold::Lattice { a, b, offset },
        (Some(step), None) | (None, Some(step)) => {
            let length = distance(step, pt(0.0, 0.0));
            Hold::Stripe { step, along: pt(-step.y, step.x) / length, offset }
        }
        (None, None) => Hold::Free,
    }
}

/// `drawn`: the pivot `o` falls on the drawing's point s, so shift ≡ o − R(turn)·s: turn 0, o − s; turn 180, o + s; turn 90,
/// o + (s.y, −s.x).
fn drawn(pattern: &Pattern, turn_deg: f64, given: Option<[f64; 2]>, group: Option<usize>) -> Hold {
    let (c, s) = turn_cos_sin(turn_deg);
    let m = [pt(-c, -s), pt(s, -c)];
    let given = given.map_or(pt(0.0, 0.0), |[x, y]| m[0] * x + m[1] * y);
    held(pattern, Offset { base: pattern.lattice.origin + given, group, m })
}

/// `centred`: the anchor lies on a crossing of the group's kind.
fn centred(pattern: &Pattern, turn_deg: f64, anchor: Point, group: usize) -> Hold {
    let turned = Pose { turn_deg, shift: pt(0.0, 0.0) }.apply(anchor);
    let base = pattern.lattice.origin - turned;
    held(pattern, Offset { base, group: Some(group), m: [pt(1.0, 0.0), pt(0.0, 1.0)] })
}

/// `pair`: the anchors' phases are each other's mirror image across a pivot: (u, v) and (−u, v). Where the cloth lies across
/// the drawing, left and right of it are along the cloth: (u, v) and (u, −v).
fn paired(pattern: &Pattern, turn_deg: f64, anchor: Point, group: usize, side: f64) -> Hold {
    let quarters = stand::quarters(turn_deg).unwrap_or(0);
    let sign = if quarters < 2 { 1.0 } else { -1.0 };
    let [across, along] = if quarters % 2 == 1 { [1.0, side] } else { [side, 1.0] };
    let turned = Pose { turn_deg, shift: pt(0.0, 0.0) }.apply(anchor);
    let base = pattern.lattice.origin - turned;
    let a = pattern.lattice.a.unwrap_or_default() * (sign * across);
    let b = pattern.lattice.b.unwrap_or_default() * (sign * along);
    held(pattern, Offset { base, group: Some(group), m: [a, b] })
}

/// Binds the places of a group to each other, pair by pair.
fn pair_up(
    out: &mut Places,
    pieces: &[Piece],
    pattern: &Pattern,
    members: &[usize],
    cloth: &Cloth,
    across: bool,
) -> Result<(), Trouble> {
    let (repeat, mirrors, way) = if across {
        (pattern.lattice.b, pattern.mirrors_along, "along")
    } else {
        (pattern.lattice.a, pattern.mirrors_across, "across")
    };
    if repeat.is_some() && !mirrors {
        let what =
            format!("match \"pair\" needs a pattern that mirrors {way}, and that of {} does not", cloth.name);
        return Err(Trouble::cannot("", what).hint("use a symmetrical order, or match \"drawn\" or \"free\""));
    }
    let singles: Vec<Single> = members.iter().map(|m| (out.places[*m].piece, out.places[*m].copy)).collect();
    for (one, other) in pairs::pairs(pieces, &singles)? {
        let v = if pattern.lattice.b.is_some() { 1.0 } else { 0.0 };
        let u = if pattern.lattice.a.is_some() { 1.0 } else { 0.0 };
        out.groups.push(PhaseSpace::Cell { a: pt(u, 0.0), b: pt(0.0, v) });
        let g = out.groups.len() - 1;
        for (place, side) in [(members[one], 1.0), (members[other], -1.0)] {
            let anchor = pieces[out.places[place].piece].anchor;
            for (turn, hold) in &mut out.places[place].turns {
                *hold = paired(pattern, *turn, anchor, g, side);
            }
        }
    }
    Ok(())
}
