//! Outputs that a stop releases later: once its pace stands, or at the latest after its time.

use super::super::calm::AFTERWARDS;
use super::super::event::Event;
use super::{Part, Plan, Script};
use crate::station::{Pace, Rank, Scans, Stop, Then};

use super::raise::Raise;

impl Plan<'_> {
    pub(super) fn released_later(&mut self) {
        let first = self.station.first_stop();
        for (stop, rank) in self.station.stops.iter().zip(first..) {
            if let Some(then) = &stop.then {
                self.then(stop, rank, then);
            }
        }
    }
    fn then(&mut self, stop: &Stop, rank: Rank, then: &Then) {
        for output in &then.outputs {
            let name = self.station.outputs.get(*output).map_or("", |output| output.name.text.as_str());
            let subject = format!("stop {}, then {name}", stop.name.text);
            let (Some(raise), Some(pace)) = (self.raise_rank(rank), self.calm.pace(then.pace)) else {
                self.not_driven(subject, Event::Off(*output), "no guard on a single input asks for the stop");
                continue;
            };
            self.comes_to_rest(&subject, *output, (&raise, pace), then);
            self.creeps_on(&subject, *output, (&raise, pace), then);
        }
    }
    /// A lift in which the stop trips, up to where a span of the pace begins; gives its scan.
    fn stopping(&self, raise: &Raise, pace: &Pace) -> (Script, Scans) {
        let cruise = self.cruise(None);
        let mut script = self.begin(None, cruise);
        let trips = raise.begin(&mut script);
        script.go(raise.after + 2, cruise);
        script.align(pace.span, cruise);
        (script, trips)
    }
    /// The pace comes to rest, and moves again: the output goes off in the scan in which that is known, and stays off.
    fn comes_to_rest(&mut self, subject: &str, output: usize, (raise, pace): (&Raise, &Pace), then: &Then) {
        let still = self.pulses(pace.still).1;
        let (mut script, trips) = self.stopping(raise, pace);
        let mark = trips.saturating_sub(raise.after);
        let at = script.now() + pace.span - 1;
        if still == 0 {
            self.drive(&mut script, false);
        }
        script.spans(2, pace.span, i64::from(still), self.calm.pulse);
        let moves = script.now();
        script.spans(2, pace.span, i64::from(still + self.calm.pulse), self.calm.pulse);
        script.go(AFTERWARDS, 0);
        let (name, until) = (self.named(then.pace), script.now());
        let parts = [
            Part {
                event: Event::Off(output),
                stimulus: format!("{}, and {name} comes down to {still} mm in a span", raise.what),
                mark,
                until: moves,
                at: Some(at),
            },
            Part {
                event: Event::On(output),
                stimulus: format!("after that {name} runs {} mm in a span", still + self.calm.pulse),
                mark: moves,
                until,
                at: None,
            },
        ];
        self.shared(subject, script, parts);
    }
    /// The pace never quite comes to rest: the output goes off when its time is over.
    fn creeps_on(&mut self, subject: &str, output: usize, (raise, pace): (&Raise, &Pace), then: &Then) {
        let moving = self.pulses(pace.still).1 + self.calm.pulse;
        let (mut script, trips) = self.stopping(raise, pace);
        let mark = trips.saturating_sub(raise.after);
        // The verdict in which the stop trips is the first that publishes it.
        let at = trips + then.latest + 1;
        let spans = (at + AFTERWARDS).saturating_sub(script.now()).div_ceil(pace.span);
        script.spans(spans, pace.span, i64::from(moving), self.calm.pulse);
        let words = format!("{}, and {} goes on with {moving} mm in a span", raise.what, self.named(then.pace));
        let until = script.now();
        let part = |stimulus: String, until: Scans, at: Option<Scans>| Part {
            event: Event::Off(output),
            stimulus,
            mark,
            until,
            at,
        };
        let inside = part(format!("{words} for {} scans", then.latest), at, None);
        let outside = part(format!("{words} for {} scans", then.latest + 1), until, Some(at));
        self.shared(subject, script, [inside, outside]);
    }
}
