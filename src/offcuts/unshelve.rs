//! Leftovers taken off the shelf again: the cloth they were to be left of is not cut after all.

use crate::plan::{Plan, PlanCloth};
use crate::say::{Note, Trouble};

use super::date;
use super::file::Place;
use super::model::{Offcut, State};
use super::shelve::{Beside, cut_up, shelve_of};

/// What became of leftovers that are none.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Unshelved {
    /// Taken off: nobody had touched them.
    pub off: Vec<Offcut>,
    /// Back on it: the offcut that the cloth was, which is not cut up after all.
    pub back: Vec<Offcut>,
    /// Gone already: taken for a work, or discarded. They stay on record.
    pub gone: Vec<Offcut>,
    /// Put there by hand from the same plan. They stay: only the maker knows whether they are there.
    pub by_hand: Vec<Offcut>,
}

impl Unshelved {
    /// What happened, a sentence for each kind; nothing where there were none.
    pub fn words(&self) -> Vec<String> {
        let ids = |all: &[Offcut]| all.iter().map(|o| o.id.as_str()).collect::<Vec<_>>().join(", ");
        let mut said = Vec::new();
        if !self.off.is_empty() {
            said.push(format!("Taken off the offcut shelf again: {}.", ids(&self.off)));
        }
        if !self.back.is_empty() {
            said.push(format!("Back on the offcut shelf: {}.", ids(&self.back)));
        }
        if !self.gone.is_empty() {
            let what = "These leftovers are gone from the offcut shelf already, and stay on record there";
            said.push(format!("{what}: {}.", ids(&self.gone)));
        }
        if !self.by_hand.is_empty() {
            let what = "These leftovers of it were put on the offcut shelf by hand and stay there";
            said.push(format!("{what}: {}. Take off what is not cut.", ids(&self.by_hand)));
        }
        said
    }
}

/// Takes the leftovers of one cloth of a plan off the shelf that `left_by` (the cutting they are left by) put there.
///
/// # Errors
/// A shelf that cannot be read or changed.
pub fn unshelve(
    plan: &Plan,
    cloth: &PlanCloth,
    left_by: &str,
    place: &Place,
) -> Result<(Unshelved, Vec<Note>), Vec<Trouble>> {
    // A plan that does not say what its cloth is has put nothing there.
    let (shelf, notes) = place.read().map_err(|t| vec![t])?;
    let beside = Beside { since: &[], shelf: &shelf.offcuts };
    let what = shelve_of(plan, &[cloth], &date::today(), "", beside).map(|s| s.offcuts).unwrap_or_default();
    let ours = |o: &Offcut| !left_by.is_empty() && o.left_by == left_by;
    let by_hand =
        |o: &Offcut| o.left_by.is_empty() && o.state == State::Kept && what.iter().any(|w| w.is_again(o));
    let some = |which: &dyn Fn(&Offcut) -> bool| -> Vec<Offcut> {
        shelf.offcuts.iter().filter(|o| which(o)).cloned().collect()
    };
    let found = Unshelved {
        off: Vec::new(),
        back: Vec::new(),
        gone: some(&|o| ours(o) && o.state != State::Kept),
        by_hand: some(&by_hand),
    };
    let for_it = |o: &Offcut| o.state == State::Taken && o.taken_for == plan.title;
    let parent = |shelf: &[Offcut]| cut_up(cloth, shelf).filter(|&k| for_it(&shelf[k]));
    let changes = shelf.offcuts.iter().any(|o| ours(o) && o.state == State::Kept);
    if !changes && parent(&shelf.offcuts).is_none() {
        return Ok((found, notes));
    }
    let ((off, back), notes) = place.change(|shelf| {
        let mut back = Vec::new();
        if let Some(k) = parent(&shelf.offcuts) {
            shelf.offcuts[k].state = State::Kept;
            shelf.offcuts[k].taken_for.clear();
            back.push(shelf.offcuts[k].clone());
        }
        let (off, stay): (Vec<Offcut>, Vec<Offcut>) =
            std::mem::take(&mut shelf.offcuts).into_iter().partition(|o| ours(o) && o.state == State::Kept);
        shelf.offcuts = stay;
        Ok((off, back))
    })?;
    Ok((Unshelved { off, back, ..found }, notes))
}
