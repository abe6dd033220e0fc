//! How many stitches, how much thread, how long: an estimate from lengths, widths and densities.
//!
//! Arithmetic is common practice: a running line takes its length over the stitch length; a zigzag two stitches a pitch,
//! the pitch being measured between penetrations on the same edge; satin is a zigzag of a fine pitch.

/// Thread each stitch takes through cloth, backing and ground and back, mm (common practice, no source).
const THROUGH_MM: f64 = 1.0;

/// Bobbin thread as a share of needle thread: a third (common practice, no source).
const BOBBIN_SHARE: f64 = 1.0 / 3.0;

/// A tack-down zigzag is at most this wide, mm (common practice: 1.5 to 2.5).
const TACK_WIDTH_MM: f64 = 2.0;

/// A zigzag narrower than this is sewn as a running line, mm (common practice, no source).
const LEAST_ZIGZAG_MM: f64 = 0.5;

/// How the work is stitched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stitching {
    /// Length of a running stitch, mm.
    pub run_mm: f64,
    /// Pitch of the open zigzag that tacks pieces down, mm between penetrations on the same edge.
    pub zigzag_mm: f64,
    /// Pitch of the border's satin, mm, measured alike.
    pub satin_mm: f64,
    /// Width of the border, mm; 0 for none.
    pub border_mm: f64,
    /// How far the tack-down line lies inside the drawn edge, mm.
    pub tack_in_mm: f64,
    /// Stitches a minute.
    pub per_min: f64,
}

/// Stitches and thread.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Count {
    /// Stitches.
    pub stitches: u64,
    /// Thread, needle and bobbin together, mm.
    pub thread_mm: f64,
}

impl Count {
    /// Both together.
    pub fn plus(self, other: Count) -> Count {
        Count {
            stitches: self.stitches.saturating_add(other.stitches),
            thread_mm: self.thread_mm + other.thread_mm,
        }
    }

    /// How long the machine sews them at `per_min` stitches a minute, min.
    pub fn minutes(self, per_min: f64) -> f64 {
        if per_min > 0.0 { self.stitches as f64 / per_min } else { 0.0 }
    }
}

fn counted(stitches: f64, each_mm: f64) -> Count {
    if !(stitches.is_finite() && stitches > 0.0) {
        return Count::default();
    }
    // Lengths computed from coordinates carry dust; it makes no stitch.
    let n = (stitches - 1e-6).ceil().max(1.0);
    Count { stitches: n as u64, thread_mm: n * (each_mm + THROUGH_MM) * (1.0 + BOBBIN_SHARE) }
}

/// A running line.
pub fn run(length_mm: f64, stitch_mm: f64) -> Count {
    counted(length_mm / stitch_mm, stitch_mm)
}

/// A zigzag or satin.
pub fn zigzag(length_mm: f64, width_mm: f64, pitch_mm: f64) -> Count {
    let step = pitch_mm / 2.0;
    counted(2.0 * length_mm / pitch_mm, (width_mm * width_mm + step * step).sqrt())
}

impl Stitching {
    /// A placement line.
    pub fn placement(&self, length_mm: f64) -> Count {
        run(length_mm, self.run_mm)
    }

    /// Width of the tack-down zigzag: the border covers it.
    pub fn tack_width_mm(&self) -> f64 {
        if self.border_mm > 0.0 {
            (self.border_mm - 2.0 * self.tack_in_mm).clamp(0.0, TACK_WIDTH_MM)
        } else {
            TACK_WIDTH_MM.min(2.0 * self.tack_in_mm)
        }
    }

    /// A tack-down line.
    pub fn tack_down(&self, length_mm: f64) -> Count {
        let width = self.tack_width_mm();
        if width < LEAST_ZIGZAG_MM {
            return run(length_mm, self.run_mm);
        }
        zigzag(length_mm, width, self.zigzag_mm)
    }

    /// A stretch of border.
    pub fn border(&self, length_mm: f64) -> Count {
        if self.border_mm > 0.0 { zigzag(length_mm, self.border_mm, self.satin_mm) } else { Count::default() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const USUAL: Stitching = Stitching {
        run_mm: 2.5,
        zigzag_mm: 2.0,
        satin_mm: 0.4,
        border_mm: 3.5,
        tack_in_mm: 1.0,
        per_min: 800.0,
    };

    /// Worked by hand from the common rules (no published table): 1 m of running line at 2.5 mm is 400 stitches; 1 m
    /// of satin at 0.4 mm is 2 × 1000 / 0.4 = 5000, 6.25 min at 800 a minute; 1 inch is 127.
    #[test]
    fn stitches_follow_the_common_rules() {
        assert_eq!(run(1000.0, 2.5).stitches, 400);
        let satin = zigzag(1000.0, 3.5, 0.4);
        assert_eq!(satin.stitches, 5000);
        assert_eq!(satin.minutes(800.0), 6.25);
        assert_eq!(zigzag(25.4, 3.5, 0.4).stitches, 127);
        assert_eq!(zigzag(1000.0, 2.0, 2.0).stitches, 1000);
    }

    /// The trade reckons about 150 stitches an inch of satin border with what lies under it (an estimating page's
    /// figure); ours with its tack-down is within 5 of that.
    #[test]
    fn a_border_with_its_tack_down_is_near_the_trades_hundred_and_fifty_an_inch() {
        let inch = USUAL.border(25.4).plus(USUAL.tack_down(25.4));
        assert!((145..=155).contains(&inch.stitches), "{}", inch.stitches);
    }

    /// An estimating page has 5 to 6 m of thread for 1000 stitches.
    #[test]
    fn thread_is_near_the_trades_five_to_six_metres_for_a_thousand() {
        let satin = USUAL.border(200.0);
        assert_eq!(satin.stitches, 1000);
        assert!((5_000.0..=6_200.0).contains(&satin.thread_mm), "{}", satin.thread_mm);
        // By hand: √(3.5² + 0.2²) = 3.5057, and 1 through, a third more for the bobbin.
        assert!((satin.thread_mm - 1000.0 * 4.50571 * 4.0 / 3.0).abs() < 0.1);
    }

    #[test]
    fn nothing_and_nonsense_take_no_stitches() {
        for length in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(run(length, 2.5), Count::default(), "{length}");
        }
        assert_eq!(Stitching { border_mm: 0.0, ..USUAL }.border(100.0), Count::default());
        // A border too narrow for a zigzag beneath it: the tack-down is a running line.
        assert_eq!(Stitching { border_mm: 2.2, ..USUAL }.tack_down(250.0).stitches, 100);
    }
}
