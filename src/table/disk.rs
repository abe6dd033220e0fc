//! Files written whole and told apart.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;
use std::time::SystemTime;

use crate::files;
use crate::say::Trouble;

/// Writes a file of the table's whole, or leaves the old one.
///
/// # Errors
/// Why it cannot be written; the old one is as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    files::replace_file(path, bytes).map_err(|e| {
        let what = format!("the file cannot be written: {}", files::why_not(&e));
        Trouble::cannot(path.display().to_string(), what)
            .hint("nothing was changed; make room or see to the folder's permissions, then try again")
    })
}

/// The folder a file lies in.
pub fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Reads a file of at most `most` bytes.
///
/// # Errors
/// It is not there, no plain file, too large or may not be read.
pub fn read_limited(path: &Path, most: u64) -> Result<Vec<u8>, Trouble> {
    let name = path.display().to_string();
    let cannot = |e: io::Error| Trouble::bad_input(&name, format!("the file cannot be read: {e}"));
    if !fs::metadata(path).map_err(cannot)?.is_file() {
        return Err(Trouble::bad_input(&name, "this is no plain file"));
    }
    let mut bytes = Vec::new();
    File::open(path).map_err(cannot)?.take(most + 1).read_to_end(&mut bytes).map_err(cannot)?;
    if bytes.len() as u64 > most {
        return Err(Trouble::bad_input(&name, format!("the file is larger than {} MB", most >> 20)));
    }
    Ok(bytes)
}

/// When a file was changed last and how long it is: cheap to look at each second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Signature {
    changed: Option<SystemTime>,
    bytes: u64,
}

/// The signature of a file; `None` where there is none.
pub fn signature(path: &Path) -> Option<Signature> {
    let meta = fs::metadata(path).ok().filter(|m| m.is_file())?;
    Some(Signature { changed: meta.modified().ok(), bytes: meta.len() })
}

/// A fingerprint against mix-ups, not against forgers: FNV-1a, 64 bit (G. Fowler, L. C. Noll & K.-P. Vo; IETF
/// draft-eastlake-fnv).
pub fn fingerprint(parts: &[&[u8]]) -> String {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    for part in parts {
        for byte in *part {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }
    format!("{hash:016x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Test vectors of draft-eastlake-fnv.
    #[test]
    fn fingerprints_are_those_of_the_published_function() {
        assert_eq!(fingerprint(&[b""]), "cbf29ce484222325");
        assert_eq!(fingerprint(&[b"a"]), "af63dc4c8601ec8c");
        assert_eq!(fingerprint(&[b"foo", b"bar"]), "85944171f73967e8");
    }

    #[test]
    fn a_file_is_replaced_whole_and_nothing_else_is_left() {
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join("a.json");
        write_whole(&file, b"one").unwrap();
        let before = signature(&file);
        write_whole(&file, b"three").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"three");
        assert_ne!(signature(&file), before);
        assert_eq!(fs::read_dir(place.path()).unwrap().count(), 1);
        assert!(write_whole(&place.path().join("gone/a.json"), b"x").is_err());
    }
}
