//! Where a label stands in a piece: round the point farthest from every edge, never over the edge.

use crate::shape::{Bounds, Point, Region, pt, to_side_squared};
use crate::write::pdf::{Font, width_mm};

use super::view::enters;

/// Spots looked at each way in the first round.
const GRID: u32 = 18;
/// Corners an edge is thinned to while room is looked for.
const CORNERS: usize = 160;
/// Room round a label as a share of its size.
const PAD: f64 = 0.25;

/// A label with its place.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::write) struct Label {
    /// The words.
    pub text: String,
    /// Left end of the baseline.
    pub at: Point,
    /// Size of the font, mm.
    pub size: f64,
}

/// The first of `texts` that can be had in one of `sizes` (largest first) wholly inside `region`; `None` when
/// none fits.
pub(in crate::write) fn inside(region: &Region, texts: &[&str], sizes: &[f64]) -> Option<Label> {
    let spots = spots(region);
    for text in texts {
        for &size in sizes {
            let (w, h) = (width_mm(text, size, Font::Regular), size * 0.72);
            let pad = size * PAD;
            for &(at, _) in &spots {
                let plate = Bounds::new(at - pt(w / 2.0, h / 2.0), at + pt(w / 2.0, h / 2.0)).grown(pad);
                if holds(region, plate) {
                    let at = at - pt(w / 2.0, h / 2.0);
                    return Some(Label { text: (*text).to_owned(), at, size });
                }
            }
        }
    }
    None
}

/// What a name beside a sign keeps clear of, as far as it can.
pub(in crate::write) struct Clear<'a> {
    /// Where it must stand.
    pub frame: Bounds,
    /// Signs and names already there.
    pub taken: &'a [Bounds],
    /// Lines.
    pub lines: &'a [Vec<Point>],
}

/// The box of a name of `size` beside a cross at `at` with arms `arm` long, where least is in the way: in one of its quarters,
/// else beyond its arms, else a little farther off. The y axis may run either way.
pub(in crate::write) fn beside(at: Point, arm: f64, size: Point, clear: &Clear) -> Bounds {
    let in_quarter = arm * 0.35;
    let mut middles = Vec::new();
    for out in [in_quarter, arm * 1.2] {
        let (dx, dy) = (out + size.x / 2.0, out + size.y / 2.0);
        middles.extend([pt(dx, dy), pt(dx, -dy), pt(-dx, dy), pt(-dx, -dy)]);
        let beyond = arm + out.min(arm * 0.5);
        let (dx, dy) = (beyond + size.x / 2.0, beyond + size.y / 2.0);
        middles.extend([pt(dx, 0.0), pt(-dx, 0.0), pt(0.0, dy), pt(0.0, -dy)]);
    }
    let half = size * 0.5;
    let near = Bounds::new(at, at).grown(3.0 * arm + size.x + size.y);
    let lines: Vec<&Vec<Point>> =
        clear.lines.iter().filter(|l| Bounds::of(l.iter().copied()).meets(near)).collect();
    let cost = |(k, plate): &(usize, Bounds)| {
        let air = plate.grown(arm * 0.15);
        let over = clear.taken.iter().filter(|t| t.meets(air)).count();
        let crossed = |l: &&&Vec<Point>| l.iter().zip(l.iter().skip(1)).any(|(a, c)| enters(air, *a, *c));
        let lines = lines.iter().filter(crossed).count();
        let outside = usize::from(!clear.frame.holds(*plate));
        (outside * 1000 + over * 100 + lines * 10, *k)
    };
    let plates = middles.into_iter().map(|v| Bounds::new(at + v - half, at + v + half)).enumerate();
    plates.min_by_key(cost).map_or(Bounds::new(at, at), |(_, plate)| plate)
}

/// The point inside that is farthest from every edge, or nearly; the middle of the box where none was found.
pub(super) fn deepest(region: &Region) -> Point {
    let best = spots(region).into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
    best.map_or(region.bounds().centre(), |s| s.0)
}

/// Points inside with their distance to the edge, the roomiest first: a grid, its best refined by halving steps.
fn spots(region: &Region) -> Vec<(Point, f64)> {
    let thin: Vec<Vec<Point>> = region
        .rings()
        .map(|r| {
            let step = r.points.len().div_ceil(CORNERS).max(1);
            r.points.iter().copied().step_by(step).collect()
        })
        .collect();
    let b = region.bounds();
    if !(b.width() > 0.0 && b.height() > 0.0 && b.width().is_finite() && b.height().is_finite()) {
        return Vec::new();
    }
    let clearance = |p: Point| -> f64 {
        let near = |ring: &Vec<Point>| -> f64 {
            let next = ring.iter().cycle().skip(1);
            ring.iter().zip(next).map(|(&a, &c)| to_side_squared(p, a, c)).fold(f64::INFINITY, f64::min)
        };
        if !region.contains(p) {
            return -1.0;
        }
        thin.iter().map(near).fold(f64::INFINITY, f64::min).sqrt()
    };
    let mut found = Vec::new();
    for i in 0..GRID {
        for j in 0..GRID {
            let share = |k: u32| (f64::from(k) + 0.5) / f64::from(GRID);
            let p = b.min + pt(b.width() * share(i), b.height() * share(j));
            let d = clearance(p);
            if d > 0.0 {
                found.push((p, d));
            }
        }
    }
    found.sort_by(|x, y| y.1.total_cmp(&x.1));
    found.truncate(24);
    let mut best: Vec<(Point, f64)> = found.iter().take(2).map(|&s| refined(s, b, &clearance)).collect();
    best.extend(found);
    best
}

fn refined(spot: (Point, f64), b: Bounds, clearance: &dyn Fn(Point) -> f64) -> (Point, f64) {
    let mut best = spot;
    let mut step = pt(b.width(), b.height()) * (0.5 / f64::from(GRID));
    for _ in 0..7 {
        for (dx, dy) in [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)] {
            let p = best.0 + pt(step.x * dx, step.y * dy);
            let d = clearance(p);
            if d > best.1 {
                best = (p, d);
            }
        }
        step = step * 0.5;
    }
    best
}

/// True when the whole plate lies inside the region.
pub(super) fn holds(region: &Region, plate: Bounds) -> bool {
    let crosses = |a: Point, c: Point| enters(plate, a, c);
    region.contains(plate.centre()) && !region.rings().any(|r| r.sides().any(|(a, c)| crosses(a, c)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::Ring;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_label_ever_leaves_its_piece(
            radii in proptest::collection::vec(2.0f64..40.0, 5..24),
            words in "[a-z]{1,14}",
        ) {
            let n = radii.len() as f64;
            let corner = |(i, r): (usize, &f64)| {
                let (c, s) = crate::shape::turn_cos_sin(360.0 * i as f64 / n);
                pt(c * r, s * r)
            };
            let region = Region::new(Ring::new(radii.iter().enumerate().map(corner).collect()), vec![]);
            if let Some(label) = inside(&region, &[&words, "7"], &[4.0, 3.0, 2.0]) {
                let w = width_mm(&label.text, label.size, Font::Regular);
                for i in 0..=20 {
                    for up in [0.0, label.size * 0.72] {
                        prop_assert!(region.contains(label.at + pt(w * f64::from(i) / 20.0, up)));
                    }
                }
            }
        }
    }

    #[test]
    fn names_of_crosses_near_each_other_keep_off_each_other_off_circles_and_off_lines() {
        let crosses = [pt(50.0, 50.0), pt(50.0, 55.0), pt(53.0, 52.0), pt(98.5, 50.0)];
        let mut taken: Vec<Bounds> = crosses.iter().map(|&c| Bounds::new(c, c).grown(2.0)).collect();
        taken.push(Bounds::new(pt(56.0, 56.0), pt(56.0, 56.0)).grown(1.6));
        let lines = [vec![pt(0.0, 47.5), pt(100.0, 47.5)]];
        let signs = taken.len();
        for (k, &at) in crosses.iter().enumerate() {
            let frame = Bounds::new(pt(0.0, 0.0), pt(100.0, 100.0));
            let clear = Clear { frame, taken: &taken, lines: &lines };
            let plate = beside(at, 2.0, pt(2.2, 2.2), &clear);
            assert!(frame.holds(plate), "{k}");
            for (other, t) in taken.iter().enumerate().filter(|(other, _)| *other != k) {
                assert!(!t.meets(plate), "{k} over {other} of {signs}: {plate:?}");
            }
            assert!(!enters(plate, lines[0][0], lines[0][1]), "{k}");
            taken.push(plate);
        }
    }

    #[test]
    fn a_ring_is_labelled_in_its_band_and_a_thread_not_at_all() {
        let square = |r: f64| Ring::from_pairs(&[[-r, -r], [r, -r], [r, r], [-r, r]]);
        let ring = Region::new(square(40.0), vec![square(25.0)]);
        let label = inside(&ring, &["12"], &[4.0]).unwrap();
        assert!(label.at.x.abs().max(label.at.y.abs()) > 24.0);
        let thread =
            Region::new(Ring::from_pairs(&[[0.0, 0.0], [90.0, 0.0], [90.0, 1.0], [0.0, 1.0]]), vec![]);
        assert_eq!(inside(&thread, &["reed"], &[4.0, 2.0]), None);
    }
}
