//! Outlines whose ends do not meet.

use super::subject::{Subject, is_sane};
use super::{Fault, FaultKind, FaultLimits, Severity};
use crate::drawing::Subpath;
use crate::shape::{distance, lerp, tol};

/// A stroked line whose ends come this near, as a share of its length, was meant to be closed.
const MEANT_CLOSED: f64 = 0.1;

/// The open outlines of an element, the widest gap first.
pub(super) fn find(subject: &Subject, limits: &FaultLimits) -> Vec<Fault> {
    let mut faults: Vec<Fault> = subject
        .element
        .subpaths
        .iter()
        .filter(|s| is_sane(s) && s.gap_mm > tol::SAME_POINT_MM)
        .filter_map(|s| tell(subject, s, limits))
        .collect();
    faults.sort_by(|a, b| b.size_mm.total_cmp(&a.size_mm));
    faults
}

fn tell(subject: &Subject, subpath: &Subpath, limits: &FaultLimits) -> Option<Fault> {
    let (first, last) = (*subpath.points.first()?, *subpath.points.last()?);
    let gap = subpath.gap_mm;
    let length: f64 = subpath.points.windows(2).map(|w| distance(w[0], w[1])).sum();
    let (severity, text, advice) = if gap <= limits.close_gap_mm {
        (
            Severity::Note,
            format!("An outline is open by {gap:.2} mm; it is closed with a straight line."),
            "Nothing needs doing; joining the two end points in the drawing makes it exact.",
        )
    } else if subject.is_filled() {
        (
            Severity::Mend,
            format!(
                "An outline is open: its ends lie {gap:.2} mm apart. As it is, the straight line between \
                 them is cut as part of the edge."
            ),
            "Join the two ends, or draw the missing edge; if it is meant as a line, take its fill away \
             and cut it with shape \"line\".",
        )
    } else if gap <= MEANT_CLOSED * length {
        (
            Severity::Mend,
            format!("An outline is open: its ends lie {gap:.2} mm apart, so it encloses nothing to cut out."),
            "Join the two ends; if it is meant as a line, cut it with shape \"line\".",
        )
    } else {
        (
            Severity::Note,
            format!("An open line, {length:.1} mm long, its ends {gap:.1} mm apart."),
            "It can be cut as a band of its stroke width with shape \"line\"; to be cut out, an outline \
             has to be closed.",
        )
    };
    Some(subject.fault(FaultKind::OpenOutline, severity, lerp(first, last, 0.5), gap, text, advice))
}
