//! A folder exchanged for another in one step. What a maker keeps in it is in both.

use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::Path;

use super::join;
use super::journal::Kept;
use crate::files::{step, system};

/// Gives the maker's own files in `out` a second name in `new`; says which file each was.
///
/// # Errors
/// The system's: a disk without second names, a file of somebody else's.
pub(super) fn keep(names: &[String], out: &Path, new: &Path) -> io::Result<Kept> {
    let mut kept = Kept::new();
    for name in names {
        let to = join(new, name);
        // Folders on the way, each with the permissions it has.
        for (k, _) in name.match_indices('/') {
            let (there, here) = (join(out, &name[..k]), join(new, &name[..k]));
            if !here.is_dir() {
                fs::create_dir(&here)?;
                fs::set_permissions(&here, fs::metadata(&there)?.permissions())?;
            }
        }
        step::link(&join(out, name), &to)?;
        let unknown = || io::Error::from(io::ErrorKind::Unsupported);
        kept.insert(name.clone(), system::identity(&to).ok_or_else(unknown)?);
    }
    Ok(kept)
}

/// After the exchange: what came into the old folder, or changed there, at the last moment is brought into the new one. Files
/// named in `ours` are not, nor those that are still as they were `kept`: what the new folder has of these is newer.
///
/// # Errors
/// The system's; the old folder still has what was not brought.
pub(super) fn bring_over(old: &Path, out: &Path, ours: &BTreeSet<&str>, kept: &Kept) -> io::Result<()> {
    let mut folders = vec![String::new()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(join(old, &folder))? {
            let entry = entry?;
            let name = format!("{folder}{}", entry.file_name().to_string_lossy());
            let (from, to) = (entry.path(), join(out, &folder).join(entry.file_name()));
            let within = format!("{name}/");
            let holds_ours = || ours.range(within.as_str()..).next().is_some_and(|n| n.starts_with(&within));
            if entry.file_type()?.is_dir() && (to.is_dir() || holds_ours()) {
                folders.push(within);
            } else if !ours.contains(name.as_str()) && system::identity(&from) != kept.get(&name).copied() {
                to.parent().map_or(Ok(()), fs::create_dir_all)?;
                step::rename(&from, &to)?;
            }
        }
    }
    Ok(())
}
