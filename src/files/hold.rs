//! A folder kept to one run, so that two that read, reckon and write do not undo each other's change.

use std::fs::File;
use std::io;
use std::path::Path;
use std::time::Duration;

use super::{settle, system};
use crate::say::{Note, Trouble};

/// How long is waited for another run.
const PATIENCE: Duration = Duration::from_secs(20);

/// A folder kept to this run as long as this lives.
#[derive(Debug)]
#[must_use]
pub struct Held {
    _lock: Option<File>,
    /// What a killed run had left there, settled now: to be told.
    pub found: Vec<Note>,
}

/// Keeps `folder` to this run, and settles what a killed one has left there ([`settle`]): nothing of that may come over what is
/// written from now on. One that is not there needs no keeping. Where system or drive cannot lock a folder (Windows,
/// some network drives) this holds nothing, and two runs at once are the maker's to avoid.
///
/// # Errors
/// Another run keeps it, and does not let go; what a killed one left cannot be settled.
pub fn hold(folder: &Path) -> Result<Held, Trouble> {
    match system::hold_folder(folder, PATIENCE) {
        Ok(Some(lock)) => Ok(Held { _lock: lock, found: settle(folder)? }),
        Ok(None) => Err(Trouble::cannot(
            folder.display().to_string(),
            "another run is changing what lies in this folder",
        )
        .hint("wait for it to end, or end it; nothing was changed")),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(Held { _lock: None, found: Vec::new() }),
        Err(e) => {
            Err(Trouble::cannot(folder.display().to_string(), format!("this folder cannot be opened: {e}")))
        }
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_kept_to_one_run_even_when_it_is_exchanged() {
        let place = tempfile::tempdir().unwrap();
        let out = place.path().join("out");
        assert!(hold(&out).is_ok(), "there is nothing to keep");
        std::fs::create_dir(&out).unwrap();
        let held = hold(&out).unwrap();
        assert!(system::hold_folder(&out, Duration::ZERO).unwrap().is_none());
        // Another comes in its place: who waited for the old one holds the new one.
        std::fs::rename(&out, place.path().join("old")).unwrap();
        std::fs::create_dir(&out).unwrap();
        let next = hold(&out).unwrap();
        assert!(system::hold_folder(&out, Duration::ZERO).unwrap().is_none());
        drop((held, next));
        assert!(system::hold_folder(&out, Duration::ZERO).unwrap().is_some());
    }
}
