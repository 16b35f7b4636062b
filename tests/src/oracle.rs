//! The oracle: a second opinion on what a station does in each scan.
//!
//! It is written from `host-tools/manual/meaning.md`, in the order of its paragraphs, and shares no
//! code with the step of the controller. It wants to be read beside the manual, not to be fast.

mod bits;
mod bypass;
mod conditions;
mod inputs;
mod latches;
mod modes;
mod outputs;
pub mod requirements;
mod reset;
mod timing;
mod watches;

use host_tools::sample::Sample;
use host_tools::station::Station;
use host_tools::station::ways::{Source, Way, WayOf, ways};

use crate::told::Told;
use bypass::Bypasses;
use inputs::Inputs;
use latches::Latches;
use modes::{Modes, Selection};
use outputs::{Outputs, Slows};
use reset::ResetKey;
use watches::State;

/// A station under the oracle's eyes.
#[derive(Debug, Clone)]
pub struct Oracle {
    station: Station,
    ways: Vec<WayOf>,
    /// Scans since power-up.
    scan: i64,
    /// What stood in the verdict of the scan before, per rank from 1.
    published: Vec<bool>,
    inputs: Inputs,
    modes: Modes,
    outputs: Outputs,
    slows: Slows,
    watches: Vec<State>,
    bypasses: Bypasses,
    latches: Latches,
    reset: ResetKey,
}

impl Oracle {
    /// The state before the first scan: everything is off, and `Started` is latched.
    pub fn power_up(station: &Station) -> Self {
        let ways = ways(station);
        let mut published = vec![false; usize::from(station.worst())];
        // The stop that `Started` latches stands before the first scan as well.
        published[usize::from(station.worst()) - 1] = true;
        Self {
            scan: 0,
            published,
            inputs: Inputs::power_up(station),
            modes: Modes::default(),
            outputs: Outputs::power_up(station),
            slows: Slows::power_up(station),
            watches: station.watches.iter().map(State::power_up).collect(),
            bypasses: Bypasses::power_up(station, &ways),
            latches: Latches::power_up(&ways),
            reset: ResetKey::default(),
            ways,
            station: station.clone(),
        }
    }

    /// The ways, in the order of the vectors of [`Told`].
    pub fn ways(&self) -> &[WayOf] {
        &self.ways
    }

    /// Takes one scan.
    pub fn scan(&mut self, sample: &Sample) -> Told {
        let station = &self.station;
        let first_stop = station.first_stop();

        // Inputs, and whatever trips before any mode or bypass is asked.
        let view = self.inputs.scan(station, self.scan, sample);
        let mut raw: Vec<(Source, Way)> = Vec::new();
        let selection = Selection::of(station, &view);
        self.modes.scan(station, self.scan, &selection, &view, &mut raw);
        self.outputs.contradicted(station, sample, &mut raw);
        self.slows.scan(station, &self.published, &view, &mut raw);
        for (i, seen) in view.inputs.iter().enumerate() {
            raw.extend(seen.ways.iter().map(|way| (Source::Input(i), *way)));
        }
        for (i, watch) in station.watches.iter().enumerate() {
            let found = self.watches[i].scan(station, watch, self.scan, &view, &self.published);
            // Modes of a watch: off, its ways do not trip, but its state goes on.
            if !selection.off(watch) {
                raw.extend(found.into_iter().map(|way| (Source::Watch(i), way)));
            }
        }
        let mut trips: Vec<bool> = self.ways.iter().map(|way| raw.contains(&(way.source, way.way))).collect();

        // Bypass, trip, slow orders, answer, first-out.
        let active = self.bypasses.scan(station, &selection, &view);
        self.bypasses.mask(station, &self.ways, &active, &mut trips);
        let any_stop_trips = (0..trips.len()).any(|i| trips[i] && self.ways[i].answer >= first_stop);
        self.latches.take(&self.ways, first_stop, &trips);
        let mut stands = vec![false; usize::from(station.worst())];
        for (i, way) in self.ways.iter().enumerate() {
            if way.answer > 0 && (trips[i] || self.latches.latched[i]) {
                stands[usize::from(way.answer) - 1] = true;
            }
        }
        let held = self.watches.iter().filter_map(State::travel).any(watches::TravelState::asks_slow);
        if held && !station.slows.is_empty() {
            stands[station.slows.len() - 1] = true;
        }
        let answer = (1..=station.worst()).rev().find(|rank| stands[usize::from(*rank) - 1]).unwrap_or(0);

        // Outputs and restart.
        let off = self.outputs.decide(station, &view, &self.published, &stands);
        let permit = self.outputs.permit(station, &stands);

        // Reset, and refill by key, act last.
        let reset = self.reset.scan(station, &view, any_stop_trips);
        if reset {
            self.latches.clear();
        }
        for refill in &station.refills {
            if view.inputs[refill.key].pressed && view.bits(&refill.when).must {
                for &watch in &refill.watches {
                    self.watches[watch].refill_by_key(&station.watches[watch]);
                }
            }
        }

        self.scan += 1;
        self.published.clone_from(&stands);
        let travels: Vec<_> = self.watches.iter().map(State::travel).collect();
        Told {
            trips,
            latched: self.latches.latched.clone(),
            first: self.latches.first.clone(),
            stands,
            answer,
            off,
            permit,
            active,
            used: self.bypasses.used(),
            reset,
            refilling: travels.iter().map(|travel| travel.is_some_and(watches::TravelState::excusing)).collect(),
            queue: travels.iter().map(|travel| travel.map_or(0, watches::TravelState::under_way)).collect(),
        }
    }

    /// The end of the lead of a field recording: what the lead has latched is forgotten, and every
    /// stretch is in refill.
    pub fn adopt(&mut self) {
        self.latches.clear();
        self.bypasses.forget();
        self.published.fill(false);
        self.outputs.adopt();
        for (state, watch) in self.watches.iter_mut().zip(&self.station.watches) {
            state.adopt(watch);
        }
    }
}
