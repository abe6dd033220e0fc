//! Small drawings against what other renderers draw of them: librsvg and Chromium, which share no code with
//! the SVG reading library of this crate.
//!
//! `rendered.png` is one sheet of tiles, a tile a drawing in the order of `table.rs`, row by row; a pixel is the colour
//! at the middle of a square of a third of a millimetre. `rendered.txt` names the renderers and their versions, and the
//! drawings which librsvg draws otherwise than SVG 2 and its modules say: there the tile is Chromium's. `.ci/audit_drawings.py`
//! records both and compares afresh.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

mod raster;
mod table;

use std::path::Path;

use raster::{TILE, Tile, alike, likeness, painted};
use settlay::drawing::{Drawing, ReadOptions, parse};

/// Least intersection over union.
const BAR: f64 = 0.99;

const COLUMNS: usize = 20;

fn read(svg: &str) -> Drawing {
    parse(svg.as_bytes(), "small.svg", &ReadOptions::default()).unwrap()
}

/// The recorded sheet, a number of a colour each pixel.
fn sheet() -> (Vec<u8>, usize) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/drawings/rendered.png");
    let file = std::io::BufReader::new(std::fs::File::open(path).unwrap());
    let mut reader = png::Decoder::new(file).read_info().unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut bytes).unwrap();
    assert_eq!((info.color_type, info.bit_depth), (png::ColorType::Indexed, png::BitDepth::Two));
    let width = info.width as usize;
    let pixels = bytes
        .chunks(info.line_size)
        .take(info.height as usize)
        .flat_map(|row| (0..width).map(move |x| row[x / 4] >> (6 - 2 * (x % 4)) & 3))
        .collect();
    (pixels, width)
}

#[test]
fn every_small_drawing_is_read_as_other_renderers_draw_it() {
    let (pixels, width) = sheet();
    let mut compared = 0;
    let mut off = Vec::new();
    let mut worst = 1.0f64;
    for (k, small) in table::all().iter().enumerate() {
        if small.told.is_some() {
            continue;
        }
        let (x, y) = (k % COLUMNS * TILE, k / COLUMNS * TILE);
        let tile: Tile =
            (0..TILE).flat_map(|row| &pixels[(y + row) * width + x..][..TILE]).copied().collect();
        let alike = alike(&read(&small.svg), &tile);
        worst = worst.min(alike);
        if alike < BAR {
            off.push(format!("{alike:.4} {}", small.name));
        }
        // Of a few a clip path leaves nothing; that is seen as well, but is no comparison of shapes.
        compared += usize::from(tile.iter().any(|c| *c > 0));
    }
    println!("{compared} drawings compared, the least alike {worst:.4}");
    assert!(compared >= 400, "{compared}");
    assert!(off.is_empty(), "{off:#?}");
}

/// A drawing that is moved is not taken for itself: the measure can fail.
#[test]
fn a_drawing_off_by_a_millimetre_is_not_alike() {
    let at = |x: f64| {
        painted(&read(&format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='120mm' height='120mm' viewBox='0 0 120 120'>\
             <path transform='translate({x} 0)' fill='#ff0000' d='M20 20H70V90H20Z'/></svg>"
        )))
    };
    assert!(likeness(&at(0.0), &at(0.05)) >= BAR);
    assert!(likeness(&at(0.0), &at(1.0)) < BAR);
}

#[test]
fn what_is_not_followed_is_told() {
    let told: Vec<_> = table::all().into_iter().filter(|s| s.told.is_some()).collect();
    assert!(told.len() >= 8);
    for small in told {
        let words = small.told.unwrap();
        let drawing = read(&small.svg);
        assert!(
            drawing.notes.iter().any(|n| n.text.contains(words) && n.level == settlay::say::Level::Caution),
            "{}: \"{words}\" is not in {:#?}",
            small.name,
            drawing.notes
        );
    }
}
