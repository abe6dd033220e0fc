//! Sharp corners the round beam cannot follow: the burn runs into them and back.

use rstar::RTree;
use rstar::primitives::{GeomWithData, Line};

use crate::shape::{Point, Ring, distance, lerp};

/// Edges are sampled this densely when looking for what the beam misses, mm.
const SAMPLE_MM: f64 = 0.5;

/// An edge counts as cut when the beam passes within half the kerf and this, mm: arcs as chords.
pub(super) const REACH_MM: f64 = 0.05;

type Beam = RTree<Line<[f64; 2]>>;

/// The lines the beam's centre runs along, ready for asking what is near.
pub(super) fn beam(paths: &[Ring]) -> Beam {
    let sides = paths.iter().flat_map(|path| path.sides());
    RTree::bulk_load(sides.map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y])).collect())
}

/// Points along `edge` with the length each stands for, corners included, in order.
fn samples(edge: &Ring) -> Vec<(Point, f64)> {
    let mut all = Vec::new();
    for (p, q) in edge.sides() {
        let steps = (distance(p, q) / SAMPLE_MM).ceil().max(1.0);
        for i in 0..steps as usize {
            all.push((lerp(p, q, i as f64 / steps), distance(p, q) / steps));
        }
    }
    all
}

fn missed(beam: &Beam, at: Point, half: f64) -> bool {
    let reach = half + REACH_MM;
    beam.locate_within_distance([at.x, at.y], reach * reach).next().is_none()
}

/// Length of `edge` that a beam of half width `half` along `paths` leaves uncut, mm.
pub(super) fn uncut_length(edge: &Ring, paths: &[Ring], half: f64) -> f64 {
    let beam = beam(paths);
    samples(edge).iter().filter(|(at, _)| missed(&beam, *at, half)).map(|(_, length)| length).sum()
}

/// Lets `paths` run into every corner of `edge` that is too sharp for a beam of half width `half`, and back.
///
/// Without it the tip of a leaf-shaped cut-out would hang on. In the corner itself the beam takes up to half
/// its width off either side, which the border stitching covers. A corner whose way in would cross the edge is
/// left alone.
pub(super) fn run_into(edge: &Ring, paths: &mut [Ring], half: f64) {
    let all = samples(edge);
    let beam = beam(paths);
    let lost: Vec<bool> = all.iter().map(|(at, _)| missed(&beam, *at, half)).collect();
    // Begin where nothing is missed, so that no missed stretch is met in two parts.
    let Some(begin) = lost.iter().position(|l| !l) else { return };
    let corners = RTree::bulk_load(
        paths
            .iter()
            .enumerate()
            .flat_map(|(k, path)| {
                path.points.iter().enumerate().map(move |(i, p)| GeomWithData::new([p.x, p.y], (k, i)))
            })
            .collect(),
    );
    let depth = |at: Point| {
        let near = beam.nearest_neighbor(&[at.x, at.y]);
        near.map_or(0.0, |l| rstar::PointDistance::distance_2(l, &[at.x, at.y]))
    };
    let sides: Beam =
        RTree::bulk_load(edge.sides().map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y])).collect());
    let mut ways_in: Vec<((usize, usize), Point)> = Vec::new();
    let mut deepest: Option<(f64, Point)> = None;
    for k in 0..=all.len() {
        let i = (begin + k) % all.len();
        if lost[i] && k < all.len() {
            let d = depth(all[i].0);
            if deepest.is_none_or(|(most, _)| d > most) {
                deepest = Some((d, all[i].0));
            }
        } else if let Some((_, tip)) = deepest.take() {
            let Some(from) = corners.nearest_neighbor(&[tip.x, tip.y]) else { continue };
            let (path, corner) = from.data;
            let foot = paths[path].points[corner];
            let end = lerp(tip, foot, (REACH_MM / distance(tip, foot)).min(1.0));
            if is_clear(&sides, foot, end) {
                ways_in.push((from.data, end));
            }
        }
    }
    // The last corners first, so that earlier ones keep their place.
    ways_in.sort_by_key(|way| std::cmp::Reverse(way.0));
    for ((path, corner), end) in ways_in {
        let foot = paths[path].points[corner];
        paths[path].points.splice(corner + 1..corner + 1, [end, foot]);
    }
}

/// True when no side of the edge crosses the way from `p` to `q`.
fn is_clear(sides: &Beam, p: Point, q: Point) -> bool {
    let turn = |a: Point, b: Point, c: [f64; 2]| {
        robust::orient2d(
            robust::Coord { x: a.x, y: a.y },
            robust::Coord { x: b.x, y: b.y },
            robust::Coord { x: c[0], y: c[1] },
        )
    };
    let low = [p.x.min(q.x), p.y.min(q.y)];
    let high = [p.x.max(q.x), p.y.max(q.y)];
    let near = rstar::AABB::from_corners(low, high);
    sides.locate_in_envelope_intersecting(&near).all(|side| {
        let (a, b) = (Point::from(side.from), Point::from(side.to));
        turn(p, q, side.from) * turn(p, q, side.to) > 0.0
            || turn(a, b, [p.x, p.y]) * turn(a, b, [q.x, q.y]) > 0.0
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::burn::contours;
    use crate::shape::Region;

    /// A leaf-shaped cut-out: the beam's line alone ends 1.6 mm short of its 7° tips.
    #[test]
    fn the_tips_of_a_leaf_are_cut() {
        let leaf = Ring::from_pairs(&[[10.0, 10.0], [26.0, 9.0], [42.0, 10.0], [26.0, 11.0]]);
        let piece = Region::new(
            Ring::from_pairs(&[[0.0, 0.0], [52.0, 0.0], [52.0, 20.0], [0.0, 20.0]]),
            vec![leaf.clone()],
        );
        let all = contours(&[piece], 0.2);
        let cutout: Vec<Ring> = all.contours.iter().filter(|c| c.ring == 1).map(|c| c.path.clone()).collect();
        assert_eq!(uncut_length(&leaf, &cutout, 0.1), 0.0);
        let inside = |p: &Point| leaf.contains(*p);
        assert!(cutout[0].points.iter().all(inside), "the beam's line stays in the cut-out");
        assert!(all.lost.is_empty());
    }

    /// Between two leaves of one outline lies a notch sharper than the beam.
    #[test]
    fn a_notch_in_an_outline_is_cut_to_its_bottom() {
        let notched = Ring::from_pairs(&[
            [0.0, 0.0],
            [40.0, 0.0],
            [40.0, 30.0],
            [20.4, 30.0],
            [20.0, 10.0],
            [19.6, 30.0],
            [0.0, 30.0],
        ]);
        let all = contours(&[Region::new(notched.clone(), vec![])], 0.2);
        assert_eq!(uncut_length(&notched, &[all.contours[0].path.clone()], 0.1), 0.0);
        assert!(all.contours[0].path.points.iter().all(|p| !notched.contains(*p)));
    }
}
