//! At home: the table of somebody who started it with a double click, in no folder of theirs.
//!
//! There is a folder for jobs among the user's documents, each job in a folder of its own; a list of the jobs that were on
//! the table last, in the folder for the user's data; one server for all of it, which a second start only shows once more;
//! and it ends by itself when nobody has looked at it for long.

use std::fs::{self, File, OpenOptions};
use std::io::{Read as _, Write as _};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard};
use std::time::{Duration, SystemTime};

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::disk;
use super::rooms;
use super::store::table_name;
use super::working_copy::WorkingCopy;
use crate::files::system::System;
use crate::files::{names, replace_file, why_not};
use crate::say::{Trouble, json as reading};

/// Version of the files kept here.
const FORMAT: u32 = 1;

/// Most jobs kept in mind, and most told.
const MOST: usize = 40;
const MOST_TOLD: usize = 24;

/// Most folders looked into for jobs.
const MOST_FOLDERS: usize = 400;

/// Largest file looked into for a title, bytes; a larger one is told by its name.
const LARGEST: u64 = 8 << 20;

/// How long a second start waits for the first to say where it is, and to answer.
const PATIENCE: Duration = Duration::from_secs(5);

/// What holds at home.
#[derive(Debug)]
pub struct Home {
    /// The folder for jobs.
    pub jobs: PathBuf,
    data: PathBuf,
    /// What whoever starts the program once more has to know.
    pub secret: String,
    recent: Mutex<Vec<PathBuf>>,
    _lock: File,
}

/// The list on disk.
#[derive(Serialize, Deserialize)]
struct Recent {
    settlay_recent: u32,
    jobs: Vec<PathBuf>,
}

/// Where the running table is to be reached by a second start.
#[derive(Serialize, Deserialize)]
struct Where {
    settlay_home: u32,
    process: u32,
    port: u16,
    secret: String,
}

/// What a start at home finds.
#[derive(Debug)]
pub enum Found {
    /// Nobody is at home yet.
    Empty(Box<Home>),
    /// The table runs already: an address that leads there once.
    Running(String),
}

fn var(name: &str) -> Option<std::ffi::OsString> {
    std::env::var_os(name)
}

/// Comes home: finds or makes the folder for jobs, or the table that runs already.
///
/// # Errors
/// No folder is known or can be made; the table that runs does not answer.
pub fn come() -> Result<Found, Trouble> {
    let system = System::here();
    let data = system.user_data(var).map(|d| d.join("settlay"));
    let jobs = system.documents(var, |path| fs::read_to_string(path).ok()).map(|d| d.join("settlay"));
    let (Some(data), Some(jobs)) = (data, jobs) else {
        let what = "no folder for your documents is known on this computer";
        return Err(
            Trouble::cannot("the folder for jobs", what).hint("start settlay table in a folder of jobs")
        );
    };
    let cannot = |path: &Path, e: &std::io::Error| {
        let what = format!("the folder cannot be made: {}", why_not(e));
        Trouble::cannot(path.display().to_string(), what).hint("start settlay table in a folder of jobs")
    };
    for folder in [&data, &jobs] {
        fs::create_dir_all(folder).map_err(|e| cannot(folder, &e))?;
    }
    let jobs = fs::canonicalize(&jobs).map_err(|e| cannot(&jobs, &e))?;
    let lock = OpenOptions::new().create(true).truncate(false).write(true).open(data.join("table.lock"));
    let lock = lock.map_err(|e| cannot(&data, &e))?;
    if let Err(fs::TryLockError::WouldBlock) = lock.try_lock() {
        return running(&data).map(Found::Running);
    }
    let about = "the table's address";
    let secret =
        rooms::secret().ok_or_else(|| Trouble::cannot(about, "this system gives no random numbers"))?;
    // Of one that was killed: it leads nowhere.
    let _ = fs::remove_file(data.join(WHERE));
    let recent = Mutex::new(read_recent(&data));
    Ok(Found::Empty(Box::new(Home { jobs, data, secret, recent, _lock: lock })))
}

const WHERE: &str = "table-at-home.json";
const RECENT: &str = "recent-jobs.json";

/// A list that cannot be read is begun anew: it only saves a search.
fn read_recent(data: &Path) -> Vec<PathBuf> {
    let bytes = disk::read_limited(&data.join(RECENT), 1 << 20).unwrap_or_default();
    let read: Option<Recent> = reading::read_bytes(&bytes).ok();
    let mut jobs = read.filter(|r| r.settlay_recent == FORMAT).map_or(Vec::new(), |r| r.jobs);
    jobs.truncate(MOST);
    jobs
}

/// A way into the table that runs already.
fn running(data: &Path) -> Result<String, Trouble> {
    let began = std::time::Instant::now();
    loop {
        let said = disk::read_limited(&data.join(WHERE), 1 << 16).ok();
        let said: Option<Where> = said.and_then(|bytes| reading::read_bytes(&bytes).ok());
        if let Some(door) = said.as_ref().and_then(ask_for_door) {
            return Ok(door);
        }
        if began.elapsed() > PATIENCE {
            let who = said.map_or(String::new(), |w| format!(" (process {})", w.process));
            let what = format!("it runs already{who} but does not answer; perhaps on another computer");
            return Err(
                Trouble::cannot("settlay table --home", what).hint("end it there, then start it again")
            );
        }
        // It has only just begun.
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// Asks the running table for an address that leads in once.
fn ask_for_door(at: &Where) -> Option<String> {
    let mut stream =
        TcpStream::connect_timeout(&SocketAddr::from((Ipv4Addr::LOCALHOST, at.port)), PATIENCE).ok()?;
    stream.set_read_timeout(Some(PATIENCE)).ok()?;
    let head = format!(
        "POST /{}/door HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n",
        at.secret, at.port
    );
    stream.write_all(head.as_bytes()).ok()?;
    let mut answer = String::new();
    stream.take(1 << 16).read_to_string(&mut answer).ok()?;
    let (head, body) = answer.split_once("\r\n\r\n")?;
    let told: Value = serde_json::from_str(body).ok().filter(|_| head.contains(" 200 "))?;
    // What answers at this port may be another program by now.
    let door = told.get("door")?.as_str()?;
    door.starts_with(&format!("http://127.0.0.1:{}/", at.port)).then(|| door.to_owned())
}

impl Home {
    /// Says where the table is to be reached, to nobody but this user.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn say_where(&self, port: u16) -> Result<(), Trouble> {
        let at =
            Where { settlay_home: FORMAT, process: std::process::id(), port, secret: self.secret.clone() };
        let path = self.data.join(WHERE);
        let write = || -> std::io::Result<()> {
            // A temporary file is for its owner alone, and stays so.
            let mut file = tempfile::Builder::new().prefix(".settlay-").tempfile_in(&self.data)?;
            file.write_all(&serde_json::to_vec(&at)?)?;
            file.persist(&path).map(drop).map_err(|e| e.error)
        };
        write().map_err(|e| {
            Trouble::cannot(
                path.display().to_string(),
                format!("the file cannot be written: {}", why_not(&e)),
            )
        })
    }

    /// Leaves: nobody is told the way any more.
    pub fn leave(&self) {
        let _ = fs::remove_file(self.data.join(WHERE));
    }

    fn recent(&self) -> MutexGuard<'_, Vec<PathBuf>> {
        self.recent.lock().unwrap_or_else(|e| e.into_inner())
    }

    /// Keeps in mind that these jobs are on the table, the first of them last.
    pub fn note(&self, jobs: &[PathBuf]) {
        let mut recent = self.recent();
        let before = recent.clone();
        for job in jobs.iter().filter(|j| !before.contains(j)) {
            recent.insert(0, job.clone());
        }
        self.keep(&mut recent, &before);
    }

    /// Keeps in mind that this job was opened just now.
    pub fn note_opened(&self, job: &Path) {
        let mut recent = self.recent();
        let before = recent.clone();
        recent.retain(|j| j != job);
        recent.insert(0, job.to_owned());
        self.keep(&mut recent, &before);
    }

    fn keep(&self, recent: &mut Vec<PathBuf>, before: &[PathBuf]) {
        recent.truncate(MOST);
        if recent.as_slice() != before {
            let list = Recent { settlay_recent: FORMAT, jobs: recent.clone() };
            // Without it a job is still found in the folder for jobs.
            let _ =
                serde_json::to_vec_pretty(&list).map(|bytes| replace_file(&self.data.join(RECENT), &bytes));
        }
    }

    /// The jobs that may be opened: those that were on the table last, then those in the folder for jobs, the last changed
    /// first. What is gone is left out.
    pub fn known(&self) -> Vec<PathBuf> {
        let mut all: Vec<PathBuf> = self.recent().iter().filter(|j| is_there(j)).cloned().collect();
        let mut found: Vec<(SystemTime, PathBuf)> = Vec::new();
        let folders = fs::read_dir(&self.jobs).into_iter().flatten().flatten().take(MOST_FOLDERS);
        let folders = folders.map(|e| e.path()).filter(|p| p.is_dir());
        for folder in std::iter::once(self.jobs.clone()).chain(folders) {
            for entry in fs::read_dir(&folder).into_iter().flatten().flatten().take(MOST_FOLDERS) {
                let name = entry.file_name().to_string_lossy().into_owned();
                let begun = name.strip_prefix('.').and_then(|n| n.strip_suffix(".table"));
                let job = folder.join(begun.unwrap_or(&name));
                let listed = |all: &[PathBuf]| all.contains(&job);
                if job.to_string_lossy().ends_with(".job.json") && is_there(&job) && !listed(&all) {
                    let changed = changed(&job);
                    if !found.iter().any(|(_, j)| *j == job) {
                        found.push((changed, job));
                    }
                }
            }
        }
        found.sort_by(|a, b| b.cmp(a));
        all.extend(found.into_iter().map(|(_, job)| job));
        all.truncate(MOST_TOLD);
        all
    }

    /// The same as the page shows them: title, name, folder, the day it was changed.
    pub fn told(&self) -> Value {
        let one = |(n, job): (usize, &PathBuf)| {
            let name = job.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            let folder = job.parent().unwrap_or(Path::new(""));
            let beside = folder.strip_prefix(&self.jobs).ok().filter(|f| f.components().count() > 0);
            let folder = if folder == self.jobs { Path::new("") } else { beside.unwrap_or(folder) };
            json!({
                "n": n, "job": job.display().to_string(), "title": title(job),
                "name": super::names::stem_of_job(&name), "folder": folder.display().to_string(),
                "changed_s": changed(job).duration_since(SystemTime::UNIX_EPOCH).map_or(0, |d| d.as_secs()),
            })
        };
        let jobs: Vec<Value> = self.known().iter().enumerate().map(one).collect();
        json!({"folder": self.jobs.display().to_string(), "jobs": jobs})
    }

    /// A new folder for a job made of this drawing, named after it.
    ///
    /// # Errors
    /// It cannot be made.
    pub fn new_folder(&self, drawing: &str) -> Result<PathBuf, Trouble> {
        let job = super::names::job_of_drawing(drawing);
        let stem = names::made_safe(super::names::stem_of_job(&job), "job");
        for k in 1..1000 {
            let folder = self.jobs.join(if k == 1 { stem.clone() } else { format!("{stem} {k}") });
            match fs::create_dir(&folder) {
                Ok(()) => return Ok(folder),
                Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
                Err(e) => {
                    let what = format!("the folder cannot be made: {}", why_not(&e));
                    return Err(Trouble::cannot(folder.display().to_string(), what));
                }
            }
        }
        Err(Trouble::cannot(
            self.jobs.display().to_string(),
            format!("it has too many folders called {stem}"),
        ))
    }
}

/// True for a job that is there, be it only begun and never saved.
fn is_there(job: &Path) -> bool {
    job.is_file() || working_copy(job).is_some_and(|w| w.is_file())
}

fn working_copy(job: &Path) -> Option<PathBuf> {
    Some(job.with_file_name(table_name(job.file_name()?.to_str()?)))
}

/// When job or working copy were changed last.
fn changed(job: &Path) -> SystemTime {
    let at = |path: &Path| fs::metadata(path).and_then(|m| m.modified()).ok();
    at(job).max(working_copy(job).and_then(|w| at(&w))).unwrap_or(SystemTime::UNIX_EPOCH)
}

/// The title as it stands on the table, else in the file; empty where there is none.
fn title(job: &Path) -> String {
    let short = |path: &Path| {
        fs::metadata(path).ok().filter(|m| m.len() <= LARGEST).and_then(|_| fs::read(path).ok())
    };
    let on_table = working_copy(job).and_then(|w| WorkingCopy::parse(&short(&w)?).ok()?.work.job);
    let value = on_table.or_else(|| reading::value_of_bytes(&short(job)?).ok());
    let title = value.as_ref().and_then(|v| v.get("title")?.as_str()).unwrap_or_default();
    title.chars().filter(|c| !c.is_control() && !names::is_unseen(*c)).take(120).collect()
}
