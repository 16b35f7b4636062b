//! Gauges that are recorded slower than the scan: what was read last holds, and not for longer than its line at the top says.

use super::columns::Slot;
use crate::sample::{Health, Reading, Sample};

/// A gauge whose value holds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hold {
    /// Its terminal.
    gauge: usize,
    /// The column in which it stands, where there are columns.
    pub(super) column: Option<usize>,
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
    /// This column is what a gauge is read from, and its line says how long a value holds.
    pub(super) fn stands_in(&mut self, column: usize, slot: Slot, held_us: Option<u64>) {
        if let (Slot::Gauge(gauge, _), Some(longest_us)) = (slot, held_us) {
            self.all.push(Hold { gauge, column: Some(column), longest_us, last_us: None });
        }
    }
    /// None is held for some time only.
    pub(super) fn is_empty(&self) -> bool {
        self.all.is_empty()
    }
    /// Nothing has to stand in this column.
    pub(super) fn holds(&self, column: usize) -> bool {
        self.all.iter().any(|hold| hold.column == Some(column))
    }
    /// A row of a change list has given a value, which holds for as long as the line of its name says: without end where it does not.
    pub(super) fn read(&mut self, slot: Slot, held_us: Option<u64>, at_us: u64) {
        let Slot::Gauge(gauge, _) = slot else { return };
        let known = self.all.iter().position(|hold| hold.gauge == gauge);
        let now = held_us.map(|longest_us| Hold { gauge, column: None, longest_us, last_us: Some(at_us) });
        match (known, now) {
            (Some(place), Some(now)) => self.all.get_mut(place).map(|hold| *hold = now).unwrap_or_default(),
            (Some(place), None) => drop(self.all.swap_remove(place)),
            (None, Some(now)) => self.all.push(now),
            (None, None) => {}
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
