//! Limits of the watches that measure something, and what is left to them.

use super::event::Margin;
use crate::station::{InputKind, Measured, Station, Watch, WatchKind, ways::Way};

/// How a measured number of a watch is told, and its limits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Limits {
    /// Least number allowed.
    pub(crate) least: Option<u32>,
    /// Greatest number allowed.
    pub(crate) most: Option<u32>,
    /// Where the controller's counter ends: a number from here on is what it says of everything beyond, and no measurement.
    top: Option<u32>,
    /// Unit of what is told.
    pub(crate) unit: String,
    /// Millionths of the unit in one.
    one: i64,
    /// The value of 0, in ones.
    zero: i64,
    /// Counted in scans: coarse time stamps blur it.
    pub(crate) timed: bool,
    /// Counted in millimetres of this pace.
    pub(crate) rope: Option<usize>,
}

impl Limits {
    /// The limits of a watch, if it measures anything.
    pub(crate) fn of(station: &Station, watch: &Watch) -> Option<Self> {
        let window = |measured: Measured, least, most: Option<u32>| {
            let rope = match measured {
                Measured::Rope(pace) => Some(pace),
                Measured::Time { .. } => None,
            };
            Self {
                least: Some(least),
                most,
                top: Some(most.map_or(least, |most| most.max(least).saturating_add(1))),
                unit: if rope.is_some() { "m" } else { "s" }.to_owned(),
                one: if rope.is_some() { 1_000 } else { i64::from(station.scan_us) },
                zero: 0,
                timed: rope.is_none(),
                rope,
            }
        };
        match &watch.kind {
            WatchKind::Travel(t) => Some(window(t.measured, t.earliest, Some(t.latest))),
            WatchKind::Spacing(s) => Some(window(s.measured, s.least, s.most)),
            WatchKind::Measure(m) => {
                let InputKind::Gauge(gauge) = &station.inputs.get(m.gauge)?.kind else {
                    return None;
                };
                Some(Self {
                    least: Some(m.least),
                    most: Some(m.most),
                    top: None,
                    unit: gauge.unit.clone(),
                    one: gauge.step_micro,
                    zero: gauge.lowest,
                    timed: false,
                    rope: None,
                })
            }
            WatchKind::Guard(_)
            | WatchKind::Agree(_)
            | WatchKind::Confirm(_)
            | WatchKind::Exercise(_)
            | WatchKind::Count(_) => None,
        }
    }

    /// The number, if it is a measurement.
    pub(crate) fn measured(&self, judged: u32) -> Option<u32> {
        Some(judged).filter(|judged| self.top.is_none_or(|top| *judged < top))
    }

    /// Where measuring ends, in millionths of the unit.
    pub(crate) fn measured_to(&self) -> Option<i64> {
        self.top.map(|top| self.micro(top))
    }

    /// A measured number in millionths of the unit.
    pub(crate) fn micro(&self, measured: u32) -> i64 {
        (i64::from(measured) + self.zero) * self.one
    }

    /// The upper limit in words.
    pub(crate) fn upper(&self) -> Option<String> {
        self.most.map(|most| in_words(self.micro(most), &self.unit))
    }

    /// A difference of measured numbers in millionths of the unit.
    fn apart(&self, by: i64) -> i64 {
        by * self.one
    }

    /// What is left above the least and below the greatest, in millionths; negative if missed.
    pub(crate) fn left(&self, measured: u32) -> (Option<i64>, Option<i64>) {
        let measured = i64::from(measured);
        (
            self.least.map(|least| self.apart(measured - i64::from(least))),
            self.most.map(|most| self.apart(i64::from(most) - measured)),
        )
    }

    /// The margin for a way that tripped (or the nearer limit, for a way that names none); none of what is no measurement.
    pub(crate) fn margin(&self, judged: u32, way: Way) -> Option<Margin> {
        let measured = self.measured(judged)?;
        let (low, high) = self.left(measured);
        let lower = match way {
            Way::Early | Way::Closer => true,
            Way::Late | Way::Farther => false,
            _ => low.is_some_and(|l| high.is_none_or(|h| l <= h)),
        };
        let (limit, left) = if lower { (self.least?, low?) } else { (self.most?, high?) };
        Some(Margin { measured: self.micro(measured), limit: self.micro(limit), left, unit: self.unit.clone() })
    }
}

/// Millionths of a unit in words, with at most three decimals.
pub fn in_words(micro: i64, unit: &str) -> String {
    let sign = if micro < 0 { "-" } else { "" };
    let thousandths = (micro.unsigned_abs() + 500) / 1_000;
    let whole = thousandths / 1_000;
    let part = format!("{:03}", thousandths % 1_000);
    let part = part.trim_end_matches('0');
    let point = if part.is_empty() { "" } else { "." };
    format!("{sign}{whole}{point}{part} {unit}")
}
