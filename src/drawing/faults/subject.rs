//! One element looked at for faults.

use super::sides::Sides;
use super::{Fault, FaultKind, FaultLimits, Severity};
use crate::drawing::{Element, Subpath};
use crate::shape::Point;

/// One element and its place in the drawing.
#[derive(Clone, Copy)]
pub(super) struct Subject<'a> {
    /// Index into the drawing's elements.
    pub stacking: usize,
    /// The element.
    pub element: &'a Element,
}

impl Subject<'_> {
    /// A fault of this element.
    pub fn fault(
        &self,
        kind: FaultKind,
        severity: Severity,
        at: Point,
        size_mm: f64,
        text: String,
        advice: &str,
    ) -> Fault {
        Fault {
            kind,
            element: self.element.id.clone(),
            stacking: self.stacking,
            line: self.element.line,
            at,
            size_mm,
            severity,
            text,
            advice: advice.to_string(),
            more: 0,
            also: Vec::new(),
        }
    }

    /// Says that not all of the element was looked at.
    pub fn too_tangled(&self, kind: FaultKind, what: &str) -> Option<Fault> {
        let at = *self.element.subpaths.iter().find_map(|s| s.points.first())?;
        Some(self.fault(
            kind,
            Severity::Mend,
            at,
            0.0,
            format!("The outline is so tangled that not all of it was searched for {what}."),
            "Draw it anew, or divide it into several elements.",
        ))
    }

    /// True when the element stands for its inside, not for a drawn line.
    pub fn is_filled(&self) -> bool {
        let e = self.element;
        // A gradient fills without a colour.
        e.fill.is_some() || !e.filled.is_empty() || e.stroke.is_none()
    }

    /// True when an outline is cut as a closed one: drawn closed, nearly so, or closed by its fill.
    pub fn closes(&self, subpath: &Subpath, limits: &FaultLimits) -> bool {
        subpath.closed || subpath.gap_mm <= limits.close_gap_mm || self.is_filled()
    }

    /// True when the filled region is what the element means: it is filled, or a line drawn all round it.
    pub fn means_its_inside(&self, limits: &FaultLimits) -> bool {
        self.element.subpaths.iter().all(|s| self.closes(s, limits))
    }

    /// The sides of its outlines, one ring per outline; wild coordinates are left out.
    pub fn sides(&self, limits: &FaultLimits) -> Sides {
        let mut sides = Sides::default();
        for subpath in &self.element.subpaths {
            let points: &[Point] = if is_sane(subpath) { &subpath.points } else { &[] };
            sides.push(points, self.closes(subpath, limits));
        }
        sides
    }
}

/// True when every coordinate can be reckoned with.
pub(super) fn is_sane(subpath: &Subpath) -> bool {
    let far = crate::shape::tol::FARTHEST_MM;
    subpath.points.iter().all(|p| p.x.abs() <= far && p.y.abs() <= far)
}
