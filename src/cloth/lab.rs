//! Colours by how different they look: CIE 1976 L*a*b*.

/// A colour as L*, a*, b* (CIE 15:2004, section 8.2.1), from sRGB (IEC 61966-2-1), white D65.
pub fn lab(rgb: [u8; 3]) -> [f64; 3] {
    let [r, g, b] = rgb.map(|v| {
        let v = f64::from(v) / 255.0;
        if v <= 0.04045 { v / 12.92 } else { libm::pow((v + 0.055) / 1.055, 2.4) }
    });
    let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089;
    let f = |t: f64| {
        // (6/29)³ and the straight piece below it.
        if t > 216.0 / 24389.0 { libm::cbrt(t) } else { (24389.0 / 27.0 * t + 16.0) / 116.0 }
    };
    let (fx, fy, fz) = (f(x), f(y), f(z));
    [116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)]
}

/// How different two colours look: the CIE 1976 colour difference. About 2.3 is just seen side by side
/// (Mahy, Van Eycken, Oosterlinck, *Color Research & Application* 19, 1994).
pub fn apart(p: [f64; 3], q: [f64; 3]) -> f64 {
    p.iter().zip(q).map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// L*a*b* of sRGB's white and primaries as usually tabled for D65 (from memory, two decimals).
    #[test]
    fn primaries_have_the_usual_values() {
        for (rgb, want) in [
            ([255, 255, 255], [100.0, 0.0, 0.0]),
            ([0, 0, 0], [0.0, 0.0, 0.0]),
            ([255, 0, 0], [53.24, 80.09, 67.20]),
            ([0, 255, 0], [87.73, -86.18, 83.18]),
            ([0, 0, 255], [32.30, 79.19, -107.86]),
        ] {
            assert!(apart(lab(rgb), want) < 0.1, "{rgb:?}: {:?}", lab(rgb));
        }
    }
}
