//! `settlay table [JOB]`.

use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::Duration;

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
    /// The table of whoever starts it with a double click: a folder for jobs among your documents, the jobs that were on the
    /// table last to choose from; shown once more when it runs already, and ended when its pages are closed for half an hour
    #[arg(long, conflicts_with = "job")]
    home: bool,
    /// The port to listen at; any free one when left out
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    port: u16,
    /// Only print the address; do not open it
    #[arg(long)]
    no_open: bool,
}

/// How long the pages of a table at home may be closed before it ends.
const PATIENCE: Duration = Duration::from_secs(30 * 60);

const LEFT: &str = "It ends when its pages have been closed for half an hour, or with Ctrl-C.";

const HELP: &str = "\
The page is for this computer alone, and its address holds a secret that is new at every start: share it with nobody.
Every change is kept at once in a working copy beside the job (.NAME.job.json.table); the job file changes when you save.
Ctrl-C ends it.";

/// Serves the table until it is ended.
///
/// # Errors
/// Why it cannot be.
pub fn run(args: &TableArgs) -> Result<u8, Vec<Trouble>> {
    let patience = args.home.then_some(PATIENCE);
    let setup = Setup { job: args.job.clone(), port: args.port, patience };
    let opened = if args.home { table::open_at_home(&setup) } else { table::open(&setup).map(Ok) };
    let opened = match opened.map_err(|t| vec![t])? {
        Ok(opened) => opened,
        Err(door) => {
            tell::out(&format!("The cutting table runs already; this leads to it once:\n{door}\n"))?;
            if !args.no_open {
                show(&door);
            }
            return Ok(0);
        }
    };
    for said in &opened.said {
        tell::out(&format!("{said}\n"))?;
    }
    let address = opened.address();
    tell::out(&format!(
        "The cutting table is at\n{address}\n{}\n",
        if args.home { LEFT } else { "Ctrl-C ends it." }
    ))?;
    if !args.no_open
        && let Some(door) = opened.door()
    {
        show(&door);
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
