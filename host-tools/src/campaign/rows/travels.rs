//! Carriers on their way from one detector to the next.

use super::super::calm::AFTERWARDS;
use super::super::script::{Act, Rate};
use super::{Plan, Script};
use crate::station::ways::Way;
use crate::station::{Detector, InputId, InputKind, Measured, Mm, Scans, Travel};

/// A travel with what it needs.
pub(super) struct Stretch<'s> {
    pub(super) travel: &'s Travel,
    pub(super) from: &'s Detector,
    pub(super) to: &'s Detector,
    pub(super) names: [String; 2],
    /// Its mode, and a rate at which it judges.
    mode: Option<usize>,
    pub(super) speed: Rate,
    /// It is measured in scans.
    timed: bool,
    signed: bool,
    still: Mm,
    span: Scans,
}

impl<'s> Plan<'s> {
    pub(super) fn detector(&self, id: InputId) -> Option<&'s Detector> {
        match self.station.inputs.get(id).map(|input| &input.kind) {
            Some(InputKind::Detector(detector)) => Some(detector),
            _ => None,
        }
    }
    /// A rate at which a watch judges: that of a calm lift, or the middle of its band.
    pub(super) fn judging(&self, mode: Option<usize>, measured: Measured) -> Option<Rate> {
        match measured {
            Measured::Rope(_) => Some(self.cruise(mode).into()),
            Measured::Time { pace, least, most } => {
                let (span, mm) = (self.calm.pace(pace)?.span, self.pulses(least.midpoint(most)).1);
                (least..=most).contains(&mm).then(|| Rate::new(mm, span, self.calm.pulse))
            }
        }
    }
    /// A travel with what its rows need, or why it cannot be driven.
    pub(super) fn stretch(&self, mode: Option<usize>, travel: &'s Travel) -> Result<Stretch<'s>, &'static str> {
        let (pace, timed) = match travel.measured {
            Measured::Rope(pace) => (pace, false),
            Measured::Time { pace, .. } => (pace, true),
        };
        let (Some(from), Some(to), Some(of)) =
            (self.detector(travel.from), self.detector(travel.to), self.calm.pace(pace))
        else {
            return Err("it has no detectors, or no pace");
        };
        let speed = self
            .judging(mode, travel.measured)
            .ok_or("no whole number of pulses in a span lies in its band of speed")?;
        let names = [self.named(travel.from).to_owned(), self.named(travel.to).to_owned()];
        let (signed, still, span) = (of.signed, of.still, of.span);
        Ok(Stretch { travel, from, to, names, mode, speed, timed, signed, still, span })
    }
    pub(super) fn travel(&mut self, way: usize, how: Way, mode: Option<usize>, travel: &'s Travel) {
        let stretch = match self.stretch(mode, travel) {
            Ok(stretch) => stretch,
            Err(why) => return self.skip(way, why),
        };
        match how {
            Way::Early => self.early(way, &stretch),
            Way::Late => self.late(way, &stretch),
            Way::Stray => self.stray(way, &stretch),
            Way::Crowded => self.crowded(way, &stretch),
            Way::Backwards => self.backwards(way, &stretch),
            _ => {}
        }
    }
    /// A lift whose stretch no longer expects carriers that stood on it.
    pub(super) fn known(&self, stretch: &Stretch<'_>) -> Script {
        let mut script = self.begin(stretch.mode, stretch.speed);
        // Until the speed is known a window of time refills again and again.
        script.go(2 * stretch.span, stretch.speed);
        let mut left = i64::from(stretch.travel.run);
        while left > 0 {
            left -= i64::from(stretch.speed.at(script.now()).max(0));
            script.go(1, stretch.speed);
        }
        script.go(2, stretch.speed);
        script
    }
    /// Goes on until a carrier that starts now has this age, and no farther.
    fn age(script: &mut Script, stretch: &Stretch<'_>, age: u32) {
        if stretch.timed { script.go(age, stretch.speed) } else { script.run(age, stretch.speed) }
    }
    fn unit(stretch: &Stretch<'_>) -> &'static str {
        if stretch.timed { "scans" } else { "mm of rope" }
    }
    /// Ages that a carrier can have: at least, and at most, this one.
    fn ages(&self, stretch: &Stretch<'_>, age: u32) -> (u32, u32) {
        if stretch.timed { (age, age) } else { self.pulses(age) }
    }
    fn finer(&self, stretch: &Stretch<'_>) -> u32 {
        if stretch.timed { 1 } else { self.calm.pulse }
    }
    /// A carrier that starts and arrives at this age; gives mark and scan of its arrival.
    fn arrives(&self, stretch: &Stretch<'_>, age: u32) -> (Scans, Scans, Script) {
        let mut script = self.known(stretch);
        let mark = script.now();
        script.rise(stretch.from, stretch.speed);
        Self::age(&mut script, stretch, age);
        let arrival = script.now() - 1;
        // What is sampled then has been so for as long as it settles.
        script.at(arrival.saturating_sub(stretch.to.settle.up), Act::Level(stretch.to.channel, true));
        script.go(2, stretch.speed);
        script.set(Act::Level(stretch.to.channel, false));
        script.go(AFTERWARDS, stretch.speed);
        (mark, arrival, script)
    }
    fn early(&mut self, way: usize, stretch: &Stretch<'_>) {
        let inside = self.ages(stretch, stretch.travel.earliest).0;
        let outside = inside.saturating_sub(self.finer(stretch));
        let ([from, to], unit) = (&stretch.names, Self::unit(stretch));
        let (mark, _, script) = self.arrives(stretch, inside);
        self.quiet(way, format!("a carrier at {from} is at {to} after {inside} {unit}"), mark, script);
        let (mark, at, script) = self.arrives(stretch, outside);
        self.trips(way, format!("a carrier at {from} is at {to} after {outside} {unit}"), mark, at, script);
    }
    fn late(&mut self, way: usize, stretch: &Stretch<'_>) {
        let inside = self.ages(stretch, stretch.travel.latest).1;
        let outside = inside + self.finer(stretch);
        let ([from, to], unit) = (&stretch.names, Self::unit(stretch));
        let (mark, _, script) = self.arrives(stretch, inside);
        self.quiet(way, format!("a carrier at {from} is at {to} after {inside} {unit}"), mark, script);
        let mut script = self.known(stretch);
        let mark = script.now();
        script.rise(stretch.from, stretch.speed);
        Self::age(&mut script, stretch, inside);
        let at = script.now();
        let pulse = i32::try_from(self.calm.pulse).unwrap_or(0);
        script.go(1, if stretch.timed { stretch.speed } else { pulse.into() });
        script.go(AFTERWARDS, stretch.speed);
        self.trips(way, format!("a carrier at {from} is not at {to} after {outside} {unit}"), mark, at, script);
        if let Some(most) = stretch.travel.backstop {
            self.backstop(way, stretch, most);
        }
    }
    /// A rope that creeps: the time runs out before the rope does.
    fn backstop(&mut self, way: usize, stretch: &Stretch<'_>, most: Scans) {
        let creep = self.pulses(stretch.still).1 + self.calm.pulse;
        let spans = most / stretch.span + 3;
        if u64::from(creep) * u64::from(spans) > u64::from(stretch.travel.latest) && !stretch.timed {
            return self.skip(way, "even a rope that creeps has run its window before the time is over");
        }
        let ([from, to], travel) = (&stretch.names, i64::from(creep));
        for trips in [false, true] {
            let mut script = self.known(stretch);
            script.align(stretch.span, stretch.speed);
            // It creeps, and so does the speed that is known.
            script.spans(2, stretch.span, travel, self.calm.pulse);
            let mark = script.now();
            let raw = Act::Level(stretch.from.channel, true);
            script.set(raw);
            let start = mark + stretch.from.settle.up;
            script.at(start + 1, Act::Level(stretch.from.channel, false));
            script.spans(spans, stretch.span, travel, self.calm.pulse);
            // Its time is 0 in the scan in which it starts.
            let last = start + most;
            if trips {
                let words =
                    format!("a carrier at {from} is not at {to} after {} scans while the rope creeps", most + 1);
                self.trips(way, words, mark, last + 1, script);
            } else {
                script.at(last - stretch.to.settle.up, Act::Level(stretch.to.channel, true));
                script.at(last + 2, Act::Level(stretch.to.channel, false));
                let words = format!("a carrier at {from} is at {to} after {most} scans while the rope creeps");
                self.quiet(way, words, mark, script);
            }
        }
    }
    fn stray(&mut self, way: usize, stretch: &Stretch<'_>) {
        let [_, to] = &stretch.names;
        let mut script = self.known(stretch);
        let mark = script.now();
        let at = script.rise(stretch.to, stretch.speed);
        script.go(AFTERWARDS, stretch.speed);
        self.trips(way, format!("a carrier is at {to}, and none is under way"), mark, at, script);
        let mut script = self.begin(stretch.mode, stretch.speed);
        let mark = script.now();
        script.rise(stretch.to, stretch.speed);
        script.go(AFTERWARDS, stretch.speed);
        self.quiet(way, format!("a carrier is at {to} after a start, when one may have stood before it"), mark, script);
    }
    fn crowded(&mut self, way: usize, stretch: &Stretch<'_>) {
        let [from, _] = &stretch.names;
        // Slow enough for all of them to be under way at once.
        let pulse = i32::try_from(self.calm.pulse).unwrap_or(0);
        let rope = if stretch.timed { stretch.speed } else { pulse.into() };
        let each = stretch.from.settle.up + stretch.from.settle.down + 3;
        let needs = u64::from(stretch.travel.capacity + 1) * u64::from(each);
        let needs = if stretch.timed { needs } else { needs * u64::from(self.calm.pulse) };
        if needs >= u64::from(stretch.travel.latest) {
            return self.skip(way, "so many carriers cannot be under way before the first is late");
        }
        for (carriers, trips) in [(stretch.travel.capacity, false), (stretch.travel.capacity + 1, true)] {
            let mut script = self.known(stretch);
            let (mark, mut at) = (script.now(), 0);
            for _ in 0..carriers {
                at = script.rise(stretch.from, rope);
                script.go(stretch.from.settle.down + 2, rope);
            }
            let words = format!("{carriers} carriers come to {from}, and none arrives");
            self.row(way, words, mark, trips.then_some(at), script);
        }
    }
    fn backwards(&mut self, way: usize, stretch: &Stretch<'_>) {
        if !stretch.signed {
            return self.skip(way, "its pace does not tell its direction");
        }
        let pulse = i32::try_from(self.calm.pulse).unwrap_or(0);
        for (detector, name) in [stretch.from, stretch.to].into_iter().zip(&stretch.names) {
            for (mm, trips) in [(0, false), (-pulse, true)] {
                let mut script = self.known(stretch);
                let mark = script.now();
                script.go(1, mm);
                let at = script.rise(detector, mm);
                let does = if trips { "runs backwards by a pulse a scan" } else { "stands" };
                if !trips {
                    // It stays covered: its fall would come on a rope that runs.
                    script.acts.remove(&script.now());
                }
                script.go(2, mm);
                let words = format!("{name} rises while the rope {does}");
                self.row(way, words, mark, trips.then_some(at), script);
            }
        }
    }
}
