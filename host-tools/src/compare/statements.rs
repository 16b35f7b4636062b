//! Statements in a form in which those that say the same are equal: comments, line breaks and commas left out, quantities in
//! base units.

use crate::text::lex::{Token, TokenKind, lex};
use crate::text::place::Place;
use crate::text::tree::{File, Unit};
use std::collections::HashMap;

/// Statements of which a file has one, or which have no name.
const NAMELESS: [&str; 6] = ["station", "revision", "scan", "on", "reset", "restart"];

/// A statement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// Its first word.
    pub keyword: String,
    /// The name it declares; of a refill its key; empty where it declares none.
    pub name: String,
    /// What it says, without its title: equal where it is the same.
    pub tokens: Vec<String>,
    /// Its title, if it has one.
    pub title: Option<String>,
    /// Its note.
    pub note: Vec<String>,
    /// As it is written, in a line.
    pub text: String,
    /// Where it stands.
    pub place: Place,
    /// Its line, from 1.
    pub line: usize,
}

/// All statements, in order.
pub fn statements(files: &[File]) -> Vec<Said> {
    let mut all = Vec::new();
    for (number, file) in (0_u16..).zip(files) {
        let (lexed, _, _) = lex(&file.source, number);
        for statement in lexed {
            let word = |at: usize| statement.tokens.get(at).map(spelt);
            let Some(keyword) = word(0) else { continue };
            let named = match keyword.as_str() {
                "refill" => statement.tokens.iter().position(|t| spelt(t) == "by").map(|by| by + 1),
                other if NAMELESS.contains(&other) => None,
                _ => Some(1),
            };
            let start = statement.tokens.first().map_or(0, |t| t.place.start as usize);
            let end = statement.tokens.last().map_or(0, |t| t.place.end as usize);
            let written = file.source.get(start..end).unwrap_or_default().lines();
            let without_comment = |line: &str| line.split('#').next().unwrap_or_default().trim().to_string();
            let title = statement.tokens.iter().find_map(|token| match &token.kind {
                TokenKind::Title(title) => Some(title.clone()),
                _ => None,
            });
            let tokens = statement.tokens.iter().filter(|t| !matches!(t.kind, TokenKind::Comma | TokenKind::Title(_)));
            all.push(Said {
                name: named.and_then(word).unwrap_or_default(),
                keyword,
                tokens: tokens.map(spelt).collect(),
                title,
                note: statement.note.clone(),
                text: written.map(without_comment).collect::<Vec<_>>().join(" ").trim().to_string(),
                place: Place { file: number, start: short(start), end: short(end) },
                line: file.source.get(..start).unwrap_or_default().matches('\n').count() + 1,
            });
        }
    }
    all
}

fn short(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

fn spelt(token: &Token) -> String {
    match &token.kind {
        TokenKind::Word(word) | TokenKind::Capital(word) => word.clone(),
        TokenKind::Number(value, decimals, unit) => number(*value, *decimals, *unit),
        TokenKind::Title(title) => format!("\"{title}\""),
        TokenKind::Comma => ",".into(),
        TokenKind::Open => "(".into(),
        TokenKind::Close => ")".into(),
    }
}

/// A quantity, spelt the same in whatever unit it is written.
fn number(value: i64, decimals: u8, unit: Option<Unit>) -> String {
    let mut value = i128::from(value) * i128::from(unit.map_or(1, Unit::base));
    let mut decimals = decimals;
    while decimals > 0 && value % 10 == 0 {
        value /= 10;
        decimals -= 1;
    }
    format!("{value}e-{decimals} {:?}", unit.map(Unit::dimension))
}

impl Said {
    /// With other names in the place of some.
    #[must_use]
    pub fn renamed(&self, names: &HashMap<String, String>) -> Self {
        let of = |word: &String| names.get(word).unwrap_or(word).clone();
        let tokens = self.tokens.iter().enumerate().map(|(at, word)| if at == 0 { word.clone() } else { of(word) });
        Self { name: of(&self.name), tokens: tokens.collect(), ..self.clone() }
    }
    /// What it says of what it names, without the name.
    pub fn body(&self) -> Vec<&String> {
        self.tokens.iter().enumerate().filter(|(at, _)| *at != 1).map(|(_, word)| word).collect()
    }
}
