//! Whole lays through the public door: pieces placed by hand, stocks of offcuts, proofs and bounds.
#![allow(missing_docs, clippy::unwrap_used)]

use proptest::prelude::*;
use settlay::cloth::{Cloth, Pattern};
use settlay::drawing::Piece;
use settlay::job::{Grain, LaySpec, LockedSpec, Match, PieceRule, Select, ShapeKind, Weave};
use settlay::lay::{self, Lay, Request};
use settlay::say::{Quiet, Trouble};
use settlay::shape::{Bounds, Lattice, Point, Pose, Region, Ring, pt};

fn rule(matching: Match) -> PieceRule {
    PieceRule {
        select: Select::default(),
        cloth: "cloth".into(),
        count: 1,
        grain: Grain::Along,
        grain_deg: 0.0,
        grain_tolerance_deg: 0.0,
        matching,
        group: None,
        pattern_at_mm: None,
        anchor_mm: None,
        allowance_mm: 0.0,
        underlap_mm: 0.0,
        shape: ShapeKind::Fill,
    }
}

fn piece(id: &str, region: Region, rule: usize, matching: Match, group: &str) -> Piece {
    Piece {
        id: id.into(),
        element: 0,
        rule,
        cloth: 0,
        count: 1,
        cut: region.clone(),
        anchor: region.bounds().centre(),
        drawn: region,
        matching,
        group: group.into(),
    }
}

fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
}

fn cloth(width: f64, length: Option<f64>, pattern: Option<(Lattice, bool)>) -> Cloth {
    let long = length.unwrap_or(Cloth::OPEN_LENGTH_MM);
    Cloth {
        name: "cloth".into(),
        stock: None,
        weave: Weave::Plain,
        nap: false,
        outline: rect(0.0, 0.0, width, long).outline,
        open_length: length.is_none(),
        edge_mm: 10.0,
        flaws: Vec::new(),
        pattern: pattern.map(|(lattice, half_turn)| Pattern::measured(lattice, half_turn)),
        match_tolerance_mm: 0.0,
        photo: None,
        colour: [90, 90, 90],
    }
}

fn spec(effort: u32) -> LaySpec {
    LaySpec { gap_mm: 3.0, effort: Some(effort), ..LaySpec::default() }
}

fn do_lay(pieces: &[Piece], rules: &[PieceRule], cloth: &Cloth, spec: &LaySpec) -> Result<Lay, Vec<Trouble>> {
    let cloths = std::slice::from_ref(cloth);
    lay::lay(
        &Request { pieces, rules, cloths, spec, kept_clear: &[], struck: None, keep: 1, live: None },
        &Quiet,
    )
}

fn skewed() -> Lattice {
    Lattice { a: Some(pt(70.0, 1.1)), b: Some(pt(0.0, 64.0)), origin: pt(13.0, 7.0) }
}

/// Distance of `v` from a whole number of repeats, by trying every neighbour.
fn off_lattice(l: &Lattice, v: Point) -> f64 {
    let (a, b) = (l.a.unwrap(), l.b.unwrap());
    let mut best = f64::INFINITY;
    for i in -60..=60 {
        let j = ((v.y - a.y * f64::from(i)) / b.y).round();
        let w = v - a * f64::from(i) - b * j;
        best = best.min(w.x.hypot(w.y));
    }
    best
}

fn locked(piece: &str, copy: u32, turn_deg: f64, shift_mm: [f64; 2]) -> LockedSpec {
    LockedSpec { piece: piece.into(), copy, cloth: None, turn_deg, shift_mm }
}

fn told(troubles: &[Trouble]) -> String {
    troubles.iter().map(|t| format!("{t}\n")).collect()
}

#[test]
fn locked_pieces_stay_and_the_others_lie_round_them() {
    let mut pieces = vec![piece("bar", rect(0.0, 0.0, 200.0, 50.0), 0, Match::Free, "bar")];
    pieces[0].count = 2;
    pieces.push(piece("leaf", rect(0.0, 0.0, 90.0, 60.0), 0, Match::Free, "leaf"));
    pieces[1].count = 5;
    let mut s = spec(2);
    s.locked = vec![locked("bar", 2, 180.0, [290.0, 260.0]), locked("leaf", 1, 0.0, [55.5, 33.25])];
    let c = cloth(320.0, None, None);
    let lay = do_lay(&pieces, &[rule(Match::Free)], &c, &s).unwrap();
    let on = &lay.cloths[0];
    assert_eq!(on.placed.len(), 7);
    let order: Vec<(usize, u32)> = on.placed.iter().map(|p| (p.piece, p.copy)).collect();
    assert_eq!(order, [(0, 1), (0, 2), (1, 1), (1, 2), (1, 3), (1, 4), (1, 5)], "in the order of the pieces");
    assert_eq!((on.placed[1].pose.turn_deg, on.placed[1].pose.shift), (180.0, pt(290.0, 260.0)));
    assert_eq!(on.placed[2].pose.shift, pt(55.5, 33.25));
    assert!(on.placed.iter().filter(|p| p.locked).count() == 2);
    assert!(
        on.used_length_mm >= 270.0 - 1e-9,
        "up to the locked bar and its edge strip: {}",
        on.used_length_mm
    );
}

#[test]
fn a_lay_wholly_by_hand_needs_no_search() {
    let pieces = [piece("one", rect(0.0, 0.0, 90.0, 60.0), 0, Match::Free, "one")];
    let mut s = LaySpec { gap_mm: 3.0, seconds: 60.0, ..LaySpec::default() };
    s.locked = vec![locked("one", 1, 0.0, [20.0, 30.0])];
    let start = std::time::Instant::now();
    let lay = do_lay(&pieces, &[rule(Match::Free)], &cloth(320.0, None, None), &s).unwrap();
    assert!(start.elapsed().as_secs_f64() < 10.0);
    assert_eq!(lay.cloths[0].used_length_mm, 100.0);
}

#[test]
fn a_locked_drawn_piece_fixes_the_shift_of_its_group() {
    let pieces: Vec<Piece> = (0..4)
        .map(|k| {
            piece(&format!("b{k}"), rect(20.0 * f64::from(k), 0.0, 100.0, 50.0), 0, Match::Drawn, "water")
        })
        .collect();
    let mut s = spec(2);
    s.locked = vec![locked("b2", 1, 180.0, [300.0, 150.0])];
    let c = cloth(600.0, None, Some((skewed(), true)));
    let lay = do_lay(&pieces, &[rule(Match::Drawn)], &c, &s).unwrap();
    let placed = &lay.cloths[0].placed;
    assert_eq!((placed[2].pose.turn_deg, placed[2].pose.shift), (180.0, pt(300.0, 150.0)));
    // Turn 180: shift ≡ o + s, so s ≡ shift − o; all others follow.
    let s = pt(300.0, 150.0) - skewed().origin;
    for p in placed {
        let [x, y] = p.group_shift.unwrap();
        assert!(off_lattice(&skewed(), pt(x, y) - s) < 1e-6);
        let d = p.pose.shift - skewed().origin - if p.pose.turn_deg == 180.0 { s } else { s * -1.0 };
        assert!(off_lattice(&skewed(), d) < 1e-6);
    }
}

#[test]
fn a_locked_half_of_a_pair_leads_the_other() {
    let left = Region::new(Ring::from_pairs(&[[0.0, 0.0], [90.0, 0.0], [60.0, 100.0], [0.0, 80.0]]), vec![]);
    let right =
        Region::new(Ring::from_pairs(&[[300.0, 0.0], [300.0, 80.0], [240.0, 100.0], [210.0, 0.0]]), vec![]);
    let pieces =
        [piece("left", left, 0, Match::Pair, "bands"), piece("right", right, 0, Match::Pair, "bands")];
    for pattern in [skewed(), Lattice { a: Some(pt(48.0, 0.0)), b: None, origin: pt(20.0, 0.0) }] {
        let mut c = cloth(500.0, None, Some((pattern, true)));
        c.nap = true;
        let mut s = spec(1);
        s.locked = vec![locked("right", 1, 0.0, [-17.3, 41.9])];
        let lay = do_lay(&pieces, &[rule(Match::Pair)], &c, &s).unwrap();
        let at: Vec<Point> = lay.cloths[0]
            .placed
            .iter()
            .map(|p| pattern.fractions(p.pose.apply(pieces[p.piece].anchor) - pattern.origin))
            .collect();
        assert_eq!(lay.cloths[0].placed[1].pose.shift, pt(-17.3, 41.9));
        let (u, v) = (at[0].x + at[1].x, at[0].y - at[1].y);
        assert!((u - u.round()).abs() < 1e-9 && (v - v.round()).abs() < 1e-9, "{at:?}");
    }
}

#[test]
fn a_locked_centred_piece_chooses_the_crossing() {
    let pieces: Vec<Piece> = (0..3)
        .map(|k| piece(&format!("sun-{k}"), rect(0.0, 0.0, 60.0, 60.0), 0, Match::Centred, "suns"))
        .collect();
    let l = skewed();
    // The crossing half a repeat across and a whole one along; typed to hundredths.
    let at = l.origin + l.vector(pt(1.5, 1.0)) - pt(30.0, 30.0);
    let typed = [(at.x * 100.0).round() / 100.0, (at.y * 100.0).round() / 100.0];
    let mut s = spec(1);
    s.locked = vec![locked("sun-1", 1, 0.0, typed)];
    let c = cloth(500.0, None, Some((l, true)));
    let lay = do_lay(&pieces, &[rule(Match::Centred)], &c, &s).unwrap();
    for p in &lay.cloths[0].placed {
        let f = l.fractions(p.pose.apply(pieces[p.piece].anchor) - l.origin);
        assert!((f.x - 0.5 - (f.x - 0.5).round()).abs() < 2e-4 && (f.y - f.y.round()).abs() < 2e-4, "{f:?}");
    }
}

#[test]
fn everything_wrong_with_locked_pieces_is_said_at_once() {
    let pieces = [
        piece("wave", rect(0.0, 0.0, 90.0, 60.0), 0, Match::Drawn, "water"),
        piece("crest", rect(0.0, 0.0, 90.0, 60.0), 0, Match::Drawn, "water"),
        piece("leaf", rect(0.0, 0.0, 50.0, 50.0), 1, Match::Free, "leaf"),
        piece("stem", rect(0.0, 0.0, 50.0, 50.0), 1, Match::Free, "stem"),
    ];
    let rules = [rule(Match::Drawn), rule(Match::Free)];
    let mut c = cloth(600.0, Some(900.0), Some((skewed(), true)));
    c.flaws = vec![rect(400.0, 400.0, 30.0, 30.0).outline];
    let go = |locked: Vec<LockedSpec>| {
        // An hour, were it searched.
        let s = LaySpec { gap_mm: 3.0, seconds: 3600.0, locked, ..LaySpec::default() };
        told(&do_lay(&pieces, &rules, &c, &s).unwrap_err())
    };
    let t = go(vec![locked("wavy", 1, 0.0, [0.0, 0.0]), locked("wave", 2, 0.0, [20.0, 20.0])]);
    assert!(t.contains("did you mean \"wave\"?") && t.contains("lay.locked[1].copy"), "{t}");
    let t = go(vec![locked("leaf", 1, 0.0, [20.0, 20.0]), locked("leaf", 1, 0.0, [90.0, 20.0])]);
    assert!(t.contains("lay.locked[0] already"), "{t}");
    let t = go(vec![locked("wave", 1, 0.0, [20.0, 20.0]), locked("crest", 1, 0.0, [150.0, 20.0])]);
    assert!(t.contains("locked piece crest (1)") && t.contains("locked piece wave (1)"), "{t}");
    assert!(t.contains("out of step") && t.contains("shift_mm ["), "{t}");
    let t = go(vec![locked("leaf", 1, 90.0, [200.0, 20.0]), locked("stem", 1, 0.0, [5.0, 20.0])]);
    assert!(t.contains("turned by 90°") && t.contains("may be 0, 180"), "{t}");
    assert!(t.contains("outside the usable part"), "{t}");
    let t = go(vec![locked("leaf", 1, 0.0, [390.0, 390.0]), locked("stem", 1, 0.0, [442.0, 390.0])]);
    assert!(t.contains("flaw 1") && t.contains("lies 2.00 mm from locked piece stem (1)"), "{t}");
    let t = go(vec![locked("leaf", 1, 0.0, [200.0, 390.0]), locked("stem", 1, 0.0, [242.0, 390.0])]);
    assert!(t.contains("locked piece leaf (1): overlaps locked piece stem (1)"), "{t}");
}

#[test]
fn a_locked_piece_may_take_any_turn_its_rule_allows() {
    let mut r = rule(Match::Free);
    r.grain_tolerance_deg = 5.0;
    let pieces = [piece("leaf", rect(0.0, 0.0, 50.0, 50.0), 0, Match::Free, "leaf")];
    let mut s = spec(1);
    s.locked = vec![locked("leaf", 1, 3.37, [50.0, 50.0])];
    let c = cloth(600.0, Some(900.0), None);
    let lay = do_lay(&pieces, &[r.clone()], &c, &s).unwrap();
    assert_eq!(lay.cloths[0].placed[0].pose.turn_deg, 3.37);
    s.locked[0].turn_deg = 5.5;
    assert!(told(&do_lay(&pieces, &[r], &c, &s).unwrap_err()).contains("turned by 5.5°"));
}

fn offcut(name: &str, width: f64, length: f64) -> Cloth {
    Cloth { name: name.into(), stock: Some("fen".into()), ..cloth(width, Some(length), None) }
}

fn of_stock(matching: Match) -> PieceRule {
    PieceRule { cloth: "fen".into(), ..rule(matching) }
}

fn lay_on(
    pieces: &[Piece],
    rules: &[PieceRule],
    cloths: &[Cloth],
    spec: &LaySpec,
) -> Result<Lay, Vec<Trouble>> {
    lay::lay(
        &Request { pieces, rules, cloths, spec, kept_clear: &[], struck: None, keep: 1, live: None },
        &Quiet,
    )
}

fn counts(lay: &Lay) -> Vec<usize> {
    lay.cloths.iter().map(|on| on.placed.len()).collect()
}

#[test]
fn all_pieces_go_on_the_smallest_offcut_that_takes_them() {
    let mut leaf = piece("leaf", rect(0.0, 0.0, 80.0, 60.0), 0, Match::Free, "leaf");
    leaf.count = 6;
    // The second has area enough and is too narrow; the fourth is the smallest that takes all.
    let cloths = [
        offcut("large", 600.0, 800.0),
        offcut("sliver", 75.0, 2000.0),
        offcut("scrap", 120.0, 120.0),
        offcut("fit", 290.0, 290.0),
    ];
    let lay = lay_on(&[leaf], &[of_stock(Match::Free)], &cloths, &spec(2)).unwrap();
    assert_eq!(counts(&lay), [0, 0, 0, 6]);
}

#[test]
fn pieces_spread_over_offcuts_when_none_takes_all() {
    let mut leaf = piece("leaf", rect(0.0, 0.0, 80.0, 60.0), 0, Match::Free, "leaf");
    leaf.count = 7;
    let big = piece("big", rect(0.0, 0.0, 200.0, 150.0), 0, Match::Free, "big");
    // big and one leaf fill the first; the rest of the leaves need the others.
    let cloths = [offcut("a", 240.0, 250.0), offcut("b", 200.0, 220.0), offcut("spare", 130.0, 90.0)];
    let lay = lay_on(&[leaf, big], &[of_stock(Match::Free)], &cloths, &spec(2)).unwrap();
    let n = counts(&lay);
    assert_eq!(n.iter().sum::<usize>(), 8);
    assert!(lay.cloths[0].placed.iter().any(|p| p.piece == 1), "the large piece on the large offcut: {n:?}");
    assert!(n[1] >= 2, "{n:?}");
}

#[test]
fn a_matched_group_stays_on_one_offcut() {
    let pieces: Vec<Piece> = (0..3)
        .map(|k| piece(&format!("w{k}"), rect(0.0, 0.0, 100.0, 60.0), 0, Match::Drawn, "water"))
        .chain((0..4).map(|k| piece(&format!("f{k}"), rect(0.0, 0.0, 100.0, 60.0), 1, Match::Free, "f")))
        .collect();
    let pattern = |origin: Point| Some(Pattern::measured(Lattice { origin, ..skewed() }, true));
    let cloths = [
        Cloth { pattern: pattern(pt(3.0, 4.0)), ..offcut("a", 330.0, 300.0) },
        Cloth { pattern: pattern(pt(40.0, 0.0)), ..offcut("b", 330.0, 280.0) },
    ];
    let rules = [of_stock(Match::Drawn), of_stock(Match::Free)];
    let lay = lay_on(&pieces, &rules, &cloths, &spec(3)).unwrap();
    let on: Vec<usize> =
        lay.cloths.iter().map(|on| on.placed.iter().filter(|p| p.piece < 3).count()).collect();
    assert!(on == [3, 0] || on == [0, 3], "{on:?}");
}

#[test]
fn a_locked_piece_says_which_offcut_it_lies_on() {
    let mut leaf = piece("leaf", rect(0.0, 0.0, 80.0, 60.0), 0, Match::Free, "leaf");
    leaf.count = 2;
    let cloths = [offcut("a", 240.0, 250.0), offcut("b", 200.0, 220.0)];
    let mut s = spec(1);
    s.locked = vec![locked("leaf", 2, 0.0, [30.0, 30.0])];
    let rules = [of_stock(Match::Free)];
    let t = told(&lay_on(&[leaf.clone()], &rules, &cloths, &s).unwrap_err());
    assert!(t.contains("may be cut from a, b"), "{t}");
    s.locked[0].cloth = Some("a".into());
    let lay = lay_on(&[leaf], &rules, &cloths, &s).unwrap();
    assert!(lay.cloths[0].placed.iter().any(|p| p.copy == 2 && p.locked));
}

#[test]
fn a_stock_too_small_says_what_would_help() {
    let mut leaf = piece("leaf", rect(0.0, 0.0, 80.0, 60.0), 0, Match::Free, "leaf");
    leaf.count = 40;
    let huge = piece("huge", rect(0.0, 0.0, 500.0, 60.0), 0, Match::Free, "huge");
    let cloths = [offcut("a", 240.0, 250.0), offcut("b", 200.0, 220.0)];
    let rules = [of_stock(Match::Free)];
    let t = told(&lay_on(&[leaf.clone()], &rules, &cloths, &spec(1)).unwrap_err());
    assert!(
        t.contains("stock fen") && t.contains("its 40 pieces have") && t.contains("dm² more cloth"),
        "{t}"
    );
    let t = told(&lay_on(&[leaf, huge], &rules, &cloths, &spec(1)).unwrap_err());
    assert!(t.contains("piece huge") && t.contains("no other cloth of its stock"), "{t}");
}

/// Every lay of the rectangles on the lattice, tried one by one: the least far end. Knows only boxes.
fn dumb_optimum(sizes: &[(f64, f64)], l: &Lattice, width: f64, most: f64) -> f64 {
    fn go(
        sizes: &[(f64, f64)],
        l: &Lattice,
        width: f64,
        placed: &mut Vec<[f64; 4]>,
        end: f64,
        best: &mut f64,
    ) {
        let Some((w, h)) = sizes.get(placed.len()).copied() else {
            *best = best.min(end);
            return;
        };
        for i in -40..=40 {
            for j in -40..=40 {
                let c = l.origin + l.a.unwrap() * f64::from(i) + l.b.unwrap() * f64::from(j);
                let b = [c.x - w / 2.0, c.y - h / 2.0, c.x + w / 2.0, c.y + h / 2.0];
                let inside = b[0] >= 10.0 - 1e-6 && b[1] >= 10.0 - 1e-6 && b[2] <= width - 10.0 + 1e-6;
                // Boxes a gap of 3 apart; corner to corner the true distance counts.
                let apart = |p: &[f64; 4]| {
                    let dx = (b[0] - p[2]).max(p[0] - b[2]).max(0.0);
                    let dy = (b[1] - p[3]).max(p[1] - b[3]).max(0.0);
                    dx.hypot(dy) >= 3.0 - 1e-3
                };
                if inside && b[3] < *best - 1e-3 && placed.iter().all(apart) {
                    placed.push(b);
                    go(sizes, l, width, placed, end.max(b[3]), best);
                    placed.pop();
                }
            }
        }
    }
    let mut best = most;
    go(sizes, l, width, &mut Vec::new(), 0.0, &mut best);
    best
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, ..ProptestConfig::default() })]

    #[test]
    fn small_lattice_bound_jobs_are_laid_at_their_optimum(
        sizes in prop::collection::vec((20.0..110.0f64, 15.0..80.0f64), 1..5),
        across in 30.0..70.0f64, along in 30.0..60.0f64, skew in -0.03..0.03f64,
    ) {
        let l = Lattice { a: Some(pt(across, across * skew)), b: Some(pt(0.0, along)), origin: pt(21.0, 13.0) };
        let pieces: Vec<Piece> = sizes.iter().enumerate()
            .map(|(k, &(w, h))| piece(&format!("p{k}"), rect(0.0, 0.0, w, h), 0, Match::Centred, "suns"))
            .collect();
        let mut c = cloth(260.0, None, Some((l, false)));
        c.nap = true;
        if let Ok(lay) = do_lay(&pieces, &[rule(Match::Centred)], &c, &spec(2)) {
            let on = &lay.cloths[0];
            prop_assert!(on.proved);
            let found = on.used_length_mm - 10.0;
            let best = dumb_optimum(&sizes, &l, 260.0, found + 0.01);
            prop_assert!((found - best).abs() < 2e-3, "{found} against {best}");
        }
    }

    /// No lower bound lies above a lay that was found.
    #[test]
    fn the_least_length_is_never_above_a_lay(
        sizes in prop::collection::vec((20.0..280.0f64, 15.0..90.0f64, 0.0..1.0f64, 0usize..3), 1..8),
        gap in 0.0..6.0f64, flaw in any::<bool>(), patterned in any::<bool>(),
    ) {
        let kinds = [Match::Free, Match::Drawn, Match::Centred];
        let rules: Vec<PieceRule> = kinds.iter().map(|m| rule(*m)).collect();
        let pieces: Vec<Piece> = sizes.iter().enumerate().map(|(k, &(w, h, t, m))| {
            let w = if patterned { w * 0.6 } else { w };
            let r = Region::new(
                Ring::from_pairs(&[[0.0, 0.0], [w, h * 0.2 * t], [w * t, h], [0.0, h * 0.7]]), vec![]);
            piece(&format!("p{k}"), r, m, kinds[m], &format!("g{m}"))
        }).collect();
        let pattern = patterned.then_some((skewed(), true));
        let mut c = cloth(320.0, None, pattern);
        if flaw {
            c.flaws = vec![rect(100.0, 5.0, 60.0, 50.0).outline];
        }
        let s = LaySpec { gap_mm: gap, effort: Some(1), ..LaySpec::default() };
        let lay = do_lay(&pieces, &rules, &c, &s).unwrap();
        let on = &lay.cloths[0];
        prop_assert!(on.least_length_mm <= on.used_length_mm, "{} > {}", on.least_length_mm, on.used_length_mm);
        prop_assert!(on.least_length_mm >= on.pieces_area_mm2 / 320.0);
    }
}

#[test]
fn other_lays_of_nearly_the_same_length_are_kept() {
    let pieces: Vec<Piece> = (0..7)
        .map(|k| {
            let k = f64::from(k);
            piece(&format!("p{k}"), rect(0.0, 0.0, 70.0 + 9.0 * k, 50.0 + 4.0 * k), 0, Match::Free, "p")
        })
        .collect();
    let (c, s, rules) = (cloth(400.0, None, None), spec(4), [rule(Match::Free)]);
    let cloths = std::slice::from_ref(&c);
    let request = Request {
        pieces: &pieces,
        rules: &rules,
        cloths,
        spec: &s,
        kept_clear: &[],
        struck: None,
        keep: 4,
        live: None,
    };
    let lay = lay::lay(&request, &Quiet).unwrap();
    let on = &lay.cloths[0];
    assert!(on.others.len() <= 3);
    for other in &on.others {
        assert_ne!(other.placed, on.placed);
        assert!(
            other.used_length_mm >= on.used_length_mm - 1e-9
                && other.used_length_mm <= on.used_length_mm * 1.001 + 1e-9
        );
        let whole = Lay { cloths: vec![other.clone()] };
        assert_eq!(lay::faults(&whole, &pieces, &rules, cloths, 3.0), Vec::<String>::new());
    }
}

/// An hour to search, were it begun: what cannot be is said at once.
#[test]
fn what_cannot_be_is_said_at_once() {
    let s = LaySpec { gap_mm: 3.0, seconds: 3600.0, ..LaySpec::default() };
    let start = std::time::Instant::now();
    let go = |pieces: &[Piece], matching: Match, c: &Cloth| {
        told(&do_lay(pieces, &[rule(matching)], c, &s).unwrap_err())
    };
    let mut leaf = piece("leaf", rect(0.0, 0.0, 80.0, 60.0), 0, Match::Free, "leaf");
    leaf.count = 100_000;
    let t = go(&[leaf.clone()], Match::Free, &cloth(1500.0, None, None));
    assert!(t.contains("100000 single pieces") && t.contains("at most"), "{t}");
    leaf.count = 10_000;
    let t = go(&[leaf.clone()], Match::Free, &cloth(1500.0, Some(3000.0), None));
    assert!(t.contains("need at least 3") && t.contains("3.00 m are there"), "{t}");
    leaf.count = 1;
    // A lattice finer than the gap.
    let fine = Lattice { a: Some(pt(2.0, 0.0)), b: Some(pt(0.0, 64.0)), origin: pt(0.0, 0.0) };
    let centred = piece("sun", rect(0.0, 0.0, 80.0, 60.0), 0, Match::Centred, "sun");
    let t = go(std::slice::from_ref(&centred), Match::Centred, &cloth(400.0, None, Some((fine, true))));
    assert!(t.contains("repeat across is 2.00 mm") && t.contains("gap of 3 mm"), "{t}");
    // A lattice larger than the cloth, and its one crossing too near the edge.
    let wide = Lattice { a: Some(pt(900.0, 0.0)), b: Some(pt(0.0, 900.0)), origin: pt(30.0, 200.0) };
    let t =
        go(std::slice::from_ref(&centred), Match::Centred, &cloth(400.0, Some(500.0), Some((wide, false))));
    assert!(t.contains("piece sun") && t.contains("has no place"), "{t}");
    // Room for one on the only crossing, and two to lay.
    let wide = Lattice { origin: pt(200.0, 200.0), ..wide };
    let mut two = centred.clone();
    two.count = 2;
    let t = go(&[two], Match::Centred, &cloth(400.0, Some(500.0), Some((wide, false))));
    assert!(t.contains("no lay of its 2 pieces") && t.contains("was tried"), "{t}");
    // Flaws leave no part large enough.
    let mut holed = cloth(400.0, Some(500.0), None);
    holed.flaws = (0..8).map(|k| rect(0.0, 20.0 + 65.0 * f64::from(k), 400.0, 10.0).outline).collect();
    let t = go(&[leaf], Match::Free, &holed);
    assert!(t.contains("piece leaf") && t.contains("no part of cloth"), "{t}");
    assert!(start.elapsed().as_secs_f64() < 20.0);
}

fn job(cloths: &str, rule_cloth: &str, lay: &str) -> Result<settlay::job::Job, Vec<Trouble>> {
    let text = format!(
        r#"{{ "settlay": 1, "title": "t", "drawing": "t.svg", "cloths": [{cloths}],
             "pieces": [ {{ "select": {{ "layer": "all" }}, "cloth": "{rule_cloth}" }} ], "lay": {{ {lay} }} }}"#
    );
    settlay::job::parse(&text, "t.job.json")
}

#[test]
fn a_job_names_stocks_and_places_pieces() {
    let cloths = r#"{ "name": "a", "stock": "fen", "width_mm": 300, "length_mm": 400 },
                    { "name": "b", "stock": "fen", "width_mm": 500, "length_mm": 400 }"#;
    let placed = r#""locked": [ { "piece": "leaf", "turn_deg": 180, "shift_mm": [40, 60] } ]"#;
    let read = job(cloths, "fen", placed).unwrap();
    assert_eq!(read.lay.locked, [locked("leaf", 1, 180.0, [40.0, 60.0])]);
    assert_eq!(read.cloth_of(&read.pieces[0]), Some(1), "the largest stands for the stock");
    let again = settlay::job::parse(&serde_json::to_string(&read).unwrap(), "again").unwrap();
    assert_eq!(again, read, "written and read again");
    let t = told(&job(cloths, "fern", placed).unwrap_err());
    assert!(t.contains("did you mean \"fen\"?"), "{t}");
    let t = told(
        &job(cloths, "fen", r#""locked": [ { "piece": "leaf", "copy": 0, "shift_mm": [1] } ]"#).unwrap_err(),
    );
    assert!(t.contains("lay.locked[0].copy") && t.contains("lay.locked[0].shift_mm"), "{t}");
    let clash = cloths.replace("\"name\": \"b\"", "\"name\": \"fen\"");
    let t = told(&job(&clash, "fen", "").unwrap_err());
    assert!(t.contains("cloths[0].stock") && t.contains("a name that no cloth has"), "{t}");
}

#[test]
fn a_cloth_that_is_nearly_all_flaws_is_refused_before_any_search() {
    let mut c = cloth(600.0, Some(800.0), None);
    let square = |x: f64, y: f64| rect(x, y, 45.0, 45.0).outline;
    c.flaws = (0..12)
        .flat_map(|i| (0..16).map(move |j| square(50.0 * f64::from(i), 50.0 * f64::from(j))))
        .collect();
    let pieces = [piece("leaf", rect(0.0, 0.0, 90.0, 60.0), 0, Match::Free, "leaf")];
    // An effort nobody would wait for: the reason must come before the search.
    let said = told(&do_lay(&pieces, &[rule(Match::Free)], &c, &spec(4_000_000)).unwrap_err());
    assert!(said.contains("piece leaf") && said.contains("far enough apart"), "{said}");
}

/// Pieces laid exactly up to their goal must not be searched for ever: rounding may put the end a hair beyond it.
#[test]
fn scraps_of_odd_outline_are_shared_out_in_little_time() {
    let outline = |c: &mut Cloth, corners: &[[f64; 2]]| c.outline = Ring::from_pairs(corners);
    let mut cloths: Vec<Cloth> = (0..3).map(|_| cloth(300.0, Some(300.0), None)).collect();
    outline(&mut cloths[0], &[[0.0, 0.0], [118.0, 0.0], [118.0, 340.0], [0.0, 352.0]]);
    let corner = [[0.0, 0.0], [310.0, 0.0], [310.0, 70.0], [150.0, 96.0], [128.0, 260.0], [0.0, 260.0]];
    outline(&mut cloths[1], &corner);
    outline(&mut cloths[2], &[[0.0, 0.0], [240.0, 0.0], [240.0, 236.0], [0.0, 236.0]]);
    for (k, c) in cloths.iter_mut().enumerate() {
        (c.name, c.stock, c.edge_mm) = (format!("scrap-{k}"), Some("cloth".into()), 4.0);
    }
    let pieces: Vec<Piece> = (0..14)
        .map(|k| {
            let t = 360.0 / 14.0 * f64::from(k);
            let bar = Pose { turn_deg: t, shift: pt(0.0, 0.0) }.region(&rect(0.0, 0.0, 96.0, 22.0));
            piece(&format!("leaf-{k}"), bar, 0, Match::Free, "leaves")
        })
        .collect();
    let (s, rules) = (spec(4), [rule(Match::Free)]);
    let request = Request {
        pieces: &pieces,
        rules: &rules,
        cloths: &cloths,
        spec: &s,
        kept_clear: &[],
        struck: None,
        keep: 1,
        live: None,
    };
    let lay = lay::lay(&request, &Quiet).unwrap();
    assert_eq!(lay.cloths.iter().map(|c| c.placed.len()).sum::<usize>(), 14);
}
