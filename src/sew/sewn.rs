//! The pieces where the drawing has them, each showing the very cloth it is cut from.

use crate::cloth::{Cloth, look};
use crate::shape::{Bounds, Point, Pose, Region};

/// A piece sewn in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct SewnPiece {
    /// The region within the drawn edge, drawing frame.
    pub drawn: Region,
    /// Drawing frame to cloth frame.
    pub pose: Pose,
    /// The cloth it is cut from, by index; `None` when nothing is known of it.
    pub cloth: Option<usize>,
    /// Its place in the drawing's stacking, the lowest first.
    pub order: usize,
    /// Its place in the caller's own list.
    pub index: usize,
}

/// A work: its pieces, the lowest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Work {
    /// Every piece, in stacking order; pieces of one order keep the order they came in.
    pub pieces: Vec<SewnPiece>,
    bounds: Vec<Bounds>,
}

impl Work {
    /// The work made of `pieces`.
    pub fn new(mut pieces: Vec<SewnPiece>) -> Work {
        pieces.sort_by_key(|p| p.order);
        let bounds = pieces.iter().map(|p| p.drawn.bounds()).collect();
        Work { pieces, bounds }
    }

    /// The box round the piece at `place` of the stack.
    pub(super) fn bounds(&self, place: usize) -> Bounds {
        self.bounds.get(place).copied().unwrap_or(Bounds::EMPTY)
    }

    /// The piece that shows at `p` of the drawing: the topmost one whose drawn region holds `p`.
    pub fn top_at(&self, p: Point) -> Option<&SewnPiece> {
        self.above(0, p).last()
    }

    /// True when a piece that lies higher than `place` of the stack hides it at `p`.
    pub(super) fn is_hidden(&self, place: usize, p: Point) -> bool {
        self.above(place + 1, p).next().is_some()
    }

    fn above(&self, from: usize, p: Point) -> impl Iterator<Item = &SewnPiece> {
        let stack = self.pieces.iter().zip(&self.bounds).skip(from);
        stack.filter(move |(piece, b)| b.contains(p) && piece.drawn.contains(p)).map(|(piece, _)| piece)
    }

    /// The colour of the work at `p` of the drawing: that of the cloth at the point of it that is sewn there.
    /// `None` where no piece lies, or one of an unknown cloth.
    pub fn colour_at(&self, cloths: &[Cloth], p: Point) -> Option<[u8; 3]> {
        let top = self.top_at(p)?;
        Some(look::colour_at(cloths.get(top.cloth?)?, top.pose.apply(p)))
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::shape::{Ring, pt};
    use proptest::prelude::*;
    use serde_json::json;

    /// A check in 2/2 twill with a skew, and a plain weave.
    pub(crate) fn cloths() -> Vec<Cloth> {
        let pattern = json!({"warp": "K/6 W10 R4 Y/8", "ends_per_cm": 20, "picks_per_cm": 18, "origin_mm": [7, 11],
            "skew_mm_per_m": 12, "colours": {}});
        [
            json!({"name": "check", "width_mm": 900, "weave": "twill-z", "pattern": pattern}),
            json!({"name": "plain", "width_mm": 900, "colour": "#806040"}),
        ]
        .into_iter()
        .map(|spec| crate::cloth::understand(&serde_json::from_value(spec).unwrap(), "cloths[0]").unwrap().0)
        .collect()
    }

    pub(crate) fn square(x: f64, y: f64, side: f64) -> Region {
        let corners = [[x, y], [x + side, y], [x + side, y + side], [x, y + side]];
        Region::new(Ring::from_pairs(&corners), Vec::new())
    }

    pub(crate) fn piece(drawn: Region, turn_deg: f64, shift: Point, order: usize) -> SewnPiece {
        SewnPiece { drawn, pose: Pose { turn_deg, shift }, cloth: Some(0), order, index: order }
    }

    #[test]
    fn the_upper_piece_shows_and_through_its_cutout_the_lower() {
        let mut ring = square(0.0, 0.0, 40.0);
        ring.cutouts.push(square(10.0, 10.0, 10.0).outline.reversed());
        let upper = piece(ring, 0.0, pt(0.0, 0.0), 5);
        let lower = piece(square(5.0, 5.0, 60.0), 0.0, pt(9.0, 9.0), 2);
        let work = Work::new(vec![upper, lower]);
        let seen = |x, y| work.top_at(pt(x, y)).map(|p| p.order);
        assert_eq!(
            [seen(7.0, 7.0), seen(15.0, 15.0), seen(50.0, 50.0), seen(80.0, 9.0)],
            [Some(5), Some(2), Some(2), None]
        );
        assert!(work.is_hidden(0, pt(7.0, 7.0)) && !work.is_hidden(1, pt(7.0, 7.0)));
        assert_eq!(work.colour_at(&cloths(), pt(80.0, 9.0)), None);
    }

    proptest! {
        /// Whatever the pose: what shows at a point is the cloth at the point that is sewn there, the map
        /// worked out by hand.
        #[test]
        fn a_piece_shows_the_cloth_it_is_cut_from(
            turn in prop::sample::select(vec![0.0, 180.0, 90.0, 33.0, -7.5]), sx in -400.0..400.0f64,
            sy in -400.0..400.0f64, x in 0.1..39.9f64, y in 0.1..39.9f64, on in 0..2usize,
        ) {
            let cloths = cloths();
            let mut one = piece(square(0.0, 0.0, 40.0), turn, pt(sx, sy), 0);
            one.cloth = Some(on);
            let work = Work::new(vec![one]);
            let t = f64::to_radians(turn);
            let at = pt(libm::cos(t) * x - libm::sin(t) * y + sx, libm::sin(t) * x + libm::cos(t) * y + sy);
            let shown = work.colour_at(&cloths, pt(x, y)).unwrap();
            // On the very border of two threads rounding may choose the other.
            let near = [pt(0.0, 0.0), pt(1e-9, 1e-9), pt(-1e-9, 1e-9), pt(1e-9, -1e-9), pt(-1e-9, -1e-9)];
            let close = |a: [u8; 3], b: [u8; 3]| (0..3).all(|c| a[c].abs_diff(b[c]) <= 1);
            prop_assert!(near.iter().any(|d| close(look::colour_at(&cloths[on], at + *d), shown)));
        }
    }
}
