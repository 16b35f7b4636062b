//! Looks whether assumptions are kept.

use crate::monitor::{MonitorPlan, Monitors};
use crate::refute::Watch;
use crate::sample::Sample;
use crate::station::{InputKind, Station};
use crate::told::Scanned;
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
}

impl Watch for Keeper<'_> {
    fn scan(&mut self, sample: &Sample, told: &Scanned) -> bool {
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
        true
    }
    fn restart(&mut self) {
        self.monitors.restart(self.assuming, true);
    }
}
