//! Pieces moved by hand: wherever they are dropped they stay in step, and it is the nearest such place.
#![allow(missing_docs, clippy::unwrap_used)]

mod lay_jobs;

use lay_jobs::{rect, rule};
use proptest::prelude::*;
use settlay::cloth::Cloth;
use settlay::drawing::Piece;
use settlay::job::{Match, PieceRule};
use settlay::lay::{self, Allowed, Hand, Laid};
use settlay::shape::{Lattice, Point, Pose, distance, pt};

/// Two drawn in one group, one centred cut twice, two that mirror each other, a free one.
fn pieces() -> (Vec<Piece>, Vec<PieceRule>) {
    let rules = vec![rule(Match::Drawn), rule(Match::Centred), rule(Match::Pair), rule(Match::Free)];
    let piece = |id: &str, at: (f64, f64), rule: usize, count: u32, group: &str| {
        let matching = rules[rule].matching;
        Piece { count, ..lay_jobs::piece(id, rect(at.0, at.1, 40.0, 25.0), rule, matching, group) }
    };
    let all = vec![
        piece("one", (0.0, 0.0), 0, 1, "wave"),
        piece("two", (55.0, 13.0), 0, 1, "wave"),
        piece("bud", (0.0, 80.0), 1, 2, "bud"),
        piece("left", (100.0, 80.0), 2, 1, "wings"),
        piece("right", (200.0, 80.0), 2, 1, "wings"),
        piece("loose", (0.0, 200.0), 3, 1, "loose"),
    ];
    (all, rules)
}

fn cloth(lattice: Lattice) -> Cloth {
    Cloth { edge_mm: 0.0, ..lay_jobs::cloth(900.0, Some(900.0), Some((lattice, true))) }
}

fn lattices() -> impl Strategy<Value = Lattice> {
    let origin = pt(13.0, 7.0);
    prop_oneof![
        Just(Lattice { a: Some(pt(70.0, 1.1)), b: Some(pt(0.0, 64.0)), origin }),
        Just(Lattice { a: Some(pt(31.7, 0.0)), b: Some(pt(0.0, 190.3)), origin }),
        Just(Lattice { a: Some(pt(48.0, 0.0)), b: None, origin }),
        Just(Lattice { a: None, b: Some(pt(-1.5, 52.0)), origin }),
    ]
}

/// Everything wrong with where the pieces stand to the pattern, by the test that knows nothing of all this.
fn out_of_step(hand: &Hand, laid: &[Laid]) -> Vec<String> {
    let lay = hand.lay(laid).unwrap();
    let all = lay::faults(&lay, hand.pieces, hand.rules, hand.cloths, 0.0);
    let of_place = |f: &String| f.contains("apart") || f.contains("outside");
    all.into_iter().filter(|f| !of_place(f)).collect()
}

proptest! {
    #[test]
    fn whatever_is_moved_where_all_rules_of_pattern_and_turn_hold(
        lattice in lattices(),
        moves in prop::collection::vec(
            prop::collection::vec((0usize..7, 0.0..360.0f64, -200.0..900.0f64, -200.0..900.0f64), 1..4), 1..12),
    ) {
        let (pieces, rules) = pieces();
        let cloths = [cloth(lattice)];
        let hand = Hand { pieces: &pieces, rules: &rules, cloths: &cloths, gap_mm: 0.0 };
        let singles = [(0, 1), (1, 1), (2, 1), (2, 2), (3, 1), (4, 1), (5, 1)];
        let at = |k: usize, turn_deg: f64, x: f64, y: f64| {
            let (piece, copy) = singles[k];
            Laid { piece, copy, cloth: 0, pose: Pose { turn_deg, shift: pt(x, y) }, locked: false }
        };
        // Everything laid at once, anywhere.
        let first: Vec<Laid> = (0..7).map(|k| at(k, 0.0, 100.0 * k as f64 + 3.3, 250.0)).collect();
        let mut laid = hand.moved(&[], &first).unwrap();
        prop_assert_eq!(out_of_step(&hand, &laid), Vec::<String>::new());
        for step in moves {
            let mut asked: Vec<Laid> = Vec::new();
            for (k, turn, x, y) in step {
                if asked.iter().all(|a| (a.piece, a.copy) != singles[k]) {
                    asked.push(at(k, turn, x, y));
                }
            }
            let new = hand.moved(&laid, &asked).unwrap();
            prop_assert_eq!(out_of_step(&hand, &new), Vec::<String>::new());
            // What was not asked for stays to the last digit.
            for l in &laid {
                let moved = asked.iter().any(|a| (a.piece, a.copy) == (l.piece, l.copy));
                prop_assert!(moved || new.contains(l));
            }
            if let [one] = asked[..] {
                let is = |l: &&Laid| (l.piece, l.copy) == (one.piece, one.copy);
                let went = new.iter().find(is).unwrap();
                let allowed = hand.allowed(&laid, (one.piece, one.copy), went.pose.turn_deg).unwrap();
                let (off, nearest) = held_against(allowed, went.pose.shift, one.pose.shift);
                prop_assert!(off < 1e-6, "{:?} is none of {:?}", went, allowed);
                prop_assert!(distance(went.pose.shift, one.pose.shift) < nearest + 1e-6, "{:?}", allowed);
            }
            // Asked for where it lies, nothing moves at all.
            prop_assert_eq!(hand.moved(&new, &new).unwrap(), new.clone());
            laid = new;
        }
    }
}

/// How far `shift` is from being allowed, and how far the nearest allowed place is from `wanted`: tried one by one.
fn held_against(allowed: Allowed, shift: Point, wanted: Point) -> (f64, f64) {
    let nearest = |a: Point, b: Point, at: Point, p: Point| {
        let det = a.x * b.y - a.y * b.x;
        let v = p - at;
        let f = pt((v.x * b.y - v.y * b.x) / det, (a.x * v.y - a.y * v.x) / det);
        let tries = (-2..=2).flat_map(|i| (-2..=2).map(move |j| (f64::from(i), f64::from(j))));
        let far = tries.map(|(i, j)| distance(at + a * (f.x.round() + i) + b * (f.y.round() + j), p));
        far.fold(f64::INFINITY, f64::min)
    };
    match allowed {
        Allowed::Free => (0.0, 0.0),
        Allowed::Lattice { a, b, at } => (nearest(a, b, at, shift), nearest(a, b, at, wanted)),
        Allowed::Lines { step, along, at } => {
            let off = |p: Point| {
                let across = (p - at) - along * ((p - at).x * along.x + (p - at).y * along.y);
                let length = distance(step, pt(0.0, 0.0));
                let steps = (across.x * step.x + across.y * step.y) / (length * length);
                (steps - steps.round()).abs() * length
            };
            (off(shift), off(wanted))
        }
    }
}

#[test]
fn a_piece_that_may_turn_within_a_range_stops_at_its_end() {
    let (pieces, mut rules) = pieces();
    rules[3].grain_tolerance_deg = 5.0;
    let plain = Cloth { pattern: None, ..cloth(Lattice { a: None, b: None, origin: pt(0.0, 0.0) }) };
    let cloths = [plain];
    let hand = Hand { pieces: &pieces, rules: &rules, cloths: &cloths, gap_mm: 0.0 };
    let turned = |turn_deg: f64| {
        let pose = Pose { turn_deg, shift: pt(100.0, 100.0) };
        let asked = Laid { piece: 5, copy: 1, cloth: 0, pose, locked: false };
        hand.moved(&[], &[asked]).unwrap()[0].pose.turn_deg
    };
    for (asked, went) in [
        (3.25, 3.25),
        (357.0, 357.0),
        (9.0, 5.0),
        (350.0, 355.0),
        (178.0, 178.0),
        (100.0, 175.0),
        (-1.0, 359.0),
    ] {
        assert!((turned(asked) - went).abs() < 1e-9, "{asked}: {}", turned(asked));
    }
    assert_eq!(hand.turns(&[], (5, 1), 0).unwrap().ranges_deg, [(-5.0, 5.0), (175.0, 185.0)]);
}
