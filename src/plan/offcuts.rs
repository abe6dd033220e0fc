//! What of a cloth is left over and worth keeping.

use crate::cloth::Cloth;
use crate::lay::ClothLay;
use crate::shape::{Join, Region, Ring, offset};

use super::run::outline_used;

/// An offcut is at least this wide everywhere, mm: less is not worth laying anything on. Common practice,
/// no source.
pub const LEAST_WIDTH_MM: f64 = 100.0;

/// An offcut has at least this area, mm². Common practice, no source.
pub const LEAST_AREA_MM2: f64 = 40_000.0;

/// Leftovers of `cloth` worth keeping, the largest first: at least `LEAST_WIDTH_MM` wide and clear of every
/// cut by `clear_mm`, and of the flaws.
pub fn leftovers(cloth: &Cloth, on: &ClothLay, clear_mm: f64) -> Vec<Region> {
    let left = clear_of_cuts(cloth, on, clear_mm);
    let core = offset(&left, -LEAST_WIDTH_MM / 2.0, Join::Round);
    let mut kept: Vec<Region> = offset(&core, LEAST_WIDTH_MM / 2.0, Join::Round)
        .into_iter()
        .map(|r| Region::new(r.outline, Vec::new()))
        .filter(|r| r.area() >= LEAST_AREA_MM2)
        .collect();
    kept.sort_by(|a, b| b.area().total_cmp(&a.area()).then(a.bounds().min.y.total_cmp(&b.bounds().min.y)));
    kept
}

/// Everything of `cloth` that is clear of every cut by `clear_mm`, and of the flaws.
pub fn clear_of_cuts(cloth: &Cloth, on: &ClothLay, clear_mm: f64) -> Vec<Region> {
    let whole = Region::new(outline_used(cloth, on.used_length_mm), Vec::new());
    let mut gone: Vec<Region> = on
        .placed
        .iter()
        // A cut-out's scrap falls out with the piece: only what lies outside the outline stays in the cloth.
        .map(|p| Region::new(p.cut.outline.clone(), Vec::new()))
        .flat_map(|r| offset(&[r], clear_mm, Join::Round))
        .collect();
    gone.extend(cloth.flaws.iter().map(|f: &Ring| Region::new(f.clone(), Vec::new())));
    whole.minus(&gone)
}
