//! Watches that judge at or after a rise: measure, exercise.

use host_tools::station::ways::Way;
use host_tools::station::{Every, Exercise, Measure, When};

use super::super::conditions::View;
use super::tripped;

/// A measure.
#[derive(Debug, Clone, Default)]
pub(crate) struct MeasureState {
    /// A window was opened and has not ended.
    open: bool,
    /// Scans, or rope of both directions, since the rise that opened it.
    since: i64,
}

impl MeasureState {
    pub(crate) fn scan(&mut self, measure: &Measure, view: &View) -> Vec<Way> {
        let rises = view.rises(measure.detector);
        let outside = view.may_be_outside(measure.gauge, measure.least, measure.most);
        // Is this scan still in a window that an earlier rise has opened?
        match measure.when {
            When::Rise => self.open = false,
            When::Scans(scans) => {
                self.since += 1;
                if self.since > i64::from(scans) {
                    self.open = false;
                }
            }
            When::Rope(pace, rope) => {
                self.since += view.inputs[pace].travel.abs();
                if self.since >= i64::from(rope) {
                    self.open = false;
                }
            }
        }
        let again = rises && self.open;
        if rises {
            self.open = true;
            self.since = 0;
        }
        tripped(again || (self.open && outside))
    }
}

/// An input that must change.
#[derive(Debug, Clone, Default)]
pub(crate) struct ExerciseState {
    /// The detector has risen since power-up.
    risen: bool,
    changed: bool,
    /// Rope of both directions or scans since the last change or judgement.
    count: i64,
}

impl ExerciseState {
    pub(super) fn scan(&mut self, exercise: &Exercise, view: &View) -> Vec<Way> {
        let changes = view.inputs[exercise.input].changes;
        match exercise.every {
            Every::Carrier(detector) => {
                if changes {
                    self.changed = true;
                }
                if !view.rises(detector) {
                    return Vec::new();
                }
                let trips = self.risen && !self.changed;
                self.risen = true;
                self.changed = false;
                tripped(trips)
            }
            Every::Rope(pace, rope) => self.counted(view.inputs[pace].travel.abs(), rope, changes),
            Every::Scans(scans) => self.counted(1, scans, changes),
        }
    }

    /// The count grows, a change sets it to 0; above the limit it trips and is set to 0.
    fn counted(&mut self, grows: i64, limit: u32, changes: bool) -> Vec<Way> {
        self.count += grows;
        if changes {
            self.count = 0;
        }
        if self.count > i64::from(limit) {
            self.count = 0;
            return tripped(true);
        }
        Vec::new()
    }
}
