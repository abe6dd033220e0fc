//! Heavy work, one piece of it at a time, beside the server.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::hub::Hub;
use super::problem::Problem;
use super::surface::Table;
use crate::lay::{Better, Live};
use crate::say::Watch;

/// What is being done now.
#[derive(Debug, Default)]
pub struct Heavy {
    now: Mutex<Option<Doing>>,
    free: Condvar,
}

#[derive(Clone, Debug)]
struct Doing {
    what: &'static str,
    stop: Arc<AtomicBool>,
}

impl Heavy {
    /// What is being done: `lay`, `plan`, …
    pub fn busy(&self) -> Option<&'static str> {
        self.now.lock().ok()?.as_ref().map(|d| d.what)
    }

    /// Refuses what must not happen while heavy work goes on.
    ///
    /// # Errors
    /// Some goes on.
    pub fn idle(&self) -> Result<(), Problem> {
        match self.busy() {
            None => Ok(()),
            Some(what) => Err(busy(what)),
        }
    }

    /// Asks what is being done to end soon with its best; false when nothing is.
    pub fn stop(&self) -> bool {
        let now = self.now.lock().unwrap_or_else(|e| e.into_inner());
        now.as_ref().map(|d| d.stop.store(true, Ordering::Relaxed)).is_some()
    }

    /// Waits until nothing is being done, at most so long.
    pub fn wait(&self, most: Duration) {
        let Ok(now) = self.now.lock() else { return };
        let _ = self.free.wait_timeout_while(now, most, |n| n.is_some());
    }
}

fn busy(what: &'static str) -> Problem {
    let doing = match what {
        "lay" => "The pieces are being laid",
        "plan" => "The plan is being made",
        "words" => "Report and sheets are being written",
        "buy" => "What to buy is being worked out",
        _ => "A piece is being cut again",
    };
    Problem::clash(format!("{doing}; until that ends, nothing else can be changed"))
        .hint("wait for it, or stop it")
        .with("busy", what)
}

/// Does heavy work on a thread of its own. Its end is told as `done`, with what it gives or the problem. With a revision
/// nothing may have changed since: no change comes between the look at it and the beginning of the work.
///
/// # Errors
/// Something else is being done; the revision is not that of now.
pub fn start(
    table: &Arc<Table>,
    what: &'static str,
    revision: Option<u64>,
    work: impl FnOnce(&Table, &Progress) -> Result<Value, Problem> + Send + 'static,
) -> Result<(), Problem> {
    let stop = Arc::new(AtomicBool::new(false));
    {
        let store = table.store();
        if let Some(revision) = revision {
            store.expect(revision)?;
        }
        let mut now = table.heavy.now.lock().unwrap_or_else(|e| e.into_inner());
        if let Some(doing) = now.as_ref() {
            return Err(busy(doing.what));
        }
        *now = Some(Doing { what, stop: stop.clone() });
    }
    table.tell_state();
    let at_work = table.clone();
    let begun = std::thread::Builder::new().name(what.into()).stack_size(16 << 20).spawn(move || {
        let table = at_work;
        let progress =
            Progress { hub: &table.hub, stop: &stop, told: Mutex::new(None), better: Mutex::default() };
        // A fault of the program must not leave the table busy for good.
        let done = catch_unwind(AssertUnwindSafe(|| work(&table, &progress))).unwrap_or_else(|_| {
            let status = axum::http::StatusCode::INTERNAL_SERVER_ERROR;
            Err(Problem::new(
                status,
                "A fault of the program",
                "the work broke off; what was there before is still there",
            ))
        });
        progress.flush();
        end(&table);
        let said = match done {
            Ok(given) => json!({"what": what, "ok": true, "given": given}),
            Err(problem) => json!({"what": what, "ok": false, "problem": problem.json()}),
        };
        table.tell_state();
        table.hub.say("done", &said);
    });
    begun.map(drop).map_err(|e| {
        end(table);
        Problem::clash(format!("no thread can be begun: {e}"))
    })
}

fn end(table: &Table) {
    *table.heavy.now.lock().unwrap_or_else(|e| e.into_inner()) = None;
    table.heavy.free.notify_all();
}

/// Least time between two messages of one kind.
const APART: Duration = Duration::from_millis(100);

/// Tells those who look on how far the work is.
pub struct Progress<'a> {
    hub: &'a Hub,
    stop: &'a AtomicBool,
    told: Mutex<Option<Instant>>,
    better: Mutex<Betters>,
}

/// For each cloth the last better lay that was not told yet, and when one was told last.
#[derive(Default)]
struct Betters {
    waiting: Vec<(usize, Value)>,
    told: Option<Instant>,
}

impl Progress<'_> {
    /// Tells what waits.
    fn flush(&self) {
        let Ok(mut better) = self.better.lock() else { return };
        for (_, value) in better.waiting.drain(..) {
            self.hub.say("better", &value);
        }
    }
}

impl Watch for Progress<'_> {
    fn step(&self, stage: &str, share: f64, now: &str) {
        let Ok(mut told) = self.told.lock() else { return };
        if share < 1.0 && told.is_some_and(|t| t.elapsed() < APART) {
            return;
        }
        *told = Some(Instant::now());
        drop(told);
        let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        self.hub.say("progress", &json!({"what": stage, "done": share, "of": 1, "now": now}));
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl Live for Progress<'_> {
    fn better(&self, better: &Better) {
        let Ok(mut held) = self.better.lock() else { return };
        let round = |v: f64| (v * 1000.0).round() / 1000.0;
        let poses: Vec<Value> = better
            .poses
            .iter()
            .map(|p| json!([p.piece, p.copy, round(p.pose.shift.x), round(p.pose.shift.y), p.pose.turn_deg]))
            .collect();
        let value = json!({
            "cloth": better.cloth, "length_mm": better.length_mm, "efficiency": better.efficiency, "poses": poses,
        });
        held.waiting.retain(|(cloth, _)| *cloth != better.cloth);
        held.waiting.push((better.cloth, value));
        if held.told.is_none_or(|t| t.elapsed() >= APART) {
            held.told = Some(Instant::now());
            drop(held);
            self.flush();
        }
    }
}
