//! Refills by key: what is under way is forgotten, and whoever stood on a stretch may arrive unannounced, once; a count is no longer known.

use super::super::calm::AFTERWARDS;
use super::super::event::Event;
use super::permission::Permission;
use super::travels::Stretch;
use super::{Act, Plan, Script};
use crate::station::ways::{Source, Way};
use crate::station::{Count, Key, Measured, Refill, Scans, WatchId, WatchKind};

/// A refill of a watch, with what its rows need.
struct Case<'s> {
    subject: String,
    key: &'s Key,
    name: String,
    permission: Permission<'s>,
    watch: WatchId,
}

impl<'s> Plan<'s> {
    pub(super) fn refills(&mut self) {
        for refill in &self.station.refills {
            for watch in &refill.watches {
                self.refill(refill, *watch);
            }
        }
    }
    fn refill(&mut self, refill: &'s Refill, id: WatchId) {
        let Some(watch) = self.station.watches.get(id) else { return };
        let Some(key) = self.calm.key(refill.key) else { return };
        let name = self.named(refill.key).to_owned();
        let (mode, subject) = (watch.modes.first().copied(), format!("refill of {} by {name}", watch.name.text));
        let Some(permission) = self.permission(&refill.when) else {
            let event = Event::Trips(self.way_of(id, Way::Stray).unwrap_or(usize::MAX));
            return self.not_driven(subject, event, "its condition cannot be driven yet");
        };
        let case = Case { subject, key, name, permission, watch: id };
        match &watch.kind {
            WatchKind::Travel(travel) => match self.stretch(mode, travel) {
                // One with a band of speed refills by itself whenever its pace leaves that, as it does to stand.
                Ok(_) if matches!(travel.measured, Measured::Time { .. }) => {}
                Ok(stretch) => {
                    self.excuses(&case, &stretch);
                    self.forgets(&case, &stretch);
                    self.ends(&case, &stretch);
                }
                Err(why) => self.not_driven(case.subject, Event::Trips(usize::MAX), why),
            },
            WatchKind::Count(count) => self.unknown(&case, mode, count),
            _ => {}
        }
    }
    fn way_of(&self, watch: WatchId, way: Way) -> Option<usize> {
        self.ways.iter().position(|of| of.source == Source::Watch(watch) && of.way == way)
    }
    /// The key is pressed while its condition holds, or just does not; gives the first scan that shows it, and the one in which it counts.
    fn refilled(&self, script: &mut Script, case: &Case<'_>, holds: bool) -> (Scans, Scans) {
        self.under(script, &case.permission, holds, AFTERWARDS, 0);
        let rests = |script: &mut Script, scans: Scans| match &case.permission {
            // It goes on as slowly.
            Permission::Slow { pace, inside, outside, .. } => {
                let mm = if holds { *inside } else { *outside };
                script.spans(scans.div_ceil(pace.span), pace.span, i64::from(mm), self.calm.pulse);
            }
            _ => script.go(scans, 0),
        };
        let mark = script.now();
        script.turn(case.key, mark, true);
        script.turn(case.key, mark + case.key.settle.up + 1, false);
        rests(script, case.key.settle.up + case.key.settle.down + 2);
        (mark, mark + case.key.settle.up)
    }
    fn pressed(case: &Case<'_>, holds: bool) -> String {
        format!("{} is pressed while {}", case.name, case.permission.told(holds))
    }
    /// As many carriers as fit arrive unannounced, and one more; and one after a press that does not count.
    fn excuses(&mut self, case: &Case<'_>, stretch: &Stretch<'_>) {
        let Some(way) = self.way_of(case.watch, Way::Stray) else { return };
        let capacity = stretch.travel.capacity;
        for (holds, carriers, trips) in [(true, capacity, false), (true, capacity + 1, true), (false, 1, true)] {
            if !holds && !case.permission.can_lack() {
                continue;
            }
            let mut script = self.known(stretch);
            let (mark, _) = self.refilled(&mut script, case, holds);
            let mut at = 0;
            for _ in 0..carriers {
                at = script.rise(stretch.to, 0);
                script.go(stretch.to.settle.down + 2, 0);
            }
            script.go(AFTERWARDS, 0);
            let words = format!("{}, and {carriers} carriers come to {}", Self::pressed(case, holds), stretch.names[1]);
            self.waits(&case.subject, Event::Trips(way), words, mark, trips.then_some(at), script);
        }
    }
    /// A carrier that was under way is waited for no longer, or still is.
    fn forgets(&mut self, case: &Case<'_>, stretch: &Stretch<'_>) {
        let Some(way) = self.way_of(case.watch, Way::Late) else { return };
        for holds in [true, false] {
            if !holds && !case.permission.can_lack() {
                continue;
            }
            let mut script = self.known(stretch);
            let start = script.rise(stretch.from, stretch.speed);
            let (mark, _) = self.refilled(&mut script, case, holds);
            // Its age is 0 in the scan in which it starts.
            let ran = |script: &Script, to: Scans| -> i64 {
                let scans = script.travel.iter().zip(0..to).filter(|(_, scan)| *scan > start);
                scans.map(|(mm, _)| i64::from((*mm).max(0))).sum()
            };
            while ran(&script, script.now()) <= i64::from(stretch.travel.latest) {
                script.go(1, stretch.speed);
            }
            let at = script.now() - 1;
            script.go(AFTERWARDS, stretch.speed);
            let words = format!("a carrier at {} is under way, and {}", stretch.names[0], Self::pressed(case, holds));
            self.waits(&case.subject, Event::Trips(way), words, mark, (!holds).then_some(at), script);
        }
    }
    /// An arrival in the last scan of a refill, and in the first behind it.
    fn ends(&mut self, case: &Case<'_>, stretch: &Stretch<'_>) {
        let Some(way) = self.way_of(case.watch, Way::Stray) else { return };
        let through = self.pulses(stretch.travel.run).0;
        for (rope, trips) in [(through.saturating_sub(self.calm.pulse), false), (through, true)] {
            let mut script = self.known(stretch);
            let (mark, acts) = self.refilled(&mut script, case, true);
            // What it has run since is counted from the scan behind the press.
            let since = script.travel.iter().zip(0..).filter(|(_, scan)| *scan > acts).map(|(mm, _)| mm.unsigned_abs());
            let since: u32 = since.sum();
            let Some(left) = rope.checked_sub(since) else { continue };
            script.run(left, stretch.speed);
            let at = script.now();
            script.at(at - stretch.to.settle.up, Act::Level(stretch.to.channel, true));
            script.go(2, 0);
            script.set(Act::Level(stretch.to.channel, false));
            script.go(AFTERWARDS, 0);
            let words = format!(
                "{}, and a carrier is at {} after {rope} mm of rope",
                Self::pressed(case, true),
                stretch.names[1]
            );
            self.waits(&case.subject, Event::Trips(way), words, mark, trips.then_some(at), script);
        }
    }
    /// Too many carriers come into a zone whose number is no longer known, or still is.
    fn unknown(&mut self, case: &Case<'_>, mode: Option<usize>, count: &Count) {
        let Some(way) = self.way_of(case.watch, Way::Over) else { return };
        let (Some(enter), Some(confirms)) = (self.detector(count.enter), self.confirms(count)) else {
            let why = "its confirmation cannot be driven yet";
            return self.not_driven(case.subject.clone(), Event::Trips(way), why);
        };
        let carriers = count.most.saturating_sub(count.confirmed) + 1;
        for holds in [true, false] {
            if !holds && !case.permission.can_lack() {
                continue;
            }
            let mut script = self.counted(mode, &confirms);
            let (mark, _) = self.refilled(&mut script, case, holds);
            let mut at = 0;
            for _ in 0..carriers {
                at = script.rise(enter, 0);
                script.go(enter.settle.down + 1, 0);
            }
            script.go(AFTERWARDS, 0);
            let words = format!("{}, and {carriers} carriers come in", Self::pressed(case, holds));
            self.waits(&case.subject, Event::Trips(way), words, mark, (!holds).then_some(at), script);
        }
    }
}
