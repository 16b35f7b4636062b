//! Fields of a row that stands in the buffer, with quotation marks or without.

use std::io::BufRead;

use super::super::fault::{Bad, ReadFault};
use super::{Field, Rows};

impl<R: BufRead> Rows<R> {
    /// Splits a row in which nothing is quoted.
    pub(super) fn split_plain(&mut self) -> Result<(), ReadFault> {
        let mut start = 0;
        let mut put = |start: usize, end: usize| {
            let column = u32::try_from(start + 1).unwrap_or(u32::MAX);
            self.fields.push(Field { start, end, column });
        };
        for (at, &byte) in self.buffer.iter().enumerate() {
            if byte == self.separator {
                put(start, at);
                start = at + 1;
            } else if byte == b'\r' {
                let column = u32::try_from(at + 1).unwrap_or(u32::MAX);
                return Err(lone_return().at(self.line, column));
            }
        }
        put(start, self.buffer.len());
        Ok(())
    }

    /// Splits a row with quotation marks, reading on while one is open. Doubled marks are undone in
    /// place: what is kept moves to the left.
    pub(super) fn split_quoted(&mut self) -> Result<(), ReadFault> {
        let mut at = 0;
        let mut kept = 0;
        // Start of the line that `at` is in, for columns.
        let mut line_start = 0;
        loop {
            let start = kept;
            let column = u32::try_from(at - line_start + 1).unwrap_or(u32::MAX);
            let opened = (self.lines, column);
            let is_quoted = self.buffer.get(at) == Some(&b'"');
            if is_quoted {
                at += 1;
                loop {
                    match self.buffer.get(at).copied() {
                        None => {
                            line_start = at;
                            if !self.more()? {
                                return Err(unclosed().at(opened.0, opened.1));
                            }
                        }
                        Some(b'"') if self.buffer.get(at + 1) == Some(&b'"') => {
                            self.keep(&mut kept, b'"');
                            at += 2;
                        }
                        Some(b'"') => {
                            at += 1;
                            break;
                        }
                        Some(byte) => {
                            self.keep(&mut kept, byte);
                            at += 1;
                        }
                    }
                }
            } else {
                while let Some(byte) = self.buffer.get(at).copied() {
                    if byte == self.separator || matches!(byte, b'\r' | b'\n') {
                        break;
                    }
                    if byte == b'"' {
                        let column = u32::try_from(at - line_start + 1).unwrap_or(u32::MAX);
                        return Err(stray_mark().at(self.lines, column));
                    }
                    self.keep(&mut kept, byte);
                    at += 1;
                }
            }
            self.fields.push(Field { start, end: kept, column });
            let rest = self.buffer.get(at..).unwrap_or_default();
            match rest {
                [] | [b'\n'] | [b'\r', b'\n'] => return Ok(()),
                [byte, ..] if *byte == self.separator => at += 1,
                [byte, ..] => {
                    let column = u32::try_from(at - line_start + 1).unwrap_or(u32::MAX);
                    let bad = if *byte == b'\r' { lone_return() } else { stray_mark() };
                    return Err(bad.at(self.lines, column));
                }
            }
        }
    }

    fn keep(&mut self, kept: &mut usize, byte: u8) {
        if let Some(cell) = self.buffer.get_mut(*kept) {
            *cell = byte;
        }
        *kept += 1;
    }
}

fn lone_return() -> Bad {
    Bad::new(
        "a carriage return stands alone",
        "CR LF or LF at the end of the row, and neither within a field that is not quoted",
        "put the field in quotation marks or mend the line break",
    )
}

fn stray_mark() -> Bad {
    Bad::new(
        "a quotation mark that neither opens nor closes a field",
        "a field that is quoted whole, with marks in it doubled",
        "write the field as \"...\" and double the marks within",
    )
}

fn unclosed() -> Bad {
    Bad::new(
        "this quotation mark is never closed",
        "a closing quotation mark before the end of the file",
        "close the field; the recording may have been cut off",
    )
}
