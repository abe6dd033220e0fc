//! A table that runs, and calls to it byte by byte.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use assert_cmd::cargo::CommandCargoExt;
use serde_json::{Value, json};

/// A running `settlay table`.
pub struct Table {
    pub child: Child,
    pub host: String,
    pub base: String,
    pub said: Vec<String>,
}

/// An answer.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|e| panic!("{e}: {}\n{}", self.head, String::from_utf8_lossy(&self.body)))
    }

    pub fn header(&self, name: &str) -> Option<String> {
        let name = format!("{}:", name.to_lowercase());
        let line = self.head.lines().find(|l| l.to_lowercase().starts_with(&name))?;
        Some(line[name.len()..].trim().to_owned())
    }

    /// A problem report of this status, readable.
    pub fn problem(&self, status: u16) -> Value {
        assert_eq!(self.status, status, "{}\n{}", self.head, String::from_utf8_lossy(&self.body));
        assert_eq!(self.header("content-type").as_deref(), Some("application/problem+json"));
        let said = self.json();
        assert_eq!(said["status"], status);
        assert!(!said["title"].as_str().unwrap().is_empty() && !said["detail"].as_str().unwrap().is_empty());
        said
    }
}

pub fn command(folder: &Path, words: &[&str]) -> Command {
    let mut c = Command::cargo_bin("settlay").unwrap();
    c.current_dir(folder).args(words).env("SETTLAY_SHELF", folder.join("shelf"));
    c
}

impl Table {
    pub fn open(folder: &Path, words: &[&str]) -> Table {
        let mut all = vec!["table", "--no-open"];
        all.extend(words);
        Table::started(command(folder, &all))
    }

    pub fn started(mut command: Command) -> Table {
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::inherit()).spawn().unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let mut said = Vec::new();
        let address = loop {
            let line = lines.next().expect("it says where it is").unwrap();
            if line.starts_with("http://") {
                break line;
            }
            said.push(line);
        };
        let (host, path) = address.strip_prefix("http://").unwrap().split_once('/').unwrap();
        Table { child, host: host.into(), base: format!("/{path}"), said }
    }

    /// Sends these bytes and reads all that comes until the server closes; status 0 where nothing comes.
    pub fn send(&self, bytes: &[u8]) -> Answer {
        let Ok(mut stream) = TcpStream::connect(&self.host) else {
            return Answer { status: 0, head: String::new(), body: Vec::new() };
        };
        stream.set_read_timeout(Some(Duration::from_secs(120))).unwrap();
        // A server that refuses early may close before all is sent.
        let _ = stream.write_all(bytes);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let end = all.windows(4).position(|w| w == b"\r\n\r\n").map_or(all.len(), |k| k + 4);
        let head = String::from_utf8_lossy(&all[..end]).into_owned();
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
        Answer { status, head, body: all[end..].to_vec() }
    }

    /// A call with whole control of its parts; `path` begins below the secret.
    pub fn call(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        self.call_at(method, &format!("{}{path}", self.base), headers, body)
    }

    pub fn call_at(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
        if !headers.iter().any(|h| h.0.eq_ignore_ascii_case("host")) {
            head.push_str(&format!("Host: {}\r\n", self.host));
        }
        for (name, value) in headers {
            head.push_str(&format!("{name}: {value}\r\n"));
        }
        if !body.is_empty() || method != "GET" {
            head.push_str(&format!("Content-Length: {}\r\n", body.len()));
        }
        let mut bytes = (head + "\r\n").into_bytes();
        bytes.extend(body);
        self.send(&bytes)
    }

    pub fn get(&self, path: &str) -> Value {
        let answer = self.call("GET", path, &[], b"");
        assert_eq!(answer.status, 200, "{path}: {}\n{}", answer.head, String::from_utf8_lossy(&answer.body));
        answer.json()
    }

    pub fn revision(&self) -> u64 {
        self.get("api/state")["revision"].as_u64().unwrap()
    }

    pub fn try_post(&self, method: &str, path: &str, revision: u64, body: &Value) -> Answer {
        let revision = revision.to_string();
        let headers = [("If-Match", revision.as_str()), ("Content-Type", "application/json")];
        self.call(method, path, &headers, body.to_string().as_bytes())
    }

    /// A change in sight of the newest revision that must be taken.
    pub fn post(&self, path: &str, body: &Value) -> Value {
        let answer = self.try_post("POST", path, self.revision(), body);
        assert!(answer.status < 300, "{path}: {}\n{}", answer.head, String::from_utf8_lossy(&answer.body));
        answer.json()
    }

    pub fn put_job(&self, job: &Value) -> Value {
        let answer = self.try_post("PUT", "api/job", self.revision(), &json!({ "job": job }));
        assert_eq!(answer.status, 200, "{}", String::from_utf8_lossy(&answer.body));
        answer.json()
    }

    pub fn drawing(&self, name: &str, revision: u64, bytes: &[u8]) -> Answer {
        let revision = revision.to_string();
        self.call("POST", &format!("api/drawing?name={name}"), &[("If-Match", &revision)], bytes)
    }

    /// Listens to what happens.
    pub fn events(&self) -> Events {
        let mut stream = TcpStream::connect(&self.host).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(120))).unwrap();
        let head = format!("GET {}api/events HTTP/1.1\r\nHost: {}\r\n\r\n", self.base, self.host);
        stream.write_all(head.as_bytes()).unwrap();
        Events { lines: BufReader::new(stream) }
    }

    /// Waits until no heavy work goes on.
    pub fn idle(&self) -> Value {
        let start = Instant::now();
        loop {
            let state = self.get("api/state");
            if state["busy"].is_null() {
                return state;
            }
            assert!(start.elapsed() < Duration::from_secs(120), "busy for too long");
            std::thread::sleep(Duration::from_millis(50));
        }
    }
}

impl Drop for Table {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A stream of events.
pub struct Events {
    lines: BufReader<TcpStream>,
}

impl Events {
    /// The next event: its name and what it says.
    pub fn next(&mut self) -> (String, Value) {
        let mut name = String::new();
        loop {
            let mut line = String::new();
            assert!(self.lines.read_line(&mut line).unwrap() > 0, "the stream ended");
            if let Some(n) = line.strip_prefix("event: ") {
                name = n.trim().to_owned();
            } else if let Some(data) = line.strip_prefix("data: ") {
                return (name, serde_json::from_str(data.trim()).unwrap());
            }
        }
    }

    /// Everything up to and with the next event of this name.
    pub fn until(&mut self, name: &str) -> Vec<(String, Value)> {
        let mut all = Vec::new();
        loop {
            all.push(self.next());
            if all[all.len() - 1].0 == name {
                return all;
            }
        }
    }
}

pub const SVG: &str = "<svg xmlns='http://www.w3.org/2000/svg' width='600mm' height='400mm' viewBox='0 0 600 400'>\
    <g id='wave' fill='#123456'><path id='one' d='M10 10h150v90h-150z'/><path id='two' d='M190 30l120 20v120l-120 -10z'/></g>\
    <path id='ring' fill-rule='evenodd' d='M340 60h240v240h-240z M370 90v180h180v-180z'/>\
    <path id='bud' d='M20 300h60v60h-60z'/></svg>";

/// A job of a skewed check: two bands in step, a centred bud twice, a ring.
pub fn job() -> Value {
    json!({ "settlay": 1, "title": "Leaf", "drawing": "leaf.svg",
        "cloths": [{ "name": "fen", "width_mm": 620, "edge_mm": 10, "weave": "twill-z", "price_per_m": 20,
            "pattern": { "warp": "N/6 G24 W4 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18, "skew_mm_per_m": 12,
                "origin_mm": [35, 20], "colours": { "N": "#102040", "G": "#306030", "W": "#eeeeee", "K": "#000000" } } }],
        "pieces": [
            { "select": { "layer": "wave" }, "cloth": "fen", "match": "drawn", "group": "wave", "allowance_mm": 1.5 },
            { "select": { "id": "bud" }, "cloth": "fen", "match": "centred", "count": 2 },
            { "select": { "id": "*" }, "cloth": "fen" }],
        "cutter": { "bed_mm": [900, 800], "kerf_mm": 0.2, "feed": "along-y" }, "lay": { "gap_mm": 3, "effort": 1 } })
}

/// A folder with that job in it.
pub fn folder() -> tempfile::TempDir {
    let place = tempfile::tempdir().unwrap();
    std::fs::write(place.path().join("leaf.svg"), SVG).unwrap();
    std::fs::write(place.path().join("leaf.job.json"), serde_json::to_string_pretty(&job()).unwrap())
        .unwrap();
    place
}
