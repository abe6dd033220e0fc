//! Words typed in, results printed.

pub mod check;
pub mod schema;

use std::process::ExitCode;

/// Runs the program with the words of the command line.
pub fn main() -> ExitCode {
    ExitCode::SUCCESS
}
