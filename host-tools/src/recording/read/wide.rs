//! `rows: scan`: one row a scan.

use std::io::BufRead;

use super::cells::{Meant, Said, put};
use super::clock::in_words;
use super::columns::{Columns, Slot};
use super::fault::{Bad, ReadFault, quoted};
use super::foreseen::Foreseen;
use super::held::{Hold, Holds};
use super::rows::{Line, May, Rows, after_time};
use super::stamps::Stamps;
use super::{Between, Step, between};
use crate::sample::Sample;
use crate::stays::{Room, Stays};

/// Where the reading of rows stands.
#[derive(Debug)]
pub(super) struct Wide {
    /// Slot of each column; `None` is the time.
    slots: Vec<Option<Slot>>,
    /// What values of each column meant.
    said: Vec<Said>,
    time_column: usize,
    stamps: Stamps,
    scan_us: u64,
    last_us: Option<u64>,
    /// The last time of the recording that this one may go on from.
    from_us: Option<u64>,
    /// A restart was announced and its first row has not come.
    restarted: bool,
    /// Gaps are told and not refused.
    over_gaps: bool,
    /// The row in the buffer comes after a gap that was told: such a row, and its time.
    held: Option<(Line, u64)>,
    doubled: u64,
    /// Columns of gauges.
    gauges: Vec<usize>,
    foreseen: Foreseen,
    /// Gauges of which not every row has a value.
    holds: Holds,
}

impl Wide {
    pub(super) fn open<R: BufRead>(rows: &mut Rows<R>, columns: &Columns<'_>, scan_us: u64) -> Result<Self, ReadFault> {
        let mut slots = Vec::with_capacity(rows.len());
        let mut time_column = None;
        for (i, name) in rows.fields().enumerate() {
            if columns.is_time(name) {
                if time_column.replace(i).is_some() {
                    let bad = Bad::new("a second column `time`", "one", "remove one of the two");
                    return Err(rows.blame(i, bad));
                }
                slots.push(None);
            } else {
                slots.push(Some(columns.slot(name).map_err(|bad| rows.blame(i, bad))?));
            }
        }
        let Some(time_column) = time_column else {
            let bad = Bad::new(
                "the header row has no column `time`",
                "`time` and the signals, in any order",
                "add the column, or name it with `# column NAME is time`",
            );
            return Err(rows.blame(0, bad));
        };
        let mut holds = Holds::default();
        for (column, (slot, name)) in slots.iter().zip(rows.fields()).enumerate() {
            if let Some(slot) = slot {
                holds.stands_in(column, *slot, columns.held_us(name));
            }
        }
        let given: Vec<Slot> = slots.iter().copied().flatten().collect();
        columns.complete(&given).map_err(|bad| rows.blame(0, bad))?;
        // A row is the same as the one before if it is so behind its time.
        rows.keep_last(time_column == 0);
        Ok(Self {
            said: slots.iter().map(|_| Said::default()).collect(),
            gauges: (0..)
                .zip(&slots)
                .filter(|(_, slot)| matches!(slot, Some(Slot::Gauge(..))))
                .map(|(at, _)| at)
                .collect(),
            foreseen: Foreseen::default(),
            slots,
            time_column,
            stamps: Stamps::new(&columns.top().clock, scan_us),
            scan_us,
            last_us: None,
            from_us: None,
            restarted: false,
            over_gaps: false,
            held: None,
            doubled: 0,
            holds,
        })
    }
    /// Rows to come may say what the last one said. Where something hangs on how long a value has been held, none is passed over.
    pub(super) fn repeats<R: BufRead>(&self, rows: &mut Rows<R>) -> bool {
        self.can_pass() && rows.may_repeat(&self.gauges)
    }
    fn can_pass(&self) -> bool {
        self.holds.is_empty() && self.held.is_none() && self.last_us.is_some()
    }
    /// Passes over rows that read what the last one did, each one scan later to the microsecond, as far as they lie in one piece; gauges may move
    /// within their rooms. Gives how many.
    pub(super) fn pass<R: BufRead>(
        &mut self,
        rows: &mut Rows<R>,
        columns: &Columns<'_>,
        sample: &mut Sample,
        stays: Stays,
        rooms: &[Room],
    ) -> u32 {
        let (true, Some(last_us)) = (self.can_pass(), self.last_us) else { return 0 };
        let moving: &[usize] = if rooms.iter().any(|room| room.least < room.most) { &self.gauges } else { &[] };
        let expected = self.stamps.look_ahead(self.scan_us);
        let most = if expected == 0 { u32::MAX } else { expected }.min(stays.most(u32::MAX));
        let most = self.foreseen.most(most, stays);
        let mut may = Within {
            columns,
            slots: &self.slots,
            said: &mut self.said,
            stamps: &mut self.stamps,
            expected: expected > 0,
            last_us,
            scan_us: self.scan_us,
            stays,
            rooms,
            sample,
        };
        let (passed, seen) = rows.again(moving, most, &mut may);
        self.foreseen.looked(seen, passed, most);
        if passed == 0 {
            return 0;
        }
        if expected > 0 {
            self.stamps.took(passed, self.scan_us);
        }
        self.last_us = Some(last_us + u64::from(passed) * self.scan_us);
        for &column in rows.changed() {
            // It was understood where it was looked at.
            let _ = self.field(column, rows, columns, sample);
        }
        passed
    }
    pub(super) fn follows(&mut self, last_us: u64) {
        self.from_us = Some(last_us);
    }
    pub(super) fn over_gaps(&mut self) {
        self.over_gaps = true;
    }
    /// Rows that stood there twice and were passed over.
    pub(super) fn doubled(&self) -> u64 {
        self.doubled
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
        if let Some((line, at_us)) = self.held.take() {
            self.last_us = None;
            if let Some(step) = self.row(rows, columns, sample, line, Some(at_us))? {
                return Ok(step);
            }
        }
        loop {
            let line = match rows.advance()? {
                Line::End => return Ok(Step::End),
                Line::Remark => match between(rows.remark()).map_err(|bad| bad.at(rows.line(), 1))? {
                    Between::Note => continue,
                    Between::End => return Err(no_end().at(rows.line(), 1)),
                    Between::PowerUp => {
                        self.restarted = true;
                        return Ok(Step::PowerUp);
                    }
                },
                line @ (Line::Row | Line::Same | Line::Alike) => line,
            };
            if let Some(step) = self.row(rows, columns, sample, line, None)? {
                return Ok(step);
            }
        }
    }

    /// Takes a row, whose time may be known already; none of one that says nothing. What stands there as in the row before gives what it gave.
    fn row<R: BufRead>(
        &mut self,
        rows: &Rows<R>,
        columns: &Columns<'_>,
        sample: &mut Sample,
        line: Line,
        known_us: Option<u64>,
    ) -> Result<Option<Step>, ReadFault> {
        let (same, whole) = (line == Line::Same, line == Line::Row);
        if whole && rows.len() != self.slots.len() {
            return Err(rows.blame(0, wrong_length(rows.len(), self.slots.len(), rows.is_ended())));
        }
        let time = if whole { rows.field(self.time_column).unwrap_or_default() } else { rows.time() };
        let blame = |bad: Bad| if same { bad.at(rows.line(), 1) } else { rows.blame(self.time_column, bad) };
        let (clock, stamps) = (&columns.top().clock, &mut self.stamps);
        let at_us = match known_us {
            Some(at_us) => at_us,
            None => stamps.microseconds(clock, time, self.last_us.or(self.from_us), self.scan_us).map_err(blame)?,
        };
        if let Err(bad) = self.on_time(at_us, time) {
            let Some(from_us) = self.last_us.filter(|_| self.over_gaps) else { return Err(blame(bad)) };
            let unchanged = || self.slots.iter().enumerate().all(|(i, slot)| slot.is_none() || rows.unchanged(i));
            if at_us == from_us && (same || whole && unchanged()) {
                self.doubled += 1;
                return Ok(None);
            }
            self.held = Some((line, at_us));
            return Ok(Some(Step::Gap { from_us, to_us: at_us }));
        }
        match line {
            Line::Alike => {
                for &i in rows.changed() {
                    self.field(i, rows, columns, sample)?;
                }
            }
            Line::Row => {
                for i in 0..self.slots.len() {
                    if !rows.unchanged(i) {
                        self.field(i, rows, columns, sample)?;
                    }
                }
            }
            Line::Same | Line::Remark | Line::End => {}
        }
        let field = |hold: &Hold| rows.field(hold.column?);
        self.holds.scan(at_us, |hold| field(hold).is_some_and(|field| !field.is_empty()), sample);
        self.last_us = Some(at_us);
        self.foreseen.read();
        self.restarted = false;
        Ok(Some(Step::Scan { at_us }))
    }

    /// Takes a field of a row.
    fn field<R: BufRead>(
        &mut self,
        index: usize,
        rows: &Rows<R>,
        columns: &Columns<'_>,
        sample: &mut Sample,
    ) -> Result<(), ReadFault> {
        let (Some(Some(slot)), Some(said)) = (self.slots.get(index), self.said.get_mut(index)) else {
            return Ok(());
        };
        let field = rows.field(index).unwrap_or_default();
        if field.is_empty() && self.holds.holds(index) {
            return Ok(());
        }
        if let Slot::Counter(counter, _) | Slot::CounterOn(counter, _) = slot
            && let Some(travel) = sample.travel.get_mut(*counter)
        {
            *travel = 0;
        }
        put(slot, field, columns, said, sample).map_err(|bad| rows.blame(index, bad))
    }

    /// A step that is a scan but for thousands.
    fn unit(&self, step: u64) -> Option<&'static str> {
        let thousands =
            |much: u64, little: u64| [1_000, 1_000_000].iter().any(|by| Some(much) == little.checked_mul(*by));
        let off = thousands(step, self.scan_us) || thousands(self.scan_us, step);
        off.then_some("times are a thousand or a million times off: say their unit with `# time:`")
    }

    /// One scan after the row before, give or take half a scan.
    fn on_time(&self, at_us: u64, written: &[u8]) -> Result<(), Bad> {
        let Some(last) = self.last_us else {
            return Ok(());
        };
        let expected = || format!("{}, one scan after the row before", in_words(last.saturating_add(self.scan_us)));
        let written = || quoted(written);
        match at_us.checked_sub(last) {
            None => Err(Bad::new(
                format!("time runs backwards at {}", written()),
                expected(),
                "sort the rows by time; was the clock set?",
            )),
            Some(_) if self.restarted => Ok(()),
            Some(0) => Err(Bad::new(
                format!("the time {} stands here for the second time", written()),
                expected(),
                "remove the row if it is a doubled one; stamps that are coarser than a scan tell no scans apart, and must be recorded finer",
            )),
            Some(step) if 2 * step < self.scan_us => Err(Bad::new(
                format!("{} is only {step} us after the row before", written()),
                expected(),
                self.unit(step).unwrap_or("record one row a scan, or use `# rows: change`"),
            )),
            Some(step) if 2 * step > 3 * self.scan_us => Err(Bad::new(
                format!("a gap: {} is {step} us after the row before", written()),
                expected(),
                self.unit(step).unwrap_or(
                    "cut the recording here, or write `# power-up` between the rows if the controller restarted",
                ),
            )),
            Some(_) => Ok(()),
        }
    }
}

/// Rows that may be passed over: each at its time, and gauges within their rooms.
struct Within<'w, 's> {
    columns: &'w Columns<'s>,
    slots: &'w [Option<Slot>],
    said: &'w mut [Said],
    stamps: &'w mut Stamps,
    /// How the next time is written is known.
    expected: bool,
    last_us: u64,
    scan_us: u64,
    stays: Stays,
    rooms: &'w [Room],
    sample: &'w Sample,
}

impl May for Within<'_, '_> {
    fn time(&mut self, row: &[u8]) -> Option<usize> {
        if self.expected {
            let next = self.stamps.next();
            return (!next.is_empty() && row.starts_with(next)).then_some(next.len());
        }
        let (time, _) = after_time(row, self.columns.top().marks.separator)?;
        let at_us = self.columns.top().clock.microseconds(time, Some(self.last_us), self.scan_us).ok()?;
        let expected = self.last_us + self.scan_us;
        self.last_us = expected;
        (at_us == expected).then_some(time.len())
    }
    fn says(&mut self, column: usize, field: &[u8]) -> bool {
        let (Some(Some(slot)), Some(said)) = (self.slots.get(column), self.said.get_mut(column)) else { return false };
        let Slot::Gauge(gauge, _) = slot else { return false };
        let (Some(before), Some(room)) = (self.sample.gauges.get(*gauge), self.rooms.get(*gauge)) else { return false };
        match said.meant(slot, self.columns, field) {
            Ok(Meant::Reading(now)) => now.health == before.health && room.has(now.steps),
            _ => false,
        }
    }
    fn allows(&self, rows: u32) -> bool {
        self.stays.allows(rows)
    }
}

pub(super) fn wrong_length(has: usize, expected: usize, ends: bool) -> Bad {
    let expected_fields = format!("{expected}, as in the header row");
    if ends && has < expected {
        let mend = "the file was cut: copy it anew, or take this row out, so that it ends with the row before";
        return Bad::new(format!("this row has {has} fields, and the file ends in it"), expected_fields, mend);
    }
    Bad::new(
        format!("this row has {has} fields"),
        expected_fields,
        "fill in what is missing; a separator after the last field makes one field too many",
    )
}

fn no_end() -> Bad {
    Bad::new(
        "`# end:` in a recording of one row a scan",
        "the last row, which is the end",
        "remove the line; it belongs to `# rows: change`",
    )
}
