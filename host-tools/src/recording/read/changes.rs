//! `rows: change`: one row a change; what no row changes holds.

use std::collections::HashMap;
use std::io::BufRead;

use super::cells::{Said, put};
use super::clock::in_words;
use super::columns::{Columns, Slot, same};
use super::fault::{Bad, ReadFault};
use super::foreseen::Foreseen;
use super::held::Holds;
use super::rows::{Line, Rows};
use super::wide::wrong_length;
use super::{Between, Step, between};
use crate::sample::{Frame, Sample};

mod again;
mod block;
mod plain;

/// Nothing changes for so long in no station, but a clock that was set makes it look so.
pub(super) const LONGEST_US: u64 = 24 * 3_600 * 1_000_000;

/// Bytes of all names that are kept.
const MOST_WRITTEN: usize = 1 << 20;
/// No more names than this are kept; the last of them gives way to another, and is looked up anew.
const MOST_NAMES: usize = 10_000;

/// What follows the scans that are already known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ahead {
    /// Nothing has been read yet.
    Unread,
    /// A row of this time stands in the rows' buffer.
    Row(u64),
    /// The controller restarts.
    PowerUp,
    /// The file is over.
    End,
}

/// A name, and where it goes.
#[derive(Debug)]
struct Name {
    /// As it stands in the rows.
    written: Box<[u8]>,
    /// Place of its terminal among those met.
    index: usize,
    slot: Slot,
    /// How long its values hold, microseconds; without end if nothing is said.
    held_us: Option<u64>,
    /// The name that stood in the row behind it last time, and one that did from which on others are tried.
    next: usize,
    first: usize,
    plain: plain::Written,
}

/// A terminal of which a name was met.
#[derive(Debug)]
struct Met {
    slot: Slot,
    /// The scan that gave it its value.
    scan: u64,
    /// What its values meant.
    said: Said,
}

/// Names that are tried from one on that followed before: signals mostly come in one order, and some do not change.
const TRIED: usize = 8;

/// Where the reading of changes stands.
#[derive(Debug)]
pub(super) struct Changes {
    scan_us: u64,
    /// Names met so far, in the order in which they were met: a handful, whatever the length of the file.
    names: Vec<Name>,
    /// Bytes of all of them.
    written: usize,
    /// Where each of them stands.
    known: HashMap<Box<[u8]>, usize>,
    /// The name of the row before.
    last: usize,
    /// The time of the row before as it stood there, and what it is.
    time: (Vec<u8>, u64),
    /// The terminals of the names met so far.
    met: Vec<Met>,
    ahead: Ahead,
    /// The row ahead lies where it lay: only its time was looked at.
    peeked: bool,
    /// Time of the scan given last.
    now_us: Option<u64>,
    /// Number of the scan being filled, from 1.
    scan: u64,
    /// The first scan after a start needs every value.
    fresh: bool,
    /// Line `# end:`.
    end_us: Option<u64>,
    /// Gauges whose values hold for some time only.
    holds: Holds,
    /// The last scan changed nothing and moved nothing.
    repeats: bool,
    foreseen: Foreseen,
    /// Rows with which the last scans ended that were passed over.
    block: block::Block,
    /// What is read in scans that may be passed over.
    passing: Sample,
}

impl Changes {
    pub(super) fn open<R: BufRead>(rows: &Rows<R>, scan_us: u64) -> Result<Self, ReadFault> {
        if !rows.fields().eq([&b"time"[..], b"signal", b"value"]) {
            let bad = Bad::new(
                "the header row of a change list is another",
                "the three fields `time`, `signal`, `value`",
                "write it so, or say `# rows: scan` if there is one row a scan",
            );
            return Err(rows.blame(0, bad));
        }
        Ok(Self {
            scan_us,
            names: Vec::new(),
            written: 0,
            known: HashMap::new(),
            last: 0,
            time: (Vec::new(), 0),
            met: Vec::new(),
            ahead: Ahead::Unread,
            peeked: false,
            now_us: None,
            scan: 0,
            fresh: true,
            end_us: None,
            holds: Holds::default(),
            repeats: false,
            foreseen: Foreseen::default(),
            block: block::Block::default(),
            passing: Sample::default(),
        })
    }

    /// Scans to come before the next row, where the last one changed nothing and moved nothing, and nothing hangs on how long that has been so.
    fn ahead(&self) -> u32 {
        let Some(now) = self.now_us.filter(|_| self.repeats && self.holds.is_empty()) else { return 0 };
        // The last of the scans is before the row, or may be that of the end. What is further off is an error.
        let last = match self.ahead {
            Ahead::Row(at) => at.saturating_sub(1),
            Ahead::End => self.end_us.unwrap_or(now),
            Ahead::Unread | Ahead::PowerUp => now,
        };
        let between = if last >= now + LONGEST_US { 0 } else { last.saturating_sub(now) };
        u32::try_from(between / self.scan_us.max(1)).unwrap_or(u32::MAX)
    }
    /// Scans in which a value was held too long.
    pub(super) fn outlived(&self) -> u64 {
        self.holds.outlived()
    }

    pub(super) fn advance<R: BufRead>(
        &mut self,
        rows: &mut Rows<R>,
        columns: &Columns<'_>,
        sample: &mut Sample,
    ) -> Result<Step, ReadFault> {
        if self.ahead == Ahead::Unread {
            self.look(rows, columns)?;
        }
        let next = self.now_us.map(|now| now + self.scan_us);
        self.no_gap(rows, columns)?;
        let now = match (self.ahead, next) {
            (Ahead::Row(first), _) if self.fresh => {
                if next.is_some_and(|next| first + self.scan_us < next) {
                    return Err(rows.blame(0, backwards(next.unwrap_or_default())));
                }
                first
            }
            (Ahead::Row(_), Some(next)) => next,
            (Ahead::PowerUp, _) => {
                self.fresh = true;
                self.ahead = Ahead::Unread;
                return Ok(Step::PowerUp);
            }
            (_, Some(next)) if !self.fresh && self.end_us.is_some_and(|end| next <= end) => next,
            _ => return Ok(Step::End),
        };
        self.scan += 1;
        self.repeats = !self.fresh && !matches!(self.ahead, Ahead::Row(at) if at <= now);
        sample.travel.fill(0);
        sample.links.fill(Frame::default());
        while let Ahead::Row(at) = self.ahead {
            if at > now {
                break;
            }
            if !self.fresh && at + self.scan_us <= now {
                self.read(rows, columns)?;
                return Err(rows.blame(0, backwards(now)));
            }
            if !self.peeked || !self.plain(rows, columns, sample, now) {
                self.read(rows, columns)?;
                self.apply(rows, columns, sample, now)?;
            }
            self.look(rows, columns)?;
        }
        if self.fresh {
            self.all_given(rows, columns)?;
            self.fresh = false;
        }
        self.holds.scan(now, |_| false, sample);
        self.now_us = Some(now);
        self.foreseen.read();
        Ok(Step::Scan { at_us: now })
    }

    /// The next row, or the end, is within a day.
    fn no_gap<R: BufRead>(&mut self, rows: &mut Rows<R>, columns: &Columns<'_>) -> Result<(), ReadFault> {
        let ahead = match self.ahead {
            Ahead::Row(at) => Some(at),
            Ahead::End => self.end_us,
            Ahead::Unread | Ahead::PowerUp => None,
        };
        match (ahead, self.now_us) {
            (Some(at), Some(now)) if !self.fresh && at > now + LONGEST_US => {
                let bad = Bad::new(
                    "a gap: nothing is recorded for more than a day before this row",
                    format!("a time within a day of {}", in_words(now)),
                    "was the clock set? Cut the recording here, or write `# power-up` between the rows",
                );
                self.read(rows, columns)?;
                Err(rows.blame(0, bad))
            }
            _ => Ok(()),
        }
    }

    /// The row ahead stands in the rows' buffer from now on.
    fn read<R: BufRead>(&mut self, rows: &mut Rows<R>, columns: &Columns<'_>) -> Result<(), ReadFault> {
        if std::mem::take(&mut self.peeked) { self.look_closer(rows, columns) } else { Ok(()) }
    }

    /// Looks for the next row.
    fn look<R: BufRead>(&mut self, rows: &mut Rows<R>, columns: &Columns<'_>) -> Result<(), ReadFault> {
        self.peeked = false;
        if self.peek(rows, columns) { Ok(()) } else { self.look_closer(rows, columns) }
    }

    /// Reads on to the next row.
    fn look_closer<R: BufRead>(&mut self, rows: &mut Rows<R>, columns: &Columns<'_>) -> Result<(), ReadFault> {
        loop {
            match rows.advance()? {
                Line::End => {
                    self.ahead = Ahead::End;
                    return Ok(());
                }
                Line::Remark => {
                    let at_line = |bad: Bad| bad.at(rows.line(), 1);
                    match between(rows.remark()).map_err(at_line)? {
                        Between::Note => {}
                        Between::End => {
                            self.end_us = Some(self.time_of(after_end(rows.remark()), columns).map_err(at_line)?);
                        }
                        Between::PowerUp => {
                            self.ahead = Ahead::PowerUp;
                            return Ok(());
                        }
                    }
                }
                Line::Row | Line::Same | Line::Alike => {
                    if rows.len() != 3 {
                        return Err(rows.blame(0, wrong_length(rows.len(), 3, rows.is_ended())));
                    }
                    if self.end_us.is_some() {
                        let bad = Bad::new("a row after `# end:`", "nothing", "move the line down");
                        return Err(rows.blame(0, bad));
                    }
                    let time = rows.field(0).unwrap_or_default();
                    if time.is_empty() || self.time.0 != time {
                        self.time.1 = self.time_of(time, columns).map_err(|bad| rows.blame(0, bad))?;
                        self.time.0.clear();
                        self.time.0.extend_from_slice(time);
                    }
                    self.ahead = Ahead::Row(self.time.1);
                    return Ok(());
                }
            }
        }
    }

    /// A time, with what is known of the one before it.
    fn time_of(&self, field: &[u8], columns: &Columns<'_>) -> Result<u64, Bad> {
        let before = if let Ahead::Row(at) = self.ahead { Some(at) } else { self.now_us };
        columns.top().clock.microseconds(field, before, self.scan_us)
    }

    /// Puts the row that stands in the buffer into the sample.
    fn apply<R: BufRead>(
        &mut self,
        rows: &Rows<R>,
        columns: &Columns<'_>,
        sample: &mut Sample,
        now: u64,
    ) -> Result<(), ReadFault> {
        let name = rows.field(1).unwrap_or_default();
        let at = match self.find(name) {
            Some(at) => at,
            None => self.meet(name, columns).map_err(|bad| rows.blame(1, bad))?,
        };
        let Some(&Name { index, slot, held_us, .. }) = self.names.get(at) else { return Ok(()) };
        if slot == Slot::Ignored {
            return Ok(());
        }
        let Some(Met { scan, said, .. }) = self.met.get_mut(index) else { return Ok(()) };
        if *scan == self.scan && !matches!(slot, Slot::Counter(..) | Slot::CounterOn(..)) {
            let bad = Bad::new(
                format!("{} changes twice within one scan", rows.shown(1)),
                "one row a signal in a scan: no scan could have seen both",
                "replay with the scan of the recording, or keep the last of the rows",
            );
            return Err(rows.blame(1, bad));
        }
        *scan = self.scan;
        let value = rows.field(2).unwrap_or_default();
        if value.is_empty() {
            let bad = Bad::new("the value is missing", "the new value", "remove the row");
            return Err(rows.blame(2, bad));
        }
        self.holds.read(slot, held_us, now);
        put(&slot, value, columns, said, sample).map_err(|bad| rows.blame(2, bad))
    }

    /// Where a name that was met stands.
    fn find(&mut self, name: &[u8]) -> Option<usize> {
        let (next, first) = self.names.get(self.last).map_or((0, 0), |last| (last.next, last.first));
        let is = |at: &usize| self.names.get(*at).is_some_and(|tried| *tried.written == *name);
        let tried = Some(next).filter(is).or_else(|| (first..first + TRIED).find(is));
        let found = tried.or_else(|| self.known.get(name).copied())?;
        self.follows(found, tried.is_some());
        Some(found)
    }
    /// A row is of this name, which was found among those that were tried, or not.
    fn follows(&mut self, found: usize, tried: bool) {
        if let Some(last) = self.names.get_mut(self.last) {
            last.next = found;
            if !tried {
                last.first = found;
            }
        }
        self.last = found;
    }
    /// Takes up a name; gives where it stands.
    fn meet(&mut self, name: &[u8], columns: &Columns<'_>) -> Result<usize, Bad> {
        let slot = columns.slot(name)?;
        // Two names may mean one terminal, in two units: they share its place.
        let index = self.met.iter().position(|met| same(met.slot, slot) || met.slot == slot);
        let index = index.unwrap_or_else(|| {
            self.met.push(Met { slot, scan: 0, said: Said::default() });
            self.met.len() - 1
        });
        // One name may have any number of units if it is passed over.
        while (self.names.len() >= MOST_NAMES || self.written + name.len() > MOST_WRITTEN)
            && let Some(last) = self.names.pop()
        {
            self.known.remove(&last.written);
            self.written -= last.written.len();
        }
        self.written += name.len();
        self.known.insert(name.into(), self.names.len());
        let (held_us, plain) = (columns.held_us(name), plain::Written::new(name));
        self.names.push(Name { written: name.into(), index, slot, held_us, next: 0, first: 0, plain });
        Ok(self.names.len() - 1)
    }

    /// Has the first scan given every channel and gauge its value?
    fn all_given<R: BufRead>(&self, rows: &Rows<R>, columns: &Columns<'_>) -> Result<(), ReadFault> {
        let given: Vec<Slot> = self.met.iter().filter(|met| met.scan == self.scan).map(|met| met.slot).collect();
        columns.first_complete(&given).map_err(|bad| bad.at(rows.line(), 1))
    }
}

fn backwards(now: u64) -> Bad {
    Bad::new(
        "time runs backwards in this row",
        format!("a time after {} less one scan", in_words(now)),
        "sort the rows by time; was the clock set?",
    )
}

/// The time behind `# end:`.
fn after_end(remark: &[u8]) -> &[u8] {
    let colon = remark.iter().position(|byte| *byte == b':');
    colon.and_then(|colon| remark.get(colon + 1..)).unwrap_or_default().trim_ascii()
}
