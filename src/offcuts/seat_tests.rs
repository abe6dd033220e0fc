//! Places found and refuted, against arithmetic and against trying them all.

use super::*;
use crate::cloth::Cloth;
use crate::job::Weave;
use crate::shape::booleans::intersection;
use crate::shape::{Join, Ring, offset};
use proptest::prelude::*;

fn cloth(corners: &[[f64; 2]], flaws: &[&[[f64; 2]]]) -> Cloth {
    Cloth {
        name: "rest".into(),
        stock: None,
        weave: Weave::Plain,
        nap: false,
        outline: Ring::from_pairs(corners),
        open_length: false,
        edge_mm: 0.0,
        flaws: flaws.iter().map(|f| Ring::from_pairs(f)).collect(),
        pattern: None,
        match_tolerance_mm: 0.0,
        photo: None,
        colour: [0; 3],
    }
}

fn rect(w: f64, h: f64) -> Region {
    Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(w, h)))
}

fn exact(cut: &Region, room: &Room, lattice: &Lattice, ways: &[Way]) -> Option<Seat> {
    let mut looks = Looks::new(200_000);
    let seat = Sitter::new(cut, ways.iter().map(|w| w.turn_deg)).in_step(room, lattice, ways, &mut looks);
    assert!(looks.all);
    seat
}

fn nearest(cut: &Region, room: &Room, lattice: &Lattice, ways: &[Way]) -> Option<Seat> {
    let mut looks = Looks::new(200_000);
    let sitter = Sitter::new(cut, ways.iter().map(|w| w.turn_deg));
    let seat = sitter.nearest(room, lattice, ways, f64::INFINITY, &mut looks);
    assert!(looks.all);
    seat
}

fn check() -> Lattice {
    Lattice { a: Some(pt(50.0, 0.0)), b: Some(pt(0.0, 40.0)), origin: pt(7.0, 3.0) }
}

#[test]
fn a_piece_finds_the_lowest_place_in_step() {
    let room = Room::new(&cloth(&[[0.0, 0.0], [200.0, 0.0], [200.0, 150.0], [0.0, 150.0]], &[]));
    let way = Way { turn_deg: 0.0, phase: pt(10.0, 20.0) };
    let seat = exact(&rect(100.0, 60.0), &room, &check(), &[way]).unwrap();
    assert_eq!((seat.pose.shift, seat.off_mm), (pt(17.0, 23.0), 0.0));
    // A flaw at that place sends it a repeat on.
    let flaw: &[[f64; 2]] = &[[20.0, 30.0], [30.0, 30.0], [30.0, 40.0]];
    let room = Room::new(&cloth(&[[0.0, 0.0], [200.0, 0.0], [200.0, 150.0], [0.0, 150.0]], &[flaw]));
    let seat = exact(&rect(100.0, 60.0), &room, &check(), &[way]).unwrap();
    assert_eq!(seat.pose.shift, pt(67.0, 23.0));
}

/// On a rectangle the best place is known: the shift is free within a box, and how far that box is from the
/// lattice is arithmetic.
#[test]
fn the_nearest_place_on_a_rectangle_is_as_far_off_as_arithmetic_says() {
    // Shifts from 0 to 12 across and 0 to 8 along; in step are 17 + 50 i and 23 + 40 j.
    let room = Room::new(&cloth(&[[0.0, 0.0], [112.0, 0.0], [112.0, 68.0], [0.0, 68.0]], &[]));
    let way = Way { turn_deg: 0.0, phase: pt(10.0, 20.0) };
    assert_eq!(exact(&rect(100.0, 60.0), &room, &check(), &[way]), None);
    let seat = nearest(&rect(100.0, 60.0), &room, &check(), &[way]).unwrap();
    let want = (5.0f64 * 5.0 + 15.0 * 15.0).sqrt();
    assert!((seat.off_mm - want).abs() < 0.1, "{} for {want}", seat.off_mm);
}

#[test]
fn a_stripe_leaves_the_other_way_free() {
    let stripe = Lattice { a: Some(pt(30.0, 0.0)), b: None, origin: pt(0.0, 0.0) };
    let room = Room::new(&cloth(&[[0.0, 0.5], [120.0, 0.5], [120.0, 90.0], [0.0, 90.0]], &[]));
    let way = Way { turn_deg: 0.0, phase: pt(11.0, 0.0) };
    let seat = exact(&rect(60.0, 50.0), &room, &stripe, &[way]).unwrap();
    assert!(seat.pose.shift.x == 11.0 && seat.pose.shift.y >= 0.49, "{seat:?}");
}

#[test]
fn a_piece_too_large_has_no_place() {
    let room = Room::new(&cloth(&[[0.0, 0.0], [90.0, 0.0], [90.0, 90.0], [0.0, 90.0]], &[]));
    let way = Way { turn_deg: 0.0, phase: pt(0.0, 0.0) };
    assert_eq!(exact(&rect(100.0, 60.0), &room, &check(), &[way]), None);
    assert_eq!(nearest(&rect(100.0, 60.0), &room, &check(), &[way]), None);
}

/// Every place in step tried by booleans alone; `most_mm2` of the piece may lie outside.
fn by_booleans(
    cut: &Region,
    parts: &[Region],
    lattice: &Lattice,
    ways: &[Way],
    most_mm2: f64,
) -> Option<(Point, f64)> {
    let (a, b) = (lattice.a.unwrap(), lattice.b.unwrap());
    let mut best: Option<(Point, f64)> = None;
    for way in ways {
        let turned = Pose { turn_deg: way.turn_deg, shift: pt(0.0, 0.0) }.region(cut);
        for i in -40..40 {
            for j in -40..40 {
                let shift = lattice.origin + way.phase + a * f64::from(i) + b * f64::from(j);
                let at = turned.map(|p| p + shift);
                let within: f64 =
                    intersection(std::slice::from_ref(&at), parts).iter().map(Region::area).sum();
                let out = at.area() - within;
                let lower = best.is_none_or(|(s, _)| (shift.y, shift.x) < (s.y, s.x));
                if out <= most_mm2 && lower {
                    best = Some((shift, way.turn_deg));
                }
            }
        }
    }
    best
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Against every place in step tried by the boolean engine: the same is found, or none by either. Where the nearest
    /// place is told, none on a fine grid is nearer.
    #[test]
    fn what_is_found_or_refuted_is_what_trying_all_gives(
        blocks in prop::collection::vec((0.0..260.0f64, 0.0..180.0f64, 3.0..60.0f64, 3.0..60.0f64), 0..7),
        (wide, high, slant, hole) in (30.0..170.0f64, 20.0..110.0f64, -25.0..25.0f64, prop::bool::ANY),
        (a, b, skew) in (7.0..60.0f64, 7.0..60.0f64, -0.05..0.05f64),
        (u, v) in (0.0..60.0f64, 0.0..60.0f64),
    ) {
        let corners: &[[f64; 2]] = &[[0.0, 0.0], [300.0, 0.0], [290.0, 220.0], [0.0, 200.0]];
        let flaws: Vec<Vec<[f64; 2]>> = blocks
            .iter()
            .map(|&(x, y, w, h)| vec![[x, y], [x + w, y + 0.1 * w], [x + w, y + h], [x, y + h]])
            .collect();
        let flaws: Vec<&[[f64; 2]]> = flaws.iter().map(|f| &f[..]).collect();
        let on = cloth(corners, &flaws);
        let outline = Ring::from_pairs(&[[0.0, 0.0], [wide, 0.0], [wide + slant, high], [slant, high]]);
        let (p, q) = (pt(wide * 0.3 + slant * 0.5, high * 0.3), pt(wide * 0.7 + slant * 0.5, high * 0.7));
        let holes = if hole { vec![Region::rectangle(Bounds::new(p, q)).outline] } else { Vec::new() };
        let cut = Region::new(outline, holes);
        let lattice = Lattice { a: Some(pt(a, a * skew)), b: Some(pt(0.0, b)), origin: pt(u, v) };
        let ways = [Way { turn_deg: 0.0, phase: pt(1.0, 2.0) }, Way { turn_deg: 180.0, phase: pt(-1.0, -2.0) }];
        let room = Room::new(&on);
        let found = exact(&cut, &room, &lattice, &ways).map(|s| (s.pose.shift, s.pose.turn_deg));
        // What the two engines forgive differs by less than this. A corner may stick out far for its area, so that where
        // a piece goes surely none of it lies outside.
        let by = |d: f64, most_mm2: f64| {
            by_booleans(&cut, &offset(&on.usable(), d, Join::Mitre), &lattice, &ways, most_mm2)
        };
        let (surely, perhaps) = (by(-0.06, 1e-3), by(0.06, tol::SLIVER_MM2));
        let not_before = |one: Option<(Point, f64)>, other: Option<(Point, f64)>| {
            let at = |p: Option<(Point, f64)>| p.map_or((f64::INFINITY, 0.0), |(p, _)| (p.y, p.x));
            let ((y, x), (v, u)) = (at(one), at(other));
            y > v + 1e-6 || (y > v - 1e-6 && x > u - 1e-6) || y == v
        };
        prop_assert!(not_before(surely, found) && not_before(found, perhaps), "{surely:?} {found:?} {perhaps:?}");
        match found {
            Some(_) => {}
            None => {
                let near = nearest(&cut, &room, &lattice, &ways[..1]);
                let off = near.map_or(f64::INFINITY, |s| s.off_mm);
                let body = Body::new(&cut, 0.0);
                for i in 0..150 {
                    for j in 0..110 {
                        let shift = body.reach(&room).min + pt(f64::from(i), f64::from(j)) * 2.0;
                        if body.goes(&room, shift) {
                            let at = lattice.residual(shift - lattice.origin - ways[0].phase);
                            prop_assert!(at >= off - tol::RECUT_STEP_MM, "{at} at {shift:?}, {off} told");
                        }
                    }
                }
            }
        }
    }
}
