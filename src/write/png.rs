//! The lay's picture as pixels.

use resvg::tiny_skia::{Color, ColorU8, Pixmap, Transform};

use crate::cloth::Cloth;
use crate::plan::Plan;
use crate::say::Trouble;

use super::lay_picture::{LayPicture, lay_picture};

/// Width of the picture, pixels.
const WIDTH_PX: f64 = 2000.0;

/// Most pixels in all; a picture of many cloths is made coarser rather than too large to open.
const MOST_PX: f64 = 24.0e6;

/// The lay as a PNG about 2000 pixels wide: the same picture as `lay.svg`.
///
/// # Errors
/// The picture cannot be drawn; says why.
pub fn lay_png(plan: &Plan, cloths: &[Cloth]) -> Result<Vec<u8>, Trouble> {
    rasterise(&lay_picture(plan, cloths))
}

/// A canvas of paper for a picture of the given size, and its pixels a unit.
pub(super) fn canvas(width: f64, height: f64) -> Option<(Pixmap, f64)> {
    let zoom = (WIDTH_PX / width).min((MOST_PX / (width * height)).sqrt());
    let mut canvas = Pixmap::new((width * zoom).round() as u32, (height * zoom).round() as u32)?;
    let [r, g, b] = super::lay_picture::pen::PAPER_RGB;
    canvas.fill(Color::from_rgba8(r, g, b, 255));
    Some((canvas, zoom))
}

/// A canvas as a PNG: quickly packed, as pictures are the longest part of a plan's files; without opacity where all is
/// opaque.
///
/// # Errors
/// In words, why it cannot be.
pub(super) fn encoded(canvas: &Pixmap) -> Result<Vec<u8>, String> {
    let opaque = canvas.pixels().iter().all(|p| p.alpha() == u8::MAX);
    let mut pixels = Vec::with_capacity(canvas.data().len());
    for c in canvas.pixels().iter().map(|p| p.demultiply()) {
        pixels.extend([c.red(), c.green(), c.blue()]);
        if !opaque {
            pixels.push(c.alpha());
        }
    }
    let mut packed = Vec::new();
    let mut encoder = png::Encoder::new(&mut packed, canvas.width(), canvas.height());
    encoder.set_color(if opaque { png::ColorType::Rgb } else { png::ColorType::Rgba });
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    // The keyword the format has for it (PNG, third edition, section 11.3.3.1).
    encoder.add_text_chunk("Software".into(), crate::PROGRAM.into()).map_err(|e| e.to_string())?;
    let mut writer = encoder.write_header().map_err(|e| e.to_string())?;
    writer.write_image_data(&pixels).map_err(|e| e.to_string())?;
    writer.finish().map_err(|e| e.to_string())?;
    Ok(packed)
}

/// Pixels, red, green, blue and opacity of each, row by row from the top, as a PNG.
///
/// # Errors
/// There are not as many as the size says.
pub fn png_of(width: u32, height: u32, rgba: &[u8]) -> Result<Vec<u8>, Trouble> {
    let broken = |what: &str| Trouble::cannot("a picture", what.to_owned());
    let mut canvas = Pixmap::new(width, height).ok_or_else(|| broken("it has no size"))?;
    if canvas.data().len() != rgba.len() {
        return Err(broken("its pixels do not fill its size"));
    }
    for (pixel, c) in canvas.pixels_mut().iter_mut().zip(rgba.chunks_exact(4)) {
        *pixel = ColorU8::from_rgba(c[0], c[1], c[2], c[3]).premultiply();
    }
    encoded(&canvas).map_err(|e| broken(&e))
}

pub(super) fn rasterise(picture: &LayPicture) -> Result<Vec<u8>, Trouble> {
    let broken = |e: String| Trouble::cannot("lay.png", format!("the picture cannot be drawn: {e}"));
    let (mut canvas, zoom) =
        canvas(picture.width, picture.height).ok_or_else(|| broken("it has no size".into()))?;
    for (outline, fill) in &picture.grounds {
        fill.paint(&mut canvas.as_mut(), outline, zoom);
    }
    let over = picture.svg_over();
    let tree = usvg::Tree::from_str(&over, &usvg::Options::default()).map_err(|e| broken(e.to_string()))?;
    resvg::render(&tree, Transform::from_scale(zoom as f32, zoom as f32), &mut canvas.as_mut());
    encoded(&canvas).map_err(broken)
}
