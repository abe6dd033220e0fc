//! Printing: lines to stdout that survive a closed pipe, troubles and notes.

use std::io::Write;

use crate::say::{Level, Note, Trouble};

/// Prints `text` to stdout. A reader that has gone away is no error.
///
/// # Errors
/// What was asked for cannot be printed, as on a full disk.
pub fn out(text: &str) -> Result<(), Vec<Trouble>> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(vec![Trouble::cannot("stdout", format!("the result cannot be printed: {e}"))])
        }
        _ => Ok(()),
    }
}

/// Prints the cautions among `notes` to stderr, a line each.
pub fn cautions(notes: &[Note]) {
    let cautions = notes.iter().filter(|n| n.level == Level::Caution);
    let text: String = cautions.map(|n| format!("caution: {}: {}\n", n.about, n.text)).collect();
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}

/// Prints troubles to stderr, one block each.
pub fn troubles(troubles: &[Trouble]) {
    let mut text = String::new();
    for t in troubles {
        text.push_str(&format!("error: {t}\n"));
    }
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}
