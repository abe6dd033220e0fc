//! Progress on stderr and the wish to stop.

use std::io::Write as _;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, Once};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

use crate::say::Watch;

static STOP: AtomicBool = AtomicBool::new(false);
static LISTEN: Once = Once::new();
static PHASE: Mutex<Phase> = Mutex::new(Phase::Reading);

/// What the command is about: it says how an interrupt is heeded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// There is nothing to keep yet, and nothing to wait for.
    Reading,
    /// A lay is searched for: the best so far is kept.
    Searching,
    /// There is a lay, and what is made of it is on its way.
    Finishing,
    /// Files or results are written: they are written whole.
    Writing,
}

impl Phase {
    fn of(stage: &str) -> Phase {
        match stage {
            "read" => Phase::Reading,
            "write" => Phase::Writing,
            "passes" | "sewing" => Phase::Finishing,
            _ => Phase::Searching,
        }
    }

    /// How long after an interrupt it may go on before the command ends without a result.
    fn patience(self) -> Option<Duration> {
        match self {
            Phase::Reading => Some(Duration::ZERO),
            Phase::Searching => Some(Duration::from_secs(2)),
            Phase::Finishing => Some(Duration::from_secs(3)),
            Phase::Writing => None,
        }
    }

    /// What is told then.
    fn words(self) -> &'static str {
        match self {
            Phase::Reading => "stopped: nothing was laid and nothing written",
            Phase::Searching => "stopped before there was a lay to keep: nothing was written",
            Phase::Finishing | Phase::Writing => {
                "stopped: there was a lay, but what is made of it would have taken longer; nothing was written"
            }
        }
    }
}

/// Exit code of a program that an interrupt ends.
const INTERRUPTED: i32 = 130;

fn phase() -> MutexGuard<'static, Phase> {
    PHASE.lock().unwrap_or_else(|e| e.into_inner())
}

/// Ends the program once the phase under way has had its time, unless it comes to an end by itself.
fn wait_for_the_end() {
    let asked = Instant::now();
    loop {
        {
            // Held to the end, so that no file is begun meanwhile.
            let phase = phase();
            match phase.patience() {
                None => return,
                Some(patience) if asked.elapsed() >= patience => {
                    // Whoever reads this may be gone already; that is no reason to go on.
                    let _ = writeln!(std::io::stderr(), "{}", phase.words());
                    std::process::exit(INTERRUPTED);
                }
                Some(_) => {}
            }
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// A line of progress on the terminal; silent elsewhere. The first interrupt ends the search with the best lay so far, and
/// the command where there is none within two seconds; the second ends the program.
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
                    std::process::exit(INTERRUPTED);
                }
                std::thread::spawn(wait_for_the_end);
            });
        });
        let bar = ProgressBar::new(1000);
        if let Ok(style) = ProgressStyle::with_template("{prefix:8} {bar:24} {msg}") {
            bar.set_style(style.progress_chars("━╸ "));
        }
        Terminal { bar, stage: Mutex::new(String::new()) }
    }

    /// Clears the line: from now on results are told.
    pub fn done(&self) {
        *phase() = Phase::Writing;
        self.bar.finish_and_clear();
    }
}

impl Watch for Terminal {
    fn step(&self, stage: &str, share: f64, now: &str) {
        if let Ok(mut before) = self.stage.lock()
            && *before != stage
        {
            *before = stage.to_string();
            *phase() = Phase::of(stage);
            self.bar.set_prefix(stage.to_string());
        }
        self.bar.set_position((share * 1000.0) as u64);
        self.bar.set_message(now.to_string());
    }

    fn stopped(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stage_says_how_long_it_may_go_on_after_an_interrupt() {
        let seconds = |stage: &str| Phase::of(stage).patience().map(|p| p.as_secs());
        assert_eq!(["read", "lay", "passes", "sewing"].map(seconds), [Some(0), Some(2), Some(3), Some(3)]);
        assert_eq!(seconds("write"), None, "files appear whole");
    }
}
