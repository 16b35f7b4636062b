//! Every limit of a rule file, where it stands, and what the text becomes when it moves.

use crate::text::lex::{Token, TokenKind, lex};
use crate::text::parse::Source;
use crate::text::place::Place;
use crate::text::tree::{Dimension, Unit};

/// Statements whose numbers are limits of rules.
const WATCHES: [&str; 8] = ["guard", "travel", "measure", "spacing", "agree", "confirm", "exercise", "count"];

/// A number of a watch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// Where the number and its unit stand.
    pub place: Place,
    /// Its line, from 1.
    pub line: usize,
    /// The watch.
    pub watch: String,
    /// The line of text in which it stands, without the blanks around it.
    pub sentence: String,
    /// What is written, in base units of its dimension; a plain count as it is.
    pub value: i64,
    /// Its unit; none of a count.
    pub unit: Option<Unit>,
}

/// All limits, in the order of the text.
pub fn limits(sources: &[Source]) -> Vec<Limit> {
    numbers(sources, &|tokens, at| {
        at > 1 && tokens.first().and_then(Token::word).is_some_and(|keyword| WATCHES.contains(&keyword))
    })
}

/// Numbers of statements that have a name, in the order of the text: those that are wanted, by the tokens of the statement and
/// the place among them.
pub fn numbers(sources: &[Source], wanted: &dyn Fn(&[Token], usize) -> bool) -> Vec<Limit> {
    let mut out = Vec::new();
    for (file, source) in (0_u16..).zip(sources) {
        let text = String::from_utf8_lossy(&source.bytes);
        let (statements, _, _) = lex(&text, file);
        for statement in statements {
            let tokens = &statement.tokens;
            let Some(watch) = tokens.get(1).and_then(Token::word) else { continue };
            let all = tokens.iter().enumerate().filter(|(at, _)| wanted(tokens, *at));
            out.extend(all.filter_map(|(_, token)| limit(&text, watch, token)));
        }
    }
    out
}

/// The limit that a token is, if it is a number.
fn limit(text: &str, watch: &str, token: &Token) -> Option<Limit> {
    let TokenKind::Number(mantissa, decimals, unit) = token.kind else { return None };
    let base = unit.map_or(1, Unit::base);
    let scale = 10_i64.pow(u32::from(decimals.min(9)));
    let value = mantissa.checked_mul(base).map(|all| all / scale)?;
    let at = usize::try_from(token.place.start).unwrap_or(usize::MAX);
    let before = text.get(..at).unwrap_or_default();
    let from = before.rfind('\n').map_or(0, |i| i + 1);
    let sentence = text.get(from..).and_then(|rest| rest.lines().next()).unwrap_or_default();
    Some(Limit {
        place: token.place,
        line: before.matches('\n').count() + 1,
        watch: watch.to_string(),
        sentence: sentence.split('#').next().unwrap_or_default().trim().to_string(),
        value,
        unit,
    })
}

impl Limit {
    /// The smallest move that is tried, in base units: a scan, a millimetre, a millimetre in a tenth of a second, a newton, a
    /// tenth of a per cent, one.
    pub fn step(&self, scan_us: u32) -> i64 {
        match self.unit.map(Unit::dimension) {
            Some(Dimension::Time) => i64::from(scan_us).max(1),
            Some(Dimension::Length | Dimension::Current) => 1_000,
            Some(Dimension::Speed | Dimension::Acceleration) => 10_000,
            Some(Dimension::Force) => 1_000_000,
            Some(Dimension::Share) => 100_000,
            None => 1,
        }
    }
    /// It is a speed.
    pub fn is_speed(&self) -> bool {
        self.unit.is_some_and(|unit| unit.dimension() == Dimension::Speed)
    }
    /// A value as it would be written in the unit of this limit.
    pub fn text(&self, value: i64) -> String {
        self.unit.map_or_else(|| value.to_string(), |unit| unit.written(value))
    }
    /// The rule files with this limit at another value.
    pub fn moved(&self, sources: &[Source], value: i64) -> Vec<Source> {
        let mut out = sources.to_vec();
        let range = usize::try_from(self.place.start).ok().zip(usize::try_from(self.place.end).ok());
        if let (Some(source), Some((start, end))) = (out.get_mut(usize::from(self.place.file)), range)
            && start <= end
            && end <= source.bytes.len()
        {
            source.bytes.splice(start..end, self.text(value).into_bytes());
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_found_and_moved() {
        let text = "# 3 m\nguard a\n    when rope faster than 1.25 m/s\n    unbroken for 2 s # 5 s\n    stop s\nstop s category 0\n";
        let sources = vec![Source { path: "a".into(), bytes: text.into() }];
        let all = limits(&sources);
        let said: Vec<(usize, &str, i64)> = all.iter().map(|l| (l.line, l.sentence.as_str(), l.value)).collect();
        assert_eq!(said, [(3, "when rope faster than 1.25 m/s", 1_250_000), (4, "unbroken for 2 s", 2_000_000)]);
        let moved = all.last().map(|limit| limit.moved(&sources, 1_990_000)).unwrap_or_default();
        let moved: String = moved.iter().map(|source| String::from_utf8_lossy(&source.bytes)).collect();
        assert!(moved.contains("unbroken for 1.99 s # 5 s"), "{moved}");
        let first = all.first().map(|limit| [limit.text(-1_500), limit.text(2_000_000)]);
        assert_eq!(first, Some(["-0.0015 m/s".to_string(), "2 m/s".to_string()]));
    }
}
