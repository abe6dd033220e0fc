//! Windows moved a little, so that what they burn keeps clear of the bed's margins: no cloth is put down exactly where
//! it was planned, and a burn over the margins could not be followed.

use super::assign::Cutting;
use super::calm::side_by_side;
use super::line::FIT_MM;
use super::links::{Link, link};
use crate::burn::Contour;
use crate::job::Overhang;
use crate::shape::{Bounds, Point, pt};

/// How far burns keep from the margins where the windows let them, mm: a large cloth laid into a key by hand may lie this
/// far off at its far end. Common practice, no source.
const PLAY_MM: f64 = 10.0;

/// Shares of the wanted move that are tried.
const SHARES: [f64; 4] = [1.0, 0.75, 0.5, 0.25];

/// What must stay as it is while windows move.
pub(super) struct Play<'a> {
    pub contours: &'a [Contour],
    pub cuttings: &'a [Cutting],
    /// By pass, where it burns.
    pub burnt: &'a [Bounds],
    /// Waste with room for a mark, coarsely sampled.
    pub spots: &'a [Point],
    /// Width of the shared band, mm.
    pub band: f64,
    /// How far marks stay from the borders of windows, mm.
    pub inset: f64,
    pub overhang: Overhang,
}

impl Play<'_> {
    /// The windows, each after the first moved by as little as it takes for what it burns to lie [`PLAY_MM`] within it, or
    /// in its middle: as far as all cuts can be made as they are shared out. The first lies by the cloth's corner.
    pub fn given(&self, windows: &[Bounds]) -> Vec<Bounds> {
        let mut set = windows.to_vec();
        for k in 1..set.len() {
            let (window, burnt) = (set[k], self.burnt[k]);
            if burnt.is_empty() {
                continue;
            }
            let x = wanted(burnt.min.x - window.min.x, window.max.x - burnt.max.x);
            let y = wanted(burnt.min.y - window.min.y, window.max.y - burnt.max.y);
            let across = if self.overhang == Overhang::Both { x } else { 0.0 };
            let along = if self.overhang == Overhang::None { 0.0 } else { y };
            for way in [pt(across, 0.0), pt(0.0, along)].into_iter().filter(|w| *w != pt(0.0, 0.0)) {
                let from = set[k];
                let sound = SHARES.into_iter().find(|share| {
                    set[k] = from.shifted(way * *share);
                    self.sound(&set, windows)
                });
                if sound.is_none() {
                    set[k] = from;
                }
            }
        }
        set
    }

    /// True when all cuts can be made as they are shared out, and every pass still finds its place.
    fn sound(&self, set: &[Bounds], before: &[Bounds]) -> bool {
        let shared = self.contours.iter().zip(self.cuttings).all(|(contour, cutting)| match cutting {
            Cutting::Whole(_) => true,
            Cutting::Shared(hands) => {
                let b = contour.path.bounds();
                !set.iter().any(|w| w.grown(FIT_MM).holds(b))
                    && hands.iter().all(|h| side_by_side(set[h.before], set[h.after], self.band))
            }
        });
        let best = |set: &[Bounds], k: usize| {
            (0..k).map(|j| link(set[j], set[k], self.spots, self.inset)).min().unwrap_or(Link::None)
        };
        shared && (1..set.len()).all(|k| best(set, k) <= best(before, k))
    }
}

/// By how much a window moves that has `low` and `high` to spare before and after what it burns.
fn wanted(low: f64, high: f64) -> f64 {
    if low.min(high) >= PLAY_MM || low + high <= 0.0 {
        0.0
    } else if low + high <= 2.0 * PLAY_MM {
        (low - high) / 2.0
    } else if low < high {
        low - PLAY_MM
    } else {
        PLAY_MM - high
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_moves_as_little_as_gives_play_on_both_sides() {
        assert_eq!(wanted(30.0, 12.0), 0.0);
        // 2 mm before, 50 behind: 8 mm back leaves 10 and 42.
        assert_eq!(wanted(2.0, 50.0), -8.0);
        assert_eq!(wanted(50.0, 0.0), 10.0);
        // Not enough for both: shared out evenly.
        assert_eq!(wanted(1.0, 7.0), -3.0);
        assert_eq!(wanted(0.0, 0.0), 0.0);
    }
}
