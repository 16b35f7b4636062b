//! From characters to tokens, statement by statement.

use super::codes::Code;
use super::finding::Finding;
use super::place::Place;
use super::tree::Unit;
use nom::Parser;
use nom::branch::alt;

mod pieces;

pub(crate) use pieces::hidden_or_return;

use pieces::{digits, mark, title, unit, word};

/// A token.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    /// What it is.
    pub kind: TokenKind,
    /// Where it stands.
    pub place: Place,
    /// It is the first of its line.
    pub starts_line: bool,
}

impl Token {
    /// The word or name that it is, if it is one.
    pub fn word(&self) -> Option<&str> {
        match &self.kind {
            TokenKind::Word(word) | TokenKind::Capital(word) => Some(word),
            _ => None,
        }
    }
}

/// See [`Token`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TokenKind {
    /// A lower-case word.
    Word(String),
    /// A word that begins with a capital letter.
    Capital(String),
    /// A number, and its unit if one follows.
    Number(i64, u8, Option<Unit>),
    /// A title.
    Title(String),
    /// `,`
    Comma,
    /// `(`
    Open,
    /// `)`
    Close,
}

/// The tokens and comments of one statement.
#[derive(Debug, Clone, Default)]
pub struct Lexed {
    /// `##` lines right above it.
    pub note: Vec<String>,
    /// `#` lines above it.
    pub before: Vec<String>,
    /// Comments within it.
    pub inside: Vec<String>,
    /// First byte of each of them, and whether it has its line for itself.
    pub inside_at: Vec<(u32, bool)>,
    /// Its tokens; the first stands in column 0.
    pub tokens: Vec<Token>,
    /// Something in it could not be read.
    pub broken: bool,
}

/// What stands between statements.
enum Loose {
    /// `##`
    Note(String, u32),
    /// `#`, with its first byte.
    Comment(String, u32),
    /// One or more empty lines.
    Empty,
}

impl Loose {
    /// Its line in the tree; an empty one is an empty line.
    fn entry(self) -> String {
        match self {
            Loose::Note(text, _) | Loose::Comment(text, _) if text.is_empty() => " ".to_owned(),
            Loose::Note(text, _) | Loose::Comment(text, _) => text,
            Loose::Empty => String::new(),
        }
    }
}

struct Reader<'s> {
    source: &'s str,
    file: u16,
    at: usize,
    statements: Vec<Lexed>,
    /// Comments and empty lines since the last token.
    loose: Vec<Loose>,
    /// Statements in which a tab has been told of.
    tabbed: Option<usize>,
    findings: Vec<Finding>,
}

impl Reader<'_> {
    fn rest(&self) -> &str {
        self.source.get(self.at..).unwrap_or("")
    }
    fn place(&self, start: usize, end: usize) -> Place {
        let short = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Place { file: self.file, start: short(start), end: short(end) }
    }
    fn find(&mut self, finding: Finding) {
        self.findings.push(finding);
        if let Some(statement) = self.statements.last_mut() {
            statement.broken = true;
        }
    }
    fn push(&mut self, kind: TokenKind, start: usize, starts_line: bool) {
        let token = Token { kind, place: self.place(start, self.at), starts_line };
        if let Some(statement) = self.statements.last_mut() {
            for loose in self.loose.drain(..) {
                if let Loose::Note(text, at) | Loose::Comment(text, at) = loose {
                    statement.inside.push(text);
                    statement.inside_at.push((at, true));
                }
            }
            statement.tokens.push(token);
        }
    }
    /// A token in column 0 opens a statement; comments above it become its own.
    fn open(&mut self) {
        let mut statement = Lexed::default();
        let loose = std::mem::take(&mut self.loose);
        // An empty line below a note does not part it from its statement.
        let other = loose.iter().rposition(|l| matches!(l, Loose::Comment(..)));
        let first = loose
            .iter()
            .enumerate()
            .position(|(i, l)| matches!(l, Loose::Note(..)) && other.is_none_or(|other| i > other));
        for (i, loose) in loose.into_iter().enumerate() {
            match loose {
                Loose::Note(text, _) if first.is_some_and(|first| i >= first) => {
                    statement.note.push(text);
                }
                Loose::Empty if first.is_some_and(|first| i >= first) => {}
                loose => statement.before.push(loose.entry()),
            }
        }
        self.statements.push(statement);
    }
    fn comment(&mut self, own_line: bool, column_zero: bool) {
        let line = self.rest().split('\n').next().unwrap_or("");
        let length = line.len();
        let (note, text) = match line.strip_prefix("##") {
            Some(text) if own_line => (true, text),
            Some(text) => (false, text),
            None => (false, line.strip_prefix('#').unwrap_or(line)),
        };
        let text = text.strip_prefix(' ').unwrap_or(text).trim_end().to_owned();
        if text.chars().any(hidden_or_return) {
            let place = self.place(self.at, self.at + length);
            self.findings
                .push(Finding::new(Code::CharacterBad, "a hidden character in a comment").at(place, "in this comment"));
        }
        let start = self.place(self.at, self.at).start;
        match self.statements.last_mut() {
            Some(statement) if !own_line || (!column_zero && self.loose.is_empty()) => {
                statement.inside.push(text);
                statement.inside_at.push((start, own_line));
            }
            _ if note => self.loose.push(Loose::Note(text, start)),
            _ => self.loose.push(Loose::Comment(text, start)),
        }
        self.at += length;
    }
    fn number(&mut self, start: usize, starts_line: bool) -> bool {
        let Ok((rest, (negative, whole, part))) = digits(self.rest()) else {
            return false;
        };
        let text = format!("{whole}{part}");
        let (mantissa, decimals) = (text.parse::<i64>(), u8::try_from(part.len()));
        let found = unit(rest).ok();
        let with_unit =
            found.and_then(|(after, name)| Unit::ALL.into_iter().find(|u| u.text() == name).map(|u| (after.len(), u)));
        // `300ms` and `30 seconds`: what touches a number, or looks like its unit, must be one.
        let slashed = found.is_some_and(|(_, name)| name.contains('/'));
        let glued = rest.starts_with(|c: char| c.is_ascii_alphanumeric() || c == '.' || c == '%');
        let left = match (with_unit, found) {
            (Some((left, _)), _) => left,
            (None, Some((after, _))) if slashed => after.len(),
            _ => rest.len(),
        };
        self.at = self.source.len() - left;
        if (glued || slashed) && with_unit.is_none() {
            let extra = self
                .rest()
                .chars()
                .take_while(|c| c.is_ascii_alphanumeric() || matches!(c, '.' | '/'))
                .map(char::len_utf8)
                .sum::<usize>();
            self.at += extra;
            let place = self.place(start, self.at);
            self.find(
                Finding::new(Code::UnitUnknown, "this is no number with a unit")
                    .at(place, "not understood")
                    .help("the units are ms s min h mm m mm/s m/s m/s2 N kN mA uA %"),
            );
            return true;
        }
        match (mantissa, decimals) {
            (Ok(mantissa), Ok(decimals @ 0..=9)) if mantissa <= 1_000_000_000_000 => {
                let mantissa = if negative { -mantissa } else { mantissa };
                self.push(TokenKind::Number(mantissa, decimals, with_unit.map(|(_, u)| u)), start, starts_line);
            }
            _ => {
                let place = self.place(start, self.at);
                self.find(
                    Finding::new(Code::NumberBad, "this number is too long")
                        .at(place, "at most twelve digits, nine of them decimals"),
                );
            }
        }
        true
    }
    fn title(&mut self, start: usize, starts_line: bool) -> bool {
        if !self.rest().starts_with('"') {
            return false;
        }
        if let Ok((rest, text)) = title(self.rest()) {
            let (left, text) = (rest.len(), text.to_owned());
            self.at = self.source.len() - left;
            if text.chars().any(hidden_or_return) {
                let place = self.place(start, self.at);
                self.find(Finding::new(Code::CharacterBad, "a hidden character in a title").at(place, "in this title"));
            }
            self.push(TokenKind::Title(text), start, starts_line);
        } else {
            let length = self.rest().split('\n').next().unwrap_or("").len();
            self.at += length;
            let place = self.place(start, self.at);
            self.find(
                Finding::new(Code::QuoteOpen, "this title is not closed")
                    .at(place, "no closing quote on this line")
                    .help("close it with a double quote on the same line"),
            );
        }
        true
    }
    /// Tells of hidden characters that stand together, and of tabs once in a statement.
    fn hidden(&mut self, first: char) {
        let start = self.at;
        let length: usize = self.rest().chars().take_while(|c| *c == first).map(char::len_utf8).sum();
        self.at += length;
        let place = self.place(start, self.at);
        if first != '\t' {
            let message = format!("a hidden character (U+{:04X})", u32::from(first));
            self.find(Finding::new(Code::CharacterBad, message).at(place, "this character").help("delete it"));
        } else if self.tabbed != Some(self.statements.len()) {
            self.tabbed = Some(self.statements.len());
            self.find(Finding::new(Code::CharacterBad, "a tab").at(place, "this character").help("use blanks"));
        }
    }
    /// Keeps an empty line, unless one stands there already or nothing stands above it.
    fn empty_line(&mut self) {
        let above = if self.loose.is_empty() {
            !self.statements.is_empty()
        } else {
            !matches!(self.loose.last(), Some(Loose::Empty))
        };
        if above {
            self.loose.push(Loose::Empty);
        }
    }
    fn run(&mut self) {
        let mut line_start = true;
        let mut column_zero = true;
        let mut orphan = false;
        while let Some(next) = self.rest().chars().next() {
            let start = self.at;
            match next {
                '\n' => {
                    if line_start {
                        self.empty_line();
                    }
                    self.at += 1;
                    (line_start, column_zero) = (true, true);
                    continue;
                }
                '\r' if self.rest().starts_with("\r\n") => {
                    self.at += 1;
                    continue;
                }
                ' ' => {
                    self.at += 1;
                    column_zero = false;
                    continue;
                }
                '#' => {
                    self.comment(line_start, column_zero);
                    // The line break behind it ends no empty line.
                    if self.rest().starts_with('\n') {
                        self.at += 1;
                    }
                    (line_start, column_zero) = (true, true);
                    continue;
                }
                c if hidden_or_return(c) => {
                    self.hidden(c);
                    column_zero &= c != '\t';
                    continue;
                }
                _ => {}
            }
            if column_zero && line_start {
                self.open();
            } else if self.statements.is_empty() && !orphan {
                orphan = true;
                let place = self.place(start, start + next.len_utf8());
                self.find(
                    Finding::new(Code::WordUnexpected, "an indented line before the first statement")
                        .at(place, "belongs to no statement")
                        .help("a statement begins in column 0"),
                );
            }
            let first = line_start;
            (line_start, column_zero) = (false, false);
            if self.title(start, first) || self.number(start, first) {
                continue;
            }
            if let Ok((rest, kind)) = alt((word, mark)).parse(self.rest()) {
                let left = rest.len();
                self.at = self.source.len() - left;
                self.push(kind, start, first);
                continue;
            }
            self.at += next.len_utf8();
            let place = self.place(start, self.at);
            let help = "names are lower-case words joined by hyphens; titles stand in double quotes";
            self.find(
                Finding::new(Code::CharacterBad, format!("'{next}' has no meaning here"))
                    .at(place, "this character")
                    .help(help),
            );
        }
    }
}

/// Cuts a text into statements of tokens. Gives also the comments after the last statement.
pub fn lex(source: &str, file: u16) -> (Vec<Lexed>, Vec<String>, Vec<Finding>) {
    let mut reader =
        Reader { source, file, at: 0, statements: Vec::new(), loose: Vec::new(), tabbed: None, findings: Vec::new() };
    reader.run();
    if matches!(reader.loose.last(), Some(Loose::Empty)) {
        reader.loose.pop();
    }
    let trailing = reader.loose.drain(..).map(Loose::entry).collect();
    (reader.statements, trailing, reader.findings)
}
