//! Waste: where on the cloth nothing is cut.

use rstar::RTree;
use rstar::primitives::Line;

use crate::shape::{Bounds, Point, Region, Ring, pt, to_side};

/// A spot in the waste.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Spot {
    pub at: Point,
    /// The cut-outs it lies in (piece, ring 1..): waste that drops out once the last of them is burnt.
    pub holes: Vec<(usize, usize)>,
}

/// Answers where waste is. Cloth frame.
pub(super) struct Waste<'a> {
    outline: &'a Ring,
    flaws: &'a [Ring],
    cuts: &'a [Region],
    boxes: Vec<Bounds>,
    edges: RTree<Line<[f64; 2]>>,
    /// Strip along the cloth's own edge that is not to be used, mm.
    edge_mm: f64,
}

impl<'a> Waste<'a> {
    pub fn new(outline: &'a Ring, flaws: &'a [Ring], cuts: &'a [Region]) -> Waste<'a> {
        let rings = cuts.iter().flat_map(Region::rings).chain(flaws).chain([outline]);
        let sides = rings.flat_map(Ring::sides).map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y]));
        let edges = RTree::bulk_load(sides.collect());
        Waste { outline, flaws, cuts, boxes: cuts.iter().map(Region::bounds).collect(), edges, edge_mm: 0.0 }
    }

    /// The same waste less a strip of `edge_mm` along the cloth's edge: it may be frayed.
    pub fn less_edge(self, edge_mm: f64) -> Waste<'a> {
        Waste { edge_mm: edge_mm.max(0.0), ..self }
    }

    /// True when `p` lies at least `clear` within the usable cloth.
    fn off_edge(&self, p: Point, clear: f64) -> bool {
        self.outline.sides().all(|(a, b)| to_side(p, a, b) >= clear + self.edge_mm)
    }

    /// The spot at `p` when a disc of radius `clear` round it lies wholly in waste, off flaws and on the cloth.
    pub fn spot(&self, p: Point, clear: f64) -> Option<Spot> {
        if self.edges.locate_within_distance([p.x, p.y], clear * clear).next().is_some() {
            return None;
        }
        if !self.outline.contains(p)
            || (self.edge_mm > 0.0 && !self.off_edge(p, clear))
            || self.flaws.iter().any(|f| f.contains(p))
        {
            return None;
        }
        let mut holes = Vec::new();
        for (placed, cut) in self.cuts.iter().enumerate() {
            if self.boxes[placed].contains(p) && cut.outline.contains(p) {
                let hole = cut.cutouts.iter().position(|c| c.contains(p))?;
                holes.push((placed, hole + 1));
            }
        }
        Some(Spot { at: p, holes })
    }

    /// How deep in pieces `p` lies, mm: 0 in the waste, else the way to the nearest edge.
    pub fn depth(&self, p: Point) -> f64 {
        let in_piece = self.cuts.iter().zip(&self.boxes).any(|(c, b)| b.contains(p) && c.contains(p));
        if !in_piece {
            return 0.0;
        }
        let near = self.edges.nearest_neighbor_iter_with_distance_2(&[p.x, p.y]).next();
        near.map_or(0.0, |(_, d2)| d2.sqrt())
    }

    /// True when a disc of radius `clear` round `p` lies on the cloth and off flaws, pieces or not.
    pub fn on_cloth(&self, p: Point, clear: f64) -> bool {
        let free = |ring: &Ring| ring.sides().all(|(a, b)| to_side(p, a, b) >= clear);
        self.outline.contains(p)
            && self.off_edge(p, clear)
            && self.flaws.iter().all(|f| !f.contains(p) && free(f))
    }

    /// Spots on an even grid in `area`, at least `step` mm apart and no more than `most` tried.
    pub fn spots(&self, area: Bounds, step: f64, most: usize, clear: f64) -> Vec<Spot> {
        if area.is_empty() {
            return Vec::new();
        }
        let step = step.max((area.width() * area.height() / most.max(1) as f64).sqrt());
        let (nx, ny) = ((area.width() / step).floor(), (area.height() / step).floor());
        // Centred, so that both borders of a thin area are equally near.
        let from = area.centre() - pt(nx, ny) * (step / 2.0);
        let rows = (0..=ny as usize).flat_map(|j| (0..=nx as usize).map(move |i| (i, j)));
        rows.filter_map(|(i, j)| self.spot(from + pt(i as f64, j as f64) * step, clear)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
    }

    #[test]
    fn waste_is_cloth_without_pieces_and_flaws() {
        let cloth = rect(0.0, 0.0, 200.0, 100.0).outline;
        let flaws = [rect(150.0, 20.0, 20.0, 20.0).outline];
        let ring =
            Region::new(rect(20.0, 20.0, 60.0, 60.0).outline, vec![rect(30.0, 30.0, 40.0, 40.0).outline]);
        let cuts = [ring];
        let waste = Waste::new(&cloth, &flaws, &cuts);
        assert_eq!(waste.spot(pt(110.0, 50.0), 6.0).unwrap().holes, []);
        assert_eq!(waste.spot(pt(50.0, 50.0), 6.0).unwrap().holes, [(0, 1)]);
        for p in
            [pt(25.0, 50.0), pt(160.0, 30.0), pt(146.0, 30.0), pt(4.0, 50.0), pt(-9.0, 50.0), pt(85.0, 50.0)]
        {
            assert_eq!(waste.spot(p, 6.0), None, "{p:?}");
        }
        assert_eq!(waste.depth(pt(25.0, 50.0)), 5.0);
        assert_eq!(waste.depth(pt(50.0, 50.0)), 0.0);
        assert!(waste.on_cloth(pt(25.0, 50.0), 6.0) && !waste.on_cloth(pt(146.0, 30.0), 6.0));
        let found = waste.spots(Bounds::new(pt(100.0, 10.0), pt(140.0, 90.0)), 10.0, 1000, 6.0);
        assert_eq!(found.len(), 5 * 9);
    }
}
