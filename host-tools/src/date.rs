//! Days of the calendar, written as `2026-12-31` (ISO 8601). No clock is read here.

use std::fmt;

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;

/// A day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date(jiff::civil::Date);

impl Date {
    /// The day that a text names; none if there is no such day from 1970 to 9999, or it is written otherwise.
    pub fn read(text: &str) -> Option<Self> {
        let mut parts = text.split('-');
        let mut next = |digits: usize| {
            let part = parts.next().filter(|part| part.len() == digits && part.bytes().all(|b| b.is_ascii_digit()))?;
            part.parse::<i16>().ok()
        };
        let (year, month, day) = (next(4)?, next(2)?, next(2)?);
        if parts.next().is_some() || year < 1970 {
            return None;
        }
        jiff::civil::Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok().map(Self)
    }
    /// The day of an instant, UTC.
    pub fn of(at: Timestamp) -> Self {
        Self(Offset::UTC.to_datetime(at).date())
    }
}

/// From here on, some nine years, a time is no longer one that a recording counts from its own beginning.
const DATED_US: u64 = 300_000_000_000_000;

/// A time of a recording that is counted from the beginning of 1970, UTC, as a date to the millisecond (`2026-03-29T00:59:59.990Z`). None of
/// one before July 1979, which is taken for a count from anywhere, or past the year 9999.
pub fn instant(us: u64) -> Option<String> {
    let (seconds, milli) = (i64::try_from(us / 1_000_000).ok()?, us / 1_000 % 1_000);
    let at = at_second(seconds).filter(|_| us >= DATED_US)?;
    Some(format!("{at}.{milli:03}Z"))
}

/// The date and time of day so many seconds after the beginning of 1970, UTC; none past the year 9999.
pub fn at_second(seconds: i64) -> Option<DateTime> {
    Timestamp::from_second(seconds).ok().map(|at| Offset::UTC.to_datetime(at))
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::{Date, instant};

    #[test]
    fn instants_are_dates() {
        assert_eq!(instant(1_774_745_999_990_999).as_deref(), Some("2026-03-29T00:59:59.990Z"));
        assert_eq!(instant(299_999_999_999_999), None);
        assert_eq!(instant(u64::MAX), None);
    }

    #[test]
    fn a_day_is_read_as_it_is_written_or_not_at_all() {
        let text = |date: Option<Date>| date.map(|date| date.to_string());
        assert_eq!(text(Date::read("2024-02-29")), Some("2024-02-29".into()));
        for wrong in
            ["2026-02-29", "2026-13-01", "2026-1-01", "31.12.2026", "2026-12-31-1", "+026-12-31", "1969-01-01", ""]
        {
            assert_eq!(Date::read(wrong), None, "{wrong}");
        }
        assert!(Date::read("2026-12-31") < Date::read("2027-01-01"));
    }
}
