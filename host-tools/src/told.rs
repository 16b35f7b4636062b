//! What a run tells of each scan, for people and tests, and the runner that tells it.

use crate::sample::Sample;
use crate::station::{InputKind, Rank, Scans, Settle, Station};
use crate::stays::{Room, Stays};

/// One thing that was measured against limits, whether it kept them or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Judged {
    /// The watch.
    pub watch: u16,
    /// Travel: age at arrival (mm or scans). Measure: step of the gauge. Spacing: distance since
    /// the last rise (mm or scans).
    pub measured: u32,
}

/// What one scan published. Ways are numbered in the order of [`crate::station::ways`].
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Scanned {
    /// Ways that trip in this scan, masked ones left out.
    pub trips: Vec<u16>,
    /// Those of them that trip because their condition is not known, not because it is known to hold.
    pub doubtful: Vec<u16>,
    /// Inputs that are not known in a scan in which something trips or a stop stands; a pair only while it is faulty.
    pub unknown: Vec<u16>,
    /// Some way is latched.
    pub latched_any: bool,
    /// First-out: the ways that began the standing stop.
    pub first: Vec<u16>,
    /// The most severe answer.
    pub answer: Rank,
    /// Every answer that stands: bit `r` is rank `r`.
    pub stands: u64,
    /// Outputs that are off.
    pub off: u64,
    /// The start permit.
    pub permit: bool,
    /// Bypasses that are active.
    pub active: u64,
    /// A reset cleared the latches at the end of this scan.
    pub reset: bool,
    /// What was measured in this scan.
    pub judged: Vec<Judged>,
    /// Requirements whose deadline passed unanswered in this scan.
    pub missed: Vec<u16>,
    /// Requirements answered in this scan, with the scans it took.
    pub met: Vec<(u16, u32)>,
    /// Assumptions broken in this scan.
    pub broken: Vec<u16>,
}

/// Runs the rules, one scan at a time.
pub trait Runner {
    /// Takes one step and tells what it published.
    fn scan(&mut self, sample: &Sample) -> &Scanned;
    /// For how many scans it is known at once that they tell what the last one told, if they read what that one read; and the room that each gauge
    /// has meanwhile, from terminal to terminal: within it its steps may move.
    fn stays(&mut self, _rooms: &mut Vec<Room>) -> Stays {
        Stays::default()
    }
    /// Takes so many such scans, as [`Runner::stays`] has just allowed; in the last of them this was read. Gives what each of them tells.
    fn again(&mut self, _scans: u32, _last: &Sample) -> Option<&Scanned> {
        None
    }
    /// The controller lost its power and starts again with the next scan.
    fn restart(&mut self);
    /// Takes a running station as it stands: clears latches, first-out and what bypasses remember;
    /// every stretch refills.
    fn adopt(&mut self);
}

/// Scans of the lead-in of a recording of a running station: the longest span of a pace, the
/// longest settling and one second.
pub fn lead_in(station: &Station) -> Scans {
    let longer = |settle: Settle| settle.up.max(settle.down);
    let mut span = 0;
    let mut settle = 0;
    for input in &station.inputs {
        match &input.kind {
            InputKind::Pace(p) => span = span.max(p.span),
            InputKind::Contact(c) => settle = settle.max(longer(c.settle)),
            InputKind::Pair(p) => settle = settle.max(longer(p.settle)),
            InputKind::Detector(d) => settle = settle.max(longer(d.settle)),
            InputKind::Key(k) => settle = settle.max(longer(k.settle)),
            InputKind::Gauge(_) | InputKind::Link(_) => {}
        }
    }
    span.saturating_add(settle).saturating_add(1_000_000_u32.div_ceil(station.scan_us.max(1)))
}
