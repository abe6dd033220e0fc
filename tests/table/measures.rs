//! Measures that only the maker knows: the cutter's own file, its bed and kerf, the size of a drawing in pixels.

use serde_json::{Value, json};

use crate::client::{SVG, Table, command, folder, job};
use crate::work::laid;

/// A cutter with something in every corner of its description.
fn cutter() -> Value {
    json!({
        "bed_mm": [700, 500], "margin_mm": 8, "kerf_mm": 0.31, "cloth_face": "down", "feed": "along-y", "overhang": "along",
        "peg_strip_mm": 15, "border_mm": 4, "cut_mm_per_s": 22, "lead_in_mm": 2, "home": "far-right", "x_grows": "left",
        "y_grows": "near", "colours": { "outline": "#ff0000" }, "bridges": { "every_mm": 300, "width_mm": 0.6 },
        "layer_order": ["mark", "cutout", "outline"],
        "gcode": { "power_range": [0, 1000], "power_word": "S", "beam_on": "M3", "beam_off": "M5", "header": ["G17"], "footer": ["M2"] },
        "tested": [{ "cloth": "fen", "kind": "outline", "power": 420, "mm_per_s": 18 }]
    })
}

#[test]
fn a_cutter_taken_into_the_job_keeps_every_measure_of_its_file() {
    let place = folder();
    std::fs::write(place.path().join("bench.json"), cutter().to_string()).unwrap();
    let mut with = job();
    with["cutter"] = "bench.json".into();
    std::fs::write(place.path().join("leaf.job.json"), with.to_string()).unwrap();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let told = table.get("api/cutter");
    assert_eq!((&told["file"], &told["bed_mm"]), (&json!("bench.json"), &json!([700.0, 500.0])), "{told}");
    assert_eq!(
        (&told["kerf_mm"], &told["home"], &told["unsaid"]),
        (&json!(0.31), &json!("far-right"), &json!([]))
    );
    table.post("api/cutter/own", &json!({}));
    assert_eq!(table.get("api/state")["job"]["cutter"], cutter());
    assert!(table.get("api/cutter")["file"].is_null());
    assert_eq!(table.get("api/drawing")["troubles"], json!([]));
    table.try_post("POST", "api/cutter/own", table.revision(), &json!({})).problem(409);
    let file: Value =
        serde_json::from_slice(&std::fs::read(place.path().join("bench.json")).unwrap()).unwrap();
    assert_eq!(file, cutter(), "the file stays as it is");
    table.post("api/undo", &json!({}));
    assert_eq!(table.get("api/state")["job"]["cutter"], "bench.json");
    // A file that is gone or makes no sense is no cutter: nothing is forgotten.
    std::fs::write(place.path().join("bench.json"), r#"{"bed_mm": [700, 500], "kerf_mn": 0.3}"#).unwrap();
    let said = table.try_post("POST", "api/cutter/own", table.revision(), &json!({})).problem(422);
    assert!(said["detail"].as_str().unwrap().contains("kerf_mn"), "{said}");
    std::fs::remove_file(place.path().join("bench.json")).unwrap();
    table.try_post("POST", "api/cutter/own", table.revision(), &json!({})).problem(422);
    assert_eq!(table.get("api/state")["job"]["cutter"], "bench.json");
}

#[test]
fn no_plan_is_made_on_a_bed_and_a_kerf_that_nobody_named() {
    let place = folder();
    let mut bare = job();
    bare.as_object_mut().unwrap().remove("cutter");
    std::fs::write(place.path().join("leaf.job.json"), bare.to_string()).unwrap();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    laid(&table);
    let refused = table.try_post("POST", "api/plan", table.revision(), &json!({})).problem(409);
    assert_eq!(refused["unsaid"], json!(["bed_mm", "kerf_mm"]));
    assert!(
        refused["detail"]
            .as_str()
            .unwrap()
            .contains("how large the cutter’s bed is and how wide the kerf is")
    );
    assert!(!place.path().join("leaf-cut").exists());
    // Said once, be it what was taken before, it is asked no more.
    bare["cutter"] = json!({ "bed_mm": [900, 600], "kerf_mm": 0.2 });
    table.put_job(&bare);
    assert_eq!(table.get("api/cutter")["unsaid"], json!([]));
    table.post("api/plan", &json!({}));
    assert_eq!(table.idle()["has_plan"], true);
}

#[test]
fn the_size_of_a_drawing_in_pixels_is_asked_for_once() {
    let place = tempfile::tempdir().unwrap();
    let in_pixels = SVG.replace("width='600mm' height='400mm'", "width='2268' height='1512'");
    std::fs::write(place.path().join("leaf.svg"), &in_pixels).unwrap();
    std::fs::write(place.path().join("leaf.job.json"), job().to_string()).unwrap();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let drawing = table.get("api/drawing");
    assert_eq!((&drawing["measured"], &drawing["size_said"]), (&json!(false), &json!(false)));
    laid(&table);
    let refused = table.try_post("POST", "api/plan", table.revision(), &json!({})).problem(409);
    assert_eq!(refused["unsaid"], json!(["drawing_scale"]));
    let mut said = job();
    said["drawing_scale"] = json!(1.0);
    table.put_job(&said);
    assert_eq!(table.get("api/drawing")["size_said"], true);
    assert_eq!(table.get("api/lay")["stale"], false, "it is the size it was");
    table.post("api/plan", &json!({}));
    assert_eq!(table.idle()["has_plan"], true);
    // Of another drawing, of another size, it was not said.
    let other = in_pixels.replace("2268", "2000");
    assert_eq!(table.drawing("leaf.svg&over=1", table.revision(), other.as_bytes()).status, 200);
    assert_eq!(table.get("api/cutter")["unsaid"], json!(["drawing_scale"]));
}

/// On the command line nobody can be asked: it is told, with the measure that is taken.
#[test]
fn the_command_line_tells_what_nobody_has_said() {
    let place = tempfile::tempdir().unwrap();
    let in_pixels = SVG.replace("width='600mm' height='400mm'", "width='2268' height='1512'");
    std::fs::write(place.path().join("leaf.svg"), in_pixels).unwrap();
    let mut bare = job();
    bare.as_object_mut().unwrap().remove("cutter");
    std::fs::write(place.path().join("leaf.job.json"), bare.to_string()).unwrap();
    let ran = |words: &[&str]| {
        let out = command(place.path(), words).output().unwrap();
        assert!(out.status.code().unwrap() < 2, "{}", String::from_utf8_lossy(&out.stderr));
        format!("{}{}", String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr))
    };
    let words: [&[&str]; 3] =
        [&["check", "leaf.job.json"], &["lay", "leaf.job.json"], &["plan", "leaf.job.json", "--out", "out"]];
    // 2268 × 1512 px at 96 to the inch: 600.075 × 400.05 mm.
    let wanted = ["900 × 600 mm", "0.2 mm is taken", "600.08 × 400.05 mm"];
    for words in words {
        let said = ran(words).replace("\n", " ");
        let said: String = said.split_whitespace().collect::<Vec<_>>().join(" ");
        for w in wanted {
            assert!(said.contains(w), "{words:?} does not say {w}: {said}");
        }
    }
    let report = std::fs::read_to_string(place.path().join("out/report.html")).unwrap();
    assert!(wanted.iter().all(|w| report.contains(w)));
    bare["cutter"] = json!({ "bed_mm": [900, 600], "kerf_mm": 0.2 });
    bare["drawing_scale"] = json!(1);
    std::fs::write(place.path().join("leaf.job.json"), bare.to_string()).unwrap();
    let said = ran(&["check", "leaf.job.json"]);
    assert!(!said.contains("is taken") && !said.contains("If that is wrong"), "{said}");
}
