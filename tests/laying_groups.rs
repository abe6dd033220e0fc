//! Whole lays through the public door: groups whose pattern runs through or mirrors, along and across their cloth.
#![allow(missing_docs, clippy::unwrap_used)]

mod lay_jobs;

use lay_jobs::*;
use proptest::prelude::*;
use serde_json::json;
use settlay::cloth::{Cloth, look, understand};
use settlay::drawing::Piece;
use settlay::job::{Grain, Match, PieceRule};
use settlay::lay::{self, Hand, Laid, Lay};
use settlay::shape::{Lattice, Pose, Region, Ring, pt};

/// Cloth by its description, thread for thread.
fn woven(spec: &serde_json::Value) -> Cloth {
    let base = json!({"name": "cloth", "width_mm": 1400, "edge_mm": 12});
    let mut all = base.as_object().unwrap().clone();
    all.extend(spec.as_object().unwrap().clone());
    understand(&serde_json::from_value(all.into()).unwrap(), "cloths[0]").unwrap().0
}

/// The check of the README.
fn check() -> serde_json::Value {
    json!({"warp": "N/6 G24 W4 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18, "origin_mm": [35, 20],
        "repeat_across_mm": 64.5, "repeat_along_mm": 70.8})
}

fn grain(matching: Match, grain: Grain) -> PieceRule {
    PieceRule { grain, ..rule(matching) }
}

/// A border of this length in three strips one above the other, 2 mm apart.
fn border(length: f64, group: &str) -> Vec<Piece> {
    let strip = |k: f64| rect(20.0, 30.0 + 82.0 * k, length, 80.0);
    (0..3).map(|k| piece(&format!("strip-{k}"), strip(f64::from(k)), 0, Match::Drawn, group)).collect()
}

/// The cloth seen from so far that its threads fade into each other: which of two lies on top is no pattern.
fn seen(cloth: &Cloth) -> look::Look {
    let [across, along] = cloth.pattern.as_ref().unwrap().thread_mm;
    look::Look::new(cloth, 2.5 * across.max(along))
}

fn alike(a: [u8; 3], b: [u8; 3]) -> bool {
    (0..3).all(|k| a[k].abs_diff(b[k]) <= 2)
}

/// Nothing but the poses and the cloth's threads: at every point of the drawing each piece must show what the first does.
fn shows_one_pattern(lay: &Lay, cloth: &Cloth) -> bool {
    let (placed, look) = (&lay.cloths[0].placed, seen(cloth));
    (0..400).all(|k| {
        let at = pt(7.13 * f64::from(k % 29), 5.71 * f64::from(k % 31));
        let first = look.colour(placed[0].pose.apply(at));
        placed.iter().all(|p| alike(look.colour(p.pose.apply(at)), first))
    })
}

fn turns(lay: &Lay) -> Vec<f64> {
    lay.cloths[0].placed.iter().map(|p| p.pose.turn_deg).collect()
}

fn is_across(turn_deg: f64) -> bool {
    turn_deg == 90.0 || turn_deg == 270.0
}

#[test]
fn a_border_longer_than_its_cloth_is_wide_is_cut_along_it_and_its_pattern_runs_through() {
    let cloth = woven(&json!({"weave": "twill-z", "pattern": check()}));
    let pieces = border(1460.0, "border");
    let along = do_lay(&pieces, &[grain(Match::Drawn, Grain::Along)], &cloth, &spec(2));
    let said = told(&along.unwrap_err());
    assert!(said.contains("set grain to \"across\""), "{said}");
    for way in [Grain::Across, Grain::Either] {
        let rules = [grain(Match::Drawn, way)];
        let lay = do_lay(&pieces, &rules, &cloth, &spec(2)).unwrap();
        assert!(turns(&lay).into_iter().all(is_across), "{:?}", turns(&lay));
        assert!(shows_one_pattern(&lay, &cloth));
        assert_eq!(lay::faults(&lay, &pieces, &rules, std::slice::from_ref(&cloth), 3.0), [""; 0]);
        // Not a thread's width off: the picture would tell.
        let mut moved = lay.clone();
        moved.cloths[0].placed[1].pose.shift.y += 1.0;
        assert!(!shows_one_pattern(&moved, &cloth));
    }
}

#[test]
fn a_group_that_may_lie_either_way_lies_the_shorter() {
    let cloth = woven(&json!({"pattern": check(), "width_mm": 700}));
    // Six of 640 × 60 lie one above another along and beside each other across; six of 60 × 640 the other way round.
    for (w, h) in [(640.0, 60.0), (60.0, 640.0)] {
        let pieces: Vec<Piece> = (0..6)
            .map(|k| piece(&format!("p{k}"), rect(0.0, 70.0 * f64::from(k), w, h), 0, Match::Drawn, "g"))
            .collect();
        let used = |way| {
            let lay = do_lay(&pieces, &[grain(Match::Drawn, way)], &cloth, &spec(3)).unwrap();
            (lay.cloths[0].used_length_mm, turns(&lay).into_iter().all(is_across))
        };
        let (along, across, either) = (used(Grain::Along), used(Grain::Across), used(Grain::Either));
        assert!(!along.1 && across.1);
        assert_eq!(either.1, across.0 < along.0);
        assert!(either.0 <= along.0.min(across.0) + 1.0, "{along:?} {across:?} {either:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Any check or stripe, skewed or not, whether or not a half turn leaves it the same, with the pattern's place given
    /// or chosen: what a group shows is one pattern.
    #[test]
    fn whatever_the_cloth_a_group_shows_one_pattern(
        orders in prop::sample::select(vec![
            ("K/6 W10 R4 Y/8", Some("K/4 W/12")), ("K6 W10 R4", None), ("K/6 W10 R/4", Some("W")), ("W", Some("K/6 R10 W/3")),
            ("K6 W10 R4", Some("R/5 W/8")), ("W", Some("K6 R4 W9")),
        ]),
        skew in prop::sample::select(vec![0.0, 17.0, -25.0]), nap in any::<bool>(),
        way in prop::sample::select(vec![Grain::Across, Grain::Either, Grain::Along]),
        at in prop::option::of((-90.0..90.0f64, -90.0..90.0f64)), seed in 1..90u64,
    ) {
        let pattern = json!({"warp": orders.0, "weft": orders.1, "ends_per_cm": 9, "picks_per_cm": 8, "skew_mm_per_m": skew,
            "origin_mm": [11, 23]});
        let cloth = woven(&json!({"width_mm": 420, "nap": nap, "pattern": pattern}));
        let pieces: Vec<Piece> = (0..4)
            .map(|k| {
                let k = f64::from(k);
                piece(&format!("p{k}"), rect(50.0 * k, 13.0 * k, 90.0 + 40.0 * k, 30.0), 0, Match::Drawn, "g")
            })
            .collect();
        let mut rule = grain(Match::Drawn, way);
        rule.pattern_at_mm = at.map(|(x, y)| [x, y]);
        let lay = do_lay(&pieces, &[rule], &cloth, &settlay::job::LaySpec { seed, ..spec(1) }).unwrap();
        prop_assert!(shows_one_pattern(&lay, &cloth));
        for p in &lay.cloths[0].placed {
            // The point said to show the first pivots lies on a crossing of them.
            let [x, y] = p.group_shift.unwrap();
            let pattern = cloth.pattern.as_ref().unwrap();
            prop_assert!(pattern.lattice.residual(p.pose.apply(pt(x, y)) - pattern.lattice.origin) < 1e-6);
            prop_assert!(way != Grain::Across || is_across(p.pose.turn_deg));
            prop_assert!(way == Grain::Across || !nap || p.pose.turn_deg == 0.0);
        }
        prop_assert!(at.is_none_or(|(x, y)| lay.cloths[0].placed.iter().all(|p| p.group_shift == Some([x, y]))));
    }
}

#[test]
fn rules_of_a_group_that_ask_for_different_ways_are_named() {
    let cloth = woven(&json!({"pattern": check()}));
    let mut pieces = border(300.0, "border");
    pieces[2].rule = 1;
    let rules = [grain(Match::Drawn, Grain::Along), grain(Match::Drawn, Grain::Across)];
    let said = told(&do_lay(&pieces, &rules, &cloth, &spec(1)).unwrap_err());
    let want = "group border: pieces[0] turns its pieces by 0° or 180°, pieces[1] by 90° or 270°";
    assert!(said.contains(want), "{said}");
    // One that may lie either way follows the other.
    let rules = [grain(Match::Drawn, Grain::Either), grain(Match::Drawn, Grain::Across)];
    let lay = do_lay(&pieces, &rules, &cloth, &spec(1)).unwrap();
    assert!(turns(&lay).into_iter().all(is_across) && shows_one_pattern(&lay, &cloth));
}

#[test]
fn a_locked_piece_says_which_way_its_group_lies() {
    let cloth = woven(&json!({"pattern": check()}));
    let pieces = border(300.0, "border");
    let rules = [grain(Match::Drawn, Grain::Either)];
    for turn in [0.0, 90.0, 180.0, 270.0] {
        let mut s = spec(1);
        s.locked = vec![locked("strip-1", 1, turn, [600.0, 600.0])];
        let lay = do_lay(&pieces, &rules, &cloth, &s).unwrap();
        assert!(
            turns(&lay).into_iter().all(|t| is_across(t) == is_across(turn)),
            "{turn}: {:?}",
            turns(&lay)
        );
        assert!(shows_one_pattern(&lay, &cloth), "{turn}");
    }
    let mut s = spec(1);
    s.locked = vec![locked("strip-0", 1, 0.0, [30.0, 30.0]), locked("strip-2", 1, 90.0, [900.0, 30.0])];
    let said = told(&do_lay(&pieces, &rules, &cloth, &s).unwrap_err());
    assert!(
        said.contains(
            "locked piece strip-2 (1): is turned by 90° and lies otherwise than locked piece strip-0"
        ),
        "{said}"
    );
}

#[test]
fn a_piece_under_the_hand_lies_as_its_group_and_a_group_moved_whole_turns() {
    let cloths = [woven(&json!({"pattern": check()}))];
    let pieces = border(300.0, "border");
    let rules = [grain(Match::Drawn, Grain::Either)];
    let hand = Hand { pieces: &pieces, rules: &rules, cloths: &cloths, gap_mm: 3.0 };
    let at = |piece: usize, turn_deg: f64, x: f64, y: f64| Laid {
        piece,
        copy: 1,
        cloth: 0,
        pose: Pose { turn_deg, shift: pt(x, y) },
        locked: false,
    };
    let laid = hand.moved(&[], &[0, 1, 2].map(|k| at(k, 90.0, 400.0 * k as f64, 50.0))).unwrap();
    assert!(laid.iter().all(|l| l.pose.turn_deg == 90.0));
    assert_eq!(hand.turns(&laid, (1, 1), 0).unwrap().few_deg, [90.0, 270.0]);
    assert!(shows_one_pattern(&hand.lay(&laid).unwrap(), &cloths[0]));
    // One alone cannot leave the others' way; all together can.
    let one = hand.moved(&laid, &[at(1, 10.0, 700.0, 300.0)]).unwrap();
    assert!(is_across(one[1].pose.turn_deg) && shows_one_pattern(&hand.lay(&one).unwrap(), &cloths[0]));
    let all = hand.moved(&one, &[0, 1, 2].map(|k| at(k, 180.0, 400.0, 100.0 * k as f64))).unwrap();
    assert!(all.iter().all(|l| l.pose.turn_deg == 180.0));
    let lay = hand.lay(&all).unwrap();
    assert!(shows_one_pattern(&lay, &cloths[0]));
    let breaks = lay::breaks(0, &lay.cloths[0], &pieces, &rules, &cloths, 3.0, &|_| false);
    assert!(breaks.is_empty(), "{breaks:?}");
}

/// A slanted flag and its mirror image, turned as their cloth lies across the drawing.
#[test]
fn a_pair_lies_across_when_its_rule_says_so() {
    let flag = Ring::from_pairs(&[[0.0, 0.0], [90.0, 0.0], [60.0, 200.0], [0.0, 180.0]]);
    let left = Region::new(flag.clone(), vec![]);
    let right = Region::new(flag.map(|p| pt(400.0 - p.x, p.y)).reversed(), vec![]);
    let pieces =
        [piece("left", left, 0, Match::Pair, "flags"), piece("right", right, 0, Match::Pair, "flags")];
    let order = json!({"warp": "K6 W10 R4", "weft": "K/6 W10 R4 Y/8", "ends_per_cm": 9, "picks_per_cm": 8});
    let cloth = woven(&json!({"pattern": order}));
    // Across the drawing run the wefts: their order mirrors, that of the warp does not.
    let said = told(&do_lay(&pieces, &[grain(Match::Pair, Grain::Along)], &cloth, &spec(1)).unwrap_err());
    assert!(said.contains("a pattern that mirrors across"), "{said}");
    let lay = do_lay(&pieces, &[grain(Match::Pair, Grain::Across)], &cloth, &spec(2)).unwrap();
    assert_eq!(turns(&lay), [90.0, 90.0]);
    let placed = &lay.cloths[0].placed;
    for k in 0..200 {
        // What the left shows at a point the right shows at its mirror image.
        let at = pt(0.43 * f64::from(k), 0.77 * f64::from(k) + 0.01);
        let shown = |on: usize, p| seen(&cloth).colour(placed[on].pose.apply(p));
        assert!(alike(shown(0, at), shown(1, pt(400.0 - at.x, at.y))), "{at:?}");
    }
}

#[test]
fn wings_of_one_rule_carry_mirrored_pattern_pair_by_pair() {
    let wing = |x: f64, y: f64, right: bool| {
        let ring = Ring::from_pairs(&[[0.0, 0.0], [60.0, 0.0], [20.0, 40.0], [0.0, 40.0]]);
        let ring = if right { ring.map(|p| pt(60.0 - p.x, p.y)).reversed() } else { ring };
        Region::new(ring.map(|p| p + pt(x, y)), vec![])
    };
    let mut pieces = Vec::new();
    for k in 0..4 {
        let (x, y) = (10.0 * f64::from(k), 60.0 * f64::from(k));
        pieces.push(piece(&format!("left-{k}"), wing(x, y, false), 0, Match::Pair, "wings"));
        pieces.push(piece(&format!("right-{k}"), wing(340.0 - x, y, true), 0, Match::Pair, "wings"));
    }
    let cloth = woven(&json!({"pattern": check(), "width_mm": 500}));
    let lay = do_lay(&pieces, &[rule(Match::Pair)], &cloth, &spec(2)).unwrap();
    let of = |id: &str| lay.cloths[0].placed.iter().find(|p| pieces[p.piece].id == id).unwrap();
    for k in 0..4 {
        let (left, right) = (of(&format!("left-{k}")), of(&format!("right-{k}")));
        for j in 0..100 {
            let at =
                pt(10.0 * f64::from(k) + 0.391 * f64::from(j), 60.0 * f64::from(k) + 0.173 * f64::from(j));
            let mirrored = pt(400.0 - at.x, at.y);
            let shown = |p: &lay::Placed, at| seen(&cloth).colour(p.pose.apply(at));
            assert!(alike(shown(left, at), shown(right, mirrored)), "{k} at {at:?}");
        }
    }
}

#[test]
fn a_group_too_wide_for_one_step_is_told_that_each_would_free_it() {
    let l = Lattice { a: Some(pt(100.0, 0.0)), b: Some(pt(0.0, 90.0)), origin: pt(13.0, 7.0) };
    let water = |group: [&str; 2]| {
        [
            piece("wave", rect(0.0, 0.0, 196.0, 50.0), 0, Match::Drawn, group[0]),
            piece("foam", rect(50.0, 80.0, 198.0, 50.0), 0, Match::Drawn, group[1]),
        ]
    };
    let c = cloth(220.0, None, Some((l, false)));
    let said = told(&do_lay(&water(["water"; 2]), &[rule(Match::Drawn)], &c, &spec(1)).unwrap_err());
    assert!(said.contains("set group to \"each\" in pieces[0]"), "{said}");
    do_lay(&water(["wave", "foam"]), &[rule(Match::Drawn)], &c, &spec(1)).unwrap();
    // Where the cloth is too short for them in any step, that is no help and is not said.
    let short = cloth(220.0, Some(110.0), Some((l, false)));
    let said = told(&do_lay(&water(["water"; 2]), &[rule(Match::Drawn)], &short, &spec(1)).unwrap_err());
    assert!(!said.contains("each\""), "{said}");
}
