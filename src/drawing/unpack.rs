//! From a file to text: size limits, gzip, encoding, and files that are something else.

use std::io::Read;
use std::path::Path;

use super::limits::MAX_BYTES;
use crate::say::Trouble;

/// The bytes of a drawing file.
///
/// # Errors
/// The file is missing, no plain file, unreadable, or larger than [`MAX_BYTES`] (it is then not read).
pub(super) fn load(path: &Path) -> Result<Vec<u8>, Trouble> {
    let about = path.display().to_string();
    let trouble = |e: std::io::Error| match e.kind() {
        std::io::ErrorKind::NotFound => Trouble::bad_input(about.as_str(), "there is no such file")
            .hint("check the name; the drawing of a job stands beside its job file"),
        _ => Trouble::bad_input(about.as_str(), format!("it cannot be read: {e}")),
    };
    let meta = std::fs::metadata(path).map_err(trouble)?;
    if meta.is_dir() {
        return Err(Trouble::bad_input(about.as_str(), "this is a folder, not a drawing")
            .hint("name the SVG file in it"));
    }
    if !meta.is_file() {
        return Err(Trouble::bad_input(about.as_str(), "this is no plain file")
            .hint("save the drawing to a file and name that"));
    }
    if meta.len() > MAX_BYTES as u64 {
        return Err(too_large(&about, &megabytes(meta.len())));
    }
    let mut bytes = Vec::new();
    let file = std::fs::File::open(path).map_err(trouble)?;
    // The file may grow while it is read.
    file.take(MAX_BYTES as u64 + 1).read_to_end(&mut bytes).map_err(trouble)?;
    Ok(bytes)
}

/// The text of a drawing: unpacked when gzipped, without a byte order mark.
///
/// # Errors
/// Empty, too large, not UTF-8, or of another kind.
pub(super) fn text(bytes: &[u8], about: &str) -> Result<String, Trouble> {
    let unpacked;
    let mut bytes = bytes;
    if bytes.starts_with(&[0x1f, 0x8b]) {
        unpacked = gunzip(bytes, about)?;
        bytes = &unpacked;
    }
    if bytes.len() > MAX_BYTES {
        return Err(too_large(about, &megabytes(bytes.len() as u64)));
    }
    let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes);
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(Trouble::bad_input(about, "the file is empty").hint("export the drawing again"));
    }
    if let Some(kind) = other_kind(bytes) {
        return Err(Trouble::bad_input(about, format!("it is {kind}, not an SVG drawing"))
            .hint("export the drawing as SVG; a picture must be traced first"));
    }
    let text = std::str::from_utf8(bytes).map_err(|e| {
        Trouble::bad_input(about, format!("it is not UTF-8 text (byte {})", e.valid_up_to() + 1))
            .hint("export the drawing again as plain SVG in UTF-8")
    })?;
    if text.contains('\0') {
        return Err(Trouble::bad_input(about, "it is not text: it holds zero bytes")
            .hint("export the drawing as SVG"));
    }
    if !text.trim_start().starts_with('<') {
        return Err(Trouble::bad_input(about, "it is no SVG drawing: it does not begin with a tag")
            .hint("is this the right file? A drawing exported as SVG begins with <svg or <?xml"));
    }
    Ok(text.to_owned())
}

fn gunzip(bytes: &[u8], about: &str) -> Result<Vec<u8>, Trouble> {
    let mut unpacked = Vec::new();
    flate2::read::MultiGzDecoder::new(bytes).take(MAX_BYTES as u64 + 1).read_to_end(&mut unpacked).map_err(
        |e| {
            Trouble::bad_input(about, format!("its gzip packing is broken: {e}"))
                .hint("the file may be cut off; export or download it again")
        },
    )?;
    if unpacked.len() > MAX_BYTES {
        return Err(too_large(about, "unpacked it holds more"));
    }
    Ok(unpacked)
}

/// Rounded up, so that a file just over the limit is not said to be of its size.
fn megabytes(bytes: u64) -> String {
    format!("{} MB", bytes.div_ceil(1 << 20))
}

fn too_large(about: &str, found: &str) -> Trouble {
    Trouble::bad_input(about, format!("it is too large: {found}; {} at most", megabytes(MAX_BYTES as u64)))
        .hint("take pictures out of the drawing, simplify it or split it into several files")
}

fn other_kind(bytes: &[u8]) -> Option<&'static str> {
    let kinds: [(&[u8], &str); 8] = [
        (b"%PDF", "a PDF"),
        (b"%!PS", "a PostScript file"),
        (b"\x89PNG", "a PNG picture"),
        (b"\xff\xd8\xff", "a JPEG picture"),
        (b"GIF8", "a GIF picture"),
        (b"PK\x03\x04", "a zip archive"),
        (b"\xff\xfe", "UTF-16 text"),
        (b"\xfe\xff", "UTF-16 text"),
    ];
    let kind = kinds.iter().find(|(magic, _)| bytes.starts_with(magic)).map(|(_, kind)| *kind);
    let dxf = bytes.starts_with(b"  0\nSECTION")
        || bytes.starts_with(b"  0\r\nSECTION")
        || bytes.starts_with(b"0\nSECTION");
    kind.or(dxf.then_some("a DXF drawing"))
}
