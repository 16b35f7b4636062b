//! Words of a value change dump, with their places. One buffer is used over and over: memory does not grow with the file.

use std::io::{self, BufRead};

use super::fault::{Bad, ReadFault, quoted};
use super::rows::seen;

/// A word longer than this is none of a dump.
const LONGEST: usize = 1 << 12;

/// Splits a file into words.
#[derive(Debug)]
pub(super) struct Tokens<R> {
    source: R,
    word: Vec<u8>,
    /// Where the word began.
    at: (u64, u32),
    /// Where the next byte stands.
    line: u64,
    column: u32,
    bytes: u64,
    /// Why it could not be looked further: to be told where it is read.
    failed: Option<io::Error>,
}

impl<R: BufRead> Tokens<R> {
    pub(super) fn new(source: R) -> Self {
        Self { source, word: Vec::new(), at: (1, 1), line: 1, column: 1, bytes: 0, failed: None }
    }
    pub(super) fn bytes(&self) -> u64 {
        self.bytes
    }
    /// The word that was read last.
    pub(super) fn word(&self) -> &[u8] {
        &self.word
    }
    /// The fault with the place of the word that was read last.
    pub(super) fn blame(&self, bad: Bad) -> ReadFault {
        bad.at(self.at.0, self.at.1)
    }
    /// What lies in one piece, where a line begins; nothing elsewhere.
    pub(super) fn lines(&mut self) -> &[u8] {
        if self.column > 1 { &[] } else { seen(&mut self.source, &mut self.failed).unwrap_or_default() }
    }
    /// So many lines of these bytes are taken, of which the last one has its last word in this column.
    pub(super) fn take_lines(&mut self, lines: u64, bytes: usize, column: u32) {
        if lines > 0 {
            self.at = (self.line + lines - 1, column);
            self.line += lines;
            self.source.consume(bytes);
            self.bytes += bytes as u64;
        }
    }
    /// Reads the next word; false at the end of the file.
    pub(super) fn advance(&mut self) -> Result<bool, ReadFault> {
        self.word.clear();
        loop {
            let buffer = match self.failed.take().map_or_else(|| self.source.fill_buf(), Err) {
                Ok(buffer) => buffer,
                Err(error) => {
                    let bad = Bad::new(
                        format!("the file cannot be read on: {error}"),
                        "the next word",
                        "copy the recording anew",
                    );
                    return Err(bad.at(self.line, self.column));
                }
            };
            if buffer.is_empty() {
                return Ok(!self.word.is_empty());
            }
            let (mut used, mut ended) = (0, false);
            for &byte in buffer {
                used += 1;
                if byte.is_ascii_whitespace() {
                    ended = !self.word.is_empty();
                } else {
                    if self.word.is_empty() {
                        self.at = (self.line, self.column);
                    }
                    self.word.push(byte);
                }
                if byte == b'\n' {
                    (self.line, self.column) = (self.line + 1, 1);
                } else {
                    self.column = self.column.saturating_add(1);
                }
                if ended || self.word.len() > LONGEST {
                    break;
                }
            }
            self.source.consume(used);
            self.bytes += used as u64;
            if self.word.len() > LONGEST {
                let bad = Bad::new(
                    format!("{} goes on for more than {LONGEST} bytes without a blank", quoted(&self.word)),
                    "the short words of a value change dump",
                    "is this a dump at all?",
                );
                return Err(self.blame(bad));
            }
            if ended {
                return Ok(true);
            }
        }
    }
    /// The next word; the end of the file is a fault.
    pub(super) fn expect(&mut self, what: &str) -> Result<&[u8], ReadFault> {
        if self.advance()? {
            return Ok(&self.word);
        }
        let bad = Bad::new("the dump ends in the middle", what.to_owned(), "it was cut off: record or copy it anew");
        Err(bad.at(self.line, self.column))
    }
    /// Words up to `$end`, with single blanks between; what is too long to be meant for us is cut.
    pub(super) fn until_end(&mut self) -> Result<Vec<u8>, ReadFault> {
        let mut all: Vec<u8> = Vec::new();
        while self.expect("`$end`")? != b"$end" {
            if all.len() < LONGEST {
                if !all.is_empty() {
                    all.push(b' ');
                }
                all.extend_from_slice(&self.word);
            }
        }
        Ok(all)
    }
}
