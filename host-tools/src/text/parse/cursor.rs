//! A cursor over the tokens of one statement, and the slots that its clauses fill.

use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::lex::{Token, TokenKind};
use crate::text::place::{Place, Placed};
use crate::text::tree::{Quantity, Word};

/// Reads tokens; what it cannot read becomes a finding, and the answer `None`.
pub(super) struct Cursor<'t> {
    tokens: &'t [Token],
    at: usize,
    /// Where the clause at hand begins.
    clause: usize,
    /// Words of clauses that were given up.
    pub(super) skipped: Vec<&'t str>,
    /// The clause before could not be read to its end.
    pub(super) lost: bool,
    /// What has been found wrong.
    pub(super) findings: Vec<Finding>,
}

impl<'t> Cursor<'t> {
    /// Over a statement's tokens, behind its keyword.
    pub(super) fn new(tokens: &'t [Token]) -> Self {
        Self { tokens, at: 1, clause: 1, skipped: Vec::new(), lost: false, findings: Vec::new() }
    }
    fn peek(&self, ahead: usize) -> Option<&'t Token> {
        self.tokens.get(self.at + ahead)
    }
    /// Place of the next token, or behind the last.
    pub(super) fn place(&self) -> Place {
        match (self.peek(0), self.tokens.last()) {
            (Some(token), _) => token.place,
            (None, Some(last)) => Place { start: last.place.end, ..last.place },
            (None, None) => Place::default(),
        }
    }
    /// From a place to the last token read.
    pub(super) fn since(&self, from: Place) -> Place {
        let last = self.at.checked_sub(1).and_then(|i| self.tokens.get(i));
        Place { end: last.map_or(from.end, |t| t.place.end).max(from.end), ..from }
    }
    /// The statement from its keyword to its end.
    pub(super) fn whole(&self) -> Place {
        let first = self.tokens.first().map(|t| t.place).unwrap_or_default();
        Place { end: self.tokens.last().map_or(first.end, |t| t.place.end), ..first }
    }
    /// The keyword.
    pub(super) fn head(&self) -> Place {
        self.tokens.first().map(|t| t.place).unwrap_or_default()
    }
    /// Skips separators; is anything left?
    pub(super) fn more(&mut self) -> bool {
        while matches!(self.peek(0).map(|t| &t.kind), Some(TokenKind::Comma)) {
            self.at += 1;
            if self.next_is("and") {
                self.at += 1;
            }
        }
        self.clause = self.at;
        self.peek(0).is_some()
    }
    /// The word at so many tokens from here, if it is one.
    pub(super) fn word_at(&self, ahead: usize) -> Option<&'t str> {
        match self.peek(ahead).map(|t| &t.kind) {
            Some(TokenKind::Word(word)) => Some(word),
            _ => None,
        }
    }
    /// The next token is this word.
    pub(super) fn next_is(&self, word: &str) -> bool {
        self.word_at(0) == Some(word)
    }
    /// The token after the next is this word.
    pub(super) fn second_is(&self, word: &str) -> bool {
        self.word_at(1) == Some(word)
    }
    /// Takes these words if they all come next.
    pub(super) fn take(&mut self, words: &str) -> bool {
        let mut count = 0;
        for (i, word) in words.split(' ').enumerate() {
            if self.word_at(i) != Some(word) {
                return false;
            }
            count = i + 1;
        }
        self.at += count;
        true
    }
    /// A comma comes next.
    pub(super) fn comma_next(&self) -> bool {
        matches!(self.peek(0).map(|t| &t.kind), Some(TokenKind::Comma))
    }
    /// Takes a comma if one comes next.
    pub(super) fn take_comma(&mut self) -> bool {
        let is = self.comma_next();
        self.at += usize::from(is);
        is
    }
    /// Takes `and` or `or`, behind a comma or not; gives whether it was `and`.
    pub(super) fn take_joint(&mut self) -> Option<bool> {
        let comma = usize::from(self.comma_next());
        let is_and = match self.word_at(comma) {
            Some("and") => true,
            Some("or") => false,
            _ => return None,
        };
        self.at += comma + 1;
        Some(is_and)
    }
    /// Takes an opening or closing parenthesis.
    pub(super) fn take_paren(&mut self, open: bool) -> bool {
        let wanted = if open { TokenKind::Open } else { TokenKind::Close };
        let is = self.peek(0).is_some_and(|t| t.kind == wanted);
        self.at += usize::from(is);
        is
    }
    /// Says what was expected here.
    pub(super) fn expected(&mut self, what: &str) {
        // What is left of a clause that could not be read has been told of.
        if self.lost && self.at == self.clause && self.peek(0).is_some_and(|t| !t.starts_line) {
            return;
        }
        let place = self.place();
        let message = match self.peek(0).map(|t| &t.kind) {
            None => format!("the statement ends where {what} is expected"),
            Some(_) => format!("expected {what}"),
        };
        self.findings.push(Finding::new(Code::WordUnexpected, message).at(place, format!("{what} is expected here")));
    }
    /// Needs these words.
    pub(super) fn need(&mut self, words: &str) -> Option<()> {
        if self.take(words) {
            return Some(());
        }
        self.expected(&format!("'{words}'"));
        None
    }
    /// Gives the clause at hand up: skips to the next comma or line.
    pub(super) fn skip(&mut self) {
        self.lost = true;
        if self.at == self.clause {
            self.skipped.extend(self.word_at(0));
            self.at += 1;
        }
        while let Some(token) = self.peek(0) {
            if token.starts_line || token.kind == TokenKind::Comma {
                return;
            }
            self.skipped.extend(self.word_at(0));
            self.at += 1;
        }
    }
    /// A declared or referred-to name.
    pub(super) fn name(&mut self, what: &str) -> Option<Word> {
        let help =
            "names are lower-case words of letters and digits, joined by hyphens; 'and', 'or' and 'not' are none";
        self.fitting(what, help, lower)
    }
    /// The name of a hazard or requirement.
    pub(super) fn label(&mut self, what: &str) -> Option<Word> {
        let help = "hazards and requirements are named like H2, or by lower-case words joined by hyphens";
        self.fitting(what, help, |text| {
            lower(text) || text.chars().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit())
        })
    }
    fn fitting(&mut self, what: &str, help: &str, fits: fn(&str) -> bool) -> Option<Word> {
        let token = self.peek(0);
        let Some((TokenKind::Word(text) | TokenKind::Capital(text), place)) = token.map(|t| (&t.kind, t.place)) else {
            self.expected(&format!("the name of {what}"));
            return None;
        };
        self.at += 1;
        if fits(text) {
            return Some(Placed::new(text.clone(), place));
        }
        self.findings.push(
            Finding::new(Code::NameBad, format!("'{text}' is no name"))
                .at(place, format!("the name of {what} is expected"))
                .help(help),
        );
        None
    }
    /// A terminal.
    pub(super) fn terminal(&mut self) -> Option<Word> {
        if let Some(TokenKind::Capital(_)) = self.peek(0).map(|t| &t.kind) {
            return self.fitting(
                "a terminal",
                "terminals are capital letters, a hyphen and digits, like DI-01",
                terminal,
            );
        }
        self.expected("a terminal such as DI-01");
        None
    }
    /// Names joined by `and`.
    pub(super) fn names(&mut self, what: &str) -> Option<Vec<Word>> {
        let mut all = vec![self.name(what)?];
        while self.next_is("and") {
            self.at += 1;
            all.push(self.name(what)?);
        }
        Some(all)
    }
    /// A title.
    pub(super) fn title(&mut self) -> Option<Placed<String>> {
        let title = self.maybe_title();
        if title.is_none() {
            self.expected("a title in double quotes");
        }
        title
    }
    /// A title, if one comes next.
    pub(super) fn maybe_title(&mut self) -> Option<Placed<String>> {
        match self.peek(0) {
            Some(Token { kind: TokenKind::Title(text), place, .. }) => {
                self.at += 1;
                Some(Placed::new(text.clone(), *place))
            }
            _ => None,
        }
    }
    /// The next token is a number.
    pub(super) fn number_next(&self) -> bool {
        matches!(self.peek(0).map(|t| &t.kind), Some(TokenKind::Number(..)))
    }
    /// A quantity; `what` names the units that fit.
    pub(super) fn quantity(&mut self, what: &str) -> Option<Quantity> {
        let token = self.peek(0);
        match token.map(|t| (&t.kind, t.place)) {
            Some((TokenKind::Number(mantissa, decimals, Some(unit)), place)) => {
                self.at += 1;
                Some(Quantity { mantissa: *mantissa, decimals: *decimals, unit: *unit, place })
            }
            Some((TokenKind::Number(..), place)) => {
                self.at += 1;
                let (code, place) = match self.peek(0) {
                    Some(Token { kind: TokenKind::Word(_) | TokenKind::Capital(_), place: next, .. })
                        if !self.clause_word() =>
                    {
                        self.at += 1;
                        (Code::UnitUnknown, Place { end: next.end, ..place })
                    }
                    _ => (Code::UnitMissing, place),
                };
                let message =
                    if code == Code::UnitMissing { "a number without its unit" } else { "this unit is not known" };
                self.findings.push(
                    Finding::new(code, message)
                        .at(place, format!("{what} is expected"))
                        .help("write the unit behind the number, as in '30 ms' or '3.40 m'"),
                );
                None
            }
            _ => {
                self.expected(what);
                None
            }
        }
    }
    /// The next word is one that goes on after a quantity, so that it is no misspelt unit.
    fn clause_word(&self) -> bool {
        const GOES_ON: &str = "\
            a after alike and apart at backed backwards below bites by carried carriers category closer \
            bodies closed closes closing couples covered crowded detectors differing early else \
            farther fault for from hazard held in is late line loads long moves must need not of off \
            on open opening opens opposed or out over pulses read releases rests rises see settles \
            signed silent slow slows speed speeds standstill steady still stop stray switching takes \
            the then throughout to touches trusted unbroken uncouples unless up when whenever while with within wrong";
        self.peek(0).is_some_and(|t| t.starts_line)
            || self.word_at(0).is_some_and(|word| GOES_ON.split(' ').any(|known| known == word))
    }
    /// A whole number without unit.
    pub(super) fn count(&mut self, what: &str) -> Option<Placed<u32>> {
        match self.peek(0).map(|t| (&t.kind, t.place)) {
            Some((TokenKind::Number(mantissa, 0, None), place)) if u32::try_from(*mantissa).is_ok() => {
                self.at += 1;
                Some(Placed::new(u32::try_from(*mantissa).unwrap_or(0), place))
            }
            _ => {
                self.expected(what);
                None
            }
        }
    }
    /// The statement must end here.
    pub(super) fn end(&mut self) {
        if self.more() {
            self.expected("the end of the statement");
        }
    }
}

/// A terminal, as the reader of a clause.
pub(super) fn one_terminal(c: &mut Cursor<'_>) -> Option<Word> {
    c.terminal()
}

/// Names of hazards joined by `and`.
pub(super) fn labels(c: &mut Cursor<'_>) -> Option<Vec<Word>> {
    let mut all = vec![c.label("a hazard")?];
    while c.take("and") {
        all.push(c.label("a hazard")?);
    }
    Some(all)
}

/// Lower-case words joined by hyphens.
fn lower(text: &str) -> bool {
    let word = |part: &str| !part.is_empty() && part.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit());
    text.split('-').all(word) && !matches!(text, "and" | "or" | "not")
}
/// Capital letters, a hyphen and digits.
fn terminal(text: &str) -> bool {
    text.split_once('-').is_some_and(|(letters, digits)| {
        letters.chars().all(|c| c.is_ascii_uppercase())
            && !digits.is_empty()
            && digits.chars().all(|c| c.is_ascii_digit())
    })
}
