//! The time of day, for notes of when something was done. No result depends on it.

use std::time::{SystemTime, UNIX_EPOCH};

/// Now, in universal time, as `2026-11-25T14:03:09`.
#[must_use]
pub fn now_text() -> String {
    #[expect(
        clippy::disallowed_methods,
        reason = "only written beside edits and into file names, never computed with"
    )]
    let now = SystemTime::now();
    text_of(
        now.duration_since(UNIX_EPOCH)
            .map_or(0, |since| since.as_secs()),
    )
}

/// Seconds since 1970 as a date and time. Source: the proleptic Gregorian calendar counted in eras of 400 years.
fn text_of(seconds: u64) -> String {
    let (days, rest) = (seconds / 86_400, seconds % 86_400);
    let shifted = days + 719_468;
    let (era, day_of_era) = (shifted / 146_097, shifted % 146_097);
    let year_of_era =
        (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 {
        month_from_march + 3
    } else {
        month_from_march - 9
    };
    let year = year_of_era + era * 400 + u64::from(month <= 2);
    format!(
        "{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}",
        rest / 3600,
        rest / 60 % 60,
        rest % 60
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_moments() {
        assert_eq!(text_of(0), "1970-01-01T00:00:00");
        assert_eq!(text_of(951_782_400), "2000-02-29T00:00:00");
        assert_eq!(text_of(1_795_651_200), "2026-11-26T00:00:00");
    }
}
