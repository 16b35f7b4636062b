//! The rows of a campaign: for each way of a station, what drives it and in which scan it must trip.

use super::calm::{AFTERWARDS, Calm};
use super::script::{Act, Rate, Script};
use crate::station::ways::{Source, Way, WayOf};
use crate::station::{Mm, Scans, Station, WatchKind};
use crate::told::lead_in;

mod conditions;
mod confirm;
mod gauges;
mod inputs;
mod paces;
mod passings;
mod travels;

/// A row before it is run.
#[derive(Debug, Clone)]
pub(super) struct Trial {
    /// The way, in the common order.
    pub(super) way: usize,
    /// What is done, or why nothing is.
    pub(super) stimulus: String,
    /// First scan of the stimulus; scans count from 0 at power-up.
    pub(super) mark: Scans,
    /// Scan in which the way must trip; nothing if it must not.
    pub(super) trips: Option<Scans>,
    /// What the field shows; nothing if it is not driven.
    pub(super) script: Option<Script>,
}

/// Makes the rows.
pub(super) struct Plan<'s> {
    station: &'s Station,
    ways: &'s [WayOf],
    calm: Calm<'s>,
    trials: Vec<Trial>,
}

impl<'s> Plan<'s> {
    pub(super) fn new(station: &'s Station, ways: &'s [WayOf]) -> Self {
        Self { station, ways, calm: Calm::new(station), trials: Vec::new() }
    }
    /// All rows, in the order of the ways.
    pub(super) fn trials(mut self) -> Vec<Trial> {
        for (way, of) in self.ways.iter().enumerate() {
            let before = self.trials.len();
            match of.source {
                Source::PowerUp => self.power_up(way),
                Source::Modes | Source::Mode(_) => self.modes(way, *of),
                Source::Output(i) => self.output(way, i),
                Source::Slow(i) => self.slow(way, i),
                Source::Input(i) => self.input(way, *of, i),
                Source::Watch(i) => self.watch(way, of.way, i),
            }
            if self.trials.len() == before {
                self.skip(way, "the campaign knows no stimulus for it");
            }
        }
        self.trials
    }
    /// Rows of a watch's way.
    fn watch(&mut self, way: usize, how: Way, id: usize) {
        let Some(watch) = self.station.watches.get(id) else { return };
        let mode = watch.modes.first().copied();
        match &watch.kind {
            WatchKind::Guard(guard) => self.guard(way, mode, guard),
            WatchKind::Agree(agree) => self.agree(way, mode, agree),
            WatchKind::Measure(measure) => self.measure(way, mode, measure),
            WatchKind::Confirm(confirm) => self.confirm(way, mode, confirm),
            WatchKind::Exercise(exercise) => self.exercise(way, mode, exercise),
            WatchKind::Travel(travel) => self.travel(way, how, mode, travel),
            WatchKind::Spacing(spacing) => self.spacing(way, how, mode, spacing),
            WatchKind::Count(count) => self.count(way, how, mode, count),
        }
    }
    /// A row that is not driven.
    fn skip(&mut self, way: usize, why: &str) {
        self.trials.push(Trial { way, stimulus: format!("not driven: {why}"), mark: 0, trips: None, script: None });
    }
    /// A row in which the way must trip in this scan.
    fn trips(&mut self, way: usize, stimulus: impl Into<String>, mark: Scans, at: Scans, script: Script) {
        self.row(way, stimulus, mark, Some(at), script);
    }
    /// A row in which it must not trip.
    fn quiet(&mut self, way: usize, stimulus: impl Into<String>, mark: Scans, script: Script) {
        self.row(way, stimulus, mark, None, script);
    }
    /// A row in which it must trip in this scan, or not.
    fn row(&mut self, way: usize, stimulus: impl Into<String>, mark: Scans, trips: Option<Scans>, script: Script) {
        self.trials.push(Trial { way, stimulus: stimulus.into(), mark, trips, script: Some(script) });
    }
    /// A lift that has run calmly at this rate, in a mode (that of passengers unless another one is named).
    fn begin(&self, mode: Option<usize>, rate: impl Into<Rate>) -> Script {
        let (mut script, rate) = (Script::default(), rate.into());
        if let Some(mode) = mode.or_else(|| self.station.passenger_mode()).and_then(|i| self.station.modes.get(i)) {
            self.hold(&mut script, mode.key, true);
        }
        self.drive(&mut script, rate.most() != 0);
        let lead = lead_in(self.station);
        script.go(lead, rate);
        script.adopts = Some(lead);
        script.go(AFTERWARDS, rate);
        script
    }
    /// Contacts that say whether the drive runs.
    fn drive(&self, script: &mut Script, runs: bool) {
        for channel in self.calm.running() {
            script.set(Act::Level(channel, runs));
        }
    }
    /// Holds a key, or lets it go.
    fn hold(&self, script: &mut Script, key: usize, held: bool) {
        if let Some(key) = self.calm.key(key) {
            let (first, second) = key.channels;
            script.set(Act::Level(first, held));
            if let Some(second) = second {
                script.set(Act::Level(second, held));
            }
        }
    }
    /// Travel a scan in a mode: that of a calm lift, or less where the mode has a limit.
    fn cruise(&self, mode: Option<usize>) -> i32 {
        let limit = mode.and_then(|i| self.station.modes.get(i)).and_then(|mode| mode.at_most);
        match limit.and_then(|(pace, mm)| self.calm.pace(pace).map(|pace| (pace.span, mm))) {
            Some((span, mm)) => self.calm.whole(u64::from(mm) * 4 / 5 / u64::from(span.max(1))).min(self.calm.cruise),
            None => self.calm.cruise,
        }
    }
    /// Least travel in whole pulses of at least, and most of at most, so many mm.
    fn pulses(&self, mm: Mm) -> (Mm, Mm) {
        let pulse = self.calm.pulse.max(1);
        (mm.div_ceil(pulse) * pulse, mm / pulse * pulse)
    }
    fn terminal(&self, channel: usize) -> &str {
        self.station.channels.get(channel).map_or("", String::as_str)
    }
    fn named(&self, input: usize) -> &str {
        self.station.inputs.get(input).map_or("", |input| input.name.text.as_str())
    }
    fn power_up(&mut self, way: usize) {
        let mut script = Script::default();
        script.go(AFTERWARDS, 0);
        self.trips(way, "the controller powers up", 0, 0, script);
    }
}
