//! A pass that was recorded as cut taken back: it is not cut after all.

use super::done::{Done, DonePass};
use super::fit::Distortion;
use super::marks::{capital, carry};
use super::told_anew::{told_anew, told_as_planned};
use crate::plan::{Plan, is_realigned, says_realigned};
use crate::say::Trouble;
use crate::shape::Affine;

/// A plan and its record with one pass taken back.
#[derive(Clone, Debug, PartialEq)]
pub struct Reopened {
    /// The plan: later passes of the cloth lie as planned again.
    pub plan: Plan,
    /// The record without the pass.
    pub done: Done,
    /// What was recorded of the pass.
    pub was: DonePass,
    /// Later passes that go back, by index.
    pub changed: Vec<usize>,
    /// Later passes that stay as corrected, by number: how they were planned is not kept.
    pub kept: Vec<usize>,
    /// The cloth was cut whole, and its leftovers may be on the shelf: the cutting they are left by.
    pub left_by: Option<String>,
}

/// Takes `pass` (by index) back. Later passes that were corrected by marks go back to where `as_planned` has them, with
/// the stretch known up to this pass: the marks they were corrected by are not on the cloth.
///
/// # Errors
/// It is not recorded as cut, or a later one of its cloth is.
pub fn reopen(plan: &Plan, as_planned: Option<&Plan>, done: &Done, pass: usize) -> Result<Reopened, Trouble> {
    let (of, mut left) = (&plan.passes[pass], done.clone());
    let left_by = plan.passes.iter().all(|p| p.cloth != of.cloth || done.of(p).is_some());
    let left_by = left_by.then(|| done.cutting_of(&of.cloth));
    let was = left.take_back(of)?;
    let mut out = Reopened { plan: plan.clone(), done: left, was, changed: vec![], kept: vec![], left_by };
    let later: Vec<usize> = (0..plan.passes.len())
        .filter(|&i| plan.passes[i].cloth == of.cloth && plan.passes[i].number > of.number)
        .collect();
    let corrected: Vec<usize> =
        later.iter().copied().filter(|&i| is_realigned(plan, &plan.passes[i])).collect();
    if corrected.is_empty() {
        return Ok(out);
    }
    let Some(as_planned) = as_planned.filter(|p| p.passes.len() == plan.passes.len()) else {
        out.kept = corrected.iter().map(|&i| plan.passes[i].number).collect();
        return Ok(out);
    };
    for &i in &later {
        out.plan.passes[i].clone_from(&as_planned.passes[i]);
    }
    for &i in &corrected {
        out.plan.notes.retain(|n| !says_realigned(n, &of.cloth, plan.passes[i].number));
    }
    told_as_planned(&mut out.plan, as_planned, &later);
    if let Some(distortion) = Distortion::of(&Affine(of.cloth_to_bed)) {
        let carried = carry(&mut out.plan, pass, &distortion);
        told_anew(&mut out.plan, &carried.changed);
    }
    out.changed = later
        .into_iter()
        .filter(|&i| corrected.contains(&i) || out.plan.passes[i] != plan.passes[i])
        .collect();
    Ok(out)
}

impl Reopened {
    /// What happens, or happened, beyond the record, a sentence each.
    pub fn words(&self) -> Vec<String> {
        let list = |all: &[usize]| all.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and ");
        let numbers: Vec<usize> = self.changed.iter().map(|&i| self.plan.passes[i].number).collect();
        let passes = |all: &[usize]| {
            format!("pass{} {} of {}", if all.len() == 1 { "" } else { "es" }, list(all), self.was.cloth)
        };
        let mut said = Vec::new();
        if !numbers.is_empty() {
            let go = if numbers.len() == 1 { "goes" } else { "go" };
            said.push(format!(
                "{} {go} back to where it was planned, for the marks that corrected it are not on the cloth before pass {} is \
                 cut.",
                capital(&passes(&numbers)),
                self.was.number
            ));
        }
        if !self.kept.is_empty() {
            said.push(format!(
                "{} stays as it was corrected, for how it was planned is not kept here; measure its marks anew when its turn \
                 comes.",
                capital(&passes(&self.kept))
            ));
        }
        said
    }
}
