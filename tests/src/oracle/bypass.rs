//! Bypasses: when they are active, and what they mask and remember.

use host_tools::station::ways::{Source, WayOf};
use host_tools::station::{Station, WatchId};

use super::conditions::View;
use super::modes::Selection;

/// One bypass.
#[derive(Debug, Clone)]
struct State {
    armed: bool,
    used: u32,
    /// Scans since the last active one, up to the rest.
    idle: u32,
}

/// All bypasses.
#[derive(Debug, Clone)]
pub(crate) struct Bypasses {
    states: Vec<State>,
    /// Per way: an event that would have tripped while a bypass was active.
    remembered: Vec<bool>,
}

impl Bypasses {
    /// As at power-up: the budget is used up.
    pub(crate) fn power_up(station: &Station, ways: &[WayOf]) -> Self {
        let state = |budget| State { armed: false, used: budget, idle: 0 };
        Self {
            states: station.bypasses.iter().map(|bypass| state(bypass.budget)).collect(),
            remembered: vec![false; ways.len()],
        }
    }

    /// One scan: which are active.
    pub(crate) fn scan(&mut self, station: &Station, selection: &Selection, view: &View) -> Vec<bool> {
        let mut all = Vec::new();
        for (state, bypass) in self.states.iter_mut().zip(&station.bypasses) {
            let key = &view.inputs[bypass.key];
            if key.pressed {
                state.armed = true;
            }
            if !key.high.must {
                state.armed = false;
            }
            let mode = bypass.modes.iter().any(|&mode| selection.known[mode]);
            let (pace, most) = bypass.at_most;
            let slow = !view.may_exceed(pace, most);
            let active = state.armed && mode && slow && state.used < bypass.budget;
            if active {
                state.used += 1;
                state.idle = 0;
            }
            // A press while the budget is spent does nothing.
            if state.used >= bypass.budget {
                state.armed = false;
            }
            if !active {
                state.idle = (state.idle + 1).min(bypass.rest);
                if state.idle >= bypass.rest {
                    state.used = 0;
                }
            }
            all.push(active);
        }
        all
    }

    /// Takes the ways of bypassed watches out of the trips, and brings remembered ones back.
    pub(crate) fn mask(&mut self, station: &Station, ways: &[WayOf], active: &[bool], trips: &mut [bool]) {
        for (i, way) in ways.iter().enumerate() {
            let Source::Watch(watch) = way.source else {
                continue;
            };
            if bypassed(station, active, watch) {
                if trips[i] && !way.level {
                    self.remembered[i] = true;
                }
                trips[i] = false;
            } else if self.remembered[i] {
                self.remembered[i] = false;
                trips[i] = true;
            }
        }
    }

    /// Scans used of each.
    pub(crate) fn used(&self) -> Vec<u32> {
        self.states.iter().map(|state| state.used).collect()
    }

    /// Remembered ways are forgotten.
    pub(crate) fn forget(&mut self) {
        self.remembered.fill(false);
    }
}

/// Some active bypass masks the watch.
fn bypassed(station: &Station, active: &[bool], watch: WatchId) -> bool {
    (0..active.len()).any(|i| active[i] && station.bypasses[i].of.contains(&watch))
}
