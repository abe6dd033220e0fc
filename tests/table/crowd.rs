//! Requests left half sent, in numbers: the page goes on beside them.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;

use serde_json::json;

use crate::client::{Table, command, folder};

/// Connections that begin to ask and never end, in all the ways there are.
fn half_sent(table: &Table, many: usize) -> Vec<TcpStream> {
    let host = &table.host;
    let ways = [
        String::new(),
        "G".into(),
        "GET / HTTP/1.1\r\n".into(),
        format!("GET /api/state HTTP/1.1\r\nHost: {host}\r\nX-Long: {}", "a".repeat(20_000)),
        format!("POST /guess/api/undo HTTP/1.1\r\nHost: {host}\r\nContent-Length: 1000\r\n"),
        "PRI * HTTP/2.0\r\n".into(),
    ];
    let begin = |k: usize| {
        let mut stream = TcpStream::connect(host).ok()?;
        // One that was shown out already takes nothing.
        let _ = stream.write_all(ways[k % ways.len()].as_bytes());
        Some(stream)
    };
    (0..many).filter_map(begin).collect()
}

fn is_shown_out(stream: &mut TcpStream) -> bool {
    stream.set_read_timeout(Some(Duration::from_millis(1))).unwrap();
    let mut rest = [0; 4096];
    loop {
        match stream.read(&mut rest) {
            Ok(0) => return true,
            Ok(_) => {}
            Err(e) => {
                return !matches!(e.kind(), std::io::ErrorKind::WouldBlock | std::io::ErrorKind::TimedOut);
            }
        }
    }
}

#[test]
fn hundreds_of_half_sent_requests_leave_the_page_its_table() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let mut heard = table.events();
    assert_eq!(heard.next().0, "state");
    let mut crowd = half_sent(&table, 400);
    for _ in 0..5 {
        assert_eq!(table.get("api/state")["revision"], 0);
    }
    crowd.extend(half_sent(&table, 100));
    let mut job = table.get("api/state")["job"].clone();
    job["title"] = json!("Still here");
    table.put_job(&job);
    let told = heard.until("state");
    assert_eq!(told.last().unwrap().1["revision"], 1, "who looks on is not cut off");
    let gone = crowd.iter_mut().filter_map(|s| is_shown_out(s).then_some(())).count();
    assert!(gone >= 400, "{gone} of {} were shown out", crowd.len());
    drop(crowd);
    assert_eq!(table.get("api/state")["job"]["title"], "Still here");
}

/// A body that stops coming holds up nobody.
#[test]
fn half_sent_bodies_hold_up_nobody() {
    let place = folder();
    let table = Table::open(place.path(), &["leaf.job.json"]);
    let begin = |_| {
        let mut stream = TcpStream::connect(&table.host).unwrap();
        let head = format!(
            "PUT {}api/job HTTP/1.1\r\nHost: {}\r\nContent-Type: application/json\r\nIf-Match: 0\r\nContent-Length: 900\r\n\r\n{{\"job\"",
            table.base, table.host
        );
        stream.write_all(head.as_bytes()).unwrap();
        stream
    };
    let crowd: Vec<TcpStream> = (0..100).map(begin).collect();
    for _ in 0..5 {
        assert_eq!(table.get("api/state")["revision"], 0);
    }
    drop(crowd);
    assert_eq!(table.revision(), 0);
}

/// A system that has no room for one more connection is asked again, and the table lives.
#[cfg(unix)]
#[test]
fn a_system_that_runs_out_of_connections_is_outlived() {
    let place = folder();
    let program = assert_cmd::cargo::cargo_bin("settlay");
    let mut few = std::process::Command::new("sh");
    few.current_dir(place.path()).env("SETTLAY_SHELF", place.path().join("shelf"));
    few.arg("-c").arg("ulimit -n 40; exec \"$0\" table --no-open leaf.job.json").arg(program);
    let table = Table::started(few);
    let crowd = half_sent(&table, 200);
    drop(crowd);
    // Those before it in the line are let in first.
    let answered = (0..200).any(|_| {
        let answer = table.call("GET", "api/state", &[], b"");
        std::thread::sleep(Duration::from_millis(if answer.status == 200 { 0 } else { 20 }));
        answer.status == 200
    });
    assert!(answered);
    // The name is free again when it ends.
    drop(table);
    assert!(command(place.path(), &["check", "leaf.job.json"]).output().unwrap().status.success());
}
