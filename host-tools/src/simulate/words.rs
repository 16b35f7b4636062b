//! The words of one line of a scenario, taken one after the other.

use super::number::nearest;
use crate::station::Gauge;

/// What is wrong, and what would be right.
pub(super) type Wrong = (String, String);

/// Makes a [`Wrong`].
pub(super) fn wrong<T>(what: impl Into<String>, mend: impl Into<String>) -> Result<T, Wrong> {
    Err((what.into(), mend.into()))
}

/// Units: name, kind, and size in the smallest unit of its kind.
const UNITS: [(&str, char, f64); 16] = [
    ("us", 't', 1.0),
    ("ms", 't', 1e3),
    ("s", 't', 1e6),
    ("min", 't', 6e7),
    ("h", 't', 3.6e9),
    ("mm", 'l', 1.0),
    ("m", 'l', 1e3),
    ("mm/s", 'v', 1.0),
    ("m/s", 'v', 1e3),
    ("mm/s2", 'a', 1.0),
    ("m/s2", 'a', 1e3),
    ("%", 'p', 0.01),
    ("N", 'f', 1.0),
    ("kN", 'f', 1e3),
    ("mA", 'c', 1.0),
    ("uA", 'c', 0.001),
];

/// Kind and size of a unit.
fn unit(name: &str) -> Option<(char, f64)> {
    UNITS.iter().find(|u| u.0 == name).map(|u| (u.1, u.2))
}

/// How a kind is called, with the units it is written in.
fn kind(of: char) -> &'static str {
    match of {
        't' => "a time (ms, s, min, h)",
        'l' => "a length (mm, m)",
        'v' => "a speed (mm/s, m/s)",
        'a' => "an acceleration (mm/s2, m/s2)",
        _ => "a share (%)",
    }
}

/// A decimal number as it may be written.
fn number(word: &str) -> Option<f64> {
    let digits = word.strip_prefix('-').unwrap_or(word);
    let plain = digits.chars().all(|c| c.is_ascii_digit() || c == '.');
    if plain && digits.starts_with(|c: char| c.is_ascii_digit()) { word.parse().ok() } else { None }
}

/// The words that are left of a line.
pub(super) struct Words<'a> {
    words: Vec<&'a str>,
    at: usize,
}

impl<'a> Words<'a> {
    /// Splits a line; commas are blanks.
    pub(super) fn new(line: &'a str) -> Self {
        let words = line.split([' ', '\t', ',']).filter(|w| !w.is_empty()).collect();
        Self { words, at: 0 }
    }
    /// The next word, left where it is.
    pub(super) fn peek(&self) -> Option<&'a str> {
        self.words.get(self.at).copied()
    }
    /// The next word, taken.
    pub(super) fn next(&mut self, what: &str) -> Result<&'a str, Wrong> {
        let word = self.peek();
        self.at += 1;
        word.map_or_else(|| wrong("the line ends too early", format!("write {what} here")), Ok)
    }
    /// Takes these words if they are the next ones.
    pub(super) fn take(&mut self, words: &str) -> bool {
        let end = self.at + words.split(' ').count();
        let same = self.words.get(self.at..end).is_some_and(|w| w.iter().copied().eq(words.split(' ')));
        if same {
            self.at = end;
        }
        same
    }
    /// Takes these words or fails.
    pub(super) fn expect(&mut self, words: &str) -> Result<(), Wrong> {
        if self.take(words) {
            return Ok(());
        }
        let found = self.peek().map_or("the end of the line".to_owned(), |w| format!("`{w}`"));
        wrong(format!("{found} stands where `{words}` is expected"), format!("write `{words}`"))
    }
    /// Nothing may be left.
    pub(super) fn end(&self) -> Result<(), Wrong> {
        match self.peek() {
            None => Ok(()),
            Some(word) => wrong(format!("`{word}` is too much"), "end the line before it, or see manual/scenarios.md"),
        }
    }
    /// A quantity of a kind, in its smallest unit.
    fn quantity(&mut self, of: char) -> Result<f64, Wrong> {
        let word = self.next(kind(of))?;
        let Some(value) = number(word) else {
            return wrong(format!("`{word}` is no number"), format!("write {}", kind(of)));
        };
        let name = self.next(&format!("the unit of {}", kind(of)))?;
        match unit(name) {
            Some((k, size)) if k == of => Ok(value * size),
            _ => wrong(format!("`{word} {name}` is not {}", kind(of)), format!("write {}", kind(of))),
        }
    }
    /// A time in microseconds: one quantity or several in a row, `1 h 20 min`.
    pub(super) fn time(&mut self) -> Result<u64, Wrong> {
        let mut sum = self.quantity('t')?;
        let more = |w: &Self| {
            let unit = w.words.get(w.at + 1).and_then(|u| unit(u)).is_some_and(|u| u.0 == 't');
            unit && w.peek().and_then(number).is_some()
        };
        while more(self) {
            sum += self.quantity('t')?;
        }
        u64::try_from(nearest(sum)).or_else(|_| wrong("a time below zero", "write a time of zero or more"))
    }
    /// A length in mm.
    pub(super) fn length(&mut self) -> Result<f64, Wrong> {
        self.quantity('l')
    }
    /// A speed in mm/s.
    pub(super) fn speed(&mut self) -> Result<f64, Wrong> {
        self.quantity('v')
    }
    /// An acceleration in mm/s².
    pub(super) fn acceleration(&mut self) -> Result<f64, Wrong> {
        let a = self.quantity('a')?;
        if a > 0.0 { Ok(a) } else { wrong("an acceleration of zero", "write one above zero") }
    }
    /// A share: 1.0 is 100 %.
    pub(super) fn share(&mut self) -> Result<f64, Wrong> {
        let share = self.quantity('p')?;
        if (0.0..=1.0).contains(&share) { Ok(share) } else { wrong("a share outside 0 to 100 %", "write one within") }
    }
    /// A duration after `for`, if there is one.
    pub(super) fn lasting(&mut self) -> Result<Option<u64>, Wrong> {
        if self.take("for") { self.time().map(Some) } else { Ok(None) }
    }
    /// A value of a gauge as its number of steps, above step 0 or as a difference.
    pub(super) fn steps(&mut self, gauge: &Gauge, difference: bool) -> Result<f64, Wrong> {
        let mend = || format!("write a value in {}", gauge.unit);
        let word = self.next(&format!("a value in {}", gauge.unit))?;
        let Some(value) = number(word) else {
            return wrong(format!("`{word}` is no number"), mend());
        };
        let name = self.next(&format!("the unit {}", gauge.unit))?;
        let factor = if name == gauge.unit {
            1.0
        } else {
            match (unit(name), unit(&gauge.unit)) {
                (Some(a), Some(b)) if a.0 == b.0 => a.1 / b.1,
                _ => {
                    return wrong(format!("`{word} {name}` is not in the unit of the gauge"), mend());
                }
            }
        };
        let steps = value * factor * 1e6 / super::number::real(gauge.step_micro);
        Ok(if difference { steps } else { steps - super::number::real(gauge.lowest) })
    }
}

/// The name among `names` that is nearest to `word`, as advice.
pub(super) fn nearest_name<'a>(word: &str, names: impl Iterator<Item = &'a str>) -> String {
    let best = names.map(|n| (distance(word, n), n)).min();
    match best {
        Some((far, name)) if far <= 1 + word.len() / 3 => format!("did you mean `{name}`?"),
        Some((_, name)) => format!("write a name from the rule file, such as `{name}`"),
        None => "the rule file declares none".to_owned(),
    }
}

/// Number of letters to change, put in or leave out.
fn distance(a: &str, b: &str) -> usize {
    let mut row: Vec<usize> = (0..=b.chars().count()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        if let Some(first) = row.first_mut() {
            *first = left;
        }
        for (cell, y) in row.iter_mut().skip(1).zip(b.chars()) {
            let above = *cell;
            left = (diagonal + usize::from(x != y)).min(above + 1).min(left + 1);
            diagonal = above;
            *cell = left;
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities() {
        assert_eq!(Words::new("1 h 20 min 0.5 s for").time(), Ok(4_800_500_000));
        assert_eq!(Words::new("3.4 m").length(), Ok(3_400.0));
        assert_eq!(Words::new("-0.3 m/s").speed(), Ok(-300.0));
        assert_eq!(Words::new("8 %").share(), Ok(0.08));
        let (what, mend) = Words::new("3 m").time().unwrap_err();
        assert_eq!(
            (what.as_str(), mend.as_str()),
            ("`3 m` is not a time (ms, s, min, h)", "write a time (ms, s, min, h)")
        );
        assert!(Words::new("nan s").time().is_err());
    }

    #[test]
    fn near_misses() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(nearest_name("arive", ["leave", "arrive"].into_iter()), "did you mean `arrive`?");
    }
}
