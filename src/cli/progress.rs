//! Progress on stderr and the wish to stop.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, Once};

use indicatif::{ProgressBar, ProgressStyle};

use crate::say::Watch;

static STOP: AtomicBool = AtomicBool::new(false);
static LISTEN: Once = Once::new();

/// A line of progress on the terminal; silent elsewhere. The first interrupt ends the search with the best lay
/// so far, the second ends the program.
pub struct Terminal {
    bar: ProgressBar,
    stage: Mutex<String>,
}

impl Terminal {
    /// Begins to listen.
    pub fn new() -> Terminal {
        LISTEN.call_once(|| {
            // Without a handler an interrupt just ends the program: nothing is lost, nothing half written.
            let _ = ctrlc::set_handler(|| {
                if STOP.swap(true, Ordering::SeqCst) {
                    std::process::exit(130);
                }
            });
        });
        let bar = ProgressBar::new(1000);
        if let Ok(style) = ProgressStyle::with_template("{prefix:8} {bar:24} {msg}") {
            bar.set_style(style.progress_chars("━╸ "));
        }
        Terminal { bar, stage: Mutex::new(String::new()) }
    }

    /// Clears the line.
    pub fn done(&self) {
        self.bar.finish_and_clear();
    }
}

impl Watch for Terminal {
    fn step(&self, stage: &str, share: f64, now: &str) {
        if let Ok(mut before) = self.stage.lock()
            && *before != stage
        {
            *before = stage.to_string();
            self.bar.set_prefix(stage.to_string());
        }
        self.bar.set_position((share * 1000.0) as u64);
        self.bar.set_message(now.to_string());
    }

    fn stopped(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }
}
