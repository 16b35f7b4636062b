//! The slots that the clauses of a statement fill.

use super::cursor::Cursor;
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;

/// A clause that may stand once.
pub(super) struct Slot<T> {
    example: &'static str,
    value: Option<T>,
    tried: Option<Place>,
}

impl<T> Slot<T> {
    /// An empty slot; the example is what a missing one is told by.
    pub(super) fn new(example: &'static str) -> Self {
        Self { example, value: None, tried: None }
    }
    /// Reads the clause, whose first words have been taken, into the slot.
    pub(super) fn fill(&mut self, c: &mut Cursor<'_>, start: Place, read: impl FnOnce(&mut Cursor<'_>) -> Option<T>) {
        c.lost = false;
        let found = c.findings.len();
        let value = read(c);
        let place = c.since(start);
        if value.is_none() {
            c.skip();
        }
        if let Some(first) = self.tried {
            if self.value.is_none() {
                // The first could not be read, and what follows it may look like a second.
                c.findings.truncate(found);
                return;
            }
            c.findings.push(
                Finding::new(Code::ClauseTwice, format!("'{}' stands twice", self.example))
                    .at(place, "a second time here")
                    .at(first, "it stands here already")
                    .help("keep the one that is meant"),
            );
            return;
        }
        self.tried = Some(place);
        self.value = value;
    }
    /// The clause, or a finding that it is missing.
    pub(super) fn needed(self, c: &mut Cursor<'_>, statement: &str) -> Option<T> {
        // It may well stand in what was given up, behind a mistake that is told already.
        let given_up = self.example.split(' ').any(|word| c.skipped.contains(&word));
        if self.tried.is_none() && !given_up {
            let place = c.head();
            let example = self.example;
            c.findings.push(
                Finding::new(Code::ClauseMissing, format!("this {statement} lacks '{example}'"))
                    .at(place, "in this statement")
                    .help(format!("write, for example, '{example}'")),
            );
        }
        self.value
    }
    /// The clause, if it stands.
    pub(super) fn optional(self) -> Option<T> {
        self.value
    }
}
