//! What is wrong with a recording, and where.

use std::fmt;

/// A recording that cannot be read on: where, what stands there, what was expected, how to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadFault {
    /// Line of the file, from 1.
    pub line: u64,
    /// Column of the line in bytes, from 1.
    pub column: u32,
    /// What is wrong.
    pub what: String,
    /// What should stand there.
    pub expected: String,
    /// How to mend it.
    pub mend: String,
}

impl fmt::Display for ReadFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { line, column, what, expected, mend } = self;
        write!(f, "line {line}, column {column}: {what}\n  expected: {expected}\n  mend:     {mend}")
    }
}

impl std::error::Error for ReadFault {}

/// The same without its place: what a cell or a line says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Bad {
    pub(super) what: String,
    pub(super) expected: String,
    pub(super) mend: String,
}

impl Bad {
    pub(super) fn new(what: impl Into<String>, expected: impl Into<String>, mend: impl Into<String>) -> Self {
        Self { what: what.into(), expected: expected.into(), mend: mend.into() }
    }

    pub(super) fn at(self, line: u64, column: u32) -> ReadFault {
        let Self { what, expected, mend } = self;
        ReadFault { line, column, what, expected, mend }
    }
}

/// Bytes of the file as a quotation, cut where they are long.
pub(super) fn quoted(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    let cut: String = text.chars().take(40).collect();
    let more = if cut.len() < text.len() { "…" } else { "" };
    format!("`{}{more}`", cut.escape_debug())
}
