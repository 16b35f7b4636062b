//! Small changes of rule files, one at a time: each makes a mutant.
//!
//! They are made in the text, so that whatever reads a rule file reads a mutant too. Requirements, assumptions and hazards
//! stay as they are; so do wiring, scaling, the lane, and what stops and outputs are.

use super::conditions;
use super::optional;
use crate::slack::limits::numbers;
use crate::station::{InputKind, Pace, Station};
use crate::text::lex::{Token, TokenKind, lex};
use crate::text::parse::{Source, parse};
use crate::text::place::Place;
use std::collections::BTreeSet;

/// What a mutant changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A statement is gone, and its name from those that name it.
    Dropped,
    /// A clause that may be left out is.
    LeftOut,
    /// A part of a condition is gone.
    Part,
    /// A limit moved by a step; of what trips when it has lasted, only to longer.
    Moved,
    /// A stop or a slow order is the next milder one.
    Milder,
    /// What filters takes twice as long.
    Longer,
    /// Of a pair the rules look at one channel.
    Single,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 7] =
        [Self::Dropped, Self::LeftOut, Self::Part, Self::Moved, Self::Milder, Self::Longer, Self::Single];
    /// In words.
    pub fn text(self) -> &'static str {
        match self {
            Self::Dropped => "dropped",
            Self::LeftOut => "left out",
            Self::Part => "part dropped",
            Self::Moved => "limit moved",
            Self::Milder => "milder",
            Self::Longer => "filter longer",
            Self::Single => "pair single",
        }
    }
}

/// A text in the place of another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// Where.
    pub place: Place,
    /// What stands there instead.
    pub text: String,
}

/// A change of rule files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mutant {
    /// What it changes.
    pub kind: Kind,
    /// Keyword and name of the statement.
    pub statement: String,
    /// Its file, by number.
    pub file: u16,
    /// The line of the change, from 1.
    pub line: usize,
    /// The change, in words.
    pub what: String,
    /// The change, in places that do not overlap.
    pub edits: Vec<Edit>,
}

impl Mutant {
    /// The rule files with the change.
    pub fn applied(&self, sources: &[Source]) -> Vec<Source> {
        let mut out = sources.to_vec();
        let mut edits: Vec<&Edit> = self.edits.iter().collect();
        edits.sort_by_key(|edit| std::cmp::Reverse(edit.place.start));
        for edit in edits {
            let range = usize::try_from(edit.place.start).ok().zip(usize::try_from(edit.place.end).ok());
            if let (Some(source), Some((start, end))) = (out.get_mut(usize::from(edit.place.file)), range)
                && start <= end
                && end <= source.bytes.len()
            {
                source.bytes.splice(start..end, edit.text.bytes());
            }
        }
        out
    }
}

/// Statements that are rules: they can be dropped.
const RULES: [&str; 11] =
    ["guard", "travel", "measure", "spacing", "agree", "confirm", "exercise", "count", "refill", "bypass", "restart"];
/// Statements in which limits stand, beside those.
const LIMITED: [&str; 10] = ["contact", "pair", "detector", "gauge", "pace", "link", "key", "mode", "slow", "reset"];
/// Of inputs only numbers behind these words are limits; the others say what is mounted.
const LIMITS: [&str; 10] = [
    "settles",
    "opening and",
    "at most",
    "rises at least every",
    "rests within",
    "agree within",
    "still below",
    "fault after",
    "differing for",
    "speed over",
];
/// A number behind these words says for how long something is not believed.
const FILTERS: [&str; 8] = [
    "settles",
    "opening and",
    "unbroken for",
    "apart for at most",
    "differing for",
    "fault after",
    "silent for at most",
    "speed over",
];
/// Of these, what trips when it has lasted so long. The others also keep something from being permitted, or from being over.
const HOLDS: [&str; 5] = ["unbroken for", "apart for at most", "differing for", "fault after", "silent for at most"];
/// Behind these words an answer is named.
const ANSWERS: [&str; 12] =
    ["stop", "slow", "else", "early", "late", "stray", "crowded", "backwards", "closer", "farther", "over", "wrong"];

/// A statement with its words.
pub(super) struct Statement {
    pub(super) file: u16,
    pub(super) tokens: Vec<Token>,
}

impl Statement {
    pub(super) fn word(&self, at: usize) -> Option<&str> {
        self.tokens.get(at).and_then(Token::word)
    }
    pub(super) fn keyword(&self) -> &str {
        self.word(0).unwrap_or_default()
    }
    /// Keyword and name.
    pub(super) fn name(&self) -> String {
        let named = self.word(1).filter(|_| !["reset", "restart", "on"].contains(&self.keyword()));
        format!("{} {}", self.keyword(), named.unwrap_or_default()).trim_end().to_string()
    }
    /// From the first of some tokens to the last.
    pub(super) fn span(&self, first: usize, last: usize) -> Option<Place> {
        let (first, last) = (self.tokens.get(first)?, self.tokens.get(last)?);
        Some(Place { file: self.file, start: first.place.start, end: last.place.end })
    }
    /// The pace of which a number of it speaks, if the last input that is named before it is one.
    fn pace<'s>(&self, number: Place, station: &'s Station) -> Option<&'s Pace> {
        let at = self.tokens.iter().position(|token| token.place.start == number.start)?;
        let named = |word: &str| station.inputs.iter().find(|input| input.name.text == word);
        let mut before = (0..at).rev().filter_map(|at| self.word(at));
        match before.find_map(named).filter(|_| self.file == number.file)?.kind {
            InputKind::Pace(ref pace) => Some(pace),
            _ => None,
        }
    }
    fn whole(&self) -> Option<Place> {
        self.span(0, self.tokens.len().checked_sub(1)?)
    }
}

/// The rule files, and what is made of them.
pub(super) struct Making<'s> {
    pub(super) sources: &'s [Source],
    pub(super) statements: Vec<Statement>,
    pub(super) out: Vec<Mutant>,
}

impl Making<'_> {
    /// What is written at a place.
    pub(super) fn text(&self, place: Place) -> String {
        let source = self.sources.get(usize::from(place.file)).map_or(&[][..], |source| source.bytes.as_slice());
        let bytes = source.get(place.start as usize..place.end as usize).unwrap_or_default();
        String::from_utf8_lossy(bytes).split_whitespace().collect::<Vec<_>>().join(" ")
    }
    pub(super) fn add(&mut self, kind: Kind, statement: String, what: String, edits: Vec<Edit>) {
        let Some(first) = edits.first().map(|edit| edit.place) else { return };
        let source = self.sources.get(usize::from(first.file)).map_or(&[][..], |source| source.bytes.as_slice());
        let before = source.get(..first.start as usize).unwrap_or_default();
        let line = before.split(|byte| *byte == b'\n').count();
        self.out.push(Mutant { kind, statement, file: first.file, line, what, edits });
    }
}

/// All mutants, in the order of the text. A limit moves by this many hundredths of itself, and by the smallest step at least.
pub fn mutants(sources: &[Source], station: &Station, hundredths: u32) -> Vec<Mutant> {
    let mut statements = Vec::new();
    for (file, source) in (0_u16..).zip(sources) {
        let (lexed, _, _) = lex(&String::from_utf8_lossy(&source.bytes), file);
        statements.extend(lexed.into_iter().map(|lexed| Statement { file, tokens: lexed.tokens }));
    }
    let (files, _) = parse(sources.to_vec());
    let mut making = Making { sources, statements, out: Vec::new() };
    dropped(&mut making);
    optional::left_out(&mut making);
    conditions::parts(&mut making, &files);
    moved(&mut making, station, hundredths);
    milder(&mut making, station);
    single(&mut making);
    let mut out = making.out;
    out.sort_by_key(|mutant| (mutant.file, mutant.line, mutant.kind));
    out
}

/// Statements dropped, with their names where refills and bypasses list them; a list of one goes with its statement.
fn dropped(making: &mut Making<'_>) {
    let mut all = Vec::new();
    for statement in making.statements.iter().filter(|statement| RULES.contains(&statement.keyword())) {
        let (Some(whole), name) = (statement.whole(), statement.word(1).unwrap_or_default()) else { continue };
        let mut edits = vec![Edit { place: whole, text: String::new() }];
        for other in &making.statements {
            let first = match other.keyword() {
                "refill" => 1,
                "bypass" => 3,
                _ => continue,
            };
            if name == other.word(1).unwrap_or_default() && other.keyword() == statement.keyword() {
                continue;
            }
            let mut names = vec![first];
            while let Some(last) = names.last().filter(|last| other.word(**last + 1) == Some("and")) {
                names.push(last + 2);
            }
            let listed: Vec<&str> = names.iter().filter_map(|at| other.word(*at)).collect();
            if !listed.contains(&name) {
                continue;
            }
            let rest: Vec<&str> = listed.into_iter().filter(|other| *other != name).collect();
            let place =
                if rest.is_empty() { other.whole() } else { other.span(first, names.last().copied().unwrap_or(first)) };
            edits.extend(place.map(|place| Edit { place, text: rest.join(" and ") }));
        }
        all.push((statement.name(), edits));
    }
    for (name, edits) in all {
        making.add(Kind::Dropped, name, "the statement is dropped".into(), edits);
    }
}

/// The words before a place end so.
fn behind(tokens: &[Token], at: usize, words: &str) -> bool {
    let words: Vec<&str> = words.split(' ').collect();
    let before = tokens.get(at.saturating_sub(words.len())..at).unwrap_or_default();
    before.len() == words.len() && before.iter().zip(&words).all(|(token, word)| token.word() == Some(*word))
}

fn is_limit(tokens: &[Token], at: usize) -> bool {
    let keyword = tokens.first().and_then(Token::word).unwrap_or_default();
    if at < 2 || !matches!(tokens.get(at).map(|token| &token.kind), Some(TokenKind::Number(..))) {
        return false;
    }
    // What an output is to do, and a contact is declared to, is no limit of the rules.
    let is_declared = behind(tokens, at, "opens for at least") || behind(tokens, at, "closes for at least");
    RULES.contains(&keyword)
        || (LIMITED.contains(&keyword)
            && !is_declared
            && (["mode", "slow", "reset"].contains(&keyword) || LIMITS.iter().any(|words| behind(tokens, at, words))))
        || (keyword == "output" && behind(tokens, at, "within") && !behind(tokens, at, "off within"))
}

/// Limits moved by a step each way, what trips when it has lasted by one to longer, and filters made twice as long.
fn moved(making: &mut Making<'_>, station: &Station, hundredths: u32) {
    let places = |of: &[&str]| -> BTreeSet<Place> {
        let behind = |tokens: &[Token], at| is_limit(tokens, at) && of.iter().any(|words| behind(tokens, at, words));
        numbers(making.sources, &behind).into_iter().map(|limit| limit.place).collect()
    };
    let (filters, holds) = (places(&FILTERS), places(&HOLDS));
    for limit in numbers(making.sources, &is_limit) {
        let of = making.statements.iter().find_map(|statement| statement.pace(limit.place, station));
        let apart = of.filter(|_| limit.is_speed()).map_or(0, |pace| told_apart(pace, station.scan_us));
        let least = limit.step(station.scan_us);
        let apart = (apart + least - 1) / least * least;
        let part = i128::from(limit.value.unsigned_abs()) * i128::from(hundredths) / 100;
        // A count moves by one: a tenth of it is none.
        let steps = if limit.unit.is_some() { (i64::try_from(part).unwrap_or(0) + least - 1) / least } else { 1 };
        let step = least.saturating_mul(steps.max(1)).max(apart);
        let owner = making.statements.iter().find(|statement| {
            let whole = statement.whole();
            whole.is_some_and(|whole| {
                whole.file == limit.place.file && whole.start <= limit.place.start && limit.place.end <= whole.end
            })
        });
        let Some(name) = owner.map(Statement::name) else { continue };
        let mut change = |kind, value: i64| {
            let text = limit.text(value);
            let what = format!("{}: {} becomes {text}", limit.sentence, limit.text(limit.value));
            making.add(kind, name.clone(), what, vec![Edit { place: limit.place, text }]);
        };
        let (is_filter, doubled) = (filters.contains(&limit.place), limit.value.saturating_mul(2));
        for value in [limit.value.saturating_sub(step), limit.value.saturating_add(step)] {
            // What is negative that was not is another thing than a limit moved; and what trips when it has lasted only trips sooner.
            let is_other = (holds.contains(&limit.place) && value < limit.value) || (is_filter && value == doubled);
            if (value >= 0 || limit.value < 0) && !is_other {
                change(Kind::Moved, value);
            }
        }
        if is_filter {
            change(Kind::Longer, doubled);
        }
    }
}

/// The least by which a pace tells two speeds apart, in base units: one pulse in its span.
fn told_apart(pace: &Pace, scan_us: u32) -> i64 {
    let span_us = i64::from(pace.span.max(1)) * i64::from(scan_us.max(1));
    (i64::from(pace.mm_a_pulse) * 1_000_000_000 + span_us - 1) / span_us
}

/// Answers made milder: the next stop below, and beneath the mildest one the slowest slow order where one may stand.
fn milder(making: &mut Making<'_>, station: &Station) {
    let names: Vec<&str> = (1..=station.worst()).map(|rank| station.answer(rank)).collect();
    let first_stop = usize::from(station.first_stop()).saturating_sub(1);
    let mut all = Vec::new();
    for statement in &making.statements {
        let keyword = statement.keyword();
        if !(RULES.contains(&keyword) || ["link", "on"].contains(&keyword)) {
            continue;
        }
        for at in 1..statement.tokens.len() {
            let Some(name) = statement.word(at) else { continue };
            let before = statement.word(at.saturating_sub(1)).unwrap_or_default();
            let is_answer = ANSWERS.contains(&before) || before == "below" || (keyword == "on" && before == "fault");
            let Some(rank) = names.iter().position(|answer| *answer == name).filter(|_| is_answer) else { continue };
            let Some(other) = rank.checked_sub(1).and_then(|rank| names.get(rank)) else { continue };
            // A guard says `stop S` or `slow S`, an agree `else S` or `else slow S`; nothing else orders to slow down.
            let (first, text) = match (rank.cmp(&first_stop), keyword) {
                (std::cmp::Ordering::Equal, "guard") => (at - 1, format!("slow {other}")),
                (std::cmp::Ordering::Equal, "agree") => (at, format!("slow {other}")),
                (std::cmp::Ordering::Equal, _) => continue,
                _ => (at, (*other).to_string()),
            };
            let Some(place) = statement.span(first, at) else { continue };
            let was = making.text(statement.span(at - 1, at).unwrap_or(place));
            all.push((statement.name(), format!("{was} becomes {text}"), Edit { place, text }));
        }
    }
    for (name, what, edit) in all {
        making.add(Kind::Milder, name, what, vec![edit]);
    }
}

/// Pairs made single: the rules see the first channel alone, requirements both.
fn single(making: &mut Making<'_>) {
    let mut all = Vec::new();
    for pair in making.statements.iter().filter(|statement| statement.keyword() == "pair") {
        let (Some(name), Some(whole)) = (pair.word(1), pair.whole()) else { continue };
        let word = |text: &str| (0..pair.tokens.len()).find(|at| pair.word(*at) == Some(text));
        let (Some(on), Some(rests), Some(differing)) = (word("on"), word("rests"), word("differing")) else { continue };
        let (Some(first), Some(second)) = (pair.word(on + 1), pair.word(on + 3)) else { continue };
        let (closed, opposed) = (pair.word(rests + 1) == Some("closed"), word("opposed").is_some());
        let clauses: Vec<&Token> =
            pair.tokens.iter().take(differing).skip(rests + 2).filter(|token| token.kind != TokenKind::Comma).collect();
        let clauses = match (clauses.first(), clauses.last()) {
            (Some(first), Some(last)) => {
                making.text(Place { file: pair.file, start: first.place.start, end: last.place.end })
            }
            _ => String::new(),
        };
        let rest = |closed: bool| if closed { "closed" } else { "open, line monitored" };
        let other = format!("{name}-unseen");
        let text = format!(
            "contact {name} on {first}, rests {}\n    {clauses}\ncontact {other} on {second}, rests {}\n",
            rest(closed),
            rest(closed != opposed),
        );
        let mut edits = vec![Edit { place: whole, text }];
        for asked in making.statements.iter().filter(|s| ["require", "assume"].contains(&s.keyword())) {
            for at in 2..asked.tokens.len() {
                let Some(level) = asked.word(at + 1).filter(|_| asked.word(at) == Some(name)) else { continue };
                let turned = if level == "open" { "closed" } else { "open" };
                let (joint, far) =
                    (if (level == "open") == closed { "or" } else { "and" }, if opposed { turned } else { level });
                let Some(place) = asked.span(at, at + 1) else { continue };
                edits.push(Edit { place, text: format!("({name} {level} {joint} {other} {far})") });
            }
        }
        all.push((
            pair.name(),
            format!("the rules look at {first} alone; what is required speaks of {second} too"),
            edits,
        ));
    }
    for (name, what, edits) in all {
        making.add(Kind::Single, name, what, edits);
    }
}
