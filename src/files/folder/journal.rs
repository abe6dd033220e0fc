//! A change of a folder written down before it is made, file by file, so that the next run can complete or undo it.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Write};
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{join, remove_empty_folders};
use crate::files::staging::Staging;
use crate::files::{step, system};

/// Version of the journal's format.
const FORMAT: u32 = 1;

/// What is being changed, and how far that is decided. Lies in the staging folder of the change.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Journal {
    settlay_journal: u32,
    /// How.
    pub way: Way,
    /// Names of the files that come, in the order they come in.
    pub coming: Vec<String>,
    /// Names of the files that go.
    pub going: Vec<String>,
    /// Those of both that were there before; they have a second name in the staging folder.
    pub before: Vec<String>,
    /// In one step: what else lies in both folders, by name, and what tells each file from every other.
    #[serde(default)]
    pub kept: Kept,
}

/// Files that lie in two folders, and what tells each from every other.
pub(super) type Kept = BTreeMap<String, (u64, u64)>;

/// How a folder is changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Way {
    /// File by file in the folder that the staging folder lies in: to be completed.
    FileByFile,
    /// The same, to be undone.
    Back,
    /// The folder `out` beside the staging folder is exchanged in one step for one that is known by its `identity`.
    InOneStep {
        /// Name of the folder.
        out: String,
        /// What tells the new folder from the old one.
        identity: (u64, u64),
    },
}

impl Journal {
    pub fn new(way: Way, coming: Vec<String>, going: Vec<String>, before: Vec<String>) -> Journal {
        Journal { settlay_journal: FORMAT, way, coming, going, before, kept: Kept::new() }
    }

    /// The journal of a staging folder, where it has one.
    ///
    /// # Errors
    /// It cannot be read, or is of a newer program.
    pub fn of(staging: &Staging) -> io::Result<Option<Journal>> {
        let bytes = match fs::read(staging.journal()) {
            Ok(bytes) => bytes,
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(e),
        };
        let journal: Journal = serde_json::from_slice(&bytes)?;
        if journal.settlay_journal == FORMAT {
            return Ok(Some(journal));
        }
        Err(io::Error::other("it was written by a newer settlay"))
    }

    /// Writes it whole into the staging folder: from then on the change is decided.
    ///
    /// # Errors
    /// The system's.
    pub fn write(&self, staging: &Staging) -> io::Result<()> {
        let new = staging.journal().with_extension("json.new");
        let mut file = fs::File::create(&new)?;
        file.write_all(&serde_json::to_vec_pretty(self)?)?;
        step::sync(&file)?;
        step::rename(&new, &staging.journal())?;
        system::sync_folder(staging.path());
        Ok(())
    }

    /// Makes the change, or what is left of it: each file comes whole, in place of the one of its name, then those go
    /// that go.
    ///
    /// # Errors
    /// The system's; some files may have come.
    pub fn forward(&self, staging: &Staging, out: &Path) -> io::Result<()> {
        let new = staging.new_folder();
        for name in &self.coming {
            let (from, to) = (join(&new, name), join(out, name));
            // One that is not there any more has come already.
            if from.symlink_metadata().is_ok() {
                to.parent().map_or(Ok(()), fs::create_dir_all)?;
                step::rename(&from, &to)?;
            } else if to.symlink_metadata().is_err() {
                return Err(io::Error::new(io::ErrorKind::NotFound, format!("{name} is missing")));
            }
        }
        for name in &self.going {
            step::remove(&join(out, name))?;
        }
        remove_empty_folders(self.going.iter(), out);
        self.sync_folders(out);
        Ok(())
    }

    /// Has everything as it was before, however far the change had come; says so in the journal first.
    ///
    /// # Errors
    /// The system's; then a later run goes on.
    pub fn back(&self, staging: &Staging, out: &Path) -> io::Result<()> {
        if self.way != Way::Back {
            Journal { way: Way::Back, ..self.clone() }.write(staging)?;
        }
        for name in self.coming.iter().chain(&self.going) {
            let (old, to) = (join(&staging.old_folder(), name), join(out, name));
            if !self.before.contains(name) {
                step::remove(&to)?;
            } else if old.symlink_metadata().is_ok() {
                to.parent().map_or(Ok(()), fs::create_dir_all)?;
                step::rename(&old, &to)?;
            }
        }
        remove_empty_folders(self.coming.iter(), out);
        self.sync_folders(out);
        Ok(())
    }

    fn sync_folders(&self, out: &Path) {
        let names = self.coming.iter().chain(&self.going);
        let folders: BTreeSet<&str> = names.filter_map(|n| n.rsplit_once('/').map(|(f, _)| f)).collect();
        folders.into_iter().for_each(|f| system::sync_folder(&join(out, f)));
        system::sync_folder(out);
    }
}
