//! Faults put in order, and many of a kind folded into few.

use super::Fault;

/// This many faults of one kind on one element are told one by one.
const TOLD: usize = 3;

/// This many places of folded faults are kept, for the picture.
const PLACES: usize = 40;

/// Folds the faults of one kind on one element, which stand in the order they should be kept in: of more
/// than [`TOLD`] + 1 the first [`TOLD`] stay, the last of them saying how many more there are.
pub(super) fn fold(mut faults: Vec<Fault>) -> Vec<Fault> {
    if faults.len() <= TOLD + 1 {
        return faults;
    }
    let rest = faults.split_off(TOLD);
    if let Some(last) = faults.last_mut() {
        last.more = rest.iter().map(|f| 1 + f.more).sum();
        last.text.push_str(&format!(" And {} more like it on this element.", last.more));
        last.also = rest.iter().map(|f| f.at).take(PLACES).collect();
    }
    faults
}

/// Sorts by stacking order, then kind, then place from left to right and bottom to top.
pub fn sort(faults: &mut [Fault]) {
    faults.sort_by(|a, b| {
        (a.stacking, &a.element, a.kind)
            .cmp(&(b.stacking, &b.element, b.kind))
            .then((a.more > 0).cmp(&(b.more > 0)))
            .then(a.at.x.total_cmp(&b.at.x))
            .then(a.at.y.total_cmp(&b.at.y))
            .then_with(|| a.text.cmp(&b.text))
    });
}

/// Puts runs of faults of the same element and kind through [`fold`]; they must stand together.
pub(super) fn fold_runs(faults: Vec<Fault>) -> Vec<Fault> {
    let mut out = Vec::with_capacity(faults.len());
    let mut run: Vec<Fault> = Vec::new();
    for fault in faults {
        let key = |f: &Fault| (f.stacking, f.element.clone(), f.kind);
        let same = run.first().is_some_and(|f| key(f) == key(&fault));
        if !same {
            out.extend(fold(std::mem::take(&mut run)));
        }
        run.push(fault);
    }
    out.extend(fold(run));
    out
}

#[cfg(test)]
mod tests {
    use super::super::{FaultKind, Severity};
    use super::*;
    use crate::shape::pt;

    fn fault(x: f64) -> Fault {
        Fault {
            kind: FaultKind::Crossing,
            element: "reed".into(),
            stacking: 0,
            line: 3,
            at: pt(x, 0.0),
            size_mm: 0.0,
            severity: Severity::Mend,
            text: "It crosses itself.".into(),
            advice: String::new(),
            more: 0,
            also: Vec::new(),
        }
    }

    #[test]
    fn fifteen_crossings_become_three_and_twelve_more() {
        let told = fold_runs((0..15).map(|i| fault(f64::from(i))).collect());
        assert_eq!(told.len(), 3);
        assert_eq!((told[2].more, told[2].also.len()), (12, 12));
        assert_eq!(told[2].text, "It crosses itself. And 12 more like it on this element.");
    }

    #[test]
    fn four_are_told_one_by_one() {
        assert_eq!(fold_runs((0..4).map(|i| fault(f64::from(i))).collect()).len(), 4);
    }

    #[test]
    fn the_fault_that_says_how_many_more_comes_last() {
        let mut told = fold_runs((0..15).rev().map(|i| fault(f64::from(i))).collect());
        sort(&mut told);
        assert_eq!(told.iter().map(|f| f.at.x).collect::<Vec<_>>(), [13.0, 14.0, 12.0]);
    }
}
