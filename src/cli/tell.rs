//! Printing: lines to stdout that survive a closed pipe, troubles and notes.

use std::io::Write;

use crate::files::why_not;
use crate::say::{Level, Note, Trouble};

/// Prints `text` to stdout. A reader that has gone away is no error.
///
/// # Errors
/// What was asked for cannot be printed, as on a full disk.
pub fn out(text: &str) -> Result<(), Vec<Trouble>> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(vec![Trouble::cannot("stdout", format!("the result cannot be printed: {}", why_not(&e)))])
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

/// Prints what is wrong with the words of the command line, or the help that was asked for; gives the exit code.
pub fn usage(e: &clap::Error) -> u8 {
    if e.kind() != clap::error::ErrorKind::ValueValidation {
        return match e.print() {
            _ if e.use_stderr() => 2,
            // A closed pipe is no error worth telling.
            Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => 1,
            _ => 0,
        };
    }
    let mut text = e.render().to_string();
    for (inside, words) in FIGURES {
        text = text.replace(inside, words);
    }
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
    2
}

/// What is said of a word that is no number, and how a maker would say it.
const FIGURES: [(&str, &str); 6] = [
    ("invalid digit found in string", "expected a whole number"),
    ("invalid float literal", "expected a number, with a point for decimals"),
    ("cannot parse integer from empty string", "expected a whole number"),
    ("cannot parse float from empty string", "expected a number"),
    ("number too large to fit in target type", "the number is too large"),
    ("number too small to fit in target type", "the number is too small"),
];
