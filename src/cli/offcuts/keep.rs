//! Offcuts put on the shelf with their pictures, and the leftovers of a plan as it is marked cut.

use crate::offcuts::{self, Discarded, Offcut, Place};
use crate::plan::{CutFrom, Plan, PlanCloth};
use crate::say::Trouble;
use crate::write;

use super::said;

/// What became of the leftovers of a cloth that is cut.
#[derive(Default)]
pub(in crate::cli) struct Kept {
    /// Those now put on the shelf.
    pub new: Vec<Offcut>,
    /// Those that were on it already, or have been.
    pub known: Vec<Offcut>,
    /// The rest.
    pub discarded: Vec<Discarded>,
    /// The offcut the cloth was, now off the shelf: it is cut up.
    pub cut_up: Option<String>,
    /// The cloth is the rest of another plan's, which leaves what is left.
    pub elsewhere: bool,
}

impl Kept {
    /// What was done, in words.
    pub(in crate::cli) fn words(&self, place: &Place) -> String {
        let mut text = String::new();
        if self.elsewhere {
            return LEFT_ELSEWHERE.into();
        }
        text.push_str(&cut_up_words(self.cut_up.as_slice()));
        for offcut in &self.new {
            text.push_str(&format!("  {}\n", offcut.line()));
        }
        text.push_str(&discarded_words(&self.discarded));
        if !self.known.is_empty() {
            let ids: Vec<&str> = self.known.iter().map(|o| o.id.as_str()).collect();
            text.push_str(&format!("Its leftovers were put on the shelf before: {}\n", ids.join(", ")));
        } else if self.new.is_empty() {
            text.push_str("Nothing is left that is worth keeping.\n");
        }
        if !self.new.is_empty() {
            text.push_str(&format!("Pin the id to each. The shelf is {}\n", place.file().display()));
        }
        text
    }
}

/// What is said of a cloth that is the rest of another plan's.
pub(super) const LEFT_ELSEWHERE: &str = "What is left belongs to the plan it was cut from: as the last pass of that is marked \
    cut, name this folder with --since, so that its place is taken off the leftovers.\n";

/// Which offcuts are off the shelf; nothing where none is.
pub(super) fn cut_up_words(ids: &[String]) -> String {
    if ids.is_empty() {
        return String::new();
    }
    format!("Off the offcut shelf, for it is cut up: {}.\n", ids.join(", "))
}

/// Area and weight of what is discarded, a line a cloth.
pub(super) fn discarded_words(discarded: &[Discarded]) -> String {
    let line = |c: &Discarded| {
        let weight = c.weight_g.map_or(String::new(), |w| format!(", {w:.0} g"));
        format!("discarded: {:.3} m² of {}{weight}\n", c.area_mm2 / 1.0e6, c.cloth)
    };
    discarded.iter().map(line).collect()
}

/// Puts the leftovers of one cloth of a plan on the shelf, once: `left_by` names the cutting they are left by. Those
/// put there by hand from the same plan count as there. What was cut again from it `since` is taken off them; an offcut
/// that the cloth was is off the shelf from then on.
///
/// # Errors
/// A plan that does not say what the cloth is; a shelf that cannot be changed.
pub(in crate::cli) fn keep_leftovers(
    plan: &Plan,
    cloth: &PlanCloth,
    left_by: &str,
    kept_in: &str,
    since: &[Plan],
    place: &Place,
) -> Result<Kept, Vec<Trouble>> {
    let elsewhere = offcuts::is_of_another_plan(cloth);
    if elsewhere {
        return Ok(Kept { elsewhere, ..Kept::default() });
    }
    let stock = |shelf: &[Offcut]| {
        let beside = offcuts::Beside { since, shelf };
        offcuts::shelve_of(plan, &[cloth], &offcuts::today(), kept_in, beside)
    };
    let first = stock(&[])?;
    if first.offcuts.is_empty() && !matches!(cloth.cut_from, Some(CutFrom::Offcut { .. })) {
        return Ok(Kept { discarded: first.discarded, ..Kept::default() });
    }
    let (kept, notes) = place.change(|shelf| {
        let what = stock(&shelf.offcuts)?;
        let cut_up = offcuts::take_cut_up(shelf, plan, cloth);
        let by_hand = |o: &Offcut| o.left_by.is_empty() && what.offcuts.iter().any(|w| w.is_again(o));
        let there = |o: &&Offcut| o.left_by == left_by || by_hand(o);
        let known: Vec<Offcut> = shelf.offcuts.iter().filter(there).cloned().collect();
        let mut new = Vec::new();
        // Some may have come off when the cutting was taken back, while others were gone already.
        let missing = what.offcuts.len().saturating_sub(known.len());
        // Two may be alike: each that is known stands for one.
        let mut there: Vec<&Offcut> = known.iter().collect();
        let lacks = |w: &&Offcut| match there.iter().position(|k| k.cloth == w.cloth) {
            Some(k) => {
                there.remove(k);
                false
            }
            None => true,
        };
        let lacking: Vec<&Offcut> = what.offcuts.iter().filter(lacks).take(missing).collect();
        for offcut in lacking {
            let offcut = Offcut { left_by: left_by.to_owned(), ..offcut.clone() };
            new.push(write::put_pictured(shelf, offcut, place)?);
        }
        Ok(Kept { new, known, discarded: what.discarded, cut_up, elsewhere })
    })?;
    said(&notes);
    Ok(kept)
}
