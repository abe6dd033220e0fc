//! One repeat as a picture that can be laid side by side with itself.

use super::{Look, weave};
use crate::cloth::Cloth;
use crate::job::Weave;
use crate::shape::{Point, pt};

/// Most pixels of a tile: 2000 by 2000.
pub const MOST_PIXELS: usize = 4_000_000;

/// Threads shown in a direction in which nothing repeats.
const FREE_THREADS: f64 = 16.0;

/// A picture of a whole number of repeats, in lattice coordinates: its columns run along the weft threads, its
/// rows along the warp threads, its lower-left corner lies on a lattice point.
#[derive(Clone, Debug, PartialEq)]
pub struct Tile {
    /// Columns.
    pub width_px: u32,
    /// Rows.
    pub height_px: u32,
    /// Red, green, blue, opacity of every pixel, row by row from the top: the first row is the farthest along.
    pub rgba: Vec<u8>,
    /// Size across and along the threads, mm.
    pub size_mm: [f64; 2],
    /// The tile's lower and left side as vectors of the cloth frame, mm: laid side by side along these, tiles
    /// cover the cloth. With skew they are not square to each other.
    pub sides: [Point; 2],
    /// Repeats across and along; 1 and 1 unless the weave needs more to come out even.
    pub repeats: [u32; 2],
}

/// The woven look of `cloth` as a tile, about `px_per_mm` fine (coarser where that would pass [`MOST_PIXELS`]).
///
/// A direction in which nothing repeats shows a few whole units of the weave. Where the repeat is no whole
/// number of those, the tile holds two or four repeats, unless threads are too fine to be seen at all.
pub fn tile(cloth: &Cloth, px_per_mm: f64) -> Tile {
    let wanted = if px_per_mm.is_finite() { px_per_mm.clamp(0.01, 100.0) } else { 1.0 };
    let near = Look::new(cloth, 0.0);
    let cell = cell_mm(&near, cloth.weave);
    let even = [0, 1].map(|k| repeats_to_come_out_even(&near, cloth.weave, k));
    let finest = |repeats: [u32; 2]| {
        let area = cell[0] * f64::from(repeats[0]) * cell[1] * f64::from(repeats[1]);
        wanted.min((MOST_PIXELS as f64 / area).sqrt())
    };
    let threads_seen = near.photo.is_none() && Look::new(cloth, 1.0 / finest(even)).crossing > 0.0;
    let repeats = if threads_seen { even } else { [1, 1] };
    let fineness = finest(repeats);
    let size_mm = [0, 1].map(|k| cell[k] * f64::from(repeats[k]));
    let [width_px, height_px] = size_mm.map(|s| (s * fineness).floor().clamp(1.0, 20_000.0) as u32);
    let pixel = pt(size_mm[0] / f64::from(width_px), size_mm[1] / f64::from(height_px));
    let mut look = Look::new(cloth, pixel.x.max(pixel.y));
    if !threads_seen {
        look.crossing = 0.0;
    }
    let mut rgba = Vec::with_capacity(4 * width_px as usize * height_px as usize);
    for row in (0..height_px).rev() {
        for column in 0..width_px {
            let at = pt((f64::from(column) + 0.5) * pixel.x, (f64::from(row) + 0.5) * pixel.y);
            let [r, g, b] = super::yarns::encode(look.light(at));
            rgba.extend([r, g, b, 255]);
        }
    }
    let sides = [pt(size_mm[0], size_mm[0] * look.climb), pt(0.0, size_mm[1])];
    Tile { width_px, height_px, rgba, size_mm, sides, repeats }
}

/// Size of one repeat, or of some units of the weave where nothing repeats, mm.
fn cell_mm(look: &Look, weave: Weave) -> [f64; 2] {
    let felt = look.felt.repeat_mm();
    [(&look.across, felt[0]), (&look.along, felt[1])].map(|(direction, felt_mm)| match direction.repeat_mm {
        Some(repeat) => repeat,
        None if weave == Weave::Felt => felt_mm,
        None => FREE_THREADS * direction.thread_mm,
    })
}

fn repeats_to_come_out_even(look: &Look, weave: Weave, index: usize) -> u32 {
    let direction = if index == 0 { &look.across } else { &look.along };
    let Some(repeat) = direction.repeat_mm else { return 1 };
    let threads = (repeat / direction.thread_mm).round() as usize;
    let unit = weave::unit(weave);
    (1..=unit).find(|k| (threads * k).is_multiple_of(unit)).unwrap_or(1) as u32
}
