//! Lemmas: statements about the cells of state, with a text that people read and the checker parses.
//!
//! `when A and B then C or D`, where each part is `cell`, `not cell`, `sum <= sum` or `sum = sum`, and a
//! sum is cells and a number joined by `+`; a bit counts as 0 or 1, `cell without cell` as 1 where the first holds
//! and the second does not. Arithmetic is exact.

use logic_rules::Algebra;
use std::collections::HashMap;

/// Number of a cell.
pub type CellId = usize;

/// Cells and a number, added up.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Sum {
    /// Cells.
    pub cells: Vec<CellId>,
    /// Pairs of bits that count where the first holds without the second.
    pub gaps: Vec<(CellId, CellId)>,
    /// Number.
    pub plus: u32,
}

impl Sum {
    /// One cell.
    pub fn cell(cell: CellId) -> Self {
        Self { cells: vec![cell], ..Self::default() }
    }
    /// A number.
    pub fn number(plus: u32) -> Self {
        Self { plus, ..Self::default() }
    }
    /// Several cells.
    pub fn of(cells: &[CellId]) -> Self {
        Self { cells: cells.to_vec(), ..Self::default() }
    }
    /// With another cell.
    #[must_use]
    pub fn and(mut self, cell: CellId) -> Self {
        self.cells.push(cell);
        self
    }
    /// 1 where a bit holds and another does not.
    pub fn gap(holds: CellId, without: CellId) -> Self {
        Self { gaps: vec![(holds, without)], ..Self::default() }
    }
    /// With all of another sum.
    #[must_use]
    pub fn with(mut self, other: &Self) -> Self {
        self.cells.extend(&other.cells);
        self.gaps.extend(&other.gaps);
        self.plus(other.plus)
    }
    /// With a number.
    #[must_use]
    pub fn plus(mut self, plus: u32) -> Self {
        self.plus = self.plus.saturating_add(plus);
        self
    }
}

/// A part of a lemma.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Claim {
    /// A bit holds.
    Is(CellId),
    /// A bit does not hold.
    Not(CellId),
    /// The first is at most the second.
    AtMost(Sum, Sum),
    /// Both are the same.
    Same(Sum, Sum),
}

/// All of `when` imply one of `then`.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Lemma {
    /// Conditions.
    pub when: Vec<Claim>,
    /// What one of must hold.
    pub then: Vec<Claim>,
}

/// A cell in some reading.
#[derive(Clone, Copy)]
pub enum Value<A: Algebra> {
    /// A bit.
    Bit(A::Bit),
    /// A word.
    Word(A::Word),
}

impl Lemma {
    /// A lemma without conditions.
    pub fn always(then: Claim) -> Self {
        Self { when: Vec::new(), then: vec![then] }
    }
    /// A lemma with conditions.
    pub fn when(when: &[Claim], then: &[Claim]) -> Self {
        Self { when: when.to_vec(), then: then.to_vec() }
    }
    /// It says the same of the same cells, whatever the numbers.
    pub fn is_like(&self, other: &Self) -> bool {
        let like = |ours: &[Claim], theirs: &[Claim]| {
            ours.len() == theirs.len() && ours.iter().zip(theirs).all(|(ours, theirs)| ours.is_like(theirs))
        };
        like(&self.when, &other.when) && like(&self.then, &other.then)
    }
    /// Its text.
    pub fn text(&self, name: &dyn Fn(CellId) -> String) -> String {
        let join =
            |claims: &[Claim], with: &str| claims.iter().map(|claim| claim.text(name)).collect::<Vec<_>>().join(with);
        let then = join(&self.then, " or ");
        if self.when.is_empty() { then } else { format!("when {} then {then}", join(&self.when, " and ")) }
    }
    /// Reads a text.
    ///
    /// # Errors
    /// What could not be read.
    pub fn parse(text: &str, cells: &HashMap<String, CellId>) -> Result<Self, String> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let part = |words: &[&str], between: &str| {
            let parts = words.split(|word| *word == between);
            parts.map(|part| Claim::parse(part, cells)).collect::<Result<Vec<_>, _>>()
        };
        match words.split_first() {
            Some((&"when", rest)) => {
                let mut halves = rest.splitn(2, |word| *word == "then");
                let (when, then) = (halves.next().unwrap_or_default(), halves.next().ok_or("`then` is missing")?);
                Ok(Self { when: part(when, "and")?, then: part(then, "or")? })
            }
            Some(_) => Ok(Self { when: Vec::new(), then: part(&words, "or")? }),
            None => Err("an empty lemma".into()),
        }
    }
    /// Whether it holds, in any reading.
    pub fn holds<A: Algebra>(&self, a: &mut A, cell: &dyn Fn(CellId) -> Option<Value<A>>) -> A::Bit {
        let mut holds = a.bit(false);
        for claim in &self.when {
            let given = claim.holds(a, cell);
            let not = a.not(given);
            holds = a.or(holds, not);
        }
        for claim in &self.then {
            let so = claim.holds(a, cell);
            holds = a.or(holds, so);
        }
        holds
    }
}

impl Claim {
    /// A word or bit is at most a number.
    pub fn below(cell: CellId, most: u32) -> Self {
        Self::AtMost(Sum::cell(cell), Sum::number(most))
    }
    /// A word or bit is at least a number.
    pub fn from(cell: CellId, least: u32) -> Self {
        Self::AtMost(Sum::number(least), Sum::cell(cell))
    }
    fn is_like(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::AtMost(a, b), Self::AtMost(x, y)) | (Self::Same(a, b), Self::Same(x, y)) => {
                a.is_like(x) && b.is_like(y)
            }
            _ => self == other,
        }
    }
    fn text(&self, name: &dyn Fn(CellId) -> String) -> String {
        let sum = |sum: &Sum| {
            let mut parts: Vec<String> = sum.cells.iter().map(|&cell| name(cell)).collect();
            parts.extend(sum.gaps.iter().map(|&(holds, other)| format!("{} without {}", name(holds), name(other))));
            if sum.plus > 0 || parts.is_empty() {
                parts.push(sum.plus.to_string());
            }
            parts.join(" + ")
        };
        match self {
            Self::Is(cell) => name(*cell),
            Self::Not(cell) => format!("not {}", name(*cell)),
            Self::AtMost(x, y) => format!("{} <= {}", sum(x), sum(y)),
            Self::Same(x, y) => format!("{} = {}", sum(x), sum(y)),
        }
    }
    fn parse(words: &[&str], cells: &HashMap<String, CellId>) -> Result<Self, String> {
        let cell = |name: &str| cells.get(name).copied().ok_or_else(|| format!("no cell is called `{name}`"));
        let sum = |words: &[&str]| {
            let mut sum = Sum::default();
            for part in words.split(|word| *word == "+") {
                match part {
                    [one] => match one.parse::<u32>() {
                        Ok(number) => sum = sum.plus(number),
                        Err(_) => sum.cells.push(cell(one)?),
                    },
                    [holds, "without", other] => sum.gaps.push((cell(holds)?, cell(other)?)),
                    _ => return Err(format!("`{}` is not a sum", words.join(" "))),
                }
            }
            Ok(sum)
        };
        match words {
            [one] => Ok(Self::Is(cell(one)?)),
            ["not", one] => Ok(Self::Not(cell(one)?)),
            _ => {
                let at = words.iter().position(|word| matches!(*word, "<=" | "="));
                let (x, y) = at.and_then(|at| words.split_at_checked(at)).ok_or_else(|| words.join(" "))?;
                let (sign, y) = y.split_first().ok_or("a comparison without a sign")?;
                let (x, y) = (sum(x)?, sum(y)?);
                Ok(if *sign == "=" { Self::Same(x, y) } else { Self::AtMost(x, y) })
            }
        }
    }
    fn holds<A: Algebra>(&self, a: &mut A, cell: &dyn Fn(CellId) -> Option<Value<A>>) -> A::Bit {
        match self {
            Self::Is(id) => bit(a, cell, *id),
            Self::Not(id) => {
                let is = bit(a, cell, *id);
                a.not(is)
            }
            Self::AtMost(x, y) => {
                let (x, y) = (x.value(a, cell), y.value(a, cell));
                a.at_most(x, y)
            }
            Self::Same(x, y) => {
                let (x, y) = (x.value(a, cell), y.value(a, cell));
                let (under, over) = (a.at_most(x, y), a.at_most(y, x));
                a.and(under, over)
            }
        }
    }
}

fn bit<A: Algebra>(a: &mut A, cell: &dyn Fn(CellId) -> Option<Value<A>>, id: CellId) -> A::Bit {
    match cell(id) {
        Some(Value::Bit(bit)) => bit,
        Some(Value::Word(word)) => a.at_least(word, 1),
        None => a.bit(false),
    }
}

impl Sum {
    fn is_like(&self, other: &Self) -> bool {
        self.cells == other.cells && self.gaps == other.gaps
    }
    fn value<A: Algebra>(&self, a: &mut A, cell: &dyn Fn(CellId) -> Option<Value<A>>) -> A::Word {
        let mut sum = a.word(self.plus);
        for &id in &self.cells {
            let one = match cell(id) {
                Some(Value::Word(word)) => word,
                Some(Value::Bit(bit)) => {
                    let (mut word, one) = (a.word(0), a.word(1));
                    a.set_word(bit, &mut word, one);
                    word
                }
                None => a.word(0),
            };
            sum = a.add(sum, one, u32::MAX);
        }
        for &(holds, other) in &self.gaps {
            let (holds, other) = (bit(a, cell, holds), bit(a, cell, other));
            let (gap, mut word, one) = (a.but(holds, other), a.word(0), a.word(1));
            a.set_word(gap, &mut word, one);
            sum = a.add(sum, word, u32::MAX);
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use logic_rules::Plain;

    #[test]
    fn a_lemma_is_read_as_it_is_written() {
        let names = ["a.taken", "raw:b.age", "c"];
        let cells: HashMap<String, CellId> = names.iter().enumerate().map(|(i, n)| (n.to_string(), i)).collect();
        let lemma = Lemma::when(
            &[Claim::Is(0), Claim::Not(2)],
            &[
                Claim::AtMost(Sum::of(&[1, 0]).with(&Sum::gap(0, 2)).plus(3), Sum::cell(2)),
                Claim::Same(Sum::cell(1), Sum::number(0)),
            ],
        );
        let text = lemma.text(&|id| names[id].to_string());
        assert_eq!(
            text,
            "when a.taken and not c then raw:b.age + a.taken + a.taken without c + 3 <= c or raw:b.age = 0"
        );
        assert_eq!(Lemma::parse(&text, &cells), Ok(lemma.clone()));
        let holds = |bit, word, third| {
            let values = [Value::Bit(bit), Value::Word(word), Value::Word(third)];
            lemma.holds(&mut Plain, &|id| values.get(id).copied())
        };
        assert!(holds(false, 9, 0));
        assert!(holds(true, 0, 0));
        assert!(!holds(true, 9, 0));
        assert!(Lemma::parse("when a.taken then", &cells).is_err());
        assert!(Lemma::parse("nobody <= 3", &cells).is_err());
    }
}
