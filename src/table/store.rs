//! Where the working copy is kept: one file beside the job, written whole at every change, held by one server.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

use axum::http::StatusCode;
use serde_json::Value;

use super::disk::{self, fingerprint, write_whole};
use super::problem::Problem;
use super::readable;
use super::working_copy::{Work, WorkingCopy};
use crate::files;
use crate::files::system::{self, is_still_there};
use crate::job::LARGEST_FILE;
use crate::say::{Trouble, json};

/// Largest working copy, bytes: a job, its lay and the way back.
const LARGEST: u64 = 128 << 20;

/// The working copy and its files.
#[derive(Debug, Default)]
pub struct Store {
    /// The folder of the job.
    pub folder: PathBuf,
    /// The job's file name; `None` before there is a job.
    pub name: Option<String>,
    /// The working copy as it is on disk.
    pub copy: WorkingCopy,
    /// Held while the job is open.
    lock: Option<Lock>,
    /// The job's own file, held against a table that opens it by another name.
    held: Option<File>,
    /// Where the table is to be reached, for whoever wants to open the job a second time.
    address: String,
    /// What was found out when it was opened.
    pub said: Vec<String>,
}

impl Store {
    /// A table without a job.
    pub fn empty(folder: &Path) -> Store {
        Store { folder: folder.to_owned(), ..Store::default() }
    }

    /// Opens the job `name` in `folder`: its working copy where there is one, else the job file; neither need be there.
    ///
    /// # Errors
    /// Another server has it; a file that cannot be read.
    pub fn open(folder: &Path, name: &str) -> Result<Store, Trouble> {
        let mut store = Store { name: Some(name.to_owned()), ..Store::empty(folder) };
        store.lock = Some(lock(folder, name)?);
        if !store.hold() {
            let what = "it is open on another table under another name: both names lead to one file";
            return Err(Trouble::cannot(folder.join(name).display().to_string(), what)
                .hint("go on there, or end that one with Ctrl-C first"));
        }
        let table = folder.join(table_name(name));
        if table.symlink_metadata().is_ok() {
            let bytes = disk::read_limited(&table, LARGEST)?;
            match WorkingCopy::parse(&bytes) {
                Ok(copy) => {
                    store.copy = copy;
                    return Ok(store);
                }
                Err(why) => {
                    // It is put aside, not lost, and the job file is taken as it is.
                    let aside = aside(folder, &table_name(name), "unread");
                    fs::rename(&table, &aside).map_err(|e| {
                        let what = format!(
                            "this working copy cannot be read ({why}) nor put aside: {}",
                            files::why_not(&e)
                        );
                        Trouble::cannot(table.display().to_string(), what)
                    })?;
                    let text = "the working copy could not be read and was put aside as";
                    store.said.push(format!("{text} {} ({why})", aside.display()));
                }
            }
        }
        if folder.join(name).symlink_metadata().is_ok() {
            let (job, base) = store.read_job()?;
            store.copy.base = Some(base);
            store.copy.work.job = Some(job);
        }
        Ok(store)
    }

    /// Holds the job's file as it is now; false when another table has it.
    fn hold(&mut self) -> bool {
        let file = self.job_path().and_then(|path| File::open(path).ok());
        let ours = file.as_ref().is_none_or(system::hold);
        if ours {
            self.held = file;
        }
        ours
    }

    /// The job file.
    pub fn job_path(&self) -> Option<PathBuf> {
        self.name.as_ref().map(|n| self.folder.join(n))
    }

    /// The job as it is on disk, with its fingerprint.
    ///
    /// # Errors
    /// It cannot be read or is no JSON.
    pub fn read_job(&self) -> Result<(Value, String), Trouble> {
        let path = self.job_path().ok_or_else(|| Trouble::bad_input("the job", "it has no file yet"))?;
        let bytes = disk::read_limited(&path, LARGEST_FILE)?;
        let text = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(&bytes);
        let name = path.display().to_string();
        let value = json::value_of_bytes(text).map_err(|wrong| wrong.in_file(&name))?;
        if !value.is_object() {
            return Err(Trouble::bad_input(&name, "this is no job: a job begins with {"));
        }
        Ok((value, fingerprint(&[&bytes])))
    }

    /// Refuses a change made with an older state in sight.
    ///
    /// # Errors
    /// The revision is not that of now.
    pub fn expect(&self, revision: u64) -> Result<(), Problem> {
        if revision == self.copy.revision {
            return Ok(());
        }
        let detail = "The job was changed elsewhere since, perhaps in another tab";
        Err(Problem::clash(detail)
            .hint("look at it as it is now, then do it again")
            .with("revision", self.copy.revision))
    }

    /// Makes a change: on disk first.
    ///
    /// # Errors
    /// It cannot be written; then nothing is changed.
    pub fn change(&mut self, what: &str, new: Work) -> Result<(), Problem> {
        self.put(self.copy.changed(what, new))
    }

    /// Puts another working copy in place of this one: on disk first.
    ///
    /// # Errors
    /// It cannot be written; then nothing is changed.
    pub fn put(&mut self, copy: WorkingCopy) -> Result<(), Problem> {
        if copy == self.copy {
            return Ok(());
        }
        let Some(name) = &self.name else {
            return Err(Problem::clash("There is no job yet").hint("begin with a drawing"));
        };
        write_whole(&self.folder.join(table_name(name)), copy.text().as_bytes()).map_err(not_kept)?;
        let other_file = copy.base != self.copy.base;
        self.copy = copy;
        if other_file {
            self.hold();
        }
        Ok(())
    }

    /// Gives a table without a job its name.
    ///
    /// # Errors
    /// A job of this name is there already, or open elsewhere.
    pub fn begin(&mut self, name: &str) -> Result<(), Problem> {
        let taken = |n: &str| self.folder.join(n).symlink_metadata().is_ok();
        if taken(name) || taken(&table_name(name)) {
            return Err(Problem::clash(format!("there is a job {name} in this folder already"))
                .hint(format!("open it with settlay table {name}, or give the drawing another name")));
        }
        let mut lock = lock(&self.folder, name)?;
        lock.say(&self.address);
        self.lock = Some(lock);
        self.name = Some(name.to_owned());
        Ok(())
    }

    /// Writes the job file, under another name where one is given. A file that is not as it was last read or written
    /// is replaced only with `over`.
    ///
    /// # Errors
    /// It differs on disk, or cannot be written.
    pub fn save(&mut self, other: Option<&str>, over: bool) -> Result<String, Problem> {
        let Some(job) = self.copy.work.job.clone() else {
            return Err(Problem::clash("There is no job yet").hint("begin with a drawing"));
        };
        let Some(now) = self.name.clone() else { return Err(Problem::clash("There is no job yet")) };
        let name = other.unwrap_or(&now).to_owned();
        let path = self.folder.join(&name);
        let on_disk = disk::read_limited(&path, LARGEST_FILE).ok().map(|b| fingerprint(&[&b]));
        let others = self.folder.join(table_name(&name));
        // A job begun under that name and never saved is there as well.
        let begun = name != now && others.symlink_metadata().is_ok();
        let there = path.symlink_metadata().is_ok() || begun;
        let ours = name == now && on_disk == self.copy.base;
        if there && !ours && !over {
            let (detail, hint) = if name == now {
                (
                    "the job file was changed on disk since it was read",
                    "take the file as it is, save under another name, or save over it",
                )
            } else {
                ("there is a file of this name already", "take another name, or save over it")
            };
            return Err(Problem::clash(format!("{name}: {detail}")).hint(hint).with("on_disk", true));
        }
        let text = readable::text(&job);
        if name != now {
            // The new name is taken before anything is written under it.
            let mut lock = lock(&self.folder, &name)?;
            lock.say(&self.address);
            if begun {
                let kept = aside(&self.folder, &table_name(&name), "before");
                fs::rename(&others, kept).map_err(|e| {
                    let what = format!("the working copy that is there cannot be put aside: {e}");
                    not_kept(Trouble::cannot(others.display().to_string(), what))
                })?;
            }
            write_whole(&path, text.as_bytes()).map_err(not_kept)?;
            let old = self.folder.join(table_name(&now));
            let copy = WorkingCopy { base: Some(fingerprint(&[text.as_bytes()])), ..self.copy.clone() };
            write_whole(&self.folder.join(table_name(&name)), copy.text().as_bytes()).map_err(not_kept)?;
            let _ = fs::remove_file(old);
            (self.lock, self.name, self.copy) = (Some(lock), Some(name.clone()), copy);
            self.hold();
            return Ok(name);
        }
        write_whole(&path, text.as_bytes()).map_err(not_kept)?;
        let base = Some(fingerprint(&[text.as_bytes()]));
        self.put(WorkingCopy { base, ..self.copy.clone() })?;
        Ok(name)
    }

    /// True when the job file holds what the table shows.
    pub fn is_saved(&self) -> bool {
        self.copy.work.job.as_ref().is_some_and(|job| {
            self.read_job().is_ok_and(|(on_disk, base)| {
                self.copy.base.as_deref() == Some(base.as_str())
                    && (on_disk == *job || base == fingerprint(&[readable::text(job).as_bytes()]))
            })
        })
    }

    /// Says in the lock's file where the job is open.
    pub fn say_where(&mut self, address: &str) {
        self.address = address.to_owned();
        if let Some(lock) = &mut self.lock {
            lock.say(address);
        }
    }

    /// Lets go of the job.
    pub fn release(&mut self) {
        (self.lock, self.held) = (None, None);
    }
}

/// A job held for this server; let go when dropped.
#[derive(Debug)]
struct Lock {
    file: File,
    path: PathBuf,
}

impl Lock {
    /// Only for a friendlier message: the lock itself is what counts.
    fn say(&mut self, address: &str) {
        let said = format!("process {}, {address}", std::process::id());
        let file = &mut self.file;
        let _ = file.set_len(0).and_then(|()| file.rewind()).and_then(|()| file.write_all(said.as_bytes()));
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.path);
    }
}

fn not_kept(t: Trouble) -> Problem {
    let status = StatusCode::INSUFFICIENT_STORAGE;
    Problem { troubles: vec![t.clone()], ..Problem::new(status, "It could not be kept", t.to_string()) }
}

/// A name for a file put aside that nothing in the folder has yet.
fn aside(folder: &Path, file: &str, why: &str) -> PathBuf {
    let names = (1..).map(|k| match k {
        1 => format!("{file}-{why}"),
        k => format!("{file}-{why}-{k}"),
    });
    names.map(|n| folder.join(n)).find(|p| p.symlink_metadata().is_err()).unwrap_or_default()
}

/// Name of the working copy's file.
pub fn table_name(job: &str) -> String {
    format!(".{job}.table")
}

fn lock_name(job: &str) -> String {
    format!(".{job}.table-lock")
}

/// Takes the job for this server.
fn lock(folder: &Path, name: &str) -> Result<Lock, Trouble> {
    let path = folder.join(lock_name(name));
    let about = folder.join(name).display().to_string();
    let cannot = |e: std::io::Error| {
        Trouble::cannot(&about, format!("its working copy cannot be kept in this folder: {e}"))
            .hint("copy the job and its drawing into a folder of your own")
    };
    // A link there would lead to a file of the maker's.
    if path.symlink_metadata().is_ok_and(|m| !m.is_file()) {
        let what = "this is no lock of ours, and is not touched";
        return Err(
            Trouble::bad_input(path.display().to_string(), what).hint("take it away if you do not know it")
        );
    }
    // A lock whose file another run has just removed is no lock: look again.
    for _ in 0..20 {
        let open = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path);
        let mut file = open.map_err(cannot)?;
        match file.try_lock() {
            Ok(()) if is_still_there(&file, &path) => return Ok(Lock { file, path }),
            Ok(()) => continue,
            Err(TryLockError::WouldBlock) => {
                let mut by = String::new();
                let _ = (&mut file).take(300).read_to_string(&mut by);
                let by = if by.is_empty() { String::new() } else { format!(" ({by})") };
                let what = format!("it is open on another table{by}");
                return Err(
                    Trouble::cannot(about, what).hint("go on there, or end that one with Ctrl-C first")
                );
            }
            Err(TryLockError::Error(e)) => return Err(cannot(e)),
        }
    }
    Err(Trouble::cannot(about, "it is being opened and closed elsewhere").hint("try again"))
}

/// Working copies in `folder` of jobs that were never saved, the last touched first.
pub fn unfinished(folder: &Path) -> Vec<String> {
    let mut found: Vec<(std::time::SystemTime, String)> = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let file = entry.file_name().to_string_lossy().into_owned();
        let job = file.strip_prefix('.').and_then(|f| f.strip_suffix(".table"));
        if let Some(job) = job.filter(|j| j.ends_with(".json") && !folder.join(j).exists()) {
            let touched = entry.metadata().and_then(|m| m.modified()).unwrap_or(std::time::UNIX_EPOCH);
            found.push((touched, job.to_owned()));
        }
    }
    found.sort_by(|a, b| b.cmp(a));
    found.into_iter().map(|f| f.1).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn with_job(job: Value) -> Work {
        Work { job: Some(job), ..Work::default() }
    }

    #[test]
    fn a_job_begun_on_the_table_is_there_again_after_a_kill_and_saved_as_people_read_it() {
        let place = tempfile::tempdir().unwrap();
        let mut store = Store::empty(place.path());
        assert!(store.change("job", with_job(json!({}))).is_err(), "there is no name to keep it under yet");
        store.begin("heron.job.json").unwrap();
        store.change("job", with_job(json!({"settlay": 1, "title": "Heron"}))).unwrap();
        // As after a kill: nothing is tidied up.
        store.lock.as_ref().unwrap().file.unlock().unwrap();
        let forgotten = store;
        assert_eq!(unfinished(place.path()), ["heron.job.json"]);
        let mut again = Store::open(place.path(), "heron.job.json").unwrap();
        assert_eq!(again.copy.work.job.as_ref().unwrap()["title"], "Heron");
        assert!(!again.is_saved());
        again.save(None, false).unwrap();
        assert!(again.is_saved() && unfinished(place.path()).is_empty());
        let text = fs::read_to_string(place.path().join("heron.job.json")).unwrap();
        assert_eq!(text, "{\n  \"settlay\": 1,\n  \"title\": \"Heron\"\n}\n");
        std::mem::forget(forgotten);
    }

    #[test]
    fn a_second_table_on_one_job_is_told_who_has_it() {
        let place = tempfile::tempdir().unwrap();
        let mut first = Store::open(place.path(), "a.job.json").unwrap();
        first.say_where("http://127.0.0.1:4000/");
        let refused = Store::open(place.path(), "a.job.json").unwrap_err();
        assert!(refused.what.contains("127.0.0.1:4000") && refused.what.contains("process"), "{refused}");
        drop(first);
        assert!(Store::open(place.path(), "a.job.json").is_ok());
        assert_eq!(fs::read_dir(place.path()).unwrap().count(), 0, "the lock's file goes with it");
    }

    #[test]
    fn a_job_changed_on_disk_is_never_silently_replaced() {
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join("a.job.json");
        fs::write(&file, "{\"settlay\": 1}").unwrap();
        let mut store = Store::open(place.path(), "a.job.json").unwrap();
        assert!(store.is_saved());
        store.change("job", with_job(json!({"settlay": 1, "title": "mine"}))).unwrap();
        fs::write(&file, "{\"settlay\": 1, \"title\": \"theirs\"}").unwrap();
        let refused = store.save(None, false).unwrap_err();
        assert_eq!(refused.status, StatusCode::CONFLICT);
        assert!(fs::read_to_string(&file).unwrap().contains("theirs"));
        store.save(None, true).unwrap();
        assert!(fs::read_to_string(&file).unwrap().contains("mine"));
        fs::write(place.path().join("b.job.json"), "{}").unwrap();
        assert!(store.save(Some("b.job.json"), false).is_err());
        store.save(Some("c.job.json"), false).unwrap();
        assert_eq!(store.name.as_deref(), Some("c.job.json"));
        assert!(
            !place.path().join(".a.job.json.table").exists()
                && place.path().join(".c.job.json.table").exists()
        );
    }

    #[test]
    fn a_job_never_saved_is_not_lost_to_another_of_its_name() {
        let place = tempfile::tempdir().unwrap();
        let mut never = Store::empty(place.path());
        never.begin("heron.job.json").unwrap();
        never.change("job", with_job(json!({"settlay": 1, "title": "Heron"}))).unwrap();
        drop(never);
        let mut other = Store::empty(place.path());
        other.begin("b.job.json").unwrap();
        other.change("job", with_job(json!({"settlay": 1, "title": "Other"}))).unwrap();
        assert_eq!(other.save(Some("heron.job.json"), false).unwrap_err().status, StatusCode::CONFLICT);
        other.save(Some("heron.job.json"), true).unwrap();
        let kept = fs::read_to_string(place.path().join(".heron.job.json.table-before")).unwrap();
        assert!(kept.contains("Heron"));
        fs::remove_file(place.path().join("heron.job.json")).unwrap();
        assert!(!other.is_saved(), "a file that is gone holds nothing");
    }

    #[cfg(unix)]
    #[test]
    fn one_file_is_on_one_table_by_whatever_name() {
        let place = tempfile::tempdir().unwrap();
        let [one, two] = ["one.job.json", "two.job.json"].map(|n| place.path().join(n));
        fs::write(&one, "{\"settlay\": 1}").unwrap();
        fs::hard_link(&one, &two).unwrap();
        let mut first = Store::open(place.path(), "one.job.json").unwrap();
        let refused = Store::open(place.path(), "two.job.json").unwrap_err();
        assert!(refused.what.contains("under another name"), "{refused}");
        // Saving puts a new file in its place: the other name is a job of its own from then on, and the new file is held.
        first.change("job", with_job(json!({"settlay": 1, "title": "a"}))).unwrap();
        first.save(None, false).unwrap();
        drop(Store::open(place.path(), "two.job.json").unwrap());
        fs::remove_file(&two).unwrap();
        fs::hard_link(&one, &two).unwrap();
        assert!(Store::open(place.path(), "two.job.json").is_err());
        drop(first);
        assert!(Store::open(place.path(), "two.job.json").is_ok());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_in_the_place_of_the_lock_is_not_followed() {
        let place = tempfile::tempdir().unwrap();
        let victim = place.path().join("victim.txt");
        fs::write(&victim, "dear").unwrap();
        std::os::unix::fs::symlink(&victim, place.path().join(lock_name("a.job.json"))).unwrap();
        assert!(Store::open(place.path(), "a.job.json").unwrap_err().what.contains("no lock of ours"));
        assert_eq!(fs::read_to_string(&victim).unwrap(), "dear");
    }

    #[test]
    fn a_damaged_working_copy_is_put_aside_and_the_job_read() {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("a.job.json"), "{\"settlay\": 1}").unwrap();
        fs::write(place.path().join(".a.job.json.table"), "{ half").unwrap();
        let store = Store::open(place.path(), "a.job.json").unwrap();
        assert!(store.copy.work.job.is_some() && store.said.len() == 1);
        assert!(place.path().join(".a.job.json.table-unread").exists());
        drop(store);
        fs::write(place.path().join(".a.job.json.table"), "{ another").unwrap();
        drop(Store::open(place.path(), "a.job.json").unwrap());
        let first = fs::read_to_string(place.path().join(".a.job.json.table-unread")).unwrap();
        assert_eq!(first, "{ half", "the next one put aside has a name of its own");
        assert!(place.path().join(".a.job.json.table-unread-2").exists());
    }

    #[test]
    fn a_change_that_cannot_be_kept_is_not_made() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("work");
        fs::create_dir(&folder).unwrap();
        let mut store = Store::open(&folder, "a.job.json").unwrap();
        store.change("job", with_job(json!({"title": "one"}))).unwrap();
        fs::remove_dir_all(&folder).unwrap();
        assert!(store.change("job", with_job(json!({"title": "two"}))).is_err());
        assert_eq!((store.copy.revision, &store.copy.work.job), (1, &Some(json!({"title": "one"}))));
    }
}
