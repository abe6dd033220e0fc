//! What a plan was made of, part by part: what has changed since, and whether its cut lines depend on that.

use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::disk::fingerprint;
use super::working_copy::{Lies, Name};
use crate::cloth::{self, Cloth};
use crate::job::{ClothSpec, Cutter, Job, PatternSpec};

/// What a plan was made of, as it is kept with the working copy.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Planned {
    /// One fingerprint of everything, as earlier versions kept it.
    Whole(String),
    /// A fingerprint of every part.
    Parts(Parts),
}

/// Fingerprints of the parts, each under its name in words, in the order they are told.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Parts {
    /// What the cut lines depend on.
    cut: Vec<(String, String)>,
    /// What is only told or sewn: title, prices, looks, frame, sheets.
    told: Vec<(String, String)>,
}

impl Parts {
    /// The parts of a job whose drawing has the fingerprint `drawing` and whose pieces lie as `lies` says.
    ///
    /// `contradicted`: cloths whose photograph shows that a half turn does not leave them the same, though they are said to be.
    pub fn of(job: &Job, drawing: &str, lies: &BTreeMap<Name, Lies>, contradicted: &[String]) -> Parts {
        let mut cut: Vec<(String, Value)> = vec![
            ("the drawing".into(), json!(drawing)),
            ("the drawing’s scale".into(), json!(job.drawing_scale)),
        ];
        let weight_matters = job.cutter.bridges.is_some();
        cut.extend(
            job.cloths.iter().map(|c| (format!("cloth {}", c.name), json!(as_cut(c, weight_matters)))),
        );
        cut.push(("which shapes are cut from what, and how".into(), json!(job.pieces)));
        let plain = Cutter::default();
        let Cutter { bed_mm, margin_mm, kerf_mm, .. } = job.cutter;
        cut.push(("the cutter’s bed".into(), json!([bed_mm.to_vec(), vec![margin_mm]])));
        cut.push(("the kerf".into(), json!(kerf_mm)));
        let rest = Cutter {
            bed_mm: plain.bed_mm,
            margin_mm: plain.margin_mm,
            kerf_mm: plain.kerf_mm,
            ..job.cutter.clone()
        };
        cut.push(("the cutter".into(), json!(rest)));
        cut.push(("the gap between pieces".into(), json!(job.lay.gap_mm)));
        if !contradicted.is_empty() {
            cut.push(("what a photograph shows of a half turn".into(), json!(contradicted)));
        }
        cut.push(("the lay".into(), json!(lies.iter().collect::<Vec<_>>())));
        let told = vec![
            ("the title".into(), json!(job.title)),
            ("what the cloths cost or weigh".into(), job.cloths.iter().map(as_bought).collect()),
            ("how the cloths look".into(), job.cloths.iter().map(as_seen).collect()),
            ("the embroidery frame".into(), json!(job.frame)),
            ("the sheets".into(), json!(job.sheets)),
        ];
        let printed = |parts: Vec<(String, Value)>| {
            parts.into_iter().map(|(name, v)| (name, fingerprint(&[v.to_string().as_bytes()]))).collect()
        };
        Parts { cut: printed(cut), told: printed(told) }
    }

    /// What the cut lines depend on that differs from `now`, by name.
    pub fn cut_changed(&self, now: &Parts) -> Vec<String> {
        differing(&self.cut, &now.cut)
    }

    /// What else differs, by name.
    pub fn told_changed(&self, now: &Parts) -> Vec<String> {
        differing(&self.told, &now.told)
    }
}

/// Names of parts that differ, or that only one of them has.
fn differing(before: &[(String, String)], now: &[(String, String)]) -> Vec<String> {
    let of = |all: &[(String, String)], name: &str| all.iter().find(|p| p.0 == name).map(|p| p.1.clone());
    let gone = before.iter().filter(|p| of(now, &p.0).is_none());
    let other = now.iter().filter(|p| of(before, &p.0).as_ref() != Some(&p.1));
    other.chain(gone).map(|p| p.0.clone()).collect()
}

/// The cloths whose photograph, looked for in `folder`, shows that a half turn does not leave them the same, though they
/// are said to be.
pub fn contradicted(job: &Job, folder: &Path) -> Vec<String> {
    let shown = |spec: &ClothSpec| {
        let (mut cloth, _) = cloth::understand(spec, "cloth").ok().filter(|_| says_so(spec))?;
        cloth::take_up(&mut cloth, spec, folder, "cloth").ok()?;
        Some(cloth)
    };
    let against = |spec: &&ClothSpec| shown(spec).is_some_and(|cloth| is_contradicted(spec, &cloth));
    job.cloths.iter().filter(against).map(|c| c.name.clone()).collect()
}

/// True when `cloth`, its photograph taken up, is not what `spec` says of a half turn.
pub fn is_contradicted(spec: &ClothSpec, cloth: &Cloth) -> bool {
    says_so(spec) && cloth.pattern.as_ref().is_some_and(|p| !p.half_turn)
}

/// True for a photographed cloth that is said to be the same after a half turn.
fn says_so(spec: &ClothSpec) -> bool {
    spec.pattern.as_ref().is_some_and(|p| p.symmetrical == Some(true) && p.photo.is_some())
}

/// A cloth as far as what is cut from it goes.
pub fn as_cut(cloth: &ClothSpec, weight_matters: bool) -> ClothSpec {
    let mut spec = cloth.clone().without_photo();
    spec.colour = None;
    if let Some(pattern) = &mut spec.pattern {
        pattern.colours = BTreeMap::new();
    }
    spec.price_per_m = None;
    spec.offers = Vec::new();
    spec.cutting_allowance_mm = None;
    spec.shrinkage_percent = 0.0;
    spec.weight_g_per_m2 = spec.weight_g_per_m2.filter(|_| weight_matters);
    spec
}

/// What a cloth costs and weighs, and what is lost of it before it is cut.
fn as_bought(c: &ClothSpec) -> Value {
    json!([c.price_per_m, c.offers, c.cutting_allowance_mm, c.shrinkage_percent, c.weight_g_per_m2])
}

/// How a cloth is shown.
fn as_seen(c: &ClothSpec) -> Value {
    json!([c.colour, c.pattern.as_ref().map(|p: &PatternSpec| json!([p.colours, p.photo]))])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::BridgeSpec;

    fn job(change: impl FnOnce(&mut Value)) -> Job {
        let mut value = json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
            "cloths": [{ "name": "fen", "width_mm": 620, "price_per_m": 20, "colour": "#102030", "weight_g_per_m2": 300 }],
            "pieces": [{ "select": { "id": "*" }, "cloth": "fen" }],
            "cutter": { "bed_mm": [900, 600], "kerf_mm": 0.2 } });
        change(&mut value);
        crate::job::parse(&value.to_string(), "leaf.job.json").unwrap()
    }

    fn changed(change: impl FnOnce(&mut Value)) -> (Vec<String>, Vec<String>) {
        let (before, now) = (job(|_| {}), job(change));
        let of = |j: &Job| Parts::of(j, "drawn", &BTreeMap::new(), &[]);
        (of(&before).cut_changed(&of(&now)), of(&before).told_changed(&of(&now)))
    }

    #[test]
    fn words_prices_looks_frame_and_sheets_leave_the_cut_lines_alone() {
        let only_told = |change: fn(&mut Value), what: &str| {
            assert_eq!(changed(change), (vec![], vec![what.to_owned()]));
        };
        only_told(|j| j["title"] = "Oak leaf".into(), "the title");
        only_told(|j| j["cloths"][0]["price_per_m"] = 31.into(), "what the cloths cost or weigh");
        only_told(|j| j["cloths"][0]["weight_g_per_m2"] = 310.into(), "what the cloths cost or weigh");
        only_told(|j| j["cloths"][0]["colour"] = "#ff0000".into(), "how the cloths look");
        only_told(|j| j["frame"] = json!({ "field_mm": [360, 200] }), "the embroidery frame");
        only_told(|j| j["sheets"] = json!({ "paper": "a3" }), "the sheets");
        // A usual measure written out says what it was before; how a lay is searched changes none that is there.
        for same in [json!({ "margin_mm": 6 }), json!({ "feed": "along-x" })] {
            let given = |j: &mut Value| {
                j["cutter"].as_object_mut().unwrap().extend(same.as_object().unwrap().clone())
            };
            assert_eq!(changed(given), (vec![], vec![]));
        }
        assert_eq!(changed(|j| j["lay"] = json!({ "seconds": 60, "seed": 9 })), (vec![], vec![]));
    }

    #[test]
    fn what_the_cut_lines_depend_on_is_named() {
        let cut = |change: fn(&mut Value), what: &str| {
            assert_eq!(changed(change), (vec![what.to_owned()], vec![]));
        };
        cut(|j| j["drawing_scale"] = json!(1.01), "the drawing’s scale");
        cut(|j| j["cloths"][0]["width_mm"] = 600.into(), "cloth fen");
        cut(|j| j["pieces"][0]["allowance_mm"] = 2.into(), "which shapes are cut from what, and how");
        cut(|j| j["cutter"]["bed_mm"] = json!([800, 600]), "the cutter’s bed");
        cut(|j| j["cutter"]["kerf_mm"] = json!(0.3), "the kerf");
        cut(|j| j["cutter"]["shared_band_mm"] = 90.into(), "the cutter");
        cut(|j| j["lay"] = json!({ "gap_mm": 5 }), "the gap between pieces");
        let (now, bridged) = (job(|_| {}), BridgeSpec::default());
        let with = |g: f64| {
            let mut job = now.clone();
            job.cutter.bridges = Some(bridged.clone());
            job.cloths[0].weight_g_per_m2 = Some(g);
            Parts::of(&job, "", &BTreeMap::new(), &[])
        };
        assert_eq!(with(300.0).cut_changed(&with(310.0)), ["cloth fen"], "bridges go by weight");
        let other = Parts::of(&now, "another", &BTreeMap::new(), &[]);
        assert_eq!(Parts::of(&now, "drawn", &BTreeMap::new(), &[]).cut_changed(&other), ["the drawing"]);
        let lies = Lies { cloth: "fen".into(), turn_deg: 0.0, shift: [1.0, 2.0] };
        let laid = Parts::of(&now, "drawn", &BTreeMap::from([(("leaf".to_owned(), 1), lies)]), &[]);
        assert_eq!(Parts::of(&now, "drawn", &BTreeMap::new(), &[]).cut_changed(&laid), ["the lay"]);
        // A cloth taken out or put in is named, too.
        let two =
            job(|j| j["cloths"].as_array_mut().unwrap().push(json!({ "name": "reed", "width_mm": 900 })));
        let [one, two] = [&now, &two].map(|j| Parts::of(j, "drawn", &BTreeMap::new(), &[]));
        assert_eq!(one.cut_changed(&two), ["cloth reed"]);
        assert_eq!(two.cut_changed(&one), ["cloth reed"]);
    }

    /// A photograph is only looked at, but one that shows a half turn to be another cloth decides how pieces may lie.
    #[test]
    fn a_photograph_that_contradicts_a_half_turn_counts_with_the_cut_lines() {
        let place = tempfile::tempdir().unwrap();
        let stripes = |order: &[u8]| {
            let row: Vec<u8> = (0..240_usize)
                .flat_map(|x| {
                    let dark = order[x * order.len() / 240];
                    [dark, dark / 2, 255 - dark, 255]
                })
                .collect();
            crate::write::png_of(240, 240, &row.repeat(240)).unwrap()
        };
        std::fs::write(place.path().join("same.png"), stripes(&[0, 0, 120, 0, 0, 250])).unwrap();
        std::fs::write(place.path().join("other.png"), stripes(&[0, 60, 120, 180, 250, 90])).unwrap();
        let with = |file: &str| {
            job(|j| {
                j["cloths"][0]["pattern"] = json!({ "repeat_across_mm": 60, "repeat_along_mm": 60, "symmetrical": true,
                    "photo": { "file": file, "size_mm": [60, 60] } });
            })
        };
        let of = |j: &Job| Parts::of(j, "", &BTreeMap::new(), &contradicted(j, place.path()));
        let (same, other) = (with("same.png"), with("other.png"));
        assert_eq!(contradicted(&same, place.path()), Vec::<String>::new());
        assert_eq!(contradicted(&other, place.path()), ["fen"]);
        assert_eq!(of(&same).cut_changed(&of(&other)), ["what a photograph shows of a half turn"]);
        assert_eq!(of(&same).told_changed(&of(&other)), ["how the cloths look"]);
    }

    #[test]
    fn what_earlier_versions_kept_is_still_read() {
        let read: Planned = serde_json::from_str("\"85944171f73967e8\"").unwrap();
        assert_eq!(read, Planned::Whole("85944171f73967e8".into()));
        let parts = Planned::Parts(Parts::of(&job(|_| {}), "drawn", &BTreeMap::new(), &[]));
        let text = serde_json::to_string(&parts).unwrap();
        assert_eq!(serde_json::from_str::<Planned>(&text).unwrap(), parts);
    }
}
