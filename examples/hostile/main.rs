//! Feeds hostile inputs to the program and prints what came of them; exit 1 when anything panics, hangs, ends wrongly or takes
//! memory without end.
//!
//! `cargo run --release --example hostile -- --count 20000 --seed 1`. Sound files of every kind are spoilt by chance; jobs are
//! made up. Each input is fed to the library in a process of its own that may be ended, every twentieth to the program
//! itself, calls to a table that runs. The same seed feeds the same inputs. `--input N` feeds one again, `--keep DIR` writes
//! those that show something wrong there. `--seeds DIR` only writes the sound files, for the fuzz targets.

#![allow(clippy::print_stdout)]

mod chance;
mod feeds;
mod inputs;
mod made_up;
mod program;
mod stranger;
mod worker;

use std::error::Error;
use std::fs;
use std::io::{BufRead as _, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, ExitCode, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Instant;

use inputs::{KINDS, Kind, Sound, kind_of};
use program::PATIENCE;
use worker::Task;

/// Wrong ends that are told in words.
const MOST_TOLD: usize = 20;

/// What came of the inputs of one kind.
#[derive(Clone, Copy, Debug, Default)]
struct Row {
    inputs: u64,
    done: u64,
    refused: u64,
    panics: u64,
    hangs: u64,
    wrong: u64,
    memory: u64,
    slowest_ms: u64,
}

impl Row {
    fn add(&mut self, more: &Row) {
        self.inputs += more.inputs;
        self.done += more.done;
        self.refused += more.refused;
        self.panics += more.panics;
        self.hangs += more.hangs;
        self.wrong += more.wrong;
        self.memory += more.memory;
        self.slowest_ms = self.slowest_ms.max(more.slowest_ms);
    }
}

#[derive(Default)]
struct Table {
    rows: [Row; KINDS.len()],
    told: Vec<(u64, String)>,
    peak_mib: u64,
}

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let after = |name: &str| words.iter().position(|w| w == name).and_then(|k| words.get(k + 1));
    let number = |name: &str, usual: u64| after(name).map_or(Ok(usual), |w| w.parse());
    let (seed, count) = (number("--seed", 1)?, number("--count", 20_000)?);
    if let Some(dir) = after("--seeds") {
        return write_seeds(&PathBuf::from(dir));
    }
    if words.first().is_some_and(|w| w == "--worker") {
        let task = Task { seed, count, first: number("--first", 0)?, stride: number("--stride", 1)? };
        worker::work(&task);
        return Ok(ExitCode::SUCCESS);
    }
    if program::program().is_none() {
        return Err("the program is not built beside this example: cargo build --release".into());
    }
    let began = Instant::now();
    let workers = std::thread::available_parallelism().map_or(2, |n| n.get() as u64);
    let tasks: Vec<Task> = match after("--input") {
        Some(one) => vec![Task { seed, first: one.parse()?, stride: 1, count: one.parse::<u64>()? + 1 }],
        None => (0..workers).map(|first| Task { seed, first, stride: workers, count }).collect(),
    };
    let mut table = Table::default();
    std::thread::scope(|scope| {
        let watched: Vec<_> = tasks.iter().map(|task| scope.spawn(|| watch(task))).collect();
        for part in watched.into_iter().filter_map(|w| w.join().ok()) {
            table.take_in(part);
        }
    });
    table.print(began);
    if let Some(dir) = after("--keep") {
        let sound = Sound::gather();
        fs::create_dir_all(dir)?;
        for (input, _) in &table.told {
            fs::write(PathBuf::from(dir).join(format!("{seed}-{input}")), sound.input(seed, *input).1)?;
        }
    }
    Ok(if table.told.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// A worker that can be heard with patience.
struct Heard {
    child: Child,
    lines: Receiver<String>,
}

impl Heard {
    fn start(task: &Task) -> std::io::Result<Heard> {
        let number = |n: u64| n.to_string();
        let mut child = Command::new(std::env::current_exe()?)
            .args(["--worker", "--seed", &number(task.seed), "--count", &number(task.count)])
            .args(["--first", &number(task.first), "--stride", &number(task.stride)])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()?;
        let (tell, lines) = channel();
        if let Some(out) = child.stdout.take() {
            std::thread::spawn(move || {
                BufReader::new(out).lines().map_while(Result::ok).try_for_each(|line| tell.send(line))
            });
        }
        Ok(Heard { child, lines })
    }
}

/// Has a task done, starting over behind every input that ends its worker.
fn watch(task: &Task) -> Table {
    let mut table = Table::default();
    let mut first = task.first;
    while first < task.count {
        let Ok(mut worker) = Heard::start(&Task { first, ..*task }) else {
            table.told.push((first, "no worker can be started".into()));
            return table;
        };
        let mut within = None;
        // What the program is waited for within a worker comes on top.
        let ended = loop {
            match worker.lines.recv_timeout(PATIENCE * 2) {
                Ok(line) => table.hear(&line, &mut within, &mut first, task.stride),
                Err(RecvTimeoutError::Timeout) => break "hangs",
                Err(RecvTimeoutError::Disconnected) => break "dies",
            }
        };
        let _ = worker.child.kill();
        let status = worker.child.wait();
        if let Some(input) = within {
            let row = table.row(input);
            row.inputs += 1;
            if ended == "hangs" {
                row.hangs += 1
            } else {
                row.panics += 1
            }
            table.told.push((input, format!("{ended} ({status:?})")));
            first = input + task.stride;
        } else if ended == "hangs" {
            table.told.push((first, "the worker says nothing".into()));
            return table;
        }
    }
    table
}

impl Table {
    fn row(&mut self, input: u64) -> &mut Row {
        let kind: Kind = kind_of(input);
        let k = KINDS.iter().position(|(of, _, _)| *of == kind).unwrap_or(0);
        &mut self.rows[k]
    }

    fn hear(&mut self, line: &str, within: &mut Option<u64>, first: &mut u64, stride: u64) {
        let mut words = line.splitn(3, ' ');
        let (sign, number) = (words.next(), words.next().and_then(|n| n.parse::<u64>().ok()));
        let (Some(sign), Some(input)) = (sign, number) else { return };
        let rest = words.next().unwrap_or_default().to_owned();
        match sign {
            "B" => *within = Some(input),
            "Z" => {
                self.peak_mib = self.peak_mib.max(input);
                *first = u64::MAX;
            }
            "M" => {
                self.row(input).memory += 1;
                self.told.push((input, format!("takes {rest} MiB")));
            }
            _ => {
                *within = None;
                *first = input + stride;
                let row = self.row(input);
                row.inputs += 1;
                match sign {
                    "E" => {
                        let mut numbers = rest.split(' ').filter_map(|n| n.parse::<u64>().ok());
                        if numbers.next() == Some(0) {
                            row.done += 1
                        } else {
                            row.refused += 1
                        }
                        let ms = numbers.next().unwrap_or(0) / 1000;
                        row.slowest_ms = row.slowest_ms.max(ms);
                        if u128::from(ms) > PATIENCE.as_millis() {
                            row.hangs += 1;
                            self.told.push((input, format!("takes {ms} ms")));
                        }
                        return;
                    }
                    "P" => row.panics += 1,
                    _ if rest.ends_with("hangs") => row.hangs += 1,
                    _ => row.wrong += 1,
                }
                self.told.push((input, rest));
            }
        }
    }

    fn take_in(&mut self, part: Table) {
        for (row, more) in self.rows.iter_mut().zip(part.rows) {
            row.add(&more);
        }
        self.told.extend(part.told);
        self.told.sort();
        self.peak_mib = self.peak_mib.max(part.peak_mib);
    }

    fn print(&self, began: Instant) {
        println!(
            "inputs           fed    done  refused  panics  hangs  wrong ends  too much memory  slowest"
        );
        let mut all = Row::default();
        for (row, (_, _, name)) in self.rows.iter().zip(KINDS) {
            print_row(name, row);
            all.add(row);
        }
        print_row("all", &all);
        println!("in {:.0} s, {} MiB at most in one process", began.elapsed().as_secs_f64(), self.peak_mib);
        for (input, what) in self.told.iter().take(MOST_TOLD) {
            println!("input {input}: {what}");
        }
        if self.told.len() > MOST_TOLD {
            println!("and {} more", self.told.len() - MOST_TOLD);
        }
    }
}

fn print_row(name: &str, r: &Row) {
    println!(
        "{name:<12}  {:>6}  {:>6}  {:>7}  {:>6}  {:>5}  {:>10}  {:>15}  {:>4} ms",
        r.inputs, r.done, r.refused, r.panics, r.hangs, r.wrong, r.memory, r.slowest_ms
    );
}

/// Writes the sound files of every kind, a folder a kind.
fn write_seeds(dir: &std::path::Path) -> Result<ExitCode, Box<dyn Error>> {
    let sound = Sound::gather();
    for (kind, _, name) in KINDS {
        let folder = dir.join(name.replace(' ', "-"));
        fs::create_dir_all(&folder)?;
        for (k, file) in sound.of(kind).iter().enumerate() {
            fs::write(folder.join(k.to_string()), file)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}
