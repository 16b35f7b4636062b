//! Carriers as a recording shows them: when each came by, how its grip closed, and how far the rope ran while it went from detector to
//! detector. It is read off the samples alone: what the rules would have done about it changes nothing of what came by.

use std::collections::VecDeque;

use super::{Passing, View};
use crate::sample::{Health, Sample};
use crate::simulate::run_to;
use crate::station::{Detector, InputId, InputKind, Measure, Settle, Station, WatchKind, When};

/// What is looked at.
#[derive(Debug, Clone)]
pub struct Looked {
    /// The measure of the grip's force.
    pub(super) force: Measure,
    /// Terminal of its gauge.
    gauge: usize,
    /// Counter of the rope.
    rope: usize,
    /// Greatest rope of a scan, mm.
    scan_mm: f64,
    /// Counter of the rope along which a force is measured, if it is.
    along: Option<usize>,
    /// The detector at which carriers are counted, and that of each end of each travel.
    lines: Vec<Line>,
    /// Lines of the ends of each travel.
    travels: Vec<[usize; 2]>,
    /// Nobody comes in less rope than this.
    carrier_mm: i64,
    /// A rise that belongs to a carrier is no farther from its place than this.
    near_mm: i64,
}

/// A detector, and how much rope lies between it and the one that counts.
#[derive(Debug, Clone)]
struct Line {
    channel: usize,
    settle: Settle,
    ahead_mm: i64,
}

impl Looked {
    /// What one passing can tell apart: a step of the gauge, and for each travel the rope of a scan at its greatest speed.
    pub fn resolutions(&self) -> Vec<f64> {
        let mut all = vec![1.0];
        all.resize(1 + self.travels.len(), self.scan_mm);
        all
    }
    /// What there is to look at; the names of the travels in the order of the values of a passing, after the force. None if the
    /// measure is none, or there is no rope.
    pub fn new(station: &Station, measure: usize) -> Option<(Self, Vec<String>)> {
        let WatchKind::Measure(force) = &station.watches.get(measure)?.kind else { return None };
        let InputKind::Gauge(gauge) = &station.inputs.get(force.gauge)?.kind else { return None };
        let rope = station.inputs.iter().find_map(|input| source(&input.kind))?;
        let scan_mm = station.inputs.iter().find_map(|input| match &input.kind {
            InputKind::Pace(pace) => Some(f64::from(pace.top) / f64::from(pace.span.max(1))),
            _ => None,
        })?;
        let counted = detector(station, force.detector)?;
        let lane = station.lane.as_ref();
        let ahead = |at: &Detector| lane.map_or(0, |lane| run_to(lane, counted.at) - run_to(lane, at.at));
        let line = |of: &Detector| Line { channel: of.channel, settle: of.settle, ahead_mm: ahead(of) };
        let (mut lines, mut travels, mut names) = (vec![line(counted)], Vec::new(), Vec::new());
        for watch in station.watches.iter().filter(|_| lane.is_some()) {
            if let WatchKind::Travel(travel) = &watch.kind
                && let Some((from, to)) = detector(station, travel.from).zip(detector(station, travel.to))
            {
                travels.push([lines.len(), lines.len() + 1]);
                lines.extend([line(from), line(to)]);
                names.push(watch.name.text.clone());
            }
        }
        let along = match force.when {
            When::Rope(pace, _) => station.inputs.get(pace).and_then(|input| source(&input.kind)),
            When::Rise | When::Scans(_) => None,
        };
        let carrier_mm = lane.map_or(0, |lane| i64::from(lane.carrier));
        let near_mm = lane.map_or(0, |lane| i64::from(lane.every) / 3);
        let (force, gauge) = (force.clone(), gauge.terminal);
        Some((Self { force, gauge, rope, scan_mm, along, lines, travels, carrier_mm, near_mm }, names))
    }
}

fn detector(station: &Station, input: InputId) -> Option<&Detector> {
    match &station.inputs.get(input)?.kind {
        InputKind::Detector(detector) => Some(detector),
        _ => None,
    }
}

fn source(kind: &InputKind) -> Option<usize> {
    match kind {
        InputKind::Pace(pace) => Some(pace.source),
        _ => None,
    }
}

/// A channel that settles.
#[derive(Debug, Clone, Copy, Default)]
struct Level {
    /// None before the first scan.
    level: Option<bool>,
    /// Scans in which it has shown another.
    other: u32,
}

impl Level {
    /// True in the scan of a rise.
    fn rises(&mut self, sample: bool, settle: Settle) -> bool {
        let Some(level) = self.level else {
            self.level = Some(sample);
            return false;
        };
        if level == sample {
            self.other = 0;
            return false;
        }
        if self.other < if sample { settle.up } else { settle.down } {
            self.other += 1;
            return false;
        }
        *self = Self { level: Some(sample), other: 0 };
        sample
    }
}

/// The least force of a carrier that is passing.
#[derive(Debug, Clone, Copy)]
struct Closing {
    passing: usize,
    least: u32,
    /// Scans or rope to come.
    left: i64,
    good: bool,
}

/// Looks at the scans of a recording, one after the other.
#[derive(Debug, Clone)]
pub struct Looking<'l> {
    looked: &'l Looked,
    levels: Vec<Level>,
    rope_mm: i64,
    closing: Option<Closing>,
    passings: Vec<Passing>,
    /// Rises of each line, in the order of the rope.
    rises: Vec<VecDeque<i64>>,
}

impl<'l> Looking<'l> {
    /// Nothing seen yet.
    pub fn new(looked: &'l Looked) -> Self {
        let lines = looked.lines.len();
        let (levels, rises) = (vec![Level::default(); lines], vec![VecDeque::new(); lines]);
        Self { looked, levels, rope_mm: 0, closing: None, passings: Vec::new(), rises }
    }
    /// Takes a scan.
    pub fn scan(&mut self, at_us: u64, sample: &Sample) {
        let looked = self.looked;
        let travel = |counter: usize| sample.travel.get(counter).map_or(0, |travel| i64::from(*travel));
        self.rope_mm += travel(looked.rope);
        if let Some(closing) = &mut self.closing {
            closing.left -= match looked.force.when {
                When::Rope(..) => looked.along.map_or(1, |along| travel(along).abs()),
                When::Rise | When::Scans(_) => 1,
            };
        }
        self.close();
        let mut comes = false;
        for (number, ((line, level), rises)) in
            looked.lines.iter().zip(&mut self.levels).zip(&mut self.rises).enumerate()
        {
            let covered = sample.channels.get(line.channel).copied().unwrap_or(false);
            // One that swings back and forth before a detector has come once.
            let anew = rises.back().is_none_or(|last| self.rope_mm > last + looked.carrier_mm);
            if level.rises(covered, line.settle) && anew {
                rises.push_back(self.rope_mm);
                comes |= number == 0;
            }
        }
        if comes {
            // The scan of the rise and those after it.
            let left = match looked.force.when {
                When::Rise => 1,
                When::Scans(scans) => i64::from(scans) + 1,
                When::Rope(_, mm) => i64::from(mm).max(1),
            };
            self.closing = Some(Closing { passing: self.passings.len(), least: u32::MAX, left, good: true });
            let values = vec![None; 1 + looked.travels.len()];
            self.passings.push(Passing { at_us, rope_mm: self.rope_mm, values });
        }
        if let Some(closing) = &mut self.closing {
            let reading = sample.gauges.get(looked.gauge).copied().unwrap_or_default();
            closing.good &= reading.health == Health::Good;
            closing.least = closing.least.min(reading.steps);
        }
    }
    /// The window of a force is over.
    fn close(&mut self) {
        if let Some(Closing { passing, least, good, .. }) = self.closing.filter(|closing| closing.left <= 0) {
            self.closing = None;
            if let Some(force) = self.passings.get_mut(passing).and_then(|passing| passing.values.first_mut()) {
                *force = good.then(|| f64::from(least));
            }
        }
    }
    /// What follows is not known to go on where this ended: a recording is over, or the controller was without power.
    pub fn cut(&mut self) -> View {
        let Self { looked, passings, mut rises, .. } = std::mem::replace(self, Self::new(self.looked));
        let mut passings = passings;
        for passing in &mut passings {
            let travels = passing.values.iter_mut().skip(1).zip(&looked.travels);
            for (value, ends) in travels {
                let [from, to] = ends.map(|line| {
                    let at = passing.rope_mm - looked.lines.get(line)?.ahead_mm;
                    nearest(rises.get_mut(line)?, at).filter(|rise| rise.abs_diff(at) <= looked.near_mm.unsigned_abs())
                });
                *value = from.zip(to).map(|(from, to)| super::exact(to - from));
            }
        }
        View { passings }
    }
}

/// The rise nearest to a place on the rope. Places only grow, so what lies behind is let go.
fn nearest(rises: &mut VecDeque<i64>, at: i64) -> Option<i64> {
    while let (Some(first), Some(second)) = (rises.front(), rises.get(1))
        && second.abs_diff(at) <= first.abs_diff(at)
    {
        rises.pop_front();
    }
    rises.front().copied()
}
