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
    let lower = recognize(pair(satisfy(|c| c.is_ascii_lowercase()), rest))
        .map(|w: &str| TokenKind::Word(w.to_owned()));
    let rest = take_while(|c: char| c.is_ascii_alphanumeric() || c == '-');
    let upper = recognize(pair(satisfy(|c| c.is_ascii_uppercase()), rest))
        .map(|w: &str| TokenKind::Capital(w.to_owned()));
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
    let per = recognize(pair(
        char('/'),
        take_while1(|c: char| c.is_ascii_alphanumeric()),
    ));
    // A line break is a blank like any other, unless the next line begins in column 0.
    let line = recognize((opt(char('\r')), char('\n'), char(' ')));
    let spaces = (
        take_while(|c| c == ' '),
        opt(line),
        take_while(|c| c == ' '),
    );
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
pub(super) fn hidden_or_return(c: char) -> bool {
    c == '\r' || hidden(c)
}

/// Characters that a reviewer cannot see, or that change what he sees.
fn hidden(c: char) -> bool {
    c != '\n'
        && c != '\r'
        && (c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}'))
}
