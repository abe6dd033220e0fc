//! Whole lays through the public door: several cloths of one stock.
#![allow(missing_docs, clippy::unwrap_used)]

mod lay_jobs;

use lay_jobs::*;
use settlay::cloth::{Cloth, Pattern};
use settlay::drawing::Piece;
use settlay::job::{LaySpec, Match, PieceRule};
use settlay::lay::{self, Lay, Request};
use settlay::say::{Quiet, Trouble, Watch};
use settlay::shape::{Lattice, Point, Pose, Ring, pt};

fn offcut(name: &str, width: f64, length: f64) -> Cloth {
    Cloth { name: name.into(), stock: Some("fen".into()), ..cloth(width, Some(length), None) }
}

fn of_stock(matching: Match) -> PieceRule {
    PieceRule { cloth: "fen".into(), ..rule(matching) }
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

struct Stopped;

impl Watch for Stopped {
    fn step(&self, _stage: &str, _share: f64, _now: &str) {}

    fn stopped(&self) -> bool {
        true
    }
}

fn many_scraps() -> (Vec<Piece>, Vec<Cloth>) {
    let mut leaves = [(60.0, 40.0), (55.0, 70.0), (20.0, 90.0)]
        .map(|(w, h)| piece("leaf", rect(0.0, 0.0, w, h), 0, Match::Free, "leaf"));
    leaves.iter_mut().for_each(|l| l.count = 30);
    let scrap = |k: usize| {
        let (w, h) = (200.0 + 37.0 * (k % 6) as f64, 180.0 + 41.0 * (k % 5) as f64);
        offcut(&format!("scrap-{k}"), w, h)
    };
    (leaves.to_vec(), (0..12).map(scrap).collect())
}

/// An interrupt before the cloths are chosen is no reason to say that the pieces do not fit.
#[test]
fn an_interrupt_still_leaves_a_lay_on_several_offcuts() {
    let (leaves, cloths) = many_scraps();
    let (s, rules) = (LaySpec { seconds: 3600.0, ..LaySpec::default() }, [of_stock(Match::Free)]);
    let request = Request {
        pieces: &leaves,
        rules: &rules,
        cloths: &cloths,
        spec: &s,
        kept_clear: &[],
        struck: None,
        keep: 1,
        live: None,
    };
    let lay = lay::lay(&request, &Stopped).unwrap();
    assert_eq!(counts(&lay).iter().sum::<usize>(), 90);
}

/// The job's seconds hold for choosing too; a search of so short a time gives first lays.
#[test]
fn choosing_among_many_offcuts_keeps_to_the_jobs_seconds() {
    let (leaves, cloths) = many_scraps();
    let s = LaySpec { seconds: 0.2, ..LaySpec::default() };
    let start = std::time::Instant::now();
    let lay = lay_on(&leaves, &[of_stock(Match::Free)], &cloths, &s).unwrap();
    assert_eq!(counts(&lay).iter().sum::<usize>(), 90);
    assert!(start.elapsed().as_secs_f64() < 20.0);
}

#[test]
fn a_group_too_large_for_any_one_offcut_is_told_that_each_would_free_it() {
    let bands = |group: &dyn Fn(usize) -> String| -> Vec<Piece> {
        (0..6)
            .map(|k| piece(&format!("w{k}"), rect(0.0, 0.0, 100.0, 60.0), 0, Match::Drawn, &group(k)))
            .collect()
    };
    let pattern = |x: f64| Some(Pattern::measured(Lattice { origin: pt(x, 4.0), ..skewed() }, true));
    let cloths = ["a", "b", "c"].map(|n| Cloth { pattern: pattern(20.0), ..offcut(n, 190.0, 220.0) });
    let rules = [of_stock(Match::Drawn)];
    let t = told(&lay_on(&bands(&|_| "water".into()), &rules, &cloths, &spec(2)).unwrap_err());
    assert!(t.contains("set group to \"each\" in pieces[0]"), "{t}");
    lay_on(&bands(&|k| format!("w{k}")), &rules, &cloths, &spec(2)).unwrap();
    // Where they do not go apart either, it is not said.
    let t = told(&lay_on(&bands(&|_| "water".into()), &rules, &cloths[..1], &spec(2)).unwrap_err());
    assert!(!t.contains("each"), "{t}");
}

/// Scraps, their edges off, on each of which six pieces go and no seventh (three of 90 to 93 mm across 300, two of 78 to 81 along
/// 230): 70 pieces need 12 of them, 60 need 10.
#[test]
fn many_pieces_of_nearly_one_size_fill_one_scrap_after_another() {
    let size = |k: usize| (90.0 + 0.5 * (k % 7) as f64, 78.0 + 0.3 * (k % 11) as f64);
    for (count, needed) in [(60, 10), (70, 12)] {
        let pieces: Vec<Piece> = (0..count)
            .map(|k| {
                let (w, h) = size(k);
                piece(&format!("r{k}"), rect(0.0, 0.0, w, h), 0, Match::Free, "r")
            })
            .collect();
        let cloths: Vec<Cloth> = (0..20).map(|k| offcut(&format!("scrap-{k}"), 320.0, 250.0)).collect();
        let lay = lay_on(&pieces, &[of_stock(Match::Free)], &cloths, &spec(5)).unwrap();
        let used = counts(&lay).iter().filter(|n| **n > 0).count();
        assert_eq!(used, needed, "{:?}", counts(&lay));
    }
}
