//! From places and a cloth to the board the search plays on.

use std::collections::BTreeMap;
use std::sync::Arc;

use geo::Simplify;
use rayon::prelude::*;

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::shape::{Bounds, Join, Pose, Region, Ring, offset, pt, tol};

use super::board::Board;
use super::form::Form;
use super::kind::{Kind, Turning, Way};
use super::places::Places;

/// Builds the board. `kept_clear` are further obstacles: spots that something other than a piece needs.
/// Pieces are grown by half of `gap_mm` for each other, and not at all for the cloth's edges and flaws, which ask for
/// no gap. `other_cloths`: the board will be used for other cloths too, where there may be obstacles.
pub fn board(
    pieces: &[Piece],
    places: &Places,
    cloth: &Cloth,
    kept_clear: &[Region],
    gap_mm: f64,
    other_cloths: bool,
) -> Board {
    let least_area = places.free().map(|p| pieces[p.piece].cut.area()).fold(f64::INFINITY, f64::min);
    let usable = usable_box(cloth);
    let kept_clear = offset(kept_clear, gap_mm / 2.0, Join::Round);
    let mut obstacles = obstacles(cloth, usable, &kept_clear);
    obstacles.par_extend(places.places.par_iter().filter_map(|p| {
        let pose = p.locked?;
        let cut = pose.region(&pieces[p.piece].cut);
        // All of the gap, since a piece meets obstacles as it is.
        Some(Arc::new(Form::new(&grow(&cut, gap_mm, least_area))))
    }));
    let with_bare = other_cloths || !obstacles.is_empty();
    let mut wanted: Vec<(usize, f64)> =
        places.free().flat_map(|p| p.turns.iter().map(|t| (p.piece, t.0))).collect();
    wanted.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    wanted.dedup();
    let mut of_piece: Vec<usize> = wanted.iter().map(|w| w.0).collect();
    of_piece.dedup();
    let grown: BTreeMap<usize, Region> =
        of_piece.par_iter().map(|&p| (p, grow(&pieces[p].cut, gap_mm / 2.0, least_area))).collect();
    let as_it_is: BTreeMap<usize, Region> = if with_bare {
        of_piece.par_iter().map(|&p| (p, plain(&pieces[p].cut, least_area))).collect()
    } else {
        BTreeMap::new()
    };
    let forms: Vec<(Arc<Form>, Arc<Form>, Bounds)> = wanted
        .par_iter()
        .map(|&(p, turn_deg)| {
            let pose = Pose { turn_deg, shift: pt(0.0, 0.0) };
            let form = Arc::new(Form::new(&pose.region(&grown[&p])));
            let bare =
                as_it_is.get(&p).map_or_else(|| form.clone(), |r| Arc::new(Form::new(&pose.region(r))));
            (form, bare, pose.region(&pieces[p].cut).bounds())
        })
        .collect();
    let form_of = |p: usize, turn: f64| {
        wanted
            .binary_search_by(|w| w.0.cmp(&p).then(w.1.total_cmp(&turn)))
            .map(|k| forms[k].clone())
            .unwrap_or_else(|k| forms[k.min(forms.len() - 1)].clone())
    };
    let mut kinds: Vec<Kind> = Vec::new();
    let mut items = Vec::new();
    let mut seen: Vec<(usize, usize)> = Vec::new();
    for place in places.free() {
        // Copies share a kind unless their holds differ, as the two sides of a pair do.
        let same = seen.iter().find(|(p, k)| {
            *p == place.piece
                && kinds[*k].ways.len() == place.turns.len()
                && kinds[*k].ways.iter().zip(&place.turns).all(|(w, t)| w.hold == t.1)
        });
        if let Some((_, k)) = same {
            items.push(*k);
            continue;
        }
        let ways: Vec<Way> = place
            .turns
            .iter()
            .map(|&(turn_deg, hold)| {
                let (form, bare, bounds) = form_of(place.piece, turn_deg);
                Way { turn_deg, form, bare, bounds, hold }
            })
            .collect();
        let size = ways.iter().map(|w| w.form.size).fold(0.0, f64::max);
        let turning = (!place.ranges.is_empty()).then(|| {
            Arc::new(Turning {
                cut: pieces[place.piece].cut.clone(),
                form: Form::new(&grown[&place.piece]),
                bare: as_it_is.get(&place.piece).map(Form::new),
                apart_deg: 2.0 * place.between_deg,
                ranges: place.ranges.clone(),
            })
        });
        kinds.push(Kind { ways, size, turning, close: 0 });
        seen.push((place.piece, kinds.len() - 1));
        items.push(kinds.len() - 1);
    }
    Board {
        kinds,
        items,
        obstacles,
        left: usable.min.x,
        right: usable.max.x,
        near: usable.min.y,
        groups: places.groups.clone(),
    }
}

/// The board of the same pieces on another cloth of the same fabric: their forms stay, the steps of their pattern and
/// what is in the way are the other cloth's.
pub fn on_another(board: Board, places: &Places, cloth: &Cloth) -> Board {
    let mut kinds = board.kinds;
    for (item, place) in board.items.iter().zip(places.free()) {
        for (way, (_, hold)) in kinds[*item].ways.iter_mut().zip(&place.turns) {
            way.hold = *hold;
        }
    }
    let usable = usable_box(cloth);
    Board {
        kinds,
        items: board.items,
        obstacles: obstacles(cloth, usable, &[]),
        left: usable.min.x,
        right: usable.max.x,
        near: usable.min.y,
        groups: places.groups.clone(),
    }
}

/// `cut` grown by `by` and drawn with as few sides as [`tol::SEARCH_OUTLINE_MM`] allows, never smaller than
/// the true grown region. Cut-outs that could not hold a piece of `least_area` are filled.
fn grow(cut: &Region, by: f64, least_area: f64) -> Region {
    let slack = tol::SEARCH_OUTLINE_MM;
    let parts = offset(std::slice::from_ref(cut), by + slack, Join::Round);
    // Growing one region leaves one; should lint remain, the largest is the piece.
    let Some(grown) = parts.into_iter().max_by(|a, b| a.area().total_cmp(&b.area())) else {
        return cut.clone();
    };
    let fewer = |ring: &Ring| {
        let mut line = geo::LineString::new(ring.points.clone());
        line.0.extend(ring.points.first().copied());
        let simple = line.simplify(slack);
        let ring = Ring::new(simple.0);
        if ring.points.len() >= 3 { ring } else { Ring::new(line.0) }
    };
    let cutouts = grown.cutouts.iter().filter(|c| c.signed_area().abs() >= least_area).map(fewer).collect();
    Region::new(fewer(&grown.outline), cutouts)
}

/// Outlines of at most this many corners are tested against obstacles corner by corner.
const FEW_CORNERS: usize = 100;

/// `cut` as it meets obstacles: itself, or drawn with fewer sides and never smaller.
fn plain(cut: &Region, least_area: f64) -> Region {
    let corners: usize = cut.rings().map(|r| r.points.len()).sum();
    if corners <= FEW_CORNERS { cut.clone() } else { grow(cut, 0.0, least_area) }
}

/// Box round the cloth less its edge strip. On open length the far end is out of the way.
fn usable_box(cloth: &Cloth) -> Bounds {
    cloth.outline.bounds().grown(-cloth.edge_mm)
}

/// What stands in the way within `usable`: cloth that is not there, edge strips of odd outlines, flaws.
fn obstacles(cloth: &Cloth, usable: Bounds, kept_clear: &[Region]) -> Vec<Arc<Form>> {
    let mut all: Vec<Region> = Vec::new();
    let outline = Region::new(cloth.outline.clone(), Vec::new());
    if !cloth.open_length && !usable.is_empty() {
        let inner = offset(&[outline], -cloth.edge_mm, Join::Mitre);
        all.extend(Region::rectangle(usable).minus(&inner));
    }
    all.extend(cloth.flaws.iter().map(|f| Region::new(f.clone(), Vec::new())));
    all.extend(kept_clear.iter().cloned());
    all.iter().map(|r| Arc::new(Form::new(r))).collect()
}
