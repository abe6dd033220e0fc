//! What the drawing loses, or keeps otherwise than drawn, told where it stands.

use std::collections::BTreeMap;

use super::{Fault, FaultKind, Severity};
use crate::drawing::{Drawing, Loss};
use crate::say::Level;

/// This many things lost alike are told one by one.
const TOLD: usize = 3;

/// This many places of further ones are kept, for the picture.
const PLACES: usize = 40;

/// A fault for every loss; of many alike the first few, the last of them saying how many more there are.
pub(super) fn find(drawing: &Drawing) -> Vec<Fault> {
    let mut alike: BTreeMap<&str, Vec<&Loss>> = BTreeMap::new();
    for loss in &drawing.losses {
        alike.entry(loss.text).or_default().push(loss);
    }
    let mut faults = Vec::new();
    for losses in alike.values() {
        let told = if losses.len() > TOLD + 1 { TOLD } else { losses.len() };
        let (first, rest) = losses.split_at(told);
        let from = faults.len();
        faults.extend(first.iter().map(|l| fault(l)));
        if let (Some(last), false) = (faults.get_mut(from..).and_then(<[Fault]>::last_mut), rest.is_empty()) {
            last.more = rest.len();
            last.text.push_str(&format!(" And {} more like it.", rest.len()));
            last.also = rest.iter().map(|l| l.bounds.centre()).take(PLACES).collect();
        }
    }
    faults
}

fn fault(loss: &Loss) -> Fault {
    Fault {
        kind: FaultKind::Lost,
        element: loss.id.clone(),
        stacking: loss.beneath,
        line: loss.line,
        at: loss.bounds.centre(),
        size_mm: loss.bounds.width().max(loss.bounds.height()),
        severity: match loss.level {
            Level::Caution => Severity::Mend,
            Level::Advice => Severity::Note,
        },
        text: loss.text.to_owned(),
        advice: loss.advice.to_owned(),
        more: 0,
        also: Vec::new(),
    }
}
