use super::*;
use crate::lay::chance::Chance;
use crate::shape::{Point, Ring};

const BORDER: f64 = 4.0;

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
    Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)))
}

fn sewn(regions: &[Region], field_mm: [f64; 2]) -> Result<Sewing, Trouble> {
    let pieces: Vec<SewnShape> =
        regions.iter().enumerate().map(|(k, drawn)| SewnShape { name: "reed", drawn, element: k }).collect();
    sewing(&Request { pieces: &pieces, field_mm, border_mm: BORDER, tack_in_mm: 1.0 })
}

/// Everything the hoopings promise of each other.
fn check(regions: &[Region], found: &Sewing) {
    for (k, region) in regions.iter().enumerate() {
        let of = |h: &Hooping| h.parts.iter().filter(|p| p.piece == k).cloned().collect::<Vec<_>>();
        let parts: Vec<(usize, Part)> = found
            .hoopings
            .iter()
            .enumerate()
            .flat_map(|(n, h)| of(h).into_iter().map(move |p| (n, p)))
            .collect();
        let length: f64 = parts.iter().flat_map(|(_, p)| &p.placement).map(Line::length).sum();
        let fits = found.hoopings.iter().any(|h| h.field.grown(-BORDER / 2.0 + 1e-6).holds(region.bounds()));
        assert!(!fits || (parts.len() == 1 && parts[0].1.whole), "piece {k} is whole where it fits");
        assert!(length >= region.edge_length() - 0.01, "piece {k}: {length}");
        for (n, part) in parts {
            let field = found.hoopings[n].field.grown(-BORDER / 2.0 + 0.01);
            let all = part.placement.iter().chain(&part.tack).chain(&part.border);
            assert!(all.flat_map(|l| &l.points).all(|p| field.contains(*p)), "piece {k} within reach");
        }
    }
    for mark in &found.marks {
        assert!(mark.stitched < mark.found);
        for h in [mark.stitched, mark.found] {
            assert!(found.hoopings[h].field.contains(mark.at));
        }
    }
}

#[test]
fn pieces_that_fit_in_one_field_are_sewn_in_one_hooping() {
    let regions = [rect(0.0, 0.0, 100.0, 50.0), rect(120.0, 60.0, 300.0, 150.0)];
    let found = sewn(&regions, [360.0, 200.0]).unwrap();
    check(&regions, &found);
    assert_eq!((found.hoopings.len(), found.marks.len(), found.turned), (1, 0, false));
}

#[test]
fn the_frame_is_turned_where_that_takes_fewer_hoopings() {
    let regions = [rect(0.0, 0.0, 150.0, 330.0)];
    let found = sewn(&regions, [360.0, 200.0]).unwrap();
    check(&regions, &found);
    assert!(found.turned && found.hoopings.len() == 1);
}

/// A piece longer than any field: handed on with marks, every hooping after the first finds two or more.
#[test]
fn a_piece_larger_than_the_field_is_split_with_marks_to_find_the_place_again() {
    let regions = [rect(0.0, 0.0, 60.0, 900.0)];
    let found = sewn(&regions, [200.0, 360.0]).unwrap();
    check(&regions, &found);
    assert_eq!(found.hoopings.len(), 3);
    for n in 1..3 {
        let own: Vec<Point> = found.marks.iter().filter(|m| m.found == n).map(|m| m.at).collect();
        assert!(own.len() >= 2, "hooping {n}");
        assert!(distance(own[0], own[1]) >= 40.0);
    }
}

#[test]
fn a_field_that_holds_no_border_is_refused() {
    let trouble = sewn(&[rect(0.0, 0.0, 9.0, 9.0)], [100.0, 4.0]).unwrap_err();
    assert_eq!((trouble.exit_code(), trouble.about.as_str()), (1, "frame.field_mm"));
}

/// Strips that lie on one another in turn: each hooping has its pieces from the lowest up.
#[test]
fn the_order_of_work_follows_the_stacking() {
    let regions: Vec<Region> =
        (0..6).map(|k| rect(50.0 * f64::from(k), 0.0, 50.0 * f64::from(k) + 60.0, 80.0)).collect();
    let found = sewn(&regions, [130.0, 130.0]).unwrap();
    check(&regions, &found);
    let order: Vec<usize> = found.order.iter().map(|o| o.0).collect();
    for (at, (piece, beneath)) in found.order.iter().enumerate() {
        assert_eq!(*beneath, if *piece > 0 { vec![piece - 1] } else { vec![] });
        assert!(beneath.iter().all(|b| order[..at].contains(b)));
    }
}

/// Fewest fields that hold all boxes, by trying every set of left and lower edges, the frame either way round.
fn fewest_by_trying_all(boxes: &[Bounds], size: Point) -> usize {
    fn cover(left: &[Bounds], all: &[Bounds], size: Point, budget: usize) -> bool {
        let Some(first) = left.first() else { return true };
        budget > 0
            && all.iter().any(|bx| {
                all.iter().any(|by| {
                    let min = pt(bx.min.x, by.min.y);
                    let field = Bounds::new(min, min + size).grown(1e-6);
                    if !field.holds(*first) {
                        return false;
                    }
                    let rest: Vec<Bounds> = left.iter().copied().filter(|b| !field.holds(*b)).collect();
                    cover(&rest, all, size, budget - 1)
                })
            })
    }
    (1..).find(|&k| cover(boxes, boxes, size, k)).unwrap_or(usize::MAX)
}

#[test]
fn small_works_take_no_more_hoopings_than_trying_all_finds() {
    let mut chance = Chance::new(7, 0);
    let mut more = Vec::new();
    for case in 0..60 {
        let count = 2 + chance.below(5);
        let regions: Vec<Region> = (0..count)
            .map(|_| {
                let (x, y) = (90.0 * chance.below(7) as f64, 90.0 * chance.below(6) as f64);
                let (w, h) = (chance.between(30.0, 80.0), chance.between(30.0, 80.0));
                Region::new(Ring::new(Bounds::new(pt(x, y), pt(x + w, y + h)).corners().to_vec()), vec![])
            })
            .collect();
        let found = sewn(&regions, [260.0, 180.0]).unwrap();
        check(&regions, &found);
        let boxes: Vec<Bounds> = regions.iter().map(Region::bounds).collect();
        let (a, b) = (260.0 - BORDER, 180.0 - BORDER);
        let fewest = fewest_by_trying_all(&boxes, pt(a, b)).min(fewest_by_trying_all(&boxes, pt(b, a)));
        // A field may have to be put on twice where pieces overlap to and fro; fields themselves are compared.
        let fields = found.hoopings.iter().filter(|h| !h.again).count();
        if fields != fewest {
            more.push((case, fields, fewest));
        }
    }
    assert!(more.is_empty(), "case, ours, fewest: {more:?}");
}

/// A zigzag ring over fields so small that the line inside its edge may miss the fields that hold the edge.
#[test]
fn fields_far_smaller_than_a_piece_hold_its_tack_down_line_too() {
    let ring: Vec<Point> = (0..72)
        .map(|k| {
            let (a, r) = (f64::from(k) * 5.0_f64.to_radians(), if k % 2 == 0 { 150.0 } else { 120.0 });
            pt(200.0 + r * libm::cos(a), 200.0 + r * libm::sin(a))
        })
        .collect();
    let star = [Region::new(Ring::new(ring), Vec::new())];
    for side in [30.0, 37.0, 44.0, 51.0, 60.0, 75.0] {
        let found = sewn(&star, [side, side]).unwrap();
        check(&star, &found);
    }
}
