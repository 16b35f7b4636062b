//! Passings at one detector, carriers in a zone, and inputs that must change.

use super::super::calm::AFTERWARDS;
use super::super::script::Act;
use super::conditions::Turn;
use super::{Plan, Script};
use crate::station::ways::Way;
use crate::station::{Condition, Count, Detector, Every, Exercise, Measured, Scans, Spacing};

impl Plan<'_> {
    pub(super) fn spacing(&mut self, way: usize, how: Way, mode: Option<usize>, spacing: &Spacing) {
        let Some(detector) = self.detector(spacing.detector) else { return };
        let name = self.named(spacing.detector).to_owned();
        let Some(speed) = self.judging(mode, spacing.measured) else {
            return self.skip(way, "no whole number of pulses in a span lies in its band of speed");
        };
        let timed = matches!(spacing.measured, Measured::Time { .. });
        let (finer, unit) = if timed { (1, "scans") } else { (self.calm.pulse, "mm of rope") };
        let far = |script: &mut Script, distance: u32| {
            if timed { script.go(distance, speed) } else { script.run(distance, speed) }
        };
        let first = |plan: &Self| {
            let mut script = plan.begin(mode, speed);
            script.go(lead(plan, timed), speed);
            script.rise(detector, speed);
            script
        };
        let needs = detector.settle.up + detector.settle.down + 4;
        let (inside, outside, most) = match (how, spacing.most) {
            (Way::Closer, _) => {
                let least = if timed { spacing.least } else { self.pulses(spacing.least).0 };
                (least, least.saturating_sub(finer), false)
            }
            (_, Some(most)) => {
                let most = if timed { most } else { self.pulses(most).1 };
                (most, most + finer, true)
            }
            _ => return,
        };
        for (distance, trips) in [(inside, false), (outside, true)] {
            let mut script = first(self);
            let lead = distance.saturating_sub(if timed { needs * 2 } else { needs * 2 * speed.most() });
            far(&mut script, lead);
            let mark = script.now();
            if most && trips {
                far(&mut script, inside - lead);
                let at = script.now();
                script.go(1, if timed { speed } else { i32::try_from(finer).unwrap_or(0).into() });
                script.go(AFTERWARDS, 0);
                self.trips(way, format!("nobody follows at {name} within {distance} {unit}"), mark, at, script);
                continue;
            }
            far(&mut script, distance - lead);
            let at = script.now() - 1;
            script.at(at.saturating_sub(detector.settle.up), Act::Level(detector.channel, true));
            script.go(1, speed);
            script.set(Act::Level(detector.channel, false));
            script.go(AFTERWARDS, speed);
            let words = format!("the next carrier follows at {name} after {distance} {unit}");
            self.row(way, words, mark, trips.then_some(at), script);
        }
    }
    /// The single input that confirms a count.
    pub(super) fn confirms(&self, count: &Count) -> Option<Turn> {
        match &count.when {
            Condition::High(by) if !self.calm.holds(&count.when, None) => self.turns(*by).into_iter().next(),
            _ => None,
        }
    }
    /// A count is confirmed; gives the scan in which that counts.
    fn confirm_count(script: &mut Script, turn: &Turn) -> Scans {
        turn.acts.iter().for_each(|act| script.set(*act));
        script.go(turn.there + 1, 0);
        let at = script.now() - 1;
        turn.back.iter().for_each(|act| script.set(*act));
        script.go(turn.again + 1, 0);
        at
    }
    /// A lift whose rope stands, since a count asks for none, and that knows how many are inside.
    pub(super) fn counted(&self, mode: Option<usize>, turn: &Turn) -> Script {
        let mut script = self.begin(mode, 0);
        script.go(2, 0);
        Self::confirm_count(&mut script, turn);
        script
    }
    pub(super) fn count(&mut self, way: usize, how: Way, mode: Option<usize>, count: &Count) {
        let (Some(enter), Some(leave)) = (self.detector(count.enter), self.detector(count.leave)) else { return };
        let Some(turn) = self.confirms(count) else {
            return self.skip(way, "its confirmation is more than one input, or holds at rest");
        };
        let (into, out) = (self.named(count.enter).to_owned(), self.named(count.leave).to_owned());
        let pass = |script: &mut Script, detector: &Detector| {
            let at = script.rise(detector, 0);
            script.go(detector.settle.down + 1, 0);
            at
        };
        let known = |plan: &Self| plan.counted(mode, &turn);
        match how {
            Way::Over => {
                let more = count.most.saturating_sub(count.confirmed);
                for (carriers, trips) in [(more, false), (more + 1, true)] {
                    let mut script = known(self);
                    let (mark, mut at) = (script.now(), 0);
                    for _ in 0..carriers {
                        at = pass(&mut script, enter);
                    }
                    script.go(AFTERWARDS, 0);
                    let words = format!("{carriers} carriers come to {into}, and none leaves");
                    self.row(way, words, mark, trips.then_some(at), script);
                }
            }
            Way::Below => {
                for (carriers, trips) in [(count.confirmed, false), (count.confirmed + 1, true)] {
                    let mut script = known(self);
                    let (mark, mut at) = (script.now(), 0);
                    for _ in 0..carriers {
                        at = pass(&mut script, leave);
                    }
                    script.go(AFTERWARDS, 0);
                    let words = format!("{carriers} carriers leave at {out}, and none has come");
                    self.row(way, words, mark, trips.then_some(at), script);
                }
            }
            Way::Wrong => {
                for (carriers, trips) in [(0, false), (1, true)] {
                    let mut script = known(self);
                    let mark = script.now();
                    for _ in 0..carriers {
                        pass(&mut script, enter);
                    }
                    let at = Self::confirm_count(&mut script, &turn);
                    script.go(AFTERWARDS, 0);
                    let words = format!("{carriers} carriers come to {into}, and {}", turn.what);
                    self.row(way, words, mark, trips.then_some(at), script);
                }
            }
            _ => {}
        }
    }
    pub(super) fn exercise(&mut self, way: usize, mode: Option<usize>, exercise: &Exercise) {
        let Some(turn) = self.turns(exercise.input).into_iter().next() else { return };
        let (name, cruise) = (self.named(exercise.input).to_owned(), self.cruise(mode));
        match exercise.every {
            Every::Carrier(by) => {
                let Some(detector) = self.detector(by) else { return };
                for (changes, trips) in [(true, false), (false, true)] {
                    let mut script = self.begin(mode, cruise);
                    let pass = |script: &mut Script| {
                        let at = script.rise(detector, cruise);
                        script.go(detector.settle.down + 2, cruise);
                        at
                    };
                    pass(&mut script);
                    let mark = script.now();
                    if changes {
                        turn.acts.iter().for_each(|act| script.set(*act));
                        script.go(turn.there + 1, cruise);
                        turn.back.iter().for_each(|act| script.set(*act));
                        script.go(turn.again + 1, cruise);
                    }
                    let at = pass(&mut script);
                    script.go(AFTERWARDS, cruise);
                    let does = if changes { "changes" } else { "does not change" };
                    let words = format!("{name} {does} between two carriers at {}", self.named(by));
                    self.row(way, words, mark, trips.then_some(at), script);
                }
            }
            Every::Rope(..) | Every::Scans(_) => {
                let (most, finer, timed) = match exercise.every {
                    Every::Rope(_, mm) => (self.pulses(mm).1, self.calm.pulse, false),
                    Every::Scans(scans) => (scans, 1, true),
                    Every::Carrier(_) => return,
                };
                for (distance, trips) in [(most, false), (most + finer, true)] {
                    let mut script = self.begin(mode, cruise);
                    // It changes, and is then as it was: the last change counts.
                    turn.acts.iter().for_each(|act| script.set(*act));
                    script.go(turn.there + 1, cruise);
                    turn.back.iter().for_each(|act| script.set(*act));
                    script.go(turn.again + 1, cruise);
                    let near = if timed { AFTERWARDS } else { AFTERWARDS * cruise.unsigned_abs() };
                    let lead = distance.saturating_sub(near);
                    let far = |script: &mut Script, distance: u32| {
                        if timed { script.go(distance, cruise) } else { script.run(distance, cruise) }
                    };
                    far(&mut script, lead);
                    let mark = script.now();
                    far(&mut script, distance - lead);
                    let at = script.now() - 1;
                    if timed {
                        // Time goes on: it changes just then.
                        let back = turn.there;
                        turn.acts.iter().for_each(|act| script.at((at + 1).saturating_sub(back), *act));
                    }
                    script.go(AFTERWARDS, 0);
                    let unit = if timed { "scans" } else { "mm of rope" };
                    let words = format!("{name} does not change over {distance} {unit}");
                    self.row(way, words, mark, trips.then_some(at), script);
                }
            }
        }
    }
}

/// Scans until a speed is known that a window of time asks for.
fn lead(plan: &Plan<'_>, timed: bool) -> u32 {
    if timed { crate::told::lead_in(plan.station) } else { 0 }
}
