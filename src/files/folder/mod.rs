//! A folder of files that appears whole or not at all.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::staging::Staging;
use super::step;
use super::system::{self, sync_folder};
use crate::say::Trouble;
use journal::{Journal, Way};

mod journal;
mod one_step;
mod settle;

pub use settle::settle;

/// Files on their way into a folder.
#[derive(Debug, Default)]
pub struct Whole {
    /// Contents by name relative to the folder, parts divided by `/`.
    files: BTreeMap<String, Vec<u8>>,
    /// Names of files of an earlier plan that go when these come.
    replaced: BTreeSet<String>,
}

impl Whole {
    /// No files yet.
    pub fn new() -> Whole {
        Whole::default()
    }

    /// Adds a file. `name` is relative to the folder, its parts divided by `/`.
    pub fn add(&mut self, name: impl Into<String>, contents: impl Into<Vec<u8>>) {
        self.files.insert(name.into(), contents.into());
    }

    /// The files by their names.
    #[cfg(test)]
    pub fn each(&self) -> impl Iterator<Item = (&str, &[u8])> {
        self.files.iter().map(|(name, contents)| (name.as_str(), contents.as_slice()))
    }

    /// Adds all files of another.
    pub fn take_in(&mut self, other: Whole) {
        self.files.extend(other.files);
        self.replaced.extend(other.replaced);
    }

    /// Says that a file of this name, if there is one, is ours from an earlier plan and goes.
    pub fn replace(&mut self, name: impl Into<String>) {
        self.replaced.insert(name.into());
    }

    /// Puts the files into `out` and gives their paths in order of their names.
    ///
    /// All are first written in full to a hidden folder beside `out` and brought safely to disk. A new folder then gets its
    /// name in one step. One that is there is exchanged in one step for one that has the new files and, under a second name,
    /// what else lay in it, where system and disk can ([`system::exchange`]) and little else lies in it. Else the change is
    /// written down first, in a journal that the next run completes (see [`settle`]), and each file comes by a rename
    /// over the old one. When anything fails, what was there before is there again.
    ///
    /// # Errors
    /// `out` is a file, or a file or folder is in the way, may not be written or does not fit on the disk.
    pub fn move_in(&self, out: &Path) -> Result<Vec<PathBuf>, Trouble> {
        let out = resolve(out)?;
        if out.is_dir() {
            let kept = self.kept(&out)?;
            if !self.in_one_step(&out, &kept)? {
                self.file_by_file(&out)?;
            }
        } else {
            self.as_new_folder(&out)?;
        }
        Ok(self.files.keys().map(|name| join(&out, name)).collect())
    }

    fn as_new_folder(&self, out: &Path) -> Result<(), Trouble> {
        let parent = parent_of(out);
        let made = MadeFolders::down_to(&parent)?;
        let staging = Staging::within(&parent).map_err(|e| failed(&parent, "cannot write here", &e))?;
        let new = staging.new_folder();
        self.write_to(&new, out)?;
        step::rename(&new, out).map_err(|e| failed(out, "the folder cannot be put in place", &e))?;
        sync_folder(&parent);
        made.keep();
        Ok(())
    }

    /// Exchanges the folder in one step; false when that cannot be done here, and then nothing was changed.
    fn in_one_step(&self, out: &Path, kept: &Kept) -> Result<bool, Trouble> {
        let (Kept::Files(kept), Some(name)) = (kept, out.file_name().and_then(|n| n.to_str())) else {
            return Ok(false);
        };
        let parent = parent_of(out);
        let one_disk = match (system::identity(&parent), system::identity(out)) {
            (Some((a, _)), Some((b, _))) => a == b,
            _ => false,
        };
        if is_where_we_are(out) || !one_disk {
            return Ok(false);
        }
        // The folder above may belong to somebody else.
        let Ok(staging) = Staging::within(&parent) else { return Ok(false) };
        let new = staging.new_folder();
        self.write_to(&new, out)?;
        let meta = fs::metadata(out).map_err(|e| failed(out, "this folder cannot be read", &e))?;
        // The maker's own permissions stay; a file system without them is no reason to stop.
        let _ = fs::set_permissions(&new, meta.permissions());
        if !system::same_owner(&new, out) {
            return Ok(false);
        }
        let Ok(kept) = one_step::keep(kept, out, &new) else { return Ok(false) };
        let Some(identity) = system::identity(&new) else { return Ok(false) };
        let (coming, going) = (self.coming(), self.going());
        let ours = self.files.keys().chain(&self.replaced).map(String::as_str).collect();
        let way = Way::InOneStep { out: name.to_owned(), identity };
        let mut journal = Journal::new(way, coming, going, Vec::new());
        journal.kept = kept;
        journal.write(&staging).map_err(|e| failed(out, "cannot write here", &e))?;
        match step::exchange(&new, out) {
            Ok(()) => {}
            Err(e) if e.kind() == io::ErrorKind::Unsupported => return Ok(false),
            Err(e) => return Err(failed(out, "the folder cannot be replaced", &e)),
        }
        sync_folder(&parent);
        match one_step::bring_over(&new, out, &ours, &journal.kept) {
            Ok(()) => drop(staging),
            // It is whole; the next run goes on with what came at the last moment.
            Err(_) => staging.leave(),
        }
        Ok(true)
    }

    /// Moves the files in one by one, as the journal says.
    fn file_by_file(&self, out: &Path) -> Result<(), Trouble> {
        let staging = Staging::within(out).map_err(|e| failed(out, "cannot write here", &e))?;
        self.write_to(&staging.new_folder(), out)?;
        let journal =
            Journal::new(Way::FileByFile, self.coming(), self.going(), self.keep_old(&staging, out)?);
        journal.write(&staging).map_err(|e| failed(out, "cannot write here", &e))?;
        match journal.forward(&staging, out) {
            Ok(()) => Ok(()),
            Err(e) => {
                let trouble = failed(out, "the files cannot be moved in", &e);
                if journal.back(&staging, out).is_err() {
                    staging.leave();
                }
                Err(trouble)
            }
        }
    }

    /// Gives the files that are replaced or go a second name in the staging folder; says which they are.
    fn keep_old(&self, staging: &Staging, out: &Path) -> Result<Vec<String>, Trouble> {
        let mut before = Vec::new();
        for name in self.files.keys().chain(&self.replaced) {
            let (from, to) = (join(out, name), join(&staging.old_folder(), name));
            if from.symlink_metadata().is_ok() && !before.contains(name) {
                let kept = to
                    .parent()
                    .map_or(Ok(()), fs::create_dir_all)
                    .and_then(|()| step::link_or_copy(&from, &to));
                kept.map_err(|e| failed(&from, "the file cannot be kept while others come", &e))?;
                before.push(name.clone());
            }
        }
        Ok(before)
    }

    /// The files that come, `plan.json` last.
    fn coming(&self) -> Vec<String> {
        let mut names: Vec<String> = self.files.keys().cloned().collect();
        names.sort_by_key(|name| name == "plan.json");
        names
    }

    fn going(&self) -> Vec<String> {
        self.replaced.iter().filter(|name| !self.files.contains_key(*name)).cloned().collect()
    }

    /// What `out` holds that is not ours; a trouble when that stands in our way.
    fn kept(&self, out: &Path) -> Result<Kept, Trouble> {
        let mut kept = Kept::Files(Vec::new());
        let mut folders = vec![String::new()];
        while let Some(folder) = folders.pop() {
            let path = join(out, &folder);
            let entries = fs::read_dir(&path).map_err(|e| failed(&path, "this folder cannot be read", &e))?;
            for entry in entries {
                let entry = entry.map_err(|e| failed(&path, "this folder cannot be read", &e))?;
                let is_folder = entry.file_type().is_ok_and(|t| t.is_dir());
                let name = format!("{folder}{}", entry.file_name().to_string_lossy());
                let ours = self.files.contains_key(&name) || self.replaced.contains(&name);
                let within = format!("{name}/");
                let holds_ours = self.files.keys().chain(&self.replaced).any(|f| f.starts_with(&within));
                match (is_folder, ours, holds_ours) {
                    (true, true, _) => return Err(in_the_way(&entry.path(), "a folder")),
                    (true, false, true) => folders.push(within),
                    (false, _, true) => return Err(in_the_way(&entry.path(), "a file")),
                    (false, true, false) => {}
                    (true, false, false) => kept.add_folder(&entry.path(), &within),
                    (false, false, false) => kept.add(&entry, name),
                }
            }
        }
        Ok(kept)
    }

    /// Writes everything into a new folder; troubles name the files as they will lie in `out`.
    fn write_to(&self, folder: &Path, out: &Path) -> Result<(), Trouble> {
        let mut folders = BTreeSet::from([folder.to_owned()]);
        fs::create_dir(folder).map_err(|e| failed(folder, "cannot write here", &e))?;
        for (name, contents) in &self.files {
            let path = join(folder, name);
            if let Some(parent) = path.parent() {
                fs::create_dir_all(parent).map_err(|e| failed(parent, "cannot write here", &e))?;
                folders.insert(parent.to_owned());
            }
            let written = fs::File::create_new(&path).and_then(|mut file| {
                file.write_all(contents)?;
                step::sync(&file)
            });
            written.map_err(|e| failed(&join(out, name), "the file cannot be written", &e))?;
        }
        folders.iter().for_each(|f| sync_folder(f));
        Ok(())
    }
}

/// What a folder holds that does not change.
enum Kept {
    /// A few plain files, in folders or not, by their names.
    Files(Vec<String>),
    /// More than that.
    More,
}

impl Kept {
    /// How many files are few.
    const FEW: usize = 1000;

    fn add(&mut self, entry: &fs::DirEntry, name: String) {
        let plain = entry.file_type().is_ok_and(|t| t.is_file()) && entry.file_name().to_str().is_some();
        match self {
            Kept::Files(names) if plain && names.len() < Kept::FEW => names.push(name),
            _ => *self = Kept::More,
        }
    }

    /// Adds all files of a folder; one that holds nothing could not be told by its files, and counts as more.
    fn add_folder(&mut self, path: &Path, within: &str) {
        let Ok(entries) = fs::read_dir(path) else { return *self = Kept::More };
        let mut empty = true;
        for entry in entries {
            let Ok(entry) = entry else { return *self = Kept::More };
            empty = false;
            let name = format!("{within}{}", entry.file_name().to_string_lossy());
            if entry.file_type().is_ok_and(|t| t.is_dir()) {
                self.add_folder(&entry.path(), &(name + "/"));
            } else {
                self.add(&entry, name);
            }
            if matches!(self, Kept::More) {
                return;
            }
        }
        if empty {
            *self = Kept::More;
        }
    }
}

/// Looks whether files can be put into `out` at all, so that nobody waits for a lay that cannot be kept. What it
/// makes to find out is gone again.
///
/// # Errors
/// `out` is a file, or nothing can be written beside it.
pub fn may_move_in(out: &Path) -> Result<(), Trouble> {
    let out = resolve(out)?;
    let above = out.ancestors().skip(1).map(|p| if p.as_os_str().is_empty() { Path::new(".") } else { p });
    let Some(nearest) = above.into_iter().find(|p| p.symlink_metadata().is_ok()) else { return Ok(()) };
    // Where the folder is there already, its files may be put in even if none may be put beside it.
    let may = Staging::within(nearest).or_else(|e| if out.is_dir() { Staging::within(&out) } else { Err(e) });
    may.map(drop).map_err(|e| failed(nearest, "cannot write here", &e))
}

/// The folder that `out` lies in.
fn parent_of(out: &Path) -> PathBuf {
    match out.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Folders made on the way to `out`, removed again unless kept.
struct MadeFolders(Vec<PathBuf>);

impl MadeFolders {
    fn down_to(folder: &Path) -> Result<MadeFolders, Trouble> {
        let mut missing: Vec<&Path> =
            folder.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists()).collect();
        missing.reverse();
        let mut made = MadeFolders(Vec::new());
        for path in missing {
            fs::create_dir(path).map_err(|e| failed(path, "the folder cannot be made", &e))?;
            made.0.push(path.to_owned());
        }
        Ok(made)
    }

    fn keep(mut self) {
        self.0.clear();
    }
}

impl Drop for MadeFolders {
    fn drop(&mut self) {
        for path in self.0.iter().rev() {
            // Only ever removes folders that are empty.
            let _ = fs::remove_dir(path);
        }
    }
}

/// The folder itself where `out` is a link to one.
fn resolve(out: &Path) -> Result<PathBuf, Trouble> {
    if out.as_os_str().is_empty() {
        return Err(Trouble::bad_input("the folder for the plan", "its name is empty"));
    }
    match fs::canonicalize(out) {
        Ok(path) if path.is_dir() => Ok(path),
        Ok(_) => Err(Trouble::bad_input(out.display().to_string(), "this is a file, not a folder")
            .hint("name another folder for the plan")),
        Err(_) if out.symlink_metadata().is_ok() => {
            Err(Trouble::bad_input(out.display().to_string(), "this is a link that leads nowhere"))
        }
        Err(_) => Ok(out.to_owned()),
    }
}

/// True when somebody works inside `out`: a folder must not be exchanged under their feet.
fn is_where_we_are(out: &Path) -> bool {
    std::env::current_dir().and_then(fs::canonicalize).is_ok_and(|here| here.starts_with(out))
}

fn join(folder: &Path, name: &str) -> PathBuf {
    name.split('/').filter(|part| !part.is_empty()).fold(folder.to_owned(), |path, part| path.join(part))
}

fn remove_empty_folders<'a>(names: impl Iterator<Item = &'a String>, out: &Path) {
    let folders: BTreeSet<&str> = names.filter_map(|name| name.rsplit_once('/').map(|(f, _)| f)).collect();
    for folder in folders {
        // Fails, as it should, on a folder that still holds something.
        let _ = fs::remove_dir(join(out, folder));
    }
}

fn in_the_way(path: &Path, what: &str) -> Trouble {
    Trouble::cannot(path.display().to_string(), format!("{what} of this name is in the way"))
        .hint("move it elsewhere or name another folder for the plan; nothing was changed")
}

fn failed(path: &Path, what: &str, e: &io::Error) -> Trouble {
    let why = match e.kind() {
        io::ErrorKind::PermissionDenied => "permission is missing".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read".to_owned(),
        io::ErrorKind::NotADirectory => "a part of the path is a file".to_owned(),
        io::ErrorKind::NotFound => "nothing can be made there".to_owned(),
        io::ErrorKind::InvalidFilename => {
            "the name is too long or has letters that cannot be used".to_owned()
        }
        _ => super::why_not(e),
    };
    Trouble::cannot(path.display().to_string(), format!("{what}: {why}"))
        .hint("nothing was changed; make room or name another folder for the plan")
}

#[cfg(test)]
mod tests;
