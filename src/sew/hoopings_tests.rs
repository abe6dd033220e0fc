use std::collections::BTreeSet;

use super::*;
use crate::lay::chance::Chance;
use crate::say::Quiet;
use crate::sew::check::check as looked_at_afresh;
use crate::shape::{Point, Ring, distance};

const BORDER: f64 = 4.0;

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
    Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)))
}

fn sewn(regions: &[Region], field_mm: [f64; 2]) -> Result<Sewing, Trouble> {
    let pieces = shapes(regions);
    let request = Request { pieces: &pieces, field_mm, border_mm: BORDER, tack_in_mm: 1.0 };
    let found = sewing(&request, &Quiet)?;
    assert_eq!(looked_at_afresh(&request, &found), Vec::<String>::new());
    Ok(found)
}

fn shapes(regions: &[Region]) -> Vec<SewnShape<'_>> {
    regions.iter().enumerate().map(|(k, drawn)| SewnShape { name: "reed", drawn, element: k }).collect()
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

/// Fewest hoopings of boxes that lie on one another, by trying every sequence of fields whose sides lie on sides of boxes;
/// marks not asked for. `None` when more than five are needed.
fn fewest_by_trying_all(boxes: &[Bounds], size: Point) -> Option<usize> {
    let held = |bx: &Bounds, by: &Bounds| {
        let field = Bounds::new(pt(bx.min.x, by.min.y), pt(bx.min.x, by.min.y) + size).grown(1e-6);
        (0..boxes.len()).filter(|&k| field.holds(boxes[k])).collect::<Vec<_>>()
    };
    let fields: BTreeSet<Vec<usize>> = boxes.iter().flat_map(|a| boxes.iter().map(|b| held(a, b))).collect();
    // Borders lie half outside the edge; their corners are round.
    let meets = |a: usize, b: usize| {
        let (p, q) = (boxes[a], boxes[b]);
        let gap = |l: f64, h: f64| (l - h).max(0.0);
        let dx = gap(p.min.x.max(q.min.x), p.max.x.min(q.max.x));
        let dy = gap(p.min.y.max(q.min.y), p.max.y.min(q.max.y));
        dx * dx + dy * dy < BORDER * BORDER
    };
    let mut reached = BTreeSet::from([vec![false; boxes.len()]]);
    for hoopings in 1..=5 {
        let mut next = BTreeSet::new();
        for done in &reached {
            for field in &fields {
                let mut then = done.clone();
                // From below: what lies beneath, done before or now.
                for &k in field {
                    then[k] |= (0..k).all(|l| !meets(l, k) || then[l]);
                }
                if then.iter().all(|d| *d) {
                    return Some(hoopings);
                }
                next.insert(then);
            }
        }
        reached = next;
    }
    None
}

/// Fewest fields that hold all boxes, whatever lies on what.
fn covers(boxes: &[Bounds], size: Point) -> usize {
    fn cover(left: &[Bounds], all: &[Bounds], size: Point, budget: usize) -> bool {
        let Some(first) = left.first() else { return true };
        let corners = all.iter().flat_map(|a| all.iter().map(|b| pt(a.min.x, b.min.y)));
        let fields = corners.map(|min| Bounds::new(min, min + size).grown(1e-6)).filter(|f| f.holds(*first));
        budget > 0
            && fields.into_iter().any(|field| {
                let rest: Vec<Bounds> = left.iter().copied().filter(|b| !field.holds(*b)).collect();
                cover(&rest, all, size, budget - 1)
            })
    }
    (1..=6).find(|&k| cover(boxes, boxes, size, k)).unwrap_or(usize::MAX)
}

/// No way of sewing found by trying all goes below the number said to be needed, and none found by the search goes
/// below what trying all finds. Pieces lie on each other to and fro, so that order counts.
#[test]
fn small_works_against_trying_all_ways() {
    let mut chance = Chance::new(7, 0);
    let (mut tried, mut more, mut by_order) = (0, Vec::new(), 0);
    for case in 0..90 {
        let count = 2 + chance.below(7);
        // Far apart; near each other; to and fro between two places that one field does not reach.
        let (far, field) = [(90.0, [260.0, 180.0]), (40.0, [140.0, 110.0]), (0.0, [170.0, 170.0])][case % 3];
        let boxes: Vec<Bounds> = (0..count)
            .map(|k| {
                if far == 0.0 {
                    let right = chance.below(2) == 0;
                    let (x, w) = if right { (90.0, 160.0) } else { (0.0, 100.0) };
                    let y = 12.0 * chance.below(5) as f64;
                    return Bounds::new(pt(x, y), pt(x + w, y + 25.0 + k as f64));
                }
                let (x, y) = (far * chance.below(6) as f64, far * chance.below(5) as f64);
                let (w, h) = (chance.between(30.0, 80.0), chance.between(30.0, 80.0));
                Bounds::new(pt(x, y), pt(x + w, y + h))
            })
            .collect();
        let regions: Vec<Region> = boxes.iter().map(|b| Region::rectangle(*b)).collect();
        let found = sewn(&regions, field).unwrap();
        check(&regions, &found);
        let (a, b) = (field[0] - BORDER, field[1] - BORDER);
        let ways = [pt(a, b), pt(b, a)].map(|size| fewest_by_trying_all(&boxes, size).unwrap_or(6));
        let fewest = ways[0].min(ways[1]);
        tried += usize::from(fewest < 6);
        assert!(found.hoopings.len() >= fewest.min(6), "case {case}: trying all finds {fewest}");
        let marked = (1..found.hoopings.len()).all(|k| found.marks.iter().any(|m| m.found == k));
        if fewest < 6 && found.at_least > fewest {
            // More only where marks take more, which trying all does not ask for.
            assert!(marked, "case {case}: said {}, trying all finds {fewest}", found.at_least);
        }
        if found.hoopings.len() > fewest {
            more.push((case, found.hoopings.len(), fewest));
        }
        // Were no piece to lie on another, it would take fewer.
        let flat = [pt(a, b), pt(b, a)].map(|size| covers(&boxes, size)).into_iter().min();
        by_order += usize::from(flat.is_some_and(|flat| flat < fewest));
    }
    assert!(tried > 70 && by_order > 3, "{tried} {by_order}");
    // Marks may take a hooping more.
    assert!(more.len() < 9, "case, ours, fewest: {more:?}");
    assert!(more.iter().all(|m| m.1 <= m.2 + 1), "case, ours, fewest: {more:?}");
}

/// Long bands that lie on one another over the whole width of several fields: no field is needed twice, since each lower
/// band is sewn a little farther than the one upon it.
#[test]
fn bands_on_bands_are_handed_on_in_steps() {
    let regions: Vec<Region> =
        (0..4).map(|k| rect(0.0, 40.0 * f64::from(k), 900.0, 40.0 * f64::from(k) + 45.0)).collect();
    let found = sewn(&regions, [360.0, 200.0]).unwrap();
    check(&regions, &found);
    assert_eq!((found.hoopings.len(), found.at_least), (3, 3));
    for k in 0..4 {
        let own: Vec<usize> =
            (0..3).filter(|&h| found.hoopings[h].parts.iter().any(|p| p.piece == k)).collect();
        assert_eq!(own, [0, 1, 2]);
    }
}

/// Two strands that change sides between two places: the frame comes back to one of them, and it is said that it must.
#[test]
fn a_field_is_worked_again_where_overs_and_unders_go_to_and_fro() {
    // 0 on the left lies beneath 1, which runs to the right and beneath 2 there, … and 3 on the left lies on 2.
    let left = |y: f64| rect(0.0, y, 100.0, y + 40.0);
    let regions = [left(0.0), rect(90.0, 0.0, 250.0, 90.0), rect(90.0, 60.0, 250.0, 100.0), left(62.0)];
    let found = sewn(&regions, [170.0, 110.0]).unwrap();
    check(&regions, &found);
    assert_eq!((found.hoopings.len(), found.at_least), (3, 3));
}

#[test]
fn the_same_hoopings_come_whatever_the_number_of_threads() {
    let regions: Vec<Region> = (0..24)
        .map(|k| {
            let (x, y) = (f64::from(k % 6) * 130.0, f64::from(k / 6) * 150.0);
            rect(x, y, x + 140.0, y + if k % 5 == 0 { 420.0 } else { 120.0 })
        })
        .collect();
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| sewn(&regions, [360.0, 200.0]).unwrap())
    };
    assert_eq!(with(1), with(4));
}

/// What the check is for: each of these faults is told.
#[test]
fn the_check_tells_what_is_wrong() {
    let regions = [rect(0.0, 0.0, 500.0, 60.0), rect(0.0, 50.0, 500.0, 110.0), rect(20.0, 20.0, 80.0, 100.0)];
    let pieces = shapes(&regions);
    let request = Request { pieces: &pieces, field_mm: [260.0, 180.0], border_mm: BORDER, tack_in_mm: 1.0 };
    let right = sewing(&request, &Quiet).unwrap();
    assert_eq!(looked_at_afresh(&request, &right), Vec::<String>::new());
    let with = |change: &dyn Fn(&mut Sewing)| {
        let mut wrong = right.clone();
        change(&mut wrong);
        looked_at_afresh(&request, &wrong).join("; ")
    };
    let last = right.hoopings.len() - 1;
    let told = with(&|s| s.hoopings[0].parts.retain(|p| p.piece != 0));
    assert!(told.contains("its edge is not placed"), "{told}");
    let told = with(&|s| {
        let part = s.hoopings[0].parts[0].clone();
        s.hoopings[last].parts.push(part);
    });
    assert!(told.contains("run out of the field"), "{told}");
    let told = with(&|s| {
        let part = s.hoopings[0].parts[0].clone();
        s.hoopings[0].parts.push(part);
    });
    assert!(told.contains("placed twice"), "{told}");
    let told = with(&|s| s.hoopings[last].parts.iter_mut().for_each(|p| p.border.clear()));
    assert!(told.contains("its border is not sewn"), "{told}");
    let told = with(&|s| s.at_least = last + 2);
    assert!(told.contains("at least"), "{told}");
    let told = with(&|s| s.marks.iter_mut().for_each(|m| m.stitched = m.found));
    assert!(told.contains("is not stitched before it is found"), "{told}");
    let told = with(&|s| s.order.reverse());
    assert!(told.contains("is begun before"), "{told}");

    // The upper of two whole pieces sewn first.
    let two = [rect(0.0, 0.0, 200.0, 60.0), rect(150.0, 0.0, 350.0, 60.0)];
    let pieces = shapes(&two);
    let whole = Request { pieces: &pieces, ..request };
    let mut wrong = sewing(&whole, &Quiet).unwrap();
    wrong.hoopings.reverse();
    let told = looked_at_afresh(&whole, &wrong).join("; ");
    assert!(
        told.contains("piece reed is begun before reed") && told.contains("before that is stitched there"),
        "{told}"
    );

    // The lower band sewn a hooping later than it should be.
    let told = with(&|s| {
        let (first, rest) = s.hoopings.split_at_mut(1);
        let of = |parts: &[Part]| parts.iter().position(|p| p.piece == 0).unwrap();
        let late = first[0].parts.remove(of(&first[0].parts));
        rest[0].parts.push(late);
    });
    assert!(told.contains("piece reed is stitched upon reed"), "{told}");
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
    for side in [30.0, 44.0, 75.0] {
        let found = sewn(&star, [side, side]).unwrap();
        check(&star, &found);
    }
}

/// The smallest field there may be still hands the work on.
#[test]
fn the_least_field_does() {
    let pieces = [rect(0.0, 0.0, 130.0, 9.0), rect(20.0, 30.0, 90.0, 95.0)];
    let least = crate::job::LEAST_CLEAR_FIELD_MM + BORDER;
    for field in [[least, least], [least, 90.0], [200.0, least]] {
        check(&pieces, &sewn(&pieces, field).unwrap());
    }
    assert!(sewn(&pieces, [least - 0.1, 90.0]).is_err());
}
