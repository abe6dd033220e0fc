//! What is said of files that a maker hands over: never in the words of a program's inside.

use std::fs;

use serde_json::Value;

use crate::desk::*;

/// Words of the language the program is written in, and of its libraries.
const INSIDE: [&str; 14] = [
    "floating point",
    "sequence",
    "invalid type",
    "invalid value",
    "invalid length",
    "f64",
    "usize",
    "struct ",
    "unit",
    "variant",
    "EOF",
    "trailing",
    "expected ident",
    "os error",
];

fn says(desk: &Desk, words: &[&str], parts: &[&str]) {
    let ended = desk.run(words);
    assert_eq!(ended.code, Some(2), "{words:?}: {}{}", ended.out, ended.err);
    for part in parts {
        assert!(ended.err.contains(part), "{words:?}: {part}: {}", ended.err);
    }
    for word in INSIDE {
        assert!(!ended.err.contains(word), "{words:?}: {word}: {}", ended.err);
    }
}

#[test]
fn readings_are_told_by_file_field_and_line() {
    let desk = Desk::new();
    let form = |plug: &str| {
        format!(
            "{{\"callipers_mm\": 0.02,\n \"plug_x_mm\": {plug}, \"plug_y_mm\": [99.8], \"hole_x_mm\": [100.2], \"hole_y_mm\": [100.2],\n \
             \"diagonal_rising_mm\": [141.14], \"diagonal_falling_mm\": [141.14], \"gap_mm\": [2.2]}}"
        )
    };
    for (plug, parts) in [
        ("99.8", ["r.json: plug_x_mm: 99.8 stands alone", "(line 2)", "[99.8]"]),
        ("[\"99,8\"]", ["r.json: plug_x_mm: reading 1, \"99,8\"", "(line 2)", "99.8"]),
        ("[99.8, {}]", ["reading 2, {}: expected a number", "(line 2)", "r.json"]),
        ("[99.8,]", ["r.json: this is not JSON: ", "line 2", "comma"]),
        ("[99.8", ["r.json: ", "line ", "bracket"]),
    ] {
        desk.put("r.json", form(plug));
        says(&desk, &["gauge", "--measured", "r.json"], &parts);
    }
    desk.put("r.json", form("[99.8]"));
    assert_eq!(desk.run(&["gauge", "--measured", "r.json"]).code, Some(0));
}

#[test]
fn plans_records_marks_and_cloths_are_told_in_words() {
    let desk = Desk::new();
    desk.put("a.job.json", job().to_string());
    assert_eq!(desk.run(&["plan", "a.job.json", "--out", "p"]).code, Some(0));
    let plan = desk.at("p/plan.json");
    let whole = fs::read_to_string(&plan).unwrap();
    let with = |change: &dyn Fn(&mut Value)| {
        let mut value: Value = serde_json::from_str(&whole).unwrap();
        change(&mut value);
        fs::write(&plan, format!("{value:#}")).unwrap();
    };
    with(&|v| v["passes"][0]["number"] = 1.5.into());
    let realign = ["realign", "p", "--pass", "1", "--mark-done"];
    says(&desk, &realign, &["plan.json: passes[0].number: 1.5: expected a whole number, 0 or more (line "]);
    with(&|v| v["passes"][0]["burns"][0]["path"] = 99.8.into());
    says(&desk, &realign, &["passes[0].burns[0].path: 99.8: expected a list"]);
    with(&|v| v["pieces"][0]["shift"] = serde_json::json!([1]));
    says(&desk, &realign, &["pieces[0].shift: [1]: expected two of a kind in a list, [x, y]"]);
    with(&|v| drop(v["passes"][0].as_object_mut().unwrap().remove("margin_mm")));
    says(&desk, &realign, &["passes[0]: the field \"margin_mm\" is missing"]);
    fs::write(&plan, &whole[..whole.len() / 2]).unwrap();
    says(&desk, &realign, &["plan.json: this is not JSON: it ends too early"]);
    fs::write(&plan, &whole).unwrap();
    for (record, part) in [
        ("7", "7: expected fields in braces"),
        ("{\"settlay_done\": \"1\"}", "settlay_done: \"1\": expected a whole number"),
        ("{\"settlay_done\": 1, \"plan\": \"x\", \"passes\": 3.5}", "passes: 3.5: expected a list"),
        (
            "{\"settlay_done\": 1, \"plan\": 2, \"passes\": []}",
            "plan: 2: expected a text in quotation marks (line 1",
        ),
        ("{\"settlay_done\": 1, \"pasess\": []}", "there is no field \"pasess\" here; is \"passes\" meant?"),
        ("{\"settlay_done\": 1", "ends too early"),
    ] {
        desk.put("p/done.json", record);
        says(&desk, &realign, &["done.json: this is no record", part]);
    }
    fs::remove_file(desk.at("p/done.json")).unwrap();
    for (marks, part) in [
        ("[{\"name\": \"A\", \"x_mm\": \"12\", \"y_mm\": 3}]", "entry 1, x_mm: \"12\" is no number"),
        ("[{\"name\": \"A\", \"x_mm\": 12 \"y_mm\": 3}]", "this is not JSON: expected a comma"),
        ("[1.5]", "entry 1 "),
    ] {
        desk.put("m.json", marks);
        says(&desk, &["realign", "p", "--pass", "1", "--marks", "m.json"], &["m.json: ", part]);
    }
    desk.put("fen.json", "{\"name\": \"fen\", \"outline_mm\": 3.5}");
    says(&desk, &["offcuts", "--shelf", "s", "add", "fen.json"], &["outline_mm", "3.5: expected a list"]);
    desk.put("fen.json", "{\"name\": fen}");
    says(&desk, &["offcuts", "--shelf", "s", "add", "fen.json"], &["fen.json: this is not JSON: expected"]);
}

#[test]
fn a_damaged_shelf_is_told_in_words() {
    let desk = Desk::new();
    desk.put("fen.json", r#"{"name": "fen", "outline_mm": [[0, 0], [300, 0], [300, 210]]}"#);
    assert_eq!(desk.run(&["offcuts", "--shelf", ".", "add", "fen.json"]).code, Some(0));
    let whole = fs::read_to_string(desk.at("offcuts.json")).unwrap();
    for (from, to, part) in [
        ("\"area_mm2\":", "\"area_mm2\":[1],\"was\":", "area_mm2: [1]: expected a number"),
        ("\"state\":\"kept\"", "\"state\":7.5", "state: 7.5: expected"),
        ("\"id\":\"fen-1\",", "\"id\":\"fen-1\",\"sleeve\":1,", "there is no field \"sleeve\" here"),
    ] {
        desk.put("offcuts.json", whole.replace(from, to));
        let ended = desk.run(&["offcuts", "--shelf", ".", "list"]);
        assert!(ended.err.contains(part), "{from}: {}", ended.err);
        assert!(INSIDE.iter().all(|w| !ended.err.contains(w)), "{}", ended.err);
    }
}

#[test]
fn figures_on_the_command_line_are_told_in_words() {
    let desk = Desk::new();
    desk.put("a.job.json", job().to_string());
    for (words, part) in [
        (vec!["realign", "p", "--pass", "one", "--mark-done"], "expected a whole number"),
        (vec!["realign", "p", "--pass", "", "--mark-done"], "expected a whole number"),
        (vec!["check", "leaf.svg", "--width-mm", "wide"], "expected a number"),
        (vec!["table", "--port", "99999999999999999999999"], "--port"),
    ] {
        let ended = desk.run(&words);
        assert_eq!(ended.code, Some(2), "{words:?}");
        assert!(ended.err.contains(part), "{words:?}: {}", ended.err);
        assert!(["digit", "literal", "target type"].iter().all(|w| !ended.err.contains(w)), "{}", ended.err);
    }
}

#[test]
fn a_drawing_without_a_shape_is_not_called_faultless() {
    let desk = Desk::new();
    for inside in ["", "<g id='empty'/>", "<text id='words'>fen</text>"] {
        desk.put("none.svg", page(inside));
        let ended = desk.run(&["check", "none.svg", "--picture", "none.png"]);
        assert_eq!(ended.code, Some(1), "{inside}: {}{}", ended.out, ended.err);
        assert!(ended.out.contains("Nothing to cut: no shape"), "{inside}: {}", ended.out);
        assert!(!ended.out.to_lowercase().contains("no faults"), "{inside}: {}", ended.out);
        let json: Value = serde_json::from_str(&desk.run(&["check", "none.svg", "--json"]).out).unwrap();
        assert_eq!(json["shapes"], 0, "{inside}");
    }
}
