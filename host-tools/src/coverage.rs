//! Published lists of functions that must stop a lift, against the requirements of a station.
//!
//! A list is a plain text file (`manual/coverage.md`). That an entry is answered says that somebody wrote so at a requirement;
//! whether the requirement is what the list means is for the reviewer and the competent authority.

use crate::station::{Excuse, Station};
use nom::branch::alt;
use nom::bytes::complete::{tag, take_till, take_while1};
use nom::character::complete::{char, space0, space1};
use nom::combinator::all_consuming;
use nom::sequence::{delimited, preceded, separated_pair, terminated};
use nom::{IResult, Parser};

/// The list that is compiled in: `lists/order-2009.list`.
pub const ORDER_2009: &str = include_str!("../lists/order-2009.list");

/// A published list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct List {
    /// What it is a list of.
    pub title: String,
    /// Where it was published.
    pub source: String,
    /// Its entries, in order.
    pub entries: Vec<Item>,
}

/// An entry of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// Its name, as rule files use it.
    pub name: String,
    /// What it asks.
    pub text: String,
}

/// Why a text is no list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unlisted {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong there, and what would be right.
    pub what: String,
}

/// A line of a list.
enum Line<'t> {
    Title(&'t str),
    Source(&'t str),
    Entry(&'t str, &'t str),
}

fn quoted(text: &str) -> IResult<&str, &str> {
    delimited(char('"'), take_till(|c| c == '"'), char('"')).parse(text)
}

fn line(text: &str) -> IResult<&str, Line<'_>> {
    let name = take_while1(|c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    let statement = alt((
        preceded((tag("list"), space1), quoted).map(Line::Title),
        preceded((tag("from"), space1), quoted).map(Line::Source),
        preceded((tag("entry"), space1), separated_pair(name, space1, quoted))
            .map(|(name, text)| Line::Entry(name, text)),
    ));
    all_consuming(terminated(statement, space0)).parse(text)
}

/// Reads a list.
///
/// # Errors
/// Every line that is none of `list "TITLE"`, `from "SOURCE"` and `entry NAME "TEXT"`, stands twice, or is missing.
pub fn read(text: &str) -> Result<List, Vec<Unlisted>> {
    let mut list = List { title: String::new(), source: String::new(), entries: Vec::new() };
    let mut wrong = Vec::new();
    for (at, written) in text.lines().enumerate() {
        let mut refuse = |what: String| wrong.push(Unlisted { line: at + 1, what });
        let written = written.trim_end();
        if written.is_empty() || written.starts_with('#') {
            continue;
        }
        match line(written) {
            Ok((_, Line::Title(title))) if list.title.is_empty() && !title.is_empty() => {
                title.clone_into(&mut list.title);
            }
            Ok((_, Line::Source(source))) if list.source.is_empty() && !source.is_empty() => {
                source.clone_into(&mut list.source);
            }
            Ok((_, Line::Title(_) | Line::Source(_))) => refuse("it stands twice, or says nothing".into()),
            Ok((_, Line::Entry(name, _))) if list.entries.iter().any(|entry| entry.name == name) => {
                refuse(format!("there is an entry {name} already"));
            }
            Ok((_, Line::Entry(name, text))) => {
                list.entries.push(Item { name: name.to_owned(), text: text.to_owned() });
            }
            Err(_) => refuse("'list \"TITLE\"', 'from \"SOURCE\"' or 'entry NAME \"TEXT\"' is expected".into()),
        }
    }
    for (missing, what) in [(list.title.is_empty(), "list \"TITLE\""), (list.source.is_empty(), "from \"SOURCE\"")] {
        if missing {
            wrong.push(Unlisted { line: 1, what: format!("there is no '{what}'") });
        }
    }
    if wrong.is_empty() { Ok(list) } else { Err(wrong) }
}

/// What a rule file says of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Covered<'c> {
    /// The entry.
    pub item: &'c Item,
    /// Indices of the requirements that answer it.
    pub by: Vec<usize>,
    /// Why none does, in words of the rule file.
    pub excuses: Vec<&'c Excuse>,
}

impl Covered<'_> {
    /// Nothing is said of it.
    pub fn is_open(&self) -> bool {
        self.by.is_empty() && self.excuses.is_empty()
    }
    /// It is said to be answered and not to be.
    pub fn is_torn(&self) -> bool {
        !self.by.is_empty() && self.excuses.iter().any(|excuse| matches!(excuse, Excuse::NotApplicable(_)))
            || self.excuses.len() > 1
    }
}

/// A list against a station.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Coverage<'c> {
    /// Its entries, in order.
    pub entries: Vec<Covered<'c>>,
    /// Names in the rule file that the list does not have.
    pub unknown: Vec<&'c str>,
}

/// Holds a list against a station.
pub fn coverage<'c>(station: &'c Station, list: &'c List) -> Coverage<'c> {
    let entries = list.entries.iter().map(|item| {
        let answers = |i: &usize| {
            station.requirements.get(*i).is_some_and(|r| r.answers.iter().any(|name| name.text == item.name))
        };
        let by = (0..station.requirements.len()).filter(answers).collect();
        let excuses = station.entries.iter().filter(|entry| entry.name.text == item.name);
        Covered { item, by, excuses: excuses.map(|entry| &entry.excuse).collect() }
    });
    let named =
        station.requirements.iter().flat_map(|r| &r.answers).chain(station.entries.iter().map(|entry| &entry.name));
    let unknown =
        named.map(|name| name.text.as_str()).filter(|name| list.entries.iter().all(|item| item.name != *name));
    Coverage { entries: entries.collect(), unknown: unknown.collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::demo_station;

    #[test]
    fn the_list_that_is_compiled_in_is_one() {
        let list = read(ORDER_2009).unwrap();
        // Eighteen functions of table 3, five of table 4, five of the articles.
        assert_eq!(list.entries.len(), 18 + 5 + 5);
    }

    #[test]
    fn all_that_is_wrong_with_a_list_is_told() {
        let wrong = read("list \"a\"\nentry B \"b\"\nentry c \"c\"\nentry c \"d\"\nlist \"e\"\n").unwrap_err();
        assert_eq!(wrong.iter().map(|wrong| wrong.line).collect::<Vec<_>>(), [2, 4, 5, 1]);
    }

    #[test]
    fn the_demo_says_something_of_every_entry() {
        let list = read(ORDER_2009).unwrap();
        for kind in ["drive", "return"] {
            let station = demo_station(kind);
            let coverage = coverage(&station, &list);
            let open: Vec<&str> =
                coverage.entries.iter().filter(|c| c.is_open()).map(|c| c.item.name.as_str()).collect();
            assert_eq!((open, coverage.unknown), (vec![], vec![]), "{kind}");
            assert!(coverage.entries.iter().all(|covered| !covered.is_torn()));
        }
    }
}
