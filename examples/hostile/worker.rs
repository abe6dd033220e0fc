//! A worker: feeds inputs one by one, in a process of its own, and tells its parent of each before and after.
//!
//! Lines on stdout: `B input` begins one, `E input code microseconds` ends it, `P input words` is a panic, `W input words` a
//! wrong answer or exit, `M input mebibytes` more memory than any input may take.

use std::any::Any;
use std::fs;
use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::time::Instant;

use settlay::drawing::{self, ReadOptions};
use settlay::say::{Quiet, Trouble};
use settlay::{job, plan, write};

use crate::feeds::{self, Told};
use crate::inputs::{Kind, Sound};
use crate::program::{self, Desk};
use crate::stranger::Stranger;

/// Most memory a worker may come to, MiB.
const MOST_MEMORY_MIB: u64 = 2048;

/// One input in so many goes through the program itself too.
const THROUGH_THE_PROGRAM: u64 = 20;

static WHERE: Mutex<String> = Mutex::new(String::new());

/// What a worker is to do.
pub struct Task {
    /// The run's seed.
    pub seed: u64,
    /// First input.
    pub first: u64,
    /// From one input to the next.
    pub stride: u64,
    /// One more than the last input.
    pub count: u64,
}

/// Goes through the inputs.
pub fn work(task: &Task) {
    std::panic::set_hook(Box::new(|info| {
        if let Ok(mut place) = WHERE.lock() {
            *place = info.location().map(ToString::to_string).unwrap_or_default();
        }
    }));
    let sound = Sound::gather();
    let desk = Desk::lay_out();
    let mut stranger = Stranger::default();
    let mut input = task.first;
    while input < task.count {
        let (kind, bytes) = sound.input(task.seed, input);
        tell(&format!("B {input}"));
        let began = Instant::now();
        let told = catch_unwind(AssertUnwindSafe(|| match kind {
            Kind::Drawing => as_told(feeds::drawing(&bytes)),
            Kind::Job => as_told(feeds::job(&bytes)),
            Kind::Plan => as_told(feeds::plan(&bytes)),
            Kind::Marks => as_told(feeds::marks(&bytes)),
            Kind::Readings => as_told(feeds::readings(&bytes)),
            Kind::Shelf => as_told(feeds::shelf(&bytes)),
            Kind::Photograph => as_told(feeds::photograph(&bytes)),
            Kind::Request => stranger.calls(&bytes),
            Kind::Whole => as_told(whole(&bytes, input)),
        }));
        match told {
            Ok(Ok(code)) if code > 2 => tell(&format!("W {input} it ends with {code}")),
            Ok(Ok(code)) => {
                if kind != Kind::Request
                    && (input / 7).is_multiple_of(THROUGH_THE_PROGRAM)
                    && let Some(Err(wrong)) = desk.as_ref().map(|d| program::run(d, kind, &bytes))
                {
                    tell(&format!("W {input} {wrong}"));
                }
                tell(&format!("E {input} {code} {}", began.elapsed().as_micros()));
            }
            Ok(Err(wrong)) => tell(&format!("W {input} {wrong}")),
            Err(panic) => tell(&format!("P {input} {}", words(panic.as_ref()))),
        }
        let mib = memory_mib();
        if mib > MOST_MEMORY_MIB {
            tell(&format!("M {input} {mib}"));
            return;
        }
        input += task.stride;
    }
    tell(&format!("Z {}", memory_mib()));
}

fn as_told(told: Told) -> Result<u8, String> {
    Ok(told.err().unwrap_or(0))
}

fn tell(line: &str) {
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{}", line.replace('\n', " ")).and_then(|()| out.flush());
}

fn words(panic: &(dyn Any + Send)) -> String {
    let said =
        panic.downcast_ref::<&str>().copied().or_else(|| panic.downcast_ref::<String>().map(String::as_str));
    let place = WHERE.lock().map(|p| p.clone()).unwrap_or_default();
    format!("{place}: {}", said.unwrap_or("no words"))
}

/// The most memory this process has held, MiB; 0 where the system does not tell.
fn memory_mib() -> u64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.split_whitespace().next()?.parse::<u64>().ok()).map_or(0, |kib| kib / 1024)
}

/// A job made up by chance, from its text to its plan, and now and then to its files.
fn whole(bytes: &[u8], input: u64) -> Told {
    let code = |t: Vec<Trouble>| t.iter().map(Trouble::exit_code).max().unwrap_or(1);
    let made: serde_json::Value = serde_json::from_slice(bytes).map_err(|_| 9)?;
    let read = job::parse(&made["job"].to_string(), "a.job.json").map_err(code)?;
    let svg = made["drawing"].as_str().unwrap_or_default();
    let drawing =
        drawing::parse(svg.as_bytes(), "drawing.svg", &ReadOptions::default()).map_err(|t| t.exit_code())?;
    let prepared = plan::prepare_with(read, drawing, &Quiet).map_err(code)?;
    let run = plan::run(prepared, &Quiet).map_err(code)?;
    if (input / 100).is_multiple_of(4) {
        write::files(&run.prepared.job, &run.plan, &run.prepared.cloths).map_err(|t| t.exit_code())?;
    } else {
        write::plan_json(&run.plan).map_err(|t| t.exit_code())?;
    }
    Ok(())
}
