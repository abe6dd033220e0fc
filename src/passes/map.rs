//! How a window of the cloth comes to lie on the bed.

use crate::job::{Cutter, Face, Feed};
use crate::shape::{Affine, Bounds, Point, pt};

/// Size of a window in the cloth frame, mm: across, along. The bed less its margins, turned as the cloth is fed.
pub(super) fn window_size(cutter: &Cutter) -> Point {
    let reach = |side: f64| side - 2.0 * cutter.margin_mm;
    let [x, y] = cutter.bed_mm.map(reach);
    match cutter.feed {
        Feed::AlongX => pt(y, x),
        Feed::AlongY => pt(x, y),
    }
}

/// The map from the cloth to the bed that lays `window` into the bed's margins. Rigid; mirrors (determinant −1) when
/// the cloth lies face down.
///
/// ```text
///            face up                                    face down (turned over about the warp)
/// along-x    near cut end left, left selvedge far       near cut end left, left selvedge near
/// along-y    near cut end near, left selvedge left      near cut end near, left selvedge right
/// ```
///
/// So the cloth still to come lies to the right (along-x) or beyond the bed (along-y), and is drawn to the left or
/// towards the maker from pass to pass.
pub(super) fn cloth_to_bed(window: Bounds, cutter: &Cutter) -> Affine {
    let m = cutter.margin_mm;
    let (low, high) = (window.min, window.max);
    Affine(match (cutter.feed, cutter.cloth_face) {
        (Feed::AlongX, Face::Up) => [0.0, -1.0, 1.0, 0.0, m - low.y, m + high.x],
        (Feed::AlongX, Face::Down) => [0.0, 1.0, 1.0, 0.0, m - low.y, m - low.x],
        (Feed::AlongY, Face::Up) => [1.0, 0.0, 0.0, 1.0, m - low.x, m - low.y],
        (Feed::AlongY, Face::Down) => [-1.0, 0.0, 0.0, 1.0, m + high.x, m - low.y],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cutter(feed: Feed, cloth_face: Face) -> Cutter {
        Cutter { feed, cloth_face, ..Cutter::default() }
    }

    #[test]
    fn a_window_fills_the_bed_less_its_margins_whichever_way_the_cloth_lies() {
        for feed in [Feed::AlongX, Feed::AlongY] {
            for face in [Face::Up, Face::Down] {
                let c = cutter(feed, face);
                let low = pt(37.0, 410.0);
                let window = Bounds::new(low, low + window_size(&c));
                let map = cloth_to_bed(window, &c);
                let on_bed = Bounds::of(window.corners().map(|p| map.apply(p)));
                assert_eq!(on_bed, Bounds::new(pt(6.0, 6.0), pt(894.0, 594.0)));
                assert_eq!(map.determinant(), if face == Face::Down { -1.0 } else { 1.0 });
            }
        }
    }

    #[test]
    fn the_near_cut_end_and_the_left_selvedge_lie_where_the_table_says() {
        let place = |feed, face| {
            let c = cutter(feed, face);
            let window = Bounds::new(pt(0.0, 0.0), window_size(&c));
            let map = cloth_to_bed(window, &c);
            let middle = window.centre();
            (map.apply(pt(middle.x, 0.0)), map.apply(pt(0.0, middle.y)))
        };
        assert_eq!(place(Feed::AlongX, Face::Up), (pt(6.0, 300.0), pt(450.0, 594.0)));
        assert_eq!(place(Feed::AlongX, Face::Down), (pt(6.0, 300.0), pt(450.0, 6.0)));
        assert_eq!(place(Feed::AlongY, Face::Up), (pt(450.0, 6.0), pt(6.0, 300.0)));
        assert_eq!(place(Feed::AlongY, Face::Down), (pt(450.0, 6.0), pt(894.0, 300.0)));
    }
}
