//! Many rows at once that say what the row before said, but for its time and for what may move in them.

use std::io::BufRead;

use super::pieces::{row_end, seen};
use super::{Holds, Rows};

/// What rows may be that are passed over.
pub(in crate::recording::read) trait May {
    /// Bytes of the time that the next row begins with, if it is the one that is expected.
    fn time(&mut self, row: &[u8]) -> Option<usize>;
    /// A column of those that may move may say this; nothing may in which a field or a row ends.
    fn says(&mut self, column: usize, field: &[u8]) -> bool;
    /// Just so many rows may be passed over.
    fn allows(&self, rows: u32) -> bool;
}

/// A column that may move, and where its field lies behind the first.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moves {
    column: usize,
    start: usize,
    end: usize,
}

/// Rows that were looked at and may be passed over: how many, their bytes, and the last of them behind its time.
struct Passed<'c> {
    rows: u32,
    bytes: usize,
    last: &'c [u8],
}

impl<R: BufRead> Rows<R> {
    /// The next row may be that of the buffer, but for its time and for these columns: else there is nothing to pass over.
    pub(in crate::recording::read) fn may_repeat(&mut self, columns: &[usize]) -> bool {
        if !self.tells_alike || self.holds != Holds::Plain {
            return false;
        }
        let first = self.moves(columns);
        // Where many were alike, the time of the last is no longer that of the buffer. One that has become longer, which is rare, is read by itself.
        let time = if self.time.is_empty() { first } else { self.time.len() };
        let Some(rest) = self.buffer.get(first..) else { return false };
        let chunk = seen(&mut self.source, &mut self.failed).unwrap_or_default();
        let row = chunk.get(time..).and_then(|behind| behind.get(..rest.len()));
        row.is_some_and(|row| moved(row, rest, &self.moves, &mut |_, _| true))
    }
    /// Passes over rows that are that of the buffer, but for their first field and for columns that may move, as far as they lie in one piece; at
    /// most so many. The buffer is then the last of them, and differs in [`Rows::changed`] from what it was. Gives
    /// how many, and how many were looked at and are so.
    pub(in crate::recording::read) fn again(&mut self, columns: &[usize], most: u32, may: &mut impl May) -> (u32, u32) {
        self.changed.clear();
        if !self.tells_alike || self.holds != Holds::Plain {
            return (0, 0);
        }
        let first = self.moves(columns);
        let Some(rest) = self.buffer.get_mut(first..) else { return (0, 0) };
        let Some(chunk) = seen(&mut self.source, &mut self.failed) else { return (0, 0) };
        let (mut at, mut count, mut passed) = (0, 0_u32, Passed { rows: 0, bytes: 0, last: &[] });
        while count < most
            && let Some(left) = chunk.get(at..)
            && let Some(behind) = may.time(left).and_then(|time| left.get(time..))
            && let Some((row, behind)) = behind.split_at_checked(rest.len())
            && let Some(end) = row_end(behind)
            && (row == rest || moved(row, rest, &self.moves, &mut |column, field| may.says(column, field)))
        {
            at = chunk.len() - behind.len() + end;
            count += 1;
            if may.allows(count) {
                passed = Passed { rows: count, bytes: at, last: row };
            }
        }
        if passed.rows > 0 {
            let differs = |at: &&Moves| passed.last.get(at.start..at.end) != rest.get(at.start..at.end);
            self.changed.extend(self.moves.iter().filter(differs).map(|at| at.column));
            rest.copy_from_slice(passed.last);
        }
        let Passed { rows, bytes, .. } = passed;
        self.source.consume(bytes);
        self.lines += u64::from(rows);
        self.line = self.lines;
        self.bytes += bytes as u64;
        (rows, count)
    }
    /// Finds where columns that may move lie behind the first field; gives where that ends.
    fn moves(&mut self, columns: &[usize]) -> usize {
        let first = self.fields.first().map_or(0, |first| first.end);
        self.moves.clear();
        for &column in columns {
            if let Some(field) = self.fields.get(column)
                && let (Some(start), Some(end)) = (field.start.checked_sub(first), field.end.checked_sub(first))
            {
                self.moves.push(Moves { column, start, end });
            }
        }
        first
    }
}

/// A row is another, but for columns that may move.
fn moved(row: &[u8], rest: &[u8], moves: &[Moves], says: &mut impl FnMut(usize, &[u8]) -> bool) -> bool {
    let mut from = 0;
    for Moves { column, start, end } in moves {
        // Mostly it is the next one, and there is but a comma between them.
        let same = if start - from == 1 {
            row.get(from) == rest.get(from)
        } else {
            row.get(from..*start) == rest.get(from..*start)
        };
        if !same || !row.get(*start..*end).is_some_and(|field| says(*column, field)) {
            return false;
        }
        from = *end;
    }
    row.get(from..) == rest.get(from..)
}
