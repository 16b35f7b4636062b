//! Clauses that may be left out, left out.

use super::make::{Edit, Kind, Making, Statement};
use crate::text::lex::TokenKind;
use crate::text::place::Place;

/// Keyword, and the words with which a clause begins that may be left out.
const CLAUSES: [(&str, &str); 10] = [
    ("travel", "and at most"),
    ("spacing", "and at most"),
    ("contact", "at most"),
    ("detector", "covered for"),
    ("detector", "rises at"),
    ("gauge", "moves at"),
    ("gauge", "rests within"),
    ("pace", "still below"),
    ("output", "read back"),
    ("reset", "for"),
];

/// The tokens of a clause that begins so, if the statement has it: to the next comma or line.
fn clause(statement: &Statement, begins: &str) -> Option<(usize, usize)> {
    let words: Vec<&str> = begins.split(' ').collect();
    let first = (2..statement.tokens.len())
        .find(|at| words.iter().enumerate().all(|(i, word)| statement.word(at + i) == Some(*word)))?;
    let ends =
        |at: &usize| statement.tokens.get(*at).is_none_or(|token| token.kind == TokenKind::Comma || token.starts_line);
    let next = (first + 1..=statement.tokens.len()).find(ends)?;
    Some((first, next - 1))
}

/// The clause with a comma that belongs to it: the one before, or where it begins a line the one behind.
fn with_comma(statement: &Statement, (first, last): (usize, usize)) -> Option<Place> {
    let is_comma = |at: Option<usize>| {
        at.and_then(|at| statement.tokens.get(at)).is_some_and(|token| token.kind == TokenKind::Comma)
    };
    if is_comma(first.checked_sub(1)) {
        statement.span(first - 1, last)
    } else if is_comma(Some(last + 1)) {
        statement.span(first, last + 1)
    } else {
        statement.span(first, last)
    }
}

pub(super) fn left_out(making: &mut Making<'_>) {
    let mut all = Vec::new();
    for statement in &making.statements {
        for (_, begins) in CLAUSES.iter().filter(|(keyword, _)| *keyword == statement.keyword()) {
            let Some(found) = clause(statement, begins) else { continue };
            let mut places = vec![with_comma(statement, found)];
            if statement.keyword() == "spacing" {
                // Without an upper limit there is no answer to it.
                places.push(clause(statement, "farther").and_then(|found| with_comma(statement, found)));
            }
            let what = statement.span(found.0, found.1).map_or_else(String::new, |place| making.text(place));
            let edits = places.into_iter().flatten().map(|place| Edit { place, text: String::new() }).collect();
            all.push((statement.name(), format!("left out: {what}"), edits));
        }
    }
    for (name, what, edits) in all {
        making.add(Kind::LeftOut, name, what, edits);
    }
}
