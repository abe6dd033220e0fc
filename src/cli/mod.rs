//! Words typed in, results printed. Results go to stdout, progress and warnings to stderr.
//!
//! Exit codes: 0 done; 1 the job cannot be done as asked, with the reason; 2 bad usage or unreadable input.

mod buy;
mod check;
mod demo;
mod folder;
mod gauge;
mod lay;
mod offcuts;
mod plan;
mod progress;
mod realign;
mod recut;
mod schema;
mod summary;
mod table;
mod tell;

use std::process::ExitCode;

use clap::{CommandFactory as _, Parser, Subcommand};

use crate::say::Trouble;

/// Lays appliqué pieces on woven, patterned cloth and gets them off a laser cutter whose bed is smaller than
/// the work.
#[derive(Parser, Debug)]
#[command(version, arg_required_else_help = true, max_term_width = 100)]
struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand, Debug)]
enum Command {
    /// Make the demonstration hanging "Reed-bed": drawing, job, lay, passes, cut files and report
    Demo(demo::DemoArgs),
    /// Look a drawing or a job over before anything is cut: scale, outlines, pieces, faults
    Check(check::CheckArgs),
    /// Lay the pieces of a job and say how much cloth they take
    Lay(lay::LayArgs),
    /// Do a whole job: lay, passes, cut files, keys, pictures and report
    Plan(plan::PlanArgs),
    /// Open the cutting table: a page on this computer on which the whole job is done by hand and eye
    Table(table::TableArgs),
    /// Write a kerf and squareness gauge as cut files, or reckon kerf and scale from its readings
    Gauge(gauge::GaugeArgs),
    /// Correct a pass from marks measured on the bed, record a pass as cut, or take up one that broke off
    Realign(realign::RealignArgs),
    /// Say how much of each cloth to buy, at every width it comes in, and what changing a rule would save
    Buy(buy::BuyArgs),
    /// Keep leftovers on a shelf, find those a job could be laid on, take them
    Offcuts(offcuts::OffcutsArgs),
    /// Cut one spoilt piece again, from the shelf or the rest of the cloth, with its pattern in step
    Recut(recut::RecutArgs),
    /// Print the JSON Schema of the job file, of the plan file or of a cutter's own file
    Schema {
        /// `job`, `plan` or `cutter`
        which: String,
    },
}

/// All commands with their words, for manual pages and for shells that complete what is typed.
pub fn words() -> clap::Command {
    Args::command()
}

/// Stack of the thread that works, bytes. Systems give a program's first thread from 1 to 8 MB; what can be read on one of them
/// shall be read on all.
const STACK: usize = 8 << 20;

/// Runs the program with the words of the command line.
pub fn main() -> ExitCode {
    let working = std::thread::Builder::new().name("settlay".into()).stack_size(STACK).spawn(run);
    match working.map(std::thread::JoinHandle::join) {
        Ok(Ok(code)) => code,
        Ok(Err(fault)) => std::panic::resume_unwind(fault),
        // A system that spares no thread: the first one will do.
        Err(_) => run(),
    }
}

fn run() -> ExitCode {
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(e) => return ExitCode::from(tell::usage(&e)),
    };
    let done = match args.command {
        Command::Demo(a) => demo::run(&a),
        Command::Check(a) => check::run(&a),
        Command::Lay(a) => lay::run(&a),
        Command::Plan(a) => plan::run(&a),
        Command::Table(a) => table::run(&a),
        Command::Gauge(a) => gauge::run(&a),
        Command::Realign(a) => realign::run(&a),
        Command::Buy(a) => buy::run(&a),
        Command::Offcuts(a) => offcuts::run(&a),
        Command::Recut(a) => recut::run(&a),
        Command::Schema { which } => schema::run(&which),
    };
    match done {
        Ok(code) => ExitCode::from(code),
        Err(troubles) => {
            tell::troubles(&troubles);
            ExitCode::from(troubles.iter().map(Trouble::exit_code).max().unwrap_or(1))
        }
    }
}
