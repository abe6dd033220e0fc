//! `settlay offcuts list|add|take|find|crosses`.

use std::path::{Path, PathBuf};

use clap::Subcommand;

use super::{folder, tell};
use crate::files;
use crate::offcuts::Place;
use crate::say::{Note, Trouble};

mod add;
mod crosses;
mod find;
mod keep;
mod list;
mod take;

pub(super) use keep::{Kept, keep_leftovers};

/// Words of `settlay offcuts`.
#[derive(clap::Args, Debug)]
pub struct OffcutsArgs {
    /// The shelf's file (.json) or folder, in place of the usual one: $SETTLAY_SHELF, else settlay/offcuts.json in
    /// the folder for a user's data ($XDG_DATA_HOME or ~/.local/share)
    #[arg(long, value_name = "PATH", global = true)]
    shelf: Option<PathBuf>,
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// List what is on the shelf
    List(list::ListArgs),
    /// Put the leftovers of a plan that has been cut on the shelf, or an offcut described by hand
    Add(add::AddArgs),
    /// Take offcuts from the shelf, as cloths for a job
    Take(take::TakeArgs),
    /// List the offcuts a job could be laid on, best fit first
    Find(find::FindArgs),
    /// Say where small crosses are burnt into an offcut, or that there are none
    Crosses(crosses::CrossesArgs),
}

/// Looks after the shelf.
///
/// # Errors
/// Why it cannot be done.
pub fn run(args: &OffcutsArgs) -> Result<u8, Vec<Trouble>> {
    let place = place_of(args.shelf.as_deref()).map_err(|t| vec![t])?;
    match &args.what {
        What::List(a) => list::run(a, &place),
        What::Add(a) => add::run(a, &place),
        What::Take(a) => take::run(a, &place),
        What::Find(a) => find::run(a, &place),
        What::Crosses(a) => crosses::run(a, &place),
    }
}

/// The shelf asked for, or the usual one.
pub(super) fn place_of(shelf: Option<&Path>) -> Result<Place, Trouble> {
    let place = shelf.map_or_else(Place::usual, |path| Ok(Place::at(path)))?;
    // The pictures' folder, and the one above it, which is the shelf's.
    tell::cautions(&files::settle(&folder::beside(place.file()).join(place.pictures()))?);
    Ok(place)
}

/// Prints notes about the shelf on stderr.
pub(super) fn said(notes: &[Note]) {
    use std::io::Write as _;
    for note in notes {
        let _ = writeln!(std::io::stderr().lock(), "caution: {}: {}", note.about, note.text);
    }
}
