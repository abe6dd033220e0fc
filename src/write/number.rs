//! Numbers as every writer of pictures and cut files writes them.

/// Three decimals at most, a point in every country, no trailing noughts, never `-0`.
///
/// A number that is not finite has no place in a file: it is written as 0, and the reading back that
/// follows every cut file would find it.
pub fn number(value: f64) -> String {
    if !value.is_finite() {
        return "0".into();
    }
    let mut text = format!("{value:.3}");
    text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    if text == "-0" { "0".into() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

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
