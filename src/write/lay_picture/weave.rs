//! The cloth's woven look as the fill of a shape.

use resvg::tiny_skia::{
    FillRule, FilterQuality, Paint, PathBuilder, Pattern, Pixmap, PixmapMut, SpreadMode, Transform,
};

use crate::cloth::Cloth;
use crate::cloth::look::{Tile, tile};
use crate::shape::{Point, Ring, pt};

use super::frame::Sheet;
use crate::write::base64::base64;
use crate::write::xml::{El, el};

/// Pixels a unit of the picture: the picture may be looked at twice as large before its threads blur.
const FINENESS: f64 = 2.0;

/// Colour of a cloth nothing is known of.
pub(in crate::write) const UNBLEACHED: [u8; 3] = [0xcf, 0xc4, 0xae];

/// What fills a cloth.
#[derive(Clone, Debug)]
pub(in crate::write) struct Fill {
    cloth: Option<Cloth>,
    scale: f64,
    /// The lattice's origin in the picture.
    origin: Point,
}

impl Fill {
    /// The look of `cloth` lying on `sheet`.
    pub fn of(cloth: Option<&Cloth>, sheet: &Sheet) -> Fill {
        let origin = cloth.and_then(|c| c.pattern.as_ref()).map_or(pt(0.0, 0.0), |p| p.lattice.origin);
        Fill { cloth: cloth.cloned(), scale: sheet.scale, origin: sheet.at(origin) }
    }

    /// The cloth's plain colour.
    pub fn colour(&self) -> String {
        crate::write::colours::hex(self.cloth.as_ref().map_or(UNBLEACHED, |c| c.colour))
    }

    /// The fill as a pattern element called `id`; `None` when nothing is known of the cloth.
    pub fn pattern(&self, id: &str) -> Option<El> {
        let tile = tile(self.cloth.as_ref()?, self.scale * FINENESS);
        let png = pixmap(&tile)?.encode_png().ok()?;
        let (width, height) = (f64::from(tile.width_px), f64::from(tile.height_px));
        let map = self.map(&tile).map(|v| format!("{v:.6}"));
        let image = el("image")
            .set("href", format!("data:image/png;base64,{}", base64(&png)))
            .num("width", width)
            .num("height", height)
            .set("preserveAspectRatio", "none");
        Some(
            el("pattern")
                .set("id", id)
                .set("patternUnits", "userSpaceOnUse")
                .num("width", width)
                .num("height", height)
                .set("patternTransform", format!("matrix({})", map.join(" ")))
                .add(image),
        )
    }

    /// Paints the closed line `outline` of the picture with the cloth, on a canvas `zoom` pixels a unit.
    pub fn paint(&self, canvas: &mut PixmapMut, outline: &Ring, zoom: f64) {
        let Some(path) = path(outline, zoom) else { return };
        let mut paint = Paint { anti_alias: true, ..Paint::default() };
        let looked = self.cloth.as_ref().map(|c| tile(c, self.scale * zoom));
        let pixels = looked.as_ref().and_then(pixmap);
        if let (Some(tile), Some(pixels)) = (&looked, &pixels) {
            let [a, b, c, d, e, f] = self.map(tile).map(|v| (v * zoom) as f32);
            let map = Transform::from_row(a, b, c, d, e, f);
            let pattern =
                Pattern::new(pixels.as_ref(), SpreadMode::Repeat, FilterQuality::Bilinear, 1.0, map);
            paint.shader = pattern;
            canvas.fill_path(&path, &paint, FillRule::EvenOdd, Transform::identity(), None);
        } else {
            let [r, g, b] = UNBLEACHED;
            paint.set_color_rgba8(r, g, b, 255);
            canvas.fill_path(&path, &paint, FillRule::EvenOdd, Transform::identity(), None);
        }
    }

    /// Tile pixels (y down from the tile's upper left corner) to the picture: the tile's lower left corner
    /// lies on the lattice's origin.
    fn map(&self, tile: &Tile) -> [f64; 6] {
        let [across, along] = tile.sides;
        let (w, h) = (f64::from(tile.width_px), f64::from(tile.height_px));
        let s = self.scale;
        // y points down in the picture, so a step along the warp goes up.
        let (ax, ay) = (across.x * s / w, -across.y * s / w);
        let (bx, by) = (-along.x * s / h, along.y * s / h);
        let upper_left = self.origin + pt(along.x * s, -along.y * s);
        [ax, ay, bx, by, upper_left.x, upper_left.y]
    }
}

pub(in crate::write) fn pixmap(tile: &Tile) -> Option<Pixmap> {
    let size = resvg::tiny_skia::IntSize::from_wh(tile.width_px, tile.height_px)?;
    // Every pixel is opaque, so colours need no multiplying by their opacity.
    Pixmap::from_vec(tile.rgba.clone(), size)
}

fn path(outline: &Ring, zoom: f64) -> Option<resvg::tiny_skia::Path> {
    let mut builder = PathBuilder::new();
    for (i, p) in outline.points.iter().enumerate() {
        let (x, y) = ((p.x * zoom) as f32, (p.y * zoom) as f32);
        if i == 0 { builder.move_to(x, y) } else { builder.line_to(x, y) }
    }
    builder.close();
    builder.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::Bounds;
    use crate::write::sample::sample_cloths;

    /// A pixel of the painted cloth shows the colour the cloth has at that point.
    #[test]
    fn the_pattern_lies_where_it_lies_on_the_cloth() {
        let cloth = &sample_cloths()[0];
        let lattice = cloth.pattern.clone().unwrap().lattice;
        let sheet = Sheet::fitting(Bounds::new(pt(0.0, 0.0), pt(400.0, 300.0)), 400.0, 300.0, 1.0)
            .at_corner(pt(7.0, 5.0));
        let mut canvas = Pixmap::new(420, 320).unwrap();
        let outline = sheet.ring(&Ring { points: sheet.cloth.corners().to_vec() });
        Fill::of(Some(cloth), &sheet).paint(&mut canvas.as_mut(), &outline, 1.0);
        // Two lattice points and a point between, a long way from the origin so that the skew counts.
        let mut seen = Vec::new();
        for shares in [pt(0.0, 0.0), pt(3.0, 1.0), pt(0.25, 0.25), pt(3.25, 2.25)] {
            let at = sheet.at(lattice.origin + lattice.vector(shares));
            let mut light = [0.0; 3];
            for (dx, dy) in [(0, 0), (1, 0), (0, 1), (-1, 0), (0, -1)] {
                let p = canvas.pixel((at.x as i32 + dx) as u32, (at.y as i32 + dy) as u32).unwrap();
                for (sum, v) in light.iter_mut().zip([p.red(), p.green(), p.blue()]) {
                    *sum += f64::from(v) / 5.0;
                }
            }
            seen.push(light);
        }
        let apart =
            |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).map(|(x, y)| (x - y).abs()).fold(0.0, f64::max);
        assert!(apart(seen[0], seen[1]) < 26.0 && apart(seen[2], seen[3]) < 26.0, "{seen:?}");
        assert!(apart(seen[0], seen[2]) > 30.0, "{seen:?}");
    }
}
