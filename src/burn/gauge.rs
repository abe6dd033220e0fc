//! The gauge: what callipers say of it, turned into kerf, scale and squareness with their uncertainty.
//!
//! The beam runs along the nominal lines, without kerf. A square of side N comes out as a plug of s·N − k in a hole of
//! s·N + k (s the scale of the axis, k the kerf), so s = (hole + plug) / 2N and k = (hole − plug) / 2. A strip cut into
//! n blocks that are pushed together leaves a gap of (n + 1)·k in its hole. The diagonals of the plug, lengths p (near left
//! to far right) and q, of a parallelogram with sides a and b: p² − q² = 4·a·b·cos(angle between the sides).
//!
//! Uncertainty after JCGM 100:2008 (GUM): repeated readings count by the deviation of their mean (4.2.3), the callipers
//! by a rectangular distribution of their limits (4.3.7), results by the law of propagation (5.1.2) with the kerf as the
//! mean of its estimates weighted by their variance; expanded by a coverage factor of 2 (6.2).

use crate::say::Trouble;
use crate::shape::tol;

/// Side of the square, mm.
pub const SIDE_MM: f64 = 100.0;
/// Blocks the strip is cut into.
pub const BLOCKS: usize = 10;
/// Width of a strip, mm.
pub const STRIP_MM: f64 = 15.0;

/// Coverage factor of expanded uncertainties: about 95 % for a normal distribution.
pub const COVERAGE: f64 = 2.0;

/// Readings of one length, mm.
pub type Readings = Vec<f64>;

/// What was measured on the gauge; each length once or several times, mm.
#[derive(Clone, Debug, PartialEq, serde::Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Measured {
    /// What the form says of how to hold the gauge; nothing is read from it.
    #[serde(default)]
    pub how_to_hold: Vec<String>,
    /// Limit of error of the callipers, ± mm.
    pub callipers_mm: f64,
    /// The plug along x.
    pub plug_x_mm: Readings,
    /// The plug along y.
    pub plug_y_mm: Readings,
    /// The hole along x.
    pub hole_x_mm: Readings,
    /// The hole along y.
    pub hole_y_mm: Readings,
    /// The plug from its near left to its far right corner.
    pub diagonal_rising_mm: Readings,
    /// The plug from its near right to its far left corner.
    pub diagonal_falling_mm: Readings,
    /// The gap the blocks leave when pushed together.
    #[serde(default)]
    pub gap_mm: Readings,
}

/// A value and its expanded uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Value {
    /// The value.
    pub value: f64,
    /// Its expanded uncertainty (coverage factor 2).
    pub plus_minus: f64,
}

/// What the gauge says of a cutter.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Found {
    /// Kerf, mm.
    pub kerf_mm: Value,
    /// What the machine's x lengths must be multiplied by to come out true.
    pub correct_x: Value,
    /// The same for y.
    pub correct_y: Value,
    /// How far the y axis leans towards +x over 100 mm, mm.
    pub lean_mm_per_100: Value,
}

/// A mean and its standard uncertainty.
type Mean = (f64, f64);

/// What the readings say.
///
/// # Errors
/// Readings that are missing, no lengths, far from any gauge of this size or from the others of the same length, or that
/// contradict each other.
pub fn found(m: &Measured) -> Result<Found, Trouble> {
    if !(m.callipers_mm > 0.0 && m.callipers_mm <= 1.0) {
        return Err(Trouble::bad_input(
            "callipers_mm",
            "expected more than 0, at most 1: the limit of error of the callipers in mm",
        ));
    }
    let of = |name: &str, r: &Readings, near: f64, wander_mm: f64| {
        let found = mean(name, r, near, m.callipers_mm)?;
        alike(name, r, wander_mm.max(CALLIPERS_APART * m.callipers_mm) + tol::SAME_POINT_MM)?;
        Ok(found)
    };
    let side = |name: &str, r: &Readings| of(name, r, SIDE_MM, EDGES_WANDER_MM);
    let (px, py) = (side("plug_x_mm", &m.plug_x_mm)?, side("plug_y_mm", &m.plug_y_mm)?);
    let (hx, hy) = (side("hole_x_mm", &m.hole_x_mm)?, side("hole_y_mm", &m.hole_y_mm)?);
    let across = SIDE_MM * std::f64::consts::SQRT_2;
    let p = of("diagonal_rising_mm", &m.diagonal_rising_mm, across, LOOSE_MM)?;
    let q = of("diagonal_falling_mm", &m.diagonal_falling_mm, across, LOOSE_MM)?;
    let mut kerfs = vec![half_difference(hx, px), half_difference(hy, py)];
    if !m.gap_mm.is_empty() {
        let n = (BLOCKS + 1) as f64;
        let gap = of("gap_mm", &m.gap_mm, 0.0, LOOSE_MM)?;
        kerfs.push((gap.0 / n, gap.1 / n));
    }
    let kerf = weighted(&kerfs);
    agree(&kerfs, kerf.0)?;
    if kerf.0 <= 0.0 {
        let what = format!("the kerf comes out as {:.3} mm: the plug is no smaller than its hole", kerf.0);
        return Err(Trouble::bad_input("the readings", what).hint("are plug and hole mixed up?"));
    }
    let correct = |hole: Mean, plug: Mean| {
        let sum = hole.0 + plug.0;
        let value = 2.0 * SIDE_MM / sum;
        expanded((value, value / sum * hole.1.hypot(plug.1)))
    };
    // Lean per length: cos of the angle between the sides, which is the sine of the lean.
    let area = 4.0 * px.0 * py.0;
    let lean = (p.0 * p.0 - q.0 * q.0) / area;
    square(p, q, px, py)?;
    let u =
        (2.0 * p.0 * p.1 / area).hypot(2.0 * q.0 * q.1 / area).hypot(lean * (px.1 / px.0).hypot(py.1 / py.0));
    Ok(Found {
        kerf_mm: expanded(kerf),
        correct_x: correct(hx, px),
        correct_y: correct(hy, py),
        lean_mm_per_100: expanded((lean * 100.0, u * 100.0)),
    })
}

/// Kerfs found in several ways differ by no more than this, or by as many standard uncertainties as [`FAR_OFF`], mm: a beam
/// is not quite as wide one way as the other (common practice, no source).
const KERFS_APART_MM: f64 = 0.1;
/// Diagonals and sides contradict each other by no more than this, mm: burnt corners are a little round.
const DIAGONALS_OFF_MM: f64 = 0.5;
/// Limits of error of the callipers that readings of one length are never apart through the callipers: two are the most
/// they allow, the rest is for the hand.
const CALLIPERS_APART: f64 = 5.0;
/// How far a reading between two edges may lie from the others through the burn itself, mm: each edge wanders by what a
/// small laser repeats, 0.1 mm (common practice, no source).
const EDGES_WANDER_MM: f64 = 0.2;
/// The same for a diagonal, whose corners are a little round, and for the gap, which tells of eleven burns and of how
/// the blocks were pushed, mm.
const LOOSE_MM: f64 = 0.5;
/// Odd readings that are named one by one.
const MOST_NAMED: usize = 3;
/// Standard uncertainties that no reading is off by chance.
const FAR_OFF: f64 = 4.0;
/// No axes of a cutter lean more, as a sine: 5 mm in 100 mm.
const MOST_LEAN: f64 = 0.05;

/// The ways to find the kerf agree.
fn agree(kerfs: &[Mean], kerf: f64) -> Result<(), Trouble> {
    let off = |k: &&Mean| (k.0 - kerf).abs() > KERFS_APART_MM.max(FAR_OFF * k.1);
    if kerfs.iter().find(off).is_none() {
        return Ok(());
    }
    let ways = ["the x sides", "the y sides", "the gap of the blocks"];
    let each: Vec<String> = ways.iter().zip(kerfs).map(|(w, k)| format!("{w} {:.3} mm", k.0)).collect();
    let what = format!("they contradict each other: the kerf is by {}", each.join(", by "));
    Err(Trouble::bad_input("the readings", what).hint("measure again what stands out"))
}

/// The diagonals are those of a parallelogram of these sides, and not of one that leans wildly.
fn square(p: Mean, q: Mean, a: Mean, b: Mean) -> Result<(), Trouble> {
    // p² + q² = 2·(a² + b²): the parallelogram law.
    let mean = ((p.0 * p.0 + q.0 * q.0) / 2.0).sqrt();
    let wanted = a.0.hypot(b.0);
    let u = p.1.hypot(q.1).hypot(a.1).hypot(b.1);
    if (mean - wanted).abs() > DIAGONALS_OFF_MM.max(FAR_OFF * u) {
        let what = format!(
            "diagonals of {:.2} and {:.2} mm do not go with sides of {:.2} and {:.2} mm",
            p.0, q.0, a.0, b.0
        );
        return Err(
            Trouble::bad_input("the readings", what).hint("measure sides and diagonals of the plug again")
        );
    }
    let lean = (p.0 * p.0 - q.0 * q.0) / (4.0 * a.0 * b.0);
    if lean.abs() > MOST_LEAN {
        let what = format!("the axes would lean by {:.1} mm in 100 mm", lean * 100.0);
        return Err(Trouble::bad_input("the readings", what).hint("measure both diagonals of the plug again"));
    }
    Ok(())
}

/// No reading of a length lies farther than `within_mm` from the middle one, or of two from the other.
fn alike(name: &str, readings: &Readings, within_mm: f64) -> Result<(), Trouble> {
    let mut sorted = readings.clone();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let of = |k: usize| sorted.get(k).copied().unwrap_or_default();
    let trouble = |what: String| {
        let hint = "measure again and leave out what was misread; if the length truly differs so much from place to \
                    place, cut the gauge in card";
        Err(Trouble::bad_input(name, what).hint(hint))
    };
    if n == 2 && of(1) - of(0) > within_mm {
        let what = format!("{} and {} mm: two readings of one length", figure(of(0)), figure(of(1)));
        return trouble(format!("{what} {:.2} mm apart, expected {within_mm:.2} at most", of(1) - of(0)));
    }
    let middle = (of(n.saturating_sub(1) / 2) + of(n / 2)) / 2.0;
    let off = |r: &f64| (r - middle).abs();
    let odd: Vec<(usize, &f64)> = readings.iter().enumerate().filter(|(_, r)| off(r) > within_mm).collect();
    if odd.is_empty() {
        return Ok(());
    }
    let one =
        |(k, r): &(usize, &f64)| format!("reading {}, {} mm, lies {:.2} mm off", k + 1, figure(**r), off(r));
    let mut named: Vec<String> = odd.iter().take(MOST_NAMED).map(one).collect();
    if odd.len() > MOST_NAMED {
        named.push(format!("{} more", odd.len() - MOST_NAMED));
    }
    let named = named.join("; ");
    trouble(format!(
        "{named}: the middle of its {n} readings is {middle:.2} mm, expected {within_mm:.2} off at most"
    ))
}

/// A reading for people: as it was written, but never hundreds of digits long.
fn figure(v: f64) -> String {
    let plain = v == 0.0 || (FINEST_FIGURE..FINEST_FIGURE.recip()).contains(&v.abs());
    if plain { v.to_string() } else { format!("{v:e}") }
}

/// Figures smaller than this, or larger than its inverse, are told in powers of ten.
const FINEST_FIGURE: f64 = 1.0e-6;

fn expanded((value, u): Mean) -> Value {
    Value { value, plus_minus: COVERAGE * u }
}

fn half_difference(hole: Mean, plug: Mean) -> Mean {
    ((hole.0 - plug.0) / 2.0, hole.1.hypot(plug.1) / 2.0)
}

/// The mean weighted by variance; plain where an uncertainty is nought.
fn weighted(values: &[Mean]) -> Mean {
    if values.iter().any(|v| v.1 <= 0.0) {
        return (values.iter().map(|v| v.0).sum::<f64>() / values.len().max(1) as f64, 0.0);
    }
    let weights: f64 = values.iter().map(|v| 1.0 / (v.1 * v.1)).sum();
    (values.iter().map(|v| v.0 / (v.1 * v.1)).sum::<f64>() / weights, 1.0 / weights.sqrt())
}

fn mean(name: &str, readings: &Readings, near: f64, limit: f64) -> Result<Mean, Trouble> {
    let n = readings.len() as f64;
    if readings.is_empty() {
        return Err(Trouble::bad_input(name, "expected at least one reading"));
    }
    // A tenth off is no error of a machine but a slip of the pen, or another length.
    if let Some(wild) = readings.iter().find(|r| !((*r - near).abs() <= SIDE_MM / 10.0 && **r > 0.0)) {
        let what = format!("{}: expected a length near {near:.1} mm", figure(*wild));
        return Err(Trouble::bad_input(name, what).hint(
            "measure that length again, in mm, and write it with a point: [99,8] with a comma is two readings, 99 and 8",
        ));
    }
    let mean = readings.iter().sum::<f64>() / n;
    let spread: f64 = readings.iter().map(|r| (r - mean) * (r - mean)).sum();
    let of_mean = if readings.len() > 1 { (spread / (n - 1.0) / n).sqrt() } else { 0.0 };
    Ok((mean, of_mean.hypot(limit / 3.0_f64.sqrt())))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measured(kerf: f64, sx: f64, sy: f64, lean: f64) -> Measured {
        let (a, b) = (sx * SIDE_MM - kerf, sy * SIDE_MM - kerf);
        // A parallelogram: its far side is shifted by b·lean (lean as a sine).
        let rising = (a * a + b * b + 2.0 * a * b * lean).sqrt();
        let falling = (a * a + b * b - 2.0 * a * b * lean).sqrt();
        Measured {
            how_to_hold: Vec::new(),
            callipers_mm: 0.02,
            plug_x_mm: vec![a],
            plug_y_mm: vec![b],
            hole_x_mm: vec![a + 2.0 * kerf],
            hole_y_mm: vec![b + 2.0 * kerf],
            diagonal_rising_mm: vec![rising],
            diagonal_falling_mm: vec![falling],
            gap_mm: vec![11.0 * kerf],
        }
    }

    #[test]
    fn readings_that_contradict_each_other_are_refused() {
        let said = |change: fn(&mut Measured)| {
            let mut m = measured(0.2, 1.0, 1.0, 0.0);
            change(&mut m);
            found(&m).unwrap_err().to_string()
        };
        assert!(said(|m| m.gap_mm = vec![9.9]).contains("by the gap of the blocks 0.900 mm"));
        assert!(said(|m| m.hole_x_mm = vec![101.0]).contains("by the x sides"));
        let both = said(|m| (m.diagonal_rising_mm, m.diagonal_falling_mm) = (vec![148.0], vec![148.0]));
        assert!(both.contains("do not go with sides"), "{both}");
        let lean = said(|m| (m.diagonal_rising_mm, m.diagonal_falling_mm) = (vec![135.0], vec![147.0]));
        assert!(lean.contains("lean"), "{lean}");
        assert!(said(|m| m.callipers_mm = 0.0).contains("callipers_mm"));
    }

    #[test]
    fn a_reading_far_from_the_others_of_its_length_is_named() {
        let with = |readings: &[f64]| {
            let m = measured(0.2, 1.0, 1.0, 0.0);
            found(&Measured { plug_x_mm: readings.to_vec(), ..m })
        };
        let slip = with(&[99.8, 99.82, 98.1]).unwrap_err();
        assert_eq!(slip.about, "plug_x_mm");
        assert!(slip.what.contains("reading 3, 98.1 mm, lies 1.70 mm off: the middle of its 3"), "{slip}");
        assert!(!slip.what.contains("reading 1") && slip.hint.contains("measure again"), "{slip}");
        let two = with(&[99.8, 99.5]).unwrap_err();
        assert!(two.what.contains("99.5 and 99.8 mm") && two.what.contains("0.30 mm apart"), "{two}");
        let many = with(&[99.8, 99.8, 99.8, 99.8, 99.8, 99.8, 99.8, 99.8, 99.8, 99.5, 99.5, 99.5, 99.4]);
        assert!(many.unwrap_err().what.contains("reading 12, 99.5 mm, lies 0.30 mm off; 1 more:"));
        // What a laser repeats and callipers resolve is let by, and counts as uncertainty.
        let true_ = with(&[99.8, 99.95, 99.65]).unwrap();
        assert!(true_.correct_x.plus_minus > 0.0008, "{true_:?}");
        assert!(with(&[99.8, 100.0]).is_ok(), "the limit itself is let by");
        // Coarse callipers may differ by more.
        let m = Measured { callipers_mm: 0.1, plug_x_mm: vec![99.8, 99.5], ..measured(0.2, 1.0, 1.0, 0.0) };
        assert!(found(&m).is_ok());
        let m = Measured { diagonal_falling_mm: vec![141.1, 141.2, 141.9], ..m };
        assert_eq!(found(&m).unwrap_err().about, "diagonal_falling_mm");
    }

    #[test]
    fn figures_are_never_hundreds_of_digits_long() {
        for wild in [1.0e308, -1.0e308, 1.0e-300] {
            let m = Measured { plug_x_mm: vec![wild], ..measured(0.2, 1.0, 1.0, 0.0) };
            let said = found(&m).unwrap_err().what;
            assert!(said.len() < 120 && said.contains(&format!("{wild:e}")), "{said}");
        }
    }

    #[test]
    fn a_machine_that_is_known_is_found_again() {
        let f = found(&measured(0.23, 1.002, 0.9985, 0.003)).unwrap();
        assert!((f.kerf_mm.value - 0.23).abs() < 1e-9);
        assert!((f.correct_x.value * 1.002 - 1.0).abs() < 1e-9);
        assert!((f.correct_y.value * 0.9985 - 1.0).abs() < 1e-9);
        assert!((f.lean_mm_per_100.value - 0.3).abs() < 1e-9);
    }

    /// Worked by hand after JCGM 100:2008: ± 0.02 mm is a standard uncertainty of 0.02/√3 = 0.011547 mm; half the
    /// difference of two such 0.008165; the gap's share 0.011547/11 = 0.0010497; weighted
    /// 1/√(2/0.008165² + 1/0.0010497²) = 0.0010328, expanded 0.0020656.
    #[test]
    fn uncertainty_follows_the_guide() {
        let f = found(&measured(0.2, 1.0, 1.0, 0.0)).unwrap();
        assert!((f.kerf_mm.plus_minus - 0.0020656).abs() < 1e-6, "{}", f.kerf_mm.plus_minus);
        // u(s) = u·√2/2N, of its inverse the same at s = 1: 0.011547·√2/200 = 8.165e-5.
        assert!((f.correct_x.plus_minus - 2.0 * 8.165e-5).abs() < 1e-8, "{}", f.correct_x.plus_minus);
    }

    /// JCGM 100:2008, 4.2.3: the deviation of a mean of n readings is s/√n. 100.00, 100.02, 100.04: s = 0.02.
    #[test]
    fn repeated_readings_count_by_the_deviation_of_their_mean() {
        let (value, u) = mean("x", &vec![100.0, 100.02, 100.04], 100.0, 0.0).unwrap();
        assert!((value - 100.02).abs() < 1e-9 && (u - 0.02 / 3.0_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn slips_of_the_pen_are_named() {
        let good = measured(0.2, 1.0, 1.0, 0.0);
        let none = Measured { plug_x_mm: vec![], ..good.clone() };
        assert_eq!(found(&none).unwrap_err().about, "plug_x_mm");
        let inches = Measured { hole_y_mm: vec![3.94], ..good.clone() };
        assert!(found(&inches).unwrap_err().what.contains("near 100.0 mm"));
        let wild = Measured { gap_mm: vec![f64::NAN], ..good.clone() };
        assert!(found(&wild).is_err());
        let swapped = Measured {
            plug_x_mm: good.hole_x_mm.clone(),
            hole_x_mm: good.plug_x_mm.clone(),
            plug_y_mm: good.hole_y_mm.clone(),
            hole_y_mm: good.plug_y_mm.clone(),
            gap_mm: vec![],
            ..good
        };
        assert!(found(&swapped).unwrap_err().hint.contains("mixed up"));
    }
}
