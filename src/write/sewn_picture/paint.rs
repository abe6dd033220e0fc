//! The work as pixels. Every pixel of a piece is asked for the colour of the cloth at the point that is sewn there: no
//! tile, no resampling, so that the picture shows what the lay has, pixel for pixel.

use rayon::prelude::*;
use resvg::tiny_skia::{FillRule, Mask, PathBuilder, Pixmap, Transform};

use crate::cloth::look::Look;
use crate::say::Trouble;
use crate::sew::SewnPiece;
use crate::shape::{Bounds, Point, pt};

use super::super::lay_picture::weave::UNBLEACHED;
use super::super::xml::{El, picture};
use super::SewnPicture;

/// The picture as a PNG.
///
/// # Errors
/// It cannot be drawn; says why.
pub(in crate::write) fn rasterise(work: &SewnPicture) -> Result<Vec<u8>, Trouble> {
    super::super::png::encoded(&pixels(work)?.0).map_err(|e| broken(&e))
}

fn broken(reason: &str) -> Trouble {
    Trouble::cannot("sewn.png", format!("the picture cannot be drawn: {reason}"))
}

/// The picture as pixels, and how many a unit.
pub(super) fn pixels(work: &SewnPicture) -> Result<(Pixmap, f64), Trouble> {
    let sized = super::super::png::canvas(work.width, work.height);
    let (mut canvas, zoom) = sized.ok_or_else(|| broken("it has no size"))?;
    let draw = |canvas: &mut Pixmap, what: El| {
        let svg = picture(work.width, work.height, "").add(what).to_string();
        let tree =
            usvg::Tree::from_str(&svg, &usvg::Options::default()).map_err(|e| broken(&e.to_string()))?;
        resvg::render(&tree, Transform::from_scale(zoom as f32, zoom as f32), &mut canvas.as_mut());
        Ok(())
    };
    draw(&mut canvas, work.under.clone())?;
    let pixel_mm = 1.0 / (work.sheet.scale * zoom);
    let looks: Vec<Look> = work.cloths.iter().map(|c| Look::new(c, pixel_mm)).collect();
    for piece in &work.work.pieces {
        fill(&mut canvas, work, piece, piece.cloth.and_then(|c| looks.get(c)), zoom);
        draw(&mut canvas, work.border(piece, &work.edge(piece)))?;
    }
    draw(&mut canvas, work.over.clone())?;
    Ok((canvas, zoom))
}

/// The point of the drawing in the middle of a pixel.
pub(super) fn middle(work: &SewnPicture, column: u32, row: u32, zoom: f64) -> Point {
    super::drawn_at(&work.sheet, pt(f64::from(column) + 0.5, f64::from(row) + 0.5) / zoom)
}

/// Fills the drawn region of a piece, its rim blended by how much of a pixel it covers.
fn fill(canvas: &mut Pixmap, work: &SewnPicture, piece: &SewnPiece, look: Option<&Look>, zoom: f64) {
    let on_canvas = |p: Point| work.sheet.at(p) * zoom;
    let b = Bounds::of(piece.drawn.rings().flat_map(|r| r.points.iter().map(|p| on_canvas(*p))));
    let within = |v: f64, most: u32| v.clamp(0.0, f64::from(most)) as u32;
    let (left, top) = (within(b.min.x.floor(), canvas.width()), within(b.min.y.floor(), canvas.height()));
    let (right, bottom) = (within(b.max.x.ceil(), canvas.width()), within(b.max.y.ceil(), canvas.height()));
    let (width, height) = (right.saturating_sub(left), bottom.saturating_sub(top));
    let mut builder = PathBuilder::new();
    for ring in piece.drawn.rings() {
        for (i, p) in ring.points.iter().enumerate() {
            let q = on_canvas(*p) - pt(f64::from(left), f64::from(top));
            if i == 0 {
                builder.move_to(q.x as f32, q.y as f32)
            } else {
                builder.line_to(q.x as f32, q.y as f32)
            }
        }
        builder.close();
    }
    let (Some(path), Some(mut mask)) = (builder.finish(), Mask::new(width, height)) else { return };
    mask.fill_path(&path, FillRule::EvenOdd, true, Transform::identity());
    let covered = mask.data();
    let stride = 4 * canvas.width() as usize;
    let rows = canvas.data_mut().par_chunks_mut(stride).skip(top as usize).take(height as usize);
    rows.enumerate().for_each(|(row, pixels)| {
        for column in 0..width {
            let share = covered.get(row * width as usize + column as usize).copied().unwrap_or(0);
            if share == 0 {
                continue;
            }
            let at = middle(work, left + column, top + row as u32, zoom);
            let colour = look.map_or(UNBLEACHED, |look| look.colour(piece.pose.apply(at)));
            let from = 4 * (left + column) as usize;
            for (value, new) in pixels.iter_mut().skip(from).zip(colour) {
                let (old, new, share) = (u32::from(*value), u32::from(new), u32::from(share));
                *value = ((new * share + old * (255 - share) + 127) / 255) as u8;
            }
        }
    });
}
