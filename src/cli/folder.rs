//! The folder a command works in: what a killed run has left there is settled and told before anything else is done.

use std::path::Path;

use super::tell;
use crate::files::{self, Held};
use crate::plan::{self, Plan};
use crate::realign;
use crate::say::Trouble;

/// Settles and tells what a killed run has left in `folder` or beside it.
///
/// # Errors
/// It can be neither completed nor undone.
pub fn settled(folder: &Path) -> Result<(), Vec<Trouble>> {
    tell::cautions(&files::settle(folder).map_err(|t| vec![t])?);
    Ok(())
}

/// The folder a file lies in.
pub fn beside(file: &Path) -> &Path {
    file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Looks, before a search and not after it, whether a plan can be put into `out`.
///
/// # Errors
/// It cannot be written to, or holds a plan that is partly cut.
pub fn ready(out: &Path) -> Result<(), Vec<Trouble>> {
    settled(out)?;
    files::may_move_in(out).and_then(|()| realign::nothing_cut(out)).map_err(|t| vec![t])
}

/// Keeps `out` while a plan is put into it; looks once more whether it may be, for a search takes its time.
///
/// # Errors
/// Another run keeps it; it holds a plan that is partly cut.
pub fn held(out: &Path) -> Result<Held, Vec<Trouble>> {
    let held = files::hold(out).map_err(|t| vec![t])?;
    tell::cautions(&held.found);
    realign::nothing_cut(out).map_err(|t| vec![t])?;
    Ok(held)
}

/// Reads a plan, its file or the folder it lies in, once that is settled.
///
/// # Errors
/// It cannot be settled or read.
pub fn plan_at(path: &Path) -> Result<Plan, Trouble> {
    tell::cautions(&files::settle(if path.is_dir() { path } else { beside(path) })?);
    plan::read(path).map(|(plan, _)| plan)
}
