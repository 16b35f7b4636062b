//! The operator of a history: sees the last verdict, and turns and presses keys.

use host_tools::station::ways::WayOf;
use host_tools::station::{InputKind, Station};

use super::{Case, Rng, Role};
use crate::told::Told;

/// What the hands do.
#[derive(Debug, Clone)]
pub(super) struct Operator {
    /// The mode whose key is turned.
    pub(super) mode: usize,
    /// Scans for which the rope is still asked to stand, to turn the mode's key at the end of them.
    pub(super) standing: i64,
    /// Scans a stop has been standing.
    pub(super) stopped: i64,
    /// Per input: scans for which its key is still held.
    held: Vec<i64>,
    /// Scans to wait before the next press of the reset key.
    patience: i64,
}

impl Operator {
    pub(super) fn new(case: &Case) -> Self {
        Self { mode: 0, standing: 0, stopped: 0, held: vec![0; case.plan.roles.len()], patience: 0 }
    }

    /// The key of an input is held in this scan.
    pub(super) fn holds(&self, input: usize) -> bool {
        self.held[input] > 0
    }

    /// One scan.
    pub(super) fn acts(&mut self, rng: &mut Rng, case: &Case, ways: &[WayOf], last: Option<&Told>) {
        let station = &case.station;
        for left in &mut self.held {
            *left = (*left - 1).max(0);
        }
        let first_stop = station.first_stop();
        let stands = last.is_none_or(|told| told.answer >= first_stop);
        let trips = last.is_some_and(|told| (0..ways.len()).any(|i| told.trips[i] && ways[i].answer >= first_stop));
        self.stopped = if stands { self.stopped + 1 } else { 0 };
        self.resets(rng, case, stands, trips);
        self.turns(rng, case, stands);
        for (input, role) in case.plan.roles.iter().enumerate() {
            match role {
                Role::BypassKey(_) if !self.holds(input) && rng.once_in(40) => {
                    self.held[input] = rng.within(2, 40);
                }
                // Somebody who has tried for long empties the stretches.
                Role::RefillKey if !self.holds(input) => {
                    let stuck = self.stopped > 25 && rng.once_in(10);
                    if stuck || rng.once_in(250) {
                        self.held[input] = rng.within(1, 5);
                    }
                }
                _ => {}
            }
        }
    }

    fn resets(&mut self, rng: &mut Rng, case: &Case, stands: bool, trips: bool) {
        let key = case.plan.id(Role::ResetKey);
        let Some(reset) = &case.station.reset else {
            return;
        };
        if !stands {
            self.patience = rng.within(0, 3);
            // A press without need does nothing.
            if rng.once_in(200) {
                self.held[key] = rng.within(1, 5);
            }
            return;
        }
        if self.holds(key) || trips {
            return;
        }
        if self.patience > 0 {
            self.patience -= 1;
            return;
        }
        let settle = settle_up(&case.station, key);
        self.held[key] = i64::from(reset.shortest) + settle + rng.within(0, 1);
        // Now and then a press that is too short or too long.
        if rng.once_in(20) {
            self.held[key] = if rng.chance(50) { 1 } else { i64::from(reset.longest) + 3 };
        }
        self.patience = self.held[key] + rng.within(2, 5);
    }

    fn turns(&mut self, rng: &mut Rng, case: &Case, stands: bool) {
        let modes = case.station.modes.len();
        if self.standing > 0 {
            self.standing -= 1;
            if self.standing == 3 {
                // Back to normal running sooner than away from it.
                self.mode = if self.mode == 0 { rng.index(modes) } else { 0 };
            }
        } else if !stands && (rng.once_in(400) || self.mode != 0 && rng.once_in(60)) {
            self.standing = case.plan.span * 2 + 6;
        }
    }
}

/// Scans that a key takes to be seen as held.
fn settle_up(station: &Station, key: usize) -> i64 {
    match &station.inputs[key].kind {
        InputKind::Key(key) => i64::from(key.settle.up),
        _ => 0,
    }
}
