//! The cloth has moved: whole runs of `settlay realign` on a plan of three passes made up by hand.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use serde_json::{Value, json};
use settlay::passes::expected_error_mm;
use settlay::plan::{self, Plan, PlanPass};
use settlay::realign::{FitKind, Sighting, Spread, fit};
use settlay::shape::{Affine, Point, Pose, distance, pt};
use tempfile::TempDir;

/// A ribbon of check 80 mm wide and 1380 mm long, cut in three passes of a bed of 900 × 600 mm, and two leaves.
fn ribbon(mirrored: bool) -> Plan {
    let rect = |x: f64, y: f64, w: f64, h: f64| json!([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]);
    let piece = |id: &str, outline: Value| {
        json!({"id": id, "copy": 1, "rule": 0, "cloth": "check", "match": "drawn", "group": "g", "group_shift": [0, 0],
            "anchor": [0, 0], "allowance_mm": 1.5, "underlap_mm": 0, "turn_deg": 0, "shift": [0, 0], "order": 0,
            "drawn": {"outline": outline, "cutouts": []}, "cut": {"outline": outline, "cutouts": []}})
    };
    let marks = [
        ("A", 60.0, 520.0, 1),
        ("B", 640.0, 530.0, 1),
        ("C", 250.0, 556.0, 1),
        ("D", 500.0, 552.0, 1),
        ("E", 70.0, 1010.0, 2),
        ("F", 630.0, 1040.0, 2),
        ("G", 450.0, 1050.0, 2),
    ];
    let lines: [&[&[[f64; 2]]]; 3] = [
        &[&[[300.0, 541.0], [300.0, 20.0], [380.0, 20.0], [380.0, 541.0]]],
        &[&[[300.0, 539.0], [300.0, 1041.0]], &[[380.0, 539.0], [380.0, 1041.0]]],
        &[&[[300.0, 1039.0], [300.0, 1400.0], [380.0, 1400.0], [380.0, 1039.0]]],
    ];
    let joints = [vec![540.0], vec![540.0, 1040.0], vec![1040.0]];
    let mut passes = Vec::new();
    for n in 1..=3usize {
        let dy = 6.0 - 500.0 * (n - 1) as f64;
        let map =
            Affine(if mirrored { [-1.0, 0.0, 0.0, 1.0, 794.0, dy] } else { [1.0, 0.0, 0.0, 1.0, 94.0, dy] });
        let bed = |p: &[f64; 2]| {
            let q = map.apply(pt(p[0], p[1]));
            [q.x, q.y]
        };
        let mut burns = Vec::new();
        let mut known = Vec::new();
        for &(name, x, y, by) in marks.iter().filter(|m| m.3 == n || m.3 + 1 == n) {
            known.push(json!({"name": name, "cloth": [x, y], "bed": bed(&[x, y]), "burnt_here": by == n}));
            for (dx, dy) in [(4.0, 0.0), (0.0, 4.0)].into_iter().filter(|_| by == n) {
                burns.push(json!({"kind": "mark", "piece": name, "copy": 1, "ring": 0, "closed": false,
                    "path": [bed(&[x - dx, y - dy]), bed(&[x + dx, y + dy])]}));
            }
        }
        for line in lines[n - 1] {
            let path: Vec<_> = line.iter().map(bed).collect();
            burns.push(json!({"kind": "outline", "piece": "ribbon", "copy": 1, "ring": 0, "closed": false, "path": path}));
        }
        if n == 2 {
            let leaf: Vec<_> = [[420.0, 700.0], [600.0, 720.0], [480.0, 900.0]].iter().map(bed).collect();
            burns.push(json!({"kind": "outline", "piece": "leaf", "copy": 1, "ring": 0, "closed": true, "path": leaf}));
        }
        let met: Vec<Value> = joints[n - 1]
            .iter()
            .flat_map(|y| [300.0, 380.0].map(|x| [x, *y]))
            .map(|at| json!({"piece": "ribbon", "copy": 1, "ring": 0, "cloth": at, "overlap_mm": 2.0, "expected_step_mm": 0.2}))
            .collect();
        let key: Vec<Value> = (n > 1)
            .then(|| {
                let y = 540.0 + 500.0 * (n - 2) as f64;
                let path = [bed(&[300.0, y - 80.0]), bed(&[300.0, y])];
                json!({"path": path, "closed": false, "piece": "ribbon"})
            })
            .into_iter()
            .collect();
        let low = 500.0 * (n - 1) as f64;
        passes.push(json!({"cloth": "check", "number": n, "bed_mm": [900, 600], "margin_mm": 6,
            "window": [-88.0, low, 800.0, low + 588.0], "cloth_to_bed": map.0, "burns": burns, "marks": known,
            "joints": met, "key": key, "cut_length_mm": 0, "travel_length_mm": 0, "seconds": 0}));
    }
    serde_json::from_value(json!({
        "settlay_plan": 1, "title": "Ribbon", "units": "mm", "program": "settlay", "seed": 1, "page_mm": [80, 1380],
        "cutter": {"bed_mm": [900, 600], "cloth_face": if mirrored { "down" } else { "up" }, "feed": "along-y"},
        "cloths": [{"name": "check", "outline": rect(0.0, 0.0, 700.0, 1500.0), "flaws": [], "edge_mm": 12, "gap_mm": 3,
            "open_length": true, "pattern": {"a": [64.0, 0.0], "b": [0.0, 70.0], "origin": [30.0, 20.0], "half_turn": true},
            "used_length_mm": 1500, "pieces_area_mm2": 1, "used_area_mm2": 1, "efficiency": 0.5, "offcuts": [],
            "buy_length_mm": 1500, "cost": null, "waste_g": null}],
        "pieces": [piece("ribbon", rect(300.0, 20.0, 80.0, 1380.0)),
            piece("leaf", json!([[420, 700], [600, 720], [480, 900]]))],
        "passes": passes, "notes": []
    }))
    .unwrap()
}

/// A folder with the plan and its cut files.
struct Desk {
    folder: TempDir,
    plan: Plan,
}

struct Ended {
    code: Option<i32>,
    out: String,
    err: String,
}

impl Desk {
    fn new() -> Desk {
        Desk::with(ribbon(false))
    }

    fn with(plan: Plan) -> Desk {
        let folder = tempfile::tempdir().unwrap();
        let all: Vec<usize> = (0..plan.passes.len()).collect();
        settlay::write::passes(&plan, &all).unwrap().move_in(&folder.path().join("plan")).unwrap();
        Desk { folder, plan }
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, words: &[&str]) -> Ended {
        let ran = Command::cargo_bin("settlay")
            .unwrap()
            .current_dir(self.folder.path())
            .args(words)
            .output()
            .unwrap();
        let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
        Ended { code: ran.status.code(), out: text(ran.stdout), err: text(ran.stderr) }
    }

    /// Marks where `lies` puts them, with errors, written to `marks.csv`.
    fn measure(&self, pass: usize, names: &[&str], lies: &Affine, off: &[(f64, f64)]) {
        let mut text = String::from("name,x_mm,y_mm\n");
        for (k, name) in names.iter().enumerate() {
            let mark = self.plan.passes[pass - 1].marks.iter().find(|m| m.name == *name).unwrap();
            let (dx, dy) = off.get(k).copied().unwrap_or_default();
            let at = lies.apply(pt(mark.cloth[0], mark.cloth[1])) + pt(dx, dy);
            text.push_str(&format!("{name},{},{}\n", at.x, at.y));
        }
        fs::write(self.at("marks.csv"), text).unwrap();
    }

    fn read(&self) -> Plan {
        plan::read(&self.at("plan")).unwrap().0
    }

    /// Every file in the plan's folder, and its contents.
    fn files(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut found = BTreeMap::new();
        let mut folders = vec![self.at("plan")];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path)
                } else {
                    found.insert(path.clone(), fs::read(&path).unwrap());
                }
            }
        }
        found
    }
}

fn planned(plan: &Plan, pass: usize) -> Affine {
    Affine(plan.passes[pass - 1].cloth_to_bed)
}

/// The planned map, then a small turn and a shift on the bed.
fn put_down(plan: &Plan, pass: usize, turn_deg: f64, shift: Point) -> Affine {
    Pose { turn_deg, shift }.affine().after(&planned(plan, pass))
}

fn same(found: &Affine, want: &Affine, by: f64) {
    for p in [pt(0.0, 500.0), pt(700.0, 500.0), pt(700.0, 1088.0), pt(0.0, 1088.0)] {
        let off = distance(found.apply(p), want.apply(p));
        assert!(off <= by, "{off} mm off at {p:?}: {found:?} against {want:?}");
    }
}

/// Burns of a pass where they fall on the cloth, when it lies as `lies` says.
fn on_cloth(pass: &PlanPass, lies: &Affine) -> Vec<Vec<Point>> {
    let back = lies.inverse().unwrap();
    pass.burns.iter().map(|b| b.path.iter().map(|p| back.apply(pt(p[0], p[1]))).collect()).collect()
}

/// A pass but for when it was recorded as cut.
fn as_made(pass: &PlanPass) -> PlanPass {
    PlanPass { cut_on: None, ..pass.clone() }
}

#[test]
fn burns_fall_where_they_were_meant_on_a_cloth_that_lies_askew_face_up_or_down() {
    for mirrored in [false, true] {
        let desk = Desk::with(ribbon(mirrored));
        let lies = put_down(&desk.plan, 2, 0.4, pt(3.1, -4.7));
        desk.measure(2, &["A", "B", "C", "D"], &lies, &[]);
        let ended = desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv"]);
        assert_eq!(ended.code, Some(0), "{}", ended.err);
        assert!(ended.out.contains("rigid fit"), "{}", ended.out);
        let new = desk.read();
        same(&planned(&new, 2), &lies, 1e-9);
        let meant = on_cloth(&desk.plan.passes[1], &planned(&desk.plan, 2));
        for (got, want) in on_cloth(&new.passes[1], &lies).iter().flatten().zip(meant.iter().flatten()) {
            assert!(distance(*got, *want) < 2e-6, "written in whole nanometres");
        }
        for pass in [1, 3] {
            assert_eq!(as_made(&new.passes[pass - 1]), desk.plan.passes[pass - 1], "pass {pass} stays");
        }
        // The cut file says the same: the ribbon's first line, y down from the far edge of the bed.
        let svg = fs::read_to_string(desk.at("plan/cut/check-pass-2.svg")).unwrap();
        let at = lies.apply(pt(300.0, 539.0));
        assert!(svg.contains(&format!("M{} {}", thousandths(at.x), thousandths(600.0 - at.y))), "{svg}");
        // What was planned is kept, and pass 1 counts as cut.
        let kept = plan::read(&desk.at("plan/plan-as-planned.json")).unwrap().0;
        assert_eq!(kept, desk.plan);
        let again = desk.run(&["realign", "plan", "--pass", "1", "--marks", "marks.csv"]);
        assert_eq!(again.code, Some(1));
        assert!(again.err.contains("pass 1 of cloth check: it is cut already"), "{}", again.err);
    }
}

fn thousandths(v: f64) -> String {
    let text = format!("{v:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// What a maker reads is written again with the pass: the report and the sheets have it as corrected, its marks as measured, and
/// say which passes are cut.
#[test]
fn report_and_sheets_go_with_a_realigned_pass_and_with_a_cut_one() {
    let desk = Desk::new();
    let planned = desk.plan.clone();
    let job = planned.job();
    settlay::write::all(&job, &planned, &[], &desk.at("plan")).unwrap();
    let read = |name: &str| fs::read(desk.at("plan").join(name)).unwrap();
    let html = || String::from_utf8(read("report.html")).unwrap();
    let (report, sheets) = (html(), read("sheets.pdf"));
    let lies = put_down(&desk.plan, 2, 0.3, pt(4.0, -3.0));
    desk.measure(2, &["A", "B", "C", "D"], &lies, &[]);
    assert_eq!(desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv"]).code, Some(0));
    let new = desk.read();
    assert_ne!(read("sheets.pdf"), sheets);
    let said = html();
    assert_ne!(said, report);
    assert!(said.contains("Realigned by A, B, C, D") && !said.contains("as first planned"));
    // How far the cloth hangs over is told of where it lies now.
    let low = desk.plan.cloths[0].outline.iter().map(|c| lies.apply(pt(c[0], c[1])).y);
    let near = format!("{:.0} mm on the near side", -low.fold(f64::INFINITY, f64::min));
    let told = |n: &&settlay::say::Note| n.about == "check, pass 2" && n.text.starts_with("Cloth hangs over");
    let hangs: Vec<&str> = new.notes.iter().filter(told).map(|n| n.text.as_str()).collect();
    assert!(hangs.len() == 1 && hangs[0].contains(&near), "{hangs:?} {near}");
    // What lies is not laid again, and no key is cut for it.
    let second = said.split("<article").find(|a| a.contains("check, pass 2<")).unwrap();
    assert!(second.contains("Leave the cloth as it lies") && !second.contains("Cut the key"), "{second}");
    for mark in new.passes[1].marks.iter().filter(|m| !m.burnt_here) {
        let measured = mark.measured.expect("it was measured");
        for at in [mark.bed, measured] {
            assert!(said.contains(&format!(">{:.1}<", at[0])), "{} at {at:?}", mark.name);
        }
    }
    // Pass 1 burnt those marks: it is cut. Pass 2 is not, until it is recorded.
    assert_eq!(said.matches("cut, recorded 20").count(), 1);
    assert_eq!(desk.run(&["realign", "plan", "--pass", "2", "--mark-done"]).code, Some(0));
    assert_eq!(html().matches("cut, recorded 20").count(), 2);
    assert!(String::from_utf8(read("lay.svg")).unwrap().contains("<svg"));
    // The plan says so as well: a record that is lost hides nothing.
    assert_eq!(String::from_utf8(read("plan.json")).unwrap().matches("\"cut_on\": ").count(), 2);
    fs::remove_file(desk.at("plan/done.json")).unwrap();
    let refused = desk.run(&["realign", "plan", "--pass", "1", "--from-burn", "1"]);
    assert_eq!(refused.code, Some(1), "{}", refused.err);
    assert!(refused.err.contains("does not have pass 1 of cloth check, pass 2"), "{}", refused.err);
    assert!(refused.err.contains("is cut already"), "{}", refused.err);
    assert_eq!(desk.run(&["realign", "plan", "--pass", "2", "--not-cut"]).code, Some(0));
    assert_eq!(String::from_utf8(read("plan.json")).unwrap().matches("\"cut_on\": ").count(), 1);
}

#[test]
fn a_pass_may_be_realigned_again_and_the_first_plan_is_still_kept() {
    let desk = Desk::new();
    for turn in [0.3, -0.2] {
        let lies = put_down(&desk.plan, 2, turn, pt(2.0, -1.0));
        desk.measure(2, &["A", "B", "D"], &lies, &[]);
        assert_eq!(
            desk.run(&["realign", "plan/plan.json", "--pass", "2", "--marks", "marks.csv"]).code,
            Some(0)
        );
        same(&planned(&desk.read(), 2), &lies, 1e-9);
    }
    assert_eq!(plan::read(&desk.at("plan/plan-as-planned.json")).unwrap().0, desk.plan);
    let notes = desk.read().notes;
    assert_eq!(notes.iter().filter(|n| n.text.starts_with("Realigned by")).count(), 1, "{notes:?}");
}

#[test]
fn a_stretch_is_carried_on_to_later_passes_but_not_the_place() {
    let desk = Desk::new();
    let stretch = Affine([1.004, 0.0, 0.0, 1.004, 0.0, 0.0]);
    let lies = put_down(&desk.plan, 2, 0.2, pt(-1.0, 0.5)).after(&stretch);
    desk.measure(2, &["A", "B", "C", "D"], &lies, &[]);
    let ended = desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv", "--json"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let report: Value = serde_json::from_str(&ended.out).unwrap();
    assert_eq!((&report["fit"], &report["later"]), (&json!("similarity"), &json!([3])));
    let new = desk.read();
    same(&planned(&new, 2), &lies, 1e-9);
    let third = planned(&new, 3);
    assert!(
        (third.0[0] - 1.004).abs() < 1e-9 && (third.0[3] - 1.004).abs() < 1e-9 && third.0[1].abs() < 1e-9
    );
    let [x, y, u, v] = new.passes[2].window;
    let middle = pt((x + u) / 2.0, (y + v) / 2.0);
    assert!(distance(third.apply(middle), planned(&desk.plan, 3).apply(middle)) < 1e-9);
    assert_eq!(as_made(&new.passes[0]), desk.plan.passes[0]);
    // A pass 3 that turns out to lie unstretched loses it again.
    let lies = put_down(&desk.plan, 3, -0.3, pt(1.0, 1.0));
    desk.measure(3, &["E", "F", "G"], &lies, &[]);
    assert_eq!(desk.run(&["realign", "plan", "--pass", "3", "--marks", "marks.csv"]).code, Some(0));
    same(&planned(&desk.read(), 3), &lies, 1e-8);
}

#[test]
fn a_misread_mark_is_named_and_left_out() {
    let desk = Desk::new();
    let lies = put_down(&desk.plan, 2, 0.4, pt(3.0, -4.0));
    desk.measure(2, &["A", "B", "C", "D"], &lies, &[(0.0, 0.0), (0.0, 0.0), (0.0, 6.0), (0.0, 0.0)]);
    let ended = desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv"]);
    assert!(
        ended.out.contains("caution: Mark C is left out: it lies 6.0 mm from where the others put it"),
        "{}",
        ended.out
    );
    let new = desk.read();
    same(&planned(&new, 2), &lies, 1e-9);
    // The plan, the report and the sheets know it as well.
    let left_out: Vec<&str> =
        new.passes[1].marks.iter().filter(|m| m.left_out).map(|m| m.name.as_str()).collect();
    assert_eq!(left_out, ["C"]);
    let html = fs::read_to_string(desk.at("plan/report.html")).unwrap();
    assert_eq!(html.matches("measured, but left out").count(), 1);
    assert_eq!(html.matches("measured; the pass is corrected by it").count(), 3);
    // Read well, it counts again.
    desk.measure(2, &["A", "B", "C", "D"], &lies, &[]);
    assert_eq!(desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv"]).code, Some(0));
    assert!(desk.read().passes[1].marks.iter().all(|m| !m.left_out));
}

#[test]
fn what_is_printed() {
    let desk = Desk::new();
    let lies = put_down(&desk.plan, 2, 0.4, pt(3.0, -4.0));
    let off = [(0.11, -0.07), (-0.14, 0.1), (0.05, 0.19), (4.9, -0.16)];
    desk.measure(2, &["A", "B", "C", "D"], &lies, &off);
    insta::assert_snapshot!(desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv"]).out);
}

/// Every mistake ends with its own words, the right exit code, and the folder as it was.
#[test]
fn mistakes_are_named_and_nothing_is_overwritten() {
    let desk = Desk::new();
    let before = desk.files();
    let lies = put_down(&desk.plan, 2, 0.4, pt(3.0, -4.0));
    let at = |name: &str| {
        let m = desk.plan.passes[1].marks.iter().find(|m| m.name == name).unwrap();
        lies.apply(pt(m.cloth[0], m.cloth[1]))
    };
    let rows = |names: &[&str], change: &dyn Fn(Point) -> Point| {
        let mut text = String::from("name,x_mm,y_mm\n");
        for name in names {
            let p = change(at(name));
            text.push_str(&format!("{name},{},{}\n", p.x, p.y));
        }
        text
    };
    let all = ["A", "B", "C", "D"];
    let kept = |p: Point| p;
    let cases: Vec<(String, &[&str], i32, &str)> = vec![
        (rows(&all, &|p| p / 25.4), &[], 2, "measured in inches"),
        (rows(&all, &|p| p / 10.0), &[], 2, "measured in centimetres"),
        (rows(&all, &|p| p / 1000.0), &[], 2, "measured in metres"),
        (rows(&["A", "B"], &|p| p / 1000.0), &[], 2, "measured in metres"),
        (rows(&all, &|p| p * 96.0 / 25.4), &[], 2, "pixels"),
        (rows(&all, &|p| pt(900.0 - p.x, p.y)), &[], 1, "the cloth was turned over, it lies face down"),
        (rows(&all, &|p| pt(p.x, 600.0 - p.y)), &[], 1, "turned over"),
        (rows(&all, &|p| pt(900.0 - p.x, 600.0 - p.y)), &[], 1, "turned by -180"),
        (rows(&["A"], &kept), &[], 2, "does not say how the cloth is turned"),
        (rows(&["A", "B"], &|p| pt(p.x * 1e-3 + 300.0, 300.0)), &[], 2, "at the same place"),
        (rows(&["A", "B"], &|p| pt(p.x * 1.004, p.y)), &[], 1, "a third mark"),
        (
            rows(&["A", "B", "C"], &|p| pt(p.x, if p.x > 700.0 { p.y + 20.0 } else { p.y })),
            &[],
            1,
            "do not agree",
        ),
        (
            rows(&all, &|p| (p - pt(450.0, 60.0)) * 1.02 + pt(450.0, 60.0)),
            &[],
            1,
            "the cloth is distorted by +2.00 % across",
        ),
        (rows(&all, &|p| p - pt(400.0, 0.0)), &[], 2, "off the bed of 900 × 600 mm"),
        (rows(&all, &|p| p + pt(0.0, 60.0)), &[], 1, "past the far margin"),
        (rows(&all, &kept).replace("C,", "Q,"), &[], 2, "cloth check has no mark Q"),
        (rows(&all, &kept).replace("C,", "c,"), &[], 2, "did you mean C?"),
        (
            rows(&all, &kept).replace("C,", "E,"),
            &[],
            2,
            "mark E is burnt by pass 2: it is not on the cloth yet",
        ),
        (rows(&all, &kept).replace("C,", "A,"), &[], 2, "mark A stands in it twice"),
        (
            rows(&all, &kept).replace("C,", "Q,").replace("D,", "C,").replace("Q,", "D,"),
            &[],
            1,
            "agree once mark D and mark C are exchanged",
        ),
        // Those of another work.
        (
            "name,x_mm,y_mm\nA,120,60\nB,340,480\nC,700,90\nD,610,300\n".into(),
            &[],
            1,
            "do not lie to one another as those of this plan do",
        ),
        (rows(&all, &kept).replace("C,", "pivot 1 2,"), &[], 2, "pass 2 finds its place by marks"),
        ("name,x_mm,y_mm\nA,NaN,3\nB,1,2\n".into(), &[], 2, "\"NaN\" is no number"),
        (String::new(), &[], 2, "the file is empty"),
        (rows(&["A", "B"], &kept), &["--fit", "affine"], 2, "it needs 3, not all in a line"),
        (rows(&all, &kept), &["--cloth", "chekc"], 2, "did you mean check?"),
    ];
    for (marks, more, code, said) in cases {
        fs::write(desk.at("marks.csv"), &marks).unwrap();
        let words = [&["realign", "plan", "--pass", "2", "--marks", "marks.csv"], more].concat();
        let ended = desk.run(&words);
        assert_eq!(ended.code, Some(code), "{said}: {}{}\n{marks}", ended.out, ended.err);
        assert!(ended.err.contains(said), "{said}: {}\n{marks}", ended.err);
        assert!(ended.err.contains("hint: ") && ended.out.is_empty(), "{}", ended.err);
        assert!(desk.files() == before, "{said}: the folder changed");
    }
    for (words, code, said) in [
        (vec!["realign", "plan", "--pass", "9", "--marks", "marks.csv"], 2, "the plan has no pass 9"),
        (vec!["realign", "plan", "--pass", "2", "--marks", "none.csv"], 2, "cannot be read"),
        (vec!["realign", "nowhere", "--pass", "2", "--marks", "marks.csv"], 2, "there is no such file"),
        (vec!["realign", "marks.csv", "--pass", "2", "--marks", "marks.csv"], 2, "not JSON"),
        (vec!["realign", "plan", "--pass", "2"], 2, "--marks"),
        (vec!["realign", "plan", "--pass", "2", "--from-burn", "0"], 2, "there is no burn 0"),
        (vec!["realign", "plan", "--pass", "2", "--from-burn", "99"], 2, "there is no burn 99"),
    ] {
        let ended = desk.run(&words);
        assert_eq!(ended.code, Some(code), "{words:?}: {}{}", ended.out, ended.err);
        assert!(ended.err.contains(said), "{words:?}: {}", ended.err);
        assert!(desk.files() == before);
    }
}

/// Marks A, B and a third on the way from one to the other.
#[test]
fn three_in_a_line_are_refused_where_another_could_be_measured() {
    for (others, code, said) in [
        (true, 2, "the marks lie in a line; they say no more than two"),
        (false, 0, "caution: All marks lie in a line; they say no more than two"),
    ] {
        let mut plan = ribbon(false);
        for pass in &mut plan.passes[..2] {
            pass.marks.retain(|m| m.name != "D" || others);
            pass.burns.retain(|b| b.kind != "mark" || b.piece != "D" || others);
            let between = pass.marks.iter_mut().find(|m| m.name == "C").unwrap();
            between.cloth = [350.0, 525.0];
        }
        let desk = Desk::with(plan);
        let before = desk.files();
        desk.measure(2, &["A", "B", "C"], &put_down(&desk.plan, 2, 0.2, pt(1.0, 2.0)), &[]);
        let ended = desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv"]);
        assert_eq!(ended.code, Some(code), "{}{}", ended.out, ended.err);
        assert!(ended.err.contains(said) || ended.out.contains(said), "{}{}", ended.out, ended.err);
        if others {
            assert!(ended.err.contains("measure one off that line too (D)"), "{}", ended.err);
            assert!(desk.files() == before);
        }
    }
    let desk = Desk::new();
    let lies = put_down(&desk.plan, 1, 0.2, pt(1.0, 2.0));
    pivots(&desk, &lies, [pt(64.0, 0.0), pt(0.0, 70.0), pt(30.0, 20.0)], &[(0, 0), (4, 3), (8, 6)]);
    let ended = desk.run(&["realign", "plan", "--pass", "1", "--marks", "marks.csv"]);
    assert!(ended.code == Some(2) && ended.err.contains("the pivots lie in a line"), "{}", ended.err);
}

#[test]
fn burns_past_the_margin_say_which_way_to_move_the_cloth() {
    let desk = Desk::new();
    let lies = put_down(&desk.plan, 2, 0.0, pt(0.0, 60.0));
    desk.measure(2, &["A", "B", "C"], &lies, &[]);
    let ended = desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv"]);
    // The farthest burn is mark G, its arm at 1054 mm on the cloth: at 620 mm on the bed, 26 mm past the margin at 594.
    assert!(ended.err.contains("26.0 mm past the far margin"), "{}", ended.err);
    assert!(ended.err.contains("move the cloth 26.0 mm towards you"), "{}", ended.err);
}

#[test]
fn a_pass_that_is_cut_is_never_changed() {
    let desk = Desk::new();
    let lies = put_down(&desk.plan, 2, 0.1, pt(1.0, 1.0));
    desk.measure(2, &["A", "B", "C"], &lies, &[]);
    let ended = desk.run(&["realign", "plan", "--pass", "2", "--mark-done"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let record: Value = serde_json::from_slice(&fs::read(desk.at("plan/done.json")).unwrap()).unwrap();
    assert_eq!((&record["passes"][0]["cloth"], &record["passes"][0]["number"]), (&json!("check"), &json!(2)));
    let date = record["passes"][0]["recorded"].as_str().unwrap();
    assert!(date.starts_with("20") && date.ends_with('Z') && date.len() == 20, "{date}");
    let before = desk.files();
    assert!(
        desk.run(&["realign", "plan", "--pass", "2", "--mark-done"])
            .out
            .contains("is recorded as cut already")
    );
    for (words, said) in [
        (vec!["realign", "plan", "--pass", "2", "--marks", "marks.csv"], "it is cut already"),
        (
            vec!["realign", "plan", "--pass", "1", "--marks", "marks.csv"],
            "pass 2 comes after it and is cut already",
        ),
        (vec!["realign", "plan", "--pass", "2", "--from-burn", "2"], "it is cut already"),
        (vec!["demo", "--out", "plan"], "are cut already; a new plan would take its place"),
    ] {
        let ended = desk.run(&words);
        assert_eq!(ended.code, Some(1), "{words:?}: {}{}", ended.out, ended.err);
        assert!(ended.err.contains(said), "{words:?}: {}", ended.err);
        assert!(desk.files() == before, "{words:?}");
    }
    // A record of another plan is no record of this one.
    let mut other = desk.plan.clone();
    other.pieces[0].cut.outline[0][0] -= 1.0;
    fs::write(desk.at("plan/plan.json"), settlay::write::plan_json(&other).unwrap()).unwrap();
    let ended = desk.run(&["realign", "plan", "--pass", "3", "--mark-done"]);
    assert!(ended.code == Some(2) && ended.err.contains("another plan"), "{}", ended.err);
    let mut other = desk.plan.clone();
    other.passes[1].burns[0].path[0][0] += 1.0;
    fs::write(desk.at("plan/plan.json"), settlay::write::plan_json(&other).unwrap()).unwrap();
    let ended = desk.run(&["realign", "plan", "--pass", "3", "--mark-done"]);
    assert!(
        ended.code == Some(2) && ended.err.contains("not in the plan as it was when it was cut"),
        "{}",
        ended.err
    );
}

/// What a pass was recorded by, and what its marks corrected, goes back with it; what was known before stays.
#[test]
fn a_pass_that_is_not_cut_after_all_is_taken_back_with_what_followed_from_it() {
    let desk = Desk::new();
    let realign = |pass: usize, names: &[&str], lies: &Affine| {
        desk.measure(pass, names, lies, &[]);
        let ended = desk.run(&["realign", "plan", "--pass", &pass.to_string(), "--marks", "marks.csv"]);
        assert_eq!(ended.code, Some(0), "{}", ended.err);
        ended.out
    };
    let not_cut = |pass: &str| desk.run(&["realign", "plan", "--pass", pass, "--not-cut", "--json"]);
    let stretch = Affine([1.004, 0.0, 0.0, 1.004, 0.0, 0.0]);
    let lies = put_down(&desk.plan, 2, 0.2, pt(-1.0, 0.5)).after(&stretch);
    let said = realign(2, &["A", "B", "C", "D"], &lies);
    assert!(said.contains("this records pass 1 as cut"), "{said}");
    let stretched = desk.read();
    let said = realign(3, &["E", "F", "G"], &put_down(&stretched, 3, -0.3, pt(1.0, 1.0)));
    assert!(said.contains("this records pass 2 as cut"), "{said}");
    let before = desk.files();
    let refused = not_cut("1");
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("pass 2 comes after it and is cut"), "{}", refused.err);
    assert_eq!(desk.files(), before);
    // Pass 3 goes back to where it was planned, with the stretch that pass 2 was found to have.
    let back: Value = serde_json::from_str(&not_cut("2").out).unwrap();
    assert_eq!((&back["as_planned_again"], &back["passes"][0]["number"]), (&json!([3]), &json!(1)), "{back}");
    assert_eq!(desk.read(), stretched);
    assert_eq!(not_cut("1").code, Some(0));
    assert_eq!(desk.read(), desk.plan, "all as it was before anything was measured");
    let svg = |d: &Desk| fs::read(d.at("plan/cut/check-pass-2.svg")).unwrap();
    assert_eq!(svg(&desk), svg(&Desk::new()));
    let refused = not_cut("1");
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("it is not recorded as cut"), "{}", refused.err);
}

/// A cloth cut whole puts its leftovers on the shelf; taken back, they come off again, but for those gone since.
#[test]
fn leftovers_of_a_cloth_that_is_not_cut_after_all_come_off_the_shelf() {
    let mut plan = serde_json::to_value(ribbon(false)).unwrap();
    let strip = |x: f64| json!([[x, 20.0], [x + 120.0, 20.0], [x + 120.0, 1400.0], [x, 1400.0]]);
    plan["cloths"][0]["offcuts"] =
        json!([14.0, 160.0].map(|x| json!({"outline": strip(x), "cutouts": [], "area_mm2": 165600.0})));
    plan["cloths"][0]["described"] = json!({"name": "check", "width_mm": 700, "edge_mm": 12});
    let desk = Desk::with(serde_json::from_value(plan).unwrap());
    let mark = |pass: usize, how: &str| {
        let n = pass.to_string();
        let ended = desk.run(&["realign", "plan", "--pass", &n, how, "--shelf", "shelf.json", "--json"]);
        assert_eq!(ended.code, Some(0), "{}", ended.err);
        serde_json::from_str::<Value>(&ended.out).unwrap()
    };
    let shelf = || desk.run(&["offcuts", "list", "--shelf", "shelf.json"]).out;
    mark(1, "--mark-done");
    mark(2, "--mark-done");
    let ids = mark(3, "--mark-done")["shelved"].clone();
    let (one, two) = (ids[0].as_str().unwrap(), ids[1].as_str().unwrap());
    assert!(shelf().contains(one) && shelf().contains(two), "{}", shelf());
    let taken = desk.run(&["offcuts", "take", one, "--shelf", "shelf.json"]);
    assert_eq!(taken.code, Some(0), "{}", taken.err);
    let back = mark(3, "--not-cut");
    assert_eq!(
        (&back["off_the_shelf"], &back["gone_from_the_shelf"]),
        (&json!([two]), &json!([one])),
        "{back}"
    );
    assert!(!shelf().contains(two), "{}", shelf());
    // Cut after all: it goes on again, and what was taken is still known.
    let again = mark(3, "--mark-done");
    assert_eq!(again["on_the_shelf_before"], json!([one]), "{again}");
    assert_eq!(again["shelved"].as_array().unwrap().len(), 1, "{again}");
}

#[test]
fn a_broken_pass_is_taken_up_where_it_stopped() {
    let desk = Desk::new();
    let plan = fs::read(desk.at("plan/plan.json")).unwrap();
    // Pass 2: three marks of two strokes, two lines of the ribbon, the leaf: burns 1 to 9.
    let ended = desk.run(&["realign", "plan", "--pass", "2", "--from-burn", "8"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    assert!(ended.out.contains("burns 8 to 9") && ended.out.contains("outline of ribbon"), "{}", ended.out);
    let svg = fs::read_to_string(desk.at("plan/cut/check-pass-2-from-8.svg")).unwrap();
    assert_eq!(svg.matches("<path").count(), 2);
    assert!(
        svg.contains("M474 555") && !svg.contains("M394 555"),
        "the second line and not the first: {svg}"
    );
    assert!(desk.at("plan/cut/check-pass-2-from-8.dxf").is_file());
    assert_eq!(fs::read(desk.at("plan/plan.json")).unwrap(), plan);
    // The cloth slipped when the fire was put out: the pass's own marks, burnt by then, help to find it.
    let lies = put_down(&desk.plan, 2, 0.3, pt(2.0, -3.0));
    desk.measure(2, &["A", "B", "E", "F"], &lies, &[]);
    let refused = desk.run(&["realign", "plan", "--pass", "2", "--from-burn", "2", "--marks", "marks.csv"]);
    assert!(refused.err.contains("mark E is burnt by pass 2: it is not on the cloth yet"), "{}", refused.err);
    let ended = desk.run(&["realign", "plan", "--pass", "2", "--from-burn", "8", "--marks", "marks.csv"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let svg = fs::read_to_string(desk.at("plan/cut/check-pass-2-from-8.svg")).unwrap();
    let at = lies.apply(pt(380.0, 539.0));
    assert!(svg.contains(&format!("M{} {}", thousandths(at.x), thousandths(600.0 - at.y))), "{svg}");
    assert_eq!(fs::read(desk.at("plan/plan.json")).unwrap(), plan);
}

#[test]
fn another_folder_gets_the_whole_plan_and_the_first_stays() {
    let desk = Desk::new();
    let before = desk.files();
    let lies = put_down(&desk.plan, 2, 0.3, pt(2.0, -3.0));
    desk.measure(2, &["A", "B", "C"], &lies, &[]);
    let ended = desk.run(&["realign", "plan", "--pass", "2", "--marks", "marks.csv", "--out", "new/place"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    assert!(desk.files() == before);
    let (new, _) = plan::read(&desk.at("new/place")).unwrap();
    same(&planned(&new, 2), &lies, 1e-9);
    for file in ["done.json", "cut/check-pass-1.svg", "cut/check-pass-2-key.dxf", "cut/check-pass-3.dxf"] {
        assert!(desk.at("new/place").join(file).is_file(), "{file}");
    }
    // How it was planned goes with it; a folder with cut passes takes no other plan; its own folder is itself.
    assert_eq!(
        fs::read(desk.at("new/place/plan-as-planned.json")).unwrap(),
        fs::read(desk.at("plan/plan.json")).unwrap()
    );
    let again = ["realign", "plan", "--pass", "2", "--marks", "marks.csv", "--out"];
    let ended = desk.run(&[&again[..], &["new/place"]].concat());
    assert!(ended.code == Some(1) && ended.err.contains("are cut already"), "{}", ended.err);
    let ended = desk.run(&[&again[..], &["./plan"]].concat());
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    assert!(desk.at("plan/plan-as-planned.json").is_file());
}

/// Where a pivot lies on the bed when the cloth's true pattern, in the plan's cloth frame, is `a`, `b`, `origin`.
fn pivots(desk: &Desk, lies: &Affine, [a, b, origin]: [Point; 3], which: &[(i32, i32)]) {
    let mut text = String::from("i;j;x_mm;y_mm\n");
    for &(i, j) in which {
        let at = lies.apply(origin + a * f64::from(i) + b * f64::from(j));
        text.push_str(&format!("{i};{j};{};{}\n", at.x.to_string().replace('.', ","), at.y));
    }
    fs::write(desk.at("marks.csv"), text).unwrap();
}

#[test]
fn the_first_pass_finds_its_place_by_the_pattern() {
    for mirrored in [false, true] {
        let desk = Desk::with(ribbon(mirrored));
        let lies = put_down(&desk.plan, 1, -0.3, pt(2.0, 3.0));
        pivots(
            &desk,
            &lies,
            [pt(64.0, 0.0), pt(0.0, 70.0), pt(30.0, 20.0)],
            &[(0, 0), (9, 1), (1, 7), (8, 7)],
        );
        let ended = desk.run(&["realign", "plan", "--pass", "1", "--marks", "marks.csv"]);
        assert_eq!(ended.code, Some(0), "{}", ended.err);
        let new = desk.read();
        same(&planned(&new, 1), &lies, 1e-9);
        assert_eq!(new.cloths, desk.plan.cloths);
        assert!(!desk.at("plan/done.json").exists(), "nothing is cut yet");
        // Two are enough.
        pivots(&desk, &lies, [pt(64.0, 0.0), pt(0.0, 70.0), pt(30.0, 20.0)], &[(0, 0), (8, 7)]);
        assert_eq!(desk.run(&["realign", "plan", "--pass", "1", "--marks", "marks.csv"]).code, Some(0));
        same(&planned(&desk.read(), 1), &lies, 1e-8);
    }
}

#[test]
fn a_repeat_that_differs_from_the_note_is_taken_over_and_its_cost_is_said() {
    let desk = Desk::new();
    // 0.6 mm more a repeat across, 0.3 mm less along, weft lines that climb 5 mm a metre; the warp runs true.
    let (a, b) = (pt(64.6, 0.323), pt(0.0, 69.7));
    let lies = put_down(&desk.plan, 1, 0.2, pt(1.0, 2.0));
    pivots(&desk, &lies, [a, b, pt(30.0, 20.0)], &[(0, 0), (9, 1), (1, 7), (8, 7)]);
    let ended = desk.run(&["realign", "plan", "--pass", "1", "--marks", "marks.csv", "--json"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let new = desk.read();
    let map = planned(&new, 1);
    let found = new.cloths[0].pattern.clone().unwrap();
    let near = |p: [f64; 2], q: Point| assert!((p[0] - q.x).hypot(p[1] - q.y) < 1e-9, "{p:?} {q:?}");
    near(found.a.unwrap(), a);
    near(found.b.unwrap(), b);
    assert!((map.determinant() - 1.0).abs() < 1e-12, "pieces keep their size");
    // The cloth turned by what the cloth turned; only the shift shares the mismatch out.
    assert!((map.0[0] - lies.0[0]).abs() < 1e-12 && (map.0[1] - lies.0[1]).abs() < 1e-12);
    // Pivots lie on the bed where they were measured.
    let (o, at) = (found.origin, lies.apply(pt(30.0, 20.0) + a * 9.0 + b));
    assert!(distance(map.apply(pt(o[0], o[1]) + a * 9.0 + b), at) < 1e-9);
    // Mismatch: the noted pattern at a piece's corner against the true one there, worst over both pieces.
    let report: Value = serde_json::from_str(&ended.out).unwrap();
    let shift = pt(o[0] - 30.0, o[1] - 20.0);
    let worst = desk.plan.pieces.iter().flat_map(|p| &p.cut.outline).map(|p| {
        let (i, j) = ((p[0] - 30.0) / 64.0, (p[1] - 20.0) / 70.0);
        let d = (a - pt(64.0, 0.0)) * i + (b - pt(0.0, 70.0)) * j + shift;
        d.x.hypot(d.y)
    });
    let said = report["repeat"]["worst_mismatch_mm"].as_f64().unwrap();
    assert!((said - worst.fold(0.0, f64::max)).abs() < 1e-6, "{said}");
    let pieces = report["repeat"]["pieces"].as_array().unwrap();
    assert_eq!((pieces.len(), &pieces[0]["mismatch_mm"]), (2, &report["repeat"]["worst_mismatch_mm"]));
    assert_eq!(pieces[0]["piece"], report["repeat"]["worst_piece"]);
    assert!(
        new.notes.iter().any(|n| n.text.contains(
            "plan the job anew with the pattern as measured: repeat_across_mm 64.60, \
        repeat_along_mm 69.70, skew_mm_per_m 5.0"
        )),
        "{:?}",
        new.notes
    );
}

#[test]
fn a_first_pass_without_pivots_to_go_by_says_what_it_needs() {
    let marks = "name,x_mm,y_mm\npivot 0 0,124,26\npivot 5 0,444,26\n";
    for (change, marks, said) in [
        (0, marks.replace("pivot 0 0", "A"), "mark A is not burnt yet"),
        (1, marks.into(), "repeats one way only"),
        (2, marks.into(), "has no pattern"),
    ] {
        let mut plan = ribbon(false);
        match change {
            1 => plan.cloths[0].pattern.as_mut().unwrap().b = None,
            2 => plan.cloths[0].pattern = None,
            _ => {}
        }
        let desk = Desk::with(plan);
        fs::write(desk.at("marks.csv"), marks).unwrap();
        let ended = desk.run(&["realign", "plan", "--pass", "1", "--marks", "marks.csv"]);
        assert!(ended.code.is_some_and(|c| c > 0) && ended.err.contains(said), "{said}: {}", ended.err);
        assert!(ended.err.contains("hint: "), "{}", ended.err);
    }
}

/// Fitzpatrick, West & Maurer 1998 against 20 000 fits drawn here: the error of a rigid fit, of a similarity and of an
/// affine one at, beside and far from their marks, and the radius that holds 95 of 100.
#[test]
fn errors_drawn_at_random_are_those_of_the_formula() {
    let marks = [pt(60.0, 520.0), pt(640.0, 530.0), pt(250.0, 556.0), pt(500.0, 470.0)];
    let targets = [pt(300.0, 540.0), pt(60.0, 560.0), pt(690.0, 700.0)];
    let mut source = Pcg64Mcg::seed_from_u64(7);
    let mut unit = || ((source.next_u64() >> 11) as f64 + 0.5) / (1u64 << 53) as f64;
    // Box & Muller 1958.
    let mut noise = || {
        let (r, t) = ((-2.0 * unit().ln()).sqrt(), std::f64::consts::TAU * unit());
        pt(r * t.cos(), r * t.sin()) * (0.25 / 2f64.sqrt())
    };
    let n = 20_000;
    let mut errors = vec![Vec::new(); 9];
    for _ in 0..n {
        let seen: Vec<Sighting> = marks.iter().map(|&p| Sighting { cloth: p, bed: p + noise() }).collect();
        for (k, kind) in FitKind::ALL.into_iter().enumerate() {
            let map = fit(kind, &seen, false).unwrap();
            for (t, &target) in targets.iter().enumerate() {
                errors[3 * k + t].push(distance(map.apply(target), target));
            }
        }
    }
    let exact: Vec<Sighting> = marks.iter().map(|&p| Sighting { cloth: p, bed: p }).collect();
    for (k, kind) in FitKind::ALL.into_iter().enumerate() {
        let spread = Spread::new(kind, &exact, 0.25);
        for (t, &target) in targets.iter().enumerate() {
            let list = &mut errors[3 * k + t];
            let rms = (list.iter().map(|e| e * e).sum::<f64>() / n as f64).sqrt();
            list.sort_by(f64::total_cmp);
            let (said, held) = (spread.expected_mm(target), spread.held_mm(target));
            assert!((said / rms - 1.0).abs() < 0.02, "{kind:?} at {target:?}: {said} said, {rms} drawn");
            let drawn = list[n * 95 / 100];
            assert!((held / drawn - 1.0).abs() < 0.025, "{kind:?} at {target:?}: {held} said, {drawn} drawn");
            if kind == FitKind::Rigid {
                assert!((said - expected_error_mm(&marks, target, 0.25)).abs() < 1e-12);
            }
        }
    }
}
