//! The work as sewn: the drawing with every piece in the very cloth it is cut from, border stitching over the edges,
//! pieces stacked as drawn.
//!
//! In: a plan and its cloths. Out: an SVG that needs no font and no other file, and the same as pixels. Makes no
//! decisions.

mod fabric;
mod labels;
mod overlay;
mod paint;
mod stitching;

pub(super) use paint::rasterise;

use crate::cloth::Cloth;
use crate::cloth::look::Tile;
use crate::job::Job;
use crate::plan::{Plan, PlanPiece};
use crate::say::Trouble;
use crate::sew::{SewnPiece, Work};
use crate::shape::{Bounds, Point, Pose, Region, Ring, pt, tol};

use super::lay_picture::{Sheet, legend::scale_bar, pen};
use super::xml::{El, el, picture};

/// Room round everything.
const PAD: f64 = 56.0;
/// Narrowest picture: its title needs as much.
const NARROWEST: f64 = 1000.0;
/// Widest and highest the drawing is shown, and its largest scale, units per mm.
const WIDEST: f64 = 1800.0;
const HIGHEST: f64 = 1700.0;
const LARGEST_SCALE: f64 = 4.0;
/// Height of the title block.
const TITLE: f64 = 116.0;

/// From this score on a pattern that does not run through is nearly in step.
pub(super) const NEARLY: f64 = 0.8;

/// A picture of the work as sewn.
#[derive(Debug)]
pub(super) struct SewnPicture<'a> {
    /// Its width, in units that are pixels at its own size.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// Where the drawing lies in it.
    sheet: Sheet,
    /// Width of the border stitching, units.
    border: f64,
    work: Work,
    cloths: &'a [Cloth],
    under: El,
    over: El,
}

/// The work as sewn as one SVG.
pub fn sewn_svg(job: &Job, plan: &Plan, cloths: &[Cloth]) -> String {
    sewn_picture(job, plan, cloths).svg()
}

/// The work as sewn as a PNG about 2000 pixels wide, every pixel the colour of the cloth that is sewn there.
///
/// # Errors
/// The picture cannot be drawn; says why.
pub fn sewn_png(job: &Job, plan: &Plan, cloths: &[Cloth]) -> Result<Vec<u8>, Trouble> {
    rasterise(&sewn_picture(job, plan, cloths))
}

/// The work, drawn. Where pieces have several copies, the first of each is shown.
pub(super) fn sewn_picture<'a>(job: &Job, plan: &Plan, cloths: &'a [Cloth]) -> SewnPicture<'a> {
    let shown: Vec<(usize, &PlanPiece)> =
        plan.pieces.iter().enumerate().filter(|(_, p)| p.copy == 1).collect();
    let border_mm = job.cutter.border_mm;
    let work = Work::new(shown.iter().map(|(i, p)| sewn(*i, p, cloths)).collect());
    let area = area(plan, &work, border_mm);
    let sheet = Sheet::fitting(area, WIDEST, HIGHEST, LARGEST_SCALE);
    let width = (sheet.width() + 2.0 * PAD).max(NARROWEST).ceil();
    let sheet = sheet.at_corner(pt((width - sheet.width()) / 2.0, PAD + TITLE));
    let below = sheet.corner.y + sheet.height() + 34.0;
    let pieces: Vec<&PlanPiece> = shown.iter().map(|(_, p)| *p).collect();
    let (legend, legend_height) = overlay::legend(plan, &pieces, pt(PAD, below), width - 2.0 * PAD - 260.0);
    let over = el("g")
        .set("id", "sewn-signs")
        .add(labels::slender(&sheet, &work, &pieces, &overlay::break_spots(&sheet, plan)))
        .add(overlay::breaks(&sheet, plan))
        .add(legend)
        .add(scale_bar(&sheet, pt(width - PAD, below + 26.0)));
    SewnPicture {
        width,
        height: (below + legend_height + PAD * 0.7).ceil(),
        border: border_mm * sheet.scale,
        under: el("g")
            .set("id", "sewn-page")
            .add(overlay::title(plan, pt(PAD, PAD), width - 2.0 * PAD))
            .add(overlay::page(&sheet, plan.page_mm)),
        sheet,
        work,
        cloths,
        over,
    }
}

/// The point of the drawing that is shown at `p` of the picture.
fn drawn_at(sheet: &Sheet, p: Point) -> Point {
    pt(
        sheet.cloth.min.x + (p.x - sheet.corner.x) / sheet.scale,
        sheet.cloth.max.y - (p.y - sheet.corner.y) / sheet.scale,
    )
}

/// The page and whatever of the pieces lies beyond it; a millimetre about the origin when there is neither.
fn area(plan: &Plan, work: &Work, border_mm: f64) -> Bounds {
    let page = Bounds::new(pt(0.0, 0.0), pt(plan.page_mm[0], plan.page_mm[1]));
    let pieces = work.pieces.iter().map(|p| p.drawn.bounds().grown(border_mm));
    let sane = |b: &Bounds| {
        !b.is_empty() && [b.min.x, b.min.y, b.max.x, b.max.y].iter().all(|v| v.abs() <= tol::FARTHEST_MM)
    };
    let all = std::iter::once(page).chain(pieces).filter(sane).fold(Bounds::EMPTY, Bounds::union);
    if all.width() > 0.0 && all.height() > 0.0 { all } else { Bounds::new(pt(0.0, 0.0), pt(1.0, 1.0)) }
}

fn sewn(index: usize, piece: &PlanPiece, cloths: &[Cloth]) -> SewnPiece {
    let ring = |pairs: &Vec<crate::plan::Pair>| Ring::from_pairs(pairs);
    SewnPiece {
        drawn: Region {
            outline: ring(&piece.drawn.outline),
            cutouts: piece.drawn.cutouts.iter().map(ring).collect(),
        },
        pose: Pose { turn_deg: piece.turn_deg, shift: pt(piece.shift[0], piece.shift[1]) },
        cloth: cloths.iter().position(|c| c.name == piece.cloth),
        order: piece.order,
        index,
    }
}

impl SewnPicture<'_> {
    /// The whole picture as SVG.
    pub fn svg(&self) -> String {
        let mut defs = el("defs");
        let used = |c: usize| self.work.pieces.iter().any(|p| p.cloth == Some(c));
        let tiles: Vec<Option<(&Cloth, Tile)>> = self
            .cloths
            .iter()
            .enumerate()
            .map(|(c, cloth)| used(c).then(|| (cloth, fabric::tile_of(cloth, &self.sheet))))
            .collect();
        for (c, tile) in tiles.iter().enumerate() {
            defs = defs.add_all(tile.as_ref().and_then(|(_, tile)| fabric::woven(c, tile)));
        }
        let mut stack = el("g").set("id", "sewn-work");
        for (n, piece) in self.work.pieces.iter().enumerate() {
            let laid = piece.cloth.and_then(|c| {
                let (cloth, tile) = tiles.get(c)?.as_ref()?;
                fabric::laid(n, c, (cloth, tile), &self.sheet, &piece.pose)
            });
            let paint = match laid {
                Some(pattern) => {
                    defs = defs.add(pattern);
                    format!("url(#{})", fabric::laid_id(n))
                }
                None => super::colours::hex(super::lay_picture::weave::UNBLEACHED),
            };
            let edge = self.edge(piece);
            stack = stack
                .add(el("path").set("d", edge.clone()).set("fill", paint).set("fill-rule", "evenodd"))
                .add(self.border(piece, &edge));
        }
        let paper = pen::rectangle(pt(0.0, 0.0), self.width, self.height).set("fill", pen::PAPER);
        let page = picture(self.width, self.height, "").add(defs).add(paper).add(self.under.clone());
        format!("{}\n", page.add(stack).add(self.over.clone()))
    }

    /// The drawn edges of a piece as path data.
    fn edge(&self, piece: &SewnPiece) -> String {
        let rings: Vec<Ring> = piece.drawn.rings().map(|r| self.sheet.ring(r)).collect();
        pen::rings_data(&rings)
    }

    /// The border stitching of a piece along `edge`.
    fn border(&self, piece: &SewnPiece, edge: &str) -> El {
        let thread = stitching::thread_for(piece.cloth.and_then(|c| self.cloths.get(c)));
        stitching::satin(edge, self.border, self.sheet.scale, thread)
    }
}

#[cfg(test)]
mod tests;
