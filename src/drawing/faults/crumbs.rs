//! Parts and cut-outs too small to be handled.

use rstar::{AABB, RTree, primitives::Rectangle};

use super::subject::{Subject, is_sane};
use super::{Fault, FaultKind, FaultLimits, Severity};
use crate::shape::{Bounds, Region};

/// The crumbs of an element, the smallest first: parts of its filled region, cut-outs in it, and drawn
/// outlines so small that nothing of them is left in it.
pub(super) fn find(subject: &Subject, limits: &FaultLimits) -> Vec<Fault> {
    let parts: &[Region] = if subject.means_its_inside(limits) { &subject.element.filled } else { &[] };
    let mut faults = Vec::new();
    let mut told = Vec::new();
    for part in parts.iter().filter(|r| r.is_sane()) {
        if extent(part.bounds()) < limits.crumb_mm {
            told.push(rectangle(part.bounds()));
            faults.push(of_part(subject, part.bounds()));
        }
        for hole in part.cutouts.iter().map(|c| c.bounds()).filter(|&b| extent(b) < limits.crumb_mm) {
            told.push(rectangle(hole));
            faults.push(of_cutout(subject, hole));
        }
    }
    let told = RTree::bulk_load(told);
    let is_told = |b: Bounds| told.locate_in_envelope_intersecting(&corners(b)).next().is_some();
    let specks = subject
        .element
        .subpaths
        .iter()
        .filter(|s| is_sane(s) && !s.points.is_empty())
        .map(|s| Bounds::of(s.points.iter().copied()))
        .filter(|&b| extent(b) < limits.crumb_mm && !is_told(b));
    faults.extend(specks.map(|b| of_speck(subject, b)));
    faults.sort_by(|a, b| a.size_mm.total_cmp(&b.size_mm));
    faults
}

fn extent(b: Bounds) -> f64 {
    b.width().max(b.height())
}

fn corners(b: Bounds) -> AABB<[f64; 2]> {
    AABB::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y])
}

fn rectangle(b: Bounds) -> Rectangle<[f64; 2]> {
    Rectangle::from_aabb(corners(b))
}

fn size(b: Bounds) -> String {
    format!("{:.2} × {:.2} mm", b.width(), b.height())
}

fn of_part(subject: &Subject, b: Bounds) -> Fault {
    subject.fault(
        FaultKind::Crumb,
        Severity::Mend,
        b.centre(),
        extent(b),
        format!("A part of only {}: cut, it is lost or burnt away.", size(b)),
        "Take it away, or draw it large enough to be picked up.",
    )
}

fn of_cutout(subject: &Subject, b: Bounds) -> Fault {
    subject.fault(
        FaultKind::Crumb,
        Severity::Note,
        b.centre(),
        extent(b),
        format!("A cut-out of only {}: its crumb may stay stuck, and stitching covers it.", size(b)),
        "Take it away unless it is meant.",
    )
}

fn of_speck(subject: &Subject, b: Bounds) -> Fault {
    subject.fault(
        FaultKind::Crumb,
        Severity::Mend,
        b.centre(),
        extent(b),
        format!("An outline of only {} that encloses next to nothing.", size(b)),
        "Take it away: it is a slip of the pen.",
    )
}
