use super::*;
use crate::burn::{lengths, nested};
use crate::shape::{Ring, pt};
use proptest::prelude::*;

fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
}

fn framed(outer: Region, holes: &[Region]) -> Region {
    Region::new(outer.outline, holes.iter().map(|h| h.outline.clone()).collect())
}

fn burns_of(cuts: &[Region]) -> Vec<Burn> {
    let ring = |placed: usize, ring: usize, r: &Ring| Burn {
        kind: if ring == 0 { BurnKind::Outline } else { BurnKind::Cutout },
        placed: Some(placed),
        ring,
        closed: true,
        path: r.points.clone(),
    };
    cuts.iter()
        .enumerate()
        .flat_map(|(p, c)| c.rings().enumerate().map(move |(k, r)| ring(p, k, r)))
        .collect()
}

fn dot(p: Point) -> Burn {
    Burn { kind: BurnKind::Outline, placed: None, ring: 0, closed: false, path: vec![p] }
}

/// Broken rules, in words.
fn faults(ordered: &[Burn], cuts: &[Region]) -> Vec<String> {
    let mut faults = Vec::new();
    let places = |placed: usize, ring: Option<usize>| -> Vec<usize> {
        let fits = |b: &Burn| b.placed == Some(placed) && ring.is_none_or(|r| b.ring == r);
        (0..ordered.len()).filter(|&i| fits(&ordered[i])).collect()
    };
    let mut after = |what: String, early: Vec<usize>, late: Vec<usize>| {
        if let (Some(e), Some(l)) = (early.iter().max(), late.iter().min())
            && e > l
        {
            faults.push(what);
        }
    };
    for (p, cut) in cuts.iter().enumerate() {
        for k in 1..=cut.cutouts.len() {
            after(format!("cut-out {k} of {p}"), places(p, Some(k)), places(p, Some(0)));
        }
    }
    for n in nested(cuts) {
        after(format!("{n:?}"), places(n.inner, None), places(n.outer, Some(n.ring)));
    }
    let lasts = ordered.iter().rposition(|b| b.kind == BurnKind::Mark);
    let firsts = ordered.iter().position(|b| b.kind != BurnKind::Mark);
    if let (Some(mark), Some(cut)) = (lasts, firsts)
        && mark > cut
    {
        faults.push("a mark after a cut".into());
    }
    faults
}

#[test]
fn what_lies_inside_is_burnt_first_and_marks_before_all() {
    let cuts = [
        framed(rect(0.0, 0.0, 100.0, 100.0), &[rect(20.0, 20.0, 60.0, 60.0)]),
        framed(rect(25.0, 25.0, 50.0, 50.0), &[rect(40.0, 40.0, 20.0, 20.0)]),
        rect(45.0, 45.0, 10.0, 10.0),
    ];
    assert_eq!(nested(&cuts).len(), 3, "the smallest lies in both");
    let mut burns = burns_of(&cuts);
    let stroke = vec![pt(-10.0, -10.0), pt(-2.0, -10.0)];
    burns.push(Burn { kind: BurnKind::Mark, placed: None, ring: 0, closed: false, path: stroke });
    let ordered = arrange(burns, &cuts, pt(0.0, 0.0));
    let seen: Vec<_> = ordered.iter().map(|b| (b.placed, b.ring)).collect();
    assert_eq!(seen, [(None, 0), (Some(2), 0), (Some(1), 1), (Some(1), 0), (Some(0), 1), (Some(0), 0)]);
}

#[test]
fn a_closed_burn_begins_near_the_head_but_not_at_a_corner() {
    let square = burns_of(&[rect(10.0, 10.0, 50.0, 50.0)]);
    let ordered = arrange(square, &[rect(10.0, 10.0, 50.0, 50.0)], pt(80.0, 80.0));
    let begin = ordered[0].path[0];
    let to_corner = distance(begin, pt(60.0, 60.0));
    assert!((2.0..8.0).contains(&to_corner), "{begin:?}");
    assert!((ordered[0].length_mm() - 200.0).abs() < 1e-9);
}

#[test]
fn an_open_burn_is_reversed_when_its_end_is_nearer() {
    let line = Burn { path: vec![pt(0.0, 0.0), pt(50.0, 0.0)], ..dot(pt(0.0, 0.0)) };
    let ordered = arrange(vec![line], &[], pt(60.0, 0.0));
    assert_eq!(ordered[0].path, [pt(50.0, 0.0), pt(0.0, 0.0)]);
}

/// berlin52 of TSPLIB (Reinelt, Heidelberg; coordinates from memory, held to the two lengths known for them: 22205
/// in listing order, 8980 by nearest neighbour from the first town, each rounded edge by edge). The shortest closed
/// tour is 7544.3659 unrounded: none of ours can be shorter, and ours must come near it.
#[test]
fn a_known_tour_is_nearly_found() {
    const TOWNS: [[f64; 2]; 52] = [
        [565.0, 575.0],
        [25.0, 185.0],
        [345.0, 750.0],
        [945.0, 685.0],
        [845.0, 655.0],
        [880.0, 660.0],
        [25.0, 230.0],
        [525.0, 1000.0],
        [580.0, 1175.0],
        [650.0, 1130.0],
        [1605.0, 620.0],
        [1220.0, 580.0],
        [1465.0, 200.0],
        [1530.0, 5.0],
        [845.0, 680.0],
        [725.0, 370.0],
        [145.0, 665.0],
        [415.0, 635.0],
        [510.0, 875.0],
        [560.0, 365.0],
        [300.0, 465.0],
        [520.0, 585.0],
        [480.0, 415.0],
        [835.0, 625.0],
        [975.0, 580.0],
        [1215.0, 245.0],
        [1320.0, 315.0],
        [1250.0, 400.0],
        [660.0, 180.0],
        [410.0, 250.0],
        [420.0, 555.0],
        [575.0, 665.0],
        [1150.0, 1160.0],
        [700.0, 580.0],
        [685.0, 595.0],
        [685.0, 610.0],
        [770.0, 610.0],
        [795.0, 645.0],
        [720.0, 635.0],
        [760.0, 650.0],
        [475.0, 960.0],
        [95.0, 260.0],
        [875.0, 920.0],
        [700.0, 500.0],
        [555.0, 815.0],
        [830.0, 485.0],
        [1170.0, 65.0],
        [830.0, 610.0],
        [605.0, 625.0],
        [595.0, 360.0],
        [1340.0, 725.0],
        [1740.0, 245.0],
    ];
    let towns: Vec<Point> = TOWNS.iter().map(|t| pt(t[0], t[1])).collect();
    let rounded = |way: &[Point]| -> f64 {
        (0..way.len()).map(|i| (distance(way[i], way[(i + 1) % way.len()]) + 0.5).floor()).sum()
    };
    assert_eq!(rounded(&towns), 22205.0);
    let burns: Vec<Burn> = towns.iter().map(|&t| dot(t)).collect();
    let none = vec![Vec::new(); 52];
    let doors: Vec<Doors> = burns.iter().map(Doors::of).collect();
    let greedy = nearest_next(&burns, &doors, &none, &none, towns[0]);
    assert_eq!(rounded(&greedy.iter().map(|w| w.entry).collect::<Vec<_>>()), 8980.0);
    let met = round_trip(&towns);
    let way: Vec<Point> = met.iter().map(|&i| towns[i]).collect();
    let closed: f64 = (0..52).map(|i| distance(way[i], way[(i + 1) % 52])).sum();
    assert!(closed >= 7544.3659 - 1e-3, "{closed}");
    assert!(closed < 7544.3659 * 1.01, "{closed}");
}

/// The shortest way through `dots` in any order that keeps `before`, tried one and all.
fn shortest_by_trying_all(dots: &[Point], before: &[Vec<usize>], start: Point) -> f64 {
    fn go(
        dots: &[Point],
        before: &[Vec<usize>],
        done: &mut Vec<usize>,
        head: Point,
        so_far: f64,
        best: &mut f64,
    ) {
        if so_far >= *best {
            return;
        }
        if done.len() == dots.len() {
            *best = so_far;
            return;
        }
        for i in 0..dots.len() {
            if !done.contains(&i) && before[i].iter().all(|b| done.contains(b)) {
                done.push(i);
                go(dots, before, done, dots[i], so_far + distance(head, dots[i]), best);
                done.pop();
            }
        }
    }
    let mut best = f64::INFINITY;
    go(dots, before, &mut Vec::new(), start, 0.0, &mut best);
    best
}

/// Six holes that the search leaves in an order that is not the shortest.
#[test]
fn a_small_pass_that_is_hard_to_order_comes_within_a_twentieth() {
    let at = [(87.02, 66.66), (56.89, 62.21), (0.0, 77.86), (98.42, 76.88), (43.56, 88.94), (70.14, 73.51)];
    let dots: Vec<Point> = at.iter().map(|p| pt(p.0, p.1)).collect();
    let mut before = vec![Vec::new(); 6];
    before[4].push(1);
    let best = shortest_by_trying_all(&dots, &before, pt(0.0, 0.0));
    let ordered = in_order(dots.iter().map(|&p| dot(p)).collect(), before, pt(0.0, 0.0));
    let travel = lengths(&ordered, pt(0.0, 0.0)).travel_mm;
    assert!(travel > best - 1e-6 && travel < best * 1.05, "{travel} for {best}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn a_small_pass_has_an_order_within_a_twentieth_of_the_shortest(
        at in prop::collection::vec((0.0..100.0f64, 0.0..100.0f64), 2..8),
        rules in prop::collection::vec((0usize..8, 0usize..8), 0..6),
    ) {
        let dots: Vec<Point> = at.iter().map(|p| pt(p.0, p.1)).collect();
        let mut before = vec![Vec::new(); dots.len()];
        for (a, b) in rules {
            if a < b && b < dots.len() {
                before[b].push(a);
            }
        }
        let start = pt(0.0, 0.0);
        let best = shortest_by_trying_all(&dots, &before, start);
        let ordered = in_order(dots.iter().map(|&p| dot(p)).collect(), before, start);
        // The search is no proof: of some thousand such passes one is left a little longer.
        let travel = lengths(&ordered, start).travel_mm;
        prop_assert!(travel > best - 1e-6 && travel < best * 1.05 + 1e-6, "{travel} for {best}");
    }
}

#[test]
fn a_small_piece_is_burnt_before_the_large_neighbour_that_could_move_it() {
    let cuts = [rect(0.0, 0.0, 200.0, 100.0), rect(203.0, 20.0, 20.0, 20.0), rect(400.0, 0.0, 20.0, 20.0)];
    let ordered = arrange(burns_of(&cuts), &cuts, pt(0.0, 0.0));
    let place = |p: usize| ordered.iter().position(|b| b.placed == Some(p));
    assert!(place(1) < place(0), "the small neighbour first");
    assert!(order_faults(&ordered, &cuts).is_empty());
    let turned: Vec<Burn> = ordered.into_iter().rev().collect();
    assert!(order_faults(&turned, &cuts).iter().any(|f| f.contains("could move")));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn rules_hold_nothing_is_lost_and_travel_never_grows(
        seeds in prop::collection::vec((0usize..5, 0usize..5, 1usize..4), 1..14),
        sx in -50.0..400.0f64,
    ) {
        let mut cells: Vec<(usize, usize, usize)> = seeds;
        cells.sort_unstable();
        cells.dedup_by_key(|c| (c.0, c.1));
        let mut cuts = Vec::new();
        for (i, j, depth) in cells {
            let (x, y) = (i as f64 * 70.0, j as f64 * 70.0 + i as f64);
            for d in 0..depth {
                let m = d as f64 * 10.0;
                let hole = rect(x + m + 4.0, y + m + 4.0, 52.0 - 2.0 * m, 52.0 - 2.0 * m);
                cuts.push(framed(rect(x + m, y + m, 60.0 - 2.0 * m, 60.0 - 2.0 * m), &[hole]));
            }
        }
        let burns = burns_of(&cuts);
        let start = pt(sx, 0.0);
        let greedy: f64 = {
            let before = rules(&burns, &cuts);
            let doors: Vec<Doors> = burns.iter().map(Doors::of).collect();
            let ways = nearest_next(&burns, &doors, &before, &turned_round(&before), start);
            let mut head = start;
            ways.iter().map(|w| { let d = distance(head, w.entry); head = w.exit; d }).sum()
        };
        let ordered = arrange(burns.clone(), &cuts, start);
        prop_assert_eq!(faults(&ordered, &cuts), Vec::<String>::new());
        prop_assert_eq!(ordered.len(), burns.len());
        prop_assert!(lengths(&ordered, start).travel_mm <= greedy + 1e-6);
        prop_assert!((lengths(&ordered, start).cut_mm - lengths(&burns, start).cut_mm).abs() < 1e-6);
        prop_assert_eq!(&arrange(burns, &cuts, start), &ordered);
    }
}
