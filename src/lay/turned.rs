//! What a quarter turn does to the look of a cloth, told where pieces took one.

use std::collections::{BTreeMap, BTreeSet};

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{Grain, PieceRule, Weave};
use crate::say::Note;

use super::model::Lay;
use super::stand;

/// What a maker should know of pieces that lie across their cloth, or might have: a twill's line then leans the other way,
/// and a nap runs across the work.
pub fn turned_notes(lay: &Lay, pieces: &[Piece], rules: &[PieceRule], cloths: &[Cloth]) -> Vec<Note> {
    let mut notes = Vec::new();
    for (on, cloth) in lay.cloths.iter().zip(cloths) {
        let mut across: BTreeMap<usize, usize> = BTreeMap::new();
        let mut kept_along: BTreeSet<usize> = BTreeSet::new();
        for p in &on.placed {
            let piece = &pieces[p.piece];
            let Some(rule) = rules.get(piece.rule) else { continue };
            let turn = p.pose.turn_deg + rule.grain_deg;
            if stand::quarters(turn).is_some_and(|q| q % 2 == 1) {
                *across.entry(piece.rule).or_default() += 1;
            } else if rule.grain == Grain::Either && cloth.nap {
                kept_along.insert(piece.rule);
            }
        }
        for (rule, count) in across {
            let about = format!("rule pieces[{rule}]");
            let what = if count == 1 { "Its piece lies".into() } else { format!("Its {count} pieces lie") };
            if cloth.nap {
                let text = format!(
                    "{what} across cloth {}, so the nap runs across the work and catches the light otherwise than in \
                     pieces that lie along.",
                    cloth.name
                );
                notes.push(Note::caution(&about, text));
            }
            if matches!(cloth.weave, Weave::TwillZ | Weave::TwillS) {
                let line = if cloth.weave == Weave::TwillZ { "an S" } else { "a Z" };
                let text = format!(
                    "{what} across cloth {}, so the twill's line leans like {line} line in the work.",
                    cloth.name
                );
                notes.push(Note::advice(&about, text));
            }
        }
        for rule in kept_along {
            let text = format!(
                "Cloth {} has a nap, so grain \"either\" keeps its pieces along; grain \"across\" would turn them, the \
                 nap with them.",
                cloth.name
            );
            notes.push(Note::advice(format!("rule pieces[{rule}]"), text));
        }
    }
    notes
}
