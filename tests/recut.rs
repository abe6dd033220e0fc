//! One spoilt piece cut again: same step of the pattern, checked anew from poses and lattices.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt;
use serde_json::{Value, json};

fn settlay(folder: &Path, words: &[&str]) -> (Option<i32>, String, String) {
    let out = Command::cargo_bin("settlay").unwrap().current_dir(folder).args(words).output().unwrap();
    let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
    (out.status.code(), text(out.stdout), text(out.stderr))
}

fn done(folder: &Path, words: &[&str]) -> String {
    let (code, out, err) = settlay(folder, words);
    assert_eq!(code, Some(0), "{words:?}\n{out}\n{err}");
    out
}

fn plan(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path.join("plan.json")).unwrap()).unwrap()
}

/// A skewed check on `length_mm` of cloth, two bands in step, a ring with a window.
fn job(folder: &Path, length_mm: f64, warp: &str) {
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='600mm' height='400mm' viewBox='0 0 600 400'>\
        <g id='wave'><path id='one' d='M10 10h150v90h-150z'/><path id='two' d='M190 30l120 20v120l-120 -10z'/></g>\
        <path id='ring' fill-rule='evenodd' d='M340 60h240v240h-240z M370 90v180h180v-180z'/>\
        <path id='bud' d='M20 300h60v60h-60z'/></svg>";
    std::fs::write(folder.join("leaf.svg"), svg).unwrap();
    let job = json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
        "cloths": [{ "name": "fen", "width_mm": 520, "length_mm": length_mm, "edge_mm": 10, "weave": "twill-z",
            "pattern": { "warp": warp, "ends_per_cm": 20, "picks_per_cm": 18, "skew_mm_per_m": 12, "origin_mm": [35, 20] } }],
        "pieces": [
            { "select": { "layer": "wave" }, "cloth": "fen", "match": "drawn", "group": "wave", "allowance_mm": 1.5 },
            { "select": { "id": "bud" }, "cloth": "fen", "match": "centred" },
            { "select": { "id": "*" }, "cloth": "fen" }],
        "cutter": { "bed_mm": [900, 800], "feed": "along-y" }, "lay": { "gap_mm": 3, "effort": 1 } });
    std::fs::write(folder.join("leaf.job.json"), job.to_string()).unwrap();
    done(folder, &["plan", "leaf.job.json", "--out", "leaf"]);
}

/// How far apart the pattern lies on two cuttings of one piece, mm, worked out from nothing but poses, repeats and
/// origins: the lattice points of both cloths brought back to the drawing must coincide.
fn apart(one: &Value, other: &Value, id: &str) -> f64 {
    let of = |plan: &Value| {
        let piece = plan["pieces"].as_array().unwrap().iter().find(|p| p["id"] == id).unwrap().clone();
        let cloth =
            plan["cloths"].as_array().unwrap().iter().find(|c| c["name"] == piece["cloth"]).unwrap().clone();
        let pair = |v: &Value| [v[0].as_f64().unwrap(), v[1].as_f64().unwrap()];
        let (shift, origin) = (pair(&piece["shift"]), pair(&cloth["pattern"]["origin"]));
        let sign = match piece["turn_deg"].as_f64().unwrap() {
            0.0 => 1.0,
            180.0 => -1.0,
            other => panic!("turned by {other}"),
        };
        // Drawing point of the origin: R(−turn)(o − s).
        let at = [sign * (origin[0] - shift[0]), sign * (origin[1] - shift[1])];
        (at, pair(&cloth["pattern"]["a"]), pair(&cloth["pattern"]["b"]))
    };
    let ((p, a, b), (q, _, _)) = (of(one), of(other));
    let mut least = f64::INFINITY;
    for i in -40..=40 {
        for j in -40..=40 {
            let (i, j) = (f64::from(i), f64::from(j));
            let d = [p[0] - q[0] + i * a[0] + j * b[0], p[1] - q[1] + i * a[1] + j * b[1]];
            least = least.min(d[0].hypot(d[1]));
        }
    }
    least
}

#[test]
fn a_piece_is_cut_again_from_the_rest_of_its_cloth_in_step() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 1500.0, "N/6 G24 W4 G24 K/10");
    let before = plan(&at.join("leaf"));
    for id in ["one", "bud"] {
        let words = [
            "recut",
            "leaf.job.json",
            "--piece",
            id,
            "--plan",
            "leaf",
            "--shelf",
            "s",
            "--out",
            id,
            "--json",
        ];
        let said: Value = serde_json::from_str(&done(at, &words)).unwrap();
        assert_eq!(said["off_mm"], 0.0, "{said}");
        let after = plan(&at.join(id));
        assert!(apart(&before, &after, id) < 1e-3, "{id}: {}", apart(&before, &after, id));
        assert_eq!(after["pieces"].as_array().unwrap().len(), 1);
        assert!(at.join(id).join("cut").read_dir().unwrap().count() >= 2, "cut files");
        // Clear of everything that is cut out already.
        let bounds = |p: &Value| {
            let c: Vec<[f64; 2]> = serde_json::from_value(p["cut"]["outline"].clone()).unwrap();
            let least = |k: usize| c.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min);
            let most = |k: usize| c.iter().map(|p| p[k]).fold(f64::NEG_INFINITY, f64::max);
            [least(0), least(1), most(0), most(1)]
        };
        let again = bounds(&after["pieces"][0]);
        let from_rest = said["from"].as_str().unwrap().contains("the rest of");
        for old in before["pieces"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|p| from_rest && p["id"] != "two" && p["id"] != "ring")
        {
            let old = bounds(old);
            let meets = again[0] < old[2] && old[0] < again[2] && again[1] < old[3] && old[1] < again[3];
            assert!(!meets || old == again, "{id} lies on what is cut already");
        }
    }
}

/// A piece cut again is in the way of the next one.
#[test]
fn a_second_piece_keeps_clear_of_the_first_cut_again() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 1500.0, "N/6 G24 W4 G24 K/10");
    let words =
        ["recut", "leaf.job.json", "--piece", "one", "--plan", "leaf", "--shelf", "s", "--json", "--out"];
    let again = |more: &[&'static str]| -> Value {
        let words: Vec<&str> = words.iter().copied().chain(more.iter().copied()).collect();
        serde_json::from_str(&done(at, &words)).unwrap()
    };
    let (first, second) = (again(&["first"]), again(&["second", "--since", "first"]));
    assert_eq!((&first["off_mm"], &second["off_mm"]), (&json!(0.0), &json!(0.0)));
    let shift =
        |v: &Value| [v["placed"]["shift"][0].as_f64().unwrap(), v["placed"]["shift"][1].as_f64().unwrap()];
    let (p, q) = (shift(&first), shift(&second));
    // 153 × 93 mm with the allowance, and the gap of 3 mm, at turn 0 or 180 both.
    assert_eq!(first["placed"]["turn_deg"], second["placed"]["turn_deg"]);
    assert!((p[0] - q[0]).abs() >= 155.9 || (p[1] - q[1]).abs() >= 95.9, "{p:?} {q:?}");
}

#[test]
fn the_smallest_offcut_in_step_is_chosen_before_the_cloth() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 700.0, "N/6 G24 W4 G24 K/10");
    for (outline, origin) in [
        ("0,0 330,0 330,260 0,260", "12,7"),
        ("0,0 420,0 420,330 0,330", "3,40"),
        ("0,0 100,0 100,99 0,99", "0,0"),
    ] {
        let words = [
            "offcuts",
            "--shelf",
            "s",
            "add",
            "--job",
            "leaf.job.json",
            "--outline",
            outline,
            "--origin",
            origin,
        ];
        done(at, &words);
    }
    let words = [
        "recut",
        "leaf.job.json",
        "--piece",
        "two",
        "--plan",
        "leaf",
        "--shelf",
        "s",
        "--out",
        "again",
        "--json",
    ];
    let said: Value = serde_json::from_str(&done(at, &words)).unwrap();
    assert_eq!((said["offcut"].as_str(), said["off_mm"].as_f64()), (Some("fen-1"), Some(0.0)), "{said}");
    assert!(apart(&plan(&at.join("leaf")), &plan(&at.join("again")), "two") < 1e-3);
}

/// On an upright offcut the best place of a rectangle is arithmetic: its shift may move within a box.
#[test]
fn none_exact_says_how_far_off_the_best_is() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    // Large repeats: 136 threads at 2 to the centimetre each way, one way only.
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='300mm' height='200mm' viewBox='0 0 300 200'>\
        <path id='one' d='M10 10h150v90h-150z'/></svg>";
    std::fs::write(at.join("leaf.svg"), svg).unwrap();
    let job = |length: f64| {
        json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
        "cloths": [{ "name": "fen", "width_mm": 170, "length_mm": length, "weave": "twill-z",
            "pattern": { "repeat_across_mm": 300, "repeat_along_mm": 250, "symmetrical": false, "origin_mm": [0, 0] } }],
        "pieces": [{ "select": { "id": "one" }, "cloth": "fen", "match": "drawn", "pattern_at_mm": [0, 110] }],
        "cutter": { "bed_mm": [900, 800], "feed": "along-y" }, "lay": { "gap_mm": 3, "effort": 1 } })
    };
    std::fs::write(at.join("leaf.job.json"), job(260.0).to_string()).unwrap();
    // The piece lies at 10..160 and 100..190 of the drawing. An offcut of 165 × 100 lets its shift be −10..5 across
    // and −100..−90 along; in step are 0 + 300 i + 23 across and −110 + 250 j + 31 along: (23, −79) is nearest.
    let words = [
        "offcuts",
        "--shelf",
        "s",
        "add",
        "--job",
        "leaf.job.json",
        "--outline",
        "0,0 165,0 165,100 0,100",
        "--origin",
        "23,31",
    ];
    done(at, &words);
    let words = ["recut", "leaf.job.json", "--piece", "one", "--shelf", "s", "--out", "again", "--json"];
    let said: Value = serde_json::from_str(&done(at, &words)).unwrap();
    let want = (18.0f64 * 18.0 + 11.0 * 11.0).sqrt();
    let off = said["off_mm"].as_f64().unwrap();
    assert!((off - want).abs() < 0.1, "{off} for {want}");
    let report = std::fs::read_to_string(at.join("again/report.html")).unwrap();
    assert!(report.contains("out of step"), "the report says so too");
}

#[test]
fn a_scrap_out_of_a_window_will_do() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='600mm' height='500mm' viewBox='0 0 600 500'>\
        <path id='ring' fill-rule='evenodd' d='M10 10h400v400h-400z M60 60v300h300v-300z'/>\
        <path id='bud' d='M430 10h90v90h-90z'/></svg>";
    std::fs::write(at.join("leaf.svg"), svg).unwrap();
    let job = json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
        "cloths": [{ "name": "felt", "width_mm": 420, "length_mm": 425, "weave": "felt" }],
        "pieces": [{ "select": { "id": "*" }, "cloth": "felt", "grain": "any" }],
        "cutter": { "bed_mm": [900, 800], "feed": "along-y" }, "lay": { "gap_mm": 3, "effort": 1 } });
    std::fs::write(at.join("leaf.job.json"), job.to_string()).unwrap();
    done(at, &["plan", "leaf.job.json", "--out", "leaf"]);
    let words =
        ["recut", "leaf.job.json", "--piece", "bud", "--plan", "leaf", "--shelf", "s", "--out", "again"];
    let said = done(at, &words);
    assert!(said.contains("the scrap out of piece ring") && said.contains("No pattern binds it"), "{said}");
    let words =
        ["recut", "leaf.job.json", "--piece", "ring", "--plan", "leaf", "--shelf", "s", "--out", "more"];
    let (code, _, err) = settlay(at, &words);
    assert!(code == Some(1) && err.contains("no offcut of felt and no rest of its cloth"), "{err}");
    assert!(!at.join("more").exists());
}

#[test]
fn what_cannot_be_cut_again_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 900.0, "N/6 G24 W4 G24 K/10");
    for (words, code, part) in [
        (vec!["--piece", "ona", "--plan", "leaf"], 2, "did you mean one?"),
        (vec!["--piece", "one", "--copy", "2", "--plan", "leaf"], 2, "cut 1 times"),
        (vec!["--piece", "one"], 2, "only the plan it was cut by knows"),
        (vec!["--piece", "one", "--plan", "nowhere"], 2, "there is no such file"),
    ] {
        let words: Vec<&str> =
            ["recut", "leaf.job.json", "--shelf", "s", "--out", "again"].into_iter().chain(words).collect();
        let (got, _, err) = settlay(at, &words);
        assert!(got == Some(code) && err.contains(part), "{words:?}: {got:?} {err}");
        assert!(!at.join("again").exists());
    }
    let moved = std::fs::read_to_string(at.join("leaf.svg")).unwrap().replace("M10 10h150", "M10 10h152");
    std::fs::write(at.join("leaf.svg"), moved).unwrap();
    let words =
        ["recut", "leaf.job.json", "--piece", "one", "--plan", "leaf", "--shelf", "s", "--out", "again"];
    let (code, _, err) = settlay(at, &words);
    assert!(code == Some(1) && err.contains("drawn otherwise"), "{err}");
}

/// A leftover that was put on the shelf is cut from as an offcut; once it was taken for another work it is gone.
#[test]
fn what_went_from_the_cloth_to_the_shelf_is_no_part_of_the_rest() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 1_100.0, "N/6 G24 W4 G24 K/10");
    let again =
        ["recut", "leaf.job.json", "--piece", "ring", "--plan", "leaf", "--shelf", "s", "--json", "--out"];
    let from = |out: &str| {
        let said: Value = serde_json::from_str(&done(at, &[&again[..], &[out]].concat())).unwrap();
        said["from"].as_str().unwrap().to_owned()
    };
    assert_eq!(from("a"), "the rest of fen");
    done(at, &["realign", "leaf", "--pass", "1", "--mark-done", "--shelf", "s"]);
    assert_eq!(from("b"), "offcut fen-1 of the shelf");
    done(at, &["offcuts", "--shelf", "s", "take", "fen-1", "--for", "another work"]);
    let (code, _, err) = settlay(at, &[&again[..], &["c"]].concat());
    assert_eq!(code, Some(1), "{err}");
    assert!(err.contains("no offcut of fen and no rest of its cloth takes it"), "{err}");
}

/// The step of a piece that lies across its cloth: where the first pivots fall on the drawing, by the plan's own words.
#[test]
fn a_piece_laid_across_its_cloth_is_cut_again_across_and_in_step() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='700mm' height='200mm' viewBox='0 0 700 200'>\
        <g id='wave'><path id='one' d='M10 10h650v60h-650z'/><path id='two' d='M10 72h650v60h-650z'/></g></svg>";
    std::fs::write(at.join("leaf.svg"), svg).unwrap();
    let job = json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
        "cloths": [{ "name": "fen", "width_mm": 620, "length_mm": 760, "weave": "plain",
            "pattern": { "repeat_across_mm": 61, "repeat_along_mm": 47, "symmetrical": true, "origin_mm": [5, 9],
                "skew_mm_per_m": 14 } }],
        "pieces": [{ "select": { "layer": "wave" }, "cloth": "fen", "match": "drawn", "grain": "across" }],
        "cutter": { "bed_mm": [900, 900], "feed": "along-y" }, "lay": { "gap_mm": 3, "effort": 1 } });
    std::fs::write(at.join("leaf.job.json"), job.to_string()).unwrap();
    done(at, &["plan", "leaf.job.json", "--out", "cut"]);
    let words = [
        "recut",
        "leaf.job.json",
        "--piece",
        "two",
        "--plan",
        "cut",
        "--shelf",
        "s",
        "--out",
        "again",
        "--json",
    ];
    let said: Value = serde_json::from_str(&done(at, &words)).unwrap();
    assert_eq!(said["off_mm"], 0.0, "{said}");
    let plan = |name: &str| -> Value {
        serde_json::from_slice(&std::fs::read(at.join(name).join("plan.json")).unwrap()).unwrap()
    };
    let (was, again) = (plan("cut"), plan("again"));
    let piece =
        |plan: &Value| plan["pieces"].as_array().unwrap().iter().find(|p| p["id"] == "two").unwrap().clone();
    let (old, new) = (piece(&was), piece(&again));
    let n = |v: &Value| v.as_f64().unwrap();
    assert!([&old, &new].iter().all(|p| n(&p["turn_deg"]) % 180.0 == 90.0));
    // Both put the same point of the drawing on a crossing of their own cloth.
    let s = [n(&old["group_shift"][0]), n(&old["group_shift"][1])];
    for (plan, p) in [(&was, &old), (&again, &new)] {
        let sign = if n(&p["turn_deg"]) == 90.0 { 1.0 } else { -1.0 };
        let pattern = &plan["cloths"][0]["pattern"];
        let at = [n(&p["shift"][0]) - sign * s[1], n(&p["shift"][1]) + sign * s[0]];
        let v = [at[0] - n(&pattern["origin"][0]), at[1] - n(&pattern["origin"][1])];
        let (a, b) = (&pattern["a"], &pattern["b"]);
        let i = v[0] / n(&a[0]);
        let j = (v[1] - i * n(&a[1])) / n(&b[1]);
        assert!((i - i.round()).abs() < 1e-4 && (j - j.round()).abs() < 1e-4, "{i} {j}");
    }
}

/// Boxes round the marks' crosses that a plan burns into a cloth: arms of 4 mm and a millimetre of scorched cloth.
fn crosses(plan: &Value) -> Vec<[f64; 4]> {
    let marks = plan["passes"].as_array().unwrap().iter().flat_map(|p| p["marks"].as_array().unwrap());
    marks
        .filter(|m| m["burnt_here"] == true)
        .map(|m| {
            let at = |k: usize| m["cloth"][k].as_f64().unwrap();
            [at(0) - 5.0, at(1) - 5.0, at(0) + 5.0, at(1) + 5.0]
        })
        .collect()
}

fn meets(a: [f64; 4], b: [f64; 4], clear: f64) -> bool {
    a[0] < b[2] - clear && b[0] < a[2] - clear && a[1] < b[3] - clear && b[1] < a[3] - clear
}

fn box_of(piece: &Value) -> [f64; 4] {
    let c: Vec<[f64; 2]> = serde_json::from_value(piece["cut"]["outline"].clone()).unwrap();
    let least = |k: usize| c.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min);
    let most = |k: usize| c.iter().map(|p| p[k]).fold(f64::NEG_INFINITY, f64::max);
    [least(0), least(1), most(0), most(1)]
}

/// A cloth longer than the bed, so that crosses are burnt into it. Rectangles all of them, so boxes tell.
fn long_job(folder: &Path) {
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='600mm' height='900mm' viewBox='0 0 600 900'>\
        <path id='band' d='M10 10h90v800h-90z'/><path id='bud' d='M200 300h100v120h-100z'/></svg>";
    std::fs::write(folder.join("leaf.svg"), svg).unwrap();
    let job = json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
        "cloths": [{ "name": "fen", "width_mm": 520, "length_mm": 900, "edge_mm": 10, "weave": "twill-z",
            "pattern": { "repeat_across_mm": 7, "repeat_along_mm": 6, "symmetrical": true, "origin_mm": [3, 2] } }],
        "pieces": [{ "select": { "id": "band" }, "cloth": "fen", "count": 3 },
            { "select": { "id": "*" }, "cloth": "fen", "match": "centred" }],
        "cutter": { "bed_mm": [600, 560], "feed": "along-y", "lead_in_mm": 2 }, "lay": { "gap_mm": 3, "effort": 1 } });
    std::fs::write(folder.join("leaf.job.json"), job.to_string()).unwrap();
    done(folder, &["plan", "leaf.job.json", "--out", "leaf"]);
}

/// Cut again and again until the cloth is full: never on a cross, never on what was cut before.
#[test]
fn pieces_cut_again_keep_off_burnt_marks_and_off_each_other() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    long_job(at);
    let plan_1 = plan(&at.join("leaf"));
    let crosses = crosses(&plan_1);
    assert!(crosses.len() >= 2, "{crosses:?}");
    let mut taken: Vec<[f64; 4]> = plan_1["pieces"].as_array().unwrap().iter().map(box_of).collect();
    let mut since: Vec<String> = Vec::new();
    let mut near = f64::INFINITY;
    for k in 0..40 {
        let out = format!("again-{k}");
        let mut words = vec!["recut", "leaf.job.json", "--piece", "bud", "--plan", "leaf", "--shelf", "s"];
        since.iter().for_each(|s| words.extend(["--since", s]));
        words.extend(["--json", "--out", &out]);
        let (code, said, err) = settlay(at, &words);
        if code == Some(1) {
            assert!(err.contains("no rest of its cloth takes it"), "{err}");
            assert!(k > 3, "{k}");
            break;
        }
        let said: Value = serde_json::from_str(&said).unwrap_or_else(|_| panic!("{said} {err}"));
        let now = plan(&at.join(&out));
        assert_eq!(now["cloths"][0]["cut_from"], json!({ "kind": "rest", "cloth": "fen" }));
        let b = box_of(&now["pieces"][0]);
        assert!(said["off_mm"].as_f64().is_some());
        for c in &crosses {
            assert!(!meets(b, *c, 0.02), "{b:?} lies on the cross {c:?}");
            let apart = |k: usize| (c[k] - b[k + 2]).max(b[k] - c[k + 2]);
            near = near.min(apart(0).max(apart(1)));
        }
        for old in &taken {
            assert!(!meets(b, *old, 0.02), "{b:?} lies on {old:?}");
        }
        taken.push(b);
        since.push(out);
    }
    assert!(near < 60.0, "some came near a cross: {near}");
}

#[test]
fn a_second_piece_from_one_offcut_keeps_clear_of_the_first() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 700.0, "N/6 G24 W4 G24 K/10");
    let outline = ["--outline", "0,0 440,0 440,330 0,330", "--origin", "3,40"];
    done(at, &[&["offcuts", "--shelf", "s", "add", "--job", "leaf.job.json"][..], &outline].concat());
    let again = |more: &[&str]| -> Value {
        let words = ["recut", "leaf.job.json", "--piece", "one", "--plan", "leaf", "--shelf", "s", "--json"];
        serde_json::from_str(&done(at, &[&words[..], more].concat())).unwrap()
    };
    let (first, second) = (again(&["--out", "first"]), again(&["--out", "second", "--since", "first"]));
    assert_eq!((&first["offcut"], &second["offcut"]), (&json!("fen-1"), &json!("fen-1")));
    assert_eq!(plan(&at.join("first"))["cloths"][0]["cut_from"], json!({ "kind": "offcut", "id": "fen-1" }));
    let of = |out: &str| box_of(&plan(&at.join(out))["pieces"][0]);
    assert!(!meets(of("first"), of("second"), 0.02), "{:?} {:?}", of("first"), of("second"));
    // A plan of something else is named.
    let words =
        ["recut", "leaf.job.json", "--piece", "one", "--plan", "leaf", "--shelf", "other", "--out", "third"];
    done(at, &[&words[..], &["--since", "first"]].concat());
    let report = std::fs::read_to_string(at.join("third/report.html")).unwrap();
    assert!(report.contains("It takes no place away"), "the report says so");
}

/// What was cut again from the rest of the cloth is gone from the leftover that goes on the shelf afterwards.
#[test]
fn a_leftover_put_on_the_shelf_later_lacks_what_was_cut_again_from_it() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 1_100.0, "N/6 G24 W4 G24 K/10");
    let words =
        ["recut", "leaf.job.json", "--piece", "ring", "--plan", "leaf", "--shelf", "s", "--json", "--out"];
    let first: Value = serde_json::from_str(&done(at, &[&words[..], &["a"]].concat())).unwrap();
    assert_eq!(first["from"], "the rest of fen");
    done(at, &["realign", "leaf", "--pass", "1", "--mark-done", "--shelf", "s"]);
    let (code, out, _) = settlay(at, &[&words[..], &["b", "--since", "a"]].concat());
    if code == Some(0) {
        let second: Value = serde_json::from_str(&out).unwrap();
        assert_eq!(second["offcut"], "fen-1");
        let corner = |out: &str| box_of(&plan(&at.join(out))["pieces"][0]);
        // The offcut's frame lies at the corner of the leftover's box.
        let left = plan(&at.join("leaf"))["cloths"][0]["offcuts"][0]["outline"].clone();
        let left: Vec<[f64; 2]> = serde_json::from_value(left).unwrap();
        let least = |k: usize| left.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min);
        let (a, b) = (corner("a"), corner("b"));
        let b = [b[0] + least(0), b[1] + least(1), b[2] + least(0), b[3] + least(1)];
        assert!(!meets(a, b, 1.0), "{a:?} {b:?}");
    }
}

/// Leftovers carry the crosses burnt into them: in the plan, on the shelf, in the picture, into the next job.
#[test]
fn burnt_marks_stay_with_the_cloth() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    long_job(at);
    let plan_1 = plan(&at.join("leaf"));
    let crosses = crosses(&plan_1);
    let left = plan_1["cloths"][0]["offcuts"].as_array().unwrap();
    let flaws: usize = left.iter().map(|o| o["flaws"].as_array().map_or(0, Vec::len)).sum();
    assert!(flaws > 0 && flaws <= crosses.len() + 40, "{flaws}");
    done(at, &["offcuts", "--shelf", "s", "add", "--plan", "leaf"]);
    let file = at.join("s/offcuts.json");
    let shelf: Value = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
    let first = shelf["offcuts"].as_array().unwrap().iter().find(|o| o["burnt_mm"][0].is_array()).unwrap();
    let id = first["id"].as_str().unwrap().to_owned();
    assert!(!first["cloth"]["flaws_mm"].as_array().unwrap().is_empty());
    assert!(done(at, &["offcuts", "--shelf", "s", "list"]).contains("burnt mark"));
    // A shelf from before: nothing is known, which is said, and nothing is lost.
    let mut old = shelf.clone();
    for o in old["offcuts"].as_array_mut().unwrap() {
        o.as_object_mut().unwrap().remove("burnt_mm");
        o["cloth"]["flaws_mm"] = json!([]);
    }
    std::fs::write(&file, old.to_string()).unwrap();
    let (code, out, err) = settlay(at, &["offcuts", "--shelf", "s", "list"]);
    assert!(code == Some(0) && out.contains(&id) && out.contains("burnt marks unknown"), "{out}");
    assert!(err.contains("burnt marks were not kept") && err.contains(&format!("crosses {id}")), "{err}");
    let (_, _, err) = settlay(at, &["offcuts", "--shelf", "s", "add", "--plan", "leaf"]);
    assert!(err.contains("are on it already"), "{err}");
    let [x, y] = [0, 1].map(|k| first["burnt_mm"][0][k].as_f64().unwrap());
    let (code, _, err) = settlay(at, &["offcuts", "--shelf", "s", "crosses", &id, "--at", "9000,9"]);
    assert!(code == Some(2) && err.contains("lies off it"), "{err}");
    done(at, &["offcuts", "--shelf", "s", "crosses", &id, "--at", &format!("{x},{y}")]);
    let mended: Value = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
    let now = mended["offcuts"].as_array().unwrap().iter().find(|o| o["id"] == *id).unwrap();
    assert_eq!(now["burnt_mm"], json!([[x, y]]));
    assert_eq!(now["cloth"]["flaws_mm"].as_array().unwrap().len(), 1);
    let (code, _, err) = settlay(at, &["offcuts", "--shelf", "s", "crosses", &id, "--none"]);
    assert!(code == Some(1) && err.contains("1 burnt mark"), "{err}");
    done(at, &["offcuts", "--shelf", "s", "take", &id, "--out", "cloth.json"]);
    assert!(std::fs::read_to_string(at.join("cloth.json")).unwrap().contains("flaws_mm"));
}

fn shelf_of(at: &Path) -> Vec<Value> {
    let text = std::fs::read_to_string(at.join("s/offcuts.json")).unwrap_or("{\"offcuts\": []}".into());
    let shelf: Value = serde_json::from_str(&text).unwrap();
    shelf["offcuts"].as_array().unwrap().clone()
}

/// The rest of a cloth is left by the plan of that cloth, once that is cut: not by a piece cut again from it.
#[test]
fn a_piece_cut_again_from_the_rest_leaves_nothing_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 1_100.0, "N/6 G24 W4 G24 K/10");
    let words = ["recut", "leaf.job.json", "--piece", "ring", "--plan", "leaf", "--shelf", "s", "--out", "a"];
    assert!(done(at, &words).contains("from the rest of fen"));
    let said = done(at, &["realign", "a", "--pass", "1", "--mark-done", "--shelf", "s"]);
    assert!(said.contains("--since") && shelf_of(at).is_empty(), "{said}");
    let said = done(at, &["offcuts", "--shelf", "s", "add", "--plan", "a"]);
    assert!(said.contains("--since") && shelf_of(at).is_empty(), "{said}");
    let area = |since: &[&str], s: &str| -> f64 {
        let words = ["realign", "leaf", "--pass", "1", "--mark-done", "--shelf", s, "--json"];
        let said: Value = serde_json::from_str(&done(at, &[&words[..], since].concat())).unwrap();
        assert!(!said["shelved"].as_array().unwrap().is_empty());
        let text = std::fs::read_to_string(at.join(s).join("offcuts.json")).unwrap();
        let shelf: Value = serde_json::from_str(&text).unwrap();
        shelf["offcuts"].as_array().unwrap().iter().map(|o| o["area_mm2"].as_f64().unwrap()).sum()
    };
    let whole = area(&[], "other");
    done(at, &["realign", "leaf", "--pass", "1", "--not-cut", "--shelf", "other"]);
    // The ring with its window, 1.5 mm of gap round it: 246 × 246 mm.
    let less = whole - area(&["--since", "a"], "s");
    assert!(less > 240.0 * 240.0 && less < 250.0 * 250.0, "{less}");
}

/// The offcut a piece is cut from goes when the piece is cut, and what is left of it stays cloth of the same fabric,
/// with the crosses that were in it.
#[test]
fn what_is_left_of_an_offcut_stays_of_its_fabric() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 700.0, "N/6 G24 W4 G24 K/10");
    let outline = ["--outline", "0,0 440,0 440,330 0,330", "--origin", "3,40"];
    done(at, &[&["offcuts", "--shelf", "s", "add", "--job", "leaf.job.json"][..], &outline].concat());
    done(at, &["offcuts", "--shelf", "s", "crosses", "fen-1", "--at", "300,200 200,250"]);
    let again = |out: &str| -> Value {
        let words = ["recut", "leaf.job.json", "--piece", "bud", "--plan", "leaf", "--shelf", "s", "--json"];
        serde_json::from_str(&done(at, &[&words[..], &["--out", out]].concat())).unwrap()
    };
    assert_eq!(again("a")["offcut"], "fen-1");
    let mark = ["realign", "a", "--pass", "1", "--shelf", "s"];
    let said = done(at, &[&mark[..], &["--mark-done"]].concat());
    assert!(said.contains("Off the offcut shelf, for it is cut up: fen-1"), "{said}");
    let shelf = shelf_of(at);
    assert!(shelf.len() > 1 && shelf[0]["state"] == "taken" && shelf[0]["taken_for"] == "Leaf: bud again");
    assert!(shelf.iter().all(|o| o["cloth"]["name"] == "fen"), "{shelf:?}");
    let crosses: usize = shelf[1..].iter().map(|o| o["burnt_mm"].as_array().unwrap().len()).sum();
    assert_eq!(crosses, 2, "{shelf:?}");
    let kept: f64 = shelf[1..].iter().map(|o| o["area_mm2"].as_f64().unwrap()).sum();
    assert!(kept < shelf[0]["area_mm2"].as_f64().unwrap() - 60.0 * 60.0);
    assert_eq!(again("b")["offcut"], shelf[1]["id"]);
    // Put there by hand, it is the same.
    std::fs::copy(at.join("s/offcuts.json"), at.join("kept.json")).unwrap();
    done(at, &["recut", "leaf.job.json", "--piece", "bud", "--plan", "leaf", "--shelf", "s", "--out", "c"]);
    let said = done(at, &["offcuts", "--shelf", "s", "add", "--plan", "c"]);
    assert!(said.contains("Off the offcut shelf, for it is cut up: fen-2"), "{said}");
    assert_eq!(shelf_of(at)[1]["state"], "taken");
    std::fs::copy(at.join("kept.json"), at.join("s/offcuts.json")).unwrap();
    // Not cut after all: the offcut is there again, and no part of it besides.
    let said = done(at, &[&mark[..], &["--not-cut"]].concat());
    assert!(said.contains("Back on the offcut shelf: fen-1"), "{said}");
    let shelf = shelf_of(at);
    assert!(shelf.len() == 1 && shelf[0]["state"] == "kept", "{shelf:?}");
}

/// Neither cut work nor a plan to keep clear of is written over.
#[test]
fn a_piece_cut_again_takes_no_plans_place() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 1_100.0, "N/6 G24 W4 G24 K/10");
    let words = ["recut", "leaf.job.json", "--piece", "ring", "--plan", "leaf", "--shelf", "s", "--out"];
    let refused = |more: &[&str], part: &str| {
        let before = std::fs::read(at.join("leaf/plan.json")).unwrap();
        let (code, _, err) = settlay(at, &[&words[..], more].concat());
        assert!(code != Some(0) && err.contains(part), "{code:?} {err}");
        assert_eq!(std::fs::read(at.join("leaf/plan.json")).unwrap(), before);
    };
    refused(&["leaf"], "must keep clear of");
    done(at, &[&words[..], &["a"]].concat());
    refused(&["a", "--since", "a"], "must keep clear of");
    done(at, &["realign", "leaf", "--pass", "1", "--mark-done", "--shelf", "s"]);
    std::fs::create_dir(at.join("b")).unwrap();
    std::fs::copy(at.join("leaf/done.json"), at.join("b/done.json")).unwrap();
    refused(&["b"], "are cut already");
}

#[test]
fn a_changed_allowance_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 1_100.0, "N/6 G24 W4 G24 K/10");
    let text = std::fs::read_to_string(at.join("leaf.job.json")).unwrap();
    let words = ["recut", "leaf.job.json", "--piece", "one", "--plan", "leaf", "--shelf", "s", "--out"];
    let said = |out: &str| done(at, &[&words[..], &[out]].concat());
    assert!(!said("a").contains("another size"));
    std::fs::write(at.join("leaf.job.json"), text.replace("\"allowance_mm\":1.5", "\"allowance_mm\":9"))
        .unwrap();
    assert!(said("b").contains("another size than the one it replaces"));
}

/// A cross told twice is one, one told by mistake can be taken back, and an empty list says nothing.
#[test]
fn crosses_are_told_once_and_can_be_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    job(at, 700.0, "N/6 G24 W4 G24 K/10");
    let outline = ["--outline", "0,0 440,0 440,330 0,330", "--origin", "3,40"];
    done(at, &[&["offcuts", "--shelf", "s", "add", "--job", "leaf.job.json"][..], &outline].concat());
    let crosses = ["offcuts", "--shelf", "s", "crosses", "fen-1"];
    let area = shelf_of(at)[0]["area_mm2"].clone();
    let (code, _, err) = settlay(at, &[&crosses[..], &["--at", " "]].concat());
    assert!(code == Some(2) && err.contains("no place is given"), "{err}");
    for _ in 0..2 {
        done(at, &[&crosses[..], &["--at", "100,200"]].concat());
        assert_eq!(shelf_of(at)[0]["burnt_mm"], json!([[100.0, 200.0]]));
    }
    let (code, _, err) = settlay(at, &[&crosses[..], &["--none"]].concat());
    assert!(code == Some(1) && err.contains("--not"), "{err}");
    let (code, _, err) = settlay(at, &[&crosses[..], &["--not", "150,200"]].concat());
    assert!(code == Some(2) && err.contains("no cross is known"), "{err}");
    done(at, &[&crosses[..], &["--not", "101,199"]].concat());
    let offcut = &shelf_of(at)[0];
    assert_eq!((&offcut["burnt_mm"], &offcut["area_mm2"]), (&json!([]), &area));
    assert_eq!(offcut["cloth"]["flaws_mm"], json!([]));
}
