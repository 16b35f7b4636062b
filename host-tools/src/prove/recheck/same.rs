//! Whether questions are those that were asked before.
//!
//! A question is a formula over gates. It is written down as a list of gates, each numbered when it is first needed, so that
//! two lists are the same only if one question becomes the other by renaming variables; then it has the same answer.

use super::Question;
use super::clauses::{Clauses, Closed, Gate, Truth, is_closed};
use crate::digest::{hex, sha256};

/// Not numbered yet.
const NEW: u32 = u32::MAX;

struct List<'c> {
    clauses: &'c Clauses,
    closed: Closed<'c>,
    numbers: Vec<u32>,
    next: u32,
    text: Vec<u8>,
}

impl List<'_> {
    /// What a truth is called: its gate's number with its sign, after the two constants.
    fn name(&self, truth: Truth) -> Option<u32> {
        match truth {
            Truth::Known(value) => Some(u32::from(value)),
            Truth::Open(lit) => {
                let number = *self.numbers.get(lit.var().index())?;
                (number != NEW)
                    .then(|| number.wrapping_mul(2).wrapping_add(2).wrapping_add(u32::from(lit.is_negative())))
            }
        }
    }
    fn say(&mut self, kind: u8, parts: &[Truth]) {
        self.text.push(kind);
        for &part in parts {
            self.text.extend(self.name(part).unwrap_or(NEW).to_le_bytes());
        }
    }
    /// Writes down everything that a truth rests on.
    fn reach(&mut self, truth: Truth) {
        let mut stack = vec![truth];
        while let Some(&truth) = stack.last() {
            let Truth::Open(lit) = truth else {
                stack.pop();
                continue;
            };
            let gate = self.clauses.gates.get(lit.var().index()).copied().unwrap_or(Gate::Free);
            let (kind, parts): (u8, &[Truth]) = match &gate {
                Gate::Free => (0, &[]),
                Gate::Same(_, cut) if !is_closed(self.closed, *cut) => (0, &[]),
                Gate::Same(a, _) => (7, &[*a]),
                Gate::And(a, b) => (1, &[*a, *b]),
                Gate::Xor(a, b) => (2, &[*a, *b]),
                Gate::Mux(c, t, e) => (3, &[*c, *t, *e]),
            };
            let missing = parts.iter().filter(|part| self.name(**part).is_none());
            let before = stack.len();
            if self.name(truth).is_none() {
                stack.extend(missing);
            }
            if stack.len() == before {
                stack.pop();
                if self.name(truth).is_none() {
                    self.say(kind, parts);
                    if let Some(number) = self.numbers.get_mut(lit.var().index()) {
                        *number = self.next;
                        self.next = self.next.saturating_add(1);
                    }
                }
            }
        }
    }
    fn all(&mut self, kind: u8, truths: &[Truth]) {
        for &truth in truths {
            self.reach(truth);
        }
        self.text.push(kind);
        self.text.extend(u32::try_from(truths.len()).unwrap_or(NEW).to_le_bytes());
        self.say(kind, truths);
    }
}

/// SHA-256 of questions, each list with the gates that it speaks of.
pub(super) fn digest(all: &[(&Clauses, &[Question])], closed: Closed<'_>) -> String {
    let mut text = Vec::new();
    for (clauses, questions) in all {
        let mut list = List { clauses, closed, numbers: vec![NEW; clauses.gates.len()], next: 0, text };
        for question in *questions {
            list.all(4, &question.held);
            list.all(5, &question.asked);
        }
        text = list.text;
        text.push(6);
    }
    hex(&sha256(&[&text]))
}
