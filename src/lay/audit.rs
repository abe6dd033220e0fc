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

/// What sort of rule is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum BreakKind {
    /// Two pieces lie on each other, or nearer than the gap.
    Overlap,
    /// A piece leaves the usable cloth, or lies on a flaw.
    Edge,
    /// The pattern is out of step.
    Match,
    /// The cloth does not allow the turn.
    Turn,
    /// The piece may not be cut from this cloth, or not so many of it are wanted.
    Cloth,
}

/// A rule that a lay breaks.
#[derive(Clone, Debug, PartialEq)]
pub struct Break {
    /// The pieces it is about, by index and copy: the one, and the other where there are two.
    pub about: Vec<(usize, u32)>,
    /// What sort.
    pub kind: BreakKind,
    /// In words.
    pub text: String,
}

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
    for (c, on) in lay.cloths.iter().enumerate().take(cloths.len()) {
        on.placed.iter().for_each(|p| laid[p.piece] += 1);
        all.extend(breaks(c, on, pieces, rules, cloths, gap_mm, &|_| true).into_iter().map(|b| b.text));
    }
    for (piece, laid) in pieces.iter().zip(laid) {
        if laid != piece.count {
            all.push(format!("piece {} is laid {laid} times, wanted {}", piece.id, piece.count));
        }
    }
    all
}

/// Every rule broken on cloth `c` of `cloths`. Whether pieces lie inside and apart is asked only of those for which
/// `asked` is true (by index into the placed ones) and of their neighbours; turns and matches of all.
pub fn breaks(
    c: usize,
    on: &ClothLay,
    pieces: &[Piece],
    rules: &[PieceRule],
    cloths: &[Cloth],
    gap_mm: f64,
    asked: &(dyn Fn(usize) -> bool + Sync),
) -> Vec<Break> {
    let cloth = &cloths[c];
    let mut all = Vec::new();
    for placed in &on.placed {
        if !stock::choices(&pieces[placed.piece], rules, cloths).contains(&c) {
            all.push(one(
                placed,
                BreakKind::Cloth,
                format!("{} lies on the wrong cloth", name(pieces, placed)),
            ));
        }
    }
    all.extend(inside(cloth, on, pieces, asked));
    all.extend(apart(on, pieces, gap_mm, asked));
    all.extend(poses(cloth, on, pieces, rules));
    all
}

fn one(placed: &Placed, kind: BreakKind, text: String) -> Break {
    Break { about: vec![(placed.piece, placed.copy)], kind, text }
}

fn name(pieces: &[Piece], placed: &Placed) -> String {
    format!("piece {} ({})", pieces[placed.piece].id, placed.copy)
}

/// Within the usable cloth.
fn inside(
    cloth: &Cloth,
    on: &ClothLay,
    pieces: &[Piece],
    asked: &(dyn Fn(usize) -> bool + Sync),
) -> Vec<Break> {
    let usable = cloth.usable();
    on.placed
        .par_iter()
        .enumerate()
        .filter(|(i, p)| asked(*i) && !usable.iter().any(|u| plainly_holds(u, p.cut.bounds())))
        .filter_map(|(_, p)| {
            let out: f64 = p.cut.minus(&usable).iter().map(Region::area).sum();
            // A strip as thin as the tolerance all along the edge is rounding.
            let rounding = tol::CLEAR_MM * p.cut.edge_length();
            (out > rounding).then(|| {
                let text = format!(
                    "{} lies {out:.2} mm² outside the usable part of {}",
                    name(pieces, p),
                    cloth.name
                );
                one(p, BreakKind::Edge, text)
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
fn apart(on: &ClothLay, pieces: &[Piece], gap_mm: f64, asked: &(dyn Fn(usize) -> bool + Sync)) -> Vec<Break> {
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
                .filter(move |&&j| (asked(i) || asked(j)) && boxes[i].meets(boxes[j]))
                .filter_map(move |&j| {
                    let d = if few(&shapes[i], &shapes[j]) {
                        Euclidean.distance(&shapes[i], &shapes[j])
                    } else {
                        clearance(&on.placed[i].cut, &on.placed[j].cut, gap_mm)
                    };
                    (d < gap_mm - tol::CLEAR_MM || (d == 0.0 && overlap(on, i, j))).then(|| {
                        let (p, q) = (&on.placed[i], &on.placed[j]);
                        let text = format!(
                            "{} and {} are {d:.3} mm apart, less than the gap of {gap_mm} mm",
                            name(pieces, p),
                            name(pieces, q)
                        );
                        let about = vec![(p.piece, p.copy), (q.piece, q.copy)];
                        Break { about, kind: BreakKind::Overlap, text }
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

/// Where a piece of a pair has its pivots, whether it was placed by hand, and which piece it is.
type Crossing = (Point, bool, (usize, u32));

/// True when the pattern seen through one turn lies as through the other: the same turn, or the half turn from it on a
/// pattern that is then the same.
fn lies_alike(one_deg: f64, other_deg: f64, half_turn: bool) -> bool {
    let between = (other_deg - one_deg).rem_euclid(360.0);
    let is = |deg: f64| (between - deg).abs() < tol::SAME_TURN_DEG;
    is(0.0) || is(360.0) || (half_turn && is(180.0))
}

/// Cut where the pose says, at an allowed turn, in step with the pattern.
fn poses(cloth: &Cloth, on: &ClothLay, pieces: &[Piece], rules: &[PieceRule]) -> Vec<Break> {
    let mut all = Vec::new();
    let mut group_shift: BTreeMap<&str, Point> = BTreeMap::new();
    let mut group_turn: BTreeMap<&str, f64> = BTreeMap::new();
    let mut crossing: BTreeMap<&str, (Point, bool)> = BTreeMap::new();
    let mut pairs: BTreeMap<&str, Vec<Crossing>> = BTreeMap::new();
    for placed in &on.placed {
        let piece = &pieces[placed.piece];
        let who = name(pieces, placed);
        let want = placed.pose.region(&piece.cut);
        let same = want.rings().zip(placed.cut.rings()).all(|(a, b)| {
            a.points.len() == b.points.len()
                && a.points.iter().zip(&b.points).all(|(p, q)| distance(*p, *q) < tol::SAME_POINT_MM)
        });
        if !same {
            let text = format!("{who} is not cut where its pose puts it");
            all.push(one(placed, BreakKind::Cloth, text));
        }
        let turn = placed.pose.turn_deg;
        if !may_turn(&rules[piece.rule], cloth, "rule", turn).unwrap_or(false) {
            let text = format!("{who} is turned by {turn}°, which its cloth does not allow");
            all.push(one(placed, BreakKind::Turn, text));
        }
        let Some(pattern) = &cloth.pattern else { continue };
        let l = pattern.lattice;
        if matches!(piece.matching, Match::Drawn | Match::Pair) {
            let first = *group_turn.entry(&piece.group).or_insert(turn);
            if !lies_alike(first, turn, pattern.half_turn) {
                let text =
                    format!("{who} is turned by {turn}°, and another of group {} by {first}°", piece.group);
                all.push(one(placed, BreakKind::Match, text));
                continue;
            }
        }
        let anchor = placed.pose.apply(piece.anchor) - l.origin;
        let mut one_by_hand = placed.locked;
        let off = match piece.matching {
            Match::Free => 0.0,
            Match::Drawn => {
                let Some([x, y]) = placed.group_shift else {
                    all.push(one(placed, BreakKind::Match, format!("{who} has no group shift")));
                    continue;
                };
                // The point of the drawing said to show the first pivots, and that said so for the group, must lie on a
                // crossing of them.
                let first = *group_shift.entry(&piece.group).or_insert(pt(x, y));
                let off = |s: Point| l.residual(placed.pose.apply(s) - l.origin);
                off(pt(x, y)).max(off(first))
            }
            Match::Centred => {
                let step = if pattern.half_turn { 2.0 } else { 1.0 };
                let fine = Lattice { a: l.a.map(|a| a / step), b: l.b.map(|b| b / step), ..l };
                let (first, by_hand) = *crossing.entry(&piece.group).or_insert((anchor, placed.locked));
                one_by_hand |= by_hand;
                fine.residual(anchor).max(l.residual(anchor - first))
            }
            Match::Pair => {
                // Turned by half the shares change their sign, by a quarter the drawing's left and right are along the cloth.
                let half = turn > 90.0 && turn <= 270.0;
                let across = lies_alike(turn, 90.0, true);
                let f = l.fractions(anchor) * if half { -1.0 } else { 1.0 };
                let waiting = pairs.entry(&piece.group).or_default();
                let in_step = |(g, by_hand, _): &(Point, bool, (usize, u32))| {
                    let e = if across { pt(f.x - g.x, f.y + g.y) } else { pt(f.x + g.x, f.y - g.y) };
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
                    None => waiting.push((f, placed.locked, (placed.piece, placed.copy))),
                }
                0.0
            }
        };
        let by_hand = if one_by_hand { tol::LOCKED_IN_STEP_MM } else { 0.0 };
        if off > tol::ON_LATTICE_MM + by_hand + cloth.match_tolerance_mm {
            let text = format!("{who} is {off:.4} mm out of step with the pattern");
            all.push(one(placed, BreakKind::Match, text));
        }
    }
    for (group, waiting) in pairs {
        if !waiting.is_empty() {
            let text = format!("group {group}: {} pieces do not carry mirrored pattern", waiting.len());
            let about = waiting.iter().map(|w| w.2).collect();
            all.push(Break { about, kind: BreakKind::Match, text });
        }
    }
    all
}
