//! A work split over the fields of an embroidery frame.

use super::before;
use super::marks::{self, Ground, Mark};
use super::order::{self, Unit};
use super::placement::{Line, Lines, lines};
use super::split::shares;
use crate::passes;
use crate::say::Trouble;
use crate::shape::{Bounds, Join, Point, Region, distance, offset, pt};

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
    /// Pieces in the order they go down, and for each, by index, the pieces that lie beneath it.
    pub order: Vec<(usize, Vec<usize>)>,
}

/// Splits a work over hoopings: as few as can be found, every piece whole in one where it fits.
///
/// # Errors
/// A field no wider than the border, or in which the work cannot be handed on.
pub fn sewing(request: &Request) -> Result<Sewing, Trouble> {
    let border = request.border_mm.max(0.0);
    let [w, h] = request.field_mm;
    if !(w.min(h) > border && w.is_finite() && h.is_finite()) {
        let what = format!("{w} × {h} mm hold no border {border} mm wide");
        return Err(
            Trouble::cannot("frame.field_mm", what).hint("give the field the frame can stitch, in mm")
        );
    }
    if request.pieces.is_empty() {
        return Ok(Sewing { hoopings: vec![], marks: vec![], turned: false, order: vec![] });
    }
    let drawn: Vec<&Region> = request.pieces.iter().map(|p| p.drawn).collect();
    let (fields, turned) = laid_over(request, &drawn, 0.0)?;
    let (fields, turned, work) = match Work::new(request, &fields) {
        Ok(work) => (fields, turned, work),
        // Small fields may hold the whole edge and yet not the tack-down line inside it.
        Err(_) => {
            let (fields, turned) = laid_over(request, &drawn, request.tack_in_mm)?;
            let work = Work::new(request, &fields)?;
            (fields, turned, work)
        }
    };
    let linked = |a: usize, b: usize| a == b || passes::share_marks(fields[a], fields[b]);
    let visits = order::visits(&work.units, &fields, &linked);
    let mut hoopings: Vec<Hooping> = Vec::new();
    let mut laid = vec![usize::MAX; request.pieces.len()];
    for (k, visit) in visits.iter().enumerate() {
        let parts: Vec<Part> = visit.units.iter().map(|&u| work.part(u, visit.field)).collect();
        parts.iter().for_each(|p| laid[p.piece] = laid[p.piece].min(k));
        let again = visits[..k].iter().any(|v| v.field == visit.field);
        hoopings.push(Hooping { field: fields[visit.field].grown(border / 2.0), parts, again });
    }
    let ground = Ground::new(&drawn, &laid, border);
    let mut marks: Vec<Mark> = Vec::new();
    let mut names = 0;
    for found in 1..hoopings.len() {
        let shared = |j: usize| {
            let (a, b) = (fields[visits[j].field], fields[visits[found].field]);
            Bounds::new(
                pt(a.min.x.max(b.min.x), a.min.y.max(b.min.y)),
                pt(a.max.x.min(b.max.x), a.max.y.min(b.max.y)),
            )
        };
        let size = |j: &usize| {
            let s = shared(*j);
            if s.is_empty() { 0.0 } else { s.width() * s.height() }
        };
        let mut earlier: Vec<usize> = (0..found).filter(|j| size(j) > 0.0).collect();
        earlier.sort_by(|a, b| size(b).total_cmp(&size(a)));
        let places = earlier.into_iter().map(|j| (j, ground.places(shared(j), found)));
        if let Some((stitched, places)) = places.into_iter().find(|(_, p)| !p.is_empty()) {
            for (at, hidden_by) in places {
                // One cross may serve several hoopings.
                let same = |m: &&Mark| m.stitched == stitched && distance(m.at, at) < 2.0 * marks::ARM_MM;
                let there = marks.iter().find(same).map(|m| (m.name.clone(), m.at));
                let (name, at) = there.unwrap_or_else(|| (marks::name(names), at));
                names += usize::from(!marks.iter().any(|m| m.name == name));
                marks.push(Mark { name, at, stitched, found, hidden_by });
            }
        }
    }
    let order = work.order(&visits, request.pieces.len());
    Ok(Sewing { hoopings, marks, turned, order })
}

/// Fields that hold every edge and whatever lies no farther than `beside_mm` from it, without the border; true when the
/// frame is put on the other way round.
fn laid_over(request: &Request, drawn: &[&Region], beside_mm: f64) -> Result<(Vec<Bounds>, bool), Trouble> {
    let [w, h] = request.field_mm;
    let less = request.border_mm.max(0.0) + 2.0 * beside_mm;
    let inner = |a: f64, b: f64| {
        let fields = passes::fields(drawn, pt(a - less, b - less))?;
        Some(fields.iter().map(|f| f.grown(beside_mm)).collect::<Vec<_>>())
    };
    let (upright, across) = (inner(w, h), if w == h { None } else { inner(h, w) });
    match (upright, across) {
        (Some(a), Some(b)) if b.len() < a.len() => Ok((b, true)),
        (Some(a), _) => Ok((a, false)),
        (None, Some(b)) => Ok((b, true)),
        (None, None) => {
            let what = format!("the work cannot be handed from field to field of {w} × {h} mm");
            Err(Trouble::cannot("frame.field_mm", what).hint("use a larger frame"))
        }
    }
}

/// What there is to do.
struct Work {
    lines: Vec<Lines>,
    /// For pieces spread over fields: their lines in each.
    spread: Vec<Vec<(usize, Lines)>>,
    units: Vec<Unit>,
    beneath: Vec<Vec<usize>>,
}

impl Work {
    fn new(request: &Request, fields: &[Bounds]) -> Result<Work, Trouble> {
        let pieces = request.pieces;
        let half = request.border_mm.max(0.0) / 2.0;
        let grown: Vec<Vec<Region>> =
            pieces.iter().map(|p| offset(std::slice::from_ref(p.drawn), half, Join::Round)).collect();
        let element: Vec<usize> = pieces.iter().map(|p| p.element).collect();
        let overs = order::overs(&grown, &element);
        let mut beneath: Vec<Vec<usize>> = vec![Vec::new(); pieces.len()];
        let mut above: Vec<Vec<Region>> = vec![Vec::new(); pieces.len()];
        for over in &overs {
            beneath[over.upper].push(over.lower);
            above[over.lower].push(pieces[over.upper].drawn.clone());
        }
        let lines: Vec<Lines> =
            pieces.iter().zip(&above).map(|(p, above)| lines(p.drawn, above, request.tack_in_mm)).collect();
        let mut units = Vec::new();
        let mut spread: Vec<Vec<(usize, Lines)>> = vec![Vec::new(); pieces.len()];
        for (k, piece) in pieces.iter().enumerate() {
            let holds =
                |f: &usize| fields[*f].grown(crate::shape::tol::SAME_POINT_MM).holds(piece.drawn.bounds());
            let whole: Vec<usize> = (0..fields.len()).filter(holds).collect();
            if !whole.is_empty() {
                units.push(Unit { piece: k, fields: whole, spread: false, after: vec![] });
                continue;
            }
            spread[k] = shared_out(&lines[k], fields).ok_or_else(|| {
                Trouble::cannot(format!("piece {}", piece.name), "a part of it lies in no field of the frame")
                    .hint("this is a fault of the program; a report with the job would help")
            })?;
            let of = |(field, _): &(usize, Lines)| Unit {
                piece: k,
                fields: vec![*field],
                spread: true,
                after: vec![],
            };
            units.extend(spread[k].iter().map(of));
        }
        let stitched: Vec<Vec<Point>> = units
            .iter()
            .map(|unit| {
                let own = spread[unit.piece].iter().find(|(f, _)| unit.spread && unit.fields.contains(f));
                let Lines { placement, tack, .. } = own.map_or(&lines[unit.piece], |(_, l)| l);
                before::along(placement.iter().chain(tack))
            })
            .collect();
        before::link(&mut units, &overs, fields, &stitched);
        Ok(Work { lines, spread, units, beneath })
    }

    fn part(&self, unit: usize, field: usize) -> Part {
        let unit = &self.units[unit];
        let own = self.spread[unit.piece].iter().find(|(f, _)| *f == field).filter(|_| unit.spread);
        let lines = own.map_or(&self.lines[unit.piece], |(_, l)| l).clone();
        let Lines { placement, tack, border } = lines;
        Part { piece: unit.piece, whole: !unit.spread, placement, tack, border }
    }

    /// Pieces in the order they are first laid, each with those beneath it.
    fn order(&self, visits: &[order::Visit], count: usize) -> Vec<(usize, Vec<usize>)> {
        let mut seen = vec![false; count];
        let mut order = Vec::new();
        for &unit in visits.iter().flat_map(|v| &v.units) {
            let piece = self.units[unit].piece;
            if !std::mem::replace(&mut seen[piece], true) {
                order.push((piece, self.beneath[piece].clone()));
            }
        }
        order
    }
}

/// The lines of a piece field by field; only fields that stitch some of its edge.
fn shared_out(lines: &Lines, fields: &[Bounds]) -> Option<Vec<(usize, Lines)>> {
    let none = || Lines { placement: vec![], tack: vec![], border: vec![] };
    let mut out: Vec<Lines> = fields.iter().map(|_| none()).collect();
    type Of = fn(&mut Lines) -> &mut Vec<Line>;
    let kinds: [(&[Line], Of); 3] = [
        (&lines.placement, |l| &mut l.placement),
        (&lines.tack, |l| &mut l.tack),
        (&lines.border, |l| &mut l.border),
    ];
    for (all, of) in kinds {
        for line in all {
            for (field, stretch) in shares(line, fields)? {
                of(out.get_mut(field)?).push(stretch);
            }
        }
    }
    Some(out.into_iter().enumerate().filter(|(_, l)| *l != none()).collect())
}

#[cfg(test)]
#[path = "hoopings_tests.rs"]
mod tests;
