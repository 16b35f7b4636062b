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
    /// What stands between fields must be known before any of them is read, and the decimal sign must not be guessed.
    pub(super) fn of_lines(separator: Option<u8>, decimal_sign: Option<u8>) -> Result<Self, Bad> {
        let otherwise = Self::default();
        let separator = separator.unwrap_or(otherwise.separator);
        let name = name_of(&SEPARATORS, separator);
        if decimal_sign.is_none() && separator != otherwise.separator {
            return Err(Bad::new(
                format!("a {name} stands between fields, and nothing says what the decimal sign is"),
                "`# decimal sign: point` or `# decimal sign: comma`",
                "look at the numbers in a row, and say it at the top or in the mapping",
            ));
        }
        let decimal_sign = decimal_sign.unwrap_or(otherwise.decimal_sign);
        if decimal_sign == separator {
            return Err(Bad::new(
                format!("a {name} is to stand between fields and in numbers"),
                "two signs, so that each says one thing",
                "export the recording with a semicolon between fields, and say `# separator: semicolon`",
            ));
        }
        Ok(Self { separator, decimal_sign })
    }
    /// The header row is none of a file whose fields are separated by something else.
    pub(super) fn part<'f>(self, fields: &(impl Iterator<Item = &'f [u8]> + Clone)) -> Result<(), Bad> {
        let own = name_of(&SEPARATORS, self.separator);
        let first = fields.clone().next().unwrap_or_default();
        if first.starts_with(b"sep=") {
            return Err(Bad::new(
                format!("{} stands where the header row must", quoted(first)),
                "the header row",
                "remove this line: `# separator:`, at the top or in the mapping, says the same",
            ));
        }
        let others = SEPARATORS.iter().filter(|(sign, _)| *sign != self.separator);
        for (sign, name) in others {
            let count = fields.clone().flatten().filter(|byte| *byte == sign).count();
            if count >= fields.clone().count() {
                return Err(Bad::new(
                    format!(
                        "the header row begins with {}: a {name} stands there more often than a {own}",
                        quoted(first)
                    ),
                    format!("a {own} between fields"),
                    format!(
                        "if the {name} stands between fields, say `# separator: {name}` at the top or in the mapping"
                    ),
                ));
            }
        }
        Ok(())
    }
}

/// How a field is mended that is no number: where the other decimal sign stands in it, nobody can tell whether it parts thousands.
pub(super) fn mend(decimal_sign: u8, field: &[u8], otherwise: &str) -> String {
    match DECIMAL_SIGNS.iter().find(|(sign, _)| *sign != decimal_sign && field.contains(sign)) {
        Some((_, name)) => format!(
            "if the {name} is the decimal sign, say `# decimal sign: {name}` at the top or in the mapping; if it parts thousands, leave it out"
        ),
        None => otherwise.to_owned(),
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
