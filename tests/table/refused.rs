//! Calls that are not let in, or not as asked. The list of attacks is OWASP's: Web Security Testing Guide
//! (WSTG-INPV-17 Host header injection, WSTG-ATHZ-01 directory traversal, WSTG-CONF-06 HTTP methods, WSTG-CLNT-07
//! cross-origin requests, WSTG-SESS-05 cross-site request forgery) and the cheat sheets on request forgery and HTTP
//! headers; from memory.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;

use serde_json::json;

use crate::client::{Table, command, folder};

#[test]
fn only_the_page_that_was_opened_may_ask() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let port = table.host.rsplit(':').next().unwrap().to_owned();
    assert_eq!(table.call("GET", "", &[], b"").status, 200);
    let localhost = format!("localhost:{port}");
    assert_eq!(table.call("GET", "api/state", &[("Host", &localhost)], b"").status, 200);
    // A name of the attacker's that leads to 127.0.0.1 (DNS rebinding).
    for host in
        ["example.org", &format!("example.org:{port}"), "127.0.0.1", &format!("127.0.0.1.example.org:{port}")]
    {
        table.call("GET", "api/state", &[("Host", host)], b"").problem(421);
    }
    // Another site's page: it cannot send our Origin, and browsers say where it comes from (Fetch Metadata).
    let body = json!({}).to_string();
    for origin in [
        "http://example.org",
        "null",
        &format!("http://127.0.0.1:{}", 1 + port.parse::<u32>().unwrap() % 60_000),
    ] {
        let headers = [("Origin", origin), ("Content-Type", "application/json"), ("If-Match", "0")];
        table.call("POST", "api/undo", &headers, body.as_bytes()).problem(403);
    }
    for site in ["cross-site", "same-site"] {
        table.call("GET", "api/state", &[("Sec-Fetch-Site", site)], b"").problem(403);
    }
    // A form sends no JSON type.
    for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"] {
        table
            .call("POST", "api/undo", &[("Content-Type", kind), ("If-Match", "0")], b"{\"a\":1}")
            .problem(415);
    }
    // No preflight is answered with leave.
    let asked = [("Origin", "http://example.org"), ("Access-Control-Request-Method", "PUT")];
    let answer = table.call("OPTIONS", "api/job", &asked, b"");
    assert!(answer.status >= 400 && answer.header("access-control-allow-origin").is_none());
    assert_eq!(table.revision(), 0, "nothing was changed by any of these");
}

/// The browser's opener is started with an address that all of the computer may read: it leads in once.
#[cfg(target_os = "linux")]
#[test]
fn the_address_given_to_another_program_leads_in_once() {
    use std::os::unix::fs::PermissionsExt as _;
    let place = folder();
    let programs = place.path().join("programs");
    let told = place.path().join("told");
    std::fs::create_dir(&programs).unwrap();
    let opener = programs.join("xdg-open");
    let script = format!("#!/bin/sh\necho \"$1\" > '{0}.part' && mv '{0}.part' '{0}'\n", told.display());
    std::fs::write(&opener, script).unwrap();
    std::fs::set_permissions(&opener, std::fs::Permissions::from_mode(0o755)).unwrap();
    let mut opening = command(place.path(), &["table", "leaf.job.json"]);
    let path = std::env::var("PATH").unwrap_or_default();
    opening.env("PATH", format!("{}:{path}", programs.display()));
    let table = Table::started(opening);
    let until = std::time::Instant::now() + Duration::from_secs(60);
    while !told.exists() {
        assert!(std::time::Instant::now() < until, "the browser was never opened");
        std::thread::sleep(Duration::from_millis(20));
    }
    let address = std::fs::read_to_string(&told).unwrap();
    let door = address.trim().strip_prefix(&format!("http://{}", table.host)).unwrap().to_owned();
    assert!(!address.contains(table.base.trim_matches('/')), "the secret itself is not told");
    table.call_at("GET", &door, &[("Host", "example.org")], b"").problem(421);
    table.call_at("GET", &format!("{door}/api/state"), &[], b"").problem(403);
    let led = table.call_at("GET", &door, &[], b"");
    assert_eq!((led.status, led.header("location")), (303, Some(table.base.clone())));
    table.call_at("GET", &door, &[], b"").problem(403);
}

#[test]
fn without_the_secret_nothing_is_told() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let secret = table.base.trim_matches('/').to_owned();
    assert!(secret.len() >= 22, "128 bits take 22 letters of six bits");
    let other = Table::open(folder().path(), &[]);
    assert_ne!(secret, other.base.trim_matches('/'), "every start has its own");
    let mut near = secret.clone();
    near.pop();
    for path in [
        "/",
        "/api/state",
        "//api/state",
        &format!("/{near}/api/state"),
        &format!("/{secret}x/api/state"),
        other.base.as_str(),
    ] {
        let said = table.call_at("GET", path, &[], b"").problem(403);
        assert!(!said.to_string().contains(&secret) && !said.to_string().contains("leaf"), "{said}");
    }
}

#[test]
fn every_answer_carries_the_safety_headers() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    for path in ["", "api/state", "api/nothing", "files/plan.json", "api/cloths/0/tile.png"] {
        let answer = table.call("GET", path, &[], b"");
        let header = |name: &str| answer.header(name).unwrap_or_else(|| panic!("{path}: no {name}"));
        let policy = header("content-security-policy");
        assert!(
            policy.contains("default-src 'self'") && policy.contains("frame-ancestors 'none'"),
            "{policy}"
        );
        assert!(!policy.contains("unsafe-eval") && !policy.contains("script-src 'unsafe-inline'"));
        assert_eq!(header("x-content-type-options"), "nosniff");
        assert_eq!(header("referrer-policy"), "no-referrer");
        assert_eq!(header("cache-control"), "no-store");
        assert_eq!(header("x-frame-options"), "DENY");
    }
}

#[test]
fn no_path_leads_out_of_the_plans_folder() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    table.post("api/lay/start", &json!({}));
    table.idle();
    table.post("api/plan", &json!({}));
    let state = table.idle();
    assert_eq!(state["has_plan"], true, "{state}");
    let cut = place.path().join("leaf-cut");
    std::fs::write(cut.join("diary.txt"), "mine").unwrap();
    #[cfg(unix)]
    {
        // Names that a plan writes, but which lead elsewhere.
        std::os::unix::fs::symlink(place.path().join("leaf.svg"), cut.join("plan-as-planned.json")).unwrap();
        std::fs::create_dir(place.path().join("elsewhere")).unwrap();
        std::fs::write(place.path().join("elsewhere/fen-pass-1-from-2.svg"), "x").unwrap();
        std::os::unix::fs::symlink(
            "../../elsewhere/fen-pass-1-from-2.svg",
            cut.join("cut/fen-pass-1-from-2.svg"),
        )
        .unwrap();
    }
    let absolute = cut.join("plan.json").display().to_string();
    for path in [
        "../leaf.job.json",
        "..%2fleaf.job.json",
        "%2e%2e/leaf.job.json",
        "%2e%2e%2fleaf.job.json",
        "cut/../../leaf.job.json",
        "cut/%2e%2e/%2e%2e/leaf.job.json",
        "..%5cleaf.job.json",
        "..%252fleaf.job.json",
        "%2fetc%2fpasswd",
        "/etc/passwd",
        &absolute,
        "diary.txt",
        "cut",
        "",
        "plan.json%00.svg",
        "plan-as-planned.json",
        "cut/fen-pass-1-from-2.svg",
        "./plan.json",
        "cut//fen-pass-1.svg",
        "again/../plan.json",
    ] {
        let answer = table.call("GET", &format!("files/{path}"), &[], b"");
        assert!((400..500).contains(&answer.status), "{path}: {}", answer.head);
    }
    let listed = table.get("api/files");
    let names: Vec<&str> = listed.as_array().unwrap().iter().map(|f| f["path"].as_str().unwrap()).collect();
    assert!(names.contains(&"plan.json") && names.contains(&"cut/fen-pass-1.svg"), "{names:?}");
    for name in &names {
        let answer = table.call("GET", &format!("files/{name}?download=1"), &[], b"");
        assert_eq!(answer.status, 200, "{name}");
        assert_eq!(answer.body, std::fs::read(cut.join(name)).unwrap(), "{name}");
        assert!(answer.header("content-disposition").unwrap().starts_with("attachment"), "{name}");
    }
    let report = table.call("GET", "files/report.html", &[], b"");
    assert!(report.header("content-security-policy").unwrap().contains("sandbox"));
    // Names of drawings and jobs, too.
    let revision = table.revision();
    for name in ["..%2fx.svg", "%2fetc%2fx.svg", "a%5cb.svg", ".x.svg", "x.html"] {
        assert_eq!(table.drawing(name, revision, b"<svg/>").status, 400, "{name}");
    }
    for other in ["../x", "a/b", ".x", "C:x"] {
        table.try_post("POST", "api/save", revision, &json!({ "as": other })).problem(400);
    }
    for file in ["../x.svg", "/etc/passwd", "..\\x.svg"] {
        let mut job = table.get("api/state")["job"].clone();
        job["drawing"] = file.into();
        table.try_post("PUT", "api/job", revision, &json!({ "job": job })).problem(400);
        let mut job = table.get("api/state")["job"].clone();
        job["cloths"][0]["pattern"]["photo"] = json!({ "file": file, "size_mm": [60, 80] });
        table.try_post("PUT", "api/job", revision, &json!({ "job": job })).problem(400);
    }
}

#[test]
fn what_is_too_large_or_makes_no_sense_is_refused_in_words() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    // Told by its length before a byte of it is taken.
    let head = |path: &str, bytes: u64| {
        format!(
            "POST {}{path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nIf-Match: 0\r\nContent-Type: application/json\r\nContent-Length: {bytes}\r\n\r\n",
            table.base, table.host
        )
    };
    table.send(head("api/save", 5 << 20).as_bytes()).problem(413);
    table.send(head("api/drawing?name=x.svg", 65 << 20).as_bytes()).problem(413);
    // In pieces, without telling its length.
    let mut bytes =
        head("api/save", 0).replace("Content-Length: 0", "Transfer-Encoding: chunked").into_bytes();
    for _ in 0..5 {
        bytes.extend(b"100000\r\n");
        bytes.extend(vec![b' '; 1 << 20]);
        bytes.extend(b"\r\n");
    }
    bytes.extend(b"0\r\n\r\n");
    let answer = table.send(&bytes);
    assert!(answer.status == 413 || answer.status == 0, "refused, or cut off in the middle: {}", answer.head);
    let headers = [("If-Match", "0"), ("Content-Type", "application/json")];
    for body in ["{", "nonsense", "[1,2", "{\"job\": {}} x", "\u{0}"] {
        table.call("PUT", "api/job", &headers, body.as_bytes()).problem(400);
    }
    let deep = "[".repeat(100_000);
    table.call("PUT", "api/job", &headers, deep.as_bytes()).problem(400);
    for body in ["{}", "{\"job\": 3}", "{\"job\": {}, \"more\": 1}"] {
        table.call("PUT", "api/job", &headers, body.as_bytes()).problem(400);
    }
    for (path, body) in [
        ("api/lay/move", "{\"moves\": [{\"piece\": 1e99, \"turn_deg\": 0, \"shift\": [0,0]}]}"),
        ("api/lay/move", "{\"moves\": [{\"piece\": 0, \"turn_deg\": 0, \"shift\": [1e300,0]}]}"),
        ("api/lay/move", "{\"moves\": []}"),
        ("api/lay/start", "{\"seconds\": -1}"),
        ("api/lay/start", "{\"effort\": 0}"),
        ("api/save", "{\"as\": \"\"}"),
    ] {
        table.call("POST", path, &headers, body.as_bytes()).problem(400);
    }
    table.call("PUT", "api/job", &[("Content-Type", "application/json")], b"{\"job\":{}}").problem(428);
    table
        .call("PUT", "api/job", &[("Content-Type", "application/json"), ("If-Match", "x")], b"{\"job\":{}}")
        .problem(400);
    // Methods that an address does not take, and addresses that are not there.
    for (method, path) in [
        ("DELETE", "api/job"),
        ("POST", "api/state"),
        ("GET", "api/undo"),
        ("PUT", "api/drawing"),
        ("TRACE", "api/state"),
    ] {
        table.call(method, path, &[], b"").problem(405);
    }
    for path in
        ["api/nothing", "page/nothing.js", "page/..%2fmod.rs", "api/cloths/99/tile.png", "api/schema/x"]
    {
        table.call("GET", path, &[], b"").problem(404);
    }
    for path in
        ["api/cloths/x/tile.png", "api/cloths/0/tile.png?side=7", "api/lay/allowed?piece=x", "files/%ff"]
    {
        table.call("GET", path, &[], b"").problem(400);
    }
    assert!(table.send(b"garbage\r\n\r\n").status == 400);
    assert_eq!(table.get("api/state")["revision"], 0);
}

/// A program that floods the table is slowed down; the table lives and the page goes on.
#[test]
fn a_flood_is_answered_with_patience_and_survived() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let mut slowed = 0;
    let mut stream = TcpStream::connect(&table.host).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
    let one = format!("GET {}api/none HTTP/1.1\r\nHost: {}\r\n\r\n", table.base, table.host);
    for _ in 0..40 {
        stream.write_all(one.repeat(50).as_bytes()).unwrap();
        let mut got = String::new();
        while got.matches("HTTP/1.1 ").count() < 50 {
            let mut buffer = [0; 65536];
            let n = stream.read(&mut buffer).unwrap();
            assert!(n > 0);
            got.push_str(&String::from_utf8_lossy(&buffer[..n]));
        }
        slowed += got.matches("HTTP/1.1 429").count();
    }
    assert!(slowed > 100, "{slowed} of 2000 at once were slowed");
    // Strangers who guess have a purse of their own, so they do not use up the page's.
    let wrong = format!("GET /guess/ HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", table.host);
    assert!((0..200).any(|_| table.send(wrong.as_bytes()).status == 429));
    std::thread::sleep(Duration::from_secs(1));
    assert_eq!(table.get("api/state")["revision"], 0);
}

#[test]
fn a_port_that_is_taken_and_a_job_that_is_open_are_told_with_what_to_do() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let port = table.host.rsplit(':').next().unwrap();
    let ran = command(folder().path(), &["table", "--no-open", "--port", port]).output().unwrap();
    let said = String::from_utf8(ran.stderr).unwrap();
    assert_eq!(ran.status.code(), Some(1), "{said}");
    assert!(said.contains(&format!("port {port}: the port is taken")) && said.contains("--port"), "{said}");
    let ran = command(place.path(), &["table", "--no-open", "leaf.job.json"]).output().unwrap();
    let said = String::from_utf8(ran.stderr).unwrap();
    assert!(said.contains("open on another table") && said.contains(port), "{said}");
    assert!(!said.contains(table.base.trim_matches('/')), "its secret stays secret");
    for (words, part) in [
        (vec!["table", "--no-open", "leaf.svg"], "ends in .json"),
        (vec!["table", "--no-open", "."], "folder"),
        (vec!["table", "--no-open", "gone/leaf.job.json"], "folder cannot be opened"),
        (vec!["table", "--no-open", "--port", "70000"], "70000"),
    ] {
        let ran = command(place.path(), &words).output().unwrap();
        let said = String::from_utf8(ran.stderr).unwrap();
        assert!(ran.status.code() == Some(2) && said.contains(part), "{words:?}: {said}");
    }
}

/// A working copy holds jobs within jobs' histories: one that nests too deep could not be read again.
#[test]
fn a_job_too_deep_to_be_kept_is_refused() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let mut job = table.get("api/state")["job"].clone();
    job["title"] = (0..100).fold(json!("x"), |inner, _| json!([inner]));
    let said = table.try_post("PUT", "api/job", table.revision(), &json!({ "job": job })).problem(400);
    assert!(said["detail"].as_str().unwrap().contains("too deep"), "{said}");
}
