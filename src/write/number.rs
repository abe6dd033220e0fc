//! Numbers as every writer of pictures and cut files writes them.

/// Three decimals at most, a point in every country, no trailing noughts, never `-0`.
///
/// A number that is not finite has no place in a file: it is written as 0, and the reading back that
/// follows every cut file would find it.
pub fn number(value: f64) -> String {
    if !value.is_finite() {
        return "0".into();
    }
    let thousandths = value * 1000.0;
    let whole = thousandths.round();
    // Plain figures are put together here, many times faster; near a tie or beyond, the exact way decides.
    if thousandths.abs() >= 1e12 || ((thousandths - whole).abs() - 0.5).abs() < 1e-3 {
        return exactly(value);
    }
    let (figure, sign) = (whole.abs() as u64, if whole < 0.0 { "-" } else { "" });
    let (units, rest) = (figure / 1000, figure % 1000);
    match rest {
        0 => format!("{sign}{units}"),
        r if r % 100 == 0 => format!("{sign}{units}.{}", r / 100),
        r if r % 10 == 0 => format!("{sign}{units}.{:02}", r / 10),
        r => format!("{sign}{units}.{r:03}"),
    }
}

fn exactly(value: f64) -> String {
    let mut text = format!("{value:.3}");
    text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    if text == "-0" { "0".into() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_short_way_writes_what_the_exact_one_does(
            value in prop_oneof![-2000.0..2000.0f64, -1.0..1.0f64, any::<f64>(), (-9999..9999).prop_map(|k| f64::from(k) / 2000.0)]
        ) {
            let value: f64 = value;
            prop_assume!(value.is_finite());
            prop_assert_eq!(number(value), exactly(value));
        }
    }

    #[test]
    fn numbers_are_short_and_never_minus_nought() {
        for (value, text) in [
            (0.0, "0"),
            (-0.0, "0"),
            (-0.0004, "0"),
            (-0.0006, "-0.001"),
            (12.5, "12.5"),
            (1480.0, "1480"),
            (100.0, "100"),
            (0.1 + 0.2, "0.3"),
            (-2.7166, "-2.717"),
            (f64::NAN, "0"),
            (f64::NEG_INFINITY, "0"),
        ] {
            assert_eq!(number(value), text, "{value}");
        }
    }
}
