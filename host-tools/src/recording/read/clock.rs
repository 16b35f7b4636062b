//! The time column: a count of some unit, or dates with the time of day and the zone whose clocks showed it.
//!
//! Dates become microseconds from the beginning of 1970, UTC: an hour that a clock change doubles or leaves out is then an hour like any other.
//! Where nobody can tell which of two hours a time belongs to, it is an error and never a guess.

use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone, TimeZoneDatabase};

use super::fault::{Bad, quoted};
use super::marks::mend;
use super::number::signed;
use crate::date::instant;

/// How times are written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Clock {
    /// A decimal number with this sign: times ten to the power of the first, over the second, it is microseconds.
    Count(u32, i64, u8),
    /// A date and the time of day.
    Date(Vec<Part>, Option<Zone>),
}

/// A part of a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    /// A number of so many digits: year, month, day, hour, minute, second in their order from 0.
    Number(usize, usize),
    /// What lies behind the decimal sign of the seconds, a point or a comma (ISO 8601-1, clause 5.3.1.4, from memory); it may be left out.
    Behind,
    /// A letter as it is; `T` may be a blank.
    Letter(u8),
}

/// What the clocks of a zone show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Zone {
    /// So many seconds more than UTC, all year.
    Fixed(i64),
    /// By the rules of a place.
    Place(TimeZone),
}

/// The parts of a date and their names in a pattern; in the order of [`Part::Number`].
const NAMES: [&str; 6] = ["YYYY", "MM", "DD", "hh", "mm", "ss"];
/// What `# time: date` stands for, ISO 8601.
const ISO: &str = "YYYY-MM-DDThh:mm:ss";
/// Microseconds of a second.
const SECOND: i64 = 1_000_000;
/// Microseconds by which time may run backwards without the clock having gone through an hour again: rows out of their order, or a clock that was
/// set. Five minutes, common practice, no source.
const STEP_US: u64 = 300_000_000;

impl Clock {
    /// What `# time:` says.
    pub(super) fn read(text: &str) -> Option<Self> {
        Some(match text {
            "ns" => Self::Count(0, 1_000, b'.'),
            "us" => Self::Count(0, 1, b'.'),
            "ms" => Self::Count(3, 1, b'.'),
            "s" => Self::Count(6, 1, b'.'),
            "date" => Self::Date(pattern(ISO)?, None),
            other => Self::Date(pattern(other)?, None),
        })
    }

    /// Times are counted: what a time means hangs on nothing else.
    pub(super) fn is_count(&self) -> bool {
        matches!(self, Self::Count(..))
    }

    /// The time of a whole count, microseconds: as [`Clock::microseconds`]; none where times are not counted, or it is no time.
    pub(super) fn counted(&self, count: i64) -> Option<u64> {
        let Self::Count(places, over, _) = self else { return None };
        u64::try_from(count.checked_mul(10_i64.checked_pow(*places)?)? / over).ok()
    }

    /// So many microseconds as they are counted, if that is a whole number.
    pub(super) fn counts(&self, us: u64) -> Option<u64> {
        let Self::Count(places, over, _) = self else { return None };
        let (count, unit) = (us.checked_mul(u64::try_from(*over).ok()?)?, 10_u64.checked_pow(*places)?);
        (count % unit == 0).then_some(count / unit)
    }

    /// The same with what `# zone:` and `# decimal sign:` say.
    pub(super) fn within(self, zone: Option<Zone>, decimal_sign: u8) -> Result<Self, Bad> {
        match (self, zone) {
            (Self::Date(parts, _), zone) => Ok(Self::Date(parts, zone)),
            (Self::Count(places, over, _), None) => Ok(Self::Count(places, over, decimal_sign)),
            (Self::Count(..), Some(_)) => Err(Bad::new(
                "a zone where times are counted: a count needs none",
                "`# time: date`, or no `# zone:`",
                "remove the line",
            )),
        }
    }

    /// The time of a field, microseconds. `before` is the one before it, `scan_us` how far apart they are: only where clocks went back do they
    /// matter.
    pub(super) fn microseconds(&self, field: &[u8], before: Option<u64>, scan_us: u64) -> Result<u64, Bad> {
        let (parts, zone) = match self {
            Self::Count(places, over, sign) => {
                // What lies below 0 is none, however little.
                let count = signed(field, *places, *sign).filter(|count| *count >= 0);
                let count = count.and_then(|count| u64::try_from(count / over).ok());
                return count.ok_or_else(|| no_count(field, *sign));
            }
            Self::Date(parts, zone) => (parts, zone),
        };
        let (at, micro, offset) = written(parts, field).ok_or_else(|| no_date(field))?;
        let local = Offset::UTC.to_timestamp(at).map_err(|_| no_date(field))?.as_second();
        let later_by = |offset: Offset| i64::from(offset.seconds());
        let (early, late) = match (offset, zone) {
            (Some(offset), _) => (offset, None),
            (None, Some(Zone::Fixed(offset))) => (*offset, None),
            (None, Some(Zone::Place(zone))) => match zone.to_ambiguous_timestamp(at).offset() {
                AmbiguousOffset::Unambiguous { offset } => (later_by(offset), None),
                AmbiguousOffset::Gap { .. } => return Err(no_such_hour(field)),
                AmbiguousOffset::Fold { before, after } => (later_by(before), Some(later_by(after))),
            },
            (None, None) => return Err(no_zone(field)),
        };
        let instant = |offset: i64| {
            let micros = (local - offset).checked_mul(SECOND)?.checked_add(micro)?;
            u64::try_from(micros).ok()
        };
        let early = instant(early).ok_or_else(|| no_date(field))?;
        match late.and_then(instant) {
            None => Ok(early),
            Some(late) => goes_on(early, late, before, scan_us).ok_or_else(|| doubled(field)),
        }
    }
}

/// Which of two times an hour that came twice is meant: the one that goes on where the time before it ended; or the later one, if that alone lies
/// behind it and the earlier one so far before it that no clock was merely set. None if that cannot be told.
fn goes_on(early: u64, late: u64, before: Option<u64>, scan_us: u64) -> Option<u64> {
    let before = before?;
    let on_time = |at: &u64| *at == before || 2 * at.abs_diff(before + scan_us) <= scan_us;
    match [early, late].into_iter().find(on_time) {
        Some(at) => Some(at),
        None if late > before && before.saturating_sub(early) > STEP_US => Some(late),
        None => None,
    }
}

/// Reads a pattern in which each part stands once.
fn pattern(text: &str) -> Option<Vec<Part>> {
    let (mut parts, mut rest, mut seen) = (Vec::new(), text, [false; 6]);
    while let Some(letter) = rest.bytes().next() {
        let named = NAMES.iter().enumerate().find(|(_, name)| rest.starts_with(**name));
        if let Some((number, name)) = named {
            if std::mem::replace(seen.get_mut(number)?, true) {
                return None;
            }
            parts.push(Part::Number(number, name.len()));
            if number + 1 == NAMES.len() {
                parts.push(Part::Behind);
            }
            rest = rest.get(name.len()..)?;
        } else {
            if !b"-/.: T".contains(&letter) {
                return None;
            }
            parts.push(Part::Letter(letter));
            rest = rest.get(1..)?;
        }
    }
    seen.iter().all(|seen| *seen).then_some(parts)
}

/// A date as it is written, the microseconds of its second, and by how many seconds it says that its clock is ahead of UTC.
fn written(parts: &[Part], field: &[u8]) -> Option<(DateTime, i64, Option<i64>)> {
    let (mut rest, mut numbers, mut micro) = (field, [0_i16; 6], 0);
    for part in parts {
        match *part {
            Part::Number(number, digits) => {
                let (written, behind) = rest.split_at_checked(digits)?;
                *numbers.get_mut(number)? = digits_of(written).and_then(|value| i16::try_from(value).ok())?;
                rest = behind;
            }
            Part::Behind => {
                if let [sign @ (b'.' | b','), behind @ ..] = rest {
                    let digits = behind.iter().position(|byte| !byte.is_ascii_digit()).unwrap_or(behind.len());
                    micro = signed(rest.get(..=digits)?, 6, *sign)?;
                    rest = behind.get(digits..)?;
                }
            }
            Part::Letter(letter) => {
                let (first, behind) = rest.split_first()?;
                if *first != letter && !(letter == b'T' && *first == b' ') {
                    return None;
                }
                rest = behind;
            }
        }
    }
    let [year, month, day, hour, minute, second] = numbers;
    let small = |number: i16| i8::try_from(number).ok();
    let at = DateTime::new(year, small(month)?, small(day)?, small(hour)?, small(minute)?, small(second)?, 0).ok()?;
    let rest = if let [b' ', offset @ ..] = rest { offset } else { rest };
    let offset = if rest.is_empty() { None } else { Some(offset(rest)?) };
    (year >= 1970).then_some((at, micro, offset))
}

/// `Z`, `+01:00`, `+0100` or `+01`, in seconds.
fn offset(text: &[u8]) -> Option<i64> {
    let (sign, digits) = match text {
        b"Z" => return Some(0),
        [b'+', digits @ ..] => (1, digits),
        [b'-', digits @ ..] => (-1, digits),
        _ => return None,
    };
    let (hours, minutes) = digits.split_at_checked(2)?;
    let minutes = if let [b':', minutes @ ..] = minutes { minutes } else { minutes };
    let minutes = match minutes.len() {
        0 => Some(0),
        2 => digits_of(minutes),
        _ => None,
    }?;
    let hours = digits_of(hours)?;
    (hours <= 15 && minutes < 60).then_some(sign * (hours * 60 + minutes) * 60)
}

fn digits_of(text: &[u8]) -> Option<i64> {
    text.iter().try_fold(0, |all, byte| byte.is_ascii_digit().then(|| all * 10 + i64::from(byte - b'0')))
}

impl Zone {
    /// What `# zone:` says.
    pub(super) fn read(text: &str) -> Option<Self> {
        if text == "UTC" {
            return Some(Self::Fixed(0));
        }
        // What this program carries, not what the machine has: the same input gives the same result everywhere.
        let place = || TimeZoneDatabase::bundled().get(text).ok().map(Self::Place);
        offset(text.as_bytes()).map(Self::Fixed).or_else(place)
    }
}

/// A time in words: microseconds, or the date if it is one.
pub(super) fn in_words(us: u64) -> String {
    instant(us).unwrap_or_else(|| format!("{us} us"))
}

fn no_count(field: &[u8], decimal_sign: u8) -> Bad {
    Bad::new(
        format!("{} is no time", quoted(field)),
        "a decimal number, at least 0, in the unit that `# time:` gives",
        mend(decimal_sign, field, "count from the start of the recording; dates need `# time: date`"),
    )
}

fn no_date(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no time", quoted(field)),
        "a date from 1970 on and the time of day, as `# time:` says, and at most `Z` or `+01:00` behind it",
        "say how they are written: `# time: DD.MM.YYYY hh:mm:ss`",
    )
}

fn no_zone(field: &[u8]) -> Bad {
    Bad::new(
        format!("nobody knows where on Earth it was {}", quoted(field)),
        "`Z` or `+01:00` behind the time, or a line `# zone:`",
        "write `# zone: UTC`, `# zone: +01:00` if the logger's clock was never changed, or the zone of the place",
    )
}

fn no_such_hour(field: &[u8]) -> Bad {
    Bad::new(
        format!("no clock of the zone showed {}: it was set forward over that hour", quoted(field)),
        "a time that there was",
        "the logger's clock was not changed for summer: say `# zone: +01:00`, or what it is ahead of UTC",
    )
}

fn doubled(field: &[u8]) -> Bad {
    Bad::new(
        format!(
            "the clocks of the zone showed {} twice, an hour apart, and it cannot be told which this is",
            quoted(field)
        ),
        "a row one scan after the one before, or times with what they are ahead of UTC",
        "export the times in UTC or with `+01:00` behind them, or begin the recording before that hour",
    )
}

#[cfg(test)]
mod tests {
    use super::{Clock, Zone};

    const SCAN: u64 = 10_000;

    fn clock(time: &str, zone: Option<&str>) -> Clock {
        Clock::read(time).unwrap().within(zone.map(|zone| Zone::read(zone).unwrap()), b'.').unwrap()
    }
    fn at(clock: &Clock, text: &str, before: Option<u64>) -> Result<u64, String> {
        clock.microseconds(text.as_bytes(), before, SCAN).map_err(|bad| bad.what)
    }

    /// Seconds from 1970, from Python's `datetime`.
    #[test]
    fn dates_are_instants() {
        let iso = clock("date", None);
        for (text, second, micro) in [
            ("1970-01-01T00:00:00Z", 0, 0),
            ("2026-03-29T01:59:59.990+01:00", 1_774_745_999, 990_000),
            ("2026-03-29 00:59:59.990000-00:00", 1_774_745_999, 990_000),
            ("2024-02-29 12:00:00 +0530", 1_709_188_200, 0),
            ("9999-12-30T00:00:00.9999999Z", 253_402_128_000, 999_999),
        ] {
            assert_eq!(at(&iso, text, None), Ok(second * 1_000_000 + micro), "{text}");
        }
        let own = clock("DD.MM.YYYY hh:mm:ss", Some("+01:00"));
        assert_eq!(at(&own, "29.03.2026 01:59:59.99", None), Ok(1_774_745_999_990_000));
        // What a time says itself is what holds.
        assert_eq!(at(&own, "29.03.2026 01:59:59.99+02:00", None), Ok(1_774_742_399_990_000));
        assert_eq!(at(&clock("ns", None), "1774745999990000999", None), Ok(1_774_745_999_990_000));
        assert!(at(&clock("ns", None), "-999", None).unwrap_err().contains("is no time"));
    }

    #[test]
    fn what_is_no_date_is_refused() {
        let iso = clock("date", Some("UTC"));
        for text in [
            "",
            "0",
            "2026-02-29T00:00:00",
            "2026-01-01T24:00:00",
            "2026-01-01T00:00:60",
            "1969-12-31T23:59:59",
            "2026-1-01T00:00:00",
            "2026-01-01T00:00:00.Z5",
            "2026-01-01T00:00:00+1",
            "2026-01-01T00:00:00+16:00",
            "2026-01-01",
            "+026-01-01T00:00:00",
        ] {
            assert!(at(&iso, text, None).unwrap_err().contains("is no time"), "{text}");
        }
        assert!(at(&clock("date", None), "2026-01-01T00:00:00", None).unwrap_err().contains("where on Earth"));
        for text in ["", "DD.MM.YYYY", "YYYY-MM-DD hh:mm:ss.fff", "YYYY-MM-DD hh:mm:ss ss", "days"] {
            assert_eq!(Clock::read(text), None, "{text}");
        }
        for text in ["", "CET+1", "Mars/Olympus", "1", "+1"] {
            assert_eq!(Zone::read(text), None, "{text}");
        }
        assert!(Clock::read("ms").unwrap().within(Zone::read("UTC"), b'.').is_err());
    }

    /// In Central Europe the clocks of 2026 go forward on 29 March at 01:00 UTC and back on 25 October at 01:00 UTC (directive 2000/84/EC).
    #[test]
    fn an_hour_that_is_left_out_or_doubled_is_no_guess() {
        let zone = clock("date", Some("Europe/Vienna"));
        let summer = at(&zone, "2026-03-29 03:00:00", None).unwrap();
        assert_eq!(at(&zone, "2026-03-29 01:59:59.99", None), Ok(summer - SCAN), "one scan, no gap of an hour");
        assert!(at(&zone, "2026-03-29 02:00:00", None).unwrap_err().contains("set forward"));
        let first = at(&zone, "2026-10-25 01:59:59.99", None).unwrap() + SCAN;
        let hour = 3_600_000_000;
        // Scan after scan through both hours.
        assert_eq!(at(&zone, "2026-10-25 02:00:00", Some(first - SCAN)), Ok(first));
        assert_eq!(at(&zone, "2026-10-25 02:59:59.99", Some(first + hour - 2 * SCAN)), Ok(first + hour - SCAN));
        assert_eq!(at(&zone, "2026-10-25 02:00:00", Some(first + hour - SCAN)), Ok(first + hour));
        assert_eq!(at(&zone, "2026-10-25 02:59:59.99", Some(first + 2 * hour - 2 * SCAN)), Ok(first + 2 * hour - SCAN));
        assert_eq!(at(&zone, "2026-10-25 03:00:00", Some(first + 2 * hour - SCAN)), Ok(first + 2 * hour));
        // Only the second is later; both are, and nothing goes on; nothing is known.
        assert_eq!(at(&zone, "2026-10-25 02:10:00", Some(first + hour / 2)), Ok(first + hour / 6 + hour));
        assert!(at(&zone, "2026-10-25 02:10:00", Some(first)).unwrap_err().contains("twice"));
        // Two rows change places, or the clock was set back a little: no hour has gone by.
        for back in [8_000, 20_000, 299_000_000] {
            let before = first + hour / 6 + back;
            assert!(at(&zone, "2026-10-25 02:10:00", Some(before)).unwrap_err().contains("twice"), "{back}");
        }
        assert!(at(&zone, "2026-10-25 02:10:00", Some(first + 2 * hour)).unwrap_err().contains("twice"));
        assert!(at(&zone, "2026-10-25 02:10:00", None).unwrap_err().contains("twice"));
        assert_eq!(at(&zone, "2026-10-25 02:10:00+01:00", None), Ok(first + hour / 6 + hour));
        // A clock that nobody changed has no such hours.
        let winter = clock("date", Some("+01:00"));
        assert_eq!(at(&winter, "2026-03-29 02:00:00", None), Ok(summer));
    }
}
