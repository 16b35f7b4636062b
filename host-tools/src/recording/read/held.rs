//! Gauges that are recorded slower than the scan: what was read last holds, and not for longer than its line at the top says.

use super::columns::{Columns, Slot};
use crate::sample::{Health, Reading, Sample};

/// A gauge whose value holds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hold {
    /// Its terminal.
    pub(super) gauge: usize,
    /// The column in which it stands, where there are columns.
    pub(super) column: usize,
    /// How long, microseconds.
    longest_us: u64,
    /// Time of the scan that read it last.
    last_us: Option<u64>,
}

/// All of a recording, and in how many scans one of them was older than it may be.
#[derive(Debug, Default)]
pub(super) struct Holds {
    all: Vec<Hold>,
    outlived: u64,
}

impl Holds {
    pub(super) fn new(columns: &Columns<'_>) -> Self {
        let hold = |(gauge, longest_us)| Hold { gauge, column: 0, longest_us, last_us: None };
        Self { all: columns.holds().map(hold).collect(), outlived: 0 }
    }
    /// This column is what it is read from.
    pub(super) fn stands_in(&mut self, column: usize, slot: Slot) {
        let Slot::Gauge(gauge, _) = slot else { return };
        if let Some(hold) = self.all.iter_mut().find(|hold| hold.gauge == gauge) {
            hold.column = column;
        }
    }
    /// Nothing has to stand in this column.
    pub(super) fn holds(&self, column: usize) -> bool {
        self.all.iter().any(|hold| hold.column == column)
    }
    /// A row of a change list has given a value.
    pub(super) fn read(&mut self, slot: Slot, at_us: u64) {
        let Slot::Gauge(gauge, _) = slot else { return };
        if let Some(hold) = self.all.iter_mut().find(|hold| hold.gauge == gauge) {
            hold.last_us = Some(at_us);
        }
    }
    /// A scan is filled: `given` says which of them it gave a value. What is too old is in doubt.
    pub(super) fn scan(&mut self, at_us: u64, given: impl Fn(&Hold) -> bool, sample: &mut Sample) {
        let mut outlived = false;
        for hold in &mut self.all {
            if given(hold) {
                hold.last_us = Some(at_us);
            }
            let age = hold.last_us.and_then(|last| at_us.checked_sub(last));
            if age.is_none_or(|age| age > hold.longest_us)
                && let Some(reading) = sample.gauges.get_mut(hold.gauge)
            {
                *reading = Reading { steps: 0, health: Health::Doubtful };
                outlived = true;
            }
        }
        self.outlived += u64::from(outlived);
    }
    /// Scans in which one was too old.
    pub(super) fn outlived(&self) -> u64 {
        self.outlived
    }
}
