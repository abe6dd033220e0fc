//! From the length of a lay to the length to buy.

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{ClothSpec, Match};
use crate::lay::ClothLay;
use crate::shape::Lattice;

/// Length lost to cutting the ends straight when the job says nothing, mm: the lower end of the published 20 to 40 mm
/// ("Types of fabric losses", stitchdiary.com), for a single ply.
pub const CUTTING_ALLOWANCE_MM: f64 = 20.0;

/// Lengths to buy are rounded up to this, mm.
const STEP_MM: f64 = 10.0;

/// What a length to buy is made up of, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Need {
    /// The lay.
    pub laid_mm: f64,
    /// To find the place in the repeat where the lay begins, wherever the shop cut last.
    pub start_mm: f64,
    /// Lost to the slant of a weft line: the ends are cut along it, the lay is square.
    pub skew_mm: f64,
    /// Lost to cutting the ends straight.
    pub cutting_mm: f64,
    /// What the cloth shrinks before it is cut.
    pub shrinkage_mm: f64,
    /// All of it, rounded up to whole centimetres.
    pub buy_mm: f64,
}

/// The length to buy for a lay of `laid_mm` on `width_mm` of the cloth `spec`. `bound`: the lay, measured from where its
/// first piece begins, must begin at a certain place of the repeat along, so up to one repeat more is needed for where the bolt was last cut ("Figuring Pattern
/// Repeats": "add one repeat"; upholsteryresource.com node 173: half to one). Cloth that shrinks by s must be longer by
/// 1 / (1 − s) (arithmetic; TRADE check value: 1000 mm after 2 % are 1020.4 mm).
pub fn need(laid_mm: f64, width_mm: f64, spec: &ClothSpec, lattice: Option<Lattice>, bound: bool) -> Need {
    let along = lattice.and_then(|l| l.b).map_or(0.0, |b| (b.x * b.x + b.y * b.y).sqrt());
    let start_mm = if bound { along } else { 0.0 };
    let skew = spec.pattern.as_ref().map_or(0.0, |p| p.skew_mm_per_m);
    let skew_mm = skew.abs() * width_mm / 1000.0;
    let cutting_mm = spec.cutting_allowance_mm.unwrap_or(CUTTING_ALLOWANCE_MM);
    let sound = laid_mm + start_mm + skew_mm + cutting_mm;
    let whole = sound / (1.0 - spec.shrinkage_percent / 100.0);
    // A hair over a centimetre through rounding alone is that centimetre.
    let buy_mm = (whole / STEP_MM - 1e-9).ceil() * STEP_MM;
    Need { laid_mm, start_mm, skew_mm, cutting_mm, shrinkage_mm: whole - sound, buy_mm }
}

/// The length to buy for a lay as it stands, on the whole width of its cloth. Its panel is cut from the bolt at one place
/// of the repeat along as soon as a piece follows the pattern, so the start of the repeat is counted.
pub fn need_of_lay(pieces: &[Piece], cloth: &Cloth, spec: &ClothSpec, on: &ClothLay) -> Need {
    let lattice = cloth.pattern.as_ref().map(|p| p.lattice);
    let bound = on.placed.iter().any(|p| pieces.get(p.piece).is_some_and(|p| p.matching != Match::Free));
    need(on.used_length_mm, cloth.width_mm(), spec, lattice, bound)
}
