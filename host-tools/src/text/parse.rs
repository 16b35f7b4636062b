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

/// The most findings that are told of one file.
const MOST: usize = 1000;

/// The longest word that is repeated in a message or likened to others, bytes.
const WORD: usize = 64;

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
const STATEMENTS: [(&str, Reader); 32] = [
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
    ("entry", rules::entry),
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
        let (text, reason) = match String::from_utf8(source.bytes) {
            _ if size > LARGEST => (String::new(), Some("it is larger than 4 MiB".to_owned())),
            Ok(text) => (text, None),
            Err(error) => {
                let good = error.utf8_error().valid_up_to();
                let line = error.as_bytes().iter().take(good).filter(|byte| **byte == b'\n').count() + 1;
                (String::new(), Some(format!("line {line} is not UTF-8 text")))
            }
        };
        let mut tree = File { path: source.path, source: text, statements: Vec::new(), trailing: Vec::new() };
        if let Some(reason) = reason {
            let place = Place { file, ..Place::default() };
            findings.push(
                Finding::new(Code::FileUnreadable, format!("this file cannot be read: {reason}"))
                    .at(place, "nothing of it was read")
                    .help("save it as UTF-8 text of at most 4 MiB"),
            );
        } else {
            let (statements, trailing, mut found) = lex(&tree.source, file);
            tree.trailing = trailing;
            for lexed in statements {
                if found.len() > MOST {
                    break;
                }
                tree.statements.extend(statement(lexed, &mut found));
            }
            few(&mut found);
            findings.append(&mut found);
        }
        files.push(tree);
    }
    findings.sort_by_key(|finding| first_place(finding).map(|place| (place.file, place.start)));
    (files, findings)
}

/// Keeps the first findings of a file. Those are errors, so that nothing is taken for read that was not.
fn few(found: &mut Vec<Finding>) {
    if found.len() <= MOST {
        return;
    }
    found.sort_by_key(|finding| first_place(finding).map(|place| place.start));
    let rest = found.drain(MOST..).next().and_then(|finding| first_place(&finding));
    let many = Finding::new(Code::FindingsMany, format!("there are more than {MOST} mistakes in this file"));
    found.push(
        many.at(rest.unwrap_or_default(), "from here on they are not told")
            .help("mend some of those that are told, and read it again"),
    );
}

fn first_place(finding: &Finding) -> Option<Place> {
    finding.labels.first().map(|(place, _)| *place)
}

fn statement(lexed: Lexed, findings: &mut Vec<Finding>) -> Option<Statement> {
    let mut cursor = Cursor::new(&lexed.tokens);
    let first = lexed.tokens.first()?;
    let reader = match &first.kind {
        TokenKind::Word(word) => {
            STATEMENTS.iter().find(|(keyword, _)| keyword == word).map(|(_, reader)| reader).ok_or(word.as_str())
        }
        TokenKind::Capital(word) => Err(word.as_str()),
        TokenKind::Number(..) | TokenKind::Title(_) | TokenKind::Comma | TokenKind::Open | TokenKind::Close => Err(""),
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
            let message = if word.is_empty() || word.len() > WORD {
                "this begins no statement".to_owned()
            } else {
                format!("'{word}' begins no statement")
            };
            let finding = Finding::new(Code::StatementUnknown, message).at(first.place, "not a statement");
            cursor.findings.push(match near {
                Some(near) => finding
                    .help(format!("did you mean '{near}'? A line that belongs to the statement above is indented")),
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
    Some(Statement { place, note: lexed.note, before: lexed.before, inside: lexed.inside, kind: kind? })
}

/// The nearest of some words, if one is near.
pub fn near<'w>(word: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    if word.len() > WORD {
        return None;
    }
    let within = (word.chars().count() / 3).max(1);
    words
        .map(|known| (edits(word, known), known))
        .filter(|(edits, _)| *edits <= within)
        .min_by_key(|(edits, _)| *edits)
        .map(|(_, known)| known)
}

/// Letters to be changed, put in or taken out, or neighbours to be swapped, to make one word the
/// other.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let far = usize::MAX / 2;
    let cell = |row: &[usize], at: usize| row.get(at).copied().unwrap_or(far);
    let mut older: Vec<usize> = Vec::new();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    let mut before = None;
    for (i, x) in a.chars().enumerate() {
        let mut next = vec![i + 1];
        let mut left = None;
        for (j, y) in b.iter().enumerate() {
            let changed = cell(&row, j) + usize::from(x != *y);
            let moved = (cell(&next, j) + 1).min(cell(&row, j + 1) + 1);
            let swapped = match j.checked_sub(1) {
                Some(j) if left == Some(x) && before == Some(*y) => cell(&older, j) + 1,
                _ => far,
            };
            next.push(changed.min(moved).min(swapped));
            left = Some(*y);
        }
        older = std::mem::replace(&mut row, next);
        before = Some(x);
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(bytes: Vec<u8>) -> Vec<Finding> {
        let path = "a.rules".into();
        parse(vec![Source { path, bytes }]).1
    }
    fn codes(text: &str) -> Vec<Code> {
        let found = of(text.as_bytes().to_vec());
        found.iter().map(|finding| finding.code).collect()
    }

    #[test]
    fn a_thousand_mistakes_are_told_and_no_more() {
        for hostile in ["a\n", "; ", "- \n", "scan 1\n", "stop s category 1, category 1\n"] {
            let found = codes(&hostile.repeat(20_000));
            assert_eq!(found.len(), MOST + 1, "{hostile:?}");
            assert_eq!(found.iter().filter(|c| **c == Code::FindingsMany).count(), 1);
        }
        assert_eq!(codes(&"a\n".repeat(MOST)).len(), MOST);
    }

    #[test]
    fn each_file_has_its_own_thousand() {
        let source = |path: &str| Source { path: path.into(), bytes: "a\n".repeat(2 * MOST).into_bytes() };
        let (_, found) = parse(vec![source("a"), source("b")]);
        let of = |file: u16| found.iter().filter(|f| first_place(f).is_some_and(|p| p.file == file)).count();
        assert_eq!((of(0), of(1)), (MOST + 1, MOST + 1));
    }

    #[test]
    fn a_word_without_end_is_neither_likened_nor_repeated() {
        let found = of(vec![b'a'; LARGEST]);
        assert_eq!(found.len(), 1);
        assert!(found.iter().all(|f| f.message.len() < 100));
    }

    #[test]
    fn a_word_is_near_that_has_a_letter_wrong_or_two_swapped() {
        for (a, b, count) in [
            ("guard", "guard", 0),
            ("gaurd", "guard", 1),
            ("gard", "guard", 1),
            ("guards", "guard", 1),
            ("guart", "guard", 1),
            ("draug", "guard", 4),
            ("", "ab", 2),
            ("ab", "", 2),
            ("ab", "ba", 1),
        ] {
            assert_eq!(edits(a, b), count, "{a} {b}");
        }
        assert_eq!(near("gaurd", ["gauge", "guard"].into_iter()), Some("guard"));
        assert_eq!(near("watch", ["gauge", "guard"].into_iter()), None);
    }

    #[test]
    fn the_line_that_is_no_text_is_named() {
        let found = of(b"scan 10 ms\nkey \xff\n".to_vec());
        assert!(found.iter().all(|f| f.message.contains("line 2")), "{found:?}");
    }

    #[test]
    fn the_next_clause_is_no_unit() {
        for text in [
            "link l silent for at most 100 on L-1 else s\n",
            "detector d at 3 on DI-1, pulses at least 60 ms\n",
            "contact c on DI-1, settles 10 rests closed\n",
            "guard g unbroken for 20 when a open, stop s\n",
        ] {
            assert_eq!(codes(text), [Code::UnitMissing], "{text}");
        }
    }

    #[test]
    fn the_sample_has_every_word_of_the_manual() {
        let manual = include_str!("../../manual/language.md");
        let sample = include_str!("tests/every.rules");
        let words = |text: &str| -> Vec<String> {
            let said = text.lines().map(|line| line.split('#').next().unwrap_or(""));
            let said: Vec<&str> = said.collect();
            let fixed = |word: &&str| word.chars().all(|c| c.is_ascii_lowercase());
            let all = said.join(" ");
            let all = all.split(|c: char| !c.is_ascii_alphanumeric() && c != '-');
            all.filter(fixed).map(str::to_owned).collect()
        };
        let written = words(sample);
        let patterns = manual.split("```").skip(1).step_by(2);
        for word in patterns.flat_map(words) {
            // A remark between two forms, not a word of the language.
            let remark = word == "either";
            assert!(remark || written.contains(&word), "'{word}' is in no statement");
        }
    }
}
