//! Buying, against published cloth-requirement rules for patterned cloth, and as a maker runs it.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt;
use serde_json::{Value, json};

const INCH: f64 = 25.4;

fn settlay(folder: &Path, words: &[&str]) -> (Option<i32>, String, String) {
    let out = Command::cargo_bin("settlay").unwrap().current_dir(folder).args(words).output().unwrap();
    let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
    (out.status.code(), text(out.stdout), text(out.stderr))
}

/// Length to buy, in inches, for `count` pieces of the given size (inches) stacked on a cloth whose pattern repeats
/// along it, all in step.
fn inches_to_buy(count: u32, width: f64, height: f64, cloth_width: f64, repeat: f64, matching: &str) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    let (w, h) = (width * INCH, height * INCH);
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='{w}mm' height='{h}mm' viewBox='0 0 {w} {h}'>\
         <path id='drop' d='M0 0h{w}v{h}h-{w}z'/></svg>"
    );
    std::fs::write(folder.path().join("drop.svg"), svg).unwrap();
    let job = json!({ "settlay": 1, "drawing": "drop.svg",
        "cloths": [{ "name": "print", "width_mm": cloth_width * INCH,
            "pattern": { "repeat_along_mm": repeat * INCH, "symmetrical": false, "origin_mm": [0, 150] } }],
        "pieces": [{ "select": { "id": "drop" }, "cloth": "print", "count": count, "match": matching, "group": "drops" }],
        "lay": { "gap_mm": 3 } });
    std::fs::write(folder.path().join("drop.job.json"), job.to_string()).unwrap();
    let (code, out, err) =
        settlay(folder.path(), &["buy", "drop.job.json", "--json", "--no-savings", "--effort", "1"]);
    assert_eq!(code, Some(0), "{err}");
    let told: Value = serde_json::from_str(&out).unwrap();
    told[0]["widths"][0]["buy_mm"].as_f64().unwrap() / INCH
}

/// Every length to buy lies between the bare pieces (nothing less can do) and what the published rule says, cutting
/// allowance included.
#[test]
fn published_examples_with_repeats_are_kept_within() {
    for (source, bought, bare, rule) in [
        (
            // 96 in on a 27 in repeat: 4 repeats = 108 in a drop; here three drops.
            "curtains, 96 in on 27 in (\"Figuring Pattern Repeats\")",
            inches_to_buy(3, 50.0, 96.0, 54.0, 27.0, "drawn"),
            3.0 * 96.0,
            3.0 * 108.0,
        ),
        (
            // 118 in on 13 in: 9.08, so 10 repeats = 130 in a drop; here two drops.
            "curtains, 118 in on 13 in (btalmadge.blogspot.com)",
            inches_to_buy(2, 40.0, 118.0, 54.0, 13.0, "drawn"),
            2.0 * 118.0,
            2.0 * 130.0,
        ),
        (
            // Extra = repeat × main pieces: 4 in × 4 = 16 in.
            "dressmaking, 4 in on 4 pieces (\"Tips for matching plaids and checks\")",
            inches_to_buy(4, 30.0, 20.5, 36.0, 4.0, "drawn"),
            4.0 * 20.5,
            4.0 * 20.5 + 16.0,
        ),
        (
            "dressmaking, 4 1/4 in on 2 pieces (fabric-shop note, 2010)",
            inches_to_buy(2, 30.0, 23.0, 36.0, 4.25, "drawn"),
            2.0 * 23.0,
            2.0 * 23.0 + 8.5,
        ),
        (
            "dressmaking, 1 1/4 in on 2 pieces (fabric-shop note, 2010)",
            inches_to_buy(2, 30.0, 29.4, 36.0, 1.25, "drawn"),
            2.0 * 29.4,
            2.0 * 29.4 + 2.5,
        ),
        (
            // Bound to the cloth's own pattern, the start of the repeat is bought too: still within the rule.
            "dressmaking, 4 in on 4 pieces, each centred",
            inches_to_buy(4, 30.0, 20.5, 36.0, 4.0, "centred"),
            4.0 * 20.5,
            4.0 * 20.5 + 16.0,
        ),
    ] {
        println!("{source}: buy {bought:.1} in, rule {rule:.1} in, pieces alone {bare:.1} in");
        assert!(bought > bare, "{source}: {bought} in cannot be enough");
        assert!(bought <= rule, "{source}: {bought} in, the rule says {rule}");
    }
}

fn stole(folder: &Path) {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/stole");
    for name in ["stole.svg", "stole.job.json"] {
        std::fs::copy(from.join(name), folder.join(name)).unwrap();
    }
}

#[test]
fn the_same_effort_buys_the_same_and_the_curve_is_drawn() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    stole(at);
    let words = ["buy", "stole.job.json", "--widths", "400,700", "--effort", "1", "--picture", "curve.svg"];
    let (code, once, err) = settlay(at, &words);
    assert_eq!(code, Some(0), "{err}");
    assert_eq!(settlay(at, &words).1, once);
    for part in ["400 mm", "560 mm", "700 mm", "for shrinkage", "cut the ends straight", "match free"] {
        assert!(once.contains(part), "{part}: {once}");
    }
    let tree =
        usvg::Tree::from_data(&std::fs::read(at.join("curve.svg")).unwrap(), &usvg::Options::default());
    assert!(tree.unwrap().size().height() > 300.0);
}

#[test]
fn bad_wishes_are_refused_with_a_reason() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    stole(at);
    for (words, code, part) in [
        (vec!["buy", "stole.job.json", "--widths", "0"], 2, "more than 0"),
        (vec!["buy", "stole.job.json", "--widths", "NaN"], 2, "more than 0"),
        (vec!["buy", "stole.job.json", "--picture", "curve.bmp"], 2, ".svg or .png"),
        (vec!["buy", "nowhere.json"], 2, "nowhere.json"),
    ] {
        let (got, out, err) = settlay(at, &words);
        assert!(got == Some(code) && err.contains(part) && out.is_empty(), "{words:?}: {got:?} {err}");
    }
    // Two cloths of one name; a cloth no width of which will do.
    let text = std::fs::read_to_string(at.join("stole.job.json")).unwrap();
    let mut job: Value = serde_json::from_str(&text).unwrap();
    let twin = job["cloths"][0].clone();
    job["cloths"].as_array_mut().unwrap().push(twin);
    std::fs::write(at.join("twins.job.json"), job.to_string()).unwrap();
    let (code, _, err) = settlay(at, &["buy", "twins.job.json"]);
    assert!(code == Some(2) && err.contains("expected a name of its own"), "{err}");
    let mut job: Value = serde_json::from_str(&text).unwrap();
    job["cloths"][0]["width_mm"] = 90.into();
    job["cloths"][0]["price_per_m"] = 0.into();
    std::fs::write(at.join("narrow.job.json"), job.to_string()).unwrap();
    let (code, _, err) = settlay(at, &["buy", "narrow.job.json", "--effort", "1"]);
    assert!(code == Some(1) && err.contains("cloth vesper, piece"), "{err}");
    let (code, out, err) = settlay(at, &["buy", "narrow.job.json", "--widths", "560", "--effort", "1"]);
    assert!(code == Some(0) && out.contains("a price is 0") && out.contains("will not do"), "{out}{err}");
}

/// What `buy` tells, and what it tells that giving up a rule saves, is what plans of those jobs take: room for marks and all.
#[test]
fn a_plan_keeps_the_savings_that_were_told() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let leaves: String = (0..10)
        .map(|k| {
            let (x, y) = (20 + 190 * (k % 5), 20 + 430 * (k / 5));
            format!("<path id='leaf{k}' d='M{x} {y}h170v{}h-170z'/>", 380 + 7 * k)
        })
        .collect();
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='1000mm' height='960mm' viewBox='0 0 1000 960'>{leaves}</svg>"
    );
    std::fs::write(at.join("leaf.svg"), svg).unwrap();
    let job = |gap: f64| {
        json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
            "cloths": [{ "name": "fen", "width_mm": 540, "edge_mm": 5, "nap": true }],
            "pieces": [{ "select": { "id": "*" }, "cloth": "fen" }],
            "cutter": { "bed_mm": [600, 500], "feed": "along-y" }, "lay": { "gap_mm": gap, "effort": 2 } })
    };
    let planned = |gap: f64| -> f64 {
        std::fs::write(at.join("leaf.job.json"), job(gap).to_string()).unwrap();
        let out = format!("plan-{gap}");
        let (code, _, err) = settlay(at, &["plan", "leaf.job.json", "--out", &out]);
        assert_eq!(code, Some(0), "{err}");
        let plan: Value =
            serde_json::from_slice(&std::fs::read(at.join(out).join("plan.json")).unwrap()).unwrap();
        assert!(plan["passes"].as_array().unwrap().len() > 2);
        plan["cloths"][0]["buy_length_mm"].as_f64().unwrap()
    };
    let narrow = planned(2.0);
    let wide = planned(4.0);
    let (code, out, err) = settlay(at, &["buy", "leaf.job.json", "--json"]);
    assert_eq!(code, Some(0), "{err}");
    let told: Value = serde_json::from_str(&out).unwrap();
    let bought = &told[0]["widths"][0];
    assert!(bought["no_room_for_marks"].is_null(), "{bought}");
    assert!((bought["buy_mm"].as_f64().unwrap() - wide).abs() <= 10.0, "{bought} for {wide}");
    let saving = told[0]["savings"].as_array().unwrap().iter();
    let saving = saving.clone().find(|s| s["change"].as_str().unwrap().starts_with("a gap of 2 mm")).unwrap();
    let saves = saving["saves_mm"].as_f64().unwrap();
    assert!((saves - (wide - narrow).max(0.0)).abs() <= 10.0, "{saves} told, {wide} and {narrow} planned");
}

/// A bed on which the work cannot be cut: the length is told all the same, and that no room is kept in it for marks.
#[test]
fn where_no_passes_can_be_made_it_is_said_at_the_figure() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='300mm' height='300mm' viewBox='0 0 300 300'>\
        <path id='drop' d='M10 10h200v250h-200z'/></svg>";
    std::fs::write(at.join("drop.svg"), svg).unwrap();
    let job = json!({ "settlay": 1, "drawing": "drop.svg", "cloths": [{ "name": "fen", "width_mm": 540 }],
        "pieces": [{ "select": { "id": "*" }, "cloth": "fen" }],
        "cutter": { "bed_mm": [120, 100], "overhang": "none" }, "lay": { "gap_mm": 3, "effort": 1 } });
    std::fs::write(at.join("drop.job.json"), job.to_string()).unwrap();
    let (code, out, err) = settlay(at, &["buy", "drop.job.json"]);
    assert_eq!(code, Some(0), "{err}");
    assert!(out.contains("no room for marks in it, so a plan may take more"), "{out}");
    assert_eq!(settlay(at, &["plan", "drop.job.json", "--out", "drop"]).0, Some(1));
}
