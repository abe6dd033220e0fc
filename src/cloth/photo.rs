//! A photograph of one repeat of a cloth: for its look. Nothing is measured on it, but it is asked whether a half turn
//! leaves it the same where nothing else says so.

use std::fs::File;
use std::io::Read as _;
use std::path::Path;
use std::sync::Arc;

use resvg::tiny_skia::Pixmap;

use super::{Cloth, HalfTurn};
use crate::job::{ClothSpec, PatternSpec};
use crate::say::{Note, Trouble};
use crate::shape::{Point, pt};

/// Largest picture read, bytes and pixels: a camera's whole frame.
const MOST_BYTES: u64 = 64 << 20;
const MOST_PIXELS: u64 = 64_000_000;

/// A photograph of one repeat across and one along.
#[derive(Clone, PartialEq)]
pub struct Photo {
    width: u32,
    height: u32,
    /// Red, green, blue, row by row from the top.
    rgb: Vec<[u8; 3]>,
    /// What it shows, mm across and along.
    pub size_mm: [f64; 2],
    /// Where its lower left corner falls, cloth frame, mm.
    pub at: Point,
}

impl std::fmt::Debug for Photo {
    /// Without its pixels.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Photo")
            .field("width", &self.width)
            .field("height", &self.height)
            .finish_non_exhaustive()
    }
}

/// Takes up the photograph that the description of `cloth` names, if any, looked for in `folder`. Where it plainly looks
/// otherwise after a half turn, no half turn is taken for allowed. `place` is the description's path in the job.
///
/// # Errors
/// A file that cannot be read or is no PNG of a sensible size.
pub fn take_up(
    cloth: &mut Cloth,
    spec: &ClothSpec,
    folder: &Path,
    place: &str,
) -> Result<Vec<Note>, Trouble> {
    let Some(photo) = Photo::of(spec, folder, place)? else { return Ok(Vec::new()) };
    let mut notes = Vec::new();
    if let (Some(pattern), Some(told)) = (&mut cloth.pattern, &spec.pattern)
        && pattern.half_turn
        && taken_as_told(told)
    {
        let (note, believed) = judged(HalfTurn::of(&photo), &format!("cloth {}", cloth.name));
        notes.extend(note);
        if !believed {
            pattern.half_turn = false;
            pattern.mirrors_across = false;
            pattern.mirrors_along = false;
        }
    }
    cloth.photo = Some(Arc::new(photo));
    Ok(notes)
}

/// True when a half turn is taken for allowed because the maker says so, not because of a thread count.
fn taken_as_told(pattern: &PatternSpec) -> bool {
    pattern.symmetrical == Some(true) && pattern.warp.is_none() && pattern.weft.is_none()
}

/// What is said of "symmetrical": true once the picture was looked at, and whether it is believed.
fn judged(seen: HalfTurn, about: &str) -> (Option<Note>, bool) {
    const WHY: &str =
        "Whether a half turn leaves it the same (\"symmetrical\": true) cannot be told from the photograph";
    const TAKEN: &str = "it is taken as said, and pieces may be turned by half. Hold a scrap of the cloth upside down beside \
                         the cloth to make sure.";
    match seen {
        HalfTurn::Same => (None, true),
        HalfTurn::Faint => {
            (Some(Note::advice(about, format!("{WHY}, which is too coarse or too faint: {TAKEN}"))), true)
        }
        HalfTurn::Between => {
            let text = format!("{WHY}, which differs a little from itself turned: {TAKEN}");
            (Some(Note::advice(about, text)), true)
        }
        HalfTurn::Differs { share, at_mm: [x, y] } => {
            let text = format!(
                "It is said that a half turn leaves it the same (\"symmetrical\": true), but the photograph looks otherwise turned \
                 by half: {:.0} % of it differs plainly, most of all {x:.0} mm from its left and {y:.0} mm from its lower edge. No \
                 piece is turned by half. If the cloth is the same after all, take the photograph anew in even light, or give \
                 the thread count; if not, set \"symmetrical\" to false.",
                share * 100.0
            );
            (Some(Note::caution(about, text)), false)
        }
    }
}

impl Photo {
    /// The photograph a cloth's description names, looked for in `folder`; `None` where it names none. `place` is the
    /// description's path in the job.
    ///
    /// # Errors
    /// A file that cannot be read or is no PNG of a sensible size.
    pub fn of(spec: &ClothSpec, folder: &Path, place: &str) -> Result<Option<Photo>, Trouble> {
        let Some((pattern, photo)) = spec.pattern.as_ref().and_then(|p| Some((p, p.photo.as_ref()?))) else {
            return Ok(None);
        };
        let about = format!("{place}.pattern.photo.file");
        let bad = |what: String| Trouble::bad_input(&about, format!("\"{}\": {what}", photo.file));
        let path = folder.join(&photo.file);
        if !path.is_file() {
            return Err(bad("there is no such file".into()).hint("the picture is looked for beside the job"));
        }
        let cannot = |e: std::io::Error| bad(format!("the file cannot be read: {e}"));
        let mut bytes = Vec::new();
        File::open(&path).map_err(cannot)?.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(cannot)?;
        let [x, y] = photo.at_mm.unwrap_or(pattern.origin_mm);
        Photo::parse(&bytes, photo.size_mm, pt(x, y)).map(Some).map_err(bad)
    }

    /// Reads a PNG.
    ///
    /// # Errors
    /// In words, why it cannot be.
    pub fn parse(bytes: &[u8], size_mm: [f64; 2], at: Point) -> Result<Photo, String> {
        // The size stands at the same place of every PNG (W3C, PNG Specification, 11.2.2 IHDR): looked at before any
        // pixel is unpacked.
        let number =
            |k: usize| bytes.get(k..k + 4).map(|b| b.iter().fold(0u64, |n, b| n << 8 | u64::from(*b)));
        let (true, Some(w), Some(h)) = (bytes.starts_with(b"\x89PNG\r\n\x1a\n"), number(16), number(20))
        else {
            return Err("this is no PNG picture; save it as PNG".into());
        };
        if bytes.len() as u64 > MOST_BYTES || w.saturating_mul(h) > MOST_PIXELS {
            return Err(format!(
                "it has {w} × {h} pixels, more than {} million; make it smaller",
                MOST_PIXELS / 1_000_000
            ));
        }
        let picture = Pixmap::decode_png(bytes).map_err(|e| format!("this PNG cannot be read: {e}"))?;
        let rgb =
            picture.pixels().iter().map(|p| p.demultiply()).map(|c| [c.red(), c.green(), c.blue()]).collect();
        Ok(Photo { width: picture.width(), height: picture.height(), rgb, size_mm, at })
    }

    /// Number of pixels across and along.
    pub fn pixels(&self) -> [u32; 2] {
        [self.width, self.height]
    }

    /// The pixel at shares `u` across and `v` along of the repeat; whole repeats do not count.
    pub fn pixel(&self, u: f64, v: f64) -> [u8; 3] {
        let index = |share: f64, count: u32| {
            let k = share.rem_euclid(1.0) * f64::from(count);
            (k as u32).min(count.saturating_sub(1)) as usize
        };
        let (column, row) = (index(u, self.width), index(1.0 - v, self.height));
        self.rgb.get(row * self.width as usize + column).copied().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::png_of;

    /// Two by two: red and green above, blue and white below.
    fn four() -> Photo {
        let rgba = [255, 0, 0, 255, 0, 255, 0, 255, 0, 0, 255, 255, 255, 255, 255, 255];
        Photo::parse(&png_of(2, 2, &rgba).unwrap(), [40.0, 60.0], pt(0.0, 0.0)).unwrap()
    }

    #[test]
    fn a_share_of_the_repeat_finds_its_pixel_whatever_the_whole_repeats() {
        let photo = four();
        for (u, v, colour) in [
            (0.25, 0.75, [255, 0, 0]),
            (0.75, 0.75, [0, 255, 0]),
            (0.25, 0.25, [0, 0, 255]),
            (0.75, 0.25, [255, 255, 255]),
        ] {
            for (i, j) in [(0.0, 0.0), (3.0, -2.0), (-7.0, 1.0)] {
                assert_eq!(photo.pixel(u + i, v + j), colour, "{u} {v} {i} {j}");
            }
        }
        assert_eq!(photo.pixel(f64::NAN, 1.0e300).len(), 3);
    }

    #[test]
    fn what_is_no_png_or_far_too_large_is_refused_before_it_is_unpacked() {
        let read = |bytes: &[u8]| Photo::parse(bytes, [1.0; 2], pt(0.0, 0.0));
        for bytes in [&b""[..], b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"<svg/>"] {
            assert!(read(bytes).unwrap_err().contains("PNG"));
        }
        let mut bomb = png_of(2, 2, &[0; 16]).unwrap();
        bomb[16..24].copy_from_slice(&[0, 1, 0, 0, 0, 1, 0, 0]);
        assert!(read(&bomb).unwrap_err().contains("65536 × 65536"));
        let whole = png_of(2, 2, &[0; 16]).unwrap();
        assert!(read(&whole[..whole.len() / 2]).is_err());
    }
}
