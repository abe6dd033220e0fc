//! Calls to a table that runs, byte by byte.

use std::fs;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use settlay::table::{self, Setup};

use crate::feeds::kept;
use crate::program::PATIENCE;

/// Calls between two of a sound page's.
const UNTIL_THE_NEXT_SOUND_ONE: usize = 10;

/// Who calls, and the table that is called; it is opened with the first call.
#[derive(Default)]
pub struct Stranger {
    table: Option<Running>,
    calls: usize,
}

struct Running {
    _folder: tempfile::TempDir,
    host: String,
    secret: String,
}

impl Stranger {
    /// Sends a call and sees how it is answered, and that a sound page still is.
    ///
    /// # Errors
    /// In words, what is wrong with the answer.
    pub fn calls(&mut self, bytes: &[u8]) -> Result<u8, String> {
        let table = match &mut self.table {
            Some(table) => table,
            None => self.table.insert(Running::open()?),
        };
        let bytes = filled_in(bytes, &[("SECRET", &table.secret), ("HOST", &table.host)]);
        let answer = table.send(&bytes, Duration::from_secs(2), true)?;
        let status: u16 = answer.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
        if status >= 500 {
            return Err(format!("it is answered with {}", answer.chars().take(300).collect::<String>()));
        }
        self.calls += 1;
        if self.calls.is_multiple_of(UNTIL_THE_NEXT_SOUND_ONE) {
            table.answers_a_sound_page()?;
        }
        Ok(if (200..400).contains(&status) { 0 } else { 2 })
    }
}

fn filled_in(bytes: &[u8], words: &[(&str, &str)]) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes.len() + 64);
    let mut rest = bytes;
    while let Some(&first) = rest.first() {
        match words.iter().find(|(sign, _)| rest.starts_with(sign.as_bytes())) {
            Some((sign, word)) => {
                out.extend(word.as_bytes());
                rest = &rest[sign.len()..];
            }
            None => {
                out.push(first);
                rest = &rest[1..];
            }
        }
    }
    out
}

impl Running {
    fn open() -> Result<Running, String> {
        let folder = tempfile::tempdir().map_err(|e| e.to_string())?;
        for name in ["leaves.svg", "cutter.json", "leaves.job.json"] {
            fs::copy(kept(name), folder.path().join(name)).map_err(|e| e.to_string())?;
        }
        let setup = Setup { job: Some(folder.path().join("leaves.job.json")), ..Setup::default() };
        let opened = table::open(&setup).map_err(|t| t.to_string())?;
        let address = opened.address();
        std::thread::spawn(move || opened.serve());
        let mut parts = address.trim_start_matches("http://").splitn(2, '/');
        let host = parts.next().unwrap_or_default().to_owned();
        let secret = parts.next().unwrap_or_default().trim_end_matches('/').to_owned();
        Ok(Running { _folder: folder, host, secret })
    }

    /// What comes back until the table closes or for so long; half of what is sent may be all there is. One that says it has
    /// no more to say (`ends`) is taken for gone where the answer takes its time.
    fn send(&self, bytes: &[u8], wait: Duration, ends: bool) -> Result<String, String> {
        let mut stream =
            TcpStream::connect(&self.host).map_err(|e| format!("the table is not reached: {e}"))?;
        let _ = stream.set_read_timeout(Some(wait));
        let _ = stream.set_write_timeout(Some(wait));
        // A table that refuses early may close before all is sent.
        let sent = stream.write_all(bytes);
        if ends {
            let _ = sent.and_then(|()| stream.shutdown(std::net::Shutdown::Write));
        }
        let mut all = Vec::new();
        let _ = stream.take(1 << 20).read_to_end(&mut all);
        Ok(String::from_utf8_lossy(&all).into_owned())
    }

    fn answers_a_sound_page(&self) -> Result<(), String> {
        let call = format!(
            "GET /{}/api/state HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
            self.secret, self.host
        );
        let began = Instant::now();
        loop {
            let answer = self.send(call.as_bytes(), PATIENCE, false)?;
            if answer.starts_with("HTTP/1.1 200") {
                return Ok(());
            }
            if began.elapsed() > PATIENCE {
                let told: String = answer.chars().take(200).collect();
                return Err(format!("a sound page is not answered any more, but told: {told}"));
            }
            // Too many calls a second: so the page would wait, too.
            std::thread::sleep(Duration::from_millis(200));
        }
    }
}
