//! The pieces that a line is made of.

use super::TokenKind;
use nom::branch::alt;
use nom::bytes::complete::{tag, take_till, take_while, take_while1};
use nom::character::complete::{char, satisfy};
use nom::combinator::{opt, recognize};
use nom::sequence::{delimited, pair, preceded};
use nom::{IResult, Parser};

type Found<'a, T> = IResult<&'a str, T>;

pub(super) fn word(input: &str) -> Found<'_, TokenKind> {
    let rest = take_while(|c: char| c.is_ascii_alphanumeric() || c == '-');
    let lower = recognize(pair(satisfy(|c| c.is_ascii_lowercase()), rest)).map(|w: &str| TokenKind::Word(w.to_owned()));
    let rest = take_while(|c: char| c.is_ascii_alphanumeric() || c == '-');
    let upper =
        recognize(pair(satisfy(|c| c.is_ascii_uppercase()), rest)).map(|w: &str| TokenKind::Capital(w.to_owned()));
    alt((lower, upper)).parse(input)
}

/// The digits of a number, with its sign, before and after the point.
pub(super) fn digits(input: &str) -> Found<'_, (bool, &str, &str)> {
    let ten = |c: char| c.is_ascii_digit();
    let (input, sign) = opt(char('-')).parse(input)?;
    let (input, whole) = take_while1(ten).parse(input)?;
    let (input, part) = opt(preceded(char('.'), take_while1(ten))).parse(input)?;
    Ok((input, (sign.is_some(), whole, part.unwrap_or(""))))
}

pub(super) fn unit(input: &str) -> Found<'_, &str> {
    let letters = take_while1(|c: char| c.is_ascii_alphabetic());
    let per = recognize(pair(char('/'), take_while1(|c: char| c.is_ascii_alphanumeric())));
    // A line break is a blank like any other, unless the next line begins in column 0.
    let line = recognize((opt(char('\r')), char('\n'), char(' ')));
    let spaces = (take_while(|c| c == ' '), opt(line), take_while(|c| c == ' '));
    preceded(spaces, alt((tag("%"), recognize(pair(letters, opt(per)))))).parse(input)
}

pub(super) fn title(input: &str) -> Found<'_, &str> {
    delimited(char('"'), take_till(|c| c == '"' || c == '\n'), char('"')).parse(input)
}

pub(super) fn mark(input: &str) -> Found<'_, TokenKind> {
    let mark = satisfy(|c| matches!(c, ',' | '(' | ')'));
    mark.map(|c| match c {
        ',' => TokenKind::Comma,
        '(' => TokenKind::Open,
        _ => TokenKind::Close,
    })
    .parse(input)
}

/// Within a line, a carriage return hides what stands before it.
pub(crate) fn hidden_or_return(c: char) -> bool {
    c == '\r' || hidden(c)
}

/// Characters that a reviewer cannot see, or that change what he sees.
fn hidden(c: char) -> bool {
    match c {
        '\n' | '\r' => false,
        // Soft hyphen, Mongolian separator, blanks without width, joiners, byte order mark.
        '\u{ad}' | '\u{180e}' | '\u{200b}'..='\u{200d}' | '\u{2060}'..='\u{2065}' | '\u{feff}' => true,
        // Marks of direction.
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{206f}' => true,
        // Breaks that an editor may show as a new line, in which a comment would seem to have ended.
        '\u{2028}' | '\u{2029}' => true,
        // Notes between lines, and tags.
        '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e0fff}' => true,
        c => c.is_control(),
    }
}

#[cfg(test)]
mod tests {
    use super::hidden;

    #[test]
    fn what_cannot_be_seen_is_hidden_and_letters_are_not() {
        for c in "\t\0\u{b}\u{7f}\u{85}\u{ad}\u{61c}\u{200b}\u{200f}\u{2028}\u{202e}\u{2065}\u{2069}\u{feff}\u{e0041}"
            .chars()
        {
            assert!(hidden(c), "{c:?}");
        }
        for c in "a Z-9é漢\u{a0}°\u{2019}\u{1f6a1}\n".chars() {
            assert!(!hidden(c), "{c:?}");
        }
    }
}
