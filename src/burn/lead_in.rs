//! Lead-ins: where the beam pierces off the line, in the waste.

use rstar::RTree;
use rstar::primitives::Line;

use super::Burn;
use super::starts::{begun_at, starts};
use crate::shape::{Point, Region, distance, turn_cos_sin};

/// Ways a lead-in may slant off the square, degrees, tried in this order.
const SLANTS_DEG: [f64; 5] = [0.0, 30.0, -30.0, 60.0, -60.0];

/// A lead-in's far end keeps at least this share of its length from every cut edge.
const CLEAR_SHARE: f64 = 0.7;

/// Cut edges, ready to be asked how near they are.
pub struct Edges(RTree<Line<[f64; 2]>>);

impl Edges {
    /// The edges of `cuts`, any one frame.
    pub fn new(cuts: &[Region]) -> Edges {
        let sides = cuts.iter().flat_map(Region::rings).flat_map(|r| r.sides().collect::<Vec<_>>());
        Edges(RTree::bulk_load(sides.map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y])).collect()))
    }

    fn clear_of(&self, p: Point, reach: f64) -> bool {
        self.0.locate_within_distance([p.x, p.y], reach * reach).next().is_none()
    }
}

/// Where the beam should pierce for a closed `burn`, `length_mm` off its first point: in the waste, which lies to the
/// right of its direction (outlines run counter-clockwise, cut-outs clockwise), clear of every edge of `edges`. All
/// in one frame seen from the face. `None` when there is no such spot, and for open burns.
pub fn lead_in(burn: &Burn, edges: &Edges, length_mm: f64) -> Option<Point> {
    let (&first, &second) = (burn.path.first()?, burn.path.get(1)?);
    let last = *burn.path.last()?;
    if !burn.closed || length_mm <= 0.0 {
        return None;
    }
    // The mean direction of the line before and after its first point.
    let unit = |d: Point| d / distance(d, Point::default()).max(f64::MIN_POSITIVE);
    let way = unit(second - first) + unit(first - last);
    if distance(way, Point::default()) < 1e-6 {
        return None;
    }
    let way = unit(way);
    SLANTS_DEG.iter().find_map(|slant| {
        let (cos, sin) = turn_cos_sin(*slant - 90.0);
        let off = Point { x: way.x * cos - way.y * sin, y: way.x * sin + way.y * cos };
        let at = first + off * length_mm;
        edges.clear_of(at, CLEAR_SHARE * length_mm).then_some(at)
    })
}

/// A closed `burn` begun where its lead-in finds room, and the spot: where it begins already if `spot` (as [`lead_in`])
/// gives one there, else at the nearest of the starts it may have that does. `None` when there is room at none.
pub fn led_in(burn: &Burn, spot: impl Fn(&Burn) -> Option<Point>) -> Option<(Burn, Point)> {
    if let Some(at) = spot(burn) {
        return Some((burn.clone(), at));
    }
    let first = *burn.path.first().filter(|_| burn.closed)?;
    let mut others = starts(burn);
    others.sort_by(|a, b| distance(a.at, first).total_cmp(&distance(b.at, first)));
    others.into_iter().find_map(|start| {
        let moved = begun_at(burn.clone(), start);
        spot(&moved).map(|at| (moved, at))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::burn::BurnKind;
    use crate::shape::{Bounds, Ring, pt};

    fn burn(kind: BurnKind, ring: &Ring) -> Burn {
        let mut path = ring.points.clone();
        path.insert(1, crate::shape::lerp(path[0], path[1], 0.5));
        path.rotate_left(1);
        Burn { kind, placed: Some(0), ring: 0, closed: true, path }
    }

    #[test]
    fn an_outline_is_pierced_outside_and_a_cut_out_inside() {
        let frame = Region::new(
            Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(80.0, 60.0))).outline,
            vec![Region::rectangle(Bounds::new(pt(20.0, 20.0), pt(60.0, 40.0))).outline],
        );
        let edges = Edges::new(std::slice::from_ref(&frame));
        let outer = lead_in(&burn(BurnKind::Outline, &frame.outline), &edges, 2.0);
        let outer = outer.expect("room outside");
        assert!(!frame.outline.contains(outer));
        let inner = lead_in(&burn(BurnKind::Cutout, &frame.cutouts[0]), &edges, 2.0).expect("room inside");
        assert!(frame.cutouts[0].contains(inner));
    }

    #[test]
    fn where_a_neighbour_is_too_near_there_is_none() {
        let cuts = [
            Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(80.0, 60.0))),
            Region::rectangle(Bounds::new(pt(0.0, -32.0), pt(80.0, -2.0))),
        ];
        let edges = Edges::new(&cuts);
        assert_eq!(lead_in(&burn(BurnKind::Outline, &cuts[0].outline), &edges, 2.0), None);
        assert!(lead_in(&burn(BurnKind::Outline, &cuts[0].outline), &edges, 1.0).is_some());
    }

    #[test]
    fn a_burn_begins_elsewhere_when_its_start_leaves_no_room() {
        let cuts = [
            Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(80.0, 60.0))),
            Region::rectangle(Bounds::new(pt(0.0, -32.0), pt(80.0, -2.0))),
        ];
        let edges = Edges::new(&cuts);
        let tight = burn(BurnKind::Outline, &cuts[0].outline);
        assert_eq!(tight.path[0].y, 0.0, "it begins beside the neighbour");
        let (moved, at) = led_in(&tight, |b| lead_in(b, &edges, 2.0)).expect("room on the other sides");
        assert!(moved.path[0].y > 2.0 && !cuts[0].outline.contains(at) && distance(at, moved.path[0]) < 2.1);
        assert!((moved.length_mm() - tight.length_mm()).abs() < 1e-9);
        assert_eq!(led_in(&tight, |_| None), None);
        let roomy = led_in(&tight, |b| lead_in(b, &edges, 1.0)).expect("room where it begins");
        assert_eq!(roomy.0, tight);
    }
}
