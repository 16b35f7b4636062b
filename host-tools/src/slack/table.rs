//! The slack of all limits: written for people, and for machines, from which a report reads it.

use super::limits::Limit;
use super::{End, Slack, Way};
use crate::text::parse::Source;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// How far a limit can move one way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OneWay {
    /// The farthest value at which all was proved and checked, as it would be written.
    pub to: String,
    /// The same in base units.
    pub micro: i64,
    /// The nearest value tried at which it was not.
    pub beyond: Option<String>,
    /// `refuted`, `unproved`, `refused` or `never`.
    pub end: String,
    /// The requirement, or the finding.
    pub by: Option<String>,
}

/// A limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// Its file.
    pub file: String,
    /// Its line.
    pub line: usize,
    /// Its watch.
    pub watch: String,
    /// The line in which it stands.
    pub sentence: String,
    /// As it is written.
    pub limit: String,
    /// The same in base units.
    pub micro: i64,
    /// Downwards.
    pub down: OneWay,
    /// Upwards.
    pub up: OneWay,
    /// Requirements whose rules include the watch.
    pub asked_by: Vec<String>,
    /// No requirement was lost either way.
    pub held_by_none: bool,
}

/// All limits that were looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Table {
    /// The station.
    pub station: String,
    /// Its revision.
    pub revision: u32,
    /// SHA-256 of the rule files, one after the other.
    pub digest: String,
    /// Requirements that are not proved as the rules stand, and left out.
    pub not_proved: Vec<String>,
    /// How many limits there are, of which these may be some.
    pub in_all: usize,
    /// The limits.
    pub limits: Vec<Row>,
    /// Exit status.
    pub status: u8,
}

/// A row of the table.
pub fn row(sources: &[Source], limit: &Limit, slack: Slack) -> Row {
    let held_by_none = slack.ways.iter().all(|way| matches!(way.end, End::Never | End::Refused(_)));
    let [down, up] = slack.ways.map(|way| one(limit, way));
    Row {
        file: sources.get(usize::from(limit.place.file)).map_or_else(String::new, |source| source.path.clone()),
        line: limit.line,
        watch: limit.watch.clone(),
        sentence: limit.sentence.clone(),
        limit: limit.text(limit.value),
        micro: limit.value,
        down,
        up,
        asked_by: slack.asked,
        held_by_none,
    }
}

fn one(limit: &Limit, way: Way) -> OneWay {
    let (end, by) = match way.end {
        End::Refuted(name) => ("refuted", Some(name)),
        End::Unproved(name) => ("unproved", Some(name)),
        End::Refused(code) => ("refused", Some(code.to_string())),
        End::Never => ("never", None),
    };
    let beyond = way.beyond.map(|value| limit.text(value));
    OneWay { to: limit.text(way.to), micro: way.to, beyond, end: end.into(), by }
}

impl OneWay {
    /// What ends the way, in words.
    pub fn words(&self) -> String {
        let (by, beyond) = (self.by.as_deref().unwrap_or_default(), self.beyond.as_deref().unwrap_or_default());
        match self.end.as_str() {
            "refuted" => format!("at {beyond} a history misses {by}"),
            "unproved" => format!("at {beyond} {by} is not proved"),
            "refused" => format!("at {beyond} check refuses the file: {by}"),
            _ => "no farther was tried".to_string(),
        }
    }
    /// It ends where this requirement is lost.
    pub fn loses(&self, requirement: &str) -> bool {
        matches!(self.end.as_str(), "refuted" | "unproved") && self.by.as_deref() == Some(requirement)
    }
}

impl Row {
    /// For people.
    pub fn text(&self) -> String {
        let mut text = format!("  {}  [{}:{}]\n", self.sentence, self.file, self.line);
        for (name, way) in [("down", &self.down), ("up", &self.up)] {
            let _ = writeln!(text, "    {:>10}  {name:<4} to {:>10}; {}", self.limit, way.to, way.words());
        }
        if self.held_by_none {
            text.push_str("                no value that check accepts loses a requirement: either the rule is idle, or a requirement is missing\n");
        }
        text
    }
}
