//! The mottling of felt: soft clouds of fibre.

use crate::shape::Point;

/// Size of the larger clouds, mm; the smaller are a third as large.
const CLOUD_MM: f64 = 2.4;
/// Where nothing repeats, the mottling itself does so after this, mm.
const FREE_MM: f64 = 38.4;
/// How far the clouds go above and below the mean.
const DEPTH: f64 = 0.16;

/// Clouds that repeat with the cloth.
#[derive(Clone, Debug)]
pub(super) struct Felt {
    repeat_mm: [f64; 2],
    clouds: [i64; 2],
}

impl Felt {
    /// Clouds for a cloth with the given repeats across and along.
    pub fn new(across_mm: Option<f64>, along_mm: Option<f64>) -> Felt {
        let repeat_mm = [across_mm, along_mm].map(|r| r.unwrap_or(FREE_MM));
        let clouds = repeat_mm.map(|r| ((r / CLOUD_MM).round() as i64).max(1));
        Felt { repeat_mm, clouds }
    }

    /// Side of one repeat of the clouds, mm.
    pub fn repeat_mm(&self) -> [f64; 2] {
        self.repeat_mm
    }

    /// How light the felt is at a point, about 1; fading as a pixel grows to the size of the clouds.
    pub fn shade(&self, at: Point, pixel_mm: f64) -> f64 {
        let seen = |size_mm: f64| (1.5 - pixel_mm / size_mm).clamp(0.0, 1.0);
        let large = self.clouds_at(at, 1) * seen(CLOUD_MM);
        let small = self.clouds_at(at, 3) * seen(CLOUD_MM / 3.0);
        1.0 + DEPTH * (0.6 * large + 0.4 * small)
    }

    /// Smooth noise from −1 to 1 with `finer` times as many clouds.
    fn clouds_at(&self, at: Point, finer: i64) -> f64 {
        let n = self.clouds.map(|c| c * finer);
        let x = at.x / self.repeat_mm[0] * n[0] as f64;
        let y = at.y / self.repeat_mm[1] * n[1] as f64;
        let (i, j) = (x.floor(), y.floor());
        let soft = |t: f64| t * t * (3.0 - 2.0 * t);
        let (s, t) = (soft(x - i), soft(y - j));
        let (i, j) = (i.rem_euclid(n[0] as f64) as i64, j.rem_euclid(n[1] as f64) as i64);
        let corner = |di: i64, dj: i64| chance((i + di).rem_euclid(n[0]), (j + dj).rem_euclid(n[1]), finer);
        let near = corner(0, 0) + (corner(1, 0) - corner(0, 0)) * s;
        let far = corner(0, 1) + (corner(1, 1) - corner(0, 1)) * s;
        near + (far - near) * t
    }
}

/// A fixed number from −1 to 1 for a corner. Mixing steps of splitmix64 (Steele, Lea, Flood 2014; from memory).
fn chance(i: i64, j: i64, kind: i64) -> f64 {
    let mut z = (i as u64) ^ (j as u64).rotate_left(24) ^ (kind as u64).rotate_left(48);
    z = z.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^= z >> 31;
    (z >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    #[test]
    fn felt_is_mottled_softly_and_repeats() {
        let felt = Felt::new(None, Some(50.0));
        let shades: Vec<f64> = (0..400).map(|k| felt.shade(pt(f64::from(k) * 0.1, 7.0), 0.0)).collect();
        let (least, most) = shades.iter().fold((9.0_f64, 0.0_f64), |(l, m), s| (l.min(*s), m.max(*s)));
        assert!(least > 1.0 - DEPTH && most < 1.0 + DEPTH && most - least > 0.05);
        assert!(shades.windows(2).all(|w| (w[1] - w[0]).abs() < 0.06));
        let (one, other) = (felt.shade(pt(3.3, 4.4), 0.0), felt.shade(pt(3.3 + FREE_MM, 4.4 - 50.0), 0.0));
        assert!((one - other).abs() < 1e-9);
        assert_eq!(felt.shade(pt(1.0, 1.0), 10.0), 1.0);
    }
}
