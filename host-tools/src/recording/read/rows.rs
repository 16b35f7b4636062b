//! Rows and remarks of a CSV file, after RFC 4180 section 2 and strictly so.
//!
//! Two buffers are used over and over: memory does not grow with the file. The row before is kept, since most rows of a station say again what that
//! one said: one that is alike behind its time is not even split, and of one that has the same length only what differs is looked at.

use std::io::{self, BufRead, Read};

pub(super) use again::May;
use again::Moves;
use pieces::differ;
pub(super) use pieces::{after_time, ends, row_end, seen};

use super::fault::{Bad, ReadFault, quoted};
use super::marks::byte_order_mark;

mod again;
mod pieces;
mod split;
#[cfg(test)]
mod tests;

/// A row longer than this is no row of a recording but a file without line breaks.
const LONGEST: usize = 1 << 20;

/// What came next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Line {
    /// A row; see [`Rows::field`].
    Row,
    /// A row that differs from the one before at most in its first field, which is [`Rows::time`].
    Same,
    /// A row that differs from the one before in its first field and in [`Rows::changed`] alone.
    Alike,
    /// A line that begins with `#`; see [`Rows::remark`].
    Remark,
    /// The file is at its end.
    End,
}

/// Where a field lies in the buffer, and in which column it began.
#[derive(Debug, Clone, Copy)]
struct Field {
    start: usize,
    end: usize,
    column: u32,
}

/// What a buffer holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Holds {
    /// No row that a later one could be like.
    Nothing,
    /// A row as it stood.
    Plain,
    /// One from which quotation marks were taken.
    Quoted,
}

/// Splits a file into rows.
#[derive(Debug)]
pub(super) struct Rows<R> {
    source: R,
    /// What stands between two fields.
    separator: u8,
    buffer: Vec<u8>,
    fields: Vec<Field>,
    /// The row before is kept.
    keeps: bool,
    /// Rows that are alike behind their first field are told as that.
    tells_alike: bool,
    /// What the buffer holds.
    holds: Holds,
    last: Vec<u8>,
    last_fields: Vec<Field>,
    /// First field of a row that is otherwise that of the buffer.
    time: Vec<u8>,
    /// The field that each byte of the buffer belongs to, commas with what is before them; empty where nobody has asked yet.
    field_at: Vec<usize>,
    /// Fields in which a row differs from the one before that it is alike.
    changed: Vec<usize>,
    /// Where columns lie that may move.
    moves: Vec<Moves>,
    /// Line in which the current row begins.
    line: u64,
    /// Lines read.
    lines: u64,
    /// Bytes read.
    bytes: u64,
    /// The file ended in the current row, without a line break.
    ended: bool,
    /// Why it could not be looked further: to be told where it is read. Asked again, a source may give another answer.
    failed: Option<io::Error>,
}

impl<R: BufRead> Rows<R> {
    pub(super) fn new(source: R) -> Self {
        Self {
            source,
            separator: b',',
            buffer: Vec::new(),
            fields: Vec::new(),
            keeps: false,
            tells_alike: false,
            holds: Holds::Nothing,
            last: Vec::new(),
            last_fields: Vec::new(),
            time: Vec::new(),
            field_at: Vec::new(),
            changed: Vec::new(),
            moves: Vec::new(),
            line: 0,
            lines: 0,
            bytes: 0,
            ended: false,
            failed: None,
        }
    }

    /// This stands between the fields of the rows to come.
    pub(super) fn separated_by(&mut self, separator: u8) {
        self.separator = separator;
    }

    /// From the next row on each is kept until the next one is read, for what tells whether something changed.
    pub(super) fn keep_last(&mut self, tells_alike: bool) {
        (self.keeps, self.tells_alike, self.holds) = (true, tells_alike, Holds::Nothing);
    }

    /// The first field of a row that is the same otherwise.
    pub(super) fn time(&self) -> &[u8] {
        &self.time
    }

    /// The fields in which a row that is alike the one before differs from it, in order.
    pub(super) fn changed(&self) -> &[usize] {
        &self.changed
    }

    /// This field stood in the row before already, if that was kept.
    pub(super) fn unchanged(&self, index: usize) -> bool {
        match (self.fields.get(index), self.last_fields.get(index)) {
            (Some(now), Some(last)) => {
                self.buffer.get(now.start..now.end).unwrap_or_default()
                    == self.last.get(last.start..last.end).unwrap_or_default()
            }
            _ => false,
        }
    }

    pub(super) fn bytes(&self) -> u64 {
        self.bytes
    }

    pub(super) fn line(&self) -> u64 {
        self.line
    }

    /// The current row is the last of the file, and has no line break.
    pub(super) fn is_ended(&self) -> bool {
        self.ended
    }

    /// Number of fields of the current row.
    pub(super) fn len(&self) -> usize {
        self.fields.len()
    }

    /// A field of the current row, without its quotation marks.
    pub(super) fn field(&self, index: usize) -> Option<&[u8]> {
        let field = self.fields.get(index)?;
        self.buffer.get(field.start..field.end)
    }

    /// All fields of the current row, in order.
    pub(super) fn fields(&self) -> impl Iterator<Item = &[u8]> + Clone {
        self.fields.iter().map(|f| self.buffer.get(f.start..f.end).unwrap_or_default())
    }

    /// Column in which a field begins.
    pub(super) fn column(&self, index: usize) -> u32 {
        self.fields.get(index).map_or(1, |f| f.column)
    }

    /// The current remark, whole and without its line break.
    pub(super) fn remark(&self) -> &[u8] {
        &self.buffer
    }

    /// The fault with the place of a field of the current row.
    pub(super) fn blame(&self, index: usize, bad: Bad) -> ReadFault {
        bad.at(self.line, self.column(index))
    }

    /// Reads on.
    pub(super) fn advance(&mut self) -> Result<Line, ReadFault> {
        self.line = self.lines + 1;
        if let Some(line) = self.like_last() {
            return Ok(line);
        }
        if self.keeps && self.holds != Holds::Nothing {
            std::mem::swap(&mut self.buffer, &mut self.last);
            std::mem::swap(&mut self.fields, &mut self.last_fields);
        }
        self.holds = Holds::Nothing;
        self.buffer.clear();
        self.fields.clear();
        self.field_at.clear();
        self.time.clear();
        if self.plain() {
            self.holds = Holds::Plain;
            return Ok(Line::Row);
        }
        self.fields.clear();
        if !self.more()? {
            return Ok(Line::End);
        }
        if self.line == 1 {
            let mark = byte_order_mark(&self.buffer).map_err(|bad| bad.at(1, 1))?;
            self.buffer.drain(..mark);
        }
        self.ended = self.buffer.last() != Some(&b'\n');
        if self.buffer.first() == Some(&b'#') {
            self.trim_break();
            return Ok(Line::Remark);
        }
        if self.buffer.contains(&b'"') {
            self.split_quoted()?;
            self.holds = Holds::Quoted;
        } else {
            self.trim_break();
            self.split_plain()?;
            self.holds = Holds::Plain;
        }
        Ok(Line::Row)
    }

    /// Takes the next row if it is that of the buffer, but for its first field, or alike. It is only looked for where it lies in one piece:
    /// otherwise it is read as any row.
    fn like_last(&mut self) -> Option<Line> {
        if !self.tells_alike || self.holds != Holds::Plain {
            return None;
        }
        let first = self.fields.first().map_or(0, |first| first.end);
        let (before, rest) = self.buffer.split_at_mut_checked(first)?;
        let chunk = seen(&mut self.source, &mut self.failed)?;
        let (time, behind) = after_time(chunk, self.separator)?;
        let (row, behind) = behind.split_at_checked(rest.len())?;
        let ends = row_end(behind)?;
        let line = if row == rest {
            Line::Same
        } else {
            // With a time of the same length each field stays in its column.
            if time.len() != before.len() {
                return None;
            }
            if self.field_at.is_empty() {
                let bytes = |(number, field): (usize, &Field)| std::iter::repeat_n(number, field.end + 1 - field.start);
                self.field_at.extend(self.fields.iter().enumerate().flat_map(bytes));
            }
            let field_at = self.field_at.get(first..).unwrap_or_default();
            if !differ(rest, row, field_at, self.separator, &mut self.changed) {
                return None;
            }
            before.copy_from_slice(time);
            rest.copy_from_slice(row);
            Line::Alike
        };
        self.time.clear();
        self.time.extend_from_slice(time);
        let all = time.len() + rest.len() + ends;
        self.source.consume(all);
        self.lines += 1;
        self.bytes += all as u64;
        Some(line)
    }

    /// What lies in one piece behind the current row.
    pub(super) fn lies(&mut self) -> &[u8] {
        let chunk = seen(&mut self.source, &mut self.failed).unwrap_or_default();
        chunk.get(..LONGEST).unwrap_or(chunk)
    }
    /// So many rows of it, of so many bytes, were taken where they lie.
    pub(super) fn take_lying(&mut self, rows: u64, bytes: usize) {
        self.source.consume(bytes);
        self.lines += rows;
        self.bytes += bytes as u64;
    }

    /// Takes and splits a row in one go, where it lies in one piece and nothing is quoted; others are left.
    fn plain(&mut self) -> bool {
        let Some(chunk) = seen(&mut self.source, &mut self.failed) else { return false };
        let chunk = chunk.get(..LONGEST).unwrap_or(chunk);
        // The first line may begin with what is no part of it.
        if chunk.first() == Some(&b'#') || self.line == 1 {
            return false;
        }
        let mut start = 0;
        for (at, &byte) in chunk.iter().enumerate() {
            if !ends(byte, self.separator) {
                continue;
            }
            let column = u32::try_from(start + 1).unwrap_or(u32::MAX);
            let all = match (byte, chunk.get(at + 1)) {
                (separator, _) if separator == self.separator => at,
                (b'\n', _) => at + 1,
                (b'\r', Some(b'\n')) => at + 2,
                _ => return false,
            };
            self.fields.push(Field { start, end: at, column });
            if byte != self.separator {
                self.buffer.extend_from_slice(chunk.get(..at).unwrap_or_default());
                self.source.consume(all);
                self.lines += 1;
                self.bytes += all as u64;
                return true;
            }
            start = at + 1;
        }
        false
    }

    /// Appends one line, with its break, to the buffer; false at the end of the file.
    fn more(&mut self) -> Result<bool, ReadFault> {
        let room = LONGEST.saturating_sub(self.buffer.len());
        let limit = u64::try_from(room).unwrap_or(u64::MAX);
        let read = match self.failed.take() {
            Some(failed) => Err(failed),
            None => self.source.by_ref().take(limit).read_until(b'\n', &mut self.buffer),
        };
        let line = self.lines + 1;
        match read {
            Ok(0) if room > 0 => Ok(false),
            Ok(n) if n < room || self.buffer.last() == Some(&b'\n') => {
                self.lines += 1;
                self.bytes += n as u64;
                Ok(true)
            }
            Ok(_) => Err(Bad::new(
                "this row is longer than a mebibyte",
                "a row with one short field for each signal",
                "end each row with a line break; look for a quotation mark that is never closed",
            )
            .at(line, 1)),
            Err(error) => {
                Err(Bad::new(format!("the file cannot be read on: {error}"), "the next row", "copy the recording anew")
                    .at(line, 1))
            }
        }
    }

    fn trim_break(&mut self) {
        if self.buffer.last() == Some(&b'\n') {
            self.buffer.pop();
            if self.buffer.last() == Some(&b'\r') {
                self.buffer.pop();
            }
        }
    }

    /// The row as text, for what is said about it.
    pub(super) fn shown(&self, index: usize) -> String {
        quoted(self.field(index).unwrap_or_default())
    }
}
