//! How a group whose pattern must run through, or mirror, lies on its cloth: along or across, all its pieces alike.

use std::collections::BTreeMap;

use crate::cloth::{Cloth, Pattern};
use crate::drawing::Piece;
use crate::job::Match;
use crate::say::Trouble;
use crate::shape::tol;

/// The turns that let a group's pattern lie one way: a turn of whole quarters, and the half turn from it where that leaves
/// the pattern as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Stand {
    quarters: u8,
}

/// How groups lie, by name.
pub type Stands = BTreeMap<String, Stand>;

impl Stand {
    /// How a piece at this turn lies; `None` when that is no whole number of quarters.
    pub fn of(turn_deg: f64, pattern: &Pattern) -> Option<Stand> {
        let quarters = quarters(turn_deg)?;
        Some(Stand { quarters: if pattern.half_turn { quarters % 2 } else { quarters } })
    }

    /// True when the warp runs across the drawing.
    pub fn is_across(self) -> bool {
        self.quarters % 2 == 1
    }

    /// Its turns, for people.
    fn words(self, pattern: &Pattern) -> String {
        let deg = u32::from(self.quarters) * 90;
        if pattern.half_turn { format!("{deg}° or {}°", deg + 180) } else { format!("{deg}°") }
    }
}

/// Whole quarters of a turn, 0 to 3; `None` for any other turn.
pub fn quarters(turn_deg: f64) -> Option<u8> {
    let turns = turn_deg.rem_euclid(360.0) / 90.0;
    let whole = turns.round();
    // Some of 0 to 4, and four quarters are none.
    ((turns - whole).abs() * 90.0 < tol::SAME_TURN_DEG).then_some(whole as u8 % 4)
}

/// True when a piece so matched lies on this cloth as its whole group does.
pub fn binds(matching: Match, cloth: &Cloth) -> bool {
    cloth.pattern.is_some() && matches!(matching, Match::Drawn | Match::Pair)
}

/// The ways each group may lie: those that every one of its rules allows. `turns` are the allowed ones, by rule.
///
/// # Errors
/// Groups whose rules contradict each other.
pub fn choices<'a>(
    pieces: impl Iterator<Item = &'a Piece>,
    turns: &BTreeMap<usize, Vec<f64>>,
    cloth: &Cloth,
) -> Result<BTreeMap<&'a str, Vec<Stand>>, Vec<Trouble>> {
    let mut rules: BTreeMap<(&str, usize), (Match, Vec<Stand>)> = BTreeMap::new();
    let Some(pattern) = &cloth.pattern else { return Ok(BTreeMap::new()) };
    for piece in pieces.filter(|p| binds(p.matching, cloth)) {
        let Some(turns) = turns.get(&piece.rule) else { continue };
        rules.entry((&piece.group, piece.rule)).or_insert_with(|| {
            let mut stands: Vec<Stand> = turns.iter().filter_map(|t| Stand::of(*t, pattern)).collect();
            stands.sort_unstable();
            stands.dedup();
            (piece.matching, stands)
        });
    }
    let mut all: BTreeMap<&str, (usize, Vec<Stand>)> = BTreeMap::new();
    let mut troubles = Vec::new();
    for ((group, rule), (matching, stands)) in rules {
        let (first, common) = all.entry(group).or_insert_with(|| (rule, stands.clone()));
        let before = common.clone();
        common.retain(|s| stands.contains(s));
        if common.is_empty() {
            let ways = |all: &[Stand]| all.iter().map(|s| s.words(pattern)).collect::<Vec<_>>().join(" or ");
            let what = format!(
                "pieces[{first}] turns its pieces by {}, pieces[{rule}] by {}: with match \"{}\" a group lies one way \
                 on its cloth",
                ways(&before),
                ways(&stands),
                matching.word()
            );
            let hint = "give both rules the same grain and grain_deg, or leave out the group of one";
            troubles.push(Trouble::cannot(format!("group {group}"), what).hint(hint));
            *common = before;
        }
    }
    let all = all.into_iter().map(|(group, (_, stands))| (group, stands)).collect();
    if troubles.is_empty() { Ok(all) } else { Err(troubles) }
}

/// How the groups of pieces placed by hand on one cloth lie: as the first of each does.
pub fn of_laid<'a>(laid: impl Iterator<Item = (&'a Piece, f64)>, cloth: &Cloth) -> Stands {
    let mut stands = Stands::new();
    let Some(pattern) = &cloth.pattern else { return stands };
    for (piece, turn_deg) in laid.filter(|(p, _)| binds(p.matching, cloth)) {
        if let Some(stand) = Stand::of(turn_deg, pattern) {
            stands.entry(piece.group.clone()).or_insert(stand);
        }
    }
    stands
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_quarters_are_a_way_to_lie() {
        let of = [0.0, 90.0, 180.0, 270.0, 360.0, -90.0, 45.0, 89.9, 1e-10, 360.0 - 1e-10].map(quarters);
        assert_eq!(of, [Some(0), Some(1), Some(2), Some(3), Some(0), Some(3), None, None, Some(0), Some(0)]);
    }
}
