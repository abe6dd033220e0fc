//! Hidden places in which a change is got ready beside what it changes. Each is locked as long as its run lives, so that a
//! later run knows what a killed one has left.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile};

use super::system;

/// What their names begin with.
const PREFIX: &str = ".settlay-";
/// And how many letters and digits follow.
const RANDOM: usize = 6;
/// The file in a folder of ours that is locked.
const LOCK: &str = "lock";
/// How often a new one is begun when others that clear away take it for forsaken before it is locked.
const TRIES: usize = 20;

/// A folder in which files are got ready; gone, with all in it, when dropped.
#[derive(Debug)]
pub struct Staging {
    path: PathBuf,
    lock: Option<File>,
}

impl Staging {
    /// A new one in `folder`.
    ///
    /// # Errors
    /// The system's: the folder cannot be written to.
    pub fn within(folder: &Path) -> io::Result<Staging> {
        for _ in 0..TRIES {
            let path = Builder::new().prefix(PREFIX).rand_bytes(RANDOM).tempdir_in(folder)?.keep();
            let mut staging = Staging { path, lock: None };
            match locked(&staging.path.join(LOCK)) {
                Ok(Locked::Ours(lock)) => staging.lock = Some(lock),
                Ok(Locked::Unknown) => {}
                Ok(Locked::Others) => continue,
                Err(e) if e.kind() == io::ErrorKind::NotFound => continue,
                Err(e) => return Err(e),
            }
            return Ok(staging);
        }
        Err(io::Error::other("other runs keep clearing this folder"))
    }

    /// One that a killed run has left, taken over; `None` while its run lives, or when that cannot be known.
    fn forsaken(path: PathBuf) -> Option<Staging> {
        match locked(&path.join(LOCK)) {
            Ok(Locked::Ours(lock)) => Some(Staging { path, lock: Some(lock) }),
            _ => None,
        }
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The folder of what comes.
    pub fn new_folder(&self) -> PathBuf {
        self.path.join("new")
    }

    /// The folder of what was there before.
    pub fn old_folder(&self) -> PathBuf {
        self.path.join("old")
    }

    /// The file that says what is being changed.
    pub fn journal(&self) -> PathBuf {
        self.path.join("change.json")
    }

    /// Leaves it where it is, for a later run to go on with.
    pub fn leave(mut self) {
        self.path = PathBuf::new();
    }
}

impl Drop for Staging {
    fn drop(&mut self) {
        if self.path.as_os_str().is_empty() {
            return;
        }
        // The journal goes first: without it nothing else is looked at.
        let _ = fs::remove_file(self.journal());
        let _ = fs::remove_dir_all(self.new_folder());
        let _ = fs::remove_dir_all(self.old_folder());
        // Some systems do not take away what is open.
        self.lock = None;
        let _ = fs::remove_dir_all(&self.path);
    }
}

/// A new file in `folder`, for whoever may read new files there, gone when dropped unless it is renamed.
///
/// # Errors
/// The system's.
pub fn new_file(folder: &Path) -> io::Result<NamedTempFile> {
    for _ in 0..TRIES {
        let mut builder = Builder::new();
        system::as_new_files_are(builder.prefix(PREFIX).rand_bytes(RANDOM));
        let file = builder.tempfile_in(folder)?;
        match file.as_file().try_lock() {
            Ok(()) if !system::is_still_there(file.as_file(), file.path()) => continue,
            Err(TryLockError::WouldBlock) => continue,
            // Some network drives know no locks.
            Ok(()) | Err(TryLockError::Error(_)) => return Ok(file),
        }
    }
    Err(io::Error::other("other runs keep clearing this folder"))
}

/// What killed runs have left in `folder`: their folders, taken over, and how many files of theirs were removed.
pub fn forsaken(folder: &Path) -> (Vec<Staging>, usize) {
    let (mut folders, mut files) = (Vec::new(), 0);
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let Some(name) = entry.file_name().to_str().map(str::to_owned) else { continue };
        let ours = name.strip_prefix(PREFIX);
        if !ours.is_some_and(|r| r.len() == RANDOM && r.bytes().all(|b| b.is_ascii_alphanumeric())) {
            continue;
        }
        match entry.file_type() {
            Ok(kind) if kind.is_dir() => {
                // What we do not know is not ours, and nothing is put into it.
                folders
                    .extend(is_ours_alone(&entry.path()).then(|| Staging::forsaken(entry.path())).flatten());
            }
            Ok(kind) if kind.is_file() => files += usize::from(removed_if_forsaken(&entry.path())),
            _ => {}
        }
    }
    folders.sort_by(|a, b| a.path.cmp(&b.path));
    (folders, files)
}

/// True when nothing lies in a folder that we do not put there.
fn is_ours_alone(path: &Path) -> bool {
    let known = ["new", "old", "change.json", "change.json.new", LOCK];
    fs::read_dir(path).is_ok_and(|mut all| {
        all.all(|e| e.is_ok_and(|e| e.file_name().to_str().is_some_and(|n| known.contains(&n))))
    })
}

fn removed_if_forsaken(path: &Path) -> bool {
    let Ok(file) = OpenOptions::new().write(true).open(path) else { return false };
    file.try_lock().is_ok() && system::is_still_there(&file, path) && fs::remove_file(path).is_ok()
}

enum Locked {
    Ours(File),
    Others,
    /// The drive knows no locks.
    Unknown,
}

fn locked(path: &Path) -> io::Result<Locked> {
    let file = OpenOptions::new().create(true).truncate(false).write(true).open(path)?;
    match file.try_lock() {
        Ok(()) if system::is_still_there(&file, path) => Ok(Locked::Ours(file)),
        Ok(()) | Err(TryLockError::WouldBlock) => Ok(Locked::Others),
        Err(TryLockError::Error(_)) => Ok(Locked::Unknown),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<_> =
            fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn what_a_living_run_has_is_left_alone_and_what_a_killed_one_left_is_taken_over() {
        let place = tempfile::tempdir().unwrap();
        let living = Staging::within(place.path()).unwrap();
        let file = new_file(place.path()).unwrap();
        let (folders, files) = forsaken(place.path());
        assert!(folders.is_empty() && files == 0, "both are locked");
        // As after a kill: all is there, nothing is locked.
        fs::write(living.path().join("change.json"), "{}").unwrap();
        living.lock.as_ref().unwrap().unlock().unwrap();
        file.as_file().unlock().unwrap();
        let (folders, files) = forsaken(place.path());
        assert_eq!((folders.len(), files), (1, 1));
        drop(folders);
        assert!(names(place.path()).is_empty());
        living.leave();
    }

    #[test]
    fn what_is_not_ours_is_never_cleared() {
        let place = tempfile::tempdir().unwrap();
        let at = |name: &str| place.path().join(name);
        fs::create_dir(at(".settlay-abc123")).unwrap();
        fs::write(at(".settlay-abc123/poem.txt"), "dear").unwrap();
        fs::write(at(".settlay-notes"), "dear").unwrap();
        fs::write(at(".settlay-abc12!"), "dear").unwrap();
        let (folders, files) = forsaken(place.path());
        assert!(folders.is_empty() && files == 0);
        assert_eq!(names(place.path()), [".settlay-abc12!", ".settlay-abc123", ".settlay-notes"]);
        assert_eq!(names(&at(".settlay-abc123")), ["poem.txt"]);
    }
}
