//! A cutter in a file of its own, what it refuses, and the gauge: as a maker meets them.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;

use assert_cmd::Command;
use serde_json::{Value, json};

fn settlay(folder: &Path, words: &[&str]) -> (i32, String, String) {
    let ran = Command::cargo_bin("settlay").unwrap().current_dir(folder).args(words).output().unwrap();
    let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
    (ran.status.code().unwrap(), text(ran.stdout), text(ran.stderr))
}

fn stole(folder: &Path, cutter: &Value) {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/stole");
    std::fs::copy(from.join("stole.svg"), folder.join("stole.svg")).unwrap();
    let mut job: Value =
        serde_json::from_slice(&std::fs::read(from.join("stole.job.json")).unwrap()).unwrap();
    let mut own = job["cutter"].clone();
    for (key, value) in cutter.as_object().unwrap() {
        own[key] = value.clone();
    }
    job["lay"]["effort"] = 1.into();
    job["cutter"] = "my-cutter.json".into();
    std::fs::write(folder.join("my-cutter.json"), own.to_string()).unwrap();
    std::fs::write(folder.join("stole.job.json"), job.to_string()).unwrap();
}

#[test]
fn a_cutter_of_its_own_file_gives_gcode_only_where_power_was_tested() {
    let desk = tempfile::tempdir().unwrap();
    let gcode = json!({"power_range": [0, 100], "decimals": 4, "line_numbers": true});
    stole(desk.path(), &json!({"gcode": gcode, "home": "far-left"}));
    let (code, _, errors) = settlay(desk.path(), &["plan", "stole.job.json", "--out", "plan"]);
    assert_eq!(code, 0, "{errors}");
    let files = |ending: &str| {
        let all = std::fs::read_dir(desk.path().join("plan/cut")).unwrap();
        all.filter(|e| e.as_ref().unwrap().file_name().to_string_lossy().ends_with(ending)).count()
    };
    let rehearsals = files("-rehearsal.gcode");
    assert!(rehearsals > 0 && files(".gcode") == rehearsals, "nothing is burnt without a tested power");
    let plan = std::fs::read_to_string(desk.path().join("plan/plan.json")).unwrap();
    assert!(plan.contains("No power and speed found by test"));

    stole(
        desk.path(),
        &json!({"gcode": gcode, "tested": [{"power": 40, "mm_per_s": 20}], "home": "near-right"}),
    );
    assert_eq!(settlay(desk.path(), &["plan", "stole.job.json", "--out", "plan"]).0, 0);
    assert_eq!(files(".gcode"), 2 * rehearsals);

    // A pass realigned by a plan whose power is gone keeps no G-code of where it was to lie before.
    let file = desk.path().join("plan/plan.json");
    let mut plan: Value = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
    let found = plan["passes"][1]["marks"].as_array().unwrap().iter().filter(|m| m["burnt_here"] == false);
    let rows: Vec<String> = found
        .map(|m| {
            let [x, y] = [0, 1].map(|k| m["bed"][k].as_f64().unwrap() + 1.0);
            format!("{},{x},{y}\n", m["name"].as_str().unwrap())
        })
        .collect();
    std::fs::write(desk.path().join("marks.csv"), format!("name,x_mm,y_mm\n{}", rows.concat())).unwrap();
    let realign = ["realign", "plan", "--pass", "2", "--marks", "marks.csv"];
    plan["cutter"]["gcode"]["header"] = json!(["M3 S50"]);
    std::fs::write(&file, plan.to_string()).unwrap();
    let (code, _, errors) = settlay(desk.path(), &realign);
    assert!(code == 2 && errors.contains("cutter.gcode.header[0]"), "{errors}");
    plan["cutter"]["gcode"]["header"] = json!([]);
    plan["cutter"]["tested"] = json!([]);
    std::fs::write(&file, plan.to_string()).unwrap();
    let (code, said, errors) = settlay(desk.path(), &realign);
    assert!(code == 0 && said.contains("there is no G-code for this pass"), "{said}{errors}");
    assert_eq!(files("pass-2.gcode"), 0);
    assert_eq!(files("pass-2-rehearsal.gcode"), 1);
    assert_eq!(files(".gcode"), 2 * rehearsals - 1);
}

#[test]
fn lead_ins_without_room_and_bridges_that_leave_much_to_scissors_are_told() {
    let plan = |lead_in: f64, every: f64, width: f64| -> Value {
        let desk = tempfile::tempdir().unwrap();
        let bridges = json!({"every_mm": every, "width_mm": width});
        stole(desk.path(), &json!({"lead_in_mm": lead_in, "bridges": bridges}));
        let (code, _, errors) = settlay(desk.path(), &["plan", "stole.job.json", "--out", "plan"]);
        assert_eq!(code, 0, "{errors}");
        serde_json::from_slice(&std::fs::read(desk.path().join("plan/plan.json")).unwrap()).unwrap()
    };
    let count = |plan: &Value, what: &str, asked: &dyn Fn(&Value) -> bool| {
        let all = plan["passes"].as_array().unwrap().iter().flat_map(|p| p[what].as_array().unwrap());
        all.filter(|v| asked(v)).count()
    };
    let closed = |plan: &Value, led: bool| {
        let is = |b: &Value| b["closed"] == true && b.get("lead_in").is_some_and(|l| !l.is_null()) == led;
        count(plan, "burns", &is)
    };
    let told = |plan: &Value| {
        let notes = plan["notes"].to_string();
        [notes.contains("no room for a lead-in"), notes.contains("to cut by hand")]
    };
    let modest = plan(1.0, 300.0, 0.6);
    assert!(closed(&modest, true) > 0 && closed(&modest, false) == 0 && told(&modest) == [false; 2]);
    let immodest = plan(40.0, 30.0, 14.0);
    assert!(closed(&immodest, false) > 0 && told(&immodest) == [true; 2], "{}", immodest["notes"]);
    assert!(count(&modest, "bridges", &|_| true) < count(&immodest, "bridges", &|_| true));
}

#[test]
fn a_machine_that_contradicts_itself_is_refused_and_the_file_named() {
    let gcode = json!({"power_range": [0, 100]});
    for (cutter, part) in [
        (json!({"home": "near-right", "x_grows": "right"}), "my-cutter.json: x_grows"),
        (json!({"home": "near-left", "mirrored": true}), "mirrored: true: expected false"),
        (json!({"gcode": gcode, "tested": [{"power": 900, "mm_per_s": 20}]}), "range, 0 to 100"),
        (json!({"layer_order": ["outline", "cutout", "mark"]}), "cutout before outline"),
        (
            json!({"gcode": {"power_range": [0, 1], "header": ["G1 X9999"]}}),
            "every move must come from the plan",
        ),
        (json!({"gcode": {"power_range": [0, 1], "units_word": "G20"}}), "G21 or G71"),
        (json!({"kerf": 1}), "unknown field"),
        (json!({"curve_error_mm": 0.001}), "expected 0.01 or more"),
    ] {
        let desk = tempfile::tempdir().unwrap();
        stole(desk.path(), &cutter);
        let (code, _, errors) = settlay(desk.path(), &["plan", "stole.job.json", "--out", "plan"]);
        assert_eq!(code, 2, "{cutter}: {errors}");
        assert!(errors.contains(part), "{cutter}: {errors}");
        assert!(!desk.path().join("plan").exists());
    }
    let desk = tempfile::tempdir().unwrap();
    stole(desk.path(), &json!({}));
    std::fs::remove_file(desk.path().join("my-cutter.json")).unwrap();
    let (code, _, errors) = settlay(desk.path(), &["plan", "stole.job.json", "--out", "plan"]);
    assert!(code == 2 && errors.contains("my-cutter.json: there is no such file"), "{errors}");
}

#[test]
fn the_gauge_is_written_and_its_readings_understood() {
    let desk = tempfile::tempdir().unwrap();
    assert_eq!(settlay(desk.path(), &["gauge", "--out", "gauge"]).0, 0);
    for name in ["gauge.svg", "gauge.dxf", "readings-to-fill-in.json"] {
        assert!(desk.path().join("gauge").join(name).exists(), "{name}");
    }
    let (code, _, errors) = settlay(desk.path(), &["gauge", "--measured", "gauge/readings-to-fill-in.json"]);
    assert!(code == 2 && errors.contains("plug_x_mm"), "{errors}");
    let readings = json!({"callipers_mm": 0.02, "plug_x_mm": [99.8], "plug_y_mm": [99.8], "hole_x_mm": [100.2],
        "hole_y_mm": [100.2], "diagonal_rising_mm": [141.14], "diagonal_falling_mm": [141.14], "gap_mm": [2.2]});
    std::fs::write(desk.path().join("r.json"), readings.to_string()).unwrap();
    let (code, said, _) = settlay(desk.path(), &["gauge", "--measured", "r.json"]);
    assert!(code == 0 && said.contains("\"kerf_mm\": 0.200"), "{said}");
    assert_eq!(settlay(desk.path(), &["gauge"]).0, 2);
}

const READINGS: &str = r#"{"callipers_mm": 0.02, "plug_x_mm": [99.8], "plug_y_mm": [99.8], "hole_x_mm": [100.2],
    "hole_y_mm": [100.2], "diagonal_rising_mm": [141.14], "diagonal_falling_mm": [141.14], "gap_mm": [2.2]}"#;

#[test]
fn the_gauge_tells_how_it_is_held_once_it_is_out_of_the_machine() {
    let desk = tempfile::tempdir().unwrap();
    let (code, said, _) = settlay(desk.path(), &["gauge", "--out", "gauge"]);
    let form = std::fs::read(desk.path().join("gauge/readings-to-fill-in.json")).unwrap();
    let mut form: Value = serde_json::from_slice(&form).unwrap();
    for line in form["how_to_hold"].as_array().unwrap() {
        assert!(code == 0 && said.contains(line.as_str().unwrap()), "{line}");
    }
    for words in [
        "near left and points to the right",
        "turn the piece over",
        "x runs along",
        "Rising is",
        "Falling is",
    ] {
        assert!(form["how_to_hold"].to_string().contains(words), "{words}");
    }
    let readings: Value = serde_json::from_str(READINGS).unwrap();
    for (key, value) in readings.as_object().unwrap() {
        form[key] = value.clone();
    }
    std::fs::write(desk.path().join("r.json"), form.to_string()).unwrap();
    assert_eq!(settlay(desk.path(), &["gauge", "--measured", "r.json"]).0, 0);
}

#[test]
fn a_gauge_without_a_tested_power_says_why_it_has_no_gcode() {
    let desk = tempfile::tempdir().unwrap();
    let run = |tested: Value, words: &[&str]| {
        let cutter = json!({"gcode": {"power_range": [0, 100]}, "tested": tested});
        std::fs::write(desk.path().join("c.json"), cutter.to_string()).unwrap();
        let all = [&["gauge", "--out", "gauge", "--cutter", "c.json"], words].concat();
        let (code, said, errors) = settlay(desk.path(), &all);
        assert_eq!(code, 0, "{errors}");
        assert!(desk.path().join("gauge/gauge-rehearsal.gcode").exists());
        (said, desk.path().join("gauge/gauge.gcode").exists())
    };
    let whole = json!([{"cloth": "check", "power": 40, "mm_per_s": 20}]);
    let (said, code) = run(whole.clone(), &["--cloth", "check"]);
    assert!(code && !said.contains("No power"), "{said}");
    // The code of the earlier gauge does not stay beside the new one.
    let (said, code) = run(whole, &[]);
    assert!(!code && said.contains("caution: cloth gauge: No power and speed found by test"), "{said}");
    assert!(said.contains("for cutout and outline") && said.contains("with --cloth: check."), "{said}");
    let (said, code) = run(json!([{"kind": "outline", "power": 40, "mm_per_s": 20}]), &["--cloth", "twill"]);
    assert!(!code && said.contains("for cutout on it") && said.contains("\"cloth\": \"twill\""), "{said}");
    assert!(!said.contains("with --cloth"), "{said}");
}

#[test]
fn what_is_wrong_with_readings_or_bed_of_a_gauge_is_told_in_its_own_words() {
    let desk = tempfile::tempdir().unwrap();
    let refused = |words: &[&str]| {
        let (code, said, errors) = settlay(desk.path(), &[&["gauge"], words].concat());
        assert!(code != 0 && said.is_empty(), "{said}");
        (code, errors)
    };
    let put = |name: &str, text: &str| std::fs::write(desk.path().join(name), text).unwrap();
    let measured = ["--measured", "r.json"];
    let (code, errors) = refused(&measured);
    assert!(code == 2 && errors.contains("r.json: there is no such file\n"), "{errors}");
    put("r.json", &format!("{READINGS}{}", " ".repeat(3 << 20)));
    let (code, errors) = refused(&measured);
    assert!(code == 2 && errors.contains("too large for readings: 3.0 MB, 1 MB at most"), "{errors}");
    let (code, errors) = refused(&["--measured", "."]);
    assert!(code == 2 && errors.contains("this is a folder"), "{errors}");
    put("r.json", &READINGS.replace("[100.2]", "[1e308]"));
    let (code, errors) = refused(&measured);
    assert!(code == 2 && errors.contains("hole_x_mm: 1e308: expected") && errors.len() < 200, "{errors}");
    put("r.json", &READINGS.replacen("[99.8]", "[99.8, 99.82, 98.1]", 1));
    let (code, errors) = refused(&measured);
    assert!(code == 2 && errors.contains("plug_x_mm: reading 3, 98.1 mm, lies 1.70 mm off"), "{errors}");

    let fits = "the gauge does not fit on the bed: it needs 132 × 167 mm";
    put("small.json", &json!({"bed_mm": [120, 160], "shared_band_mm": 60}).to_string());
    let (code, errors) = refused(&["--out", "gauge", "--cutter", "small.json"]);
    assert!(code == 1 && errors.contains(fits), "{errors}");
    assert!(!desk.path().join("gauge").exists());
}
