//! A kinematic station that makes recordings: carriers on the lane, detectors, gauges, counters,
//! contacts and keys, with the events and faults of a [`Scenario`].
//!
//! The same station, scenario and seed give the same samples on every machine. A run either obeys
//! the answers of rules ([`Obeyed`]) or, without, does only what its scenario says.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::sample::{Frame, Sample};
use crate::station::{InputKind, Lane, Rank, Station};
use crate::told::Scanned;

mod act;
pub mod catalogue;
mod faults;
mod gauges;
mod levels;
mod number;
mod obey;
mod pulses;
mod read;
mod record;
mod rope;
pub mod scenario;
#[cfg(test)]
pub(crate) mod tests;
mod train;
mod words;

pub use obey::Rules;
pub use record::record;
pub use scenario::{Problem, Scenario};

use faults::Faults;
use gauges::Gauges;
use levels::Levels;
use number::seconds;
use pulses::Pulses;
use rope::Rope;
use scenario::{Action, Event, LinkFault};
use train::{Lag, Train};

/// Rope that passes until a carrier's front is at a place of the lane, mm.
pub(crate) fn run_to(lane: &crate::station::Lane, place: u32) -> i64 {
    number::nearest(crate::lane::Course::new(lane).run_to(f64::from(place)))
}

/// Deceleration where the rule file gives none, mm/s².
const USUAL_BRAKE: f64 = 1_000.0;

/// What the rules answered in the scan before.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Obeyed {
    /// Outputs that are off: bit `i` is output `i` of the station.
    pub off: u64,
    /// The most severe answer: a stop brakes, a slow order caps the speed.
    pub answer: Rank,
    /// The start permit.
    pub may_start: bool,
}

impl From<&Scanned> for Obeyed {
    fn from(scanned: &Scanned) -> Self {
        Self { off: scanned.off, answer: scanned.answer, may_start: scanned.permit }
    }
}

/// One scan of a run.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Scan {
    /// Microseconds since the beginning.
    pub at_us: u64,
    /// The controller started with this scan.
    pub restarted: bool,
    /// What it read.
    pub sample: Sample,
}

/// A run under way.
#[derive(Debug, Clone)]
pub struct Simulator<'a> {
    station: &'a Station,
    events: Vec<Event>,
    due: BinaryHeap<Reverse<(u64, usize)>>,
    last: u64,
    brakes: Vec<(f64, f64)>,
    rope: Rope,
    train: Option<Train>,
    gauges: Gauges,
    levels: Levels,
    pulses: Pulses,
    faults: Faults,
    lags: Vec<Lag>,
    /// Rank of the stop that was last obeyed.
    obeyed: Rank,
    may_start: bool,
    /// The controller is without power until then.
    dark: Option<u64>,
    now: u64,
    begun: bool,
    missed: Vec<usize>,
    scan: Scan,
}

/// The last place of the lane at which anything notices a carrier, mm.
fn watched(station: &Station, lane: &Lane, scenario: &Scenario) -> f64 {
    let detectors = station.inputs.iter().filter_map(|input| match &input.kind {
        InputKind::Detector(detector) => Some(detector.at),
        _ => None,
    });
    let places = detectors.chain(lane.touches.iter().map(|(at, _)| *at)).chain([lane.couples]).map(f64::from);
    let gauges = scenario.gauges.iter().filter_map(|(_, behaviour)| match behaviour {
        scenario::Behaviour::Pressed { between, .. } => Some(between.1),
        scenario::Behaviour::Lies { .. } => None,
    });
    let levels = scenario.follows.iter().filter_map(|follow| match follow.when {
        scenario::While::Carrier(_, to) => Some(to),
        _ => None,
    });
    places.chain(gauges).chain(levels).fold(0.0, f64::max)
}

impl<'a> Simulator<'a> {
    /// Puts everything to its place.
    pub fn new(station: &'a Station, scenario: &Scenario, seed: u64) -> Self {
        let lane = station.lane.as_ref();
        let train = lane.map(|lane| {
            Train::new(lane, watched(station, lane, scenario), scenario.full, scenario.spread, scenario.round, seed)
        });
        let course = train.as_ref().map(|t| t.course.clone()).unwrap_or_default();
        let brakes = station.stops.iter().enumerate().map(|(i, stop)| {
            let (least, most) = stop.slows;
            let told = scenario.brakes.iter().rev().find(|b| b.0 == i).map(|b| b.1);
            let middle = f64::midpoint(f64::from(least), f64::from(most));
            let by = told.unwrap_or(if middle > 0.0 { middle } else { USUAL_BRAKE });
            (by, seconds(u64::from(stop.bites_us)))
        });
        let due = scenario.events.iter().enumerate().map(|(i, e)| Reverse((e.at, i))).collect();
        let scan = Scan {
            at_us: 0,
            restarted: scenario.powers_up,
            sample: Sample {
                channels: vec![false; station.channels.len()],
                gauges: vec![crate::sample::Reading::default(); station.gauge_terminals.len()],
                travel: vec![0; station.sources.len()],
                links: vec![Frame::default(); station.link_terminals.len()],
            },
        };
        Self {
            station,
            events: scenario.events.clone(),
            due,
            last: scenario.last,
            brakes: brakes.collect(),
            rope: Rope::new(scenario.speed, scenario.rates.0, scenario.rates.1),
            gauges: Gauges::new(station, scenario, &course, seed),
            levels: Levels::new(station, scenario, &course),
            pulses: Pulses::new(station),
            faults: Faults::default(),
            lags: Vec::new(),
            train,
            obeyed: 0,
            may_start: true,
            dark: None,
            now: 0,
            begun: false,
            missed: Vec::new(),
            scan,
        }
    }
    /// Lines of events that could not be: a start without permit, a carrier that has left the lane
    /// or, so far, not come.
    pub fn missed(&self) -> Vec<usize> {
        let waiting = self.train.iter().flat_map(Train::waiting);
        self.missed.iter().copied().chain(waiting).collect()
    }
    /// Present speed of the rope, mm/s.
    pub fn rope_speed(&self) -> f64 {
        self.rope.speed()
    }
    /// Microseconds of the whole run, and of what has been run.
    pub fn progress(&self) -> (u64, u64) {
        (self.last, self.now)
    }

    /// The next scan, or nothing at the end of the run. `obey` is what the rules answered to the
    /// scan before; without it the scenario alone decides. While the controller is without power
    /// the world goes on and there are no scans.
    pub fn scan(&mut self, obey: Option<&Obeyed>) -> Option<&Scan> {
        let step = u64::from(self.station.scan_us.max(1));
        let mut restarted = !self.begun && self.scan.restarted;
        if let Some(obey) = obey {
            self.obey(obey);
        }
        loop {
            if self.begun {
                self.advance(step);
            }
            self.begun = true;
            if self.now >= self.last {
                return None;
            }
            self.faults.expire(self.now);
            self.happen();
            match self.dark {
                None => break,
                Some(until) if self.now >= until => {
                    self.dark = None;
                    restarted = true;
                    break;
                }
                Some(_) => {}
            }
        }
        self.levels.tell(self.now, self.rope.speed() != 0.0);
        self.scan.at_us = self.now;
        self.scan.restarted = restarted;
        let sample = &mut self.scan.sample;
        self.levels.read(self.now, self.train.as_ref(), &self.faults, &mut sample.channels);
        self.gauges.read(self.train.as_ref(), &self.faults, &mut sample.gauges);
        self.pulses.read(restarted, &mut sample.travel);
        for (i, frame) in sample.links.iter_mut().enumerate() {
            *frame = match self.faults.link(i) {
                Some(LinkFault::Silent) => Frame::default(),
                Some(LinkFault::Orders(order)) => Frame { fresh: true, order },
                None => Frame { fresh: true, order: 0 },
            };
        }
        Some(&self.scan)
    }

    /// Does something now, whatever the scenario says; false if it could not be.
    pub fn suffer(&mut self, action: &Action) -> bool {
        self.act(action, 0)
    }

    /// The whole run, obeying no rules.
    pub fn run(mut self) -> impl Iterator<Item = Scan> {
        std::iter::from_fn(move || self.scan(None).cloned())
    }

    /// The world moves on by one scan.
    fn advance(&mut self, step: u64) {
        self.now += step;
        self.faults.lags(&mut self.lags);
        let travel = self.rope.advance(seconds(step));
        if let Some(train) = &mut self.train {
            train.advance(travel, &self.lags);
        }
        self.pulses.advance(travel, &self.faults, &self.lags);
        self.levels.settle(self.now, self.rope.speed() == 0.0);
    }

    /// Outputs, brakes and the drive do what the rules say.
    fn obey(&mut self, obey: &Obeyed) {
        if self.dark.is_some() {
            return;
        }
        self.levels.switch_all(self.now, obey.off);
        self.may_start = obey.may_start && obey.answer < self.station.first_stop();
        if obey.answer >= self.station.first_stop() {
            self.rope.limit(None);
            if obey.answer > self.obeyed || !self.rope.braked() {
                self.brake(usize::from(obey.answer - self.station.first_stop()));
            }
            self.obeyed = obey.answer;
            return;
        }
        self.obeyed = 0;
        let slow = usize::from(obey.answer).checked_sub(1).and_then(|i| self.station.slows.get(i));
        let cap = slow.and_then(|slow| match self.station.inputs.get(slow.pace).map(|i| &i.kind) {
            Some(crate::station::InputKind::Pace(p)) => {
                let span = seconds(u64::from(p.span.max(1)) * u64::from(self.station.scan_us));
                // A little less: nobody drives at the very limit.
                Some(f64::from(slow.down_to) / span * 0.97)
            }
            _ => None,
        });
        self.rope.limit(cap);
    }

    fn brake(&mut self, stop: usize) {
        let (by, bites) = self.brakes.get(stop).copied().unwrap_or((USUAL_BRAKE, 0.0));
        self.rope.stop(by, bites);
    }

    /// Does what is due.
    fn happen(&mut self) {
        while let Some(&Reverse((at, index))) = self.due.peek() {
            if at > self.now {
                break;
            }
            self.due.pop();
            let Some(event) = self.events.get(index) else {
                continue;
            };
            if let Some(every) = event.every {
                self.due.push(Reverse((at.saturating_add(every.max(1)), index)));
            }
            let event = event.clone();
            if !self.act(&event.action, event.line) {
                self.missed.push(event.line);
            }
        }
    }

    fn act(&mut self, action: &Action, line: usize) -> bool {
        match action {
            Action::RopeTo { speed, rate } => {
                if *speed != 0.0 && (!self.may_start || self.dark.is_some()) {
                    return false;
                }
                if *speed != 0.0 {
                    self.levels.all_on(self.now);
                }
                self.rope.to(*speed, *rate);
            }
            Action::RopeStops(stop) => {
                self.brake(*stop);
                if let Some(stop) = self.station.stops.get(*stop) {
                    self.levels.release(self.now, stop);
                }
            }
            Action::Carrier(which, effect) => {
                return self.train.as_mut().is_some_and(|t| t.happen(*which, effect, line));
            }
            Action::PutIn(place) => match &mut self.train {
                Some(train) => train.put_in(*place),
                None => return false,
            },
            Action::Faults(faults, lasting) => {
                for (thing, fault) in faults {
                    self.faults.put(self.now, *thing, *fault, *lasting);
                }
            }
            Action::Mend(things) => things.iter().for_each(|t| self.faults.mend(*t)),
            Action::Mode(mode) => self.levels.select(*mode),
            Action::Output(output, off) => self.levels.switch(self.now, *output, *off),
            Action::Sticks(output, lasting) => {
                self.levels.stick(*output, lasting.map_or(u64::MAX, |l| self.now.saturating_add(l)));
            }
            Action::PowerLost(lasting) => {
                self.dark = Some(self.now.saturating_add(*lasting));
                self.levels.all_off(self.now);
                self.brake(self.station.stops.len().saturating_sub(1));
                self.obeyed = self.station.worst();
                self.may_start = true;
            }
        }
        true
    }
}
