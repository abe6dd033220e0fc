//! A single file written whole: a reader sees the old one or the new one, never a part.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use super::system;
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
    let mut builder = tempfile::Builder::new();
    system::as_new_files_are(builder.prefix(".settlay-"));
    let mut new = builder.tempfile_in(folder)?;
    new.write_all(bytes)?;
    if let Ok(meta) = fs::metadata(path) {
        // The maker's own permissions stay; a file system without them is no reason to stop.
        let _ = new.as_file().set_permissions(meta.permissions());
    }
    new.as_file().sync_all()?;
    system::persist(new, path)?;
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
        _ => e.to_string(),
    }
}

/// Writes a picture the maker asked for.
///
/// # Errors
/// Why it cannot be written; what was there is as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    replace_file(path, bytes).map_err(|e| {
        let what = format!("the picture cannot be written: {}", why_not(&e));
        Trouble::bad_input(path.display().to_string(), what)
            .hint("check that the folder exists and may be written to")
    })
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
