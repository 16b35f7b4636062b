//! Many scans of a dump at once that see what the last one did, but for gauges that move within their rooms: plain lines of them that lie in one piece.

use std::io::BufRead;

use super::changes::LONGEST_US;
use super::columns::Slot;
use super::dump::Dump;
use super::dump_known::{Value, put};
use super::dump_lines::{Plain, plain};
use super::dump_top::{Head, Target};
use crate::sample::Sample;
use crate::stays::{Room, Stays};

/// Changes of scans that are looked at together.
const MOST_CHANGES: usize = 1 << 12;

/// A gauge says something else.
#[derive(Debug)]
pub(super) struct Moved {
    variable: usize,
    value: f64,
    /// In this scan of those to come, from 1.
    scan: u32,
}

/// Scans that may be passed over: how many, the lines, bytes and changes of them, and the time ahead.
#[derive(Debug, Clone, Copy)]
struct Passed {
    scans: u32,
    lines: u64,
    bytes: usize,
    changes: usize,
    ahead: u64,
}

impl<R: BufRead> Dump<'_, R> {
    /// Scans to come may see what the last one did.
    pub(super) fn repeats(&self) -> bool {
        self.now_us.is_some() && !self.fresh && (self.ahead.is_some() || self.still() > 0)
    }
    /// Passes over scans that see what the last one did, gauges within their rooms aside; gives how many.
    pub(super) fn pass(&mut self, sample: &mut Sample, stays: Stays, rooms: &[Room]) -> u32 {
        let (Some(now), Some(ahead), false) = (self.now_us, self.ahead, self.fresh) else {
            let scans = stays.most(self.still());
            self.goes_on(scans);
            return scans;
        };
        let most = self.foreseen.most(stays.most(u32::MAX), stays);
        let mut next = Passed { scans: 0, lines: 0, bytes: 0, changes: 0, ahead };
        let mut passed = next;
        self.moved.clear();
        self.passing.clone_from(sample);
        let scan_us = self.scan_us.max(1);
        loop {
            // Up to the next change nothing moves.
            let (last, changed) = (now + u64::from(next.scans) * scan_us, next.scans);
            if next.ahead > last + scan_us + LONGEST_US {
                break;
            }
            let still = next.ahead.saturating_sub(1).saturating_sub(last) / scan_us;
            next.scans = next.scans.saturating_add(u32::try_from(still).unwrap_or(u32::MAX)).min(most);
            let together = stays.most(next.scans);
            if together > passed.scans && together >= changed {
                passed = Passed { scans: together, ..next };
            }
            if next.scans >= most || self.moved.len() >= MOST_CHANGES {
                break;
            }
            let at = now + u64::from(next.scans + 1) * scan_us;
            let Some(scan) = self.passes(next, at, sample, rooms) else { break };
            next = scan;
            if stays.allows(next.scans) {
                passed = next;
            }
        }
        self.foreseen.looked(next.scans, passed.scans, most);
        if passed.scans > 0 {
            for moved in self.moved.iter().take(passed.changes) {
                let scan = self.scan + u64::from(moved.scan) - 1;
                self.known.change(moved.variable, Value::Number(moved.value), scan, false, &self.head);
            }
            // Each was put into its place before.
            let _ = self.known.sample(&self.head, sample);
            self.goes_on(passed.scans);
            self.tokens.take_lines(passed.lines, passed.bytes, 1);
            if passed.lines > 0 {
                (self.ahead, self.last) = (Some(passed.ahead), (passed.ahead, false));
            }
        }
        passed.scans
    }
    /// Scans to come before the next change, or before the end: they see what the last one saw.
    fn still(&self) -> u32 {
        let Some(now) = self.now_us.filter(|_| !self.fresh) else { return 0 };
        let next = now + self.scan_us;
        let last = match self.ahead {
            // That is an error.
            Some(at) if at > next + LONGEST_US => now,
            Some(at) => at.saturating_sub(1),
            None => self.end().saturating_sub(1),
        };
        u32::try_from(last.saturating_sub(now) / self.scan_us.max(1)).unwrap_or(u32::MAX)
    }
    /// So many scans are given.
    fn goes_on(&mut self, scans: u32) {
        self.now_us = self.now_us.map(|now| now + u64::from(scans) * self.scan_us);
        self.scan += u64::from(scans);
    }
    /// Looks at the lines that one scan more sees, at this time: none if they are not plain, or more than a gauge moves, or the time behind them is not
    /// seen.
    fn passes(&mut self, before: Passed, now: u64, sample: &Sample, rooms: &[Room]) -> Option<Passed> {
        let Self { tokens, head, ids, moved, passing, .. } = self;
        let lines = tokens.lines();
        let mut scan = Passed { scans: before.scans.checked_add(1)?, ..before };
        while scan.ahead <= now {
            let line = plain(lines.get(scan.bytes..)?)?;
            (scan.lines, scan.bytes) = (scan.lines + 1, scan.bytes + line.bytes);
            match line.plain {
                Plain::Time(time) => scan.ahead = head.microseconds(time).filter(|at| *at >= scan.ahead)?,
                Plain::Change(id, value) => {
                    for &variable in ids.of(id)? {
                        moves(variable, value, head, passing, sample, rooms)?;
                        moved.push(Moved { variable, value, scan: scan.scans });
                    }
                }
            }
        }
        scan.changes = moved.len();
        Some(scan)
    }
}

/// A variable says this: it is that of a gauge, which keeps within its room.
fn moves(
    variable: usize,
    value: f64,
    head: &Head<'_>,
    passing: &mut Sample,
    sample: &Sample,
    rooms: &[Room],
) -> Option<()> {
    let variable = head.variables.get(variable)?;
    let (Target::Value(gauge, _)
    | Target::Current(gauge, _)
    | Target::Steps(gauge)
    | Target::Scaled(Slot::Gauge(gauge, _))) = variable.target
    else {
        return None;
    };
    if !put(variable, Some(value), head, passing) {
        return None;
    }
    let (now, before) = (passing.gauges.get(gauge)?, sample.gauges.get(gauge)?);
    let roomy = || rooms.get(gauge).is_some_and(|room| room.has(now.steps));
    (now == before || now.health == before.health && roomy()).then_some(())
}
