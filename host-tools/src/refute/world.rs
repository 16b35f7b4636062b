//! What stands around the station in a trial: rope, carriers on their way, read-backs that follow. It makes
//! the sample of each scan from what the acts have set, and from the verdict before.

use super::routes::{Left, Routes};
use crate::sample::{Frame, Reading, Sample};

/// Millimetres in so many scans.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Rate {
    pub(super) mm: i64,
    pub(super) scans: i64,
}

/// A carrier between two detectors.
#[derive(Debug, Clone, Copy)]
struct Flight {
    to: usize,
    left: Left,
}

/// A detector's level, and how long it has been so.
#[derive(Debug, Clone, Copy)]
struct Cover {
    covered: bool,
    scans: u32,
    mm: i64,
    /// Rises that wait for the level to have lasted.
    waiting: u32,
}

/// See the module.
#[derive(Clone)]
pub(super) struct World<'r> {
    routes: &'r Routes,
    rate: Rate,
    own_rate: Vec<Option<Rate>>,
    parts: Vec<i64>,
    channels: Vec<Option<bool>>,
    gauges: Vec<Option<Reading>>,
    shown: Vec<Reading>,
    silent: Vec<Option<Frame>>,
    covers: Vec<Cover>,
    /// Scans for which each channel of `routes.excursions` has been away from rest.
    away: Vec<u32>,
    flights: Vec<Flight>,
    deviations: Vec<(usize, usize, Option<Left>)>,
    sample: Sample,
    /// Rope that has run forward, mm.
    pub(super) run: i64,
}

impl<'r> World<'r> {
    pub(super) fn new(routes: &'r Routes) -> Self {
        let base = &routes.base;
        Self {
            routes,
            rate: Rate::default(),
            own_rate: vec![None; base.travel.len()],
            parts: vec![0; base.travel.len()],
            channels: vec![None; base.channels.len()],
            gauges: vec![None; base.gauges.len()],
            shown: base.gauges.clone(),
            silent: vec![None; base.links.len()],
            covers: vec![Cover { covered: false, scans: 1 << 20, mm: 0, waiting: 0 }; routes.detectors.len()],
            away: vec![0; routes.excursions.len()],
            flights: Vec::new(),
            deviations: Vec::new(),
            sample: base.clone(),
            run: 0,
        }
    }
    /// A channel is held at a level from now on, or let go.
    pub(super) fn hold(&mut self, channel: usize, level: Option<bool>) {
        if let Some(cell) = self.channels.get_mut(channel) {
            *cell = level;
        }
    }
    /// A gauge is held at a reading from now on, or let go.
    pub(super) fn gauge(&mut self, gauge: usize, reading: Option<Reading>) {
        if let Some(cell) = self.gauges.get_mut(gauge) {
            *cell = reading;
        }
    }
    /// A link gives these frames from now on, or fresh ones without an order.
    pub(super) fn link(&mut self, link: usize, frame: Option<Frame>) {
        if let Some(cell) = self.silent.get_mut(link) {
            *cell = frame;
        }
    }
    pub(super) fn speed(&mut self, rate: Rate) {
        self.rate = rate;
        self.parts.fill(0);
    }
    /// The speed of everything.
    pub(super) fn rate(&self) -> Rate {
        self.rate
    }
    /// A source runs on its own from now on, or with the others.
    pub(super) fn source(&mut self, source: usize, rate: Option<Rate>) {
        if let (Some(own), Some(part)) = (self.own_rate.get_mut(source), self.parts.get_mut(source)) {
            *own = rate;
            *part = 0;
        }
    }
    /// The next carrier from one detector to another needs so much, or never comes.
    pub(super) fn deviate(&mut self, from: usize, to: usize, left: Option<Left>) {
        self.deviations.push((from, to, left));
    }
    /// A carrier comes to a detector now, and goes on from there.
    pub(super) fn carrier(&mut self, detector: usize) {
        if let Some(cover) = self.covers.get_mut(detector) {
            cover.waiting += 1;
        }
    }
    /// What the first carrier to this detector still needs.
    pub(super) fn to_come(&self, detector: usize) -> Option<i64> {
        self.flights.iter().filter(|f| f.to == detector).map(|f| f.left.amount()).min()
    }
    /// Somebody is under way, or about to be.
    pub(super) fn is_busy(&self) -> bool {
        !self.flights.is_empty() || self.covers.iter().any(|cover| cover.waiting > 0)
    }
    /// The detector rose in the last sample.
    pub(super) fn rises(&self, detector: usize) -> bool {
        self.covers.get(detector).is_some_and(|cover| cover.covered && cover.scans == 0)
    }
    /// The next sample, after a verdict in which these outputs were off.
    pub(super) fn next(&mut self, off: u64) -> &Sample {
        let routes = self.routes;
        self.sample.channels.clone_from(&routes.base.channels);
        self.runs();
        let mm = self.sample.travel.get(routes.rope).copied().map_or(0, i64::from);
        self.run += mm.max(0);
        for flight in &mut self.flights {
            flight.left.runs(mm);
        }
        let covers = &mut self.covers;
        self.flights.retain(|flight| {
            let arrives = flight.left.amount() <= 0;
            if arrives && let Some(cover) = covers.get_mut(flight.to) {
                cover.waiting += 1;
            }
            !arrives
        });
        for at in 0..routes.detectors.len() {
            self.covers(at, mm);
        }
        for &(channel, output) in &routes.read_backs {
            self.level(channel, off.checked_shr(output).unwrap_or(0) & 1 == 1);
        }
        for &(_, channel, level) in routes.effects.iter().filter(|(released, ..)| off & released == *released) {
            self.level(channel, level);
        }
        for &channel in &routes.turning {
            self.level(channel, self.rate.mm != 0);
        }
        for (cell, held) in self.sample.channels.iter_mut().zip(&self.channels) {
            if let Some(level) = held {
                *cell = *level;
            }
        }
        for (away, excursion) in self.away.iter_mut().zip(&routes.excursions) {
            if let Some(level) = self.sample.channels.get_mut(excursion.channel) {
                if *level == excursion.rest && (*away == 0 || *away >= excursion.least) {
                    *away = 0;
                } else {
                    // Away from rest, or not yet for as long as it must be.
                    *level = !excursion.rest;
                    *away = away.saturating_add(1);
                }
            }
        }
        let gauges = self.sample.gauges.iter_mut().zip(&self.gauges).zip(&self.shown);
        gauges.for_each(|((cell, held), shown)| *cell = held.unwrap_or(*shown));
        for (cell, held) in self.sample.links.iter_mut().zip(&self.silent) {
            *cell = held.unwrap_or(Frame { fresh: true, order: 0 });
        }
        &self.sample
    }
    fn level(&mut self, channel: usize, level: bool) {
        if let Some(cell) = self.sample.channels.get_mut(channel) {
            *cell = level;
        }
    }
    fn runs(&mut self) {
        let cells = self.sample.travel.iter_mut().zip(&mut self.parts).zip(&self.own_rate).zip(&self.routes.pulses);
        for (((mm, part), own), pulse) in cells {
            let rate = own.unwrap_or(self.rate);
            let whole = rate.scans.max(1) * pulse;
            *part += rate.mm;
            let pulses = *part / whole;
            *part -= pulses * whole;
            *mm = i32::try_from(pulses * pulse).unwrap_or(0);
        }
    }
    /// A detector rises and falls no faster than it is declared to, and stays covered while the carrier is there.
    fn covers(&mut self, at: usize, mm: i64) {
        let (Some(detector), Some(cover)) = (self.routes.detectors.get(at), self.covers.get_mut(at)) else { return };
        cover.scans = cover.scans.saturating_add(1);
        cover.mm += mm.abs();
        let long = cover.scans >= detector.pulse;
        if cover.covered && long && cover.mm >= detector.covered {
            *cover = Cover { covered: false, scans: 0, mm: 0, ..*cover };
        } else if !cover.covered && cover.waiting > 0 && long {
            *cover = Cover { covered: true, scans: 0, mm: 0, waiting: cover.waiting - 1 };
            for leg in &detector.legs {
                let said = self.deviations.iter().position(|(from, to, _)| *from == at && *to == leg.to);
                let left = said.map_or(Some(leg.left), |i| self.deviations.remove(i).2);
                self.flights.extend(left.map(|left| Flight { to: leg.to, left }));
            }
            for &(gauge, reading) in &detector.shows {
                if let Some(cell) = self.shown.get_mut(gauge) {
                    *cell = reading;
                }
            }
        }
        let covered = cover.covered;
        self.level(self.routes.detectors.get(at).map_or(usize::MAX, |d| d.channel), covered);
    }
}
