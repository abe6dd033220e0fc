//! Which piece lies on which, and where.

use crate::shape::booleans::intersection;
use crate::shape::{Bounds, Region};

/// One piece lies on another.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Over {
    pub lower: usize,
    pub upper: usize,
    /// The places where it does, stitching counted.
    pub places: Vec<Region>,
}

/// Who lies on whom. `grown` are the pieces as drawn, grown by half a border, in stacking order; `element` their place in
/// it: parts of one shape do not lie on each other.
pub(super) fn overs(grown: &[Vec<Region>], element: &[usize]) -> Vec<Over> {
    let boxes: Vec<Bounds> =
        grown.iter().map(|g| g.iter().map(Region::bounds).fold(Bounds::EMPTY, Bounds::union)).collect();
    let mut found = Vec::new();
    for upper in 0..grown.len() {
        for lower in (0..upper).filter(|&l| element[l] != element[upper] && boxes[l].meets(boxes[upper])) {
            let places = intersection(&grown[lower], &grown[upper]);
            if !places.is_empty() {
                found.push(Over { lower, upper, places });
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Vec<Region> {
        vec![Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)))]
    }

    #[test]
    fn the_later_of_two_that_meet_lies_on_the_other_and_islands_of_one_shape_do_not() {
        let grown = [rect(0.0, 0.0, 50.0, 50.0), rect(40.0, 0.0, 90.0, 50.0), rect(200.0, 0.0, 250.0, 50.0)];
        let found = overs(&grown, &[0, 1, 2]);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].lower, found[0].upper), (0, 1));
        assert!(overs(&grown, &[0, 0, 2]).is_empty(), "islands of one shape");
    }
}
