//! Gauges: bands of their current, leaps, rest, two that must agree, and what is measured at a carrier.

use super::super::calm::{AFTERWARDS, Calm};
use super::super::script::Act;
use super::conditions::value;
use super::{Plan, Script};
use crate::station::ways::Way;
use crate::station::{Agree, Gauge, InputKind, Measure, Scans, When};

impl Plan<'_> {
    pub(super) fn gauge(&mut self, way: usize, how: Way, id: usize, gauge: &Gauge) {
        match how {
            Way::Broken | Way::Doubtful => self.bands(way, how, id, gauge),
            Way::Leap => self.leap(way, id, gauge),
            Way::Unrested => self.rests(way, id, gauge),
            _ => {}
        }
    }
    fn rest(&self, gauge: &Gauge) -> u32 {
        self.calm.steps.get(gauge.terminal).copied().unwrap_or(0)
    }
    /// Currents at each limit and one nanoampere beside it, and those of a broken wire and a short circuit.
    fn bands(&mut self, way: usize, how: Way, id: usize, gauge: &Gauge) {
        let Some(rest) = Calm::current(gauge, self.rest(gauge)) else { return };
        let nano = |ua: i32| ua.saturating_mul(1_000);
        let ((low, high), (broken, short)) = (gauge.trusted_ua, gauge.broken_ua);
        let currents: &[(i32, bool)] = if how == Way::Broken {
            &[
                (0, true),
                (nano(broken), true),
                (nano(broken) + 1, false),
                (nano(short) - 1, false),
                (nano(short), true),
                (24_000_000, true),
            ]
        } else {
            &[
                (nano(low), false),
                (nano(low) - 1, true),
                (nano(broken) + 1, true),
                (nano(broken), false),
                (nano(high), false),
                (nano(high) + 1, true),
                (nano(short) - 1, true),
                (nano(short), false),
            ]
        };
        let cruise = self.calm.cruise;
        for (current, trips) in currents {
            let mut script = self.begin(None, cruise);
            let mark = script.now();
            script.set(Act::Current(gauge.terminal, *current));
            script.go(2, cruise);
            script.set(Act::Current(gauge.terminal, rest));
            script.go(AFTERWARDS, cruise);
            let words = format!("{} gives {}.{:06} mA", self.named(id), current / 1_000_000, current % 1_000_000);
            let words = match current {
                0 => format!("{words}, a broken wire"),
                24_000_000 => format!("{words}, a short circuit"),
                _ => words,
            };
            if *trips {
                self.trips(way, words, mark, mark, script);
            } else {
                self.quiet(way, words, mark, script);
            }
        }
    }
    fn leap(&mut self, way: usize, id: usize, gauge: &Gauge) {
        let (Some(most), rest) = (gauge.moves_at_most, self.rest(gauge)) else { return };
        for (moves, trips) in [(most, false), (most + 1, true)] {
            let to = rest.checked_add(moves).filter(|to| *to <= gauge.top).or_else(|| rest.checked_sub(moves));
            let Some(current) = to.and_then(|to| Calm::current(gauge, to)) else {
                self.skip(way, "its range is shorter than what it may move");
                continue;
            };
            let cruise = self.calm.cruise;
            let mut script = self.begin(None, cruise);
            let mark = script.now();
            script.set(Act::Current(gauge.terminal, current));
            script.go(AFTERWARDS, cruise);
            let words = format!("{} moves {moves} steps in a scan", self.named(id));
            self.row(way, words, mark, trips.then_some(mark), script);
        }
    }
    fn rests(&mut self, way: usize, id: usize, gauge: &Gauge) {
        let Some((detector, low, high)) = gauge.rests else { return };
        let Some(InputKind::Detector(of)) = self.station.inputs.get(detector).map(|input| &input.kind) else { return };
        let cases = [(low.checked_sub(1), true), (Some(low), false), (Some(high), false), (high.checked_add(1), true)];
        for (step, trips) in cases {
            let current = step.filter(|step| *step <= gauge.top).and_then(|step| Calm::current(gauge, step));
            let (Some(step), Some(current)) = (step, current) else { continue };
            let cruise = self.calm.cruise;
            let mut script = self.begin(None, cruise);
            script.set(Act::Current(gauge.terminal, current));
            script.go(2, cruise);
            let mark = script.now();
            let at = script.rise(of, cruise);
            script.go(AFTERWARDS, cruise);
            let words =
                format!("{} rises while {} lies at {}", self.named(detector), self.named(id), value(gauge, step));
            self.row(way, words, mark, trips.then_some(at), script);
        }
    }
    /// Two gauges that differ by as much as is borne, by a step more, and for as long as is borne.
    pub(super) fn gauges_apart(&mut self, way: usize, mode: Option<usize>, a: usize, b: usize, agree: &Agree) {
        let (Some(first), Some(second)) = (self.calm.gauge(a), self.calm.gauge(b)) else { return };
        let (from, rest) = (self.rest(first), self.rest(second));
        let shifted = |by: u32| from.checked_add(by).filter(|to| *to <= second.top).or_else(|| from.checked_sub(by));
        let (within, apart) = (agree.within, agree.apart);
        let cases = [
            (within, apart + 1 + AFTERWARDS, false),
            (within + 1, apart + 1 + AFTERWARDS, true),
            (within + 1, apart, false),
        ];
        for (by, scans, trips) in cases {
            let (Some(there), Some(back)) =
                (shifted(by).and_then(|to| Calm::current(second, to)), Calm::current(second, rest))
            else {
                self.skip(way, "a gauge's range is shorter than what they may differ");
                continue;
            };
            if scans == 0 {
                continue;
            }
            let cruise = self.cruise(mode);
            let mut script = self.begin(mode, cruise);
            let mark = script.now();
            script.set(Act::Current(second.terminal, there));
            script.go(scans, cruise);
            script.set(Act::Current(second.terminal, back));
            script.go(AFTERWARDS, cruise);
            let words = format!("{} and {} lie {by} steps apart for {scans} scans", self.named(a), self.named(b));
            self.row(way, words, mark, trips.then_some(mark + apart), script);
        }
    }
    /// What is measured, at both sides of both bounds, and at the end of the window.
    pub(super) fn measure(&mut self, way: usize, mode: Option<usize>, measure: &Measure) {
        let Some(gauge) = self.calm.gauge(measure.gauge) else { return };
        let Some(InputKind::Detector(detector)) = self.station.inputs.get(measure.detector).map(|input| &input.kind)
        else {
            return;
        };
        let (least, most) = (measure.least, measure.most);
        let Some(good) = Calm::current(gauge, least.midpoint(most)) else { return };
        let cruise = self.cruise(mode);
        let (name, by) = (self.named(measure.gauge).to_owned(), self.named(measure.detector).to_owned());
        // Long enough for the window to close.
        let after = |script: &mut Script| match measure.when {
            When::Rise => script.go(AFTERWARDS, cruise),
            When::Scans(scans) => script.go(scans + AFTERWARDS, cruise),
            When::Rope(_, mm) => {
                script.run(mm, cruise);
                script.go(AFTERWARDS, cruise);
            }
        };
        let cases =
            [(least.checked_sub(1), true), (Some(least), false), (Some(most), false), (most.checked_add(1), true)];
        for (step, trips) in cases {
            let current = step.filter(|step| *step <= gauge.top).and_then(|step| Calm::current(gauge, step));
            let (Some(step), Some(current)) = (step, current) else { continue };
            let mut script = self.begin(mode, cruise);
            script.set(Act::Current(gauge.terminal, current));
            script.go(2, cruise);
            let mark = script.now();
            let at = script.rise(detector, cruise);
            after(&mut script);
            let words = format!("{by} rises while {name} lies at {}", value(gauge, step));
            self.row(way, words, mark, trips.then_some(at), script);
        }
        let Some(bad) = least.checked_sub(1).and_then(|step| Calm::current(gauge, step)) else { return };
        let ends: Vec<(Scans, u32, bool)> = match measure.when {
            When::Rise => vec![(1, 0, false)],
            When::Scans(scans) => vec![(scans, 0, true), (scans + 1, 0, false)],
            // The last scan of the window, and the first behind it: after so much rope.
            When::Rope(_, mm) => {
                let behind = self.pulses(mm).0;
                vec![(0, behind - self.calm.pulse, true), (0, behind, false)]
            }
        };
        for (scans, rope, trips) in ends {
            let mut script = self.begin(mode, cruise);
            script.set(Act::Current(gauge.terminal, good));
            script.go(2, cruise);
            let mark = script.now();
            script.rise(detector, cruise);
            // The rope of the scan in which the gauge is bad counts as well.
            let words = if rope > 0 {
                script.run(rope, cruise);
                format!("{name} leaves its bounds {rope} mm of rope after {by} rose")
            } else {
                script.go(scans, cruise);
                format!("{name} leaves its bounds {scans} scans after {by} rose")
            };
            let last = script.now() - 1;
            script.at(last, Act::Current(gauge.terminal, bad));
            if trips {
                script.set(Act::Current(gauge.terminal, good));
            }
            script.go(AFTERWARDS, cruise);
            self.row(way, words, mark, trips.then_some(last), script);
        }
    }
}
