//! Nothing is lost and nothing silently replaced.

use std::fs;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::client::{SVG, Table, folder, job};

#[test]
fn from_an_empty_table_to_a_job_that_a_person_can_read() {
    let place = tempfile::tempdir().unwrap();
    let table = Table::open(place.path(), &[]);
    assert!(table.get("api/state")["job"].is_null());
    table.call("GET", "api/drawing", &[], b"").problem(404);
    let said = table.drawing("leaf.svg", 0, SVG.as_bytes());
    assert_eq!(said.status, 200, "{}", String::from_utf8_lossy(&said.body));
    assert_eq!(said.json()["job_file"], "leaf.job.json");
    assert_eq!(table.get("api/drawing")["page_mm"], json!([600.0, 400.0]));
    // A job that makes no sense yet is kept all the same, and told what it lacks.
    let mut half = table.get("api/state")["job"].clone();
    half["cloths"] = json!([{ "name": "fen" }]);
    let wrong = table.put_job(&half)["troubles"].clone();
    assert!(wrong.to_string().contains("width_mm"), "{wrong}");
    table.call("GET", "api/pieces", &[], b"").problem(422);
    assert_eq!(table.put_job(&job())["troubles"], json!([]));
    assert_eq!(table.get("api/pieces").as_array().unwrap().len(), 4);
    assert!(!place.path().join("leaf.job.json").exists(), "the job file comes when the maker saves");
    // Killed, and opened again without a word: it goes on where it was.
    drop(table);
    let table = Table::open(place.path(), &[]);
    assert!(table.said.iter().any(|l| l.contains("going on with leaf.job.json")), "{:?}", table.said);
    assert_eq!(table.get("api/state")["job"], job());
    table.post("api/save", &json!({}));
    assert_eq!(table.get("api/state")["saved"], true);
    let text = fs::read_to_string(place.path().join("leaf.job.json")).unwrap();
    assert!(text.lines().count() > 10 && text.lines().all(|l| l.chars().count() < 160), "{text}");
    assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), job());
}

/// Every change is on disk before it is answered: whenever the server is killed, the last one answered is there.
#[test]
fn twenty_kills_in_mid_change_lose_nothing_that_was_answered() {
    let place = folder();
    let mut answered = (0, String::new());
    for round in 0..20u64 {
        let mut table = Table::open(place.path(), &["leaf.job.json"]);
        let state = table.get("api/state");
        let title = state["job"]["title"].as_str().unwrap().to_owned();
        assert!(state["revision"].as_u64().unwrap() >= answered.0, "round {round}");
        let next: u64 = title.rsplit(' ').next().and_then(|n| n.parse().ok()).unwrap_or(0);
        let last: u64 = answered.1.rsplit(' ').next().and_then(|n| n.parse().ok()).unwrap_or(0);
        // One more than was answered may have been written, never less.
        assert!(next == last || next == last + 1, "round {round}: {title}, answered {}", answered.1);
        answered = (state["revision"].as_u64().unwrap(), title);
        let pid = table.child.id();
        let killer = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(7 * (round % 5) + 3));
            kill(pid);
        });
        let mut revision = state["revision"].as_u64().unwrap();
        for k in next + 1.. {
            let mut job = job();
            job["title"] = format!("{} {k}", "Leaf ".repeat(2000)).into();
            let said = table.try_post("PUT", "api/job", revision, &json!({ "job": job }));
            if said.status != 200 || said.body.is_empty() {
                break;
            }
            let Ok(told) = serde_json::from_slice::<Value>(&said.body) else { break };
            revision = told["revision"].as_u64().unwrap();
            answered = (revision, job["title"].as_str().unwrap().to_owned());
        }
        killer.join().unwrap();
        let _ = table.child.wait();
        let beside = fs::read(place.path().join(".leaf.job.json.table"));
        assert!(
            beside.is_err() || serde_json::from_slice::<Value>(&beside.unwrap()).is_ok(),
            "whole at any time"
        );
    }
    assert!(answered.0 > 0, "some changes were answered");
}

/// Kills as a power cut would, without a word.
fn kill(pid: u32) {
    let _ = std::process::Command::new("kill").args(["-9", &pid.to_string()]).status();
}

#[test]
fn two_tabs_do_not_overwrite_each_other() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let mut seen_by_other = table.events();
    assert_eq!(seen_by_other.next().1["revision"], 0);
    let mut mine = job();
    mine["title"] = "mine".into();
    assert_eq!(table.try_post("PUT", "api/job", 0, &json!({ "job": mine })).json()["revision"], 1);
    assert_eq!(seen_by_other.until("state").pop().unwrap().1["revision"], 1, "the other tab hears of it");
    let mut theirs = job();
    theirs["title"] = "theirs".into();
    let said = table.try_post("PUT", "api/job", 0, &json!({ "job": theirs })).problem(409);
    assert_eq!(said["revision"], 1);
    for path in ["api/undo", "api/reload", "api/save", "api/lay/start", "api/plan"] {
        table.try_post("POST", path, 0, &json!({})).problem(409);
    }
    assert_eq!(table.get("api/state")["job"]["title"], "mine");
    table.post("api/undo", &json!({}));
    assert_eq!(table.get("api/state")["job"]["title"], "Leaf");
    table.post("api/redo", &json!({}));
    assert_eq!(table.get("api/state")["job"]["title"], "mine");
    table.try_post("POST", "api/redo", table.revision(), &json!({})).problem(409);
}

#[test]
fn files_edited_beside_the_table_are_noticed_and_never_silently_replaced() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let wait = |what: bool| {
        let start = Instant::now();
        while table.get("api/state")["disk_changed"] != what {
            assert!(start.elapsed() < Duration::from_secs(20), "expected disk_changed {what}");
            std::thread::sleep(Duration::from_millis(100));
        }
    };
    wait(false);
    let mut events = table.events();
    events.next();
    let mut theirs = job();
    theirs["title"] = "by hand".into();
    fs::write(place.path().join("leaf.job.json"), theirs.to_string()).unwrap();
    // Nobody asks: the table looks by itself.
    assert_eq!(events.until("state").pop().unwrap().1["disk_changed"], true);
    let mut mine = job();
    mine["title"] = "on the table".into();
    table.put_job(&mine);
    let said = table.try_post("POST", "api/save", table.revision(), &json!({})).problem(409);
    assert_eq!(said["on_disk"], true);
    assert!(fs::read_to_string(place.path().join("leaf.job.json")).unwrap().contains("by hand"));
    table.post("api/reload", &json!({}));
    assert_eq!(table.get("api/state")["job"]["title"], "by hand");
    wait(false);
    // What was on the table is still to be had.
    table.post("api/undo", &json!({}));
    assert_eq!(table.get("api/state")["job"]["title"], "on the table");
    table.post("api/save", &json!({}));
    // The drawing, too.
    fs::write(place.path().join("leaf.svg"), SVG.replace("h60v60h-60z", "h50v60h-50z")).unwrap();
    wait(true);
    table.post("api/reload", &json!({}));
    wait(false);
    // Another drawing of the same name does not take its place unasked.
    let said = table.drawing("leaf.svg", table.revision(), SVG.as_bytes()).problem(409);
    assert_eq!(said["exists"], "leaf.svg");
    assert_eq!(table.drawing("leaf.svg&over=1", table.revision(), SVG.as_bytes()).status, 200);
    assert_eq!(fs::read_to_string(place.path().join("leaf.svg")).unwrap(), SVG);
}

/// A drawing with script in it and links to elsewhere: what of it can be cut is shown, as numbers.
#[test]
fn what_a_drawing_loses_is_told_with_its_place() {
    let place = tempfile::tempdir().unwrap();
    let table = Table::open(place.path(), &[]);
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='100mm' viewBox='0 0 100 100'>\
        <image id='photo' x='10' y='20' width='30' height='10' transform='translate(5 0)'/>\
        <text id='motto' x='10' y='90' font-family='Nowhere Grotesk'>Motto</text>\
        <rect id='leaf' width='50' height='50' fill='#204060'/></svg>";
    assert_eq!(table.drawing("lossy.svg", 0, svg.as_bytes()).status, 200);
    let drawing = table.get("api/drawing");
    let lost: Vec<&Value> =
        drawing["faults"].as_array().unwrap().iter().filter(|f| f["kind"] == "lost").collect();
    assert_eq!(lost.iter().map(|f| &f["about"]).collect::<Vec<_>>(), ["photo", "motto"], "{drawing}");
    assert_eq!((&lost[0]["at"], &lost[0]["level"]), (&json!([30.0, 75.0]), &json!("wrong")));
    assert_eq!(drawing["losses"].as_array().unwrap().len(), 2);
    let notes = drawing["notes"].to_string();
    assert!(notes.contains("are pictures") && notes.contains("text without outlines"), "{notes}");
}

#[test]
fn nothing_in_a_drawing_is_run_or_fetched() {
    let place = tempfile::tempdir().unwrap();
    let table = Table::open(place.path(), &[]);
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' width='100mm' height='100mm' \
        viewBox='0 0 100 100' onload='alert(1)'><script>alert(2)</script><image xlink:href='http://127.0.0.1:9/x.png' width='9' height='9'/>\
        <foreignObject><iframe xmlns='http://www.w3.org/1999/xhtml' src='file:///etc/passwd'/></foreignObject>\
        <a xlink:href='javascript:alert(3)'><path id='leaf&lt;script>alert(4)&lt;/script>' d='M10 10h50v50h-50z' onclick='alert(5)'/></a></svg>";
    assert_eq!(table.drawing("sly.svg", 0, svg.as_bytes()).status, 200);
    let answer = table.call("GET", "api/drawing", &[], b"");
    assert_eq!(answer.header("content-type").as_deref(), Some("application/json"));
    let drawing = answer.json();
    assert_eq!(drawing["shapes"].as_array().unwrap().len(), 1, "{drawing}");
    let text = drawing["shapes"].to_string();
    assert!(!text.contains("alert(1)") && !text.contains("alert(5)") && !text.contains("href"), "{text}");
    table.call("GET", "files/sly.svg", &[], b"").problem(404);
    // What is no drawing is not kept.
    for bytes in [&b"not a drawing"[..], b"<html><script>alert(1)</script></html>", b"", b"\x89PNG\r\n"] {
        assert!(table.drawing("no.svg", table.revision(), bytes).status >= 400);
    }
    assert!(!place.path().join("no.svg").exists());
}

#[cfg(unix)]
#[test]
fn it_ends_at_once_when_asked_even_while_pages_look_on_and_lets_the_job_go() {
    let place = folder();
    for signal in ["-INT", "-TERM"] {
        let mut table = Table::open(place.path(), &["leaf.job.json"]);
        let mut events = table.events();
        events.next();
        let start = Instant::now();
        let pid = table.child.id().to_string();
        std::process::Command::new("kill").args([signal, &pid]).status().unwrap();
        assert!(table.child.wait().unwrap().success(), "{signal}");
        assert!(start.elapsed() < Duration::from_secs(5), "{signal}: {:?}", start.elapsed());
        assert!(!place.path().join(".leaf.job.json.table-lock").exists());
    }
}
