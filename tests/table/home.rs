//! Started with a double click: a folder for jobs, those of before to go on with, one server for all.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::{Value, json};

use crate::client::{SVG, Table, command, folder, job};

/// Words for a start at home in a home of its own.
fn at_home(home: &Path) -> Command {
    let mut c = command(home, &["table", "--home", "--no-open"]);
    for name in ["XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_DOCUMENTS_DIR", "APPDATA"] {
        c.env_remove(name);
    }
    c.env("HOME", home).env("USERPROFILE", home);
    c
}

fn jobs_of(home: &Path) -> PathBuf {
    std::fs::canonicalize(home).unwrap().join("Documents").join("settlay")
}

/// The same server, another of its tables.
fn other(table: &Table, to: &str) -> Table {
    let child = Command::new(assert_cmd::cargo::cargo_bin("settlay"))
        .arg("--version")
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap();
    Table { child, host: table.host.clone(), base: to.to_owned(), said: Vec::new() }
}

fn titles(table: &Table) -> Vec<String> {
    let told = table.get("api/recent");
    let all = told["jobs"].as_array().unwrap();
    let name = |j: &Value| {
        let title = j["title"].as_str().unwrap();
        if title.is_empty() { j["name"].as_str().unwrap().to_owned() } else { title.to_owned() }
    };
    all.iter().map(name).collect()
}

#[test]
fn each_job_begun_at_home_gets_a_folder_of_its_own_and_is_there_to_go_on_with() {
    let home = tempfile::tempdir().unwrap();
    let table = Table::started(at_home(home.path()));
    let jobs = jobs_of(home.path());
    assert!(jobs.is_dir());
    let state = table.get("api/state");
    assert_eq!((state["home"].clone(), state["job"].clone()), (json!(true), Value::Null));
    assert_eq!(titles(&table), Vec::<String>::new());
    // What cannot be read as a drawing leaves no folder.
    assert_eq!(table.drawing("leaf.svg", 0, b"no drawing").status, 422);
    assert_eq!(std::fs::read_dir(&jobs).unwrap().count(), 0);
    assert_eq!(table.drawing("leaf.svg", 0, SVG.as_bytes()).status, 200);
    assert!(jobs.join("leaf/leaf.svg").is_file() && jobs.join("leaf/.leaf.job.json.table").is_file());
    let mut first = table.get("api/state")["job"].clone();
    first["title"] = json!("Heron");
    table.put_job(&first);
    // A second one, on a table of its own; the first stays as it is.
    let to = table.post("api/open", &json!({"job": null}))["to"].as_str().unwrap().to_owned();
    let second = other(&table, &to);
    assert_eq!(titles(&second), ["Heron"]);
    assert_eq!(second.drawing("leaf.svg", 0, SVG.as_bytes()).status, 200);
    assert!(jobs.join("leaf 2/leaf.svg").is_file());
    second.post("api/save", &json!({}));
    assert!(jobs.join("leaf 2/leaf.job.json").is_file());
    assert_eq!(table.get("api/state")["job"]["title"], "Heron");
    // Opened once more it is the table it is on already.
    let list = table.get("api/recent");
    let heron =
        list["jobs"].as_array().unwrap().iter().find(|j| j["title"] == "Heron").unwrap()["job"].clone();
    assert_eq!(second.post("api/open", &json!({ "job": heron }))["to"], table.base.as_str());
    // Killed in the middle, all of it is there at the next start.
    drop(second);
    drop(table);
    let again = Table::started(at_home(home.path()));
    let told = titles(&again);
    assert!(
        told.len() == 2 && told.contains(&"Heron".to_owned()) && told.contains(&"leaf".to_owned()),
        "{told:?}"
    );
    let to = again.post("api/open", &json!({ "job": heron }))["to"].as_str().unwrap().to_owned();
    let heron_again = other(&again, &to);
    assert_eq!(heron_again.get("api/state")["job"]["title"], "Heron");
    assert_eq!(titles(&again)[0], "Heron", "the one opened last comes first");
    // What is gone is left out.
    std::fs::remove_dir_all(jobs.join("leaf 2")).unwrap();
    assert_eq!(titles(&again), ["Heron"]);
}

#[test]
fn a_page_opens_no_file_that_is_not_on_the_list() {
    let home = tempfile::tempdir().unwrap();
    let elsewhere = folder();
    let table = Table::started(at_home(home.path()));
    let path = elsewhere.path().join("leaf.job.json").display().to_string();
    for job in [path.as_str(), "/etc/passwd", "", "../x.job.json"] {
        table.try_post("POST", "api/open", 0, &json!({ "job": job })).problem(404);
    }
    // In a folder there is no such list.
    let there = Table::open(elsewhere.path(), &["leaf.job.json"]);
    assert_eq!(there.get("api/state")["home"], false);
    there.call("GET", "api/recent", &[], b"").problem(404);
    there.try_post("POST", "api/open", 0, &json!({ "job": path })).problem(404);
    // One put into the folder for jobs by hand is found.
    let own = jobs_of(home.path()).join("leaf");
    std::fs::create_dir(&own).unwrap();
    std::fs::write(own.join("leaf.job.json"), job().to_string()).unwrap();
    assert_eq!(titles(&table), ["Leaf"]);
}

#[test]
fn a_second_start_shows_the_table_that_runs() {
    let home = tempfile::tempdir().unwrap();
    let table = Table::started(at_home(home.path()));
    let second = |words: &[&str]| {
        let ran = at_home(home.path()).args(words).output().unwrap();
        let said = String::from_utf8(ran.stdout).unwrap();
        assert_eq!(ran.status.code(), Some(0), "{said}{}", String::from_utf8_lossy(&ran.stderr));
        let door = said.lines().find(|l| l.starts_with("http://")).unwrap().to_owned();
        door.strip_prefix(&format!("http://{}", table.host)).unwrap().to_owned()
    };
    let door = second(&[]);
    assert!(!door.contains(table.base.trim_matches('/')), "the secret itself is not told");
    let led = table.call_at("GET", &door, &[], b"");
    assert_eq!(
        (led.status, led.header("location")),
        (303, Some(table.base.clone())),
        "the empty table is shown"
    );
    table.call_at("GET", &door, &[], b"").problem(403);
    // While somebody looks at it, another start gets an empty table of its own.
    let mut heard = table.events();
    heard.next();
    let led = table.call_at("GET", &second(&[]), &[], b"").header("location").unwrap();
    assert_ne!(led, table.base);
    assert_eq!(other(&table, &led).get("api/state")["job"], Value::Null);
    // The way in is told to this user alone.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let told = home.path().join(".local/share/settlay/table-at-home.json");
        assert_eq!(std::fs::metadata(told).unwrap().permissions().mode() & 0o077, 0);
    }
    // Killed, it leaves nothing that would keep the next from starting.
    drop(heard);
    drop(table);
    let next = Table::started(at_home(home.path()));
    assert_eq!(next.get("api/state")["job"], Value::Null);
}

#[test]
fn a_table_that_nobody_looks_at_ends_by_itself() {
    let place = folder();
    let setup = settlay::table::Setup {
        job: Some(place.path().join("leaf.job.json")),
        patience: Some(std::time::Duration::ZERO),
        ..Default::default()
    };
    settlay::table::open(&setup).unwrap().serve().unwrap();
    // It let go of the job.
    assert!(settlay::table::open(&setup).is_ok());
}

/// A job is on one table, also when it is opened by a link to it, or in a folder that is one.
#[cfg(unix)]
#[test]
fn a_link_to_a_job_that_is_open_is_told() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let desk = tempfile::tempdir().unwrap();
    std::os::unix::fs::symlink(place.path().join("leaf.job.json"), desk.path().join("other.job.json"))
        .unwrap();
    std::os::unix::fs::symlink(place.path(), desk.path().join("folder")).unwrap();
    std::fs::hard_link(place.path().join("leaf.job.json"), place.path().join("twin.job.json")).unwrap();
    let twin = place.path().join("twin.job.json").display().to_string();
    for name in ["other.job.json", "folder/leaf.job.json", &twin] {
        let ran = command(desk.path(), &["table", "--no-open", name]).output().unwrap();
        let said = String::from_utf8(ran.stderr).unwrap();
        assert!(ran.status.code() == Some(1) && said.contains("open on another table"), "{name}: {said}");
    }
    drop(table);
    let linked = Table::open(desk.path(), &["other.job.json"]);
    assert_eq!(linked.get("api/state")["job_file"], "leaf.job.json");
}
