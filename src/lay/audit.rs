//! An exact test of a lay that knows nothing of the search: slow and plain.
//!
//! Overlap and gap are measured by `geo` on the true cut edges, the match is worked out anew from the poses.

use std::collections::BTreeMap;

use geo::{Distance, Euclidean};
use rayon::prelude::*;

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{Match, PieceRule};
use crate::shape::{Bounds, Lattice, Point, Region, distance, pt, tol};

use super::clearance::clearance;
use super::model::{ClothLay, Lay, Placed};
use super::stock;
use super::turns::may_turn;

/// Everything wrong with `lay`, in words; empty for a sound one.
pub fn faults(
    lay: &Lay,
    pieces: &[Piece],
    rules: &[PieceRule],
    cloths: &[Cloth],
    gap_mm: f64,
) -> Vec<String> {
    let mut all = Vec::new();
    if lay.cloths.len() != cloths.len() {
        all.push(format!("{} lays for {} cloths", lay.cloths.len(), cloths.len()));
    }
    let mut laid = vec![0u32; pieces.len()];
    for (c, (cloth, on)) in cloths.iter().zip(&lay.cloths).enumerate() {
        for placed in &on.placed {
            laid[placed.piece] += 1;
            if !stock::choices(&pieces[placed.piece], rules, cloths).contains(&c) {
                all.push(format!("{} lies on the wrong cloth", name(pieces, placed)));
            }
        }
        all.extend(inside(cloth, on, pieces));
        all.extend(apart(on, pieces, gap_mm));
        all.extend(poses(cloth, on, pieces, rules));
    }
    for (piece, laid) in pieces.iter().zip(laid) {
        if laid != piece.count {
            all.push(format!("piece {} is laid {laid} times, wanted {}", piece.id, piece.count));
        }
    }
    all
}

fn name(pieces: &[Piece], placed: &Placed) -> String {
    format!("piece {} ({})", pieces[placed.piece].id, placed.copy)
}

/// Within the usable cloth.
fn inside(cloth: &Cloth, on: &ClothLay, pieces: &[Piece]) -> Vec<String> {
    let usable = cloth.usable();
    on.placed
        .par_iter()
        .filter(|p| !usable.iter().any(|u| plainly_holds(u, p.cut.bounds())))
        .filter_map(|p| {
            let out: f64 = p.cut.minus(&usable).iter().map(Region::area).sum();
            // A strip as thin as the tolerance all along the edge is rounding.
            let rounding = tol::CLEAR_MM * p.cut.edge_length();
            (out > rounding).then(|| {
                format!("{} lies {out:.2} mm² outside the usable part of {}", name(pieces, p), cloth.name)
            })
        })
        .collect()
}

/// True when `usable` is a rectangle with holes and the box lies in it clear of their boxes: certainly inside.
fn plainly_holds(usable: &Region, b: Bounds) -> bool {
    let whole = usable.bounds();
    let is_rectangle = usable.outline.points.len() == 4
        && (usable.outline.signed_area() - whole.width() * whole.height()).abs() < tol::SLIVER_MM2;
    is_rectangle && whole.holds(b) && !usable.cutouts.iter().any(|c| c.bounds().meets(b))
}

/// Apart by the gap.
fn apart(on: &ClothLay, pieces: &[Piece], gap_mm: f64) -> Vec<String> {
    let boxes: Vec<_> = on.placed.iter().map(|p| p.cut.bounds().grown(gap_mm / 2.0)).collect();
    let shapes: Vec<_> = on.placed.iter().map(|p| p.cut.to_geo()).collect();
    let mut by_left: Vec<usize> = (0..boxes.len()).collect();
    by_left.sort_by(|a, b| boxes[*a].min.x.total_cmp(&boxes[*b].min.x).then(a.cmp(b)));
    by_left
        .par_iter()
        .enumerate()
        .flat_map_iter(|(k, &i)| {
            let (boxes, shapes) = (&boxes, &shapes);
            by_left[k + 1..]
                .iter()
                .take_while(move |&&j| boxes[j].min.x <= boxes[i].max.x)
                .filter(move |&&j| boxes[i].meets(boxes[j]))
                .filter_map(move |&j| {
                    let d = if few(&shapes[i], &shapes[j]) {
                        Euclidean.distance(&shapes[i], &shapes[j])
                    } else {
                        clearance(&on.placed[i].cut, &on.placed[j].cut, gap_mm)
                    };
                    (d < gap_mm - tol::CLEAR_MM || (d == 0.0 && overlap(on, i, j))).then(|| {
                        format!(
                            "{} and {} are {d:.3} mm apart, less than the gap of {gap_mm} mm",
                            name(pieces, &on.placed[i]),
                            name(pieces, &on.placed[j])
                        )
                    })
                })
        })
        .collect()
}

/// Pairs of sides up to which the library's own distance is quick enough.
const FEW_PAIRS: usize = 250_000;

fn few(a: &geo::Polygon<f64>, b: &geo::Polygon<f64>) -> bool {
    use geo::CoordsIter;
    a.coords_count() * b.coords_count() <= FEW_PAIRS
}

fn overlap(on: &ClothLay, i: usize, j: usize) -> bool {
    let shared = crate::shape::booleans::intersection(
        std::slice::from_ref(&on.placed[i].cut),
        std::slice::from_ref(&on.placed[j].cut),
    );
    shared.iter().map(Region::area).sum::<f64>() > tol::SLIVER_MM2
}

/// Cut where the pose says, at an allowed turn, in step with the pattern.
fn poses(cloth: &Cloth, on: &ClothLay, pieces: &[Piece], rules: &[PieceRule]) -> Vec<String> {
    let mut all = Vec::new();
    let mut group_shift: BTreeMap<&str, Point> = BTreeMap::new();
    let mut crossing: BTreeMap<&str, (Point, bool)> = BTreeMap::new();
    let mut pairs: BTreeMap<&str, Vec<(Point, bool)>> = BTreeMap::new();
    for placed in &on.placed {
        let piece = &pieces[placed.piece];
        let who = name(pieces, placed);
        let want = placed.pose.region(&piece.cut);
        let same = want.rings().zip(placed.cut.rings()).all(|(a, b)| {
            a.points.len() == b.points.len()
                && a.points.iter().zip(&b.points).all(|(p, q)| distance(*p, *q) < tol::SAME_POINT_MM)
        });
        if !same {
            all.push(format!("{who} is not cut where its pose puts it"));
        }
        let turn = placed.pose.turn_deg;
        if !may_turn(&rules[piece.rule], cloth, "rule", turn).unwrap_or(false) {
            all.push(format!("{who} is turned by {turn}°, which its cloth does not allow"));
        }
        let Some(pattern) = &cloth.pattern else { continue };
        let l = pattern.lattice;
        let half = turn == 180.0;
        let anchor = placed.pose.apply(piece.anchor) - l.origin;
        let mut one_by_hand = placed.locked;
        let off = match piece.matching {
            Match::Free => 0.0,
            Match::Drawn => {
                let Some([x, y]) = placed.group_shift else {
                    all.push(format!("{who} has no group shift"));
                    continue;
                };
                let s = pt(x, y);
                let first = *group_shift.entry(&piece.group).or_insert(s);
                let d = placed.pose.shift - l.origin - if half { s } else { s * -1.0 };
                l.residual(d).max(l.residual(s - first))
            }
            Match::Centred => {
                let step = if pattern.half_turn { 2.0 } else { 1.0 };
                let fine = Lattice { a: l.a.map(|a| a / step), b: l.b.map(|b| b / step), ..l };
                let (first, by_hand) = *crossing.entry(&piece.group).or_insert((anchor, placed.locked));
                one_by_hand |= by_hand;
                fine.residual(anchor).max(l.residual(anchor - first))
            }
            Match::Pair => {
                let f = l.fractions(anchor) * if half { -1.0 } else { 1.0 };
                let waiting = pairs.entry(&piece.group).or_default();
                let in_step = |(g, by_hand): &(Point, bool)| {
                    let e = pt(f.x + g.x, f.y - g.y);
                    let v = l.vector(pt(e.x - e.x.round(), e.y - e.y.round()));
                    // A partner of one placed by hand is laid to it exactly; two by hand may each be off.
                    let most = if placed.locked && *by_hand {
                        tol::LOCKED_IN_STEP_MM + cloth.match_tolerance_mm
                    } else {
                        tol::ON_LATTICE_MM
                    };
                    distance(v, pt(0.0, 0.0)) <= most
                };
                match waiting.iter().position(in_step) {
                    Some(k) => drop(waiting.remove(k)),
                    None => waiting.push((f, placed.locked)),
                }
                0.0
            }
        };
        let by_hand = if one_by_hand { tol::LOCKED_IN_STEP_MM } else { 0.0 };
        if off > tol::ON_LATTICE_MM + by_hand + cloth.match_tolerance_mm {
            all.push(format!("{who} is {off:.4} mm out of step with the pattern"));
        }
    }
    for (group, waiting) in pairs {
        if !waiting.is_empty() {
            all.push(format!("group {group}: {} pieces do not carry mirrored pattern", waiting.len()));
        }
    }
    all
}
