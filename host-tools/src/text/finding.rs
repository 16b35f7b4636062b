//! A finding is data: what, where, and how to mend it. Rendering is another stage.

use super::codes::Code;
use super::place::Place;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// Told, and no more.
    Note,
    /// A finding: the exit status is 1.
    Warning,
    /// No plan comes of this file.
    Error,
}

/// A finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Its code.
    pub code: Code,
    /// Its weight.
    pub level: Level,
    /// What is wrong: a lower-case fragment with the values and units in it.
    pub message: String,
    /// Places with what is to be said at each; the first is the main one.
    pub labels: Vec<(Place, String)>,
    /// How to mend it.
    pub help: Option<String>,
}

impl Finding {
    /// A finding with the weight of its code.
    pub fn new(code: Code, message: impl Into<String>) -> Self {
        Self { code, level: code.level(), message: message.into(), labels: Vec::new(), help: None }
    }
    /// Marks a place.
    #[must_use]
    pub fn at(mut self, place: Place, label: impl Into<String>) -> Self {
        self.labels.push((place, label.into()));
        self
    }
    /// Says how to mend it.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
}
