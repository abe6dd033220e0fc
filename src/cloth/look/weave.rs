//! Which thread lies on top where two cross, and how light falls on it.

use crate::job::Weave;

/// The spot where a warp and a weft thread cross.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Crossing {
    /// True when the warp thread lies on top.
    pub warp_on_top: bool,
    /// How light the spot of it is, about 1.
    pub shade: f64,
}

/// Threads after which a weave is the same again, in both directions.
pub(super) fn unit(weave: Weave) -> usize {
    match weave {
        Weave::Plain => 2,
        Weave::TwillZ | Weave::TwillS => 4,
        Weave::Felt => 1,
    }
}

/// How dark the flanks of a thread are: it is round.
const FLANK: f64 = 0.34;
/// How dark a thread is where it dives under.
const DIVE: f64 = 0.30;
/// Light on the weft, which lies across the light, against the warp.
const WEFT: f64 = 0.93;
/// Brings the mean shade back to about 1.
const LEVEL: f64 = 1.24;

impl Crossing {
    /// The crossing at `u` warp threads and `v` weft threads, and where on it the point lies.
    ///
    /// 2/2 twill Z: the floats of each pick lie one thread to the right of those of the pick before, so the
    /// line rises to the right; S: to the left.
    pub fn at(weave: Weave, u: f64, v: f64) -> Crossing {
        let (i, j) = (u.floor(), v.floor());
        let (x, y) = (u - i, v - j);
        // Place along the float, from 0 to 1, of the thread on top.
        let (warp_on_top, along) = match weave {
            Weave::Plain | Weave::Felt => {
                let warp = (i + j).rem_euclid(2.0) < 1.0;
                (warp, if warp { y } else { x })
            }
            Weave::TwillZ => {
                let k = (i - j).rem_euclid(4.0);
                let warp = k < 2.0;
                (warp, if warp { (1.0 - k + y) / 2.0 } else { (k - 2.0 + x) / 2.0 })
            }
            Weave::TwillS => {
                let k = (i + j).rem_euclid(4.0);
                let warp = k < 2.0;
                (warp, if warp { (k + y) / 2.0 } else { (k - 2.0 + x) / 2.0 })
            }
        };
        let across = 2.0 * if warp_on_top { x } else { y } - 1.0;
        let end = 2.0 * along - 1.0;
        let end = end * end;
        let round = (1.0 - FLANK * across * across) * (1.0 - DIVE * end * end);
        Crossing { warp_on_top, shade: LEVEL * round * if warp_on_top { 1.0 } else { WEFT } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `#` where the warp lies on top; the last pick is the top line.
    fn picture(weave: Weave) -> Vec<String> {
        let mark = |i: i32, j: i32| {
            let warp = Crossing::at(weave, f64::from(i) + 0.5, f64::from(j) + 0.5).warp_on_top;
            if warp { '#' } else { '.' }
        };
        (0..4).rev().map(|j| (0..8).map(|i| mark(i, j)).collect()).collect()
    }

    /// 2/2 twill: over two, under two, stepping one thread per pick, repeat 4 × 4 (Britannica 1911, "Twill");
    /// Z rises to the right with the warp upright.
    #[test]
    fn the_twill_line_rises_to_its_own_hand() {
        assert_eq!(picture(Weave::TwillZ), ["#..##..#", "..##..##", ".##..##.", "##..##.."]);
        assert_eq!(picture(Weave::TwillS), [".##..##.", "..##..##", "#..##..#", "##..##.."]);
        assert_eq!(picture(Weave::Plain), [".#.#.#.#", "#.#.#.#.", ".#.#.#.#", "#.#.#.#."]);
    }

    /// Along a float light rises once and falls once: no seam in the middle where it passes a second thread.
    #[test]
    fn a_float_is_one_piece() {
        for (weave, u) in [(Weave::TwillZ, 1.5), (Weave::TwillS, 1.5)] {
            let over: Vec<f64> = (0..800)
                .map(|k| Crossing::at(weave, u, f64::from(k) / 100.0))
                .skip_while(|c| c.warp_on_top)
                .skip_while(|c| !c.warp_on_top)
                .take_while(|c| c.warp_on_top)
                .map(|c| c.shade)
                .collect();
            let peak = over.iter().copied().fold(0.0, f64::max);
            let steps: Vec<f64> = over.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
            assert!(over.len() >= 100 && steps.iter().all(|s| *s < 0.05 * peak), "{weave:?}");
        }
    }

    #[test]
    fn mean_shade_is_about_one() {
        for weave in [Weave::Plain, Weave::TwillZ, Weave::TwillS] {
            let n = 80;
            let sum: f64 = (0..n * n)
                .map(|k| {
                    Crossing::at(
                        weave,
                        4.0 * f64::from(k % n) / f64::from(n),
                        4.0 * f64::from(k / n) / f64::from(n),
                    )
                })
                .map(|c| c.shade)
                .sum();
            let mean = sum / f64::from(n * n);
            assert!((mean - 1.0).abs() < 0.02, "{weave:?} {mean}");
        }
    }
}
