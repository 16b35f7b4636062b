//! The rows of a campaign: for each way of a station, what drives it and in which scan it must trip.

use std::rc::Rc;

use super::calm::{AFTERWARDS, Calm};
use super::event::Event;
use super::script::{Act, Rate, Script};
use crate::bench::named;
use crate::station::ways::{Source, Way, WayOf};
use crate::station::{Mm, Scans, Station, WatchKind};
use crate::told::lead_in;

mod bypasses;
mod conditions;
mod confirm;
mod gauges;
mod inputs;
mod outputs;
mod paces;
mod passings;
mod permission;
mod raise;
mod refills;
mod resets;
mod travels;

/// A row before it is run.
#[derive(Debug, Clone)]
pub(super) struct Trial {
    /// What is driven, in words.
    pub(super) subject: String,
    /// What is waited for.
    pub(super) event: Event,
    /// What is done, or why nothing is.
    pub(super) stimulus: String,
    /// First scan of the stimulus; scans count from 0 at power-up.
    pub(super) mark: Scans,
    /// The scan behind the last in which it is waited for.
    pub(super) until: Scans,
    /// Scan in which it must come; nothing if it must not.
    pub(super) at: Option<Scans>,
    /// What the field shows, which following rows may share; nothing if it is not driven.
    pub(super) script: Option<Rc<Script>>,
}

/// A row of a script that several rows share.
struct Part {
    event: Event,
    stimulus: String,
    mark: Scans,
    until: Scans,
    at: Option<Scans>,
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
    /// All rows: those of the ways in their order, then those of what acts on answers.
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
        self.bypasses();
        self.released_later();
        self.resets();
        self.refills();
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
    /// A way in words.
    fn words(&self, way: usize) -> String {
        self.ways.get(way).map_or_else(String::new, |way| named(self.station, *way))
    }
    /// A way that is not driven.
    fn skip(&mut self, way: usize, why: &str) {
        self.not_driven(self.words(way), Event::Trips(way), why);
    }
    /// A row that is not driven.
    fn not_driven(&mut self, subject: String, event: Event, why: &str) {
        let stimulus = format!("not driven: {why}");
        self.trials.push(Trial { subject, event, stimulus, mark: 0, until: 0, at: None, script: None });
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
    fn row(&mut self, way: usize, stimulus: impl Into<String>, mark: Scans, at: Option<Scans>, script: Script) {
        self.waits(&self.words(way), Event::Trips(way), stimulus, mark, at, script);
    }
    /// A row in which something must come in this scan, or not.
    fn waits(
        &mut self,
        subject: &str,
        event: Event,
        stimulus: impl Into<String>,
        mark: Scans,
        at: Option<Scans>,
        script: Script,
    ) {
        let part = Part { event, stimulus: stimulus.into(), mark, until: script.now(), at };
        self.shared(subject, script, [part]);
    }
    /// Rows that are parts of one script.
    fn shared(&mut self, subject: &str, script: Script, parts: impl IntoIterator<Item = Part>) {
        let script = Rc::new(script);
        for Part { event, stimulus, mark, until, at } in parts {
            let (subject, script) = (subject.to_owned(), Some(Rc::clone(&script)));
            self.trials.push(Trial { subject, event, stimulus, mark, until, at, script });
        }
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
        script.adopt();
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
            script.turn(key, script.now(), held);
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
