//! A drawing's painted regions, sampled: no geometry of the crate but its points is used.

use settlay::drawing::Drawing;
use settlay::shape::Region;

/// Samples across a page.
pub const TILE: usize = 359;

/// Numbers of colours, row by row from the top.
pub type Tile = Vec<u8>;

/// Samples a colour may be off whatever its size: 1.3 mm², corners of thin strips.
const SLACK: usize = 12;

/// Share of a sample, 0.02 mm: nearer to an edge a renderer's own grid decides on which side a middle lies.
const EDGE: f64 = 0.06;

/// A square page's elements painted one over another.
pub fn painted(drawing: &Drawing) -> Tile {
    painted_off(drawing, [0.0, 0.0])
}

/// Likeness of what was read to what another renderer drew; samples on an edge count for either side.
pub fn alike(drawing: &Drawing, drawn: &[u8]) -> f64 {
    let own = painted(drawing);
    let off = [[EDGE, 0.0], [-EDGE, 0.0], [0.0, EDGE], [0.0, -EDGE]].map(|by| painted_off(drawing, by));
    let either = |k: usize| if off.iter().any(|tile| tile[k] == drawn[k]) { drawn[k] } else { own[k] };
    let either: Tile = (0..own.len()).map(either).collect();
    likeness(&either, drawn)
}

/// The same, sampled off the middles by shares of a sample to the right and down.
fn painted_off(drawing: &Drawing, off: [f64; 2]) -> Tile {
    let mut tile = vec![0; TILE * TILE];
    for e in &drawing.elements {
        // A pattern has no colour of its own here; the table's one is red.
        fill(&mut tile, drawing.page_mm[0], off, &e.filled, e.fill.as_deref().unwrap_or("#ff0000"));
        fill(&mut tile, drawing.page_mm[0], off, &e.band, e.stroke.as_deref().unwrap_or("#ff0000"));
    }
    tile
}

/// Fills by the even-odd rule: crossings of every row of middles, from left to right.
fn fill(tile: &mut [u8], page: f64, [right, down]: [f64; 2], regions: &[Region], colour: &str) {
    let colours = ["#ffffff", "#ff0000", "#0000ff", "#00aa00"];
    let number = colours.iter().position(|c| *c == colour).map_or_else(|| panic!("{colour}"), |n| n as u8);
    let mm = page / TILE as f64;
    for (row, samples) in tile.chunks_mut(TILE).enumerate() {
        let y = page - (row as f64 + 0.5 + down) * mm;
        let mut crossings: Vec<f64> = Vec::new();
        for ring in regions.iter().flat_map(Region::rings) {
            for (k, a) in ring.points.iter().enumerate() {
                let b = ring.points[(k + 1) % ring.points.len()];
                if (a.y > y) != (b.y > y) {
                    crossings.push(a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x));
                }
            }
        }
        for (column, sample) in samples.iter_mut().enumerate() {
            let x = (column as f64 + 0.5 + right) * mm;
            if crossings.iter().filter(|c| **c < x).count() % 2 == 1 {
                *sample = number;
            }
        }
    }
}

/// Painted alike over painted in either; 0 where one colour is off by more than a hundredth and [`SLACK`].
pub fn likeness(a: &[u8], b: &[u8]) -> f64 {
    let count = |of: &dyn Fn(u8, u8) -> bool| a.iter().zip(b).filter(|(a, b)| of(**a, **b)).count();
    for n in 1..4 {
        let off = count(&|a, b| (a == n) != (b == n));
        let either = count(&|a, b| a == n || b == n);
        if off > SLACK && off as f64 > 0.01 * either as f64 {
            return 0.0;
        }
    }
    match count(&|a, b| a > 0 || b > 0) {
        0 => 1.0,
        either => count(&|a, b| a == b && a > 0) as f64 / either as f64,
    }
}
