//! The cloth of a piece as a fill of the SVG: one woven tile a cloth, laid anew for every piece by its pose.

use crate::cloth::Cloth;
use crate::cloth::look::{Tile, tile};
use crate::shape::{Affine, Pose, pt};

use super::super::base64::base64;
use super::super::lay_picture::{Sheet, weave::pixmap};
use super::super::xml::{El, el};

/// Pixels of a tile a unit of the picture.
const FINENESS: f64 = 1.5;

/// The id of the tile of cloth `c`.
fn woven_id(c: usize) -> String {
    format!("sewn-cloth-{}", c + 1)
}

/// The id of the fill of the piece at place `n` of the stack.
pub(super) fn laid_id(n: usize) -> String {
    format!("sewn-piece-{}", n + 1)
}

/// The tile of a cloth as shown in the SVG.
pub(super) fn tile_of(cloth: &Cloth, sheet: &Sheet) -> Tile {
    tile(cloth, sheet.scale * FINENESS)
}

/// The woven tile of cloth `c` as a pattern, laid nowhere yet; `None` when it cannot be made.
pub(super) fn woven(c: usize, tile: &Tile) -> Option<El> {
    let png = pixmap(tile)?.encode_png().ok()?;
    let (width, height) = (f64::from(tile.width_px), f64::from(tile.height_px));
    let image = el("image")
        .set("href", format!("data:image/png;base64,{}", base64(&png)))
        .num("width", width)
        .num("height", height)
        .set("preserveAspectRatio", "none");
    let pattern = el("pattern").set("id", woven_id(c)).set("patternUnits", "userSpaceOnUse");
    Some(pattern.num("width", width).num("height", height).add(image))
}

/// The tile of cloth `c` laid for a piece: where `pose` puts the drawing on the cloth, the cloth lies in the drawing.
pub(super) fn laid(
    n: usize,
    c: usize,
    (cloth, tile): (&Cloth, &Tile),
    sheet: &Sheet,
    pose: &Pose,
) -> Option<El> {
    let map = map(tile, cloth, sheet, pose)?.0.map(|v| format!("{v:.7}"));
    Some(
        el("pattern")
            .set("id", laid_id(n))
            .set("href", format!("#{}", woven_id(c)))
            .set("patternTransform", format!("matrix({})", map.join(" "))),
    )
}

/// Tile pixels (y down from the tile's upper left corner) to the picture.
pub(super) fn map(tile: &Tile, cloth: &Cloth, sheet: &Sheet, pose: &Pose) -> Option<Affine> {
    let origin = cloth.pattern.as_ref().map_or(pt(0.0, 0.0), |p| p.lattice.origin);
    let [across, along] = tile.sides;
    let (w, h) = (f64::from(tile.width_px), f64::from(tile.height_px));
    let corner = origin + along;
    let on_cloth = Affine([across.x / w, across.y / w, -along.x / h, -along.y / h, corner.x, corner.y]);
    let (s, low) = (sheet.scale, pt(sheet.cloth.min.x, sheet.cloth.max.y));
    let shown = Affine([s, 0.0, 0.0, -s, sheet.corner.x - low.x * s, sheet.corner.y + low.y * s]);
    Some(shown.after(&pose.affine().inverse()?).after(&on_cloth))
}
