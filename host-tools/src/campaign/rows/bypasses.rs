//! Bypasses: each keeps its own watch from tripping, and no other one, while its key is held in its mode at its speed; until its time is used
//! up, and not again before its rest is over. A controller powers up with its time used up, so that each script first rests.

use super::super::calm::AFTERWARDS;
use super::super::event::Event;
use super::raise::Raise;
use super::{Act, Part, Plan, Script};
use crate::station::{Bypass, Key, Mode, Pace, Scans, WatchId};
use crate::told::lead_in;

/// A bypass of a watch, with what its rows need.
struct Case<'s> {
    subject: String,
    bypass: &'s Bypass,
    key: &'s Key,
    name: String,
    mode: &'s Mode,
    pace: &'s Pace,
    raise: Raise,
    /// The way of its watch.
    way: usize,
}

impl<'s> Plan<'s> {
    pub(super) fn bypasses(&mut self) {
        for bypass in &self.station.bypasses {
            for watch in &bypass.of {
                let subject = format!("bypass {} of {}", bypass.name.text, self.watch_name(*watch));
                match self.bypass(&subject, bypass, *watch) {
                    Ok(case) => {
                        self.too_soon_and_too_long(&case);
                        self.while_it_stands(&case);
                    }
                    Err(why) => {
                        let way = self.tripped(*watch).map_or(usize::MAX, |(way, _)| way);
                        self.not_driven(subject, Event::Trips(way), why);
                    }
                }
            }
        }
    }
    fn watch_name(&self, watch: WatchId) -> &'s str {
        self.station.watches.get(watch).map_or("", |watch| watch.name.text.as_str())
    }
    fn bypass(&self, subject: &str, bypass: &'s Bypass, watch: WatchId) -> Result<Case<'s>, &'static str> {
        let raise = self.raise(|id, _, _| id == watch).ok_or("no single input trips its watch")?;
        let (way, _) = self.tripped(watch).ok_or("its watch trips in several ways")?;
        let of = self.station.watches.get(watch);
        let mode = bypass.modes.iter().find(|mode| of.is_some_and(|of| of.modes.is_empty() || of.modes.contains(mode)));
        let mode = mode.and_then(|mode| self.station.modes.get(*mode)).ok_or("its watch is off in its modes")?;
        let key = self.calm.key(bypass.key).ok_or("its key is none")?;
        let pace = self.calm.pace(bypass.at_most.0).ok_or("its pace is none")?;
        if bypass.rest < lead_in(self.station) + Self::leads(key, &raise) {
            return Err("its rest is over before a lift can be judged");
        }
        let (subject, name) = (subject.to_owned(), self.named(bypass.key).to_owned());
        Ok(Case { subject, bypass, key, name, mode, pace, raise, way })
    }
    /// Scans of a lift that is judged, up to where a press counts.
    fn leads(key: &Key, raise: &Raise) -> Scans {
        key.settle.up + raise.again + 2 * AFTERWARDS
    }
    /// A lift that stands in the mode of the bypass, whose key counts as held from this scan on, which is the next; gives the first scan
    /// that shows the key.
    fn held_from(&self, case: &Case<'_>, scan: Scans) -> (Scans, Script) {
        let mut script = Script::default();
        self.hold(&mut script, case.mode.key, true);
        self.drive(&mut script, false);
        script.go(scan - Self::leads(case.key, &case.raise), 0);
        script.adopt();
        script.go(scan - script.now(), 0);
        let mark = scan - case.key.settle.up;
        script.turn(case.key, mark, true);
        (mark, script)
    }
    /// Everything is as it was, the lift counts as one that runs, and the key is pressed anew; gives the first scan in which it counts.
    fn again(script: &mut Script, case: &Case<'_>) -> Scans {
        case.raise.end(script);
        script.turn(case.key, script.now(), false);
        script.align(case.pace.span, 0);
        script.go(case.raise.again + case.key.settle.down + case.pace.span, 0);
        script.adopt();
        script.go(AFTERWARDS, 0);
        script.turn(case.key, script.now(), true);
        script.go(case.key.settle.up + 1, 0);
        script.now() - 1
    }
    fn part(case: &Case<'_>, stimulus: String, mark: Scans, until: Scans, at: Option<Scans>) -> Part {
        Part { event: Event::Trips(case.way), stimulus, mark, until, at }
    }
    /// Pressed in the last scan of its rest; and then for as long as it may be used, and a scan longer.
    fn too_soon_and_too_long(&mut self, case: &Case<'_>) {
        let Case { bypass, name, raise, subject, .. } = case;
        let (mark, mut script) = self.held_from(case, bypass.rest - 1);
        let trips = raise.begin(&mut script);
        script.go(raise.after + AFTERWARDS, 0);
        let words = format!("{name} is held from the last of {} scans of rest on, and {}", bypass.rest, raise.what);
        let soon = Self::part(case, words, mark, script.now(), Some(trips));
        let from = Self::again(&mut script, case);
        let mark = script.now();
        raise.begin(&mut script);
        let over = from + bypass.budget;
        script.go((over + AFTERWARDS).saturating_sub(mark), 0);
        let words = |scans: Scans| format!("{name} is held for {scans} scans, and {}", raise.what);
        let inside = Self::part(case, words(bypass.budget), mark, over, None);
        let outside = Self::part(case, words(bypass.budget + 1), mark, script.now(), Some(over));
        self.shared(&subject.clone(), script, [soon, inside, outside]);
    }
    /// Pressed as soon as its rest is over: what it suppresses, and what ends that.
    fn while_it_stands(&mut self, case: &Case<'_>) {
        let Case { bypass, key, name, mode, pace, raise, subject, way, .. } = case;
        let mut parts = Vec::new();
        let (mark, mut script) = self.held_from(case, bypass.rest);
        script.go(1, 0);
        raise.begin(&mut script);
        script.go(raise.after + 2 * AFTERWARDS, 0);
        let words = format!("{name} is held from the scan on behind {} scans of rest, and {}", bypass.rest, raise.what);
        parts.push(Self::part(case, words, mark, script.now(), None));

        let masked = |script: &mut Script| {
            Self::again(script, case);
            raise.begin(script);
            script.go(raise.after + AFTERWARDS, 0);
            script.now()
        };
        // Let go.
        let mark = masked(&mut script);
        script.turn(key, mark, false);
        script.go(key.settle.down + AFTERWARDS, 0);
        let words = format!("{name} is let go while this is bypassed: {}", raise.what);
        parts.push(Self::part(case, words, mark, script.now(), Some(mark + key.settle.down)));
        // One channel of two.
        if let (channel, Some(_)) = key.channels {
            let mark = masked(&mut script);
            script.set(Act::Level(channel, false));
            script.go(key.settle.down + AFTERWARDS, 0);
            let words =
                format!("{name} is let go on {} alone while this is bypassed: {}", self.terminal(channel), raise.what);
            parts.push(Self::part(case, words, mark, script.now(), Some(mark + key.settle.down)));
        }
        // Just at its speed, and a pulse faster.
        masked(&mut script);
        script.align(pace.span, 0);
        let (inside, mark) = (self.pulses(bypass.at_most.1).1, script.now());
        script.spans(2, pace.span, i64::from(inside), self.calm.pulse);
        let (outside, faster) = (inside + self.calm.pulse, script.now());
        script.spans(2, pace.span, i64::from(outside), self.calm.pulse);
        let words = |mm| {
            format!("{} runs {mm} mm in a span while this is bypassed: {}", self.named(bypass.at_most.0), raise.what)
        };
        parts.push(Self::part(case, words(inside), mark, faster, None));
        parts.push(Self::part(case, words(outside), faster, script.now(), Some(faster + pace.span - 1)));
        script.align(pace.span, 0);
        // It slows down first: another mode would find it moving.
        script.go(2 * pace.span, 0);
        // Another mode.
        let other =
            self.station.modes.iter().enumerate().find(|(i, _)| !bypass.modes.contains(i)).map(|(_, other)| other);
        if let Some(other) = other {
            let mark = masked(&mut script);
            self.hold(&mut script, mode.key, false);
            self.hold(&mut script, other.key, true);
            // Its mode is known no longer than both keys say so.
            let down = self.calm.key(mode.key).map_or(0, |key| key.settle.down);
            let up = self.calm.key(other.key).map_or(0, |key| key.settle.up);
            script.go(down.max(up) + AFTERWARDS, 0);
            let words =
                format!("{} instead of {} while this is bypassed: {}", other.name.text, mode.name.text, raise.what);
            parts.push(Self::part(case, words, mark, script.now(), Some(mark + down.min(up))));
            self.hold(&mut script, other.key, false);
            self.hold(&mut script, mode.key, true);
            script.go(down.max(up) + 1, 0);
        }
        // Another watch.
        let first = self.station.first_stop();
        let others = self.raise(|id, watch, guard| {
            watch.modes.is_empty() && guard.answer >= first && !self.station.bypasses.iter().any(|b| b.of.contains(&id))
        });
        if let Some(others) = others
            && let Some((other, _)) = self.tripped(others.watch)
        {
            Self::again(&mut script, case);
            let mark = script.now();
            let trips = others.begin(&mut script);
            script.go(others.after + AFTERWARDS, 0);
            let stimulus = format!("{name} is held, and {}", others.what);
            parts.push(Part { event: Event::Trips(other), stimulus, mark, until: script.now(), at: Some(trips) });
        }
        if script.now() - bypass.rest > bypass.budget {
            let why = "its time is over before its rows are";
            return self.not_driven(subject.clone(), Event::Trips(*way), why);
        }
        self.shared(&subject.clone(), script, parts);
    }
}
