//! A work split over the fields of an embroidery frame.

use rayon::prelude::*;

use super::before;
use super::bound::{self, Fewest};
use super::fields::{self, Found};
use super::marks::{self, Mark};
use super::overs::overs;
use super::placement::{Line, Lines, lines};
use super::split::shares;
use super::stretches::Stretches;
use super::task::{Item, Task};
use crate::job::LEAST_CLEAR_FIELD_MM;
use crate::passes;
use crate::say::{Trouble, Watch};
use crate::shape::{Bounds, Join, Point, Region, offset, pt};

/// A piece to sew.
#[derive(Clone, Copy, Debug)]
pub struct SewnShape<'a> {
    /// Its name.
    pub name: &'a str,
    /// The region within its drawn edge.
    pub drawn: &'a Region,
    /// Its place in the stacking; parts of one shape share one.
    pub element: usize,
}

/// What is to be sewn, and in what.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// The pieces in stacking order, the lowest first.
    pub pieces: &'a [SewnShape<'a>],
    /// The field the frame can stitch, mm; the frame may be put on either way round.
    pub field_mm: [f64; 2],
    /// Width of the border about the drawn edge, mm.
    pub border_mm: f64,
    /// How far the tack-down line lies inside the drawn edge, mm.
    pub tack_in_mm: f64,
}

/// What of a piece is stitched in one hooping.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The piece, by index.
    pub piece: usize,
    /// True when all of it is.
    pub whole: bool,
    /// The drawn edge.
    pub placement: Vec<Line>,
    /// The line it is tacked down by.
    pub tack: Vec<Line>,
    /// The middle of its border.
    pub border: Vec<Line>,
}

/// The frame put on once.
#[derive(Clone, Debug, PartialEq)]
pub struct Hooping {
    /// What the frame can stitch.
    pub field: Bounds,
    /// What is done, in order.
    pub parts: Vec<Part>,
    /// True when its field was worked in an earlier hooping as well.
    pub again: bool,
}

/// A work split over hoopings.
#[derive(Clone, Debug, PartialEq)]
pub struct Sewing {
    /// In order of work.
    pub hoopings: Vec<Hooping>,
    /// Marks shared by hoopings.
    pub marks: Vec<Mark>,
    /// True when the frame is put on the other way round than its field is given.
    pub turned: bool,
    /// However it is sewn, it takes at least so many hoopings.
    pub at_least: usize,
    /// Pieces in the order they go down, and for each, by index, the pieces that lie beneath it.
    pub order: Vec<(usize, Vec<usize>)>,
}

/// Splits a work over hoopings: as few as can be found, every piece whole in one where it fits, none begun before those
/// beneath it.
///
/// # Errors
/// A field hardly wider than the border, or in which the work cannot be handed on.
pub fn sewing(request: &Request, watch: &dyn Watch) -> Result<Sewing, Trouble> {
    let border = request.border_mm.max(0.0);
    let [w, h] = request.field_mm;
    if !(w.min(h) >= border + LEAST_CLEAR_FIELD_MM && w.is_finite() && h.is_finite()) {
        let what =
            format!("{w} × {h} mm are too small to hand a border {border} mm wide from field to field");
        return Err(
            Trouble::cannot("frame.field_mm", what).hint("give the field the frame can stitch, in mm")
        );
    }
    if request.pieces.is_empty() {
        return Ok(Sewing { hoopings: vec![], marks: vec![], turned: false, at_least: 0, order: vec![] });
    }
    // One who stopped the lay wants its sewing all the same.
    let before = watch.stopped();
    let stopped = || !before && watch.stopped();
    let work = Work::new(request);
    let inner = |a: f64, b: f64| pt(a - border, b - border);
    let ways: &[(Point, bool)] =
        if w == h { &[(inner(w, h), false)] } else { &[(inner(w, h), false), (inner(h, w), true)] };
    let tasks: Vec<(Prepared, bool)> =
        ways.par_iter().map(|&(size, turned)| (Prepared::new(&work, size, &stopped), turned)).collect();
    // The way round that promises more goes first; the other has to do with fewer.
    let mut order: Vec<usize> = (0..tasks.len()).collect();
    order.sort_by_key(|&k| tasks[k].0.at_least.with_marks);
    let mut best: Option<(usize, Found)> = None;
    for k in order {
        let task = &tasks[k].0;
        let most = best.as_ref().map(|b| b.1.fields.len());
        if most.is_some_and(|most| task.at_least.anyhow >= most) {
            continue;
        }
        let found = fields::find(&task.task, task.at_least, &stopped);
        let better = |f: &Found| best.as_ref().is_none_or(|b| f.worth() < b.1.worth());
        if let Some(found) = found.filter(better) {
            best = Some((k, found));
        }
    }
    let Some((k, found)) = best else {
        let what = format!("the work cannot be handed from field to field of {w} × {h} mm");
        return Err(Trouble::cannot("frame.field_mm", what).hint("use a larger frame"));
    };
    let (task, turned) = &tasks[k];
    let marked = found.lost == 0;
    let at_least = tasks.iter().map(|t| if marked { t.0.at_least.with_marks } else { t.0.at_least.anyhow });
    let at_least = at_least.min().unwrap_or(0);
    Ok(work.sewing(request, task, found, *turned, at_least))
}

/// What there is to do, whatever the field.
struct Work<'a> {
    drawn: Vec<&'a Region>,
    lines: Vec<Lines>,
    overs: Vec<super::overs::Over>,
    /// By piece: those beneath it.
    beneath: Vec<Vec<usize>>,
}

/// The same for fields of one size.
struct Prepared {
    stretches: Stretches,
    task: Task,
    at_least: Fewest,
}

impl Prepared {
    fn new(work: &Work, size: Point, stopped: &dyn Fn() -> bool) -> Prepared {
        let stretches = Stretches::new(&work.drawn, &work.lines, size);
        let waits = before::waits(&stretches, &work.overs);
        let item = |(s, after): (&super::stretches::Stretch, Vec<usize>)| Item {
            after,
            ..Item::new(s.piece, s.bounds, size)
        };
        let items = stretches.all.iter().zip(waits).map(item).collect();
        let task = Task { size, items, upon: work.beneath.clone(), rings: stretches.rings.clone() };
        // Whatever the lengths in which an edge is shared out: of each stretch some hooping sews the middle.
        let mut points = task.clone();
        for (item, s) in points.items.iter_mut().zip(&stretches.all) {
            if let Some(&middle) = s.points.get(s.points.len() / 2).filter(|_| !stretches.whole(s.piece)) {
                let after = std::mem::take(&mut item.after);
                *item = Item { after, ..Item::new(s.piece, Bounds::of([middle]), size) };
            }
        }
        let at_least = bound::fewest(&points, passes::least_shared_mm(), stopped);
        Prepared { stretches, task, at_least }
    }
}

impl<'a> Work<'a> {
    fn new(request: &Request<'a>) -> Work<'a> {
        let pieces = request.pieces;
        let half = request.border_mm.max(0.0) / 2.0;
        let grown: Vec<Vec<Region>> =
            pieces.iter().map(|p| offset(std::slice::from_ref(p.drawn), half, Join::Round)).collect();
        let element: Vec<usize> = pieces.iter().map(|p| p.element).collect();
        let overs = overs(&grown, &element);
        let mut beneath: Vec<Vec<usize>> = vec![Vec::new(); pieces.len()];
        let mut above: Vec<Vec<Region>> = vec![Vec::new(); pieces.len()];
        for over in &overs {
            beneath[over.upper].push(over.lower);
            above[over.lower].push(pieces[over.upper].drawn.clone());
        }
        let lines: Vec<Lines> =
            pieces.iter().zip(&above).map(|(p, above)| lines(p.drawn, above, request.tack_in_mm)).collect();
        Work { drawn: pieces.iter().map(|p| p.drawn).collect(), lines, overs, beneath }
    }

    fn sewing(
        &self,
        request: &Request,
        of: &Prepared,
        found: Found,
        turned: bool,
        at_least: usize,
    ) -> Sewing {
        let fields: Vec<Bounds> = found.fields.iter().map(|&f| of.task.field(f)).collect();
        let mut parts: Vec<Vec<Part>> = vec![Vec::new(); fields.len()];
        for (piece, lines) in self.lines.iter().enumerate() {
            let Lines { placement, tack, border } = lines;
            if of.stretches.whole(piece) {
                let (placement, tack, border) = (placement.clone(), tack.clone(), border.clone());
                let part = Part { piece, whole: true, placement, tack, border };
                parts[found.given[of.stretches.of[piece].0]].push(part);
                continue;
            }
            let hooping = |p: Point| found.given[of.stretches.nearest(piece, p)];
            let share = |all: &[Line]| -> Vec<(usize, Line)> {
                all.iter().flat_map(|line| shares(line, &hooping, &fields)).collect()
            };
            let (placement, tack, border) = (share(placement), share(tack), share(border));
            for (h, parts) in parts.iter_mut().enumerate() {
                let own = |all: &[(usize, Line)]| -> Vec<Line> {
                    all.iter().filter(|l| l.0 == h).map(|l| l.1.clone()).collect()
                };
                let (placement, tack, border) = (own(&placement), own(&tack), own(&border));
                if !(placement.is_empty() && tack.is_empty() && border.is_empty()) {
                    parts.push(Part { piece, whole: false, placement, tack, border });
                }
            }
        }
        let half = request.border_mm.max(0.0) / 2.0;
        let mut hoopings: Vec<Hooping> = Vec::new();
        for (field, parts) in fields.iter().zip(parts) {
            let field = field.grown(half);
            let again = hoopings.iter().any(|h| h.field == field);
            hoopings.push(Hooping { field, parts, again });
        }
        let laid = |piece: usize| hoopings.iter().position(|h| h.parts.iter().any(|p| p.piece == piece));
        let laid: Vec<usize> = (0..self.drawn.len()).map(|k| laid(k).unwrap_or(usize::MAX)).collect();
        // A loose tail is folded back until the nearest edge is sewn.
        let lies = |piece: usize, p: Point| found.given[of.stretches.nearest(piece, p)];
        let marks = marks::of(&self.drawn, &lies, &fields, 2.0 * half);
        let mut order: Vec<(usize, Vec<usize>)> = self.beneath.iter().cloned().enumerate().collect();
        order.sort_by_key(|o| laid[o.0]);
        Sewing { hoopings, marks, turned, at_least, order }
    }
}

#[cfg(test)]
#[path = "hoopings_tests.rs"]
mod tests;
