//! The shelf on disk: one file that people can read, an entry a line.
//!
//! A change takes the lock beside it, reads, changes, writes a new file in full, brings it to disk and puts it in the
//! old one's place. So a reader always sees a whole shelf, no change is lost to another at the same time, and a run
//! that ends half way leaves the shelf as it was.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::files::{self, system::System};
use crate::say::{Note, Trouble};

use super::mend::{self, Damage};
use super::model::Offcut;

/// What lies on the shelf, in the order it was put there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shelf {
    /// Every offcut, also those taken.
    pub offcuts: Vec<Offcut>,
    /// Ids given before, as the pictures beside the shelf tell: what was damaged and set aside keeps its label.
    pub(super) labels: Vec<String>,
}

/// Where a shelf is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    file: PathBuf,
}

/// Name of the file in a shelf's folder.
const NAME: &str = "offcuts.json";

/// Largest shelf file, bytes.
const LARGEST: u64 = 256 << 20;

/// How long a change waits for others to finish theirs.
const PATIENCE: Duration = Duration::from_secs(120);

impl Place {
    /// The shelf at `path`: a file when its name ends in `.json`, else a folder that holds one.
    pub fn at(path: &Path) -> Place {
        let is_file = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("json")) && !path.is_dir();
        Place { file: if is_file { path.to_owned() } else { path.join(NAME) } }
    }

    /// The usual shelf: where `SETTLAY_SHELF` says; else `settlay/offcuts.json` in the folder for a user's data
    /// ([`System::user_data`]).
    ///
    /// # Errors
    /// None of these is known.
    pub fn usual() -> Result<Place, Trouble> {
        if let Some(path) = std::env::var_os("SETTLAY_SHELF").filter(|v| !v.is_empty()) {
            return Ok(Place::at(Path::new(&path)));
        }
        match System::here().user_data(|name| std::env::var_os(name)) {
            Some(data) => Ok(Place { file: data.join("settlay").join(NAME) }),
            None => Err(Trouble::bad_input("the offcut shelf", "no folder for a user's data is known here")
                .hint("name the shelf's file or folder with --shelf")),
        }
    }

    /// The shelf's file.
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// Folder of the offcuts' pictures, relative to the shelf's own.
    pub fn pictures(&self) -> String {
        let stem = self.file.file_stem().map_or("offcuts".into(), |s| s.to_string_lossy());
        format!("{stem}-pictures")
    }

    /// Reads the shelf; an empty one where there is none yet. A damaged shelf is mended: its sound entries stay, the
    /// rest is set aside in a file of its own, and a note says so.
    ///
    /// # Errors
    /// A file that cannot be read or is no shelf.
    pub fn read(&self) -> Result<(Shelf, Vec<Note>), Trouble> {
        let (shelf, damaged) = self.load()?;
        let unknown = Shelf::marks_unknown(shelf.kept(), &self.file);
        if damaged.is_empty() {
            return Ok((shelf, unknown));
        }
        let name = self.file.display().to_string();
        let mended = self.lock().and_then(|_lock| {
            // Another run may have mended it in the meantime.
            let (again, damaged) = self.load()?;
            let notes = self.set_aside(&again, &damaged)?;
            if !damaged.is_empty() {
                self.save(&again)?;
            }
            Ok((again, notes))
        });
        match mended {
            Ok((shelf, mut notes)) => {
                notes.extend(unknown);
                Ok((shelf, notes))
            }
            Err(t) => {
                let text = format!(
                    "{} It could not be mended ({}); this run goes on with the {} sound ones.",
                    told(&damaged),
                    t.what,
                    shelf.offcuts.len()
                );
                let notes = std::iter::once(Note::caution(name, text)).chain(unknown);
                Ok((shelf, notes.collect()))
            }
        }
    }

    /// Changes the shelf by `f`, alone: others wait. Nothing is written when `f` fails.
    ///
    /// # Errors
    /// What `f` says; a shelf that cannot be read, locked or written.
    pub fn change<T>(
        &self,
        f: impl FnOnce(&mut Shelf) -> Result<T, Vec<Trouble>>,
    ) -> Result<(T, Vec<Note>), Vec<Trouble>> {
        let _lock = self.lock().map_err(|t| vec![t])?;
        let (mut shelf, damaged) = self.load().map_err(|t| vec![t])?;
        shelf.labels = self.labels();
        let done = f(&mut shelf)?;
        let notes = self.set_aside(&shelf, &damaged).map_err(|t| vec![t])?;
        self.save(&shelf).map_err(|t| vec![t])?;
        Ok((done, notes))
    }

    fn load(&self) -> Result<(Shelf, Vec<Damage>), Trouble> {
        let name = self.file.display().to_string();
        let unreadable = |e: &io::Error| {
            let hint = "check the path and that the file may be read";
            Trouble::bad_input(&name, format!("the offcut shelf cannot be read: {}", why(e))).hint(hint)
        };
        let file = match File::open(&self.file) {
            Ok(file) => file,
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok((Shelf::default(), Vec::new())),
            Err(e) => return Err(unreadable(&e)),
        };
        let mut bytes = Vec::new();
        file.take(LARGEST + 1).read_to_end(&mut bytes).map_err(|e| unreadable(&e))?;
        if bytes.len() as u64 > LARGEST {
            return Err(Trouble::bad_input(&name, "the file is far larger than any shelf"));
        }
        let read = mend::read(&bytes, &name)?;
        let mut shelf = Shelf::default();
        let mut damaged = read.damaged;
        let mut ids = std::collections::BTreeSet::new();
        let (firsts, twins): (Vec<_>, Vec<_>) =
            read.offcuts.into_iter().partition(|o| ids.insert(o.id.clone()));
        shelf.offcuts = firsts;
        for twin in twins {
            let old = twin.id.clone();
            let what =
                format!("offcut {old}: another has the same id, this one is now {}", shelf.put(twin).id);
            damaged.push(Damage { what, bytes: Vec::new() });
        }
        Ok((shelf, damaged))
    }

    /// The ids that pictures beside the shelf are called by.
    fn labels(&self) -> Vec<String> {
        let pictures = fs::read_dir(self.folder().join(self.pictures())).into_iter().flatten().flatten();
        pictures.filter_map(|e| Some(e.path().file_stem()?.to_str()?.to_owned())).collect()
    }

    /// The lock, held until it is dropped (the system lets go of it when a run ends in any way).
    fn lock(&self) -> Result<File, Trouble> {
        let name = self.file.display().to_string();
        let cannot = |e: &io::Error| {
            Trouble::cannot(&name, format!("the offcut shelf cannot be changed: {}", why(e)))
                .hint("nothing was changed; make the folder writable or name another shelf with --shelf")
        };
        fs::create_dir_all(self.folder()).map_err(|e| cannot(&e))?;
        let mut options = OpenOptions::new();
        options.create(true).truncate(false).write(true);
        let lock = options.open(self.beside("lock")).map_err(|e| cannot(&e))?;
        let began = Instant::now();
        let mut pause = Duration::from_millis(2);
        loop {
            match lock.try_lock() {
                Ok(()) => return Ok(lock),
                Err(TryLockError::WouldBlock) if began.elapsed() < PATIENCE => {
                    sleep(pause);
                    pause = (pause * 2).min(Duration::from_millis(20));
                }
                Err(TryLockError::WouldBlock) => {
                    return Err(Trouble::cannot(&name, "another run keeps the offcut shelf to itself")
                        .hint("wait for it to end, or end it; nothing was changed"));
                }
                Err(TryLockError::Error(e)) => return Err(cannot(&e)),
            }
        }
    }

    /// Writes the shelf in place of the old file. To be called with the lock held.
    fn save(&self, shelf: &Shelf) -> Result<(), Trouble> {
        let name = self.file.display().to_string();
        let cannot = |e: &io::Error| {
            Trouble::cannot(&name, format!("the offcut shelf cannot be written: {}", why(e)))
                .hint("nothing was changed; make room or name another shelf with --shelf")
        };
        let text =
            text(shelf).map_err(|e| Trouble::cannot(&name, format!("the shelf cannot be written: {e}")))?;
        files::replace_file(&self.file, text.as_bytes()).map_err(|e| cannot(&e))
    }

    /// Writes the damaged parts to a file of their own and says so.
    fn set_aside(&self, shelf: &Shelf, damaged: &[Damage]) -> Result<Vec<Note>, Trouble> {
        if damaged.is_empty() {
            return Ok(Vec::new());
        }
        let mut bytes = Vec::new();
        for part in damaged {
            bytes.extend_from_slice(format!("# {}\n", part.what).as_bytes());
            bytes.extend_from_slice(&part.bytes);
            bytes.push(b'\n');
        }
        for n in 1..=9_999 {
            let path = self.beside(&format!("damaged-{n}"));
            let written = OpenOptions::new().write(true).create_new(true).open(&path);
            let written = written.and_then(|mut f| f.write_all(&bytes).and_then(|()| f.sync_all()));
            match written {
                Ok(()) => {
                    let text = format!(
                        "{} Set aside in {}; the other {} are safe.",
                        told(damaged),
                        path.display(),
                        shelf.offcuts.len()
                    );
                    return Ok(vec![Note::caution(self.file.display().to_string(), text)]);
                }
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
                Err(e) => {
                    let what = format!("the shelf's damaged part cannot be set aside: {}", why(&e));
                    return Err(Trouble::cannot(path.display().to_string(), what).hint("nothing was changed"));
                }
            }
        }
        Err(Trouble::cannot(self.file.display().to_string(), "too many damaged parts lie beside the shelf")
            .hint("look them through and remove them; nothing was changed"))
    }

    fn folder(&self) -> &Path {
        match self.file.parent() {
            Some(p) if !p.as_os_str().is_empty() => p,
            _ => Path::new("."),
        }
    }

    fn beside(&self, ending: &str) -> PathBuf {
        let name = self.file.file_name().unwrap_or_default().to_string_lossy();
        self.folder().join(format!("{name}.{ending}"))
    }
}

impl Shelf {
    /// Those still there.
    pub fn kept(&self) -> impl Iterator<Item = &Offcut> {
        self.offcuts.iter().filter(|o| o.state == super::State::Kept)
    }

    /// Says which of `offcuts` were put on the shelf before burnt marks were kept, and what to do.
    pub fn marks_unknown<'a>(offcuts: impl Iterator<Item = &'a Offcut>, file: &Path) -> Vec<Note> {
        const MOST: usize = 5;
        let ids: Vec<&str> = offcuts.filter(|o| o.burnt_mm.is_none()).map(|o| o.id.as_str()).collect();
        let Some(first) = ids.first() else { return Vec::new() };
        let more = ids.len().saturating_sub(MOST);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let named = ids.iter().take(MOST).copied().collect::<Vec<_>>().join(", ");
        let text = format!(
            "When {named}{more} came on it, burnt marks were not kept: there may be small crosses in what counts as good \
             cloth. Look, and say where their middles are (settlay offcuts crosses {first} --at \"X,Y X,Y\") or that there \
             are none (settlay offcuts crosses {first} --none)."
        );
        vec![Note::caution(file.display().to_string(), text)]
    }

    /// Puts an offcut on the shelf under a new id made of its fabric's name, and gives it back.
    pub fn put(&mut self, mut offcut: Offcut) -> &mut Offcut {
        let stem = stem(&offcut.cloth.name);
        // Pictures are called by the ids, and not every system tells capitals apart.
        let lower = stem.to_lowercase();
        let number =
            |id: &String| id.to_lowercase().strip_prefix(&lower)?.strip_prefix('-')?.parse::<u64>().ok();
        let given = self.offcuts.iter().map(|o| &o.id).chain(&self.labels);
        let last = given.filter_map(number).max().unwrap_or(0);
        offcut.id = format!("{stem}-{}", last.saturating_add(1));
        let at = self.offcuts.len();
        self.offcuts.push(offcut);
        &mut self.offcuts[at]
    }

    /// The offcut called `id`.
    ///
    /// # Errors
    /// There is none of that id.
    pub fn named(&mut self, id: &str) -> Result<&mut Offcut, Trouble> {
        let known: Vec<String> = self.kept().map(|o| o.id.clone()).collect();
        let near = crate::say::nearest_name(id, known.iter().map(String::as_str));
        let hint = near.map_or("settlay offcuts list shows them".into(), |n| format!("did you mean {n}?"));
        self.offcuts.iter_mut().find(|o| o.id == id).ok_or_else(|| {
            Trouble::cannot(format!("offcut {id}"), "there is none of that id on the shelf").hint(hint)
        })
    }
}

/// What an id begins with: the fabric's name in letters, figures and dashes.
fn stem(name: &str) -> String {
    let mut stem = String::new();
    for c in name.chars().take(40) {
        if c.is_alphanumeric() {
            stem.push(c);
        } else if !stem.is_empty() && !stem.ends_with('-') {
            stem.push('-');
        }
    }
    let stem = stem.trim_end_matches('-');
    if stem.is_empty() { "offcut".into() } else { stem.into() }
}

/// The file's text: an entry a line.
fn text(shelf: &Shelf) -> Result<String, serde_json::Error> {
    let (format, program) = (mend::FORMAT, serde_json::to_string(crate::PROGRAM)?);
    let mut text = format!("{{\"settlay_shelf\": {format}, \"program\": {program}, \"offcuts\": [\n");
    for (k, offcut) in shelf.offcuts.iter().enumerate() {
        if k > 0 {
            text.push_str(",\n");
        }
        text.push_str(&serde_json::to_string(offcut)?);
    }
    text.push_str("\n]}\n");
    Ok(text)
}

fn told(damaged: &[Damage]) -> String {
    const MOST: usize = 3;
    let named: Vec<&str> = damaged.iter().take(MOST).map(|d| d.what.as_str()).collect();
    let more = damaged.len().saturating_sub(MOST);
    let more = if more > 0 { format!("; and {more} more") } else { String::new() };
    format!("A part of it is damaged ({}{more}).", named.join("; "))
}

fn why(e: &io::Error) -> String {
    match e.kind() {
        io::ErrorKind::PermissionDenied => "permission is missing".into(),
        io::ErrorKind::StorageFull => "the disk is full".into(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read".into(),
        io::ErrorKind::NotADirectory | io::ErrorKind::AlreadyExists => "a part of the path is a file".into(),
        io::ErrorKind::IsADirectory => "this is a folder".into(),
        _ => crate::files::why_not(e),
    }
}

#[cfg(test)]
#[path = "file_tests.rs"]
mod tests;
