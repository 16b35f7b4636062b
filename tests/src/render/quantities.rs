//! Quantities, written so that rounding to the strict side leads back to the limit.
//!
//! Now and then a value is written that is no whole number of scans, millimetres or steps. Which way it may lie
//! off is the table of rounding in the manual, told here a second time.

use host_tools::station::{Gauge, InputId, InputKind, Station};

use crate::generate::Rng;

/// Which way a written value is rounded when it is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Round {
    Up,
    Down,
}

/// What is written about, and the dice for how.
pub(super) struct Pen<'s> {
    pub(super) station: &'s Station,
    pub(super) rng: Rng,
}

/// A decimal number with so many places at most.
pub(super) fn decimal(value: i64, places: u32) -> String {
    let (sign, value, whole) = (if value < 0 { "-" } else { "" }, value.unsigned_abs(), 10_u64.pow(places));
    let digits = usize::try_from(places).expect("few places");
    let part = format!("{:0digits$}", value % whole);
    let part = part.trim_end_matches('0');
    let part = if part.len() == digits && digits == 0 { "" } else { part };
    if part.is_empty() { format!("{sign}{}", value / whole) } else { format!("{sign}{}.{part}", value / whole) }
}

impl<'s> Pen<'s> {
    pub(super) fn new(station: &'s Station, seed: u64) -> Self {
        Self { station, rng: Rng::new(seed) }
    }

    /// A value off a whole one, within what rounding takes away again; `unit` parts are one.
    fn off(&mut self, whole: i64, unit: i64, round: Round) -> i64 {
        let off = if self.rng.chance(30) { self.rng.within(0, unit - 1) } else { 0 };
        match round {
            Round::Down => whole * unit + off,
            Round::Up if whole > 0 => whole * unit - off,
            Round::Up => whole * unit,
        }
    }

    /// A time as it is.
    pub(super) fn us(&mut self, us: i64) -> String {
        if self.rng.chance(30) { format!("{} s", decimal(us, 6)) } else { format!("{} ms", decimal(us, 3)) }
    }

    /// A time of so many scans.
    pub(super) fn scans(&mut self, scans: u32, round: Round) -> String {
        let us = self.off(i64::from(scans), i64::from(self.station.scan_us), round);
        self.us(us)
    }

    /// A length.
    pub(super) fn mm(&mut self, mm: u32, round: Round) -> String {
        let um = self.off(i64::from(mm), 1_000, round);
        if self.rng.chance(30) { format!("{} m", decimal(um, 6)) } else { format!("{} mm", decimal(um, 3)) }
    }

    /// A length in whole millimetres, exactly.
    pub(super) fn exact_mm(&mut self, mm: u32) -> String {
        let mm = i64::from(mm);
        if self.rng.chance(50) { format!("{} m", decimal(mm, 3)) } else { format!("{mm} mm") }
    }

    /// A speed at which the pace runs so many mm in its span.
    pub(super) fn speed(&mut self, mm: u32, pace: InputId, round: Round) -> String {
        let time = i128::from(self.pace(pace).span) * i128::from(self.station.scan_us);
        // nm/s: the first at or above so many mm in a span.
        let first = |mm: u32| (i128::from(mm) * 1_000_000_000_000 + time - 1) / time;
        let last = |mm: u32| i128::from(mm) * 1_000_000_000_000 / time;
        let (low, high) = match round {
            Round::Down => (first(mm), first(mm + 1) - 1),
            Round::Up if mm == 0 => (0, 0),
            Round::Up => (last(mm - 1) + 1, last(mm)),
        };
        let (low, high) = (i64::try_from(low).expect("slow"), i64::try_from(high).expect("slow"));
        let strict = if round == Round::Down { low } else { high };
        let nm = if self.rng.chance(30) { self.rng.within(low, high) } else { strict };
        self.nm_a_second(nm)
    }

    /// A speed in nm/s, exactly.
    pub(super) fn nm_a_second(&mut self, nm: i64) -> String {
        if self.rng.chance(40) { format!("{} m/s", decimal(nm, 9)) } else { format!("{} mm/s", decimal(nm, 6)) }
    }

    /// A value of a gauge at so many steps above its lowest.
    pub(super) fn steps(&mut self, gauge: InputId, steps: i64, round: Round) -> String {
        let scale = self.gauge(gauge).clone();
        let off = if self.rng.chance(30) { self.rng.within(0, scale.step_micro - 1) } else { 0 };
        let value = (scale.lowest + steps) * scale.step_micro;
        self.value(&scale.unit, if round == Round::Down { value + off } else { value - off })
    }

    /// So many steps of a gauge, from no matter where.
    pub(super) fn movement(&mut self, gauge: InputId, steps: u32) -> String {
        let scale = self.gauge(gauge).clone();
        let value = self.off(i64::from(steps), scale.step_micro, Round::Down);
        self.value(&scale.unit, value)
    }

    /// Millionths of a unit.
    pub(super) fn value(&mut self, unit: &str, micro: i64) -> String {
        match unit {
            "N" if self.rng.chance(30) => format!("{} kN", decimal(micro, 9)),
            "mm" if self.rng.chance(30) => format!("{} m", decimal(micro, 9)),
            _ => format!("{} {unit}", decimal(micro, 6)),
        }
    }

    pub(super) fn gauge(&self, id: InputId) -> &'s Gauge {
        let InputKind::Gauge(gauge) = &self.station.inputs[id].kind else { panic!("input {id} is no gauge") };
        gauge
    }

    pub(super) fn pace(&self, id: InputId) -> &'s host_tools::station::Pace {
        let InputKind::Pace(pace) = &self.station.inputs[id].kind else { panic!("input {id} is no pace") };
        pace
    }

    pub(super) fn input(&self, id: InputId) -> &'s str {
        &self.station.inputs[id].name.text
    }
}

/// Names joined by `and`.
pub(super) fn joined<'a>(names: impl Iterator<Item = &'a str>) -> String {
    names.collect::<Vec<_>>().join(" and ")
}
