//! Quantities in base units, and their rounding to the strict side. All arithmetic is exact.

use super::Resolver;
use crate::station::{InputId, InputKind, Scans};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::tree::{Dimension, Quantity};

/// The greatest limit a plan holds.
const MOST: i128 = 1 << 28;

/// To which side a limit is rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Up,
    Down,
}

/// A quotient rounded to a side, and whether it was not whole. The divisor is positive.
pub(super) fn divide(number: i128, by: i128, side: Side) -> (i128, bool) {
    let (down, rest) = (number.div_euclid(by.max(1)), number.rem_euclid(by.max(1)));
    match side {
        Side::Up if rest != 0 => (down + 1, true),
        _ => (down, rest != 0),
    }
}

/// A quantity as written.
pub(super) fn written(q: &Quantity) -> String {
    let digits = q.mantissa.unsigned_abs().to_string();
    let decimals = usize::from(q.decimals);
    let digits = format!("{digits:0>width$}", width = decimals + 1);
    let (whole, part) = digits.split_at(digits.len().saturating_sub(decimals));
    let sign = if q.mantissa < 0 { "-" } else { "" };
    let point = if decimals == 0 { "" } else { "." };
    format!("{sign}{whole}{point}{part} {}", q.unit.text())
}

impl Resolver<'_> {
    /// A quantity of a dimension, in millionths of its base unit.
    fn base(&mut self, q: &Quantity, dimension: Dimension) -> Option<i128> {
        if q.unit.dimension() != dimension {
            let finding = Finding::new(Code::UnitWrong, format!("{} is {}", written(q), q.unit.dimension().text()));
            self.find(finding.at(q.place, format!("{} is expected", dimension.text())));
            return None;
        }
        Some(exact(q))
    }
    /// As [`Self::base`], and not negative.
    fn positive(&mut self, q: &Quantity, dimension: Dimension) -> Option<i128> {
        let value = self.base(q, dimension)?;
        if value < 0 {
            self.find(
                Finding::new(Code::NumberSenseless, format!("{} cannot be negative", written(q)))
                    .at(q.place, "not negative"),
            );
            return None;
        }
        Some(value)
    }
    /// A limit as a plan holds it.
    pub(super) fn small(&mut self, value: i128, q: &Quantity) -> Option<u32> {
        if value > MOST {
            self.find(
                Finding::new(Code::TooLarge, format!("{} is too large", written(q)))
                    .at(q.place, "beyond what a controller keeps exactly"),
            );
            return None;
        }
        u32::try_from(value.max(0)).ok()
    }
    /// Tells of a rounding.
    fn rounded(&mut self, q: &Quantity, became: &str) {
        self.find(
            Finding::new(Code::LimitRounded, format!("{} is taken as {became}", written(q)))
                .at(q.place, "rounded to the strict side"),
        );
    }
    /// A time in microseconds, rounded down.
    pub(super) fn micros(&mut self, q: &Quantity) -> Option<i128> {
        self.positive(q, Dimension::Time).map(|v| divide(v, PARTS, Side::Down).0)
    }
    /// A time in microseconds as the station keeps it.
    pub(super) fn micros_small(&mut self, q: &Quantity) -> Option<u32> {
        let us = self.micros(q)?;
        u32::try_from(us).ok().or_else(|| {
            self.find(
                Finding::new(Code::TooLarge, format!("{} is too long", written(q))).at(q.place, "more than an hour"),
            );
            None
        })
    }
    /// A time in scans.
    pub(super) fn scans(&mut self, q: &Quantity, side: Side) -> Option<Scans> {
        let time = self.positive(q, Dimension::Time)?;
        let scan = i128::from(self.station.scan_us) * PARTS;
        let (scans, rounded) = divide(time, scan, side);
        let scans = self.small(scans, q)?;
        if rounded {
            self.rounded(
                q,
                &format!("{scans} scans, {} ms", u64::from(scans) * u64::from(self.station.scan_us) / 1_000),
            );
        }
        Some(scans)
    }
    /// A length in millimetres.
    pub(super) fn mm(&mut self, q: &Quantity, side: Side) -> Option<u32> {
        let length = self.positive(q, Dimension::Length)?;
        let (mm, rounded) = divide(length, 1_000 * PARTS, side);
        let mm = self.small(mm, q)?;
        if rounded {
            self.rounded(q, &format!("{mm} mm"));
        }
        Some(mm)
    }
    /// A speed, as travel in a number of scans, in millimetres.
    pub(super) fn travel_in(&mut self, q: &Quantity, scans: Scans, side: Side) -> Option<u32> {
        let (mm, rounded) = self.travel_exact(q, scans, side)?;
        if rounded {
            self.rounded(q, &format!("{mm} mm in {scans} scans"));
        }
        Some(mm)
    }
    /// As [`Self::travel_in`], and whether it was rounded, without telling of it.
    pub(super) fn travel_exact(&mut self, q: &Quantity, scans: Scans, side: Side) -> Option<(u32, bool)> {
        let speed = self.positive(q, Dimension::Speed)?;
        let time = i128::from(scans) * i128::from(self.station.scan_us);
        let (mm, rounded) = divide(speed * time, 1_000 * PARTS * 1_000_000, side);
        Some((self.small(mm, q)?, rounded))
    }
    /// A speed over the span of a pace.
    pub(super) fn over_span(&mut self, q: &Quantity, pace: InputId, side: Side) -> Option<u32> {
        let span = self.span(pace);
        self.travel_in(q, span, side)
    }
    /// Span of a pace.
    pub(super) fn span(&self, pace: InputId) -> Scans {
        match self.station.inputs.get(pace).map(|i| &i.kind) {
            Some(InputKind::Pace(p)) => p.span,
            _ => 1,
        }
    }
    /// A current in microampere, rounded down.
    pub(super) fn current(&mut self, q: &Quantity) -> Option<i32> {
        let current = self.positive(q, Dimension::Current)?;
        let ua = divide(current, 1_000 * PARTS, Side::Down).0;
        self.small(ua, q).and_then(|ua| i32::try_from(ua).ok())
    }
    /// A deceleration in mm/s2.
    pub(super) fn deceleration(&mut self, q: &Quantity, side: Side) -> Option<u32> {
        let value = self.positive(q, Dimension::Acceleration)?;
        let value = divide(value, 1_000 * PARTS, side).0;
        self.small(value, q)
    }
}

/// Parts of a base unit that are kept: nine decimals of the smallest unit are exact.
const PARTS: i128 = 1_000_000;

/// A quantity in millionths of the base unit of its dimension.
pub(super) fn exact(q: &Quantity) -> i128 {
    let scale = 10_i128.pow(u32::from(q.decimals.min(9)));
    i128::from(q.mantissa) * i128::from(q.unit.base()) * PARTS / scale
}
