//! What the field shows scan by scan in a row, written down before it is run.

use std::collections::BTreeMap;

use crate::station::{Detector, Key, Scans};

/// Something that changes with a scan, and stays so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Act {
    /// A channel has this level.
    Level(usize, bool),
    /// A gauge has this current, nanoampere.
    Current(usize, i32),
    /// A link sends frames with this order, or none.
    Link(usize, Option<u8>),
    /// The read-back of an output shows this, whatever the output does; nothing lets it follow again.
    ReadBack(usize, Option<bool>),
}

/// A travel that goes on: so many mm in each span, in whole pulses, as even as they go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rate {
    mm: u32,
    span: Scans,
    pulse: u32,
    sign: i32,
}

impl Rate {
    /// So many mm in each span of so many scans, in pulses of so many mm.
    pub(super) fn new(mm: u32, span: Scans, pulse: u32) -> Self {
        Self { mm, span: span.max(1), pulse: pulse.max(1), sign: 1 }
    }
    /// Travel of a scan, mm.
    pub(super) fn at(self, scan: Scans) -> i32 {
        let (pulses, span, i) = (u64::from(self.mm / self.pulse), u64::from(self.span), u64::from(scan % self.span));
        let these = (i + 1) * pulses / span - i * pulses / span;
        i32::try_from(these * u64::from(self.pulse)).unwrap_or(0) * self.sign
    }
    /// The most of a scan, mm.
    pub(super) fn most(self) -> u32 {
        self.mm.div_ceil(self.span)
    }
}

impl From<i32> for Rate {
    fn from(mm: i32) -> Self {
        Self { mm: mm.unsigned_abs(), span: 1, pulse: 1, sign: mm.signum() }
    }
}

/// A history: scans from power-up, counted from 0.
#[derive(Debug, Clone, Default)]
pub(super) struct Script {
    /// What changes before a scan is sampled.
    pub(super) acts: BTreeMap<Scans, Vec<Act>>,
    /// Travel of every source in each scan, mm; its length is that of the history.
    pub(super) travel: Vec<i32>,
    /// Travel of a single source that is another one.
    pub(super) apart: BTreeMap<(Scans, usize), i32>,
    /// After so many scans the lift counts as one that runs, the first first; none judges the power-up itself.
    pub(super) adopts: Vec<Scans>,
}

impl Script {
    /// The scan that comes next.
    pub(super) fn now(&self) -> Scans {
        Scans::try_from(self.travel.len()).unwrap_or(Scans::MAX)
    }
    /// From the next scan on the lift counts as one that runs.
    pub(super) fn adopt(&mut self) {
        self.adopts.push(self.now());
    }
    /// Something changes with the next scan.
    pub(super) fn set(&mut self, act: Act) {
        self.at(self.now(), act);
    }
    /// Something changes with this scan.
    pub(super) fn at(&mut self, scan: Scans, act: Act) {
        self.acts.entry(scan).or_default().push(act);
    }
    /// A key is held from this scan on, or let go, on all its channels.
    pub(super) fn turn(&mut self, key: &Key, scan: Scans, held: bool) {
        let (first, second) = key.channels;
        for channel in [Some(first), second].into_iter().flatten() {
            self.at(scan, Act::Level(channel, held));
        }
    }
    /// So many scans go by.
    pub(super) fn go(&mut self, scans: Scans, rate: impl Into<Rate>) {
        let rate = rate.into();
        for _ in 0..scans {
            self.travel.push(rate.at(self.now()));
        }
    }
    /// Scans go by until a span begins.
    pub(super) fn align(&mut self, span: Scans, rate: impl Into<Rate>) {
        let rate = rate.into();
        while !self.now().is_multiple_of(span.max(1)) {
            self.go(1, rate);
        }
    }
    /// A detector is covered, and let go again after that: its level rises in the last of the scans that go by, which is given.
    pub(super) fn rise(&mut self, detector: &Detector, rate: impl Into<Rate>) -> Scans {
        self.set(Act::Level(detector.channel, true));
        self.go(detector.settle.up + 1, rate);
        self.set(Act::Level(detector.channel, false));
        self.now() - 1
    }
    /// Whole spans with this travel in each, in pulses of so many mm.
    pub(super) fn spans(&mut self, count: Scans, span: Scans, mm: i64, pulse: u32) {
        let travel = spread(span, mm, pulse);
        for _ in 0..count {
            self.travel.extend(&travel);
        }
    }
    /// Runs exactly so far forward, and in a scan no farther than at this rate.
    pub(super) fn run(&mut self, mm: u32, rate: impl Into<Rate>) {
        let (rate, mut left) = (rate.into(), i64::from(mm));
        while left > 0 {
            let next = left.min(i64::from(rate.at(self.now()).max(1)));
            self.go(1, i32::try_from(next).unwrap_or(0));
            left -= next;
        }
    }
}

/// The travel of a span in whole pulses, as even as they go.
pub(super) fn spread(span: Scans, mm: i64, pulse: u32) -> Vec<i32> {
    let (span, pulse) = (i64::from(span.max(1)), i64::from(pulse.max(1)));
    let (pulses, sign) = (mm.abs() / pulse, mm.signum());
    let scans = 0..span;
    scans.map(|i| i32::try_from(sign * pulse * ((i + 1) * pulses / span - i * pulses / span)).unwrap_or(0)).collect()
}
