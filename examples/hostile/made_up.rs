//! Jobs made up by chance, drawing and all: each could be some maker's, most ask for more than can be had.

use serde_json::{Value, json};

use crate::chance::Chance;

/// A job and its drawing, as one JSON text: `{"job": …, "drawing": "<svg …"}`.
pub fn job(chance: &mut Chance) -> String {
    let (wide, high) = (chance.between(60.0, 900.0).round(), chance.between(60.0, 700.0).round());
    let cloths: Vec<Value> = (0..=chance.below(2)).map(|k| cloth(k, chance)).collect();
    let names: Vec<String> = (0..cloths.len()).map(|k| format!("cloth{k}")).collect();
    let layers = 1 + chance.below(3);
    let mut shapes = String::new();
    let mut rules = Vec::new();
    for layer in 0..layers {
        shapes.push_str(&format!("<g id=\"layer{layer}\">"));
        for shape in 0..=chance.below(7) {
            shapes.push_str(&outline(&format!("p{layer}-{shape}"), wide, high, chance));
        }
        shapes.push_str("</g>");
        rules.push(rule(&format!("layer{layer}"), &names[chance.below(names.len())], chance));
    }
    let drawing = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{wide}mm\" height=\"{high}mm\" viewBox=\"0 0 {wide} {high}\">{shapes}</svg>"
    );
    let bed = [chance.between(150.0, 1000.0).round(), chance.between(150.0, 700.0).round()];
    let mut job = json!({
        "settlay": 1, "title": "made up", "drawing": "drawing.svg", "cloths": cloths, "pieces": rules,
        "cutter": { "bed_mm": bed, "kerf_mm": chance.between(0.05, 0.4), "feed": chance.of_these(&["along-x", "along-y"]) },
        "lay": { "gap_mm": chance.between(0.5, 5.0), "effort": 1 + chance.below(30), "seed": 1 }
    });
    if chance.one_in(3) {
        job["frame"] =
            json!({ "field_mm": [chance.between(80.0, 400.0).round(), chance.between(80.0, 300.0).round()] });
    }
    if chance.one_in(4) {
        job["cutter"]["shared_band_mm"] = chance.between(20.0, 90.0).into();
    }
    if chance.one_in(6) {
        job["cutter"]["bridges"] = json!({ "every_mm": chance.between(50.0, 300.0), "width_mm": 0.6 });
    }
    json!({ "job": job, "drawing": drawing }).to_string()
}

fn cloth(k: usize, chance: &mut Chance) -> Value {
    let weave = chance.of_these(&["plain", "twill-z", "twill-s", "felt"]);
    let mut cloth = json!({ "name": format!("cloth{k}"), "width_mm": chance.between(100.0, 1500.0).round(),
        "edge_mm": chance.between(0.0, 15.0).round(), "weave": weave, "nap": weave != "felt" && chance.one_in(4) });
    if chance.one_in(2) {
        cloth["length_mm"] = chance.between(100.0, 3000.0).round().into();
    }
    if chance.one_in(5) {
        let (x, y) = (chance.between(10.0, 90.0), chance.between(10.0, 90.0));
        cloth["flaws_mm"] = json!([[[x, y], [x + 20.0, y], [x + 20.0, y + 30.0]]]);
    }
    if weave != "felt" && chance.one_in(2) {
        let warp = chance.of_these(&["N/6 G24 W4 G24 K/10", "A12 B12", "R/2 W/2", "N10 G3 W30 G3 K8"]);
        cloth["pattern"] = json!({ "warp": warp, "ends_per_cm": chance.between(8.0, 30.0),
            "picks_per_cm": chance.between(8.0, 30.0), "origin_mm": [chance.between(0.0, 60.0), chance.between(0.0, 60.0)],
            "skew_mm_per_m": if chance.one_in(4) { chance.between(-30.0, 30.0) } else { 0.0 } });
    }
    cloth
}

fn rule(layer: &str, cloth: &str, chance: &mut Chance) -> Value {
    let mut rule =
        json!({ "select": { "layer": layer }, "cloth": cloth, "allowance_mm": chance.between(0.0, 3.0) });
    if chance.one_in(2) {
        rule["match"] = chance.of_these(&["free", "drawn", "centred", "pair"]).into();
    }
    if chance.one_in(4) {
        rule["grain"] = chance.of_these(&["along", "across", "either", "any"]).into();
    }
    if chance.one_in(6) {
        rule["count"] = (1 + chance.below(4)).into();
    }
    if chance.one_in(6) {
        rule["grain_tolerance_deg"] = chance.between(0.0, 8.0).into();
    }
    if chance.one_in(6) {
        rule["underlap_mm"] = chance.between(1.0, 6.0).into();
    }
    rule
}

fn outline(id: &str, wide: f64, high: f64, chance: &mut Chance) -> String {
    let (x, y) = (chance.between(0.0, wide * 0.8), chance.between(0.0, high * 0.8));
    let (w, h) = (chance.between(8.0, wide * 0.5), chance.between(8.0, high * 0.5));
    match chance.below(5) {
        0 => format!("<rect id=\"{id}\" x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h:.1}\"/>"),
        1 => format!(
            "<ellipse id=\"{id}\" cx=\"{x:.1}\" cy=\"{y:.1}\" rx=\"{:.1}\" ry=\"{:.1}\"/>",
            w / 2.0,
            h / 2.0
        ),
        2 => {
            let corners: Vec<String> = (0..3 + chance.below(6))
                .map(|_| format!("{:.1},{:.1}", x + chance.between(0.0, w), y + chance.between(0.0, h)))
                .collect();
            format!("<polygon id=\"{id}\" points=\"{}\"/>", corners.join(" "))
        }
        3 => format!(
            "<path id=\"{id}\" fill-rule=\"evenodd\" d=\"M{x:.1} {y:.1}h{w:.1}v{h:.1}h-{w:.1}zm{:.1} {:.1}h{:.1}v{:.1}h-{:.1}z\"/>",
            w / 4.0,
            h / 4.0,
            w / 2.0,
            h / 2.0,
            w / 2.0
        ),
        _ => format!(
            "<path id=\"{id}\" d=\"M{x:.1} {y:.1}c{:.1} {:.1} {:.1} {:.1} {w:.1} {h:.1}c-{:.1} {:.1} -{:.1} -{:.1} -{w:.1} -{h:.1}z\"/>",
            w / 3.0,
            -h / 3.0,
            w,
            h / 3.0,
            w / 2.0,
            h / 4.0,
            w / 2.0,
            h / 5.0
        ),
    }
}
