//! Days as they are written on the shelf.

use std::time::SystemTime;

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// Today by the maker's clock, `2026-11-25` (ISO 8601): the day in the time zone that this computer is set to (`TZ`, else the
/// system's own setting, on Windows and macOS too), and by Universal Time where that is not known.
pub fn today() -> String {
    day_of(SystemTime::now(), TimeZone::system())
}

/// The day that a moment falls on in a time zone; the last of the calendar where the clock is beyond reason.
fn day_of(moment: SystemTime, zone: TimeZone) -> String {
    let moment = Timestamp::try_from(moment).unwrap_or(Timestamp::MAX);
    moment.to_zoned_datetime(zone).date().to_string()
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
    use std::time::{Duration, UNIX_EPOCH};

    /// Days as POSIX time gives them: 951 782 400 s is the beginning of 2000-02-29, 4 107 456 000 s that of 2100-02-28.
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
            assert_eq!(day_of(UNIX_EPOCH + Duration::from_secs(seconds), TimeZone::UTC), day);
            assert!(is_day(day));
        }
        assert!(is_day(&today()));
        for odd in ["2100-02-29", "2026-13-01", "2026-1-01", "yesterday", "", "2026-04-31", "2026-04-00"] {
            assert!(!is_day(odd), "{odd}");
        }
        assert!(is_day(&day_of(UNIX_EPOCH + Duration::from_secs(1 << 40), TimeZone::UTC)));
    }

    #[test]
    fn the_day_is_that_of_the_makers_clock() {
        let half_past_eleven_at_night = UNIX_EPOCH + Duration::from_secs(951_782_400 + 84_600);
        let day = |zone: &str| day_of(half_past_eleven_at_night, TimeZone::posix(zone).unwrap());
        assert_eq!(day("UTC0"), "2000-02-29");
        assert_eq!(day("EAST-1"), "2000-03-01", "an hour to the east it is past midnight");
        assert_eq!(day("WEST+12"), "2000-02-29");
        // Clocks are put forward on the last Sunday in March: half past eleven is past midnight from then on.
        let spring = UNIX_EPOCH + Duration::from_secs(954_026_000 + 86_400);
        let zone = "NIL0SUM,M3.5.0/1,M10.5.0";
        assert_eq!(
            day_of(spring, TimeZone::posix(zone).unwrap()),
            day_of(spring, TimeZone::posix("SUM-1").unwrap())
        );
    }
}
