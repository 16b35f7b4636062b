//! What the gauges show.

use super::faults::Faults;
use super::number::{Random, nearest, real, seconds};
use super::scenario::{Behaviour, GaugeFault, Scenario};
use super::train::{Carrier, Train};
use crate::lane::Course;
use crate::sample::{Health, Reading};
use crate::station::{Gauge, InputKind, Station, WatchKind, When};

/// A stretch of the run in which a carrier presses the gauge; values in steps.
#[derive(Debug, Clone)]
struct Press {
    from: f64,
    to: f64,
    over: f64,
    rated: f64,
    spread: f64,
}

#[derive(Debug, Clone)]
struct Model {
    presses: Vec<Press>,
    rest: f64,
    noise: f64,
    top: u32,
    random: Random,
}

/// All gauges of a station, by terminal.
#[derive(Debug, Clone)]
pub(super) struct Gauges {
    models: Vec<Model>,
}

/// Value of a gauge that nothing presses: zero, or what is nearest to it; in steps.
pub(super) fn rest(gauge: &Gauge) -> f64 {
    (-real(gauge.lowest)).clamp(0.0, f64::from(gauge.top))
}

impl Gauges {
    /// Takes each gauge's behaviour from the scenario, or from what the rules expect of it.
    pub(super) fn new(station: &Station, scenario: &Scenario, course: &Course, seed: u64) -> Self {
        let mut models = Vec::new();
        for terminal in 0..station.gauge_terminals.len() {
            let random =
                Random::new(seed.wrapping_add(0x5851_F42D_4C95_7F2D).wrapping_mul(2 * real_index(terminal) + 1));
            let mut model = Model { presses: Vec::new(), rest: 0.0, noise: 0.0, top: 0, random };
            for (i, input) in station.inputs.iter().enumerate() {
                if let InputKind::Gauge(g) = &input.kind
                    && g.terminal == terminal
                {
                    model.usual(i, g, station, course);
                }
            }
            let told = scenario.gauges.iter().filter(|g| g.0 == terminal);
            for (nth, (_, behaviour)) in told.enumerate() {
                if nth == 0 {
                    model.presses.clear();
                }
                model.behave(behaviour, course);
            }
            models.push(model);
        }
        Self { models }
    }
    /// Reads every gauge.
    pub(super) fn read(&mut self, train: Option<&Train>, faults: &Faults, into: &mut [Reading]) {
        for (terminal, (model, reading)) in self.models.iter_mut().zip(into).enumerate() {
            let mut value = model.rest;
            for carrier in train.into_iter().flat_map(Train::carriers) {
                if let Some(pressed) = model.pressed(carrier, terminal) {
                    value = pressed;
                    break;
                }
            }
            value += model.random.wobble() * model.noise;
            let mut health = Health::Good;
            for fault in faults.gauge(terminal) {
                (health, value) = match fault {
                    GaugeFault::Wire => (Health::Broken, 0.0),
                    GaugeFault::Short => (Health::Broken, f64::from(model.top)),
                    GaugeFault::Doubtful => (Health::Doubtful, 0.0),
                    GaugeFault::At(at) => (Health::Good, at),
                    GaugeFault::OffBy(by) => (health, value + by),
                };
            }
            let steps = nearest(value.clamp(0.0, f64::from(model.top)));
            *reading = Reading { steps: u32::try_from(steps).unwrap_or(0).min(model.top), health };
        }
    }
}

fn real_index(at: usize) -> u64 {
    u64::try_from(at).unwrap_or(0)
}

impl Model {
    /// What the rules expect: pressed where a measure looks, or the middle of the scale.
    fn usual(&mut self, input: usize, gauge: &Gauge, station: &Station, course: &Course) {
        self.top = gauge.top;
        self.noise = f64::from(gauge.top) / 2_000.0;
        for watch in &station.watches {
            let WatchKind::Measure(m) = &watch.kind else {
                continue;
            };
            let Some(InputKind::Detector(d)) = station.inputs.get(m.detector).map(|i| &i.kind) else {
                continue;
            };
            if m.gauge != input {
                continue;
            }
            // As far as a carrier comes while the measure lasts, at 6 m/s where it is told in time.
            let reach = match m.when {
                When::Rise => 0.0,
                When::Scans(n) => seconds(u64::from(n) * u64::from(station.scan_us)) * 6_000.0,
                When::Rope(_, mm) => f64::from(mm),
            };
            let start = course.run_to(f64::from(d.at));
            let (least, most) = (f64::from(m.least), f64::from(m.most));
            let (from, to) = (start - 300.0, start + reach + 600.0);
            let (rated, spread) = (f64::midpoint(least, most), (most - least) / 8.0);
            self.noise = self.noise.min((most - least) / 50.0);
            self.presses.push(Press { from, to, over: 400.0, rated, spread });
        }
        self.rest = if self.presses.is_empty() { f64::from(gauge.top) / 2.0 } else { rest(gauge) };
    }
    fn behave(&mut self, behaviour: &Behaviour, course: &Course) {
        match *behaviour {
            Behaviour::Lies { at, noise } => (self.rest, self.noise) = (at, noise),
            Behaviour::Pressed { between, rated, rest, spread, noise, over } => {
                (self.rest, self.noise) = (rest, noise);
                let (from, to) = (course.run_to(between.0), course.run_to(between.1));
                self.presses.push(Press { from, to, over, rated, spread });
            }
        }
    }
    /// Value under a carrier, if it is there.
    fn pressed(&self, carrier: &Carrier, terminal: usize) -> Option<f64> {
        let press = self.presses.iter().find(|p| carrier.run > p.from - p.over && carrier.run < p.to + p.over)?;
        let own = carrier.presses.iter().rev().find(|p| p.0 == terminal).map(|p| p.1);
        let full = own.unwrap_or(press.rated + carrier.strength * press.spread);
        let into = (carrier.run - (press.from - press.over)) / press.over;
        let left = (press.to + press.over - carrier.run) / press.over;
        Some(self.rest + (full - self.rest) * into.min(left).min(1.0))
    }
}
