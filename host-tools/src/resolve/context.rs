//! What all parts of the resolving share: names, terminals, facts of paces and gauges, findings.

use super::exact::Exact;
use super::names::{Names, Sort, any_of};
use crate::station::{InputId, Mm, Rank, Scans};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::{Place, Placed};
use crate::text::tree::{Dimension, Word};
use std::collections::{BTreeMap, BTreeSet};

/// What other statements need of a pace.
#[derive(Debug, Clone, Copy)]
pub(super) struct PaceFacts {
    /// Length of the span.
    pub(super) span: Scans,
    /// Greatest travel in one scan, rounded up.
    pub(super) scan_travel: Mm,
    /// Travel in a span that is still.
    pub(super) still: Mm,
    /// A second source stands beside the first.
    pub(super) has_two: bool,
}

/// What other statements need of a gauge.
#[derive(Debug, Clone)]
pub(super) struct GaugeFacts {
    /// What it measures.
    pub(super) dimension: Dimension,
    /// Its unit as written.
    pub(super) unit: &'static str,
    /// One step in base units.
    pub(super) step: Exact,
    /// One step as text.
    pub(super) step_text: String,
    /// One step in millionths of the unit.
    pub(super) step_micro: i64,
    /// Value of step 0, in steps.
    pub(super) lowest: i128,
    /// Greatest step.
    pub(super) top: u32,
    /// The declaration.
    pub(super) place: Place,
}

impl GaugeFacts {
    /// A value, in steps from zero, in the gauge's unit.
    pub(super) fn value_text(&self, steps: i128) -> String {
        let value = steps.checked_mul(i128::from(self.step_micro)).and_then(|micro| Exact::new(micro, 1_000_000));
        format!("{} {}", value.map_or_else(String::new, Exact::text), self.unit)
    }
}

/// What is connected to a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wire {
    /// A digital channel.
    Channel,
    /// A gauge.
    Gauge,
    /// A counter.
    Source,
    /// A link.
    Link,
    /// An output.
    Output,
}

/// The state of a resolving.
#[derive(Debug)]
pub(super) struct Cx {
    /// What has been found.
    pub(super) findings: Vec<Finding>,
    /// Every name.
    pub(super) names: Names,
    /// Microseconds of a scan.
    pub(super) scan: i128,
    /// How many slow orders there are.
    pub(super) slows: usize,
    /// Rank that answers input faults.
    pub(super) on_fault: Rank,
    /// Paces that could be resolved.
    pub(super) paces: BTreeMap<InputId, PaceFacts>,
    /// Gauges that could be resolved.
    pub(super) gauges: BTreeMap<InputId, GaugeFacts>,
    /// Terminals of each kind, in order.
    pub(super) channels: Vec<String>,
    /// See [`Wire::Gauge`].
    pub(super) gauge_terminals: Vec<String>,
    /// See [`Wire::Source`].
    pub(super) sources: Vec<String>,
    /// See [`Wire::Link`].
    pub(super) link_terminals: Vec<String>,
    /// Outputs without a read-back, by index.
    pub(super) unread: BTreeSet<usize>,
    taken: BTreeMap<String, Place>,
    /// Findings of names that nothing declares, by what they say.
    unknown: BTreeMap<(String, Option<String>), usize>,
}

impl Cx {
    /// Nothing known yet.
    pub(super) fn new(scan: i128) -> Self {
        Self {
            findings: Vec::new(),
            names: Names::default(),
            scan,
            slows: 0,
            on_fault: 0,
            paces: BTreeMap::new(),
            gauges: BTreeMap::new(),
            channels: Vec::new(),
            gauge_terminals: Vec::new(),
            sources: Vec::new(),
            link_terminals: Vec::new(),
            unread: BTreeSet::new(),
            taken: BTreeMap::new(),
            unknown: BTreeMap::new(),
        }
    }
    /// The scan in milliseconds.
    pub(super) fn scan_text(&self) -> String {
        format!("{} ms", Exact::new(self.scan, 1_000).map_or_else(String::new, Exact::text))
    }
    /// Takes a terminal and gives its number among its like.
    pub(super) fn terminal(&mut self, word: &Word, wire: Wire) -> usize {
        if let Some(first) = self.taken.insert(word.value.clone(), word.place) {
            let finding = Finding::new(Code::TerminalTwice, format!("terminal '{}' is used twice", word.value))
                .at(word.place, "used again here")
                .at(first, "used first here")
                .help("give each its own terminal; where one signal has two meanings, use the declared name in both places");
            self.findings.push(finding);
        }
        let list = match wire {
            Wire::Channel => &mut self.channels,
            Wire::Gauge => &mut self.gauge_terminals,
            Wire::Source => &mut self.sources,
            Wire::Link => &mut self.link_terminals,
            Wire::Output => return 0,
        };
        list.push(word.value.clone());
        list.len() - 1
    }
    /// Tells of a name that nothing declares, once for all places that want the same of it: a file that was not given as
    /// well would otherwise be told of at each.
    pub(super) fn unknown(&mut self, finding: Finding) {
        let says = (finding.message.clone(), finding.help.clone());
        let told = self.unknown.get(&says).and_then(|at| self.findings.get_mut(*at));
        if let (Some(told), Some((place, _))) = (told, finding.labels.first()) {
            told.labels.push((*place, "and here".to_owned()));
        } else {
            self.unknown.insert(says, self.findings.len());
            self.findings.push(finding);
        }
    }
    /// What a name stands for, which must be one of these.
    pub(super) fn find(&mut self, word: &Word, fits: &[Sort]) -> Option<(Sort, usize)> {
        let Some(entry) = self.names.known(&word.value) else {
            let finding = self.names.unknown(word, fits);
            self.unknown(finding);
            return None;
        };
        if !fits.contains(&entry.sort) {
            let needed = any_of(fits);
            let mut finding = Finding::new(
                Code::NameKind,
                format!("'{}' is {}; {needed} is needed here", word.value, entry.sort.text()),
            )
            .at(word.place, format!("{needed} is needed here"))
            .at(entry.place, format!("declared here as {}", entry.sort.text()));
            if matches!(entry.sort, Sort::Slow | Sort::Stop) {
                let which = if entry.sort == Sort::Slow { "slow" } else { "stop" };
                finding = finding.help(format!("where the statement allows it, write '{which} {}'", word.value));
            }
            self.findings.push(finding);
            return None;
        }
        Some((entry.sort, entry.index))
    }
    /// Index of a name of one kind.
    pub(super) fn one(&mut self, word: &Word, sort: Sort) -> Option<usize> {
        self.find(word, &[sort]).map(|(_, index)| index)
    }
    /// Indices of names of some kinds; a name said twice is told.
    pub(super) fn many(&mut self, words: &[Word], fits: &[Sort]) -> Option<Vec<usize>> {
        let mut found = Some(Vec::new());
        for (i, word) in words.iter().enumerate() {
            if let Some(first) = words.iter().take(i).find(|first| first.value == word.value) {
                let finding = Finding::new(Code::NameTwice, format!("'{}' is named twice in one list", word.value))
                    .at(word.place, "named again here")
                    .at(first.place, "named first here")
                    .help("leave one of them out");
                self.findings.push(finding);
            }
            match (self.find(word, fits), &mut found) {
                (Some((_, index)), Some(list)) => list.push(index),
                _ => found = None,
            }
        }
        found
    }
    /// Rank of a stop.
    pub(super) fn stop(&mut self, word: &Word) -> Option<Rank> {
        let index = self.one(word, Sort::Stop)?;
        Rank::try_from(self.slows + 1 + index).ok()
    }
    /// Rank of a slow order.
    pub(super) fn slow(&mut self, word: &Word) -> Option<Rank> {
        let index = self.one(word, Sort::Slow)?;
        Rank::try_from(index + 1).ok()
    }
    /// Rank of an answer, a slow order or a stop.
    pub(super) fn standing(&mut self, word: &Word) -> Option<Rank> {
        match self.find(word, &[Sort::Slow, Sort::Stop])? {
            (Sort::Slow, index) => Rank::try_from(index + 1).ok(),
            (_, index) => Rank::try_from(self.slows + 1 + index).ok(),
        }
    }
    /// A count with its bounds.
    pub(super) fn count(&mut self, n: &Placed<u32>, least: u32, most: u32, what: &str) -> Option<u32> {
        if n.value < least {
            self.zero(n.place, &format!("{} {what}", n.value));
            return None;
        }
        if n.value > most {
            let finding = Finding::new(Code::TooLarge, format!("{} {what} are more than can be kept", n.value))
                .at(n.place, format!("at most {most}"));
            self.findings.push(finding.help("write a smaller number, or divide the work between two statements"));
            return None;
        }
        Some(n.value)
    }
    /// Finding: a clause without which the rest says nothing.
    pub(super) fn missing(&mut self, place: Place, message: &str, help: &str) {
        self.findings.push(Finding::new(Code::ClauseMissing, message).at(place, "in this statement").help(help));
    }
    /// Finding: a clause that nothing gives a meaning.
    pub(super) fn idle(&mut self, place: Place, message: &str, help: &str) {
        self.findings.push(Finding::new(Code::ClauseMissing, message).at(place, "without effect").help(help));
    }
}
