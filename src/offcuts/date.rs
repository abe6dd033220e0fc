//! Days as they are written on the shelf.

use std::time::{SystemTime, UNIX_EPOCH};

/// Today by Universal Time, `2026-11-25` (ISO 8601).
pub fn today() -> String {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    of_days((seconds / 86_400) as i64)
}

/// The day so many days after 1970-01-01, by Howard Hinnant's `civil_from_days` ("chrono-Compatible Low-Level Date
/// Algorithms", 2013), which counts years from March so that the leap day comes last.
fn of_days(days: i64) -> String {
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z.rem_euclid(146_097);
    let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let day = doy - (153 * mp + 2) / 5 + 1;
    let month = if mp < 10 { mp + 3 } else { mp - 9 };
    let year = yoe + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

/// True for a day of the calendar written `2026-11-25`.
pub fn is_day(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [y, m, d] = parts[..] else { return false };
    let figures = |t: &str, n: usize| t.len() == n && t.bytes().all(|b| b.is_ascii_digit());
    if !(figures(y, 4) && figures(m, 2) && figures(d, 2)) {
        return false;
    }
    let number = |t: &str| t.parse::<u32>().unwrap_or(0);
    let (y, m, d) = (number(y), number(m), number(d));
    let leap = y % 4 == 0 && (y % 100 != 0 || y % 400 == 0);
    let last = match m {
        4 | 6 | 9 | 11 => 30,
        2 => 28 + u32::from(leap),
        1..=12 => 31,
        _ => return false,
    };
    (1..=last).contains(&d)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Days since 1970-01-01 as given by POSIX time: 951 782 400 s is 2000-02-29, 4 107 456 000 s is 2100-02-28.
    #[test]
    fn days_are_told_right_across_leap_years() {
        for (seconds, day) in [
            (0, "1970-01-01"),
            (951_782_400, "2000-02-29"),
            (1_709_164_800, "2024-02-29"),
            (1_735_603_200, "2024-12-31"),
            (4_107_456_000, "2100-02-28"),
            (4_107_542_400, "2100-03-01"),
        ] {
            assert_eq!(of_days(seconds / 86_400), day);
            assert!(is_day(day));
        }
        assert!(is_day(&today()));
        for odd in ["2100-02-29", "2026-13-01", "2026-1-01", "yesterday", "", "2026-04-31", "2026-04-00"] {
            assert!(!is_day(odd), "{odd}");
        }
    }
}
