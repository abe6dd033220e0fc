//! Pieces placed by hand: read, checked against every rule at once, and fixed before any search.

use std::collections::BTreeMap;

use geo::{Distance, Euclidean};

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{LockedSpec, Match, PieceRule};
use crate::say::{Trouble, nearest_name};
use crate::shape::{Point, Pose, Region, booleans, distance, pt, tol};

use super::kind::{Hold, PhaseSpace};
use super::places::Places;
use super::stand;
use super::stock;
use super::turns::{allowed_turns, may_turn};

/// A piece placed by hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Locked {
    /// Its entry in `lay.locked`.
    pub entry: usize,
    /// Piece, by index.
    pub piece: usize,
    /// Which copy, from 1.
    pub copy: u32,
    /// The cloth it lies on, by index.
    pub cloth: usize,
    /// Its pose.
    pub pose: Pose,
}

/// Finds the pieces and cloths that `specs` name.
///
/// # Errors
/// Every entry that names a piece, copy or cloth that is not there, or one already placed.
pub fn read(
    specs: &[LockedSpec],
    pieces: &[Piece],
    rules: &[PieceRule],
    cloths: &[Cloth],
) -> Result<Vec<Locked>, Vec<Trouble>> {
    let mut all = Vec::new();
    let mut troubles = Vec::new();
    let mut taken: BTreeMap<(usize, u32), usize> = BTreeMap::new();
    for (entry, spec) in specs.iter().enumerate() {
        match one(entry, spec, pieces, rules, cloths) {
            Ok(locked) => match taken.get(&(locked.piece, locked.copy)) {
                Some(other) => troubles.push(Trouble::bad_input(
                    format!("lay.locked[{entry}]"),
                    format!("piece {} ({}) is placed by lay.locked[{other}] already", spec.piece, spec.copy),
                )),
                None => {
                    taken.insert((locked.piece, locked.copy), entry);
                    all.push(locked);
                }
            },
            Err(t) => troubles.push(t),
        }
    }
    if troubles.is_empty() { Ok(all) } else { Err(troubles) }
}

fn one(
    entry: usize,
    spec: &LockedSpec,
    pieces: &[Piece],
    rules: &[PieceRule],
    cloths: &[Cloth],
) -> Result<Locked, Trouble> {
    let at = |field: &str| format!("lay.locked[{entry}].{field}");
    let Some(piece) = pieces.iter().position(|p| p.id == spec.piece && p.count > 0) else {
        let hint = nearest_name(&spec.piece, pieces.iter().map(|p| p.id.as_str()))
            .map_or_else(|| "settlay check lists the pieces".into(), |n| format!("did you mean \"{n}\"?"));
        let what = format!("\"{}\": expected the name of a piece that is cut", spec.piece);
        return Err(Trouble::bad_input(at("piece"), what).hint(hint));
    };
    let count = pieces[piece].count;
    if !(1..=count).contains(&spec.copy) {
        let what = format!("{}: expected 1 to {count}, the copies of piece {}", spec.copy, spec.piece);
        return Err(Trouble::bad_input(at("copy"), what));
    }
    let numbers = [spec.turn_deg, spec.shift_mm[0], spec.shift_mm[1]];
    if numbers.iter().any(|v| !(v.is_finite() && v.abs() <= tol::FARTHEST_MM)) {
        return Err(Trouble::bad_input(at("shift_mm"), "expected numbers of a sensible size"));
    }
    let choices = stock::choices(&pieces[piece], rules, cloths);
    let names = || choices.iter().map(|c| cloths[*c].name.as_str()).collect::<Vec<_>>();
    let cloth = match &spec.cloth {
        Some(name) => choices.iter().copied().find(|c| cloths[*c].name == *name).ok_or_else(|| {
            let hint =
                nearest_name(name, names()).map_or(String::new(), |n| format!("did you mean \"{n}\"?"));
            let what = format!(
                "\"{name}\": expected a cloth that piece {} may be cut from: {}",
                spec.piece,
                names().join(", ")
            );
            Trouble::bad_input(at("cloth"), what).hint(hint)
        })?,
        None if choices.len() == 1 => choices[0],
        None => {
            let what = format!(
                "the field \"cloth\" is missing: piece {} may be cut from {}",
                spec.piece,
                names().join(", ")
            );
            return Err(Trouble::bad_input(format!("lay.locked[{entry}]"), what));
        }
    };
    let pose =
        Pose { turn_deg: spec.turn_deg.rem_euclid(360.0), shift: pt(spec.shift_mm[0], spec.shift_mm[1]) };
    Ok(Locked { entry, piece, copy: spec.copy, cloth, pose })
}

/// What a locked piece is called.
fn name(pieces: &[Piece], locked: &Locked) -> String {
    format!("locked piece {} ({})", pieces[locked.piece].id, locked.copy)
}

/// Fixes the `locked` pieces of one cloth in their `places`: their turns, and the phases of their groups.
///
/// # Errors
/// Every locked piece that breaks a rule: turn, match, usable cloth, flaws, gap.
pub fn fix(
    places: &mut Places,
    locked: &[Locked],
    pieces: &[Piece],
    rules: &[PieceRule],
    cloth: &Cloth,
    gap_mm: f64,
) -> Result<(), Vec<Trouble>> {
    let mut troubles = Vec::new();
    let mut phases = vec![Point::default(); places.groups.len()];
    let mut fixed_by: BTreeMap<usize, &Locked> = BTreeMap::new();
    for l in locked {
        let Some(at) = places.places.iter().position(|p| (p.piece, p.copy) == (l.piece, l.copy)) else {
            continue;
        };
        let rule = pieces[l.piece].rule;
        let place = format!("pieces[{rule}]");
        let mut pose = l.pose;
        match may_turn(&rules[rule], cloth, &place, pose.turn_deg) {
            Ok(true) => {}
            Ok(false) => {
                troubles.push(turn_trouble(l, pieces, &rules[rule], cloth));
                continue;
            }
            Err(t) => {
                troubles.push(t);
                continue;
            }
        }
        let same_turn = places.places[at].turns.iter().find(|(t, _)| {
            let d = (t - pose.turn_deg).rem_euclid(360.0);
            d.min(360.0 - d) <= tol::SAME_TURN_DEG
        });
        // Its group lies otherwise: a piece before it says how.
        if same_turn.is_none() && stand::binds(pieces[l.piece].matching, cloth) {
            let group = &pieces[l.piece].group;
            let before = locked.iter().take_while(|o| o.entry != l.entry);
            let first = before.clone().find(|o| pieces[o.piece].group == *group);
            troubles.push(way_trouble(l, first, pieces));
            continue;
        }
        // A turn within a range that is walked in steps: such cloth has no pattern and so no hold.
        let (turn_deg, hold) = same_turn.copied().unwrap_or((pose.turn_deg, Hold::Free));
        pose.turn_deg = turn_deg;
        places.places[at].turns = vec![(turn_deg, hold)];
        places.places[at].locked = Some(pose);
        places.places[at].between_deg = 0.0;
        let group = hold.group();
        let first = group.and_then(|g| fixed_by.get(&g).copied());
        if let (Some(g), None) = (group, first) {
            phases[g] = phase(&places.groups[g], &hold, pose.shift);
            fixed_by.insert(g, l);
        }
        let near = hold.near(pose.shift, &phases);
        let off = distance(near, pose.shift);
        if off > tol::LOCKED_IN_STEP_MM + cloth.match_tolerance_mm {
            troubles.push(step_trouble(l, first, off, near, pieces));
        }
    }
    for g in fixed_by.keys() {
        places.groups[*g] = PhaseSpace::Choices(vec![phases[*g]]);
    }
    let cuts: Vec<Region> = locked.iter().map(|l| l.pose.region(&pieces[l.piece].cut)).collect();
    troubles.extend(locked.iter().zip(&cuts).filter_map(|(l, cut)| outside(l, cut, pieces, cloth)));
    troubles.extend(too_near(locked, &cuts, pieces, gap_mm));
    if troubles.is_empty() { Ok(()) } else { Err(troubles) }
}

/// The group's phase at which `shift` is in step; for a choice of few, the nearest.
pub(super) fn phase(space: &PhaseSpace, hold: &Hold, shift: Point) -> Point {
    let (Hold::Lattice { offset, .. } | Hold::Stripe { offset, .. }) = hold else { return Point::default() };
    match space {
        PhaseSpace::Choices(all) => {
            let Some(g) = offset.group else { return Point::default() };
            let miss = |p: &Point| {
                let mut phases = vec![Point::default(); g + 1];
                phases[g] = *p;
                distance(hold.near(shift, &phases), shift)
            };
            all.iter().copied().min_by(|p, q| miss(p).total_cmp(&miss(q))).unwrap_or_default()
        }
        PhaseSpace::Cell { .. } => {
            // Into the first cell, as when the search chooses it.
            let raw = offset.phase(shift);
            space.moved(raw, 0.0, 0.0).unwrap_or(raw)
        }
    }
}

fn turn_trouble(l: &Locked, pieces: &[Piece], rule: &PieceRule, cloth: &Cloth) -> Trouble {
    let exact = PieceRule { grain_tolerance_deg: 0.0, ..rule.clone() };
    let turns = allowed_turns(&exact, cloth, "").unwrap_or_default();
    let list = turns.iter().map(|t| format!("{t}")).collect::<Vec<_>>().join(", ");
    Trouble::cannot(
        name(pieces, l),
        format!("is turned by {}°, which cloth {} does not allow", l.pose.turn_deg, cloth.name),
    )
    .hint(format!("lay.locked[{}].turn_deg may be {list}", l.entry))
}

fn way_trouble(l: &Locked, first: Option<&Locked>, pieces: &[Piece]) -> Trouble {
    let piece = &pieces[l.piece];
    let other = first.map_or("its other pieces".into(), |f| {
        format!("{}, which is turned by {}°", name(pieces, f), f.pose.turn_deg)
    });
    let what = format!(
        "is turned by {}° and lies otherwise than {other}: with match \"{}\" group {} lies one way on its cloth",
        l.pose.turn_deg,
        piece.matching.word(),
        piece.group
    );
    Trouble::cannot(name(pieces, l), what)
        .hint(format!("give both the same turn: lay.locked[{}].turn_deg", l.entry))
}

fn step_trouble(l: &Locked, first: Option<&Locked>, off: f64, near: Point, pieces: &[Piece]) -> Trouble {
    let piece = &pieces[l.piece];
    let what = match (piece.matching, first) {
        (_, Some(first)) => format!(
            "is {off:.2} mm out of step with {}, which fixes the pattern of group {} (match \"{}\")",
            name(pieces, first),
            piece.group,
            piece.matching.word()
        ),
        (Match::Centred, None) => format!("has its anchor {off:.2} mm off the nearest crossing of pivots"),
        _ => format!("is {off:.2} mm out of step with the pattern (match \"{}\")", piece.matching.word()),
    };
    Trouble::cannot(name(pieces, l), what).hint(format!(
        "the nearest place in step is lay.locked[{}].shift_mm [{:.3}, {:.3}]",
        l.entry, near.x, near.y
    ))
}

fn outside(l: &Locked, cut: &Region, pieces: &[Piece], cloth: &Cloth) -> Option<Trouble> {
    let area = |all: Vec<Region>| all.iter().map(Region::area).sum::<f64>();
    // A strip as thin as the tolerance all along the edge is rounding.
    let rounding = tol::CLEAR_MM * cut.edge_length();
    let out = area(cut.minus(&cloth.usable()));
    if out <= rounding {
        return None;
    }
    let flaw = cloth.flaws.iter().position(|f| {
        let flaw = Region::new(f.clone(), Vec::new());
        area(booleans::intersection(std::slice::from_ref(cut), &[flaw])) > tol::SLIVER_MM2
    });
    let what = match flaw {
        Some(k) => format!("lies on flaw {} of cloth {}", k + 1, cloth.name),
        None => format!("lies {out:.0} mm² outside the usable part of cloth {}", cloth.name),
    };
    Some(Trouble::cannot(name(pieces, l), what).hint(format!("move it: lay.locked[{}].shift_mm", l.entry)))
}

fn too_near(locked: &[Locked], cuts: &[Region], pieces: &[Piece], gap_mm: f64) -> Vec<Trouble> {
    let shapes: Vec<_> = cuts.iter().map(Region::to_geo).collect();
    let boxes: Vec<_> = cuts.iter().map(|c| c.bounds().grown(gap_mm / 2.0)).collect();
    let mut by_left: Vec<usize> = (0..boxes.len()).collect();
    by_left.sort_by(|a, b| boxes[*a].min.x.total_cmp(&boxes[*b].min.x).then(a.cmp(b)));
    let mut near: Vec<(usize, usize, f64, bool)> = Vec::new();
    for (k, &i) in by_left.iter().enumerate() {
        for &j in by_left[k + 1..].iter().take_while(|j| boxes[**j].min.x <= boxes[i].max.x) {
            if !boxes[i].meets(boxes[j]) {
                continue;
            }
            let d = Euclidean.distance(&shapes[i], &shapes[j]);
            let shared = d == 0.0
                && booleans::intersection(&cuts[i..=i], &cuts[j..=j]).iter().map(Region::area).sum::<f64>()
                    > tol::SLIVER_MM2;
            if shared || d < gap_mm - tol::CLEAR_MM {
                near.push((i.min(j), i.max(j), d, shared));
            }
        }
    }
    near.sort_by_key(|n| (n.0, n.1));
    near.iter()
        .map(|&(i, j, d, shared)| {
            let (one, other) = (name(pieces, &locked[i]), name(pieces, &locked[j]));
            let what = if shared {
                format!("overlaps {other}")
            } else {
                format!("lies {d:.2} mm from {other}, less than the gap of {gap_mm} mm")
            };
            Trouble::cannot(one, what).hint(format!(
                "move one of them: lay.locked[{}] or lay.locked[{}]",
                locked[i].entry, locked[j].entry
            ))
        })
        .collect()
}
