//! From text to syntax tree, with every finding of every file in one run.

use super::codes::Code;
use super::finding::Finding;
use super::lex::{Lexed, TokenKind, lex};
use super::place::Place;
use super::tree::{File, Kind, Statement};

mod agreement;
mod condition;
mod cursor;
mod inputs;
mod lane;
mod rules;
mod slot;
mod station;
mod watches;

use cursor::Cursor;

/// The largest file that is read, bytes.
const LARGEST: usize = 4 << 20;

/// A file to be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Its path, for messages.
    pub path: String,
    /// What it holds.
    pub bytes: Vec<u8>,
}

/// A statement's keyword and its reader.
type Reader = fn(&mut Cursor<'_>) -> Option<Kind>;
const STATEMENTS: [(&str, Reader); 31] = [
    ("station", station::title),
    ("revision", station::revision),
    ("scan", station::scan),
    ("on", station::on_fault),
    ("mode", station::mode),
    ("output", station::output),
    ("slow", station::slow),
    ("stop", station::stop),
    ("contact", inputs::contact),
    ("pair", inputs::pair),
    ("detector", inputs::detector),
    ("gauge", inputs::gauge),
    ("pace", inputs::pace),
    ("link", inputs::link),
    ("key", inputs::key),
    ("guard", watches::guard),
    ("travel", watches::travel),
    ("measure", watches::measure),
    ("spacing", watches::spacing),
    ("agree", agreement::agree),
    ("confirm", agreement::confirm),
    ("exercise", agreement::exercise),
    ("count", agreement::count),
    ("reset", rules::reset),
    ("restart", rules::restart),
    ("refill", rules::refill),
    ("bypass", rules::bypass),
    ("hazard", rules::hazard),
    ("require", rules::require),
    ("assume", rules::assume),
    ("lane", lane::lane),
];

/// Reads files together. A statement with a mistake in it is left out of the tree.
pub fn parse(sources: Vec<Source>) -> (Vec<File>, Vec<Finding>) {
    let mut files = Vec::new();
    let mut findings = Vec::new();
    for (index, source) in sources.into_iter().enumerate() {
        let file = u16::try_from(index).unwrap_or(u16::MAX);
        let size = source.bytes.len();
        let text = String::from_utf8(source.bytes);
        let (text, reason) = match text {
            Ok(text) if size <= LARGEST => (text, None),
            Ok(_) => (String::new(), Some("it is larger than 4 MiB")),
            Err(_) => (String::new(), Some("it is not UTF-8 text")),
        };
        let mut tree = File {
            path: source.path,
            source: text,
            statements: Vec::new(),
            trailing: Vec::new(),
        };
        if let Some(reason) = reason {
            let place = Place {
                file,
                ..Place::default()
            };
            findings.push(
                Finding::new(
                    Code::FileUnreadable,
                    format!("this file cannot be read: {reason}"),
                )
                .at(place, "nothing of it was read")
                .help("save it as UTF-8 text"),
            );
        } else {
            let (statements, trailing, found) = lex(&tree.source, file);
            findings.extend(found);
            tree.trailing = trailing;
            for lexed in statements {
                tree.statements.extend(statement(lexed, &mut findings));
            }
        }
        files.push(tree);
    }
    findings.sort_by_key(|f| f.labels.first().map(|(place, _)| (place.file, place.start)));
    (files, findings)
}

fn statement(lexed: Lexed, findings: &mut Vec<Finding>) -> Option<Statement> {
    let mut cursor = Cursor::new(&lexed.tokens);
    let first = lexed.tokens.first()?;
    let reader = match &first.kind {
        TokenKind::Word(word) => STATEMENTS
            .iter()
            .find(|(keyword, _)| keyword == word)
            .map(|(_, reader)| reader)
            .ok_or(word.as_str()),
        TokenKind::Capital(word) => Err(word.as_str()),
        TokenKind::Number(..)
        | TokenKind::Title(_)
        | TokenKind::Comma
        | TokenKind::Open
        | TokenKind::Close => Err(""),
    };
    let kind = match reader {
        Ok(reader) => {
            let kind = reader(&mut cursor);
            // What is left over once the statement is read belongs to no clause.
            if kind.is_some() && cursor.findings.is_empty() {
                cursor.end();
            }
            kind
        }
        Err(word) => {
            let near = near(word, STATEMENTS.iter().map(|(keyword, _)| *keyword));
            let finding = Finding::new(
                Code::StatementUnknown,
                format!("'{word}' begins no statement"),
            )
            .at(first.place, "not a statement");
            cursor.findings.push(match near {
                Some(near) => finding.help(format!(
                    "did you mean '{near}'? A line that belongs to the statement above is indented"
                )),
                None => finding.help("a line that belongs to the statement above is indented"),
            });
            None
        }
    };
    if lexed.broken {
        // What its words lack, they lack because of the mistake that is told already.
        cursor.findings.clear();
    }
    let (broken, place) = (lexed.broken || !cursor.findings.is_empty(), cursor.whole());
    findings.append(&mut cursor.findings);
    if broken {
        return None;
    }
    Some(Statement {
        place,
        note: lexed.note,
        before: lexed.before,
        inside: lexed.inside,
        kind: kind?,
    })
}

/// The nearest of some words, if one is near.
pub fn near<'w>(word: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let within = (word.chars().count() / 3).max(1);
    words
        .map(|known| (edits(word, known), known))
        .filter(|(edits, _)| *edits <= within)
        .min_by_key(|(edits, _)| *edits)
        .map(|(_, known)| known)
}

/// Letters to be changed, put in or taken out to make one word the other.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        let mut next = vec![left];
        for (j, y) in b.iter().enumerate() {
            let above = row.get(j + 1).copied().unwrap_or(usize::MAX - 1);
            left = (diagonal + usize::from(x != *y))
                .min(left + 1)
                .min(above + 1);
            diagonal = above;
            next.push(left);
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}
