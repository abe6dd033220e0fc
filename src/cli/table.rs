//! `settlay table [JOB]`.

use std::path::PathBuf;
use std::process::{Command, Stdio};

use crate::files::system::System;
use crate::say::Trouble;
use crate::table::{self, Setup};

use super::tell;

/// Words of `settlay table`.
#[derive(clap::Args, Debug)]
#[command(after_help = HELP)]
pub struct TableArgs {
    /// The job file; without one, begin with a drawing on the page
    job: Option<PathBuf>,
    /// The port to listen at; any free one when left out
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    port: u16,
    /// Only print the address; do not open it
    #[arg(long)]
    no_open: bool,
}

const HELP: &str = "\
The page is for this computer alone, and its address holds a secret that is new at every start: share it with nobody.
Every change is kept at once in a working copy beside the job (.NAME.job.json.table); the job file changes when you save.
Ctrl-C ends it.";

/// Serves the table until it is ended.
///
/// # Errors
/// Why it cannot be.
pub fn run(args: &TableArgs) -> Result<u8, Vec<Trouble>> {
    let opened = table::open(&Setup { job: args.job.clone(), port: args.port }).map_err(|t| vec![t])?;
    for said in &opened.said {
        tell::out(&format!("{said}\n"))?;
    }
    let address = opened.address();
    tell::out(&format!("The cutting table is at\n{address}\nCtrl-C ends it.\n"))?;
    if !args.no_open {
        show(&opened.door());
    }
    opened.serve().map_err(|t| vec![t])?;
    Ok(0)
}

/// Opens the table in the maker's browser, where there is a way to: it is printed in any case.
fn show(door: &str) {
    let (program, words) = System::here().opener();
    let started = Command::new(program)
        .args(words)
        .arg(door)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    if let Ok(mut child) = started {
        // Waited for beside, so that it leaves nothing behind.
        std::thread::spawn(move || child.wait());
    }
}
