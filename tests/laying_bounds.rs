//! Whole lays through the public door: proofs, bounds, and other lays of the same length.
#![allow(missing_docs, clippy::unwrap_used)]

mod lay_jobs;

use lay_jobs::*;
use proptest::prelude::*;
use settlay::drawing::Piece;
use settlay::job::{LaySpec, Match, PieceRule};
use settlay::lay::{self, Lay, Request};
use settlay::say::Quiet;
use settlay::shape::{Lattice, Region, Ring, pt};

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
