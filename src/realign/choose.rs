//! Which fit the marks justify, and which marks disagree.
//!
//! Every kind of fit, with no mark left out, one, or two, is an explanation of what was measured. Each is charged what
//! it leaves unexplained, Σ|residual|²/σ² (σ² = half the square of the stated mark error, its variance in one
//! direction), and a price for what it asks to believe; the cheapest is taken. The price of a stretch or a shear is the
//! value that chance alone reaches once in a hundred (χ² with as many degrees of freedom as numbers were added), so
//! that a fit with more freedom is taken only when a test of likelihood ratios on that level favours it (S. S. Wilks,
//! Ann. Math. Statist. 9, 60-62, 1938). A mark left out is two numbers added, and it might have been any mark: its
//! price is the χ² of two on the level 0.01/N (Bonferroni).

use super::error::{Spread, chi_square};
use super::fit::{Distortion, FitKind, Sighting, fit};
use crate::shape::{Affine, Point, distance, pt, tol};

/// Where a standard normal stays below in 99 of 100 cases.
const Z_99: f64 = 2.326_348;
/// Where it stays below in 999 of 1000 cases.
const Z_999: f64 = 3.090_232;
/// The level of [`Z_99`].
const ONCE_IN: f64 = 0.01;

/// Greatest stretch of cloth that is corrected, share: more is another cloth, or damp, or a mistake.
pub(super) const MOST_STRETCH: f64 = 0.01;
/// Greatest shear that is corrected, degrees.
pub(super) const MOST_SHEAR_DEG: f64 = 1.0;
/// Greatest difference of a measured repeat from the noted one, share: beyond it a repeat was miscounted.
pub(super) const MOST_REPEAT_STRETCH: f64 = 0.05;
/// Greatest difference of its skew, degrees.
pub(super) const MOST_REPEAT_SHEAR_DEG: f64 = 3.0;

/// A stretch is believed only where what is burnt is not farther from the marks than the fit can tell: error to expect
/// there, mm. (The border hides about as much.)
const FARTHEST_GUESS_MM: f64 = 1.0;
/// Marks read so many times worse than stated are still marks; worse is a mistake.
const MOST_MISREAD: f64 = 4.0;
/// Fewest marks that must remain when one is left out: two would agree with anything.
const LEAST_REMAINING: usize = 3;

/// What a fit is for.
#[derive(Clone, Copy, Debug)]
pub struct Purpose<'a> {
    /// Error of a measured mark, mm (root mean square, both directions together).
    pub mark_error_mm: f64,
    /// The cloth lies face down.
    pub mirrored: bool,
    /// The kind the maker asks for.
    pub asked: Option<FitKind>,
    /// Where it must hold: the corners of what is burnt, cloth frame.
    pub reach: &'a [Point],
    /// The points are of the cloth's pattern, whose repeat may differ from what was noted.
    pub pattern: bool,
}

impl Purpose<'_> {
    /// The mark error the tests go by, mm.
    pub fn error_mm(&self) -> f64 {
        self.mark_error_mm.max(tol::LEAST_MARK_ERROR_MM)
    }
}

/// The fit that explains the marks best.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// Its kind.
    pub kind: FitKind,
    /// Cloth frame to bed frame.
    pub map: Affine,
    /// Marks that disagree and are left out, by index.
    pub left_out: Vec<usize>,
    /// Mark error that the residuals speak of, mm; `None` when they say nothing, the fit being exact.
    pub read_error_mm: Option<f64>,
    /// True when they speak of clearly more than was stated.
    pub doubtful: bool,
    score: f64,
    far_off: bool,
}

impl Chosen {
    /// The sightings it rests on.
    pub fn used(&self, seen: &[Sighting]) -> Vec<Sighting> {
        without(seen, &self.left_out)
    }
}

/// Why there is no fit.
#[derive(Clone, Debug, PartialEq)]
pub enum Refused {
    /// So many points are needed for what was asked, not in a line.
    TooFew(usize),
    /// The marks do not agree; the best there is.
    NoFit(Box<Chosen>),
    /// They agree on more stretch or shear than is corrected.
    Distorted(Box<Chosen>, Distortion),
}

/// The cheapest explanation of `seen`.
///
/// # Errors
/// There is none to rely on.
pub fn choose(seen: &[Sighting], purpose: &Purpose) -> Result<Chosen, Refused> {
    let kinds: Vec<FitKind> =
        FitKind::ALL.into_iter().filter(|k| purpose.asked.is_none_or(|a| a == *k)).collect();
    let mut best: Option<Chosen> = None;
    for out in leave_outs(seen.len()) {
        for &kind in &kinds {
            let Some(found) = explanation(kind, seen, &out, purpose) else { continue };
            if best.as_ref().is_none_or(|b| found.score < b.score) {
                best = Some(found);
            }
        }
    }
    let Some(best) = best else {
        return Err(Refused::TooFew(kinds.iter().map(|k| k.least_points()).min().unwrap_or(2)));
    };
    let (stretch, shear) = if purpose.pattern {
        (MOST_REPEAT_STRETCH, MOST_REPEAT_SHEAR_DEG)
    } else {
        (MOST_STRETCH, MOST_SHEAR_DEG)
    };
    if best.far_off {
        return Err(Refused::NoFit(Box::new(best)));
    }
    match Distortion::of(&best.map) {
        Some(d) if d.most <= stretch && d.shear_deg.abs() <= shear => Ok(best),
        Some(d) => Err(Refused::Distorted(Box::new(best), d)),
        None => Err(Refused::NoFit(Box::new(best))),
    }
}

/// Sets of marks to leave out: none, each one, each two; while at least three remain and twice as many as left out.
fn leave_outs(n: usize) -> Vec<Vec<usize>> {
    let may = |k: usize| n >= k + LEAST_REMAINING.max(2 * k);
    let mut sets = vec![Vec::new()];
    if may(1) {
        sets.extend((0..n).map(|i| vec![i]));
    }
    if may(2) {
        sets.extend((0..n).flat_map(|i| (i + 1..n).map(move |j| vec![i, j])));
    }
    sets
}

fn without(seen: &[Sighting], out: &[usize]) -> Vec<Sighting> {
    seen.iter().enumerate().filter(|(i, _)| !out.contains(i)).map(|(_, s)| *s).collect()
}

fn explanation(kind: FitKind, seen: &[Sighting], out: &[usize], purpose: &Purpose) -> Option<Chosen> {
    let used = without(seen, out);
    // A fit that leaves nothing over cannot be judged: it is taken only where it is asked for.
    let least = match kind {
        FitKind::Rigid => 2,
        FitKind::Similarity => 3,
        FitKind::Affine if purpose.pattern => 3,
        FitKind::Affine => 4,
    };
    if used.len() < if purpose.asked.is_some() { kind.least_points() } else { least } {
        return None;
    }
    let map = fit(kind, &used, purpose.mirrored)?;
    let error = purpose.error_mm();
    if kind != FitKind::Rigid && purpose.asked.is_none() {
        let spread = Spread::new(kind, &used, error);
        if purpose.reach.iter().any(|&p| spread.expected_mm(p) > FARTHEST_GUESS_MM) {
            return None;
        }
    }
    let squares: f64 = used.iter().map(|s| distance(s.off(&map), pt(0.0, 0.0)).powi(2)).sum();
    let charge = squares / (error * error / 2.0);
    let believed = chi_square(kind.freedoms() - FitKind::Rigid.freedoms(), Z_99);
    let one_out = -2.0 * libm::log(ONCE_IN / seen.len() as f64);
    let free = (2 * used.len()).saturating_sub(kind.freedoms());
    let read_error_mm = (free > 0).then(|| (2.0 * squares / free as f64).sqrt());
    let unlikely = charge > chi_square(free, Z_999) && free > 0;
    let far_off = unlikely && read_error_mm.is_some_and(|e| e > MOST_MISREAD * error);
    Some(Chosen {
        kind,
        map,
        left_out: out.to_vec(),
        read_error_mm,
        doubtful: unlikely,
        score: charge + believed + one_out * out.len() as f64,
        far_off,
    })
}

#[cfg(test)]
#[path = "choose_tests.rs"]
mod tests;
