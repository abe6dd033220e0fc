//! Jobs and plans that are none, or make no sense.

use std::fs;

use serde_json::{Value, json};

use crate::desk::*;

#[test]
fn files_that_are_no_job_are_told_apart() {
    let desk = Desk::new();
    let keys: String = (0..40_000).map(|i| format!("\"k{i}\":1,")).collect();
    for (text, part) in [
        (String::new(), "the file is empty"),
        ("[1,2".into(), "ends too early"),
        ("[".repeat(100_000), "nested deeper than in any job"),
        ("\"x\"".into(), "expected fields in braces"),
        ("{\"settlay\": 1e999}".into(), "not JSON"),
        ("<svg/>".into(), "not JSON"),
        (format!("{{{keys}\"settlay\":1}}"), "more than 50 faults"),
        (job_with("/settlay", json!(7)), "newer settlay"),
        (job_with("/titel", json!("x")), "did you mean \"title\"?"),
    ] {
        desk.put("odd.job.json", text);
        desk.refuses(&["lay", "odd.job.json"], 2, part);
    }
    desk.put("odd.job.json", [0xff, 0x00, 0x12]);
    desk.refuses(&["lay", "odd.job.json"], 2, "not text");
    fs::File::create(desk.at("odd.job.json")).unwrap().set_len(101 << 20).unwrap();
    desk.refuses(&["lay", "odd.job.json"], 2, "too large");
    desk.refuses(&["lay", "nowhere.job.json"], 2, "there is no such file");
    fs::create_dir(desk.at("folder.job.json")).unwrap();
    desk.refuses(&["lay", "folder.job.json"], 2, "this is a folder");
}

#[test]
fn numbers_out_of_sense_are_told_by_their_field() {
    let desk = Desk::new();
    let square = |a: f64, b: f64| json!([[a, a], [b, a], [b, b], [a, b]]);
    for (path, value, code, part) in [
        ("/cloths/0/width_mm", json!(-0.0), 2, "cloths[0].width_mm"),
        ("/cloths/0/width_mm", json!(1e308), 2, "cloths[0].width_mm"),
        ("/cloths/0/edge_mm", json!(300), 2, "nothing would be left"),
        ("/cloths/0/name", json!("\u{7}"), 2, "control characters"),
        ("/cloths/0/outline_mm", json!([[0, 0], [1, 1]]), 2, "at least 3 points"),
        (
            "/cloths/0/outline_mm",
            json!([[0, 0], [600, 900], [600, 0], [0, 300]]),
            2,
            "crosses or touches itself",
        ),
        ("/cloths/0/flaws_mm", json!([square(-10.0, 1000.0)]), 1, "nothing of the cloth is left"),
        ("/cloths/0/pattern/warp", json!("K1000000000"), 2, "cloths[0].pattern.warp"),
        ("/cloths/0/pattern/warp", json!("N/6 24"), 2, "cloths[0].pattern.warp"),
        ("/cloths/0/pattern/ends_per_cm", json!(0), 2, "cloths[0].pattern.ends_per_cm"),
        ("/cloths/0/pattern/repeat_across_mm", json!(0.001), 2, "expected 0.1 or more"),
        ("/cloths/0/pattern/repeat_along_mm", json!(1e6), 2, "cloths[0].pattern.repeat_along_mm"),
        ("/cloths/0/pattern/skew_mm_per_m", json!(1e9), 2, "cloths[0].pattern.skew_mm_per_m"),
        ("/cloths/0/pattern/colours", json!({"N": "navy"}), 2, "#rrggbb"),
        ("/pieces/0/select", json!({}), 2, "pieces[0].select"),
        ("/pieces/0/select", json!({"id": "nothing"}), 1, "nothing to cut"),
        ("/pieces/0/count", json!(0), 2, "pieces[0].count"),
        ("/pieces/0/count", json!(100_000), 2, "pieces[0].count"),
        ("/pieces/0/cloth", json!("chek"), 2, "did you mean \"check\"?"),
        ("/pieces/0/allowance_mm", json!(1e6), 2, "pieces[0].allowance_mm"),
        ("/pieces/0/grain", json!("any"), 1, "pieces[0].grain"),
        ("/pieces/0/match", json!("pair"), 1, "no mirror image"),
        ("/cutter/bed_mm", json!([10, 10]), 2, "margin_mm"),
        ("/cutter/margin_mm", json!(1e308), 2, "1e308"),
        ("/cutter/kerf_mm", json!(3), 2, "neighbouring cuts"),
        ("/cutter/shared_band_mm", json!(288), 2, "cutter.shared_band_mm"),
        ("/cutter/cut_mm_per_s", json!(1e-300), 2, "cutter.cut_mm_per_s"),
        ("/lay/gap_mm", json!(-1), 2, "lay.gap_mm"),
        ("/lay/gap_mm", json!(1000), 1, "less than the gap of 1000 mm"),
        ("/cloths/0/pattern/repeat_across_mm", json!(0.1), 1, "a match that fine cannot be cut"),
        ("/lay/effort", json!(0), 2, "lay.effort"),
        ("/lay/seconds", json!(0), 2, "lay.seconds"),
        ("/lay/seconds", json!(1e9), 2, "lay.seconds"),
        ("/lay/seed", json!(-1), 2, "lay.seed"),
        ("/title", json!("x".repeat(100_000)), 2, "at most 300 characters"),
        ("/drawing", json!("nowhere.svg"), 2, "there is no such file"),
        ("/drawing", json!("../leaf.svg"), 2, "there is no such file"),
        ("/drawing", json!("."), 2, "this is a folder"),
        ("/drawing_scale", json!(-1), 2, "drawing_scale"),
        ("/drawing_scale", json!(100), 1, "is 5000 × 5000 mm"),
    ] {
        desk.put("odd.job.json", job_with(path, value));
        desk.refuses(&["lay", "odd.job.json"], code, part);
    }
}

#[test]
fn odd_but_sound_jobs_are_laid() {
    let desk = Desk::new();
    for (path, value) in [
        ("/lay/seed", json!(u64::MAX)),
        ("/pieces/0/allowance_mm", json!(1e-300)),
        ("/pieces/0/group", json!("<script>/../🐟")),
        ("/cloths/0/outline_mm", json!([[0, 0], [0, 900], [600, 900], [600, 0]])),
        ("/cloths/0/flaws_mm", json!([[[5000, 5000], [6000, 5000], [6000, 6000]]])),
        ("/cutter/kerf_mm", json!(-0.0)),
        ("/title", json!("")),
    ] {
        desk.put("odd.job.json", job_with(path, value.clone()));
        let ended = desk.run(&["lay", "odd.job.json"]);
        assert_eq!(ended.code, Some(0), "{path} = {value}: {}", ended.err);
        assert!(ended.out.contains("2 pieces") && !ended.err.contains("error"), "{path}: {}", ended.err);
    }
}

#[test]
fn a_plan_of_another_time_is_refused_and_left_as_it_is() {
    let desk = Desk::new();
    desk.put("a.job.json", job().to_string());
    assert_eq!(desk.run(&["plan", "a.job.json", "--out", "plan"]).code, Some(0));
    let plan: Value = serde_json::from_slice(&fs::read(desk.at("plan/plan.json")).unwrap()).unwrap();
    let mut newer = plan.clone();
    newer["settlay_plan"] = 99.into();
    let mut older = plan.clone();
    older["passes"][0].as_object_mut().unwrap().remove("burns");
    let mut nameless = plan;
    nameless.as_object_mut().unwrap().remove("settlay_plan");
    for (old, part) in [
        (newer, "this plan is in format 99"),
        (older, "older settlay"),
        (nameless, "this is no plan: it has no settlay_plan"),
    ] {
        desk.put("plan/plan.json", old.to_string());
        let before = contents(&desk.at("plan"));
        desk.refuses(&["realign", "plan", "--pass", "1", "--mark-done"], 2, part);
        desk.refuses(&["offcuts", "--shelf", "shelf", "add", "--plan", "plan"], 2, part);
        desk.refuses(
            &["recut", "a.job.json", "--piece", "leaf", "--plan", "plan", "--out", "again"],
            2,
            part,
        );
        assert_eq!(contents(&desk.at("plan")), before);
        assert!(!desk.at("shelf").exists() && !desk.at("again").exists());
    }
}
