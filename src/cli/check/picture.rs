//! The picture of the faults, written whole or not at all.

use std::path::{Path, PathBuf};

use super::gather::Checked;
use crate::cli::folder::beside;
use crate::cli::tell;
use crate::files::{self, write_whole};
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
        tell::cautions(&files::settle(beside(&self.path))?);
        let bytes = match self.kind {
            PictureKind::Svg => check_picture(&checked.name, &checked.drawing, &checked.faults).into_bytes(),
            PictureKind::Png => check_png(&checked.name, &checked.drawing, &checked.faults)?,
        };
        write_whole(&self.path, &bytes)
    }
}
