//! Kerf: from the cut edges to the lines the beam's centre must follow.

use rayon::prelude::*;

use super::Contour;
use super::corners::{run_into, uncut_length};
use crate::say::Note;
use crate::shape::{Join, Region, Ring, offset};

/// How often the beam is let into what it still misses: a slit between two corners may need it from both.
const CORNER_ROUNDS: usize = 3;

/// Less lost edge than this is not worth a word, mm.
const WORTH_SAYING_MM: f64 = 0.5;

/// The contours of all pieces, and the edges no beam of this width can follow.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Kerfed {
    /// By piece, outline first. One ring of a piece may give several contours: a cut-out with a waist thinner than
    /// the kerf falls into parts, and an outline whose inlet has too narrow a mouth keeps the pocket behind it as a
    /// contour of ring 0 that runs clockwise.
    pub contours: Vec<Contour>,
    /// Edges that stay uncut.
    pub lost: Vec<LostEdge>,
}

/// Edge that stays uncut because the gap along it is narrower than the kerf.
#[derive(Clone, Debug, PartialEq)]
pub struct LostEdge {
    /// Piece, by index into the placed pieces.
    pub placed: usize,
    /// Ring of the piece, 0 for its outline.
    pub ring: usize,
    /// How much edge, mm.
    pub length_mm: f64,
    /// True when the ring vanished whole.
    pub whole: bool,
}

impl LostEdge {
    /// The same in words; `name` is what the piece is called.
    pub fn note(&self, name: &str) -> Note {
        let text = match (self.whole, self.ring) {
            (true, k) => {
                format!("Cut-out {k} is narrower than the kerf and is not cut; widen it or take it out.")
            }
            (false, 0) => format!(
                "{:.0} mm of the outline lie along a gap narrower than the kerf and are not cut; widen the gap.",
                self.length_mm
            ),
            (false, k) => format!(
                "{:.0} mm of cut-out {k} lie along a gap narrower than the kerf and are not cut; widen the gap.",
                self.length_mm
            ),
        };
        Note::caution(format!("piece {name}"), text)
    }
}

/// The lines the beam's centre must follow so that the pieces come out as `cuts` (kerf not in): outlines moved out
/// by half of `kerf_mm`, cut-outs moved in by it, corners round. Corners too sharp for the beam are run into and back.
///
/// `kerf_mm` is the full width of cloth the beam removes; a width that is not a positive number counts as 0.
/// Outlines run counter-clockwise, cut-outs clockwise. An edge in a gap narrower than the kerf is listed as lost.
pub fn contours(cuts: &[Region], kerf_mm: f64) -> Kerfed {
    let half = if kerf_mm.is_finite() && kerf_mm > 0.0 { kerf_mm / 2.0 } else { 0.0 };
    let of_each: Vec<Kerfed> =
        cuts.par_iter().enumerate().map(|(placed, cut)| of_piece(placed, cut, half)).collect();
    let mut all = Kerfed::default();
    for mut one in of_each {
        all.contours.append(&mut one.contours);
        all.lost.append(&mut one.lost);
    }
    all
}

fn of_piece(placed: usize, cut: &Region, half: f64) -> Kerfed {
    let mut all = Kerfed::default();
    for (ring, edge) in cut.rings().enumerate() {
        let mut paths = beam_lines(edge, ring == 0, half);
        if half > 0.0 {
            let mut length_mm = uncut_length(edge, &paths, half);
            for _ in 0..CORNER_ROUNDS {
                if length_mm > 0.0 {
                    run_into(edge, &mut paths, half);
                    length_mm = uncut_length(edge, &paths, half);
                }
            }
            if length_mm > WORTH_SAYING_MM || paths.is_empty() {
                all.lost.push(LostEdge { placed, ring, length_mm, whole: paths.is_empty() });
            }
        }
        all.contours.extend(paths.into_iter().map(|path| Contour { placed, ring, path }));
    }
    all
}

fn beam_lines(edge: &Ring, outline: bool, half: f64) -> Vec<Ring> {
    if half == 0.0 {
        return vec![edge.clone().oriented(outline)];
    }
    let filled = Region::new(edge.clone(), Vec::new());
    let moved = offset(&[filled], if outline { half } else { -half }, Join::Round);
    let mut lines: Vec<Ring> = Vec::new();
    for part in moved {
        lines.extend(part.cutouts.into_iter().map(|pocket| pocket.oriented(!outline)));
        lines.push(part.outline.oriented(outline));
    }
    // The outline itself first, then what it encloses; parts of a cut-out from the largest down.
    lines.sort_by(|p, q| q.signed_area().abs().total_cmp(&p.signed_area().abs()));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::burn::BurnKind;
    use crate::shape::{Bounds, pt};
    use std::f64::consts::PI;

    fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
    }

    fn with_holes(outer: Region, holes: Vec<Region>) -> Region {
        Region::new(outer.outline, holes.into_iter().map(|h| h.outline).collect())
    }

    /// Steiner's formula for a convex body grown by d: perimeter P + 2·π·d, area A + P·d + π·d² (Steiner 1840;
    /// Schneider, Convex Bodies, section 4.2). A square hole shrunk by d keeps its corners: side less 2·d.
    #[test]
    fn contours_follow_steiners_formula() {
        for kerf in [0.1, 0.2, 0.5] {
            let d = kerf / 2.0;
            let all =
                contours(&[with_holes(rect(0.0, 0.0, 80.0, 50.0), vec![rect(20.0, 20.0, 10.0, 10.0)])], kerf);
            assert!(all.lost.is_empty());
            let [outer, hole] = &all.contours[..] else { panic!("two contours, got {}", all.contours.len()) };
            assert_eq!(
                (outer.ring, outer.kind(), hole.ring, hole.kind()),
                (0, BurnKind::Outline, 1, BurnKind::Cutout)
            );
            assert!((outer.path.length() - (260.0 + 2.0 * PI * d)).abs() < 0.02);
            assert!((outer.path.signed_area() - (4000.0 + 260.0 * d + PI * d * d)).abs() < 0.02);
            assert!((hole.path.signed_area() + (10.0 - kerf) * (10.0 - kerf)).abs() < 1e-4);
        }
    }

    #[test]
    fn no_kerf_leaves_the_edges_as_they_are() {
        let piece = with_holes(rect(0.0, 0.0, 30.0, 20.0), vec![rect(5.0, 5.0, 2.0, 2.0)]);
        let all = contours(std::slice::from_ref(&piece), 0.0);
        assert_eq!(all.contours[0].path, piece.outline);
        assert_eq!(all.contours[1].path, piece.cutouts[0]);
        assert_eq!(contours(&[piece], f64::NAN).contours.len(), 2);
    }

    #[test]
    fn a_slit_thinner_than_the_kerf_vanishes_and_is_said() {
        let slit = rect(10.0, 10.0, 20.0, 0.3);
        let all = contours(&[with_holes(rect(0.0, 0.0, 40.0, 40.0), vec![slit])], 0.4);
        assert_eq!(all.contours.len(), 1);
        assert_eq!((all.lost[0].ring, all.lost[0].whole), (1, true));
        assert!(all.lost[0].note("leaf").text.contains("narrower than the kerf"));
    }

    #[test]
    fn a_cut_out_with_a_thin_waist_falls_into_two_contours_of_one_ring() {
        let dumb_bell = [
            [5.0, 5.0],
            [15.0, 5.0],
            [15.0, 9.9],
            [25.0, 9.9],
            [25.0, 5.0],
            [35.0, 5.0],
            [35.0, 15.0],
            [25.0, 15.0],
            [25.0, 10.1],
            [15.0, 10.1],
            [15.0, 15.0],
            [5.0, 15.0],
        ];
        let piece = Region::new(rect(0.0, 0.0, 40.0, 20.0).outline, vec![Ring::from_pairs(&dumb_bell)]);
        let all = contours(&[piece], 0.4);
        assert_eq!(all.contours.iter().map(|c| c.ring).collect::<Vec<_>>(), [0, 1, 1]);
        assert!(all.lost.is_empty(), "the beam runs into the waist from both sides");
    }

    #[test]
    fn a_pocket_behind_a_narrow_mouth_is_still_cut() {
        let flask = [
            [0.0, 0.0],
            [40.0, 0.0],
            [40.0, 40.0],
            [20.1, 40.0],
            [20.1, 30.0],
            [30.0, 30.0],
            [30.0, 10.0],
            [10.0, 10.0],
            [10.0, 30.0],
            [19.9, 30.0],
            [19.9, 40.0],
            [0.0, 40.0],
        ];
        let all = contours(&[Region::new(Ring::from_pairs(&flask), vec![])], 0.4);
        let kinds: Vec<_> = all.contours.iter().map(|c| (c.ring, c.kind())).collect();
        assert_eq!(kinds, [(0, BurnKind::Outline), (0, BurnKind::Cutout)]);
        assert!((all.contours[1].path.signed_area() + (20.0 - 0.4) * (20.0 - 0.4)).abs() < 0.1);
    }
}
