//! Work that is partly cut: nothing is recorded unasked, what is recorded can be taken back, and words can still be changed.

use std::fs;
use std::path::Path;

use serde_json::{Value, json};

use crate::client::{Table, folder};
use crate::work::{number, placed, plan_several_passes};

/// Marks of a pass as measured with the cloth put down a little off.
fn marks(table: &Table, pass: u64) -> Vec<Value> {
    let plan = table.get("api/plan");
    let passes = plan["passes"].as_array().unwrap();
    let of = passes.iter().find(|p| p["number"] == pass).unwrap();
    let known = of["marks"].as_array().unwrap().iter().filter(|m| m["burnt_here"] == false);
    known
        .map(|m| json!({ "name": m["name"], "x_mm": number(&m["bed"][0]) + 1.5, "y_mm": number(&m["bed"][1]) - 1.0 }))
        .collect()
}

fn cut(table: &Table) -> Vec<u64> {
    let passes = table.get("api/passes");
    let all = passes.as_array().unwrap().iter().filter(|p| p["done"].is_string());
    all.map(|p| p["pass"].as_u64().unwrap()).collect()
}

/// All files for the cutter, and the record, by name and contents.
fn cut_files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = fs::read_dir(folder.join("leaf-cut/cut"))
        .unwrap()
        .map(|e| e.unwrap().path())
        .map(|p| (p.file_name().unwrap().to_string_lossy().into_owned(), fs::read(&p).unwrap()))
        .collect();
    all.sort();
    all.push(("done".into(), fs::read(folder.join("leaf-cut/done.json")).unwrap_or_default()));
    all
}

#[test]
fn correcting_a_pass_asks_before_it_records_an_earlier_one_and_both_can_be_taken_back() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    plan_several_passes(&table);
    let planned = table.get("api/plan");
    let body = json!({ "cloth": "fen", "marks": marks(&table, 2) });
    let with = |key: &str| {
        let mut body = body.clone();
        body[key] = true.into();
        body
    };
    let tried = table.post("api/passes/2/realign", &with("try"));
    assert_eq!(tried["records"], json!([1]), "said beforehand");
    let refused = table.try_post("POST", "api/passes/2/realign", 0, &body).problem(409);
    assert_eq!(refused["records"], json!([1]));
    assert!(refused["detail"].as_str().unwrap().contains("pass 1"), "{refused}");
    assert_eq!((table.get("api/plan"), cut(&table)), (planned.clone(), vec![]), "nothing is written unasked");
    let done = table.post("api/passes/2/realign", &with("earlier_cut"));
    assert_eq!(done["records"], json!([1]));
    assert_eq!(cut(&table), [1]);
    assert_ne!(table.get("api/plan")["passes"], planned["passes"]);
    // A second correction records nothing more, and asks nothing.
    let again = json!({ "cloth": "fen", "marks": marks(&table, 2) });
    assert_eq!(table.post("api/passes/2/realign", &again)["records"], json!([]));
    // Taken back, the whole of it: the marks that corrected pass 2 are on no cloth.
    let back = json!({ "cloth": "fen", "done": false, "try": true });
    let would = table.post("api/passes/1/done", &back);
    assert_eq!(would["as_planned_again"], json!([2]), "{would}");
    assert!(would["said"][0].as_str().unwrap().starts_with("Pass 2"), "{would}");
    assert_eq!(cut(&table), [1], "only tried");
    table.post("api/passes/1/done", &json!({ "cloth": "fen", "done": false }));
    assert_eq!(cut(&table), Vec::<u64>::new());
    assert_eq!(table.get("api/plan")["passes"], planned["passes"]);
    assert_eq!(table.get("api/plan")["notes"], planned["notes"]);
    table.try_post("POST", "api/passes/1/done", 0, &json!({ "cloth": "fen", "done": false })).problem(422);
    // Nothing is recorded now, so a new plan may take its place.
    table.post("api/plan", &json!({}));
    assert_eq!(table.idle()["has_plan"], true);
}

#[test]
fn a_pass_is_not_taken_back_while_a_later_one_is_cut() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    plan_several_passes(&table);
    for pass in [1, 2] {
        table.post(&format!("api/passes/{pass}/done"), &json!({ "cloth": "fen", "done": true }));
    }
    let before = cut_files(place.path());
    let may = |pass: usize| table.get("api/passes")[pass - 1]["may_take_back"].clone();
    assert_eq!((may(1), may(2)), (json!(false), json!(true)));
    let refused = table.try_post("POST", "api/passes/1/done", 0, &json!({ "done": false })).problem(422);
    assert!(refused["detail"].as_str().unwrap().contains("pass 2"), "{refused}");
    assert_eq!(cut_files(place.path()), before);
    for (pass, left) in [(2, vec![1]), (1, vec![])] {
        table.post(&format!("api/passes/{pass}/done"), &json!({ "done": false }));
        assert_eq!(cut(&table), left);
    }
    // The record is whole and read again, with nothing in it.
    let record: Value =
        serde_json::from_slice(&fs::read(place.path().join("leaf-cut/done.json")).unwrap()).unwrap();
    assert_eq!((&record["settlay_done"], &record["passes"]), (&json!(1), &json!([])));
}

#[test]
fn title_price_and_frame_change_what_is_told_and_nothing_that_is_cut() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    plan_several_passes(&table);
    let body = json!({ "cloth": "fen", "marks": marks(&table, 2), "earlier_cut": true });
    table.post("api/passes/2/realign", &body);
    let (plan, files) = (table.get("api/plan"), cut_files(place.path()));
    let mut job = table.get("api/state")["job"].clone();
    job["title"] = "Oak leaf".into();
    job["cloths"][0]["price_per_m"] = 40.into();
    job["cloths"][0]["weight_g_per_m2"] = 600.into();
    job["frame"] = json!({ "field_mm": [360, 200] });
    table.put_job(&job);
    let state = table.get("api/state");
    assert_eq!(
        (&state["has_plan"], &state["plan_cut"], &state["plan_changed"]),
        (&json!(true), &json!(true), &json!([]))
    );
    assert_eq!(
        state["plan_retold"],
        json!(["the title", "what the cloths cost or weigh", "the embroidery frame"]),
        "{state}"
    );
    assert_eq!(table.get("api/lay")["stale"], false, "neither moves a piece");
    assert_eq!(table.try_post("POST", "api/plan/words", table.revision(), &json!({})).status, 202);
    let state = table.idle();
    assert_eq!((&state["has_plan"], &state["plan_retold"]), (&json!(true), &json!([])), "{state}");
    let new = table.get("api/plan");
    assert_eq!((&new["passes"], &new["pieces"]), (&plan["passes"], &plan["pieces"]));
    assert_eq!(cut_files(place.path()), files, "byte for byte");
    assert_eq!(cut(&table), [1]);
    assert_eq!(new["title"], "Oak leaf");
    assert_eq!(number(&new["cloths"][0]["cost"]), 40.0 * number(&new["cloths"][0]["buy_length_mm"]) / 1000.0);
    let waste = new["cloths"][0]["waste_g"].as_f64().unwrap() / 600.0;
    let before = plan["cloths"][0].get("waste_g").and_then(Value::as_f64);
    let weighed = before.map(|g| g / number(&plan["cloths"][0]["described"]["weight_g_per_m2"]));
    assert!(waste > 0.0 && weighed.is_none_or(|w| (w - waste).abs() < 1e-3 * waste), "{waste} {weighed:?}");
    assert!(!new["sewing"]["hoopings"].as_array().unwrap().is_empty());
    let written = |f: &str| place.path().join("leaf-cut").join(f);
    assert!(written("sewing/hooping-1.pdf").is_file());
    assert!(fs::read_to_string(written("report.html")).unwrap().contains("Oak leaf"));
    // The rest is cut by it as before: the record is still that of this plan.
    table.post("api/passes/2/done", &json!({ "cloth": "fen", "done": true }));
    assert_eq!(cut(&table), [1, 2]);
    // Without a frame again: its files go.
    job.as_object_mut().unwrap().remove("frame");
    table.put_job(&job);
    table.post("api/plan/words", &json!({}));
    table.idle();
    assert!(table.get("api/plan")["sewing"].is_null() && !written("sewing").exists());
}

#[test]
fn a_cut_plan_that_no_longer_fits_stays_in_sight_and_says_what_changed() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    plan_several_passes(&table);
    let lay = table.get("api/lay");
    let ring = placed(&lay, "ring", 1);
    let moves = json!({ "moves": [{ "piece": ring["piece"], "copy": 1, "turn_deg": ring["turn_deg"],
        "shift": [number(&ring["shift"][0]), number(&ring["shift"][1]) + 400.0] }] });
    // Nothing is cut yet: a plan of another lay is none.
    table.post("api/lay/move", &moves);
    assert_eq!(table.get("api/state")["has_plan"], false);
    table.post("api/undo", &json!({}));
    assert_eq!(table.get("api/state")["has_plan"], true);
    table.post("api/passes/1/done", &json!({ "cloth": "fen", "done": true }));
    let plan = table.get("api/plan");
    table.post("api/lay/move", &moves);
    let mut job = table.get("api/state")["job"].clone();
    job["cutter"]["kerf_mm"] = json!(0.3);
    job["title"] = "Another".into();
    table.put_job(&job);
    let state = table.get("api/state");
    assert_eq!(
        (&state["has_plan"], &state["plan_changed"]),
        (&json!(true), &json!(["the kerf", "the lay"])),
        "{state}"
    );
    assert_eq!((table.get("api/plan"), cut(&table)), (plan, vec![1]));
    let refused = table.try_post("POST", "api/plan/words", table.revision(), &json!({})).problem(409);
    assert!(refused["detail"].as_str().unwrap().contains("the kerf, the lay"), "{refused}");
    table.try_post("POST", "api/plan", table.revision(), &json!({})).problem(422);
    for _ in 0..2 {
        table.post("api/undo", &json!({}));
    }
    assert_eq!(table.get("api/state")["plan_changed"], json!([]));
    // What is locked, and how long is searched, decides nothing that is cut.
    table.post("api/lay/lock", &json!({ "pieces": [[ring["piece"], 1]], "locked": true }));
    let state = table.get("api/state");
    assert_eq!((&state["plan_changed"], &state["plan_retold"]), (&json!([]), &json!([])), "{state}");
}

/// Every crossing asked for before a first pass lies on the cloth and under the head; worked out anew from the plan.
#[test]
fn pivots_are_asked_for_only_where_cloth_lies() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    plan_several_passes(&table);
    let plan = table.get("api/plan");
    let (pass, cloth) = (&plan["passes"][0], &plan["cloths"][0]);
    let six: Vec<f64> = pass["cloth_to_bed"].as_array().unwrap().iter().map(number).collect();
    let [a, b, c, d, e, f] = six[..] else { panic!("{pass}") };
    let det = a * d - b * c;
    let corners = cloth["outline"].as_array().unwrap();
    let most = |k: usize| corners.iter().map(|p| number(&p[k])).fold(0.0, f64::max);
    let edge = number(&cloth["edge_mm"]);
    let asked = table.get("api/passes")[0]["measure"].clone();
    assert!(asked.as_array().unwrap().len() >= 3, "{asked}");
    for m in asked.as_array().unwrap() {
        let [u, v] = [number(&m["bed"][0]) - e, number(&m["bed"][1]) - f];
        let [x, y] = [(d * u - c * v) / det, (a * v - b * u) / det];
        assert!(x > edge && x < most(0) - edge && y > edge && y < most(1) - edge, "{m} lies at {x}, {y}");
    }
    // They are taken as they are asked for.
    let marks: Vec<Value> = asked
        .as_array()
        .unwrap()
        .iter()
        .map(|m| json!({ "name": m["name"], "x_mm": m["bed"][0], "y_mm": m["bed"][1] }))
        .collect();
    let said = table.post("api/passes/1/realign", &json!({ "cloth": "fen", "marks": marks, "try": true }));
    assert!(number(&said["shift_mm"][0]).hypot(number(&said["shift_mm"][1])) < 1e-3, "{said}");
    assert_eq!(said["records"], json!([]));
}
