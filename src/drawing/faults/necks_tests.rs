//! Necks, judged against the slow way: shrink the region by half the width and see what falls apart.

use super::drawn::*;
use super::necks::*;
use crate::shape::{Join, Point, Region, Ring, booleans, offset, pt, turn_cos_sin};
use proptest::prelude::*;

fn region(pairs: &[[f64; 2]]) -> Region {
    Region::new(Ring::from_pairs(pairs), Vec::new())
}

fn sorts(region: &Region, width_mm: f64) -> Vec<(Sort, f64)> {
    of_region(region, width_mm).iter().map(|n| (n.sort, (n.width_mm * 100.0).round() / 100.0)).collect()
}

fn united(parts: &[Region]) -> Region {
    booleans::union(parts).remove(0)
}

#[test]
fn two_squares_joined_by_a_narrow_bridge_have_a_waist() {
    let bone = united(&[
        rectangle(0.0, 0.0, 30.0, 30.0),
        rectangle(50.0, 0.0, 30.0, 30.0),
        rectangle(29.0, 14.0, 22.0, 2.0),
    ]);
    assert_eq!(sorts(&bone, 3.0), [(Sort::Waist(2), 2.0)]);
    assert_eq!(sorts(&bone, 1.9), []);
}

#[test]
fn corners_and_tapering_tips_are_no_necks() {
    assert_eq!(sorts(&region(&[[0.0, 0.0], [60.0, 0.0], [30.0, 8.0]]), 3.0), []);
    let blade = region(&[[0.0, 0.0], [3.0, 60.0], [6.0, 0.0], [20.0, 0.0], [20.0, -20.0], [0.0, -20.0]]);
    assert_eq!(sorts(&blade, 3.0), []);
    let star: Vec<[f64; 2]> = (0..24)
        .map(|k| {
            let (c, s) = turn_cos_sin(f64::from(k) * 15.0);
            let r = if k % 2 == 0 { 40.0 } else { 15.0 };
            [r * c, r * s]
        })
        .collect();
    assert_eq!(sorts(&region(&star), 3.0), []);
}

#[test]
fn two_needle_sharp_notches_that_nearly_meet_leave_a_neck() {
    let notched = region(&[
        [0.0, 0.0],
        [29.9, 0.0],
        [30.0, 19.0],
        [30.1, 0.0],
        [60.0, 0.0],
        [60.0, 40.0],
        [30.1, 40.0],
        [30.0, 21.0],
        [29.9, 40.0],
        [0.0, 40.0],
    ]);
    assert_eq!(sorts(&notched, 3.0), [(Sort::Waist(2), 2.0)]);
}

#[test]
fn a_tooth_that_nearly_reaches_a_long_side_leaves_a_neck() {
    let tooth = region(&[
        [0.0, 0.0],
        [900.0, 0.0],
        [900.0, 40.0],
        [450.2, 40.0],
        [450.0, 1.5],
        [449.8, 40.0],
        [0.0, 40.0],
    ]);
    let necks = of_region(&tooth, 3.0);
    assert_eq!(sorts(&tooth, 3.0), [(Sort::Waist(2), 1.5)]);
    assert!((necks[0].across.0.x - 450.0).abs() < 0.1);
}

#[test]
fn a_cut_out_near_the_edge_leaves_a_bridge() {
    let pane = Region::new(
        rectangle(0.0, 0.0, 60.0, 60.0).outline,
        vec![Ring { points: circle(pt(30.0, 48.0), 10.0, 72) }],
    );
    assert_eq!(sorts(&pane, 3.0), [(Sort::Waist(2), 2.0)]);
}

#[test]
fn two_cut_outs_near_each_other_leave_a_bridge() {
    let hole = |x: f64| Ring { points: circle(pt(x, 30.0), 10.0, 72) };
    let pane = Region::new(rectangle(0.0, 0.0, 80.0, 60.0).outline, vec![hole(29.0), hole(50.5)]);
    assert_eq!(sorts(&pane, 3.0), [(Sort::Waist(2), 1.5)]);
}

#[test]
fn a_thin_ring_is_narrow_everywhere_and_so_is_a_thin_strip() {
    let ring = Region::new(
        Ring { points: circle(pt(0.0, 0.0), 20.0, 180) },
        vec![Ring { points: circle(pt(0.0, 0.0), 18.0, 180) }],
    );
    assert_eq!(sorts(&ring, 3.0), [(Sort::Everywhere, 2.0)]);
    assert_eq!(sorts(&rectangle(0.0, 0.0, 80.0, 2.5), 3.0), [(Sort::Everywhere, 2.5)]);
    assert_eq!(sorts(&rectangle(0.0, 0.0, 80.0, 3.0), 3.0), [], "as wide as asked is wide enough");
}

#[test]
fn a_long_stem_is_told_as_a_strip_and_a_short_stump_is_not() {
    let stem = |h: f64| united(&[rectangle(0.0, 0.0, 40.0, 20.0), rectangle(10.0, 19.0, 2.0, h + 1.0)]);
    assert_eq!(sorts(&stem(30.0), 3.0), [(Sort::Tongue, 2.0)]);
    assert_eq!(sorts(&stem(3.0), 3.0), []);
}

#[test]
fn a_bud_on_a_stalk_narrower_than_itself_has_its_neck_in_the_stalk() {
    // The bud is narrower than the limit too, so seen from the body it is all one tip.
    let body = rectangle(0.0, 0.0, 40.0, 20.0);
    let bud = united(&[body, rectangle(10.0, 19.0, 1.0, 6.0), rectangle(9.2, 24.0, 2.6, 4.0)]);
    assert_eq!(sorts(&bud, 3.0), [(Sort::Stalk, 1.0)]);
}

#[test]
fn a_needle_on_a_bridge_does_not_hide_how_wide_the_bridge_is() {
    let bone = united(&[
        rectangle(0.0, 0.0, 30.0, 30.0),
        rectangle(50.0, 0.0, 30.0, 30.0),
        rectangle(29.0, 14.0, 22.0, 2.0),
        region(&[[39.9, 15.0], [40.1, 15.0], [40.0, 22.0]]),
    ]);
    assert_eq!(sorts(&bone, 3.0), [(Sort::Waist(2), 2.0)]);
}

/// Parts less holes, which a neck that is cut through raises by one for every wide place beyond the first.
fn parts_less_holes(regions: &[Region]) -> i64 {
    regions.iter().map(|r| 1 - r.cutouts.len() as i64).sum()
}

fn blob(radii: &[f64], stretch: f64, turn_deg: f64) -> Region {
    let n = radii.len() as f64;
    let (tc, ts) = turn_cos_sin(turn_deg);
    let points: Vec<Point> = radii
        .iter()
        .enumerate()
        .map(|(k, r)| {
            let (c, s) = turn_cos_sin(360.0 * k as f64 / n);
            let (x, y) = (r * c * stretch, r * s);
            pt(100.0 + tc * x - ts * y, 100.0 + ts * x + tc * y)
        })
        .collect();
    Region::new(Ring { points }, Vec::new())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(250))]
    /// Shrinking splits a region (or opens a ring of it) just where necks are told.
    #[test]
    fn necks_are_where_shrinking_splits(
        one in prop::collection::vec(4.0..40.0f64, 5..16),
        two in prop::collection::vec(4.0..40.0f64, 5..16),
        hole in prop::collection::vec(3.0..12.0f64, 5..9),
        shift in (-30.0..30.0f64, -30.0..30.0f64),
        width in 2.0..8.0f64,
        turn in 0.0..360.0f64,
    ) {
        let two = blob(&two, 1.3, turn).map(|p| p + pt(shift.0, shift.1));
        let hole = blob(&hole, 1.0, turn).map(|p| p + pt(shift.1 / 3.0, shift.0 / 3.0));
        let shape = booleans::union(&[blob(&one, 1.0, 0.0), two]);
        for part in booleans::difference(&shape, &[hole]) {
            let shrunk = |w: f64| offset(std::slice::from_ref(&part), -w / 2.0, Join::Round);
            let by_width = [width - 0.4, width - 0.2, width - 0.1, width - 0.05, width, width + 0.05].map(shrunk);
            let counts = by_width.each_ref().map(|parts| (parts.len(), parts_less_holes(parts)));
            let smallest = by_width
                .iter()
                .flatten()
                .map(|r| r.bounds().width().min(r.bounds().height()))
                .fold(f64::INFINITY, f64::min);
            // Not where the answer hangs on a hair, nor on a wide place hardly wider than the neck itself.
            if counts.iter().any(|c| *c != counts[0]) || counts[0].0 == 0 || smallest < width / 4.0 {
                continue;
            }
            let told = |w: f64| of_region(&part, w).iter().filter(|n| matches!(n.sort, Sort::Waist(_))).count();
            let joined = told(width);
            if joined != told(width - 0.4) {
                continue;
            }
            let split = counts[0].1 - (1 - part.cutouts.len() as i64);
            prop_assert_eq!(joined > 0, split > 0, "{} told, {} by shrinking {:?}", joined, split, part);
        }
    }
}
