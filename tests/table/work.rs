//! The work on the table: laid, moved by hand, locked, planned, cut, realigned, cut again.

use std::process::Command;

use serde_json::{Value, json};

use crate::client::{Table, command, folder};

pub fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("{v} is no number"))
}

pub fn pair(v: &Value) -> [f64; 2] {
    [number(&v[0]), number(&v[1])]
}

pub fn placed<'a>(lay: &'a Value, id: &str, copy: u64) -> &'a Value {
    let all = lay["cloths"][0]["placed"].as_array().unwrap();
    all.iter().find(|p| p["id"] == id && p["copy"] == copy).unwrap_or_else(|| panic!("no {id} {copy}"))
}

pub fn laid(table: &Table) -> Value {
    table.post("api/lay/start", &json!({}));
    table.idle();
    table.get("api/lay")
}

/// Shares of the repeats by which v misses a whole number, worked out from the lattice's two vectors alone.
fn off_lattice(v: [f64; 2], pattern: &Value) -> f64 {
    let (a, b) = (pair(&pattern["a"]), pair(&pattern["b"]));
    let det = a[0] * b[1] - a[1] * b[0];
    let f = [(v[0] * b[1] - v[1] * b[0]) / det, (a[0] * v[1] - a[1] * v[0]) / det];
    f.iter().map(|f| (f - f.round()).abs()).fold(0.0, f64::max)
}

#[test]
fn the_lay_is_told_while_it_gets_better_and_the_last_told_is_the_one_that_stays() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let lay = table.get("api/lay");
    assert_eq!((lay["has_lay"].clone(), lay["missing"].as_array().unwrap().len()), (json!(false), 5));
    let mut events = table.events();
    let answer = table.try_post("POST", "api/lay/start", 0, &json!({}));
    assert_eq!(answer.status, 202);
    let told = events.until("done");
    let better: Vec<&Value> = told.iter().filter(|e| e.0 == "better").map(|e| &e.1).collect();
    assert!(!better.is_empty(), "{told:?}");
    assert_eq!(told[told.len() - 1].1["ok"], true, "{told:?}");
    let lay = table.get("api/lay");
    assert_eq!(lay["breaks"], json!([]));
    let last = better[better.len() - 1];
    assert_eq!(last["poses"].as_array().unwrap().len(), 5);
    assert_eq!(table.post("api/lay/check", &json!({}))["sound"], true);
    let figures = &lay["cloths"][0];
    assert!(number(&figures["efficiency"]) > 0.2 && number(&figures["cost"]) > 0.0, "{figures}");
    assert_eq!(figures["passes"], 1);
    assert!(number(&figures["least_length_mm"]) <= number(&figures["used_length_mm"]));
}

/// The condition of each match worked out anew from poses and lattice, as the format's description has it.
#[test]
fn a_piece_moved_by_hand_keeps_in_step_with_the_pattern_wherever_it_is_dropped() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let lay = laid(&table);
    let pattern = table.get("api/cloths")[0]["pattern"].clone();
    let origin = pair(&pattern["origin"]);
    let one = placed(&lay, "one", 1).clone();
    for (k, by) in [[31.0, 4.0], [-60.5, 47.0], [5.0, -90.0], [0.4, 0.2]].into_iter().enumerate() {
        let was = pair(&one["shift"]);
        let turn = if k % 2 == 0 { 0.0 } else { 180.0 };
        let wanted = [was[0] + by[0], was[1] + by[1]];
        let moves = json!({ "moves": [{ "piece": one["piece"], "copy": 1, "turn_deg": turn + 3.0, "shift": wanted }] });
        let said = table.post("api/lay/move", &moves);
        let now = &said["placed"][0];
        assert_eq!(now["turn_deg"], turn, "the nearest turn the twill allows");
        let lay = table.get("api/lay");
        let two = placed(&lay, "two", 1);
        // Drawing points of the pattern's origin on both: R(−turn)(o − shift); they differ by whole repeats.
        let back = |p: &Value| {
            let sign = if p["turn_deg"] == 180.0 { -1.0 } else { 1.0 };
            let s = pair(&p["shift"]);
            [sign * (origin[0] - s[0]), sign * (origin[1] - s[1])]
        };
        let (p, q) = (back(now), back(two));
        assert!(off_lattice([p[0] - q[0], p[1] - q[1]], &pattern) < 1e-9);
        // And it is the nearest such place: no neighbour by a repeat is nearer to the hand.
        let shift = pair(&now["shift"]);
        let far = |s: [f64; 2]| (s[0] - wanted[0]).hypot(s[1] - wanted[1]);
        let (a, b) = (pair(&pattern["a"]), pair(&pattern["b"]));
        for i in -2..=2 {
            for j in -2..=2 {
                let (i, j) = (f64::from(i), f64::from(j));
                let other = [shift[0] + i * a[0] + j * b[0], shift[1] + i * a[1] + j * b[1]];
                assert!(far(shift) <= far(other) + 1e-9);
            }
        }
    }
    // A centred piece: its middle comes to lie on a crossing of pivots, of the kind its other copy has.
    let bud = placed(&lay, "bud", 1).clone();
    let piece = bud["piece"].as_u64().unwrap() as usize;
    let middle = pair(&table.get("api/pieces")[piece]["anchor"]);
    let moves = json!({ "moves": [{ "piece": piece, "copy": 1, "turn_deg": 0, "shift": [200.0, 33.0] }] });
    table.post("api/lay/move", &moves);
    let lay = table.get("api/lay");
    let on_cloth = |copy: u64| {
        let p = placed(&lay, "bud", copy);
        let sign = if p["turn_deg"] == 180.0 { -1.0 } else { 1.0 };
        let s = pair(&p["shift"]);
        [s[0] + sign * middle[0] - origin[0], s[1] + sign * middle[1] - origin[1]]
    };
    let (m, n) = (on_cloth(1), on_cloth(2));
    assert!(off_lattice([2.0 * m[0], 2.0 * m[1]], &pattern) < 1e-9);
    assert!(off_lattice([m[0] - n[0], m[1] - n[1]], &pattern) < 1e-9);
    // A whole group slides by any way and stays in step within itself.
    let before = [placed(&lay, "one", 1).clone(), placed(&lay, "two", 1).clone()];
    table.post("api/lay/move", &json!({ "group": "wave", "by": [7.3, 5.9] }));
    let lay = table.get("api/lay");
    let (one, two) = (pair(&placed(&lay, "one", 1)["shift"]), pair(&before[0]["shift"]));
    assert!((one[0] - two[0] - 7.3).abs() < 1e-9 && (one[1] - two[1] - 5.9).abs() < 1e-9);
    let faults = table.post("api/lay/check", &json!({}));
    assert!(!faults["faults"].to_string().contains("out of step"), "{faults}");
}

#[test]
fn what_breaks_a_rule_is_shown_as_it_arises_and_goes_when_it_is_undone() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let lay = laid(&table);
    let (ring, one) = (placed(&lay, "ring", 1), placed(&lay, "one", 1));
    let drop_on = |shift: Value| json!({ "moves": [{ "piece": ring["piece"], "copy": 1, "turn_deg": ring["turn_deg"], "shift": shift }] });
    let boxed = |p: &Value| {
        let pieces = table.get("api/pieces");
        let outline =
            pieces[p["piece"].as_u64().unwrap() as usize]["cut"]["outline"].as_array().unwrap().clone();
        let sign = if p["turn_deg"] == 180.0 { -1.0 } else { 1.0 };
        let s = pair(&p["shift"]);
        let corner = pair(&outline[0]);
        [s[0] + sign * corner[0], s[1] + sign * corner[1]]
    };
    // Its corner onto the other's.
    let (r, o, s) = (boxed(ring), boxed(one), pair(&ring["shift"]));
    let said = table.post("api/lay/move", &drop_on(json!([s[0] + o[0] - r[0], s[1] + o[1] - r[1]])));
    let breaks = said["breaks"].as_array().unwrap();
    assert!(
        breaks.iter().any(|b| b["kind"] == "overlap" && b["text"].as_str().unwrap().contains("ring")),
        "{said}"
    );
    table.try_post("POST", "api/plan", table.revision(), &json!({})).problem_or_fails(&table);
    table.post("api/undo", &json!({}));
    assert_eq!(table.get("api/lay")["breaks"], json!([]));
    let said = table.post("api/lay/move", &drop_on(json!([s[0] - 900.0, s[1]])));
    assert!(said["breaks"].as_array().unwrap().iter().any(|b| b["kind"] == "edge"), "{said}");
    // What is told bit by bit is what the whole test tells from the start.
    let told: Vec<&Value> = said["breaks"].as_array().unwrap().iter().map(|b| &b["text"]).collect();
    let whole = table.post("api/lay/check", &json!({}));
    assert_eq!(json!(told), whole["faults"], "{whole}");
    table.post("api/undo", &json!({}));
    // A flaw drawn where a piece lies.
    let mut job = table.get("api/state")["job"].clone();
    let [x, y] = o;
    job["cloths"][0]["flaws_mm"] =
        json!([[[x - 3.0, y - 3.0], [x + 3.0, y - 3.0], [x + 3.0, y + 3.0], [x - 3.0, y + 3.0]]]);
    table.put_job(&job);
    let lay = table.get("api/lay");
    assert!(
        lay["stale"] == true && lay["breaks"].as_array().unwrap().iter().any(|b| b["kind"] == "flaw"),
        "{lay}"
    );
}

impl crate::client::Answer {
    /// A lay that breaks a rule gives no plan: refused at once, or told at the end.
    fn problem_or_fails(&self, table: &Table) {
        if self.status == 202 {
            let state = table.idle();
            assert_eq!(state["has_plan"], false, "{state}");
        } else {
            self.problem(self.status);
        }
    }
}

#[test]
fn a_locked_piece_stays_where_it_is_and_the_job_says_so() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let lay = laid(&table);
    let bud = placed(&lay, "bud", 2).clone();
    table.post("api/lay/lock", &json!({ "pieces": [[bud["piece"], 2]], "locked": true }));
    let job = table.get("api/state")["job"].clone();
    assert_eq!(job["lay"]["locked"][0]["piece"], "bud");
    assert_eq!(job["lay"]["locked"][0]["copy"], 2);
    let moves = json!({ "moves": [{ "piece": bud["piece"], "copy": 2, "turn_deg": 0, "shift": [0, 0] }] });
    table.try_post("POST", "api/lay/move", table.revision(), &moves).problem(409);
    let again = laid(&table);
    assert_eq!(placed(&again, "bud", 2)["shift"], bud["shift"]);
    assert_eq!(placed(&again, "bud", 2)["locked"], true);
    // The command line knows it, too.
    table.post("api/save", &json!({}));
    let out = command(place.path(), &["lay", "leaf.job.json", "--json"]).output().unwrap();
    let rows: Value = serde_json::from_slice(&out.stdout).unwrap();
    let same =
        rows[0]["placed"].as_array().unwrap().iter().any(|p| p["id"] == "bud" && p["shift"] == bud["shift"]);
    assert!(same, "{rows}");
    table.post("api/lay/lock", &json!({ "pieces": [[bud["piece"], 2]], "locked": false }));
    assert!(table.get("api/state")["job"]["lay"].get("locked").is_none());
}

#[test]
fn laying_goes_on_when_the_page_is_gone_and_can_be_stopped_by_the_next() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let mut events = table.events();
    table.post("api/lay/start", &json!({ "seconds": 60 }));
    events.until("better");
    drop(events);
    // Another page sees that it goes on; nothing is changed under its feet meanwhile.
    assert_eq!(table.get("api/state")["busy"], "lay");
    for (path, body) in [("api/lay/start", json!({})), ("api/plan", json!({})), ("api/undo", json!({}))] {
        let said = table.try_post("POST", path, table.revision(), &body).problem(409);
        assert!(path == "api/undo" || path == "api/plan" || said["busy"] == "lay", "{said}");
    }
    let started = std::time::Instant::now();
    assert_eq!(table.call("POST", "api/lay/stop", &[], b"").json()["stopping"], true);
    table.idle();
    assert!(started.elapsed().as_secs() < 30);
    let lay = table.get("api/lay");
    assert!(lay["has_lay"] == true && lay["breaks"] == json!([]) && lay["missing"] == json!([]), "{lay}");
}

/// The plan is of the lay as it lies, and the command line makes the same of the job that lies beside it.
#[test]
fn the_plan_is_of_the_lay_on_the_table() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    table.try_post("POST", "api/plan", 0, &json!({})).problem(409);
    table.call("GET", "api/plan", &[], b"").problem(404);
    let lay = laid(&table);
    let mut events = table.events();
    assert_eq!(table.try_post("POST", "api/plan", table.revision(), &json!({})).status, 202);
    let done = events.until("done").pop().unwrap().1;
    assert_eq!(done["ok"], true, "{done}");
    assert_eq!(table.get("api/state")["has_plan"], true);
    let plan = table.get("api/plan");
    for piece in plan["pieces"].as_array().unwrap() {
        let p = placed(&lay, piece["id"].as_str().unwrap(), piece["copy"].as_u64().unwrap());
        let (a, b) = (pair(&p["shift"]), pair(&piece["shift"]));
        assert!(
            (a[0] - b[0]).abs() < 1e-3 && (a[1] - b[1]).abs() < 1e-3 && p["turn_deg"] == piece["turn_deg"]
        );
    }
    let out =
        command(place.path(), &["plan", "leaf-cut/as-laid.job.json", "--out", "again"]).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let read = |f: &str| std::fs::read(place.path().join(f).join("plan.json")).unwrap();
    assert_eq!(read("again"), read("leaf-cut"), "the same plan, byte by byte");
    checker(place.path());
    // A change of the lay makes the plan that of another.
    let one = placed(&lay, "ring", 1);
    let to = pair(&one["shift"]);
    let moves = json!({ "moves": [{ "piece": one["piece"], "copy": 1, "turn_deg": one["turn_deg"], "shift": [to[0], to[1] + 400.0] }] });
    table.post("api/lay/move", &moves);
    assert_eq!(table.get("api/state")["has_plan"], false);
    table.post("api/undo", &json!({}));
    assert_eq!(table.get("api/state")["has_plan"], true);
}

/// Lays and plans for a bed so small that the work takes several passes.
pub fn plan_several_passes(table: &Table) {
    let mut job = table.get("api/state")["job"].clone();
    job["cutter"]["bed_mm"] = json!([700, 230]);
    table.put_job(&job);
    laid(table);
    table.post("api/plan", &json!({}));
    assert_eq!(table.idle()["has_plan"], true);
}

/// The independent checker of plans, where it lies beside the checkout and its Python is named.
fn checker(folder: &std::path::Path) {
    let (Some(python), Some(script)) =
        (std::env::var_os("SETTLAY_CHECKER_PYTHON"), std::env::var_os("SETTLAY_CHECKER"))
    else {
        return;
    };
    let out = Command::new(python)
        .arg(script)
        .args(["leaf-cut/plan.json", "leaf-cut/as-laid.job.json"])
        .current_dir(folder)
        .output()
        .unwrap();
    assert!(
        out.status.success(),
        "{}{}",
        String::from_utf8_lossy(&out.stdout),
        String::from_utf8_lossy(&out.stderr)
    );
}

#[test]
fn from_measured_marks_to_a_spoilt_piece_cut_again() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    plan_several_passes(&table);
    let plan = table.get("api/plan");
    let second =
        plan["passes"].as_array().unwrap().iter().find(|p| p["number"] == 2).expect("two passes").clone();
    let marks: Vec<Value> = second["marks"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|m| m["burnt_here"] == false)
        .map(|m| json!({ "name": m["name"], "x_mm": number(&m["bed"][0]) + 2.0, "y_mm": number(&m["bed"][1]) - 1.0 }))
        .collect();
    let body = |only_try: bool| json!({ "cloth": "fen", "marks": marks, "try": only_try });
    let files = |t: &Table| t.get("api/files").to_string();
    let before = files(&table);
    let tried = table.post("api/passes/2/realign", &body(true));
    let shift = pair(&tried["shift_mm"]);
    assert!(
        (shift[0] - 2.0).abs() < 0.05 && (shift[1] + 1.0).abs() < 0.05,
        "moved as the cloth was: {tried}"
    );
    assert!(tried["text"].as_str().unwrap().contains("Pass 2"), "{tried}");
    assert_eq!(files(&table), before, "only tried");
    let mut agreed = body(false);
    agreed["earlier_cut"] = true.into();
    let done = table.post("api/passes/2/realign", &agreed);
    assert!(done["files"].to_string().contains("pass-2.svg"), "{done}");
    assert!(files(&table).contains("plan-as-planned.json"));
    table
        .try_post(
            "POST",
            "api/passes/2/realign",
            0,
            &json!({ "marks": [{ "name": "Z9", "x_mm": 1, "y_mm": 1 }] }),
        )
        .problem(422);
    table.try_post("POST", "api/passes/9/realign", 0, &body(true)).problem(422);
    let rest = table.post("api/passes/2/rest", &json!({ "cloth": "fen", "from_burn": 2 }));
    assert!(rest["files"].to_string().contains("from-2"), "{rest}");
    let said = table.post("api/passes/2/done", &json!({ "cloth": "fen", "done": true }));
    assert_eq!(said["new"], true);
    let passes = table.get("api/passes");
    assert!(
        passes.as_array().unwrap().iter().all(|p| p["pass"].as_u64().unwrap() > 2 || !p["done"].is_null()),
        "{passes}"
    );
    table.try_post("POST", "api/passes/2/realign", 0, &body(true)).problem(422);
    table.try_post("POST", "api/plan", table.revision(), &json!({})).problem(422);
    // Cut again from the rest of the cloth; what is left goes on the shelf.
    let mut events = table.events();
    assert_eq!(table.try_post("POST", "api/recut", 0, &json!({ "piece": "bud", "copy": 2 })).status, 202);
    let done = events.until("done").pop().unwrap().1;
    assert_eq!(done["ok"], true, "{done}");
    assert!(files(&table).contains("again/1/plan.json"), "{}", files(&table));
    let added = table.post("api/offcuts/add", &json!({ "place": "drawer" }));
    let on_shelf = table.get("api/offcuts");
    assert_eq!(added["added"].as_array().unwrap().len(), on_shelf["offcuts"].as_array().unwrap().len());
    assert_eq!(table.try_post("POST", "api/buy", 0, &json!({ "effort": 1 })).status, 202);
    let done = events.until("done").pop().unwrap().1;
    assert!(done["ok"] == true && done["given"][0]["cloth"] == "fen", "{done}");
    assert_eq!(table.get("api/buy"), done["given"]);
}

/// Each reads the record of what is cut and writes it again: none may write over another.
#[test]
fn passes_marked_as_cut_at_once_are_all_recorded() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    plan_several_passes(&table);
    let passes = table.get("api/passes").as_array().unwrap().len();
    assert!(passes > 1);
    std::thread::scope(|all| {
        for pass in 1..=passes {
            let table = &table;
            all.spawn(move || {
                let body = json!({ "cloth": "fen", "done": true });
                let said = table.try_post("POST", &format!("api/passes/{pass}/done"), 0, &body);
                assert_eq!(said.status, 200, "{}", String::from_utf8_lossy(&said.body));
            });
        }
    });
    let recorded = table.get("api/passes");
    assert!(recorded.as_array().unwrap().iter().all(|p| p["done"].is_string()), "{recorded}");
    // A drawing replaced since no longer fits the plan, and every page hears of it; the cut plan stays in sight.
    let revision = table.revision();
    let svg = crate::client::SVG.replace("</svg>", "<path id='more' d='M1 1h30v30h-30z'/></svg>");
    let answer = table.call(
        "POST",
        "api/drawing?name=leaf.svg&over=1",
        &[("If-Match", &revision.to_string()), ("Content-Type", "image/svg+xml")],
        svg.as_bytes(),
    );
    assert_eq!(answer.status, 200, "{}", String::from_utf8_lossy(&answer.body));
    assert!(table.revision() > revision);
    let state = table.get("api/state");
    assert_eq!(
        (&state["has_plan"], &state["plan_changed"]),
        (&json!(true), &json!(["the drawing"])),
        "{state}"
    );
    let old = std::fs::read_to_string(place.path().join(format!(".leaf.svg-before-{revision}"))).unwrap();
    assert_eq!(old, crate::client::SVG);
}

/// Every rule may hold on each of two bolts and the pattern still break between them: that is said while pieces are moved.
#[test]
fn a_pattern_that_breaks_between_two_cloths_is_told_on_the_table() {
    let place = folder();
    let mut job = crate::client::job();
    let mut other = job["cloths"][0].clone();
    (other["name"], other["pattern"]["origin_mm"]) = (json!("other"), json!([3, 9]));
    job["cloths"].as_array_mut().unwrap().push(other);
    job["cutter"]["border_mm"] = json!(10);
    std::fs::write(place.path().join("leaf.job.json"), job.to_string()).unwrap();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let lay = laid(&table);
    assert_eq!((lay["breaks"].clone(), lay["sewn"]["asked"].clone()), (json!([]), json!(1)));
    assert_eq!((lay["sewn"]["broken"].clone(), lay["sewn"]["text"].as_str().is_some()), (json!([]), true));
    drop(table);
    let rule = |id: &str, cloth: &str| json!({"select": {"id": id}, "cloth": cloth, "match": "drawn", "group": "wave", "allowance_mm": 1.5});
    job["pieces"].as_array_mut().unwrap().splice(0..1, [rule("one", "fen"), rule("two", "other")]);
    let place = folder();
    std::fs::write(place.path().join("leaf.job.json"), job.to_string()).unwrap();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let lay = laid(&table);
    assert_eq!((lay["breaks"].clone(), lay["sewn"]["broken"].as_array().unwrap().len()), (json!([]), 1));
    assert!(lay["sewn"]["text"].as_str().unwrap().contains("are two cloths"), "{}", lay["sewn"]);
    // A move that changes nothing of it tells it again.
    let one = placed(&lay, "one", 1);
    let [x, y] = pair(&one["shift"]);
    let asked = json!({"moves": [{"piece": one["piece"], "copy": 1, "turn_deg": one["turn_deg"], "shift": [x, y + 300.0]}]});
    let moved = table.post("api/lay/move", &asked);
    assert_eq!(moved["sewn"]["broken"].as_array().unwrap().len(), 1, "{}", moved["sewn"]);
}
