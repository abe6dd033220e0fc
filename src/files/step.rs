//! The steps that change a folder, one system call each. Whatever ends the run comes between two of them; tests end it at every
//! one.

use std::fs::{self, File};
use std::io;
use std::path::Path;

/// Renames, over what is there.
///
/// # Errors
/// The system's.
pub fn rename(from: &Path, to: &Path) -> io::Result<()> {
    around(|| fs::rename(from, to))
}

/// Gives a temporary file its name, over what is there.
///
/// # Errors
/// The system's; the temporary file is gone.
pub fn persist(new: tempfile::NamedTempFile, to: &Path) -> io::Result<()> {
    around(|| super::system::persist(new, to))
}

/// Has two folders change places, see [`super::system::exchange`].
///
/// # Errors
/// The system's.
pub fn exchange(one: &Path, other: &Path) -> io::Result<()> {
    around(|| super::system::exchange(one, other))
}

/// Gives a file a second name; a copy where the disk knows no second names.
///
/// # Errors
/// The system's.
pub fn link_or_copy(from: &Path, to: &Path) -> io::Result<()> {
    around(|| fs::hard_link(from, to)).or_else(|_| {
        fs::copy(from, to)?;
        sync(&File::open(to)?)
    })
}

/// Gives a file a second name.
///
/// # Errors
/// The system's.
pub fn link(from: &Path, to: &Path) -> io::Result<()> {
    around(|| fs::hard_link(from, to))
}

/// Removes a file; one that is not there is no error.
///
/// # Errors
/// The system's.
pub fn remove(path: &Path) -> io::Result<()> {
    match around(|| fs::remove_file(path)) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        done => done,
    }
}

/// Brings a file's content to disk.
///
/// # Errors
/// The system's.
pub fn sync(file: &File) -> io::Result<()> {
    around(|| file.sync_all())
}

fn around<T>(step: impl FnOnce() -> T) -> T {
    moment();
    let done = step();
    moment();
    done
}

/// Nothing ends a run here but what ends it anywhere.
#[cfg(not(test))]
fn moment() {}

/// In tests a process of its own may be ended at a moment given by its number.
#[cfg(test)]
fn moment() {
    super::kill_tests::moment();
}
