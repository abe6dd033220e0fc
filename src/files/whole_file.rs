//! A single file written whole: a reader sees the old one or the new one, never a part.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use super::{staging, step, system};
use crate::say::Trouble;

/// Writes a file beside `path` in full, brings it to disk and puts it in its place, whatever happens. Where `path` is a link,
/// what it leads to is replaced and the link stays.
///
/// # Errors
/// The system's; the old file is as it was.
pub fn replace_file(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let real = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let path = real.as_path();
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut new = staging::new_file(folder)?;
    new.write_all(bytes)?;
    if let Ok(meta) = fs::metadata(path) {
        // The maker's own permissions stay; a file system without them is no reason to stop.
        let _ = new.as_file().set_permissions(meta.permissions());
    }
    step::sync(new.as_file())?;
    step::persist(new, path)?;
    system::sync_folder(folder);
    Ok(())
}

/// Why a file cannot be written, in words.
pub fn why_not(e: &io::Error) -> String {
    match e.kind() {
        io::ErrorKind::NotFound => "its folder does not exist".to_owned(),
        io::ErrorKind::IsADirectory => "a folder of this name is in the way".to_owned(),
        io::ErrorKind::PermissionDenied => "permission is missing".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        io::ErrorKind::QuotaExceeded => "your share of the disk is used up".to_owned(),
        io::ErrorKind::FileTooLarge => "it is larger than a file may be here".to_owned(),
        io::ErrorKind::NotADirectory => "a part of its path is a file".to_owned(),
        io::ErrorKind::InvalidFilename => {
            "its name is too long or has letters that cannot be used".to_owned()
        }
        // The system's own words, without its number for them.
        _ => e.to_string().split(" (os error").next().unwrap_or_default().to_owned(),
    }
}

/// Writes a file the maker asked for by its path.
///
/// # Errors
/// Why it cannot be written; what was there is as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    replace_file(path, bytes).map_err(|e| not_written(path, &e))
}

/// A path that cannot be is a slip of whoever typed it; a disk that takes no more is none.
fn not_written(path: &Path, e: &io::Error) -> Trouble {
    let (about, what) = (path.display().to_string(), format!("the file cannot be written: {}", why_not(e)));
    let trouble = match e.kind() {
        io::ErrorKind::NotFound
        | io::ErrorKind::IsADirectory
        | io::ErrorKind::NotADirectory
        | io::ErrorKind::InvalidFilename => Trouble::bad_input(about, what),
        _ => Trouble::cannot(about, what),
    };
    trouble.hint("check that the folder exists, may be written to and has room")
}

#[cfg(test)]
mod words_tests {
    use super::*;

    #[test]
    fn a_disk_that_takes_no_more_is_no_slip_of_the_maker() {
        let told = |kind: io::ErrorKind| not_written(Path::new("a.png"), &kind.into());
        for kind in [
            io::ErrorKind::StorageFull,
            io::ErrorKind::QuotaExceeded,
            io::ErrorKind::FileTooLarge,
            io::ErrorKind::ReadOnlyFilesystem,
            io::ErrorKind::PermissionDenied,
            io::ErrorKind::Other,
        ] {
            assert_eq!(told(kind).exit_code(), 1, "{kind}");
        }
        for kind in [io::ErrorKind::NotFound, io::ErrorKind::IsADirectory, io::ErrorKind::NotADirectory] {
            assert_eq!(told(kind).exit_code(), 2, "{kind}");
        }
        let system = io::Error::from_raw_os_error(5);
        assert!(!why_not(&system).contains("os error"), "{}", why_not(&system));
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn a_link_stays_a_link_and_what_it_leads_to_is_replaced() {
        let desk = tempfile::tempdir().unwrap();
        let (far, link) = (desk.path().join("far/job.json"), desk.path().join("job.json"));
        fs::create_dir(desk.path().join("far")).unwrap();
        fs::write(&far, "one").unwrap();
        std::os::unix::fs::symlink("far/job.json", &link).unwrap();
        replace_file(&link, b"two").unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&far).unwrap(), b"two");
        // A link to nothing is replaced by the file.
        fs::remove_file(&far).unwrap();
        replace_file(&link, b"three").unwrap();
        assert_eq!(fs::read(&link).unwrap(), b"three");
    }
}
