//! What differs from one operating system to the next; nothing else in the program asks which one it runs on.
//!
//! What can be decided without asking the system is a plain function of [`System`], so that every system's way is tested on
//! each of them.
//!
//! What else differs, and is borne:
//! - Windows: a locked file cannot even be read by others, so a second table is told that the job is open elsewhere, not where. A
//!   file whose name begins with a point is not hidden. A folder's entries cannot be brought to disk; renaming does so by itself
//!   (NTFS keeps a journal). Names are alike where only capitals differ, and some are kept for devices: names of files are
//!   made with that in mind on every system, so that a folder can be carried from one to the other.
//! - macOS: names are alike where only capitals differ, as a rule. The browser is shown an address by `open`.
//! - Fonts are looked for where each system keeps them; a drawing that names one that is missing is told of it on all of them.
//! - Lines end in a line feed alone, in every file and on every system.

use std::ffi::OsString;
use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// A kind of operating system, as far as it matters here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    /// Linux, and other systems that follow its conventions.
    Linux,
    /// macOS.
    MacOs,
    /// Windows.
    Windows,
}

impl System {
    /// The one the program runs on.
    pub const fn here() -> System {
        if cfg!(windows) {
            System::Windows
        } else if cfg!(target_os = "macos") {
            System::MacOs
        } else {
            System::Linux
        }
    }

    /// The folder for a user's data, as `var` tells of it: `XDG_DATA_HOME` everywhere, else `~/.local/share` (XDG Base
    /// Directory Specification 0.8), on macOS `~/Library/Application Support`, on Windows `APPDATA`.
    pub fn user_data(self, var: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
        let var = |name: &str| var(name).filter(|v| !v.is_empty()).map(PathBuf::from);
        var("XDG_DATA_HOME")
            .filter(|p| p.is_absolute())
            .or_else(|| if self == System::Windows { var("APPDATA") } else { None })
            .or_else(|| {
                let within: &[&str] = match self {
                    System::MacOs => &["Library", "Application Support"],
                    System::Linux | System::Windows => &[".local", "share"],
                };
                var("HOME").map(|home| within.iter().fold(home, |path, part| path.join(part)))
            })
    }

    /// A whole path as people write it. Windows gives whole paths a prefix that switches its own rules off
    /// (`\\?\C:\work`, `\\?\UNC\mill\work`), which many programs cannot read; where the path means the same without it,
    /// because it is short and has no part that those rules would change, it is left out.
    pub fn as_written(self, whole: PathBuf) -> PathBuf {
        /// Longest path that every program on Windows can open (its `MAX_PATH`, less the end of the text).
        const LONGEST: usize = 259;
        if self != System::Windows {
            return whole;
        }
        let Some(text) = whole.to_str() else { return whole };
        let Some(rest) = text.strip_prefix(r"\\?\") else { return whole };
        let plain = match rest.strip_prefix(r"UNC\") {
            Some(share) => format!(r"\\{share}"),
            None if rest.as_bytes().get(1) == Some(&b':') => rest.to_owned(),
            None => return whole,
        };
        let kept = plain.split('\\').all(|part| !part.ends_with(['.', ' ']) && !is_device(part));
        if kept && plain.encode_utf16().count() <= LONGEST { plain.into() } else { whole }
    }

    /// Whether what failed with `e` may well be done a moment later. On Windows a file that another program looks at, as
    /// those that search for viruses do with every new one, cannot be replaced meanwhile; elsewhere nobody is in the way.
    pub fn may_pass(self, e: &io::Error) -> bool {
        /// `ERROR_SHARING_VIOLATION`, for which there is no kind.
        const SHARED: i32 = 32;
        self == System::Windows
            && (e.kind() == io::ErrorKind::PermissionDenied || e.raw_os_error() == Some(SHARED))
    }

    /// The folder for a user's documents, as `var` tells of it and, on Linux, the user's own list of folders that `text_of` reads
    /// (`user-dirs.dirs` of xdg-user-dirs, where `XDG_DOCUMENTS_DIR="$HOME"` says that there is none of its own; from memory);
    /// else `Documents` in the home folder, which on Windows is `USERPROFILE`.
    pub fn documents(
        self,
        var: impl Fn(&str) -> Option<OsString>,
        text_of: impl Fn(&Path) -> Option<String>,
    ) -> Option<PathBuf> {
        let path = |name: &str| var(name).filter(|v| !v.is_empty()).map(PathBuf::from);
        let home = match self {
            System::Windows => path("USERPROFILE").or_else(|| path("HOME")),
            System::Linux | System::MacOs => path("HOME"),
        }
        .filter(|h| h.is_absolute() || self == System::Windows)?;
        if self == System::Linux {
            let said = path("XDG_DOCUMENTS_DIR").filter(|p| p.is_absolute());
            let config =
                path("XDG_CONFIG_HOME").filter(|p| p.is_absolute()).unwrap_or_else(|| home.join(".config"));
            let listed = || {
                let text = text_of(&config.join("user-dirs.dirs"))?;
                let line = text.lines().rev().find_map(|l| l.trim().strip_prefix("XDG_DOCUMENTS_DIR="))?;
                let told = line.trim().trim_matches('"');
                match told.strip_prefix("$HOME") {
                    Some(rest) => Some(home.join(rest.trim_start_matches('/'))),
                    None => Some(PathBuf::from(told)).filter(|p| p.is_absolute()),
                }
            };
            if let Some(folder) = said.or_else(listed) {
                return Some(folder);
            }
        }
        Some(home.join("Documents"))
    }

    /// The program, and its first words, that shows an address in the user's browser.
    pub const fn opener(self) -> (&'static str, &'static [&'static str]) {
        match self {
            System::Linux => ("xdg-open", &[]),
            System::MacOs => ("open", &[]),
            System::Windows => ("cmd", &["/C", "start", ""]),
        }
    }
}

/// True for a name that Windows keeps for a device, whatever follows its first point.
fn is_device(part: &str) -> bool {
    let stem = part.split('.').next().unwrap_or_default().trim_end().to_ascii_lowercase();
    let numbered = |of: &str| {
        stem.strip_prefix(of)
            .is_some_and(|n| n.chars().count() == 1 && n.chars().all(|c| "0123456789¹²³".contains(c)))
    };
    ["con", "prn", "aux", "nul", "conin$", "conout$"].contains(&stem.as_str())
        || numbered("com")
        || numbered("lpt")
}

/// The whole path of what is at `path`, links followed, as people write it.
///
/// # Errors
/// The system's: there is nothing, or it may not be looked at.
pub fn whole_path(path: &Path) -> io::Result<PathBuf> {
    fs::canonicalize(path).map(|whole| System::here().as_written(whole))
}

/// Puts a temporary file in the place of `path`. Where others may be in the way for a moment, it is tried for up to half a
/// second.
///
/// # Errors
/// The system's; what was at `path` is as it was.
pub fn persist(mut new: tempfile::NamedTempFile, path: &Path) -> io::Result<()> {
    let mut pause = Duration::from_millis(8);
    loop {
        match new.persist(path) {
            Ok(_) => return Ok(()),
            Err(e) if System::here().may_pass(&e.error) && pause < Duration::from_millis(500) => new = e.file,
            Err(e) => return Err(e.error),
        }
        std::thread::sleep(pause);
        pause *= 2;
    }
}

/// Has a temporary file, which would be for its owner alone, made for whoever may read new files there.
pub fn as_new_files_are(builder: &mut tempfile::Builder<'_, '_>) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    #[cfg(not(unix))]
    let _ = builder;
}

/// True when `path` still names the opened `file`. Where the system does not tell files apart, that there is one counts:
/// there an opened file cannot be taken away.
pub fn is_still_there(file: &File, path: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        match (file.metadata(), path.symlink_metadata()) {
            (Ok(ours), Ok(there)) => (ours.dev(), ours.ino()) == (there.dev(), there.ino()),
            _ => false,
        }
    }
    #[cfg(not(unix))]
    {
        let _ = file;
        path.exists()
    }
}

/// Holds an opened file against whoever holds it by another name (a hard link), until it is closed; false when somebody does.
/// Nobody is kept from reading or writing it. Where a lock would keep others from reading (Windows), or the file system
/// knows none, nothing is held and the answer is yes.
pub fn hold(file: &File) -> bool {
    #[cfg(unix)]
    {
        !matches!(file.try_lock(), Err(fs::TryLockError::WouldBlock))
    }
    #[cfg(not(unix))]
    {
        let _ = file;
        true
    }
}

/// Lets two folders change places in one step, so that whoever looks sees the one or the other.
///
/// # Errors
/// [`io::ErrorKind::Unsupported`] where system or disk has no such step: only Linux (`renameat2` with `RENAME_EXCHANGE`) and
/// macOS (`renameatx_np` with `RENAME_SWAP`) do, and not on every kind of disk. Else the system's.
pub fn exchange(one: &Path, other: &Path) -> io::Result<()> {
    #[cfg(any(target_os = "linux", target_os = "android", target_os = "macos"))]
    {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        use rustix::io::Errno;
        match renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE) {
            Err(Errno::NOSYS | Errno::INVAL | Errno::NOTSUP) => Err(io::ErrorKind::Unsupported.into()),
            done => Ok(done?),
        }
    }
    #[cfg(not(any(target_os = "linux", target_os = "android", target_os = "macos")))]
    {
        let _ = (one, other);
        Err(io::ErrorKind::Unsupported.into())
    }
}

/// What tells a file or folder from every other on this computer, whatever its name; `None` where the system does not say.
pub fn identity(path: &Path) -> Option<(u64, u64)> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        path.symlink_metadata().ok().map(|m| (m.dev(), m.ino()))
    }
    #[cfg(not(unix))]
    {
        let _ = path;
        None
    }
}

/// True when two things have the same owner, or the system does not say.
pub fn same_owner(one: &Path, other: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let owner = |p: &Path| p.symlink_metadata().map(|m| (m.uid(), m.gid()));
        matches!((owner(one), owner(other)), (Ok(a), Ok(b)) if a == b)
    }
    #[cfg(not(unix))]
    {
        let _ = (one, other);
        true
    }
}

/// Keeps a folder to this run until it is dropped, as long as no other keeps it; `None` when `patience` has run out. Systems
/// that cannot lock a folder give a hold on nothing.
///
/// # Errors
/// The folder cannot be opened.
pub fn hold_folder(folder: &Path, patience: Duration) -> io::Result<Option<Option<File>>> {
    #[cfg(unix)]
    {
        let began = Instant::now();
        loop {
            let opened = File::open(folder)?;
            match opened.try_lock() {
                // One that was exchanged meanwhile is not the folder any more.
                Ok(()) if is_still_there(&opened, folder) => return Ok(Some(Some(opened))),
                Ok(()) => {}
                Err(TryLockError::WouldBlock) if began.elapsed() < patience => {
                    sleep(Duration::from_millis(20))
                }
                Err(TryLockError::WouldBlock) => return Ok(None),
                // Some network drives know no locks.
                Err(TryLockError::Error(_)) => return Ok(Some(None)),
            }
        }
    }
    #[cfg(not(unix))]
    {
        let _ = (folder, patience);
        Ok(Some(None))
    }
}

/// Brings a folder's entries to disk where the system can; the files themselves are safe already.
pub fn sync_folder(folder: &Path) {
    if let Ok(opened) = File::open(folder) {
        let _ = opened.sync_all();
    }
}

/// Ends when the user asks the program to: Ctrl-C, and where there are signals the one that asks to end; on Windows also
/// when its window is closed or the user logs off.
pub async fn asked_to_end() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut term) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = term.recv() => {}
            }
            return;
        }
    }
    #[cfg(windows)]
    {
        use tokio::signal::windows::{ctrl_close, ctrl_logoff, ctrl_shutdown};
        if let (Ok(mut closed), Ok(mut left), Ok(mut down)) = (ctrl_close(), ctrl_logoff(), ctrl_shutdown()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = closed.recv() => {}
                _ = left.recv() => {}
                _ = down.recv() => {}
            }
            return;
        }
    }
    let _ = tokio::signal::ctrl_c().await;
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with<'a>(vars: &'a [(&'a str, &'a str)]) -> impl Fn(&str) -> Option<OsString> + 'a {
        |name| vars.iter().find(|(n, _)| *n == name).map(|(_, v)| OsString::from(v))
    }

    #[test]
    fn every_system_has_its_folder_for_data() {
        let home = [("HOME", "/home/eel"), ("APPDATA", "/data")];
        assert_eq!(System::Linux.user_data(with(&home)), Some("/home/eel/.local/share".into()));
        assert_eq!(System::Windows.user_data(with(&home)), Some("/data".into()));
        let said = [("XDG_DATA_HOME", "/elsewhere"), ("HOME", "/home/eel")];
        assert_eq!(System::MacOs.user_data(with(&said)), Some("/elsewhere".into()));
        assert_eq!(
            System::MacOs.user_data(with(&home)),
            Some("/home/eel/Library/Application Support".into())
        );
        assert_eq!(System::Linux.user_data(with(&[("XDG_DATA_HOME", "not/absolute")])), None);
        assert_eq!(System::Linux.user_data(with(&[("HOME", "")])), None);
    }

    #[test]
    fn every_system_has_its_folder_for_documents() {
        let vars = [("HOME", "/home/eel"), ("USERPROFILE", "/users/eel")];
        let none = |_: &Path| None;
        assert_eq!(System::Linux.documents(with(&vars), none), Some("/home/eel/Documents".into()));
        assert_eq!(System::MacOs.documents(with(&vars), none), Some("/home/eel/Documents".into()));
        assert_eq!(System::Windows.documents(with(&vars), none), Some("/users/eel/Documents".into()));
        assert_eq!(System::MacOs.documents(with(&[]), none), None);
        for (line, folder) in [
            ("XDG_DOCUMENTS_DIR=\"$HOME/Papiere\"", "/home/eel/Papiere"),
            ("# the user's\nXDG_MUSIC_DIR=\"$HOME/m\"\n XDG_DOCUMENTS_DIR=\"/far/d\" ", "/far/d"),
            ("XDG_DOCUMENTS_DIR=\"$HOME/\"", "/home/eel/"),
            ("XDG_DOCUMENTS_DIR=\"near\"", "/home/eel/Documents"),
            ("", "/home/eel/Documents"),
        ] {
            let list = |path: &Path| {
                (path == Path::new("/home/eel/.config/user-dirs.dirs")).then(|| line.to_owned())
            };
            assert_eq!(System::Linux.documents(with(&vars), list), Some(folder.into()), "{line}");
            assert_eq!(System::MacOs.documents(with(&vars), list), Some("/home/eel/Documents".into()));
        }
    }

    #[test]
    fn whole_paths_are_told_as_people_write_them() {
        let told = |path: &str| System::Windows.as_written(path.into()).to_str().unwrap().to_owned();
        assert_eq!(told(r"\\?\C:\work\reed bed"), r"C:\work\reed bed");
        assert_eq!(told(r"\\?\UNC\mill\work\a.json"), r"\\mill\work\a.json");
        for same in [
            r"C:\work",
            r"\\?\Volume{1f2e}\work",
            r"\\?\C:\work\ends with a point.",
            r"\\?\C:\work\nul",
            r"\\?\C:\work\COM1.txt",
            format!(r"\\?\C:\{}", "long".repeat(70)).as_str(),
        ] {
            assert_eq!(told(same), same);
        }
        let odd = PathBuf::from(r"\\?\C:\work");
        assert_eq!(System::Linux.as_written(odd.clone()), odd, "elsewhere that is a name like any other");
    }

    #[test]
    fn only_where_others_are_in_the_way_is_it_tried_again() {
        let denied = io::Error::from(io::ErrorKind::PermissionDenied);
        assert!(
            System::Windows.may_pass(&denied) && System::Windows.may_pass(&io::Error::from_raw_os_error(32))
        );
        assert!(!System::Windows.may_pass(&io::Error::from(io::ErrorKind::StorageFull)));
        assert!(!System::Linux.may_pass(&denied) && !System::MacOs.may_pass(&denied));
    }

    #[test]
    fn the_browser_is_shown_an_address_in_every_systems_way() {
        assert_eq!(System::Linux.opener().0, "xdg-open");
        assert_eq!(System::MacOs.opener().0, "open");
        // `start` takes a first word in quotation marks for a window's title.
        assert_eq!(System::Windows.opener(), ("cmd", &["/C", "start", ""][..]));
    }
}
