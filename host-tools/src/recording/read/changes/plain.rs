//! Rows of a change list as they mostly are, read where they lie: three fields without quotation marks, of the time of the row before and of
//! a name that was met, with commas between them. All others, and all that are wrong, are left to be read as any row.

use std::io::BufRead;

use super::super::cells::{Meant, fill, meant};
use super::super::columns::{Columns, Slot};
use super::super::rows::{Rows, ends, row_end};
use super::super::top::Top;
use super::{Ahead, Changes, Name, TRIED};
use crate::sample::Sample;

/// Digits of a time that is read where it lies.
const MOST_DIGITS: usize = 18;
/// A value longer than this is left.
const LONGEST_VALUE: usize = 24;

/// How the last plain row of a name stood there behind its time, and what its value meant.
#[derive(Debug)]
pub(super) struct Written {
    /// From the comma before the name to the end of the row; to that before the value, where no value is known; nothing, where the name
    /// cannot stand in a plain row.
    row: Vec<u8>,
    /// Bytes up to the value.
    before: usize,
    /// The first eight of them, and which bits of eight they are: most other names differ in these.
    first: u64,
    mask: u64,
    meant: Meant,
}

impl Written {
    pub(super) fn new(name: &[u8]) -> Self {
        let plain = !name.iter().any(|byte| ends(*byte, b','));
        let row = if plain { [b",", name, b","].concat() } else { Vec::new() };
        let eight = |of: &dyn Fn(u8) -> u8| {
            let mut eight = [0; 8];
            for (cell, byte) in eight.iter_mut().zip(&row) {
                *cell = of(*byte);
            }
            u64::from_le_bytes(eight)
        };
        let (first, mask) = (eight(&|byte| byte), eight(&|_| u8::MAX));
        Self { before: row.len(), row, first, mask, meant: Meant::Nothing }
    }
    /// How this row begins.
    fn begins(&self, row: &[u8]) -> Begins {
        if row.first_chunk().is_some_and(|first| u64::from_le_bytes(*first) & self.mask != self.first) {
            Begins::Otherwise
        } else if self.row.len() > self.before && row.starts_with(&self.row) {
            Begins::Same
        } else if self.row.get(..self.before).is_some_and(|before| !before.is_empty() && row.starts_with(before)) {
            Begins::Named
        } else {
            Begins::Otherwise
        }
    }
    /// Takes up a value as it stands with the end of its row.
    fn keep(&mut self, value: &[u8], meant: Meant) {
        self.row.truncate(self.before);
        self.row.extend_from_slice(value);
        self.meant = meant;
    }
}

/// How a row begins, beside the last one of a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Begins {
    /// It is the same to its end.
    Same,
    /// It is of this name.
    Named,
    Otherwise,
}

/// The value of a plain row, and its bytes with the end of the row.
fn value_of(rest: &[u8]) -> Option<(&[u8], usize)> {
    let end = field_end(rest, LONGEST_VALUE)?;
    let (value, behind) = rest.split_at_checked(end)?;
    Some((value, end + row_end(behind)?))
}

impl Changes {
    /// Looks at the time of the next row, which is left where it lies; false if it must be read as any row.
    pub(super) fn peek<R: BufRead>(&mut self, rows: &mut Rows<R>, columns: &Columns<'_>) -> bool {
        let Top { marks, clock, .. } = columns.top();
        if self.fresh || self.end_us.is_some() || marks.separator != b',' || !clock.is_count() {
            return false;
        }
        let Some(at) = self.time_of_plain(rows.lies(), columns) else { return false };
        (self.ahead, self.peeked) = (Ahead::Row(at), true);
        true
    }
    /// The time of a row, if it is a plain one; it is then the one that is known.
    pub(super) fn time_of_plain(&mut self, row: &[u8], columns: &Columns<'_>) -> Option<u64> {
        let (count, digits) = count_of(row)?;
        let (time, behind) = row.split_at_checked(digits)?;
        let next = self.names.get(self.last).and_then(|last| self.names.get(last.next));
        let same = next.is_some_and(|name| name.plain.begins(behind) == Begins::Same);
        if !same && !is_plain(behind) {
            return None;
        }
        if self.time.0 != time {
            self.time.1 = columns.top().clock.counted(count)?;
            self.time.0.clear();
            self.time.0.extend_from_slice(time);
        }
        Some(self.time.1)
    }

    /// Takes plain rows of the time that was looked at; false if there was none.
    pub(super) fn plain<R: BufRead>(
        &mut self,
        rows: &mut Rows<R>,
        columns: &Columns<'_>,
        sample: &mut Sample,
        now: u64,
    ) -> bool {
        let lying = rows.lies();
        let (mut bytes, mut count) = (0, 0);
        while let Some(behind) = lying.get(bytes..).and_then(|row| row.strip_prefix(self.time.0.as_slice()))
            && let Some(taken) = self.plain_row(behind, columns, sample, Some(now))
        {
            bytes += self.time.0.len() + taken;
            count += 1;
        }
        rows.take_lying(count, bytes);
        count > 0
    }

    /// Takes a plain row, which begins with the comma behind its time; gives its bytes. `now` is the time of the scan that it is taken into, none
    /// where that is only looked at: a value that holds for some time only is left then, since from that scan on it would count.
    pub(super) fn plain_row(
        &mut self,
        row: &[u8],
        columns: &Columns<'_>,
        sample: &mut Sample,
        now: Option<u64>,
    ) -> Option<usize> {
        let Name { next, first, .. } = self.names.get(self.last)?;
        let begins = |name: usize| {
            let begins = self.names.get(name)?.plain.begins(row);
            (begins != Begins::Otherwise).then_some((name, begins))
        };
        let tried = begins(*next).or_else(|| (*first..first + TRIED).find_map(begins));
        let was_tried = tried.is_some();
        let (found, begins) = if let Some(tried) = tried {
            tried
        } else {
            let name = row.strip_prefix(b",")?.split(|byte| *byte == b',').next()?;
            let found = self.known.get(name).copied()?;
            (found, self.names.get(found)?.plain.begins(row))
        };
        let Name { index, slot, held_us, plain, .. } = self.names.get_mut(found)?;
        let met = self.met.get_mut(*index)?;
        if now.is_none() && held_us.is_some() {
            return None;
        }
        if met.scan == self.scan && !matches!(slot, Slot::Counter(..) | Slot::CounterOn(..) | Slot::Ignored) {
            return None;
        }
        match begins {
            Begins::Same => {}
            Begins::Named => {
                let rest = row.get(plain.before..)?;
                let (value, length) = value_of(rest).filter(|(value, _)| !value.is_empty())?;
                plain.keep(rest.get(..length)?, meant(slot, value, columns, &mut met.said).ok()?);
            }
            Begins::Otherwise => return None,
        }
        if !fill(slot, plain.meant, sample) {
            return None;
        }
        if *slot != Slot::Ignored {
            met.scan = self.scan;
            if let Some(now) = now.filter(|_| held_us.is_some() || !self.holds.is_empty()) {
                self.holds.read(*slot, *held_us, now);
            }
        }
        let taken = plain.row.len();
        self.follows(found, was_tried);
        Some(taken)
    }
}

/// The number that a row begins with, and its digits; none of more than fit into any number.
fn count_of(row: &[u8]) -> Option<(i64, usize)> {
    let (mut count, mut digits) = (0_i64, 0);
    for byte in row.iter().take(MOST_DIGITS + 1) {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            return (digits > 0).then_some((count, digits));
        }
        (count, digits) = (count.checked_mul(10)?.checked_add(digit.into())?, digits + 1);
    }
    None
}

/// Where a field ends, within so many bytes.
fn field_end(bytes: &[u8], most: usize) -> Option<usize> {
    // Eight at a time: a byte is 0 where it is one of those that end a field.
    let zeros = |word: u64| word.wrapping_sub(u64::from_le_bytes([1; 8])) & !word;
    let (chunks, _) = bytes.as_chunks::<8>();
    let mut before = 0;
    for chunk in chunks {
        let word = u64::from_le_bytes(*chunk);
        let is = |byte: u8| zeros(word ^ u64::from_le_bytes([byte; 8]));
        let found = (is(b',') | is(b'\n') | is(b'\r') | is(b'"')) & u64::from_le_bytes([0x80; 8]);
        if found != 0 {
            // The lowest is one; those above it may be said to be by what they borrow.
            return Some(before + (found.trailing_zeros() / 8) as usize).filter(|end| *end < most);
        }
        before += 8;
        if before >= most {
            return None;
        }
    }
    let rest = bytes.get(before..)?.iter().position(|byte| ends(*byte, b','))?;
    Some(before + rest).filter(|end| *end < most)
}

/// Behind its time a row has two more fields, and is plain.
fn is_plain(behind: &[u8]) -> bool {
    let rest = behind.strip_prefix(b",").unwrap_or_default();
    let name = field_end(rest, usize::MAX);
    let comma = name.and_then(|end| rest.get(end..)).filter(|rest| rest.first() == Some(&b','));
    comma.and_then(|comma| value_of(comma.get(1..)?)).is_some()
}
