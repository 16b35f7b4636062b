//! Faults of inputs, outputs and modes.

use super::super::calm::AFTERWARDS;
use super::super::script::Act;
use super::Plan;
use crate::station::ways::{Source, Way, WayOf};
use crate::station::{Contact, Detector, InputKind, Pair, Scans};

impl Plan<'_> {
    pub(super) fn input(&mut self, way: usize, of: WayOf, id: usize) {
        let Some(input) = self.station.inputs.get(id) else { return };
        match (&input.kind, of.way) {
            (InputKind::Contact(contact), Way::Chatter) => self.chatter(way, id, contact),
            (InputKind::Pair(pair), Way::Differs) => self.disagree(way, id, pair),
            (InputKind::Detector(detector), Way::Stuck) => self.stuck(way, id, detector),
            (InputKind::Detector(detector), Way::Missing) => self.missing(way, id, detector),
            (InputKind::Gauge(gauge), how) => self.gauge(way, how, id, gauge),
            (InputKind::Pace(pace), Way::OverTop) => self.over_top(way, id, pace),
            (InputKind::Pace(pace), Way::Unsure) => self.unsure(way, id, pace),
            (InputKind::Link(link), how) => self.link(way, how, link.terminal, link.silent),
            _ => {}
        }
    }
    fn chatter(&mut self, way: usize, id: usize, contact: &Contact) {
        let Some(most) = contact.most_changes else { return };
        let span = (1_000_000 / self.station.scan_us.max(1)).max(1);
        let cruise = self.calm.cruise;
        for (changes, trips) in [(most, false), (most + 1, true)] {
            if changes >= span {
                self.skip(way, "more changes than there are scans in a second");
                continue;
            }
            let mut script = self.begin(None, cruise);
            // Changes are counted in seconds from power-up.
            script.align(span, cruise);
            let (mark, mut level) = (script.now(), contact.rests_closed);
            for _ in 0..changes {
                level = !level;
                script.set(Act::Level(contact.channel, level));
                script.go(1, cruise);
            }
            script.align(span, cruise);
            script.set(Act::Level(contact.channel, contact.rests_closed));
            script.go(AFTERWARDS, cruise);
            let words = format!("{} chatters: {changes} changes in a second", self.named(id));
            self.row(way, words, mark, trips.then_some(mark + changes - 1), script);
        }
    }
    /// Each channel by itself, for as long as is borne and for a scan more.
    fn disagree(&mut self, way: usize, id: usize, pair: &Pair) {
        if pair.differing == Pair::NEVER_FAULTY {
            return self.skip(way, "its channels may differ for ever");
        }
        let cruise = self.calm.cruise;
        let (there, again) =
            if pair.rests_closed { (pair.settle.down, pair.settle.up) } else { (pair.settle.up, pair.settle.down) };
        let rests = [pair.rests_closed, pair.rests_closed != pair.opposed];
        for (channel, rest) in pair.channels.into_iter().zip(rests) {
            let lasts = (pair.differing + there).saturating_sub(again);
            for (scans, trips) in [(lasts, false), (lasts + 1 + AFTERWARDS, true)] {
                if scans == 0 {
                    continue;
                }
                let mut script = self.begin(None, cruise);
                let mark = script.now();
                script.set(Act::Level(channel, !rest));
                script.go(scans, cruise);
                script.set(Act::Level(channel, rest));
                script.go(again + AFTERWARDS, cruise);
                let words =
                    format!("{} disagrees: {} alone turns for {scans} scans", self.named(id), self.terminal(channel));
                if trips {
                    self.trips(way, words, mark, mark + there + pair.differing, script);
                } else if pair.differing > again {
                    self.quiet(way, words, mark, script);
                }
            }
        }
    }
    fn stuck(&mut self, way: usize, id: usize, detector: &Detector) {
        let Some((_, most)) = detector.covered_at_most else { return };
        let cruise = self.calm.cruise;
        let inside = self.pulses(most).1;
        for (run, trips) in [(inside, false), (inside + self.calm.pulse, true)] {
            let mut script = self.begin(None, cruise);
            let mark = script.now();
            script.set(Act::Level(detector.channel, true));
            // The level rises in the last of these scans; the rope that it runs is counted from there.
            script.go(detector.settle.up + 1, cruise);
            script.run(run, cruise);
            let last = script.now() - 1;
            script.go(AFTERWARDS, 0);
            let words = format!("{} stays covered over {run} mm of rope, which then stands", self.named(id));
            self.row(way, words, mark, trips.then_some(last), script);
        }
    }
    fn missing(&mut self, way: usize, id: usize, detector: &Detector) {
        let Some((_, most)) = detector.rises_every else { return };
        let cruise = self.calm.cruise;
        let inside = self.pulses(most).1;
        for (run, trips) in [(inside, false), (inside + self.calm.pulse, true)] {
            let mut script = self.begin(None, cruise);
            script.rise(detector, cruise);
            script.run(run - run.min(u32::try_from(cruise).unwrap_or(0) * AFTERWARDS), cruise);
            let mark = script.now();
            script.run(run.min(u32::try_from(cruise).unwrap_or(0) * AFTERWARDS), cruise);
            let last = script.now() - 1;
            script.go(AFTERWARDS, 0);
            let words = format!("{} is blind: {run} mm of rope run since it rose, and the rope stands", self.named(id));
            self.row(way, words, mark, trips.then_some(last), script);
        }
    }
    fn link(&mut self, way: usize, how: Way, terminal: usize, silent: Scans) {
        let cruise = self.calm.cruise;
        let name = self.station.link_terminals.get(terminal).cloned().unwrap_or_default();
        match how {
            Way::Silent => {
                for (scans, trips) in [(silent, false), (silent + 1, true)] {
                    let mut script = self.begin(None, cruise);
                    let mark = script.now();
                    script.set(Act::Link(terminal, None));
                    script.go(scans, cruise);
                    script.set(Act::Link(terminal, Some(0)));
                    script.go(AFTERWARDS, cruise);
                    let words = format!("no frame comes on {name} for {scans} scans");
                    self.row(way, words, mark, trips.then_some(mark + silent), script);
                }
            }
            Way::Ordered(rank) => {
                let mut orders = vec![(rank, true)];
                if rank == self.station.worst() {
                    orders.push((rank.saturating_add(1), true));
                }
                orders.push((rank - 1, false));
                for (order, trips) in orders {
                    let mut script = self.begin(None, cruise);
                    let mark = script.now();
                    script.set(Act::Link(terminal, Some(order)));
                    script.go(1, cruise);
                    script.set(Act::Link(terminal, Some(0)));
                    script.go(AFTERWARDS, cruise);
                    let words = format!("a frame on {name} orders rank {order} ({})", self.station.answer(order));
                    self.row(way, words, mark, trips.then_some(mark), script);
                }
            }
            _ => {}
        }
    }
    pub(super) fn output(&mut self, way: usize, id: usize) {
        let Some(output) = self.station.outputs.get(id) else { return };
        let Some((_, borne)) = output.read_back else { return };
        let cruise = self.calm.cruise;
        for (scans, trips) in [(borne, false), (borne + 1, true)] {
            let mut script = self.begin(None, cruise);
            // After a lift is taken over its outputs need this long to be seen on.
            script.go(borne + AFTERWARDS, cruise);
            let mark = script.now();
            script.set(Act::ReadBack(id, Some(true)));
            script.go(scans, cruise);
            script.set(Act::ReadBack(id, None));
            script.go(AFTERWARDS, cruise);
            let words = format!("the read-back of {} shows it off for {scans} scans", output.name.text);
            self.row(way, words, mark, trips.then_some(mark + borne), script);
        }
    }
    pub(super) fn modes(&mut self, way: usize, of: WayOf) {
        let settle = |plan: &Self, key: usize, held: bool| {
            plan.calm.key(key).map_or(0, |key| if held { key.settle.up } else { key.settle.down })
        };
        let cruise = self.calm.cruise;
        let own = self.station.passenger_mode().and_then(|i| self.station.modes.get(i));
        let other = self.station.modes.iter().find(|mode| Some(&mode.key) != own.map(|own| &own.key));
        match (of.source, of.way) {
            (Source::Mode(mode), _) => self.modes_too_fast(way, mode),
            (_, Way::Unselected) => {
                let Some(own) = own else { return };
                let mut script = self.begin(None, cruise);
                let mark = script.now();
                self.hold(&mut script, own.key, false);
                let there = settle(self, own.key, false);
                script.go(there + AFTERWARDS, cruise);
                self.trips(
                    way,
                    format!("no mode is selected: {} is let go", own.name.text),
                    mark,
                    mark + there,
                    script,
                );
                let Some(other) = other else { return };
                let mut script = self.begin(None, cruise);
                let mark = script.now();
                self.hold(&mut script, other.key, true);
                let there = settle(self, other.key, true);
                script.go(there + AFTERWARDS, cruise);
                let words = format!("{} and {} are selected at once", own.name.text, other.name.text);
                self.trips(way, words, mark, mark + there, script);
            }
            (_, Way::Changed) => {
                let (Some(own), Some(other)) = (own, other) else { return };
                let pace = self.station.inputs.iter().find_map(|input| match &input.kind {
                    InputKind::Pace(pace) => Some(pace),
                    _ => None,
                });
                let Some(pace) = pace else { return };
                let slow = self.pulses(pace.still).1;
                for (mm, trips) in [(slow, false), (slow + self.calm.pulse, true)] {
                    let mut script = self.begin(None, cruise);
                    script.align(pace.span, cruise);
                    script.spans(2, pace.span, i64::from(mm), self.calm.pulse);
                    let mark = script.now();
                    self.hold(&mut script, own.key, false);
                    self.hold(&mut script, other.key, true);
                    // The change is seen when the slower of both keys has settled.
                    let there = settle(self, own.key, false).max(settle(self, other.key, true));
                    script.spans((there + AFTERWARDS).div_ceil(pace.span), pace.span, i64::from(mm), self.calm.pulse);
                    let words = format!("{} instead of {} while {mm} mm run in a span", other.name.text, own.name.text);
                    self.row(way, words, mark, trips.then_some(mark + there), script);
                }
            }
            _ => {}
        }
    }
}
