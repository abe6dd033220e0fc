//! Whole lays through the public door: pieces placed by hand, and jobs that cannot be laid.
#![allow(missing_docs, clippy::unwrap_used)]

mod lay_jobs;

use lay_jobs::*;
use settlay::cloth::Cloth;
use settlay::drawing::Piece;
use settlay::job::{LaySpec, LockedSpec, Match};
use settlay::shape::{Lattice, Point, Region, Ring, pt};

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

/// All but a hair of the width: the pattern has to be slid to one place of a hundred before there is a lay at all.
#[test]
fn a_drawn_piece_almost_as_wide_as_the_cloth_is_laid() {
    let l = Lattice { a: Some(pt(100.0, 0.8)), b: Some(pt(0.0, 90.0)), origin: pt(13.0, 7.0) };
    for (width, length) in [(195.0, None), (199.0, None), (199.9, None), (195.0, Some(80.0))] {
        let wave = piece("wave", rect(37.0, 0.0, width, 50.0), 0, Match::Drawn, "water");
        let lay =
            do_lay(&[wave], &[rule(Match::Drawn)], &cloth(220.0, length, Some((l, true))), &spec(3)).unwrap();
        let used = lay.cloths[0].used_length_mm;
        assert!(used < 50.0 + 20.0 + 1.0, "{width}: {used}");
    }
}

#[test]
fn pieces_that_cannot_be_in_step_with_each_other_are_named_at_once() {
    let l = Lattice { a: Some(pt(100.0, 0.0)), b: Some(pt(0.0, 90.0)), origin: pt(13.0, 7.0) };
    let water = |left: f64| {
        [
            piece("wave", rect(0.0, 0.0, 196.0, 50.0), 0, Match::Drawn, "water"),
            piece("foam", rect(left, 80.0, 198.0, 50.0), 0, Match::Drawn, "water"),
        ]
    };
    let c = cloth(220.0, None, Some((l, false)));
    do_lay(&water(-3.99), &[rule(Match::Drawn)], &c, &spec(1)).unwrap();
    let t = told(&do_lay(&water(50.0), &[rule(Match::Drawn)], &c, &spec(4_000_000)).unwrap_err());
    assert!(t.contains("group water") && t.contains("not all in step"), "{t}");
}

/// The gap is what pieces keep from each other: flaws and the edges of an odd outline ask for none.
#[test]
fn pieces_may_touch_flaws_and_edges() {
    let leaf = piece("leaf", rect(0.0, 0.0, 100.0, 50.0), 0, Match::Free, "leaf");
    let mut between = cloth(320.0, Some(80.0), None);
    between.flaws = vec![rect(0.0, 0.0, 109.9, 80.0).outline, rect(210.1, 0.0, 109.9, 80.0).outline];
    let mut stepped = cloth(120.2, Some(90.0), None);
    let corners = [[0.0, 0.0], [120.2, 0.0], [120.2, 70.2], [70.0, 70.2], [70.0, 90.0], [0.0, 90.0]];
    stepped.outline = Ring::from_pairs(&corners);
    for c in [between, stepped] {
        let lay = do_lay(std::slice::from_ref(&leaf), &[rule(Match::Free)], &c, &spec(3)).unwrap();
        assert_eq!(lay.cloths[0].placed.len(), 1);
    }
    // From a piece placed by hand the gap is kept: here it leaves 100.2 mm.
    let (mut s, c) = (spec(3), cloth(223.2, Some(70.2), None));
    s.locked = vec![locked("leaf", 1, 0.0, [10.0, 10.0])];
    let two = Piece { count: 2, ..leaf };
    let lay = do_lay(std::slice::from_ref(&two), &[rule(Match::Free)], &c, &s).unwrap();
    let left = lay.cloths[0].placed.iter().map(|p| p.cut.bounds().min.x).fold(0.0, f64::max);
    assert!(left >= 113.0 - 0.02, "{left}");
    let narrower = cloth(222.9, Some(70.2), None);
    assert!(do_lay(&[two], &[rule(Match::Free)], &narrower, &s).is_err());
}

/// Pairs are found by piece, not by comparing every copy with every other.
#[test]
fn a_thousand_pairs_are_laid() {
    let wing = |x: f64, tip: f64| {
        Region::new(Ring::from_pairs(&[[x, 0.0], [x + 20.0, 0.0], [x + tip, 30.0]]), Vec::new())
    };
    let mut wings = [
        piece("left", wing(0.0, 0.0), 0, Match::Pair, "wings"),
        piece("right", wing(50.0, 20.0), 0, Match::Pair, "wings"),
    ];
    wings.iter_mut().for_each(|w| w.count = 1000);
    let l = Lattice { a: Some(pt(60.0, 0.0)), b: Some(pt(0.0, 50.0)), origin: pt(13.0, 7.0) };
    let lay = do_lay(&wings, &[rule(Match::Pair)], &cloth(1500.0, None, Some((l, true))), &spec(1)).unwrap();
    assert_eq!(lay.cloths[0].placed.len(), 2000);
}
