//! What a twill looks like after turning, turning over, or weaving it denser.

use crate::job::{Face, Weave};
use crate::shape::tol;

/// Which way a twill line leans with the warp upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// Right-hand: the line rises to the right.
    Z,
    /// Left-hand: the line rises to the left.
    S,
}

impl Hand {
    /// The other hand.
    pub fn other(self) -> Hand {
        match self {
            Hand::Z => Hand::S,
            Hand::S => Hand::Z,
        }
    }
}

/// The hand of a weave on its face; `None` for what has no twill line.
pub fn hand(weave: Weave) -> Option<Hand> {
    match weave {
        Weave::TwillZ => Some(Hand::Z),
        Weave::TwillS => Some(Hand::S),
        Weave::Plain | Weave::Felt => None,
    }
}

/// The hand a twill seems to have when the cloth has been turned by `turn_deg` counter-clockwise and `seen` is
/// the side one looks at; `None` for what has no twill line or shows it upright or level.
///
/// The line is taken at 45° (square sett). A half turn keeps the hand; a quarter turn makes / look like \; so
/// does turning over: a line rising right on one side rises left on the other.
pub fn seen_hand(weave: Weave, turn_deg: f64, seen: Face) -> Option<Hand> {
    let woven = hand(weave)?;
    if !turn_deg.is_finite() {
        return None;
    }
    let line_deg = match woven {
        Hand::Z => 45.0,
        Hand::S => 135.0,
    };
    let line_deg = (line_deg + turn_deg).rem_euclid(180.0);
    let off_level = line_deg.min(180.0 - line_deg).min((line_deg - 90.0).abs());
    if off_level <= tol::SAME_TURN_DEG {
        return None;
    }
    let leans = if line_deg < 90.0 { Hand::Z } else { Hand::S };
    Some(if seen == Face::Down { leans.other() } else { leans })
}

/// Angle of a twill line from the weft, degrees, for a twill that goes `picks_stepped` up for every
/// `ends_stepped` across: tan θ = (ends per cm / picks per cm) · (picks stepped / ends stepped).
pub fn twill_angle_deg(ends_per_cm: f64, picks_per_cm: f64, ends_stepped: u32, picks_stepped: u32) -> f64 {
    let up = ends_per_cm * f64::from(picks_stepped);
    let across = picks_per_cm * f64::from(ends_stepped);
    libm::atan2(up, across).to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sources: right-hand is Z, left-hand S (trade article on left- and right-hand twill, 2014); turned over,
    /// the hand reverses, and a half turn leaves it unchanged ("Twill fabrics", fabric education blog); a
    /// quarter turn makes the line look opposite-handed (derived).
    #[test]
    fn the_rules_of_twill_hold() {
        use Face::{Down, Up};
        use Hand::{S, Z};
        use Weave::{Felt, Plain, TwillS, TwillZ};
        for (weave, turn, seen, expected) in [
            (TwillZ, 0.0, Up, Some(Z)),
            (TwillZ, 180.0, Up, Some(Z)),
            (TwillZ, 90.0, Up, Some(S)),
            (TwillZ, 270.0, Up, Some(S)),
            (TwillZ, -90.0, Up, Some(S)),
            (TwillZ, 0.0, Down, Some(S)),
            (TwillZ, 180.0, Down, Some(S)),
            (TwillZ, 90.0, Down, Some(Z)),
            (TwillS, 0.0, Up, Some(S)),
            (TwillS, 180.0, Up, Some(S)),
            (TwillS, 90.0, Up, Some(Z)),
            (TwillS, 0.0, Down, Some(Z)),
            (TwillZ, 45.0, Up, None),
            (TwillZ, 30.0, Up, Some(Z)),
            (TwillZ, 60.0, Up, Some(S)),
            (TwillZ, f64::NAN, Up, None),
            (Plain, 0.0, Up, None),
            (Felt, 90.0, Down, None),
        ] {
            assert_eq!(seen_hand(weave, turn, seen), expected, "{weave:?} {turn} {seen:?}");
        }
    }

    /// Steps 1:2, 1:3, 2:1, 3:1 across:up: textileschool.com "Curved twill", "Stepped or elongated twill", 2021.
    /// 30 ends and 40 picks, then 36 and 40, then equal: 365caws.blogspot.com, 2025; angles derived.
    #[test]
    fn twill_angles_are_the_published_ones() {
        for (ends, picks, across, up, expected) in [
            (20.0, 20.0, 1, 1, 45.0),
            (30.0, 40.0, 1, 1, 36.87),
            (36.0, 40.0, 1, 1, 41.99),
            (20.0, 20.0, 1, 2, 63.43),
            (20.0, 20.0, 1, 3, 71.57),
            (20.0, 20.0, 2, 1, 26.57),
            (20.0, 20.0, 3, 1, 18.43),
        ] {
            let angle = twill_angle_deg(ends, picks, across, up);
            assert!((angle - expected).abs() < 0.005, "{ends}/{picks} {across}:{up}: {angle}");
        }
    }
}
