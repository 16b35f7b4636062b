//! The first stop of a kind, from some seconds before to some behind: the inputs that its causes look at as traces.

use super::super::traces::{Look, Mark, Trace, draw, note, rows_of};
use super::{clock, incident_id};
use crate::page::plain;
use crate::replay::event::{Cause, Event};
use crate::sample::Sample;
use crate::station::{InputId, Station};
use maud::{Markup, html};
use std::collections::{BTreeSet, VecDeque};

/// Scans behind a stop that are shown.
const BEHIND: u64 = 200;
/// Inputs that are shown.
const MOST_INPUTS: usize = 8;

/// A stop being drawn.
#[derive(Debug)]
pub(super) struct Incident<'s> {
    title: String,
    at_us: u64,
    first: u64,
    stop: u64,
    /// The scan behind the last one that was noted.
    end: u64,
    rows: Vec<(Look<'s>, Trace)>,
}

impl<'s> Incident<'s> {
    /// A stop, with the scans before it.
    pub(super) fn begin(
        station: &'s Station,
        event: &Event,
        answer: &str,
        cause: &Cause,
        concerned: Vec<InputId>,
        before: &VecDeque<(Sample, u64)>,
    ) -> Self {
        let inputs: BTreeSet<InputId> = concerned.into_iter().take(MOST_INPUTS).collect();
        let first = event.scan.saturating_sub(u64::try_from(before.len()).unwrap_or(0));
        let name = if cause.name.is_empty() { String::new() } else { format!(" [{} {}]", cause.source, cause.name) };
        let mut incident = Self {
            title: format!("{answer}: {}{name}", cause.words),
            at_us: event.at_us,
            first,
            stop: event.scan,
            end: first,
            rows: rows_of(station, &inputs, |_| None),
        };
        for (scan, (sample, stands)) in (first..).zip(before) {
            incident.scan(scan, sample, *stands);
        }
        incident
    }
    /// One scan more, while it is shown.
    pub(super) fn scan(&mut self, scan: u64, sample: &Sample, stands: u64) {
        if scan > self.stop + BEHIND {
            return;
        }
        for (look, trace) in &mut self.rows {
            note(look, &mut trace.shape, scan, sample, stands);
        }
        self.end = scan + 1;
    }
    /// When it was stopped.
    pub(super) fn at_us(&self) -> u64 {
        self.at_us
    }
    /// As a picture; time counts from the stop. `at` is its number, from 0.
    pub(super) fn picture(&self, station: &Station, at: usize) -> Markup {
        let mark = Mark { what: "Stop", scan: self.stop, is: "stop", counts: true };
        let traces: Vec<&Trace> = self.rows.iter().map(|(_, trace)| trace).collect();
        html! {
            h3 id=(incident_id(at)) { (at + 1) ". " (plain(&self.title)) }
            p.soft { "At " (clock(self.at_us)) " on the recording's clock; " a href="#time" { "back to the stops over time" } "." }
            (draw(station, &traces, self.first, self.end, &mark))
        }
    }
}
