//! The line of a history: carriers on a rope that pass detectors.

use super::{Plan, Rng};

/// Carriers on the line.
#[derive(Debug, Clone)]
pub(super) struct Line {
    /// Place of the front of each carrier's flag, mm; the one ahead comes first.
    pub(super) carriers: Vec<i64>,
    /// Rope until the next carrier enters, mm.
    next: i64,
    /// Whence carriers come, so far before the first detector that a fault can still move them.
    start: i64,
}

impl Line {
    /// Full of carriers at about the right distance.
    pub(super) fn new(rng: &mut Rng, plan: &Plan) -> Self {
        let start = plan.at[0] - 10;
        let end = plan.at[plan.at.len() - 1];
        let mut carriers = Vec::new();
        let mut place = end + rng.within(0, plan.spacing);
        while place > start {
            carriers.push(place);
            place -= plan.spacing + rng.within(0, 6);
        }
        Self { carriers, next: start - place, start }
    }

    /// The rope moves.
    pub(super) fn runs(&mut self, rng: &mut Rng, plan: &Plan, travel: i64) {
        for place in &mut self.carriers {
            *place += travel;
        }
        self.next -= travel;
        if self.next <= 0 {
            // It entered within this scan and has run a little already.
            self.carriers.push(self.start - self.next);
            self.next += plan.spacing + rng.within(0, 6);
        }
        let end = plan.at[plan.at.len() - 1] + plan.flag + 60;
        self.carriers.retain(|&place| place < end);
    }

    /// A flag covers the detector.
    pub(super) fn covers(&self, plan: &Plan, detector: usize) -> bool {
        let at = plan.at[detector];
        self.carriers.iter().any(|&place| place >= at && place < at + plan.flag)
    }

    /// Nobody is counted between the first two detectors, nor is about to be.
    pub(super) fn clear(&self, plan: &Plan) -> bool {
        let from = plan.at[0] - 1;
        let to = plan.at[1] + plan.speed * (i64::from(plan.settle[1].up) + 2);
        !self.carriers.iter().any(|&place| place >= from && place < to)
    }

    /// Moves one carrier that is on its way between detectors.
    pub(super) fn shift(&mut self, rng: &mut Rng, plan: &Plan, by: i64) {
        if let Some(i) = self.on_the_way(rng, plan) {
            self.carriers[i] += by;
        }
    }

    /// Takes one carrier away that is on its way between detectors.
    pub(super) fn lose(&mut self, rng: &mut Rng, plan: &Plan) {
        if let Some(i) = self.on_the_way(rng, plan) {
            self.carriers.remove(i);
        }
    }

    /// One more carrier between detectors, out of nowhere.
    pub(super) fn appear(&mut self, rng: &mut Rng, plan: &Plan) {
        let second = rng.size(1, plan.at.len() - 1);
        self.carriers.push(plan.at[second] - rng.within(1, 8));
    }

    /// The next carrier comes sooner or later than it should.
    pub(super) fn delay(&mut self, by: i64) {
        self.next = (self.next + by).max(0);
    }

    /// One more carrier right behind the one that entered last.
    pub(super) fn double(&mut self, plan: &Plan) {
        let behind = plan.flag + plan.speed * 4;
        self.carriers.push(self.start - behind / 2);
    }

    fn on_the_way(&self, rng: &mut Rng, plan: &Plan) -> Option<usize> {
        let least = plan.at[0];
        let most = plan.at[plan.at.len() - 1];
        let all: Vec<usize> =
            (0..self.carriers.len()).filter(|&i| self.carriers[i] > least && self.carriers[i] < most).collect();
        if all.is_empty() { None } else { Some(rng.pick(&all)) }
    }
}
