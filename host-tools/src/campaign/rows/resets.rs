//! The reset: it takes back a stop whose cause is gone, after a press of the right length that began after it, while its condition has
//! held for its time; and the start permit that follows it.

use super::super::calm::AFTERWARDS;
use super::super::event::Event;
use super::permission::Permission;
use super::raise::Raise;
use super::{Plan, Rate, Script};
use crate::station::{Key, Rank, Reset, Scans, WatchKind};

/// A reset with what its rows need.
struct Case<'s> {
    subject: String,
    reset: &'s Reset,
    key: &'s Key,
    name: String,
    permission: Permission<'s>,
    raise: Raise,
}

/// A press, in the scans in which it counts: the first in which the key is held, and the first in which it is not.
#[derive(Clone, Copy)]
struct Press {
    from: Scans,
    to: Scans,
}

impl Plan<'_> {
    pub(super) fn resets(&mut self) {
        let Some(reset) = &self.station.reset else { return };
        let Some(key) = self.calm.key(reset.key) else { return };
        let name = self.named(reset.key).to_owned();
        let subject = format!("reset by {name}");
        let Some(permission) = self.permission(&reset.when) else {
            return self.not_driven(subject, Event::Resets, "its condition cannot be driven yet");
        };
        // A stop whose effect is awaited would trip once more while the lift stands.
        let awaited = |rank: Rank| {
            self.station.watches.iter().any(|watch| matches!(&watch.kind, WatchKind::Confirm(c) if c.after == rank))
        };
        let first = self.station.first_stop();
        let raise =
            self.raise(|_, watch, guard| watch.modes.is_empty() && guard.answer >= first && !awaited(guard.answer));
        let Some(raise) = raise else {
            return self.not_driven(subject, Event::Resets, "no guard on a single input stops without a confirmation");
        };
        let case = Case { subject, reset, key, name, permission, raise };
        self.lengths(&case);
        self.causes(&case);
        self.held_before(&case);
        self.lasts(&case);
        self.permits(&case);
    }
    /// A stop is raised, and its cause goes; gives the last scan in which it trips.
    fn stopped(script: &mut Script, raise: &Raise, rate: impl Into<Rate>) -> Scans {
        let rate = rate.into();
        raise.begin(script);
        script.go(raise.after + 2, rate);
        let last = raise.end(script);
        script.go(raise.again + AFTERWARDS, rate);
        last
    }
    /// Whether a press of so many scans outlasts the settling of its key.
    fn settles(key: &Key, length: Scans) -> bool {
        length > key.settle.down
    }
    /// The key is pressed as it is told; gives the first scan that shows it.
    fn press(script: &mut Script, case: &Case<'_>, press: Press) -> Scans {
        let mark = press.from - case.key.settle.up;
        script.turn(case.key, mark, true);
        script.turn(case.key, press.to - case.key.settle.down, false);
        while script.now() < press.to + AFTERWARDS {
            script.go(1, 0);
        }
        mark
    }
    fn reset_row(&mut self, case: &Case<'_>, words: String, mark: Scans, at: Option<Scans>, script: Script) {
        self.waits(&case.subject, Event::Resets, words, mark, at, script);
    }
    /// Presses as long as they may be, and a scan shorter and longer.
    fn lengths(&mut self, case: &Case<'_>) {
        let (shortest, longest) = (case.reset.shortest, case.reset.longest);
        let lengths = [(shortest.saturating_sub(1), false), (shortest, true), (longest, true), (longest + 1, false)];
        for (length, acts) in lengths {
            if !Self::settles(case.key, length) {
                continue;
            }
            let mut script = self.standing(&case.permission, case.reset.lasting);
            Self::stopped(&mut script, &case.raise, 0);
            let from = script.now() + case.key.settle.up;
            let to = from + length;
            let mark = Self::press(&mut script, case, Press { from, to });
            let words = format!("after a stop {} is held for {length} scans", case.name);
            self.reset_row(case, words, mark, acts.then_some(to), script);
        }
    }
    /// A cause that is still there, that is there for the first scan of the press, and that has just gone.
    fn causes(&mut self, case: &Case<'_>) {
        let Case { raise, reset, name, .. } = case;
        let mut script = self.standing(&case.permission, reset.lasting);
        raise.begin(&mut script);
        script.go(raise.after + AFTERWARDS, 0);
        let from = script.now() + case.key.settle.up;
        let mark = Self::press(&mut script, case, Press { from, to: from + reset.shortest });
        let words = format!("{name} is pressed and let go, but still {}", raise.what);
        self.reset_row(case, words, mark, None, script);
        for (after, words) in [
            (0, format!("{name} is held from the last scan on in which this trips: {}", raise.what)),
            (1, format!("{name} is held from the scan on behind the last in which this trips: {}", raise.what)),
        ] {
            let mut script = self.standing(&case.permission, reset.lasting);
            script.go(case.key.settle.up, 0);
            let from = Self::stopped(&mut script, raise, 0) + after;
            let to = from + reset.shortest;
            let mark = Self::press(&mut script, case, Press { from, to });
            self.reset_row(case, words, mark, (after > 0).then_some(to), script);
        }
    }
    /// A key that was held before the stop, and one that is held from power-up on.
    fn held_before(&mut self, case: &Case<'_>) {
        let Case { raise, reset, key, name, .. } = case;
        let mut script = self.standing(&case.permission, reset.lasting);
        let from = script.now() + key.settle.up;
        script.go(key.settle.up + 1, 0);
        Self::stopped(&mut script, raise, 0);
        let to = (from + reset.shortest).max(script.now() + key.settle.down);
        if to - from <= reset.longest {
            let mark = Self::press(&mut script, case, Press { from, to });
            let words = format!("{name} was held before the stop, and is let go after it");
            self.reset_row(case, words, mark, None, script);
        }
        let mut script = Script::default();
        self.hold(&mut script, reset.key, true);
        let known = self.under(&mut script, &case.permission, true, reset.lasting + 1, 0);
        let to = (known + reset.lasting).max(reset.shortest);
        if to <= reset.longest {
            script.go((to + 1).saturating_sub(script.now()), 0);
            Self::press(&mut script, case, Press { from: key.settle.up, to });
            self.reset_row(case, format!("{name} is held from power-up on"), 0, None, script);
        }
    }
    /// A condition that has held for its time, for a scan less, and not at all.
    fn lasts(&mut self, case: &Case<'_>) {
        if !case.permission.can_lack() {
            return;
        }
        let (lasting, shortest, cruise) = (case.reset.lasting, case.reset.shortest, self.cruise(None));
        for (holds, less) in [(true, 0), (true, 1), (false, 0)] {
            let mut script = self.begin(None, cruise);
            Self::stopped(&mut script, &case.raise, cruise);
            script.go(shortest + case.key.settle.up, cruise);
            let known = self.under(&mut script, &case.permission, holds, lasting + AFTERWARDS, cruise);
            let to = known + lasting - less.min(known);
            let mark = Self::press(&mut script, case, Press { from: to - shortest, to });
            let scans = (lasting + 1).saturating_sub(less);
            let told = case.permission.told(holds);
            let words = format!("after a stop {} is let go in scan {scans} of this: {told}", case.name);
            self.reset_row(case, words, mark, (holds && less == 0).then_some(to), script);
        }
    }
    /// The start permit comes with its delay after the reset, and not without it.
    fn permits(&mut self, case: &Case<'_>) {
        let delay = self.station.restart;
        for resets in [true, false] {
            let mut script = self.standing(&case.permission, case.reset.lasting);
            let mark = script.now();
            Self::stopped(&mut script, &case.raise, 0);
            let from = script.now() + case.key.settle.up;
            let to = from + case.reset.shortest;
            let mark = if resets {
                Self::press(&mut script, case, Press { from, to });
                to
            } else {
                mark
            };
            script.go(delay + AFTERWARDS, 0);
            // The verdict of the reset still has the stop.
            let (words, at) = if resets {
                ("the reset acts in scan 1".to_owned(), Some(to + delay.max(1)))
            } else {
                (format!("{}, and no reset follows", case.raise.what), None)
            };
            self.waits("restart", Event::Permits, words, mark, at, script);
        }
    }
}
