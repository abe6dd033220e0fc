//! Changes that the lay and the passes offer as data: done on the job they are offered for, whatever it is, and run again.

use std::path::Path;

use serde_json::{Value, json};
use settlay::plan::{self, Prepared};
use settlay::say::{Change, Quiet, Trouble, Way};

use crate::desk::Desk;

/// The job read from the desk and run, through passes where `whole`.
fn run(desk: &Desk, job: &Value, whole: bool) -> Result<(), Vec<Trouble>> {
    desk.put("j.job.json", job.to_string());
    let prepared: Prepared = plan::prepare(&desk.at("j.job.json"), &Quiet)?;
    if whole {
        return plan::run(prepared, &Quiet).map(drop);
    }
    plan::lay_and_split(&prepared, &prepared.job.lay, None, &Quiet).map(drop)
}

fn changed(job: &Value, way: &Way) -> Value {
    let mut job = job.clone();
    for Change { owner, index, field, value } in &way.changes {
        let owner = match index {
            Some(k) => &mut job[owner][k],
            None => &mut job[owner],
        };
        match value {
            Value::Null => drop(owner.as_object_mut().unwrap().remove(*field)),
            value => owner[*field] = value.clone(),
        }
    }
    job
}

/// Every way offered for `job` is taken; gives how many there were.
fn take_all(desk: &Desk, job: &Value, whole: bool) -> usize {
    let Err(troubles) = run(desk, job, whole) else { return 0 };
    let mut taken = 0;
    for trouble in &troubles {
        let words: Vec<String> = trouble.ways.iter().map(Way::told).collect();
        assert!(trouble.hint.starts_with(&words.join("; or ")), "{trouble}");
        assert!(trouble.stuck.is_none(), "{trouble}");
        // Another piece may be stuck for a reason of its own: all ways that free one are taken one by one.
        for way in &trouble.ways {
            let freed = changed(job, way);
            if let Err(now) = run(desk, &freed, whole) {
                let same = now.iter().any(|t| t.about == trouble.about);
                // Laid, it may yet be too large for the bed.
                let later = whole && trouble.about != "the passes" && now[0].about == "the passes";
                assert!(
                    !same && (later || troubles.len() > 1),
                    "{trouble}\nafter {}:\n{}",
                    way.told(),
                    now[0]
                );
            }
            taken += 1;
        }
    }
    taken
}

fn cloth(width: u32, length: u32, extra: &Value) -> Value {
    let mut cloth = json!({"name": "check", "width_mm": width, "length_mm": length, "edge_mm": 10});
    for (key, value) in extra.as_object().unwrap() {
        cloth[key] = value.clone();
    }
    cloth
}

/// A band longer than wide, a square, a triangle: on cloths too narrow, too short, with nap, twill, checks and stripes.
#[test]
fn every_way_out_of_a_lay_that_cannot_be_is_one() {
    let desk = Desk::new();
    desk.put(
        "leaf.svg",
        crate::desk::page("<path id='band' d='M5 5h180v40h-180z'/><path id='leaf' d='M10 60h60v60h-60z'/><path id='bud' d='M90 60h60l-20 90z'/>"),
    );
    let check = json!({"warp": "N/6 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18, "origin_mm": [7, 5]});
    let one_way = json!({"warp": "N6 G24 K10", "ends_per_cm": 10, "picks_per_cm": 9});
    let stripe = json!({"warp": "N/6 G24 K/10", "weft": "N", "ends_per_cm": 10, "picks_per_cm": 18});
    let looks = [
        json!({}),
        json!({"nap": true}),
        json!({"pattern": check}),
        json!({"pattern": one_way}),
        json!({"pattern": stripe}),
    ];
    let mut taken = 0;
    for look in &looks {
        for matching in ["free", "drawn", "centred"] {
            for grain in ["along", "across", "bias"] {
                for (width, length) in [(120, 400), (215, 120), (230, 185)] {
                    let job = json!({"settlay": 1, "drawing": "leaf.svg", "cloths": [cloth(width, length, look)],
                        "pieces": [{"select": {"id": "*"}, "cloth": "check", "match": matching, "grain": grain, "group": "g"}],
                        "cutter": {"bed_mm": [900, 600]}, "lay": {"gap_mm": 3, "effort": 1}});
                    taken += take_all(&desk, &job, false);
                }
            }
        }
    }
    assert!(taken > 50, "only {taken} ways were offered");
}

/// A group that cannot lie in step on a cloth hardly wider than it.
#[test]
fn a_place_in_step_is_found_by_what_is_offered() {
    let desk = Desk::new();
    let pattern =
        json!({"repeat_across_mm": 70, "repeat_along_mm": 64, "symmetrical": true, "origin_mm": [30, 20]});
    let mut taken = 0;
    for (matching, at) in [
        ("drawn", json!([0, 0])),
        ("drawn", json!([31, 12])),
        ("drawn", Value::Null),
        ("centred", Value::Null),
    ] {
        for width in [75, 85, 95, 110, 130] {
            let mut rule = json!({"select": {"id": "*"}, "cloth": "check", "match": matching, "group": "g"});
            if !at.is_null() {
                rule["pattern_at_mm"] = at.clone();
            }
            let job = json!({"settlay": 1, "drawing": "leaf.svg", "pieces": [rule],
                "cloths": [cloth(width, 300, &json!({ "pattern": pattern }))],
                "cutter": {"bed_mm": [900, 600]}, "lay": {"gap_mm": 3, "effort": 1}});
            taken += take_all(&desk, &job, false);
        }
    }
    assert!(taken > 5, "only {taken} ways were offered");
}

/// A sky with two cut-outs, matched to the drawing, on cloths of every size round its own and beds smaller than it.
#[test]
fn a_piece_nearly_as_wide_as_its_cloth_is_planned_or_freed_at_every_width() {
    let desk = Desk::new();
    desk.put("leaf.svg", SKY);
    let pattern = json!({"warp": "K/8 R20 G20 Y4 G20 W/12", "ends_per_cm": 20, "picks_per_cm": 18, "origin_mm": [30, 25]});
    for (width, length) in [(400, 500), (560, 700), (640, 480), (640, 700), (760, 620)] {
        let job = json!({"settlay": 1, "drawing": "leaf.svg",
            "cloths": [cloth(width, length, &json!({"weave": "twill-z", "pattern": pattern}))],
            "pieces": [
                {"select": {"layer": "big"}, "cloth": "check", "match": "drawn", "group": "z", "allowance_mm": 1.5},
                {"select": {"layer": "in"}, "cloth": "check", "allowance_mm": 1.5}],
            "cutter": {"bed_mm": [400, 300], "shared_band_mm": 60, "feed": "along-y"}, "lay": {"gap_mm": 3, "effort": 1}});
        take_all(&desk, &job, true);
    }
}

const SKY: &str = "<svg xmlns='http://www.w3.org/2000/svg' width='620mm' height='470mm' viewBox='0 0 1240 940'>\
    <g id='big'><path id='sky' fill-rule='evenodd' d='M20 20 L1180 40 L1160 900 L600 860 L40 880 Z M200 200 h300 v250 h-300 Z \
    M700 300 a150 150 0 1 0 300 0 a150 150 0 1 0 -300 0 Z'/></g>\
    <g id='in'><circle id='moon' cx='850' cy='300' r='120'/><rect id='house' x='230' y='230' width='240' height='190'/></g></svg>";

/// A panel larger than the bed both ways lies wholly over the passes in its middle: they find their place by waste beside it.
#[test]
fn a_panel_larger_than_the_bed_both_ways_is_planned() {
    let desk = Desk::new();
    desk.put(
        "leaf.svg",
        "<svg xmlns='http://www.w3.org/2000/svg' width='1240mm' height='1040mm' viewBox='0 0 1240 1040'>\
         <polygon id='panel' points='20,20 1220,20 1220,1020 20,1020'/></svg>",
    );
    // No band in its middle has waste: windows round it carry the place on, and none of these is idle.
    let sky = json!({"settlay": 1, "drawing": "sky.svg", "cloths": [cloth(2000, 1500, &json!({"edge_mm": 10}))],
        "pieces": [{"select": {"id": "*"}, "cloth": "check", "allowance_mm": 1.5}],
        "cutter": {"bed_mm": [400, 300], "margin_mm": 6, "kerf_mm": 0.2, "feed": "along-y", "shared_band_mm": 60},
        "lay": {"gap_mm": 3, "effort": 1}});
    desk.put("sky.svg", SKY.replace("620mm", "1240mm").replace("470mm", "940mm"));
    let job = json!({"settlay": 1, "drawing": "leaf.svg", "cloths": [cloth(2000, 2000, &json!({"edge_mm": 12}))],
        "pieces": [{"select": {"id": "*"}, "cloth": "check", "allowance_mm": 1.5}],
        "cutter": {"bed_mm": [900, 600], "margin_mm": 6, "kerf_mm": 0.2, "feed": "along-y", "shared_band_mm": 250},
        "lay": {"gap_mm": 3, "effort": 1}});
    for job in [job, sky] {
        desk.put("j.job.json", job.to_string());
        let path = desk.at("j.job.json");
        let prepared = plan::prepare(Path::new(&path), &Quiet).unwrap();
        let ran = plan::run(prepared, &Quiet).unwrap_or_else(|t| panic!("{}", t[0]));
        assert!(ran.plan.passes.len() >= 4, "{} passes", ran.plan.passes.len());
        assert!(
            ran.plan.passes.iter().skip(1).all(|p| p.marks.iter().filter(|m| !m.burnt_here).count() >= 2)
        );
        assert!(ran.plan.passes.iter().all(|p| !p.burns.is_empty()));
    }
}
