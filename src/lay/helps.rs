//! Changes of a job's rules that would free it: each is only proposed where it would be accepted and help.

use std::collections::BTreeSet;

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{Grain, Match, PieceRule};
use crate::shape::{Pose, pt};

use super::board::Board;
use super::kind::Hold;
use super::places::Places;
use super::stand;

/// What turning `piece`, which goes in none of its allowed turns, by a quarter would take; `None` where that is no help
/// or not to be had. `room` is what the cloth offers across and along, mm.
pub fn turned(
    piece: &Piece,
    places: &Places,
    pieces: &[Piece],
    rules: &[PieceRule],
    cloth: &Cloth,
    room: (f64, f64),
) -> Option<String> {
    let bound = stand::binds(piece.matching, cloth);
    let grain = match rules.get(piece.rule)?.grain {
        // A whole group that may lie either way was tried across too, unless the nap keeps it along.
        Grain::Either if bound && !cloth.nap => return None,
        Grain::Along | Grain::Either => Grain::Across,
        Grain::Across => Grain::Along,
        Grain::Bias | Grain::Any => return None,
    };
    let goes = |p: &Piece| {
        let turn_deg = -rules.get(p.rule).map_or(0.0, |r| r.grain_deg);
        let turn_deg = if grain == Grain::Across { turn_deg + 90.0 } else { turn_deg };
        let b = Pose { turn_deg, shift: pt(0.0, 0.0) }.region(&p.cut).bounds();
        b.width() <= room.0 && (cloth.open_length || b.height() <= room.1)
    };
    if !goes(piece) {
        return None;
    }
    if piece.matching == Match::Pair
        && let Some(pattern) = &cloth.pattern
    {
        let (repeat, mirrors) = match grain {
            Grain::Across => (pattern.lattice.b, pattern.mirrors_along),
            _ => (pattern.lattice.a, pattern.mirrors_across),
        };
        if repeat.is_some() && !mirrors {
            return None;
        }
    }
    // A rule turns all its pieces, and a group lies one way.
    let of_group = |p: &Piece| bound && p.group == piece.group && p.matching == piece.matching;
    let turned = |p: &Piece| p.rule == piece.rule || of_group(p);
    let mut all = places.places.iter().map(|place| &pieces[place.piece]).filter(|p| turned(p));
    let word = if grain == Grain::Across { "across" } else { "along" };
    let look = "if the cloth's look allows it";
    if all.clone().all(goes) {
        let of_rules: BTreeSet<usize> = all.map(|p| p.rule).collect();
        let whole = if bound { "its whole group" } else { "it" };
        return Some(format!(
            "turned by 90° {whole} would fit: set grain to \"{word}\" in {}, {look}",
            listed(&of_rules)
        ));
    }
    let alone = !bound && all.any(|p| p.rule == piece.rule && !goes(p));
    alone.then(|| {
        format!("turned by 90° it would fit: give it a rule of its own with grain \"{word}\", {look}")
    })
}

/// What keeping the pieces of these groups apart would take; `None` where nothing can be.
pub fn each(board: &Board, places: &Places, pieces: &[Piece], groups: &[usize]) -> Option<String> {
    let of_group = |item: &usize| {
        let ways = &board.kinds[board.items[*item]].ways;
        ways.iter().filter_map(|w| w.hold.group()).any(|g| groups.contains(&g))
    };
    let free: Vec<&Piece> = places.free().map(|p| &pieces[p.piece]).collect();
    let held = (0..board.items.len()).filter(of_group).filter_map(|i| free.get(i));
    let may = held.filter(|p| matches!(p.matching, Match::Drawn | Match::Centred));
    let (rules, ids): (BTreeSet<usize>, BTreeSet<&str>) = may.map(|p| (p.rule, p.id.as_str())).unzip();
    (ids.len() > 1).then(|| {
        format!(
            "set group to \"each\" in {} (every piece then has a place of the pattern of its own)",
            listed(&rules)
        )
    })
}

fn listed(rules: &BTreeSet<usize>) -> String {
    rules.iter().map(|r| format!("pieces[{r}]")).collect::<Vec<_>>().join(", ")
}

/// The same board with the pieces of these groups kept apart from each other.
pub fn apart(board: &Board, groups: &[usize]) -> Board {
    let mut apart = board.clone();
    for kind in &mut apart.kinds {
        let of_group = kind.ways.iter().find_map(|w| w.hold.group()).filter(|g| groups.contains(g));
        let Some(space) = of_group.and_then(|g| board.groups.get(g)) else { continue };
        let own = apart.groups.len();
        apart.groups.push(space.clone());
        for way in &mut kind.ways {
            if let Hold::Lattice { offset, .. } | Hold::Stripe { offset, .. } = &mut way.hold {
                offset.group = offset.group.map(|_| own);
            }
        }
    }
    apart
}
