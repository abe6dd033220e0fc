//! What the group of every piece is called.
//!
//! A rule's pieces are one group unless it says otherwise. Names the maker gave stand as they are; the others are taken
//! from what the rule picks, and never fall on a name that stands for another group.

use std::collections::{BTreeMap, BTreeSet};

use super::model::Piece;
use crate::job::{EACH, PieceRule};

/// The names of a job's groups.
#[derive(Debug)]
pub(super) struct GroupNames<'a> {
    /// The name of every rule's group; `None` where each of its pieces is one.
    by_rule: Vec<Option<String>>,
    /// Names that stand for something.
    taken: BTreeSet<String>,
    /// Names of pieces that are a group each, by the piece's own.
    own: BTreeMap<&'a str, String>,
}

impl<'a> GroupNames<'a> {
    /// The groups of `rules`; `singly` are the names of pieces whose rules keep each by itself.
    pub fn of(rules: &[PieceRule], singly: impl Iterator<Item = &'a str>) -> GroupNames<'a> {
        let given = |r: &PieceRule| r.group.clone().filter(|g| g != EACH);
        let mut taken: BTreeSet<String> = rules.iter().filter_map(given).collect();
        taken.insert(EACH.into());
        let mut by_rule = Vec::new();
        for (k, rule) in rules.iter().enumerate() {
            by_rule.push(match &rule.group {
                Some(each) if each == EACH => None,
                Some(name) => Some(name.clone()),
                None => {
                    let place = format!("pieces[{k}]");
                    Some(free(&mut taken, [picked(rule), Some(place)].into_iter().flatten()))
                }
            });
        }
        let mut names = GroupNames { by_rule, taken, own: BTreeMap::new() };
        for id in singly {
            let name = free(&mut names.taken, [id.to_owned(), format!("{id} alone")].into_iter());
            names.own.insert(id, name);
        }
        names
    }

    /// The group of the piece `id` that `rule` picks.
    pub fn name(&self, rule: usize, id: &str) -> String {
        let of_rule = self.by_rule.get(rule).cloned().flatten();
        of_rule.or_else(|| self.own.get(id).cloned()).unwrap_or_else(|| id.to_owned())
    }
}

/// Names the groups of `pieces` anew, for `rules` that were changed since they were picked.
pub fn regroup(pieces: &mut [Piece], rules: &[PieceRule]) {
    let of: Vec<(usize, String)> = pieces.iter().map(|p| (p.rule, p.id.clone())).collect();
    let singly = |rule: usize| rules.get(rule).is_some_and(|r| r.group.as_deref() == Some(EACH));
    let names = GroupNames::of(rules, of.iter().filter(|(r, _)| singly(*r)).map(|(_, id)| id.as_str()));
    for piece in pieces {
        piece.group = names.name(piece.rule, &piece.id);
    }
}

/// What a rule picks in a word: its layer, or the one shape it names.
fn picked(rule: &PieceRule) -> Option<String> {
    let id = rule.select.id.clone().filter(|id| !id.contains('*'));
    rule.select.layer.clone().or(id)
}

/// The first of `wanted` that is not taken, else the last with a number.
fn free(taken: &mut BTreeSet<String>, wanted: impl Iterator<Item = String>) -> String {
    let mut last = String::new();
    for name in wanted {
        if taken.insert(name.clone()) {
            return name;
        }
        last = name;
    }
    let mut number = 2;
    loop {
        let name = format!("{last} ({number})");
        if taken.insert(name.clone()) {
            return name;
        }
        number += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    fn rules(groups: &[(Option<&str>, &str)]) -> Vec<PieceRule> {
        let rule = |(group, layer): &(Option<&str>, &str)| {
            let spec = json!({"select": {"layer": layer}, "cloth": "c", "group": group});
            serde_json::from_value(spec).unwrap()
        };
        groups.iter().map(rule).collect()
    }

    #[test]
    fn a_rule_is_one_group_by_its_layer_unless_it_says_otherwise() {
        let rules = rules(&[(None, "wave"), (Some("sail"), "mast"), (Some("each"), "drops"), (None, "wave")]);
        let names = GroupNames::of(&rules, ["drop-1", "sail"].into_iter());
        assert_eq!(names.name(0, "wave-1"), "wave");
        assert_eq!(names.name(0, "wave-2"), "wave");
        assert_eq!(names.name(1, "mast"), "sail");
        assert_eq!(names.name(2, "drop-1"), "drop-1");
        // A piece by itself that is called like another group, and a second rule for the same layer.
        assert_eq!(names.name(2, "sail"), "sail alone");
        assert_eq!(names.name(3, "wave-3"), "pieces[3]");
    }

    #[test]
    fn what_a_rule_picks_by_pattern_is_called_by_its_place_in_the_job() {
        let rule = serde_json::from_value(json!({"select": {"id": "*"}, "cloth": "c"})).unwrap();
        assert_eq!(GroupNames::of(&[rule], std::iter::empty()).name(0, "a"), "pieces[0]");
    }

    proptest! {
        /// Whatever names are given, two rules share a group only when both give its name.
        #[test]
        fn no_name_is_taken_twice(
            words in prop::collection::vec((0..4usize, 0..3usize), 1..8),
            ids in prop::collection::btree_set(prop::sample::select(vec!["wave", "sail", "pieces[1]", "a"]), 0..4),
        ) {
            let layers = ["wave", "sail", "a"];
            let given = [None, Some("wave"), Some("pieces[1]"), Some("each")];
            let words: Vec<(Option<&str>, &str)> = words.iter().map(|(g, l)| (given[*g], layers[*l])).collect();
            let rules = rules(&words);
            let names = GroupNames::of(&rules, ids.iter().copied());
            let mut all: Vec<(Option<&str>, String)> = Vec::new();
            for (k, (group, _)) in words.iter().enumerate() {
                match group {
                    Some("each") => {}
                    _ => all.push((*group, names.name(k, "x"))),
                }
            }
            if let Some(k) = words.iter().position(|w| w.0 == Some("each")) {
                all.extend(ids.iter().map(|id| (None, names.name(k, id))));
            }
            for (i, (one, name)) in all.iter().enumerate() {
                prop_assert!(one.is_none_or(|g| g == name));
                for (other, also) in &all[i + 1..] {
                    prop_assert_eq!(name == also, one.is_some() && one == other);
                }
            }
        }
    }
}
