//! Times of rows that are a scan apart, as most are: there it is enough to see whether the next one is written as was to be expected.

use super::clock::Clock;
use super::fault::Bad;

/// Digits of a time that is looked at here.
const MOST_DIGITS: usize = 15;
/// The latest time that there is, microseconds.
const LATEST_US: u64 = i64::MAX.unsigned_abs();

/// The time of the row before, as it was written and as it is meant.
#[derive(Debug, Default)]
pub(super) struct Stamps {
    /// Its digits, if it has nothing else; empty where nothing can be expected.
    text: Vec<u8>,
    at_us: u64,
    /// Those of a row further on.
    ahead: Vec<u8>,
    /// What is added from scan to scan as the times are written; none where that is no whole number.
    step: Option<u64>,
    /// The digit in which that shows, counted from the end, and by how much it grows: mostly one, and no more.
    grows: Option<(usize, u8)>,
}

impl Stamps {
    pub(super) fn new(clock: &Clock, scan_us: u64) -> Self {
        let step = clock.counts(scan_us).filter(|step| *step > 0);
        let digits = step.map(|step| step.to_string()).unwrap_or_default();
        let (first, zeros) = digits.split_at_checked(1).unwrap_or_default();
        let one = first.parse().ok().filter(|_| zeros.bytes().all(|digit| digit == b'0'));
        Self { step, grows: one.map(|by| (digits.len(), by)), ..Self::default() }
    }
    /// As [`Clock::microseconds`].
    pub(super) fn microseconds(
        &mut self,
        clock: &Clock,
        field: &[u8],
        before: Option<u64>,
        scan_us: u64,
    ) -> Result<u64, Bad> {
        if let Some(step) = self.step.filter(|_| !self.text.is_empty()) {
            if !grow(&mut self.text, self.grows) {
                add(&mut self.text, step);
            }
            let at_us = self.at_us.saturating_add(scan_us);
            if !self.text.is_empty() && self.text == field && at_us <= LATEST_US {
                self.at_us = at_us;
                return Ok(at_us);
            }
        }
        self.text.clear();
        let at_us = clock.microseconds(field, before, scan_us)?;
        if field.len() < MOST_DIGITS && field.iter().all(u8::is_ascii_digit) {
            self.text.extend_from_slice(field);
            self.at_us = at_us;
        }
        Ok(at_us)
    }

    /// Looks ahead from the last row: for how many scans at most, each of which is expected to be written as [`Stamps::next`] says. 0 where nothing
    /// can be expected.
    pub(super) fn look_ahead(&mut self, scan_us: u64) -> u32 {
        self.ahead.clone_from(&self.text);
        let most = LATEST_US.saturating_sub(self.at_us).checked_div(scan_us).unwrap_or(0);
        if self.text.is_empty() || self.step.is_none() { 0 } else { u32::try_from(most).unwrap_or(u32::MAX) }
    }
    /// The digits of the next row's time; empty where it is too long.
    pub(super) fn next(&mut self) -> &[u8] {
        if !grow(&mut self.ahead, self.grows) {
            add(&mut self.ahead, self.step.unwrap_or(0));
        }
        &self.ahead
    }
    /// So many rows were as expected. Gives the time of the last of them.
    pub(super) fn took(&mut self, rows: u32, scan_us: u64) -> u64 {
        add(&mut self.text, self.step.unwrap_or(0).saturating_mul(rows.into()));
        self.at_us = self.at_us.saturating_add(scan_us.saturating_mul(rows.into()));
        self.at_us
    }
}

/// Lets one digit of a number grow, so far from the end; false if that is not all.
fn grow(digits: &mut [u8], by: Option<(usize, u8)>) -> bool {
    let Some((behind, by)) = by else { return false };
    let Some(digit) = digits.len().checked_sub(behind).and_then(|at| digits.get_mut(at)) else { return false };
    let room = *digit <= b'9' - by;
    if room {
        *digit += by;
    }
    room
}

/// Adds to a number that is written in digits; one that becomes too long is forgotten.
fn add(digits: &mut Vec<u8>, mut more: u64) {
    for digit in digits.iter_mut().rev() {
        if more == 0 {
            return;
        }
        let sum = u64::from(*digit & 15) + more % 10;
        more = more / 10 + sum / 10;
        *digit = b'0' + u8::try_from(sum % 10).unwrap_or(0);
    }
    if more > 0 {
        let text = String::from_utf8_lossy(digits).into_owned();
        digits.clear();
        digits.extend_from_slice(format!("{more}{text}").as_bytes());
    }
    if digits.len() >= MOST_DIGITS {
        digits.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::{Clock, Stamps};

    /// What is expected is what each time says by itself.
    #[test]
    fn times_that_are_expected_are_those_that_are_read() {
        for (written, step, scan_us) in [
            ("ms", 10, 10_000),
            ("us", 10_000, 10_000),
            ("ns", 7_000_500, 7_000),
            ("s", 1, 1_000_000),
            ("ms", 1, 10_000),
            ("s", 1, 10_000),
        ] {
            let clock = Clock::read(written).unwrap();
            for start in [0, 985, 99_999_999, 99_999_999_990_000, 999_999_999_999_990, 9_223_372_036_700] {
                let mut stamps = Stamps::new(&clock, scan_us);
                for row in 0..300_u64 {
                    let mut time = (start + row * step + u64::from(row % 97 == 3)).to_string();
                    if row % 41 == 0 {
                        time += ".0";
                    }
                    let one = stamps.microseconds(&clock, time.as_bytes(), None, scan_us);
                    assert_eq!(one, clock.microseconds(time.as_bytes(), None, scan_us), "{time} {written}");
                }
                assert!(stamps.microseconds(&clock, b"x", None, scan_us).is_err());
            }
        }
    }
}
