//! A folder of files that appears whole or not at all.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::system::sync_folder;
use crate::say::Trouble;

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
    /// All are first written in full to a temporary folder beside `out` and brought safely to disk. A new folder, or
    /// one that holds only files that go, is then exchanged as a whole; where a maker keeps files of their
    /// own there, those stay, and ours are moved in one by one, each whole. When anything fails, what was
    /// there before is there again and the temporary folder is gone.
    ///
    /// # Errors
    /// `out` is a file, or a file or folder is in the way, may not be written or does not fit on the disk.
    pub fn move_in(&self, out: &Path) -> Result<Vec<PathBuf>, Trouble> {
        let out = resolve(out)?;
        let kept = self.kept(&out)?;
        let parent = match out.parent() {
            Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
            _ => PathBuf::from("."),
        };
        let made = MadeFolders::down_to(&parent)?;
        let temporary = tempfile::Builder::new()
            .prefix(".settlay-")
            .tempdir_in(&parent)
            .map_err(|e| failed(&parent, "cannot write here", &e))?;
        let new = temporary.path().join("new");
        self.write_to(&new, &out)?;
        let old = temporary.path().join("old");
        let exists = out.is_dir();
        if exists && (kept || is_where_we_are(&out)) {
            self.exchange_files(&new, &old, &out)?;
        } else {
            exchange_folder(&new, &old, &out, exists)?;
        }
        sync_folder(&parent);
        made.keep();
        Ok(self.files.keys().map(|name| join(&out, name)).collect())
    }

    /// True when `out` holds anything that is not ours; a trouble when that stands in our way.
    fn kept(&self, out: &Path) -> Result<bool, Trouble> {
        if !out.exists() {
            return Ok(false);
        }
        let mut kept = false;
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
                    (_, false, false) => kept = true,
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
                file.sync_all()
            });
            written.map_err(|e| failed(&join(out, name), "the file cannot be written", &e))?;
        }
        folders.iter().for_each(|f| sync_folder(f));
        Ok(())
    }

    /// Moves the files in one by one, those they replace out of the way first. `plan.json` goes first and
    /// comes last, so that it never vouches for files of another plan.
    fn exchange_files(&self, new: &Path, old: &Path, out: &Path) -> Result<(), Trouble> {
        let last = |name: &&String| (name.as_str() == "plan.json", name.to_string());
        let mut going: Vec<&String> = self.files.keys().chain(&self.replaced).collect();
        going.sort_by_key(|name| (!last(name).0, name.to_string()));
        going.dedup();
        let mut coming: Vec<&String> = self.files.keys().collect();
        coming.sort_by_key(last);
        let mut done: Vec<(PathBuf, PathBuf)> = Vec::new();
        let mut move_one = |from: PathBuf, to: PathBuf| -> io::Result<()> {
            if let Some(parent) = to.parent() {
                fs::create_dir_all(parent)?;
            }
            fs::rename(&from, &to)?;
            done.push((from, to));
            Ok(())
        };
        let moved = going
            .iter()
            .map(|name| (join(out, name), join(old, name)))
            .filter(|(from, _)| from.symlink_metadata().is_ok())
            .chain(coming.iter().map(|name| (join(new, name), join(out, name))))
            .try_for_each(|(from, to)| move_one(from, to));
        moved.map_err(|e| {
            for (from, to) in done.iter().rev() {
                // Each of these undoes a move that has just worked.
                let _ = fs::rename(to, from);
            }
            remove_empty_folders(self.files.keys(), out);
            failed(out, "the files cannot be moved in", &e)
        })?;
        remove_empty_folders(self.replaced.iter(), out);
        sync_folder(out);
        Ok(())
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
    tempfile::Builder::new()
        .prefix(".settlay-")
        .tempdir_in(nearest)
        .map(drop)
        .map_err(|e| failed(nearest, "cannot write here", &e))
}

/// Puts the folder `new` in place of `out`, whose contents go.
fn exchange_folder(new: &Path, old: &Path, out: &Path, exists: bool) -> Result<(), Trouble> {
    if exists {
        if let Ok(meta) = fs::metadata(out) {
            // The maker's own permissions stay; a file system without them is no reason to stop.
            let _ = fs::set_permissions(new, meta.permissions());
        }
        fs::rename(out, old).map_err(|e| failed(out, "the folder cannot be replaced", &e))?;
    }
    fs::rename(new, out).map_err(|e| {
        if exists {
            let _ = fs::rename(old, out);
        }
        failed(out, "the folder cannot be put in place", &e)
    })
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
