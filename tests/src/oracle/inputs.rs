//! Every input, scan by scan. An input may look at another one of the same scan (a pace at its
//! running contact, a detector at a pace, a gauge at a detector), so they are taken in that order.

mod digital;
mod measured;

use std::collections::BTreeMap;

use host_tools::sample::Sample;
use host_tools::station::{InputKind, Station};

use super::bits::Bits;
use super::conditions::{Seen, View};
use digital::{ContactState, DetectorState, KeyState, PairState};
use measured::{GaugeState, LinkState, PaceState};

/// State of one input; the kinds are those of [`InputKind`].
#[derive(Debug, Clone)]
enum State {
    Contact(ContactState),
    Pair(PairState),
    Detector(DetectorState),
    Gauge(GaugeState),
    Pace(PaceState),
    Link(LinkState),
    Key(KeyState),
}

/// State of all inputs.
#[derive(Debug, Clone)]
pub(crate) struct Inputs {
    states: Vec<State>,
}

impl Inputs {
    /// As at power-up.
    pub(crate) fn power_up(station: &Station) -> Self {
        let state = |kind: &InputKind| match kind {
            InputKind::Contact(_) => State::Contact(ContactState::default()),
            InputKind::Pair(_) => State::Pair(PairState::default()),
            InputKind::Detector(_) => State::Detector(DetectorState::default()),
            InputKind::Gauge(_) => State::Gauge(GaugeState::default()),
            InputKind::Pace(_) => State::Pace(PaceState::default()),
            InputKind::Link(_) => State::Link(LinkState::default()),
            InputKind::Key(_) => State::Key(KeyState::default()),
        };
        Self { states: station.inputs.iter().map(|input| state(&input.kind)).collect() }
    }

    /// Takes one sample; `scan` counts from 0.
    pub(crate) fn scan(&mut self, station: &Station, scan: i64, sample: &Sample) -> View {
        let mut view = View {
            inputs: vec![Seen::default(); station.inputs.len()],
            seen_off: Vec::new(),
            active: vec![false; station.bypasses.len()],
            observed: BTreeMap::new(),
        };
        for output in &station.outputs {
            view.seen_off.push(match output.read_back {
                Some((channel, _)) => Bits::known(sample.channels[channel]),
                None => Bits::UNKNOWN,
            });
        }
        let one_second = i64::from(1_000_000 / station.scan_us).max(1);
        for (i, input) in station.inputs.iter().enumerate() {
            match (&mut self.states[i], &input.kind) {
                (State::Contact(state), InputKind::Contact(contact)) => {
                    view.inputs[i] = state.scan(contact, scan % one_second, one_second, sample);
                }
                (State::Pair(state), InputKind::Pair(pair)) => {
                    view.inputs[i] = state.scan(pair, sample);
                }
                (State::Key(state), InputKind::Key(key)) => {
                    view.inputs[i] = state.scan(key, sample);
                }
                _ => {}
            }
        }
        for (i, input) in station.inputs.iter().enumerate() {
            if let (State::Pace(state), InputKind::Pace(pace)) = (&mut self.states[i], &input.kind) {
                view.inputs[i] = state.scan(pace, scan, sample, &view);
            }
        }
        for (i, input) in station.inputs.iter().enumerate() {
            if let (State::Detector(state), InputKind::Detector(detector)) = (&mut self.states[i], &input.kind) {
                view.inputs[i] = state.scan(detector, sample, &view);
            }
        }
        for (i, input) in station.inputs.iter().enumerate() {
            match (&mut self.states[i], &input.kind) {
                (State::Gauge(state), InputKind::Gauge(gauge)) => {
                    view.inputs[i] = state.scan(gauge, sample, &view);
                }
                (State::Link(state), InputKind::Link(link)) => {
                    view.inputs[i] = state.scan(link, station.worst(), sample);
                }
                _ => {}
            }
        }
        view
    }
}
