//! Printing: lines to stdout that survive a closed pipe, troubles and notes.

use std::io::Write;

use crate::say::Trouble;

/// Prints `text` to stdout. A reader that has gone away is no error.
pub fn out(text: &str) {
    let _ = std::io::stdout().lock().write_all(text.as_bytes());
}

/// Prints troubles to stderr, one block each.
pub fn troubles(troubles: &[Trouble]) {
    let mut text = String::new();
    for t in troubles {
        text.push_str(&format!("error: {t}\n"));
    }
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}
