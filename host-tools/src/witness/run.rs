//! A simulated station that obeys its rules, under the eyes of a [`Watch`].

use crate::refute::Watch;
use crate::runner::PlainRunner;
use crate::sample::Sample;
use crate::simulate::{Obeyed, Scan, Simulator};
use crate::station::Station;
use crate::told::{Runner, Scanned};

/// A simulated station that obeys its rules.
pub(super) struct Run<'p, W> {
    station: &'p Station,
    pub(super) simulator: Simulator<'p>,
    runner: PlainRunner<'p>,
    pub(super) watch: W,
    pub(super) told: Scanned,
    obeyed: Option<Obeyed>,
    /// Microseconds since a stop has stood with the rope at rest.
    rest: u64,
}

/// A run in which the rope has stood for so long behind a stop brings nothing new, microseconds.
const AT_REST: u64 = 2_000_000;

impl<'p, W: Watch> Run<'p, W> {
    /// At power-up.
    pub(super) fn new(station: &'p Station, simulator: Simulator<'p>, runner: PlainRunner<'p>, watch: W) -> Self {
        Self { station, simulator, runner, watch, told: Scanned::default(), obeyed: None, rest: 0 }
    }
    /// Another one that goes on from here.
    pub(super) fn fork(&self) -> Self {
        Self {
            simulator: self.simulator.clone(),
            runner: self.runner.fork(),
            watch: self.watch.clone(),
            told: self.told.clone(),
            ..*self
        }
    }
    /// Goes on for so long, or until it has come to rest after it had run; `see` and who watches say in each scan whether it is to.
    pub(super) fn go_on(&mut self, us: u64, mut see: impl FnMut(&Sample, &Scanned) -> bool) {
        let scan_us = u64::from(self.station.scan_us.max(1));
        let first_stop = self.station.first_stop();
        let end = self.simulator.progress().1.saturating_add(us);
        let mut ran = self.simulator.rope_speed() != 0.0;
        while self.simulator.progress().1 < end {
            let Some(Scan { restarted, sample, .. }) = self.simulator.scan(self.obeyed.as_ref()) else { return };
            if *restarted {
                self.runner.restart();
                self.watch.restart();
            }
            self.told.clone_from(self.runner.scan(sample));
            let goes_on = self.watch.scan(sample, &self.told);
            self.obeyed = Some(Obeyed::from(&self.told));
            if !see(sample, &self.told) || !goes_on {
                return;
            }
            let rests = self.simulator.rope_speed() == 0.0;
            ran |= !rests;
            let stops = self.told.answer >= first_stop;
            self.rest = if rests && ran && stops { self.rest + scan_us } else { 0 };
            if self.rest >= AT_REST {
                return;
            }
        }
    }
}
