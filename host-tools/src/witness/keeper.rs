//! Looks whether assumptions are kept, and runs a simulated station under such eyes.

use crate::monitor::{MonitorPlan, Monitors};
use crate::refute::Watch;
use crate::runner::PlainRunner;
use crate::sample::Sample;
use crate::simulate::{Obeyed, Scan, Simulator};
use crate::station::{InputKind, Station};
use crate::told::{Runner, Scanned};
use logic_rules::plan::Plan;

/// The station with its assumptions alone.
pub(super) fn assuming(station: &Station) -> Station {
    Station { requirements: Vec::new(), ..station.clone() }
}

/// Looks at every scan from power-up on.
#[derive(Clone)]
pub(super) struct Keeper<'p> {
    assuming: &'p Station,
    monitors: Monitors<'p>,
    scratch: Scanned,
    scans: u64,
    /// Each assumption that was broken, and in which scan first.
    pub(super) broken: Vec<(usize, u64)>,
    /// Carriers that came to the first detector.
    pub(super) passed: u32,
    channel: Option<usize>,
    covered: bool,
}

impl<'p> Keeper<'p> {
    /// `assuming` is what [`assuming`] gives; `None` only if the plan does not fit its own needs.
    pub(super) fn new(assuming: &'p Station, monitors: &'p MonitorPlan, raw: &'p Plan<'p>) -> Option<Self> {
        let channel = assuming.inputs.iter().find_map(|input| match &input.kind {
            InputKind::Detector(detector) => Some(detector.channel),
            _ => None,
        });
        Some(Self {
            assuming,
            monitors: Monitors::start(assuming, monitors, raw)?,
            scratch: Scanned::default(),
            scans: 0,
            broken: Vec::new(),
            passed: 0,
            channel,
            covered: false,
        })
    }
    fn look(&mut self, sample: &Sample, told: &Scanned) {
        (self.scratch.answer, self.scratch.active) = (told.answer, told.active);
        self.monitors.scan(sample, &mut self.scratch);
        for broken in self.scratch.broken.iter().map(|broken| usize::from(*broken)) {
            if self.broken.iter().all(|(known, _)| *known != broken) {
                self.broken.push((broken, self.scans));
            }
        }
        let covered = self.channel.and_then(|channel| sample.channels.get(channel)).copied().unwrap_or(false);
        self.passed += u32::from(covered && !self.covered);
        self.covered = covered;
        self.scans += 1;
    }
}

impl Watch for Keeper<'_> {
    fn scan(&mut self, sample: &Sample, told: &Scanned) -> bool {
        self.look(sample, told);
        true
    }
}

/// A simulated station that obeys its rules.
pub(super) struct Run<'p> {
    pub(super) simulator: Simulator<'p>,
    runner: PlainRunner<'p>,
    pub(super) keeper: Keeper<'p>,
    pub(super) told: Scanned,
    obeyed: Option<Obeyed>,
    /// Microseconds since a stop has stood with the rope at rest.
    rest: u64,
}

/// A run in which the rope has stood for so long behind a stop brings nothing new, microseconds.
const AT_REST: u64 = 2_000_000;

impl<'p> Run<'p> {
    /// At power-up.
    pub(super) fn new(simulator: Simulator<'p>, runner: PlainRunner<'p>, keeper: Keeper<'p>) -> Self {
        Self { simulator, runner, keeper, told: Scanned::default(), obeyed: None, rest: 0 }
    }
    /// Another one that goes on from here.
    pub(super) fn fork(&self) -> Self {
        Self {
            simulator: self.simulator.clone(),
            runner: self.runner.fork(),
            keeper: self.keeper.clone(),
            told: self.told.clone(),
            ..*self
        }
    }
    /// Goes on for so long, or until it has come to rest after it had run; `see` says in each scan whether it is to go on.
    pub(super) fn go_on(&mut self, us: u64, mut see: impl FnMut(&Scanned) -> bool) {
        let scan_us = u64::from(self.keeper.assuming.scan_us.max(1));
        let first_stop = self.keeper.assuming.first_stop();
        let end = self.simulator.progress().1.saturating_add(us);
        let mut ran = self.simulator.rope_speed() != 0.0;
        while self.simulator.progress().1 < end {
            let Some(Scan { restarted, sample, .. }) = self.simulator.scan(self.obeyed.as_ref()) else { return };
            if *restarted {
                self.runner.restart();
                self.keeper.monitors.restart(self.keeper.assuming, true);
            }
            self.told.clone_from(self.runner.scan(sample));
            self.keeper.look(sample, &self.told);
            self.obeyed = Some(Obeyed::from(&self.told));
            if !see(&self.told) {
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
