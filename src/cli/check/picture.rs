//! The picture of the faults, written whole or not at all.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::gather::Checked;
use crate::say::Trouble;
use crate::write::{check_picture, check_png};

/// Where a picture goes and as what.
pub(super) struct Target {
    path: PathBuf,
    kind: PictureKind,
}

#[derive(Clone, Copy)]
enum PictureKind {
    Svg,
    Png,
}

impl Target {
    /// A picture by the ending of its file's name.
    pub fn of(path: &Path) -> Result<Target, Trouble> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        let kind = match ending.as_deref() {
            Some("svg") => PictureKind::Svg,
            Some("png") => PictureKind::Png,
            _ => {
                return Err(Trouble::bad_input(
                    path.display().to_string(),
                    "its ending does not say what picture it is to be",
                )
                .hint("end the file's name in .svg or .png"));
            }
        };
        Ok(Target { path: path.to_owned(), kind })
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Draws what was found and puts it in place of what was there.
    pub fn write(&self, checked: &Checked) -> Result<(), Trouble> {
        let bytes = match self.kind {
            PictureKind::Svg => check_picture(&checked.name, &checked.drawing, &checked.faults).into_bytes(),
            PictureKind::Png => check_png(&checked.name, &checked.drawing, &checked.faults)?,
        };
        write_whole(&self.path, &bytes)
    }
}

/// Writes to a file beside `path` first, so that a failed run leaves what was there.
pub(in crate::cli) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
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
