//! Rules that answer a simulated run.

use super::{Obeyed, Scan, Scenario};
use crate::station::Station;
use crate::told::{Runner, lead_in};

/// A runner that is asked in every scan. Where the controller had been running before the run
/// began, its rules are led in as in a replay: so long the scenario alone decides.
pub struct Rules<'r, U: ?Sized> {
    runner: &'r mut U,
    lead: u32,
}

impl<'r, U: Runner + ?Sized> Rules<'r, U> {
    /// Takes a runner for one run from its beginning.
    pub fn new(runner: &'r mut U, station: &Station, scenario: &Scenario) -> Self {
        runner.restart();
        let lead = if scenario.powers_up { 0 } else { lead_in(station) };
        Self { runner, lead }
    }

    /// What is to be obeyed after this scan.
    pub fn answer(&mut self, scan: &Scan) -> Option<Obeyed> {
        if scan.restarted {
            self.runner.restart();
            self.lead = 0;
        }
        let obeyed = Obeyed::from(self.runner.scan(&scan.sample));
        if self.lead == 0 {
            return Some(obeyed);
        }
        self.lead -= 1;
        if self.lead == 0 {
            self.runner.adopt();
        }
        None
    }
}
