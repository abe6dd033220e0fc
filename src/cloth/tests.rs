//! Cloths understood from their descriptions, against published setts and worked figures.

use serde_json::{Value, json};

use super::{Cloth, Pattern, understand};
use crate::job::ClothSpec;
use crate::say::{Level, Note, Trouble};
use crate::shape::{distance, pt};

fn spec(extra: Value) -> ClothSpec {
    let mut spec = json!({"name": "check", "width_mm": 1500});
    for (key, value) in extra.as_object().unwrap() {
        spec[key] = value.clone();
    }
    serde_json::from_value(spec).unwrap()
}

fn cloth(extra: Value) -> (Cloth, Vec<Note>) {
    understand(&spec(extra), "cloths[0]").unwrap()
}

fn pattern(pattern: Value) -> Pattern {
    cloth(json!({ "pattern": pattern })).0.pattern.unwrap()
}

fn troubles(extra: Value) -> Vec<String> {
    understand(&spec(extra), "cloths[0]").unwrap_err().iter().map(Trouble::to_string).collect()
}

const BLACK_WATCH: &str = "DB/44 K4 DB4 K4 DB4 K32 G32 K4 G32 K32 DB32 K4 DB/4";

/// Repeat in mm = threads / threads per cm · 10: Black Watch 277 at 24 per cm 173.3, Wallace 4482 85.0, Royal
/// Stewart 3957 87.5 (counts: Scottish Register of Tartans; lengths derived).
#[test]
fn repeats_in_mm_follow_from_thread_counts() {
    for (count, expected) in [
        (BLACK_WATCH, 173.333_333),
        ("K/6 R48 K48 Y/6", 85.0),
        ("R/87 B8 K11 Y2 K3 W2 K3 G13 R11 K2 R5 W/3", 87.5),
    ] {
        let p = pattern(json!({"warp": count, "ends_per_cm": 24, "picks_per_cm": 12}));
        let (a, b) = (p.lattice.a.unwrap(), p.lattice.b.unwrap());
        assert!((a.x - expected).abs() < 1e-5 && a.y == 0.0, "{count}: {a:?}");
        assert!((b.y - 2.0 * expected).abs() < 1e-5 && b.x == 0.0, "{count}: {b:?}");
        assert!(p.half_turn && p.mirrors_across && p.mirrors_along);
    }
}

/// Asymmetric setts allow no half turn: Buchanan 414 (same register).
#[test]
fn an_asymmetric_order_forbids_the_half_turn() {
    let buchanan = "B18 G46 K6 B18 K6 Y40 K6 Y40 K6 B18 K6 R40 W6 R40 K6 B18 K6 G46";
    let p = pattern(json!({"warp": buchanan, "ends_per_cm": 20, "picks_per_cm": 20}));
    assert!(!p.half_turn && !p.mirrors_across && !p.mirrors_along);
    let p = pattern(json!({"warp": "K/4 W/4", "weft": buchanan, "ends_per_cm": 20, "picks_per_cm": 20}));
    assert!(!p.half_turn && p.mirrors_across && !p.mirrors_along);
}

/// 45 mm on 1500 mm are 3.00 % and 1.718° (method of ASTM D3882, recomputed).
#[test]
fn skew_tilts_the_weft_lines_only() {
    let p = pattern(
        json!({"warp": "K/6 R48 K48 Y/6", "ends_per_cm": 24, "picks_per_cm": 24, "skew_mm_per_m": 45.0 / 1.5}),
    );
    let (a, b) = (p.lattice.a.unwrap(), p.lattice.b.unwrap());
    assert!((a.y / a.x - 0.03).abs() < 1e-12 && (a.x - 85.0).abs() < 1e-9);
    assert!((libm::atan2(a.y, a.x).to_degrees() - 1.718).abs() < 5e-4);
    assert_eq!((b.x, b.y), (0.0, 85.0));
}

#[test]
fn a_skewed_cross_stripe_is_the_same_all_along_its_slanting_lines() {
    let p = pattern(json!({"warp": "W", "weft": "K4 W8", "picks_per_cm": 10, "skew_mm_per_m": 20}));
    assert!(p.lattice.a.is_none());
    assert!(p.lattice.residual(pt(1000.0, 20.0)) < 1e-9, "a weft line climbs 20 mm over a metre");
    assert!(p.lattice.residual(pt(0.0, 12.0)) < 1e-9, "straight along, the repeat is the measured one");
    assert!((p.lattice.residual(pt(0.0, 6.0)) - 6.0).abs() < 0.01);
}

#[test]
fn a_warp_stripe_repeats_across_only() {
    let p = pattern(json!({"warp": "B12 W12 R4 W12", "weft": "W", "ends_per_cm": 16, "skew_mm_per_m": 20}));
    assert_eq!((p.lattice.a, p.lattice.b), (Some(pt(25.0, 0.0)), None));
    assert!(p.half_turn);
    assert_eq!(p.weft_threads.len(), 1);
}

#[test]
fn measured_repeats_win_and_a_large_difference_is_said() {
    let wallace = |across: f64| json!({"pattern": {"warp": "K/6 R48 K48 Y/6", "ends_per_cm": 24, "picks_per_cm": 24, "repeat_across_mm": across}});
    let (near, notes) = cloth(wallace(88.0));
    assert_eq!(near.pattern.unwrap().lattice.a.unwrap().x, 88.0);
    assert_eq!(notes, []);
    let (far, notes) = cloth(wallace(100.0));
    let p = far.pattern.unwrap();
    assert_eq!(p.lattice.a.unwrap().x, 100.0);
    assert!((p.thread_mm[0] - 100.0 / 204.0).abs() < 1e-12);
    assert_eq!(notes.len(), 1);
    assert!(notes[0].level == Level::Advice && notes[0].about == "cloth check");
    assert!(notes[0].text.contains("100 mm as measured but 85.0 mm"), "{}", notes[0].text);
}

#[test]
fn a_pattern_may_be_measured_alone() {
    let measured = |symmetrical: Value| json!({"repeat_across_mm": 96.5, "repeat_along_mm": 101.2, "symmetrical": symmetrical});
    let p = pattern(measured(json!(true)));
    assert!(p.half_turn && p.mirrors_across && p.warp_threads.is_empty());
    let p = pattern(measured(json!(false)));
    assert!(!p.half_turn && !p.mirrors_along);
    assert_eq!(p.lattice.b, Some(pt(0.0, 101.2)));
    let said = troubles(json!({"pattern": measured(Value::Null)}));
    assert_eq!(said.len(), 2);
    assert!(said[0].starts_with("cloths[0].pattern: the field \"symmetrical\" is missing"), "{said:?}");
}

#[test]
fn the_origin_moves_to_the_nearest_pivot_and_says_so() {
    let counts = json!({"warp": "W2 K4 W2 R6", "ends_per_cm": 10, "picks_per_cm": 5, "origin_mm": [30, 40], "skew_mm_per_m": 100});
    let (cloth, notes) = cloth(json!({ "pattern": counts }));
    let p = cloth.pattern.unwrap();
    // 3 threads of 1 mm across and 3 of 2 mm along, the weft climbing a tenth.
    assert!(distance(p.lattice.origin, pt(33.0, 46.3)) < 1e-9, "{:?}", p.lattice.origin);
    assert!(notes.iter().any(|n| n.text.contains("3.0 mm to the right")), "{notes:?}");
    // Black Watch begins with a pivot.
    let p =
        pattern(json!({"warp": BLACK_WATCH, "ends_per_cm": 24, "picks_per_cm": 24, "origin_mm": [35, 20]}));
    assert_eq!(p.lattice.origin, pt(35.0, 20.0));
}

#[test]
fn what_a_maker_says_against_the_thread_count_is_named() {
    let said = |symmetrical: bool, warp: &str| {
        let (cloth, notes) = cloth(
            json!({"pattern": {"warp": warp, "ends_per_cm": 10, "picks_per_cm": 10, "symmetrical": symmetrical}}),
        );
        (cloth.pattern.unwrap().half_turn, notes.iter().map(|n| n.level).collect::<Vec<_>>())
    };
    assert_eq!(said(true, "K2 W4 R6"), (false, vec![Level::Caution]));
    assert_eq!(said(false, "K/2 W/4"), (false, vec![Level::Advice]));
    assert_eq!(said(true, "K/2 W/4"), (true, vec![]));
}

#[test]
fn a_letter_nobody_gave_a_colour_is_shown_in_one_of_its_own_and_said_so() {
    let counted = json!({"warp": "K4 X4 QQ2", "weft": "K2 X2", "ends_per_cm": 10, "picks_per_cm": 10});
    let (woven, notes) = cloth(json!({ "pattern": counted }));
    let threads = woven.pattern.unwrap().warp_threads;
    assert!(threads[1] != threads[3] && threads[3] != threads[7] && threads[1] != threads[7], "{threads:?}");
    assert_eq!(notes.len(), 1);
    assert_eq!((notes[0].level, notes[0].about.as_str()), (Level::Advice, "cloth check"));
    let part = "Give their own in cloths[0].pattern.colours: {\"QQ\": \"#rrggbb\", \"X\": \"#rrggbb\"}.";
    assert!(notes[0].text.contains(part), "{}", notes[0].text);
    // Nothing cut depends on it.
    let mut given = counted;
    given["colours"] = json!({"X": "#010203", "QQ": "#ffffff"});
    let (other, notes) = cloth(json!({ "pattern": given }));
    assert!(
        notes.is_empty()
            && other.pattern.as_ref().unwrap().lattice
                == pattern(
                    json!({"warp": "K4 X4 QQ2", "weft": "K2 X2", "ends_per_cm": 10, "picks_per_cm": 10})
                )
                .lattice
    );
}

#[test]
fn unused_colours_and_twins_are_noted() {
    let (cloth, notes) = cloth(
        json!({"pattern": {"warp": "k4 x4", "ends_per_cm": 10, "picks_per_cm": 10, "colours": {"x": "#010203", "z": "#000000", "k": "#010203"}}}),
    );
    assert!(cloth.pattern.unwrap().warp_threads.iter().all(|c| *c == [1, 2, 3]));
    assert!(notes.iter().any(|n| n.text.contains("Z is given but no stripe")));
    assert!(notes.iter().any(|n| n.text.contains("K and X have the same colour")));
}

#[test]
fn a_bad_count_is_quoted_with_its_place() {
    let said = troubles(json!({"pattern": {"warp": "N/6 G24 W4 K", "ends_per_cm": 20, "picks_per_cm": 20}}));
    assert!(
        said[0].starts_with("cloths[0].pattern.warp: \"N/6 G24 W4 K\": the number is missing after K"),
        "{said:?}"
    );
}

#[test]
fn sizes_flaws_and_edges_make_the_usable_cloth() {
    let (cloth, notes) = cloth(
        json!({"length_mm": 400, "edge_mm": 10, "flaws_mm": [[[100, 100], [100, 200], [200, 200], [200, 100]], [[2000, 0], [2010, 0], [2010, 10]]]}),
    );
    assert!(!cloth.open_length);
    let usable: f64 = cloth.usable().iter().map(crate::shape::Region::area).sum();
    assert!((usable - (1480.0 * 380.0 - 10_000.0)).abs() < 0.1, "{usable}");
    assert_eq!(notes.len(), 1);
    assert!(notes[0].text.starts_with("Flaw 2 lies beside the cloth"));
    let said = troubles(json!({"length_mm": 20, "edge_mm": 10}));
    assert!(said[0].contains("nothing of the cloth is left"), "{said:?}");
}

#[test]
fn numbers_nobody_checked_before_are_refused_and_never_crash() {
    for (key, value) in
        [("width_mm", f64::NAN), ("length_mm", -1.0), ("edge_mm", f64::INFINITY), ("width_mm", 1e300)]
    {
        let mut spec = spec(json!({}));
        match key {
            "width_mm" => spec.width_mm = Some(value),
            "length_mm" => spec.length_mm = Some(value),
            _ => spec.edge_mm = value,
        }
        assert!(understand(&spec, "cloths[0]").is_err(), "{key} {value}");
    }
    for value in [f64::NAN, f64::INFINITY, 0.0, -3.0] {
        let mut spec = spec(json!({"pattern": {"warp": "K4 W4", "ends_per_cm": 10, "picks_per_cm": 10}}));
        let pattern = spec.pattern.as_mut().unwrap();
        pattern.repeat_across_mm = Some(value);
        assert!(understand(&spec, "cloths[0]").is_err(), "repeat {value}");
    }
    let mut spec = spec(json!({"pattern": {"warp": "K4 W4", "ends_per_cm": 10, "picks_per_cm": 10}}));
    spec.match_tolerance_mm = 4.0;
    assert!(
        understand(&spec, "cloths[0]").unwrap_err()[0].what.contains("less than half the repeat of 8.00 mm")
    );
}

#[test]
fn every_example_job_has_cloths_that_are_understood() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/jobs");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if !path.is_file() {
            continue;
        }
        for (k, spec) in crate::job::read(&path).unwrap().cloths.iter().enumerate() {
            let understood = understand(spec, &format!("cloths[{k}]"));
            assert!(understood.is_ok(), "{}: {understood:?}", path.display());
            seen += 1;
        }
    }
    assert!(seen >= 6);
}
