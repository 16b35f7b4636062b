//! Many scans at once that read what the last one did, but for gauges that move within their rooms: rows of them that lie in one piece and are plain.

use std::io::BufRead;

use super::super::columns::Columns;
use super::super::foreseen::alike;
use super::super::rows::Rows;
use super::{Ahead, Changes, LONGEST_US, block};
use crate::sample::{Frame, Sample};
use crate::stays::{Room, Stays};

/// Scans that may be passed over: how many, their rows and bytes, and the time of the row behind them.
#[derive(Debug, Clone, Copy, Default)]
struct Passed {
    scans: u32,
    rows: u64,
    bytes: usize,
    ahead: u64,
}

impl Changes {
    /// Scans to come may read what the last one did.
    pub(in crate::recording::read) fn repeats(&self) -> bool {
        self.ahead() > 0 || self.row_ahead().is_some()
    }
    /// Passes over scans that read what the last one did, gauges within their rooms aside; gives how many.
    pub(in crate::recording::read) fn pass<R: BufRead>(
        &mut self,
        rows: &mut Rows<R>,
        columns: &Columns<'_>,
        sample: &mut Sample,
        stays: Stays,
        rooms: &[Room],
    ) -> u32 {
        let still = stays.most(self.ahead());
        if still > 0 {
            self.goes_on(still);
            return still;
        }
        let (Some(ahead), Some(now)) = (self.row_ahead(), self.now_us) else { return 0 };
        let most = self.foreseen.most(stays.most(u32::MAX), stays);
        let (before, mut seen, mut passed) = (self.scan, 0, Passed { ahead, ..Passed::default() });
        let mut next = passed;
        self.passing.clone_from(sample);
        let mut scratch = std::mem::take(&mut self.passing);
        let lying = rows.lies();
        while seen < most
            && let Some(scan) = self.passes(lying, next, now, columns, &mut scratch)
            && alike(&scratch, sample, rooms)
        {
            (next, seen) = (scan, scan.scans);
            if stays.allows(seen) {
                passed = scan;
                sample.gauges.clone_from(&scratch.gauges);
            }
        }
        self.passing = scratch;
        // Who stood in a scan that was only looked at will stand in it once more.
        self.scan = before;
        self.goes_on(passed.scans);
        for met in self.met.iter_mut().filter(|met| met.scan > self.scan) {
            met.scan = 0;
        }
        self.foreseen.looked(seen, passed.scans, most);
        rows.take_lying(passed.rows, passed.bytes);
        // The time that is known is that of the row ahead again, not of one that was only looked at.
        if most > 0 && !self.peek(rows, columns) {
            (self.ahead, self.peeked) = (Ahead::Row(passed.ahead), true);
        }
        passed.scans
    }
    /// The time of the row ahead, where it was left where it lies, and nothing hangs on how long values have been held.
    fn row_ahead(&self) -> Option<u64> {
        match self.ahead {
            Ahead::Row(at) => Some(at).filter(|_| self.peeked && !self.fresh && self.holds.is_empty()),
            Ahead::Unread | Ahead::PowerUp | Ahead::End => None,
        }
    }
    /// So many scans are given.
    fn goes_on(&mut self, scans: u32) {
        self.now_us = self.now_us.map(|now| now + u64::from(scans) * self.scan_us);
        self.scan += u64::from(scans);
    }
    /// Takes the rows of one scan more; none if one is not plain, or does not belong there, or the row behind them is not seen.
    fn passes(
        &mut self,
        lying: &[u8],
        before: Passed,
        first: u64,
        columns: &Columns<'_>,
        sample: &mut Sample,
    ) -> Option<Passed> {
        let last = first + u64::from(before.scans) * self.scan_us;
        let now = last + self.scan_us;
        if before.ahead > last + LONGEST_US {
            return None;
        }
        let mut scan = Passed { scans: before.scans.checked_add(1)?, ..before };
        self.scan += 1;
        sample.travel.fill(0);
        sample.links.fill(Frame::default());
        let mut of = block::Rows::Gauges;
        while scan.ahead <= now {
            if scan.ahead + self.scan_us <= now {
                return None;
            }
            let row = lying.get(scan.bytes..)?;
            if matches!(of, block::Rows::Gauges)
                && let Some((bytes, rows)) = self.block.stands(row, &self.time.0)
                && !self.has_time(row.get(bytes..)?)
            {
                self.block.fill(sample);
                self.last = self.block.last;
                (scan.bytes, scan.rows) = (scan.bytes + bytes, scan.rows + rows);
                scan.ahead = self.time_of_plain(lying.get(scan.bytes..)?, columns)?;
                // Who stood there is not told twice from one that stands there once more.
                return Some(scan).filter(|scan| scan.ahead > now);
            }
            let behind = row.strip_prefix(self.time.0.as_slice())?;
            let taken = self.plain_row(behind, columns, sample, None)?;
            if let Some(name) = self.names.get(self.last) {
                of = of.takes(&name.slot, scan.bytes);
            }
            scan.bytes += self.time.0.len() + taken;
            scan.rows += 1;
            let row = lying.get(scan.bytes..)?;
            if !self.has_time(row) {
                let time = self.time.0.len();
                scan.ahead = self.time_of_plain(row, columns)?;
                if let (true, block::Rows::Block(begin)) = (scan.ahead > now, &of)
                    && let Some(text) = lying.get(*begin..scan.bytes)
                {
                    self.block.keep(text, time, sample, self.last);
                }
                // Rows of several times in one scan are no block.
                of = block::Rows::Mixed;
            }
        }
        Some(scan)
    }
    /// A row is of the time that is known.
    fn has_time(&self, row: &[u8]) -> bool {
        row.strip_prefix(self.time.0.as_slice()).is_some_and(|row| row.first() == Some(&b','))
    }
}
