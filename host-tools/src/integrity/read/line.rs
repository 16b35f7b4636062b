//! A line of the file as words, numbers and quoted texts, taken one after the other.

use crate::integrity::fault::Fault;
use crate::integrity::form::Place;
use crate::text::lex::hidden_or_return;

/// A bound as people write it.
fn short(bound: f64) -> String {
    if bound.abs() >= 1e6 || (bound > 0.0 && bound < 1e-3) { format!("{bound:e}") } else { bound.to_string() }
}

/// A line that is being taken apart.
pub(super) struct Line<'t> {
    tokens: Vec<(&'t str, Place)>,
    next: usize,
    end: usize,
    form: &'static str,
}

impl<'t> Line<'t> {
    /// The words of a line that begins at this byte of the text; a comment is passed over.
    pub(super) fn split(written: &'t str, from: usize, text: &'t str) -> Result<Self, Fault> {
        let body = written.trim_end_matches(['\n', '\r']);
        if let Some((at, c)) = body.char_indices().find(|(_, c)| *c != '\t' && hidden_or_return(*c)) {
            return Err(Fault {
                at: from + at..from + at + c.len_utf8(),
                what: format!("U+{:04X} cannot be seen here, or changes how the line is seen", u32::from(c)),
                expected: "characters that can be seen".into(),
                mend: "take it out".into(),
            });
        }
        let mut tokens = Vec::new();
        let mut at = 0;
        while let Some(rest) = written.get(at..).filter(|rest| !rest.is_empty()) {
            let first = rest.chars().next().unwrap_or(' ');
            let length = match first {
                '#' => break,
                ',' => 1,
                '"' => match rest.get(1..).and_then(|rest| rest.find(['"', '\n'])) {
                    Some(end) if rest.as_bytes().get(end + 1) == Some(&b'"') => end + 2,
                    _ => {
                        return Err(Fault {
                            at: from + at..from + written.trim_end().len(),
                            what: "a text is not closed".into(),
                            expected: "a closing \" in the same line".into(),
                            mend: "write the text between two \"".into(),
                        });
                    }
                },
                space if space.is_whitespace() => {
                    at += space.len_utf8();
                    continue;
                }
                _ => rest.find(|c: char| c.is_whitespace() || matches!(c, ',' | '"' | '#')).unwrap_or(rest.len()),
            };
            tokens.push((rest.get(..length).unwrap_or_default(), from + at..from + at + length));
            at += length;
        }
        let end = tokens.last().map_or(from, |(_, place)| place.end).min(text.len());
        Ok(Self { tokens, next: 0, end, form: "a statement" })
    }
    pub(super) fn is_empty(&self) -> bool {
        self.tokens.is_empty()
    }
    /// How the statement of this line is written, for what is said about it.
    pub(super) fn is_written(&mut self, form: &'static str) {
        self.form = form;
    }

    fn peek(&self) -> (&'t str, Place) {
        self.tokens.get(self.next).cloned().unwrap_or(("", self.end..self.end))
    }
    fn wrong(&self, expected: impl Into<String>) -> Fault {
        let (found, at) = self.peek();
        let what =
            if found.is_empty() { "the line ends too early".into() } else { format!("`{found}` cannot stand here") };
        Fault { at, what, expected: expected.into(), mend: format!("write it so: {}", self.form) }
    }

    /// The first word.
    pub(super) fn keyword(&mut self) -> Result<(&'t str, Place), Fault> {
        let taken = self.peek();
        if taken.0.starts_with(['"', ',']) {
            return Err(self.wrong("a statement"));
        }
        self.next += 1;
        Ok(taken)
    }
    pub(super) fn next_is(&self, word: &str) -> bool {
        self.peek().0 == word
    }
    /// One of these words.
    pub(super) fn one_of(&mut self, words: &[&'static str]) -> Result<&'static str, Fault> {
        let found = self.peek().0;
        let Some(word) = words.iter().find(|word| **word == found) else {
            return Err(self.wrong(words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(" or ")));
        };
        self.next += 1;
        Ok(word)
    }
    pub(super) fn word(&mut self, word: &'static str) -> Result<(), Fault> {
        self.one_of(&[word]).map(|_| ())
    }
    pub(super) fn words(&mut self, words: &[&'static str]) -> Result<(), Fault> {
        words.iter().try_for_each(|word| self.word(word))
    }
    /// Whether this word follows; else the line must end.
    pub(super) fn goes_on(&mut self, word: &'static str) -> Result<bool, Fault> {
        if self.next_is(word) { self.word(word).map(|()| true) } else { self.end().map(|()| false) }
    }
    /// Nothing may follow.
    pub(super) fn end(&self) -> Result<(), Fault> {
        if self.next < self.tokens.len() { Err(self.wrong("the end of the line")) } else { Ok(()) }
    }
    /// A quoted text that says something.
    pub(super) fn text(&mut self) -> Result<String, Fault> {
        let inside = self.peek().0.strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
        let Some(text) = inside.filter(|text| !text.trim().is_empty() && !text.chars().any(char::is_control)) else {
            return Err(self.wrong("a text between two \""));
        };
        self.next += 1;
        Ok(text.to_owned())
    }
    /// A name, and where it stands.
    pub(super) fn name(&mut self, what: &str) -> Result<(String, Place), Fault> {
        let (found, place) = self.peek();
        let good = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '_');
        if !found.starts_with(|c: char| c.is_ascii_alphabetic()) || !found.chars().all(good) {
            return Err(self.wrong(format!("{what}: letters, digits, `-`, `.` and `_`")));
        }
        self.next += 1;
        Ok((found.to_owned(), place))
    }
    /// A number, both ends included.
    pub(super) fn number(&mut self, least: f64, greatest: f64) -> Result<f64, Fault> {
        let found = self.peek().0;
        // Neither infinity nor "not a number" is written with these.
        let digits = found.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | 'e' | 'E' | '-' | '+'));
        let number = found.parse().ok().filter(|number: &f64| digits && (least..=greatest).contains(number));
        let number =
            number.ok_or_else(|| self.wrong(format!("a number from {} to {}", short(least), short(greatest))))?;
        self.next += 1;
        Ok(number)
    }
    /// A whole number.
    pub(super) fn whole(&mut self, greatest: u32) -> Result<u32, Fault> {
        let number = self.peek().0.parse().ok().filter(|number| *number <= greatest);
        let number = number.ok_or_else(|| self.wrong(format!("a whole number from 0 to {greatest}")))?;
        self.next += 1;
        Ok(number)
    }
    /// A share in per cent, as 0 to 1.
    pub(super) fn share(&mut self) -> Result<f64, Fault> {
        let share = self.number(0.0, 100.0)?;
        self.word("%")?;
        Ok(share / 100.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &str) -> Vec<&str> {
        Line::split(text, 0, text).unwrap().tokens.into_iter().map(|(word, _)| word).collect()
    }

    #[test]
    fn a_line_is_its_words() {
        assert_eq!(words("a\t1e-6 %, \"b, # c\"d # e\r\n"), ["a", "1e-6", "%", ",", "\"b, # c\"", "d"]);
        assert_eq!(words("# nothing\n"), [""; 0]);
        for (text, at) in [("a \"b", 2..4), ("a \"", 2..3), ("a # \u{202e}", 4..7), ("a\rb", 1..2)] {
            assert_eq!(Line::split(text, 0, text).err().map(|fault| fault.at), Some(at), "{text:?}");
        }
    }

    #[test]
    fn a_number_is_one_in_its_range() {
        let number = |text: &str| Line::split(text, 0, text).unwrap().number(1e-3, 24.0).ok();
        assert_eq!(number("2.4e1"), Some(24.0));
        for text in ["24.1", "0", "-1", "inf", "NaN", "1e999", "0x1", "\u{661}", ""] {
            assert_eq!(number(text), None, "{text}");
        }
    }
}
