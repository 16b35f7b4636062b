//! What stands between fields and within numbers. Loggers of many languages write a decimal comma, and then a semicolon between fields.

use super::fault::{Bad, quoted};

/// Signs that may stand between fields, and what they are called.
const SEPARATORS: [(u8, &str); 3] = [(b',', "comma"), (b';', "semicolon"), (b'\t', "tab")];
/// The same of decimal signs: ISO 80000-1 allows both.
const DECIMAL_SIGNS: [(u8, &str); 2] = [(b'.', "point"), (b',', "comma")];

/// How a file is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Marks {
    /// What stands between two fields.
    pub(super) separator: u8,
    /// What stands before the places of a number.
    pub(super) decimal_sign: u8,
}

impl Default for Marks {
    fn default() -> Self {
        Self { separator: b',', decimal_sign: b'.' }
    }
}

impl Marks {
    /// The separator with this name.
    pub(super) fn separator_called(name: &str) -> Option<u8> {
        called(&SEPARATORS, name)
    }
    /// The decimal sign with this name.
    pub(super) fn decimal_sign_called(name: &str) -> Option<u8> {
        called(&DECIMAL_SIGNS, name)
    }
    /// How a decimal number is written, in words.
    pub(super) fn number(self) -> String {
        let sign = name_of(&DECIMAL_SIGNS, self.decimal_sign);
        format!("a decimal number with a {sign}, without blanks and exponents")
    }
    /// How a field is mended that is no number: where the other decimal sign stands in it, nobody can tell whether it parts thousands.
    pub(super) fn mend(self, field: &[u8], otherwise: &str) -> String {
        match DECIMAL_SIGNS.iter().find(|(sign, _)| *sign != self.decimal_sign && field.contains(sign)) {
            Some((_, name)) => format!(
                "if the {name} is the decimal sign, say `# decimal sign: {name}` at the top or in the mapping; if it parts thousands, leave it out"
            ),
            None => otherwise.to_owned(),
        }
    }
    /// A header row that is a single field is none where another separator stands in it.
    pub(super) fn part(self, only: &[u8]) -> Result<(), Bad> {
        let other = SEPARATORS.iter().find(|(sign, _)| *sign != self.separator && only.contains(sign));
        let Some((_, name)) = other else { return Ok(()) };
        let own = name_of(&SEPARATORS, self.separator);
        Err(Bad::new(
            format!("the header row is a single field, {}, with a {name} in it", quoted(only)),
            format!("a {own} between fields"),
            format!("if the {name} stands between fields, say `# separator: {name}` at the top or in the mapping"),
        ))
    }
}

fn called(all: &[(u8, &str)], name: &str) -> Option<u8> {
    all.iter().find(|(_, known)| *known == name).map(|(sign, _)| *sign)
}

fn name_of<'n>(all: &[(u8, &'n str)], sign: u8) -> &'n str {
    all.iter().find(|(known, _)| *known == sign).map_or("sign", |(_, name)| *name)
}

/// Bytes at the beginning of a file that only say that it is UTF-8.
///
/// # Errors
/// They say that it is UTF-16.
pub(super) fn byte_order_mark(first: &[u8]) -> Result<usize, Bad> {
    match first {
        [0xef, 0xbb, 0xbf, ..] => Ok(3),
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => {
            Err(Bad::new("this file is UTF-16, by its first bytes", "text in UTF-8", "export or save it as UTF-8"))
        }
        _ => Ok(0),
    }
}
