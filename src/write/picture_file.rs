//! A picture in a file of its own.

use std::io::Write;
use std::path::Path;

use crate::say::Trouble;

/// Writes to a file beside `path` first, so that a failed run leaves what was there.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let failed = |e: &std::io::Error| {
        let why = match e.kind() {
            std::io::ErrorKind::NotFound => "its folder does not exist".to_owned(),
            std::io::ErrorKind::IsADirectory => "a folder of this name is in the way".to_owned(),
            std::io::ErrorKind::PermissionDenied => "permission is missing".to_owned(),
            std::io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read".to_owned(),
            std::io::ErrorKind::StorageFull => "the disk is full".to_owned(),
            _ => e.to_string(),
        };
        Trouble::bad_input(path.display().to_string(), format!("the picture cannot be written: {why}"))
            .hint("check that the folder exists and may be written to")
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".settlay-");
    #[cfg(unix)]
    {
        // Temporary files are for their owner alone; a picture is for whoever may read new files here.
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder).map_err(|e| failed(&e))?;
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(|e| failed(&e))?;
    file.persist(path).map_err(|e| failed(&e.error))?;
    Ok(())
}
