//! Colours as light, and the threads of one period.

use std::sync::OnceLock;

/// A colour as linear light: red, green, blue from 0 to 1.
pub type Light = [f64; 3];

/// sRGB to linear light (IEC 61966-2-1).
pub fn decode(colour: [u8; 3]) -> Light {
    colour.map(|c| decoded(f64::from(c)))
}

/// A value from 0 to 255 as linear light.
fn decoded(value: f64) -> f64 {
    let c = value / 255.0;
    if c <= 0.04045 { c / 12.92 } else { libm::pow((c + 0.055) / 1.055, 2.4) }
}

/// Linear light to sRGB, out-of-range light cut off.
pub fn encode(light: Light) -> [u8; 3] {
    // The light at which each value gives way to the next: a look-up is far quicker than a power.
    static STEPS: OnceLock<Vec<f64>> = OnceLock::new();
    let steps = STEPS.get_or_init(|| (0..255).map(|c| decoded(f64::from(c) + 0.5)).collect());
    light.map(|l| steps.partition_point(|step| *step <= l) as u8)
}

/// `share` of the way from `one` to `other`.
pub(super) fn mixed(one: Light, other: Light, share: f64) -> Light {
    std::array::from_fn(|c| one[c] + (other[c] - one[c]) * share)
}

/// `factor` times the light.
pub(super) fn scaled(light: Light, factor: f64) -> Light {
    light.map(|l| l * factor)
}

/// The threads of one period, with sums that give the mean of any stretch at once.
#[derive(Clone, Debug)]
pub(super) struct Yarns {
    threads: Vec<Light>,
    /// Light of the threads before each, and at the end of all.
    sums: Vec<Light>,
}

impl Yarns {
    /// The given threads; `ground` when there are none.
    pub fn new(threads: &[[u8; 3]], ground: Light) -> Yarns {
        let threads: Vec<Light> =
            if threads.is_empty() { vec![ground] } else { threads.iter().map(|c| decode(*c)).collect() };
        let mut sums = vec![[0.0; 3]];
        let mut sum = [0.0; 3];
        for thread in &threads {
            sum = std::array::from_fn(|c| sum[c] + thread[c]);
            sums.push(sum);
        }
        Yarns { threads, sums }
    }

    /// The thread at `u` threads from the near side of thread 0.
    pub fn at(&self, u: f64) -> Light {
        let period = self.threads.len() as f64;
        let within = u.floor().rem_euclid(period) as usize;
        self.threads.get(within).or(self.threads.last()).copied().unwrap_or_default()
    }

    /// The mean light of the threads from `u − half` to `u + half`.
    pub fn mean(&self, u: f64, half: f64) -> Light {
        if self.threads.len() == 1 || half < 1e-9 {
            return self.at(u);
        }
        let (near, far) = (self.sum_to(u - half), self.sum_to(u + half));
        std::array::from_fn(|c| (far[c] - near[c]) / (2.0 * half))
    }

    /// Light of all threads from 0 to `u`.
    fn sum_to(&self, u: f64) -> Light {
        let period = self.threads.len() as f64;
        let periods = (u / period).floor();
        let rest = (u - periods * period).clamp(0.0, period);
        let whole = (rest.floor() as usize).min(self.threads.len() - 1);
        let part = rest - whole as f64;
        let total = self.sums.last().copied().unwrap_or_default();
        std::array::from_fn(|c| periods * total[c] + self.sums[whole][c] + part * self.threads[whole][c])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 61966-2-1: mid grey 188 is half the light of white (0.5029); ends are exact.
    #[test]
    fn light_is_decoded_and_encoded() {
        assert!((decode([188, 0, 255])[0] - 0.5029).abs() < 1e-4);
        for c in 0..=255 {
            assert_eq!(encode(decode([c, 255 - c, c])), [c, 255 - c, c]);
        }
    }

    #[test]
    fn the_mean_of_a_stretch_runs_over_the_periods_end() {
        let yarns = Yarns::new(&[[255; 3], [0; 3], [0; 3]], [0.0; 3]);
        assert!((yarns.mean(0.0, 1.5)[0] - 1.0 / 3.0).abs() < 1e-12);
        assert!((yarns.mean(-2.75, 0.5)[0] - 0.75).abs() < 1e-12);
        assert_eq!(yarns.at(-3.0), [1.0; 3]);
        assert_eq!(yarns.at(-2.9), [1.0; 3]);
        assert_eq!(yarns.at(-0.1), [0.0; 3]);
    }
}
