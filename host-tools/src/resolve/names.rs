//! Names: what each one is, where it was declared, and whether anything speaks of it.

use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::parse::near;
use crate::text::place::Place;
use crate::text::tree::Word;
use std::collections::BTreeMap;

/// What a name can stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Sort {
    Mode,
    Output,
    Slow,
    Stop,
    Contact,
    Pair,
    Detector,
    Gauge,
    Pace,
    Link,
    Key,
    Guard,
    Travel,
    Measure,
    Spacing,
    Agree,
    Confirm,
    Exercise,
    Count,
    Bypass,
    Hazard,
    Requirement,
    Assumption,
    Lane,
}

/// Every kind of input.
pub(super) const INPUTS: &[Sort] =
    &[Sort::Contact, Sort::Pair, Sort::Detector, Sort::Gauge, Sort::Pace, Sort::Link, Sort::Key];
/// Every kind of watch.
pub(super) const WATCHES: &[Sort] =
    &[Sort::Guard, Sort::Travel, Sort::Measure, Sort::Spacing, Sort::Agree, Sort::Confirm, Sort::Exercise, Sort::Count];

impl Sort {
    /// With its article.
    pub(super) fn text(self) -> &'static str {
        match self {
            Sort::Mode => "a mode",
            Sort::Output => "an output",
            Sort::Slow => "a slow order",
            Sort::Stop => "a stop",
            Sort::Contact => "a contact",
            Sort::Pair => "a pair",
            Sort::Detector => "a detector",
            Sort::Gauge => "a gauge",
            Sort::Pace => "a pace",
            Sort::Link => "a link",
            Sort::Key => "a key",
            Sort::Guard => "a guard",
            Sort::Travel => "a travel",
            Sort::Measure => "a measure",
            Sort::Spacing => "a spacing",
            Sort::Agree => "an agree",
            Sort::Confirm => "a confirm",
            Sort::Exercise => "an exercise",
            Sort::Count => "a count",
            Sort::Bypass => "a bypass",
            Sort::Hazard => "a hazard",
            Sort::Requirement => "a requirement",
            Sort::Assumption => "an assumption",
            Sort::Lane => "a lane",
        }
    }
}

/// "a contact, a pair or a key".
pub(super) fn any_of(sorts: &[Sort]) -> String {
    if sorts == INPUTS {
        return "an input".to_owned();
    }
    if sorts == WATCHES {
        return "a watch".to_owned();
    }
    let mut text = String::new();
    for (i, sort) in sorts.iter().enumerate() {
        let joint = match i {
            0 => "",
            _ if i + 1 == sorts.len() => " or ",
            _ => ", ",
        };
        text.push_str(joint);
        text.push_str(sort.text());
    }
    text
}

/// A declared name.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// What it is.
    pub(super) sort: Sort,
    /// Its index among its like (inputs and watches: among all of them).
    pub(super) index: usize,
    /// Where it was declared.
    pub(super) place: Place,
}

/// All names of a reading.
#[derive(Debug, Default)]
pub(super) struct Names {
    entries: BTreeMap<String, Entry>,
}

impl Names {
    /// Declares a name.
    pub(super) fn declare(&mut self, word: &Word, sort: Sort, index: usize, findings: &mut Vec<Finding>) {
        if let Some(first) = self.entries.get(&word.value) {
            let message = format!("'{}' is declared twice", word.value);
            let finding = Finding::new(Code::NameTwice, message)
                .at(word.place, format!("declared again here as {}", sort.text()))
                .at(first.place, format!("declared first here as {}", first.sort.text()))
                .help("give one of them another name; a name stands for one thing in all files of a reading");
            findings.push(finding);
            return;
        }
        self.entries.insert(word.value.clone(), Entry { sort, index, place: word.place });
    }
    /// What a name is, if it is known.
    pub(super) fn known(&self, text: &str) -> Option<Entry> {
        self.entries.get(text).copied()
    }
    /// The finding for a name that nobody declared.
    pub(super) fn unknown(&self, word: &Word, fits: &[Sort]) -> Finding {
        let needed = any_of(fits);
        let finding = Finding::new(Code::NameUnknown, format!("nothing is declared as '{}'", word.value))
            .at(word.place, format!("{needed} is needed here"));
        match self.near(&word.value, fits) {
            Some(near) => finding.help(format!("did you mean '{near}'?")),
            None => {
                finding.help(format!("declare {needed} of this name, give the file that does, or correct the name"))
            }
        }
    }
    fn near(&self, text: &str, fits: &[Sort]) -> Option<&str> {
        let fitting = self.entries.iter().filter(|(_, entry)| fits.contains(&entry.sort));
        near(text, fitting.map(|(name, _)| name.as_str()))
    }
}
