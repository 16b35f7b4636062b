//! What stands from scan to scan of a replay, and the events that its changes are.

use std::io;

use super::course::{Course, Turn};
use super::event::{Cause, Event, What};
use super::inputs::{Meters, told};
use super::limits::Limits;
use super::overdue::Overdue;
use super::tally::{AssumptionTold, BypassTold, RequirementTold, Summary, Tally};
use super::text::clock;
use super::words::{cause, looks_at};
use super::{Sink, table, untold};
use crate::recording::read::Counted;
use crate::sample::Sample;
use crate::station::ways::{Source, Way, WayOf};
use crate::station::{Rank, Station};
use crate::told::Scanned;

mod changes;

/// The replay's own state; all of it bounded by the station.
pub(super) struct Scene<'s> {
    station: &'s Station,
    ways: Vec<WayOf>,
    power_up: Option<usize>,
    meters: Meters,
    tally: Tally,
    course: Course,
    overdue: Overdue,
    at_us: u64,
    first_us: Option<u64>,
    number: u64,
    /// Severity of the standing stop, 0 without one.
    stop: Rank,
    /// It is that of a power-up, and not counted yet.
    starts: bool,
    /// Ways told since the stop.
    told: Vec<bool>,
    /// Slow orders that stand.
    slows: u64,
    mode: Option<usize>,
    /// Bypasses that are active, and since when.
    active: u64,
    active_since: Vec<u64>,
    sums: Summary,
}

impl<'s> Scene<'s> {
    pub(super) fn new(station: &'s Station, stamps_us: u64) -> Self {
        let (ways, power_up) = table(station);
        let blur_us = stamps_us.saturating_sub(u64::from(station.scan_us));
        let sums = Summary {
            scans: 0,
            lead_in: 0,
            counterfactual: 0,
            lasted_us: 0,
            gaps: 0,
            doubled: 0,
            stops: 0,
            not_made: 0,
            started: 0,
            resets: 0,
            watches: Vec::new(),
            requirements: station
                .requirements
                .iter()
                .map(|r| RequirementTold {
                    name: r.name.text.clone(),
                    title: r.title.clone(),
                    throughout: r.form.holds_throughout(),
                    met: 0,
                    missed: 0,
                    longest_us: None,
                    latest_us: None,
                    unanswered: 0,
                })
                .collect(),
            assumptions: station
                .assumptions
                .iter()
                .map(|a| AssumptionTold { name: a.name.text.clone(), broken: 0 })
                .collect(),
            bypasses: station
                .bypasses
                .iter()
                .map(|b| BypassTold { name: b.name.text.clone(), uses: 0, lasted: 0 })
                .collect(),
            cannot_tell: untold::too_fine(station, stamps_us),
        };
        Self {
            station,
            told: vec![false; ways.len()],
            ways,
            power_up,
            meters: Meters::new(station),
            tally: Tally::new(station, blur_us),
            course: Course::Running,
            overdue: Overdue::new(&station.requirements),
            at_us: 0,
            first_us: None,
            number: 0,
            stop: 0,
            starts: false,
            slows: 0,
            mode: None,
            active: 0,
            active_since: vec![0; station.bypasses.len()],
            sums,
        }
    }

    pub(super) fn scans(&self) -> u64 {
        self.number
    }

    pub(super) fn cannot_tell(&mut self, what: &str) {
        self.sums.cannot_tell.push(what.to_owned());
    }

    /// A scan of the lead-in.
    pub(super) fn led_in(&mut self) {
        self.sums.lead_in += 1;
    }

    /// The controller restarts with the next scan.
    pub(super) fn restart(&mut self, sink: &mut dyn Sink) -> io::Result<()> {
        self.unanswered("restart", sink)?;
        self.unresolved("the controller restarts");
        // How long it was off is not part of it.
        self.lasted();
        self.bypasses_end(sink)?;
        self.meters.restart();
        self.course = Course::Running;
        self.stop = 0;
        Ok(())
    }

    /// Nothing is known of what comes before the next scan: whatever went on is not seen to its end.
    pub(super) fn gap(&mut self, from_us: u64, to_us: u64, sink: &mut dyn Sink) -> io::Result<()> {
        self.unanswered("gap", sink)?;
        self.unresolved("there is a gap");
        self.bypasses_end(sink)?;
        self.meters.restart();
        (self.course, self.stop, self.slows) = (Course::Running, 0, 0);
        self.sums.gaps += 1;
        self.lasted();
        self.tell(What::Gap { from_us, to_us }, sink)
    }

    /// A part without gaps is over.
    fn lasted(&mut self) {
        let part = self.first_us.take().map_or(0, |first| self.at_us.saturating_sub(first));
        self.sums.lasted_us = self.sums.lasted_us.saturating_add(part);
    }

    /// What was passed over in all.
    pub(super) fn counted(&mut self, counted: Counted) {
        self.sums.doubled = counted.doubled;
        if counted.unseen > 0 {
            self.cannot_tell(&format!(
                "{} changes came and went between two scans, and no scan saw them",
                counted.unseen
            ));
        }
        if counted.outlived > 0 {
            self.cannot_tell(&format!("in {} scans a gauge was held too long, and was doubted", counted.outlived));
        }
        match self.sums.gaps {
            0 => {}
            1 => self.cannot_tell("there is a gap or a clock step, and nothing is known of what lay in it"),
            gaps => self.cannot_tell(&format!(
                "there are {gaps} gaps or clock steps, and nothing is known of what lay in them"
            )),
        }
    }

    /// A scan begins.
    pub(super) fn clock(&mut self, at_us: u64, sample: &Sample) {
        self.number += 1;
        self.at_us = at_us;
        self.first_us.get_or_insert(at_us);
        self.meters.scan(sample);
    }

    pub(super) fn tell(&self, what: What, sink: &mut dyn Sink) -> io::Result<()> {
        sink.event(&Event { at_us: self.at_us, scan: self.number, counterfactual: self.is_counterfactual(), what })
    }

    pub(super) fn is_counterfactual(&self) -> bool {
        self.course == Course::Counterfactual
    }

    /// Takes what a scan published; true if the runner must adopt the station as it stands now.
    pub(super) fn scan(&mut self, scanned: &Scanned, sample: &Sample, sink: &mut dyn Sink) -> io::Result<bool> {
        self.mode(sample, sink)?;
        self.requirements(scanned, sink)?;
        self.stops(scanned, sample, sink)?;
        self.slow_orders(scanned, sink)?;
        self.bypasses(scanned, sink)?;
        if self.is_counterfactual() {
            self.sums.counterfactual += 1;
        } else {
            self.sums.scans += 1;
            for judged in &scanned.judged {
                self.tally.judge(*judged);
            }
        }
        if scanned.reset {
            self.sums.resets += u32::from(!self.is_counterfactual());
            self.tell(What::Reset, sink)?;
            self.stop = 0;
            self.course.released();
        }
        let turn = self.course.scan(&self.meters, self.at_us);
        match turn {
            Turn::None => {}
            // It stood before the first span of the pace could show it: no news.
            Turn::Standstill(after_us) if after_us <= self.meters.span_us(self.station.scan_us) => self.course.stood(),
            Turn::Standstill(after_us) => self.tell(What::Standstill { after_us }, sink)?,
            Turn::WentOn => {
                self.sums.stops += u32::from(std::mem::take(&mut self.starts));
                self.sums.not_made += 1;
                self.tell(What::WentOn, sink)?;
            }
            Turn::Started => {
                self.sums.stops += u32::from(std::mem::take(&mut self.starts));
                self.sums.started += 1;
                self.tell(What::Started, sink)?;
            }
            Turn::Adopt => {
                self.stop = 0;
                self.unanswered("standstill", sink)?;
                self.tell(What::Adopted, sink)?;
            }
        }
        Ok(turn == Turn::Adopt)
    }

    /// If the next scan reads and tells what this one did, nothing happens in it but that time goes by.
    pub(super) fn is_quiet(&self, scanned: &Scanned) -> bool {
        let told = scanned.judged.is_empty() && scanned.met.is_empty() && scanned.missed.is_empty();
        let told = told && scanned.broken.is_empty() && !scanned.reset;
        told && !self.is_news(scanned, self.station.first_stop()) && self.course.is_quiet(&self.meters)
    }
    /// So many scans behind a quiet one.
    pub(super) fn again(&mut self, scans: u32) {
        let count = u64::from(scans);
        self.number += count;
        self.at_us = self.at_us.saturating_add(count * u64::from(self.station.scan_us));
        self.meters.again(scans);
        if self.is_counterfactual() {
            self.sums.counterfactual += count;
        } else {
            self.sums.scans += count;
        }
    }
    /// Of the station, microseconds.
    pub(super) fn scan_us(&self) -> u32 {
        self.station.scan_us
    }

    fn stops(&mut self, scanned: &Scanned, sample: &Sample, sink: &mut dyn Sink) -> io::Result<()> {
        let first_stop = self.station.first_stop();
        // The stands' highest bit is the most severe answer.
        let worst = u64::BITS.saturating_sub(scanned.stands.leading_zeros() + 1);
        let worst = Rank::try_from(worst).unwrap_or(Rank::MAX);
        if scanned.stands == 0 || worst < first_stop {
            if self.stop != 0 {
                self.stop = 0;
                self.course.released();
            }
            return Ok(());
        }
        if self.stop == 0 {
            self.stop = worst;
            self.told.fill(false);
            let first = if scanned.first.is_empty() { &scanned.trips } else { &scanned.first };
            let causes = self.causes(first, scanned, |w| w.answer >= first_stop);
            let concerned: Vec<usize> = first
                .iter()
                .filter_map(|w| self.ways.get(usize::from(*w)))
                .flat_map(|w| looks_at(self.station, *w))
                .collect();
            let what = What::Stop {
                answer: self.station.answer(worst).to_owned(),
                causes,
                inputs: told(self.station, sample, &self.meters, &concerned, &scanned.unknown),
                off: self.outputs(scanned.off),
            };
            self.starts = self.is_power_up(first);
            if !self.is_counterfactual() && !self.starts {
                self.sums.stops += 1;
            }
            self.tell(what, sink)?;
            self.course.stopped(self.station, worst, &self.meters, self.at_us);
        } else if worst > self.stop {
            self.stop = worst;
            let causes = self.causes(&scanned.trips, scanned, |w| w.answer >= first_stop);
            let answer = self.station.answer(worst).to_owned();
            self.tell(What::Raised { answer, causes }, sink)?;
            // A station that stands already has made the more severe stop, too.
            if !matches!(self.course, Course::Standing { .. }) {
                self.course.stopped(self.station, worst, &self.meters, self.at_us);
            }
        } else if self.is_news(scanned, first_stop) {
            let causes = self.causes(&scanned.trips, scanned, |w| w.answer >= first_stop);
            self.tell(What::Also { causes }, sink)?;
        }
        Ok(())
    }

    fn is_power_up(&self, first: &[u16]) -> bool {
        first.iter().any(|w| Some(usize::from(*w)) == self.power_up)
    }

    /// Trips a way that was not told since the stop.
    fn is_news(&self, scanned: &Scanned, least: Rank) -> bool {
        scanned.trips.iter().any(|w| {
            let w = usize::from(*w);
            self.ways.get(w).is_some_and(|way| way.answer >= least) && !self.told.get(w).copied().unwrap_or(true)
        })
    }

    /// The causes that ways are, each told once since the stop.
    fn causes(&mut self, ways: &[u16], scanned: &Scanned, fits: impl Fn(&WayOf) -> bool) -> Vec<Cause> {
        let mut all = Vec::new();
        for index in ways.iter().map(|w| usize::from(*w)) {
            let Some(way) = self.ways.get(index).copied().filter(|w| fits(w)) else {
                continue;
            };
            match self.told.get_mut(index) {
                Some(told) if !*told => *told = true,
                _ => continue,
            }
            all.push(self.cause(index, way, scanned));
        }
        // What is known comes first: the rest may only follow from it.
        all.sort_by_key(|cause| !cause.unknown.is_empty());
        all
    }

    fn cause(&self, index: usize, way: WayOf, scanned: &Scanned) -> Cause {
        let mut cause = cause(self.station, way);
        if scanned.doubtful.iter().any(|w| usize::from(*w) == index) {
            let mut looked = looks_at(self.station, way);
            looked.retain(|input| scanned.unknown.iter().any(|u| usize::from(*u) == *input));
            let names = looked.iter().filter_map(|i| self.station.inputs.get(*i)).map(|i| &i.name.text);
            for name in names {
                if !cause.unknown.contains(name) {
                    cause.unknown.push(name.clone());
                }
            }
        }
        if let Source::Watch(watch) = way.source {
            let measured = scanned.judged.iter().find(|j| usize::from(j.watch) == watch);
            cause.margin = measured.and_then(|j| self.tally.limits(watch).and_then(|l| l.margin(j.measured, way.way)));
            // Nobody arrived, so nothing was measured: the limit at least is known.
            if cause.margin.is_none()
                && way.way == Way::Late
                && let Some(limit) = self.tally.limits(watch).and_then(Limits::upper)
            {
                cause.words = format!("{}: not there within {limit}", cause.words);
            }
        }
        cause
    }

    fn outputs(&self, off: u64) -> Vec<String> {
        let named = self.station.outputs.iter().enumerate();
        named.filter(|(i, _)| bit(off, *i)).map(|(_, o)| o.name.text.clone()).collect()
    }

    /// A stop still stands and it was never seen whether the recording made it.
    fn unresolved(&mut self, why: &str) {
        if matches!(self.course, Course::Slowing { .. }) {
            let at = clock(self.at_us);
            self.cannot_tell(&format!("{why} at {at}, before it can be seen whether the last stop was made"));
        }
    }

    /// The recording is over.
    pub(super) fn end(mut self) -> Summary {
        self.unresolved("the recording ends");
        for i in 0..self.station.bypasses.len() {
            if bit(self.active, i) {
                self.end_bypass(i);
            }
        }
        if !self.meters.any() && self.sums.stops > 0 {
            self.cannot_tell("without a pace it cannot be seen whether the recording made a stop");
        }
        self.lasted();
        self.sums.watches = self.tally.told(self.station);
        let Summary { cannot_tell, watches, .. } = &mut self.sums;
        for watch in watches.iter().filter(|w| w.too_near > 0) {
            cannot_tell.push(format!(
                "watch {}: {} passings are nearer to a limit than the time stamps are true",
                watch.name, watch.too_near
            ));
        }
        self.sums
    }
}

/// Bit `index` of a set.
fn bit(set: u64, index: usize) -> bool {
    u32::try_from(index).ok().and_then(|i| set.checked_shr(i)).is_some_and(|s| s & 1 == 1)
}
