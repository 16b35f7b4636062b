//! What the variables of a dump say now, and what a scan sees of it.
//!
//! Only what changed since the scan before is put into the sample. Variables of one terminal, as those of a gauge and its health, are put
//! together.

use std::collections::HashMap;

use super::cells;
use super::columns::Slot;
use super::dump_top::{Doubt, Head, Target, Variable};
use crate::sample::{Frame, Health, Reading, Sample};
use crate::scale::{scale, scale_value};

/// A gauge of which nobody knows what it shows.
const DOUBT: Reading = Reading { steps: 0, health: Health::Doubtful };

/// What a variable says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Value {
    Number(f64),
    /// `x` or `z`: nobody knows.
    Unknown,
}

/// What all variables say.
#[derive(Debug)]
pub(super) struct Known {
    all: Vec<Now>,
    terminals: Vec<Terminal>,
    /// Terminals of which something changed since the last scan, each once.
    changed: Vec<usize>,
    /// Channels and counters that nobody knows.
    unknown: usize,
    /// Changes that came and went between two scans.
    unseen: u64,
}

/// What a variable says.
#[derive(Debug)]
struct Now {
    value: Value,
    /// The scan that saw it last change.
    seen: u64,
    /// Number of its terminal.
    terminal: usize,
}

/// What is put into one place of the sample, or beside it.
#[derive(Debug, Default)]
struct Terminal {
    variables: Vec<usize>,
    /// Number of what tells its health.
    doubt: Option<usize>,
    changed: bool,
}

impl Known {
    pub(super) fn new(head: &Head<'_>) -> Self {
        let (mut all, mut terminals, mut numbers) = (Vec::new(), Vec::<Terminal>::new(), HashMap::new());
        for (number, variable) in head.variables.iter().enumerate() {
            let of_health = |doubt: &&Doubt| [doubt.doubtful, doubt.broken].contains(&Some(number));
            let place = match variable.target {
                Target::Level(i) | Target::Scaled(Slot::Channel(i)) => (0, i),
                Target::Value(i, _) | Target::Current(i, _) | Target::Steps(i) | Target::Scaled(Slot::Gauge(i, _)) => {
                    (1, i)
                }
                Target::Travel(i, _) | Target::Scaled(Slot::Counter(i, _) | Slot::CounterOn(i, _)) => (2, i),
                Target::Fresh(i) | Target::Order(i) | Target::Rank(i) | Target::Scaled(Slot::Link(i)) => (3, i),
                Target::Health | Target::Scaled(Slot::Ignored) => {
                    head.doubts.iter().find(of_health).map_or((4, number), |doubt| (1, doubt.gauge))
                }
            };
            let terminal = *numbers.entry(place).or_insert_with(|| {
                let doubt = head.doubts.iter().position(|doubt| place == (1, doubt.gauge));
                terminals.push(Terminal { variables: Vec::new(), doubt, changed: true });
                terminals.len() - 1
            });
            if let Some(terminal) = terminals.get_mut(terminal) {
                terminal.variables.push(number);
            }
            all.push(Now { value: Value::Unknown, seen: 0, terminal });
        }
        let unknown = head.variables.iter().filter(|variable| variable.must_be_known()).count();
        Self { changed: (0..terminals.len()).collect(), all, terminals, unknown, unseen: 0 }
    }
    /// Changes that came and went between two scans.
    pub(super) fn unseen(&self) -> u64 {
        self.unseen
    }
    /// A variable says this, and will be seen by this scan; by none yet that could have seen it otherwise, where that is `fresh`.
    pub(super) fn change(&mut self, variable: usize, value: Value, scan: u64, fresh: bool, head: &Head<'_>) {
        let Some(now) = self.all.get_mut(variable).filter(|now| now.value != value) else { return };
        // It changed before in this very scan: nobody saw what it was.
        self.unseen += u64::from(now.seen == scan && !fresh);
        if (now.value == Value::Unknown || value == Value::Unknown)
            && head.variables.get(variable).is_some_and(Variable::must_be_known)
        {
            let known = value != Value::Unknown;
            self.unknown = if known { self.unknown.saturating_sub(1) } else { self.unknown + 1 };
        }
        (now.value, now.seen) = (value, scan);
        if let Some(terminal) = self.terminals.get_mut(now.terminal)
            && !std::mem::replace(&mut terminal.changed, true)
        {
            self.changed.push(now.terminal);
        }
    }
    /// The first channel or counter that nobody knows.
    pub(super) fn unknown<'h>(&self, head: &'h Head<'_>) -> Option<&'h Variable> {
        if self.unknown == 0 {
            return None;
        }
        let mut variables = head.variables.iter().zip(&self.all);
        let unknown = variables.find(|(variable, now)| variable.must_be_known() && now.value == Value::Unknown);
        unknown.map(|(variable, _)| variable)
    }
    /// What a scan sees now; gives a variable with a value that it cannot have.
    pub(super) fn sample<'h>(&mut self, head: &'h Head<'_>, sample: &mut Sample) -> Option<&'h Variable> {
        let mut bad = None;
        for at in 0..self.changed.len() {
            let Some(terminal) = self.changed.get(at).and_then(|at| self.terminals.get_mut(*at)) else { continue };
            terminal.changed = false;
            for &number in &terminal.variables {
                let (Some(variable), Some(now)) = (head.variables.get(number), self.all.get(number)) else { continue };
                let known = match now.value {
                    Value::Number(number) => Some(number),
                    Value::Unknown => None,
                };
                if !put(variable, known, head, sample) {
                    bad = bad.max(Some(number));
                }
            }
            // Its three variables together say what a gauge of our own dumps is.
            if let Some(doubt) = terminal.doubt.and_then(|doubt| head.doubts.get(doubt)) {
                let is = |place: Option<usize>| {
                    place.and_then(|place| self.all.get(place)).is_some_and(|now| now.value != Value::Number(0.0))
                };
                if let Some(reading) = sample.gauges.get_mut(doubt.gauge) {
                    let health = [(doubt.broken, Health::Broken), (doubt.doubtful, Health::Doubtful)];
                    if let Some((_, health)) = health.into_iter().find(|(place, _)| is(*place)) {
                        (reading.steps, reading.health) = (0, health);
                    }
                }
            }
        }
        self.changed.clear();
        bad.and_then(|number| head.variables.get(number))
    }
}

/// Puts a value into its place; false if it does not fit.
pub(super) fn put(variable: &Variable, number: Option<f64>, head: &Head<'_>, sample: &mut Sample) -> bool {
    let bit = |number: f64| match whole(number) {
        Some(0) => Some(false),
        Some(1) => Some(true),
        _ => None,
    };
    match variable.target {
        Target::Level(i) => {
            let level = number.and_then(bit);
            if let (Some(level), Some(cell)) = (level, sample.channels.get_mut(i)) {
                *cell = level;
            }
            level.is_some()
        }
        Target::Travel(i, mm) => {
            let travel = number.and_then(|number| whole(number * f64::from(mm))).and_then(|mm| i32::try_from(mm).ok());
            if let (Some(travel), Some(cell)) = (travel, sample.travel.get_mut(i)) {
                *cell = travel;
            }
            travel.is_some()
        }
        Target::Scaled(slot) => match (number, slot) {
            (Some(number), _) => match cells::anew(&slot, number.to_string().as_bytes(), &head.columns) {
                Ok(meant) => {
                    // What a counter says is all that it moved.
                    if let Slot::Counter(i, _) | Slot::CounterOn(i, _) = slot
                        && let Some(travel) = sample.travel.get_mut(i)
                    {
                        *travel = 0;
                    }
                    cells::fill(&slot, meant, sample)
                }
                Err(_) => false,
            },
            (None, Slot::Gauge(i, _)) => {
                if let Some(cell) = sample.gauges.get_mut(i) {
                    *cell = DOUBT;
                }
                true
            }
            (None, _) => false,
        },
        Target::Value(i, _) | Target::Current(i, _) | Target::Steps(i) => {
            let (Some(gauge), Some(cell)) = (head.columns.gauges.get(i).copied().flatten(), sample.gauges.get_mut(i))
            else {
                return true;
            };
            let Some(number) = number else {
                *cell = DOUBT;
                return true;
            };
            let times = |by: f64| whole((number * by).round());
            *cell = match variable.target {
                Target::Current(_, nano) => match times(nano) {
                    Some(na) => scale(gauge, na),
                    None => return false,
                },
                Target::Value(_, millionths) => match times(millionths) {
                    Some(micro) => scale_value(gauge, micro),
                    None => return false,
                },
                _ => {
                    let steps = times(1e6).map(|micro| micro.div_euclid(gauge.step_micro) - gauge.lowest);
                    match steps.and_then(|steps| u32::try_from(steps).ok()).filter(|steps| *steps <= gauge.top) {
                        Some(steps) => Reading { steps, health: Health::Good },
                        None => DOUBT,
                    }
                }
            };
            true
        }
        Target::Fresh(i) => {
            if let Some(cell) = sample.links.get_mut(i) {
                cell.fresh = number.and_then(bit) == Some(true);
            }
            true
        }
        Target::Order(i) => {
            let order = number.and_then(whole).and_then(|order| u8::try_from(order).ok());
            if let Some(cell) = sample.links.get_mut(i) {
                match order {
                    Some(order) => cell.order = order,
                    // Nobody knows what was ordered, and a rank that nobody knows is the most severe.
                    None => cell.order = u8::MAX,
                }
            }
            order.is_some() || number.is_none()
        }
        Target::Rank(i) => {
            let order = number.and_then(whole).and_then(|order| u8::try_from(order).ok());
            if let Some(cell) = sample.links.get_mut(i) {
                *cell = order.map_or_else(Frame::default, |order| Frame { fresh: true, order });
            }
            order.is_some() || number.is_none()
        }
        Target::Health => true,
    }
}

/// A whole number, if it is one and not too large for one.
#[expect(clippy::cast_possible_truncation, reason = "it is whole and below two to the power of 53")]
fn whole(number: f64) -> Option<i64> {
    (number.fract() == 0.0 && number.abs() < 9e15).then_some(number as i64)
}
