//! What the counters count.

use super::faults::Faults;
use super::number::{floor, real};
use super::train::Lag;
use crate::station::{Backing, InputId, InputKind, Station};

/// One source of pulses.
#[derive(Debug, Clone)]
struct Source {
    number: usize,
    pace: InputId,
    signed: bool,
    mm_a_pulse: i64,
    /// Travel since the beginning, mm.
    place: f64,
    /// Pulses told so far.
    told: i64,
}

/// All sources of a station.
#[derive(Debug, Clone)]
pub(super) struct Pulses {
    sources: Vec<Source>,
}

impl Pulses {
    /// All at zero; second sources half a pulse apart from the first ones.
    pub(super) fn new(station: &Station) -> Self {
        let mut sources = Vec::new();
        for (pace, input) in station.inputs.iter().enumerate() {
            let InputKind::Pace(p) = &input.kind else {
                continue;
            };
            let mm_a_pulse = i64::from(p.mm_a_pulse.max(1));
            let mut add = |number, place| {
                sources.push(Source { number, pace, signed: p.signed, mm_a_pulse, place, told: 0 });
            };
            add(p.source, 0.0);
            if let Backing::Source(second, _) = p.backing {
                add(second, real(mm_a_pulse) / 2.0);
            }
        }
        Self { sources }
    }
    /// So much rope has run; a conveyor counts it as rope, less its lag.
    pub(super) fn advance(&mut self, travel: f64, faults: &Faults, lags: &[Lag]) {
        for source in &mut self.sources {
            let lag: f64 = lags.iter().filter(|l| l.0 == source.pace).map(|l| l.1).product();
            let shown = faults.source(source.number, travel * lag);
            source.place += if source.signed { shown } else { shown.abs() };
        }
    }
    /// Millimetres since the last reading; a controller that has just started knows of none.
    pub(super) fn read(&mut self, restarted: bool, into: &mut [i32]) {
        into.fill(0);
        for source in &mut self.sources {
            let all = floor(source.place / real(source.mm_a_pulse));
            let new = if restarted { 0 } else { all - source.told };
            source.told = all;
            if let Some(to) = into.get_mut(source.number) {
                *to = i32::try_from(new * source.mm_a_pulse).unwrap_or(i32::MAX);
            }
        }
    }
}
