//! Random conditions whose value in health is known.
//!
//! Each thing is spoken of once in a condition, so that every one of them can hold and can fail.

use host_tools::station::{Condition, InputId, InputKind, Station};

use super::inputs::limit;
use super::{Plan, Rng, Role};

/// Value of a condition while everything is in health; none if it comes and goes.
type Nominal = Option<bool>;

/// False in health: for trips.
pub(super) fn a_trip(rng: &mut Rng, plan: &Plan, station: &Station) -> Condition {
    let mut all = Speaker::new(plan, station, &[]);
    match all.tree(rng, 2) {
        (condition, Some(false)) => condition,
        (condition, Some(true)) => Condition::Not(Box::new(condition)),
        (condition, None) => Condition::All(vec![condition, all.fixed(rng, false)]),
    }
}

/// True in health: for permissions; it does not speak of `but`.
pub(super) fn a_permission(rng: &mut Rng, plan: &Plan, station: &Station, but: &[InputId]) -> Condition {
    let mut all = Speaker::new(plan, station, but);
    match all.tree(rng, 1) {
        (condition, Some(true)) => condition,
        (condition, Some(false)) => Condition::Not(Box::new(condition)),
        (condition, None) => Condition::Any(vec![condition, all.fixed(rng, true)]),
    }
}

/// Anything on raw inputs, whatever its value in health.
pub(super) fn anything(rng: &mut Rng, plan: &Plan, station: &Station) -> Condition {
    let mut all = Speaker { raw: true, ..Speaker::new(plan, station, &[]) };
    let (condition, nominal) = all.tree(rng, 2);
    if nominal == Some(true) && rng.chance(80) { Condition::Not(Box::new(condition)) } else { condition }
}

/// What can still be spoken of.
struct Speaker<'a> {
    plan: &'a Plan,
    station: &'a Station,
    inputs: Vec<InputId>,
    outputs: Vec<usize>,
    /// Contacts, pairs and detectors have no fault there.
    raw: bool,
}

impl<'a> Speaker<'a> {
    fn new(plan: &'a Plan, station: &'a Station, but: &[InputId]) -> Self {
        Self {
            plan,
            station,
            inputs: (0..station.inputs.len()).filter(|input| !but.contains(input)).collect(),
            outputs: (0..station.outputs.len()).filter(|&i| station.outputs[i].read_back.is_some()).collect(),
            raw: false,
        }
    }

    /// A simple condition with a certain value in health.
    fn fixed(&mut self, rng: &mut Rng, wanted: bool) -> Condition {
        loop {
            let (condition, nominal) = self.simple(rng);
            match nominal {
                Some(value) if value == wanted => return condition,
                Some(_) => return Condition::Not(Box::new(condition)),
                None => {}
            }
        }
    }

    fn tree(&mut self, rng: &mut Rng, depth: u32) -> (Condition, Nominal) {
        if depth == 0 || rng.chance(40) {
            return self.simple(rng);
        }
        if rng.chance(20) {
            let (part, nominal) = self.tree(rng, depth - 1);
            return (Condition::Not(Box::new(part)), nominal.map(|value| !value));
        }
        let parts: Vec<(Condition, Nominal)> = (0..rng.size(2, 3)).map(|_| self.tree(rng, depth - 1)).collect();
        let all = rng.chance(50);
        // The value that decides a conjunction is false, that of a disjunction is true.
        let nominal = if parts.iter().any(|part| part.1 == Some(!all)) {
            Some(!all)
        } else if parts.iter().any(|part| part.1.is_none()) {
            None
        } else {
            Some(all)
        };
        let parts = parts.into_iter().map(|part| part.0).collect();
        (if all { Condition::All(parts) } else { Condition::Any(parts) }, nominal)
    }

    fn simple(&mut self, rng: &mut Rng) -> (Condition, Nominal) {
        if rng.chance(10) && !self.outputs.is_empty() {
            let at = rng.index(self.outputs.len());
            return (Condition::SeenOff(self.outputs.swap_remove(at)), None);
        }
        let at = rng.index(self.inputs.len());
        let input = self.inputs.swap_remove(at);
        simple(rng, self.plan, self.station, input, self.raw)
    }
}

fn simple(rng: &mut Rng, plan: &Plan, station: &Station, input: InputId, raw: bool) -> (Condition, Nominal) {
    let fails = match &station.inputs[input].kind {
        InputKind::Contact(contact) => contact.most_changes.is_some() && !raw,
        InputKind::Detector(detector) => detector.covered_at_most.is_some() && !raw,
        InputKind::Pair(_) => !raw,
        InputKind::Key(_) => false,
        _ => true,
    };
    if fails && rng.chance(30) {
        return (Condition::Faulty(input), Some(false));
    }
    match &station.inputs[input].kind {
        InputKind::Contact(contact) => {
            let rests = matches!(plan.roles[input], Role::Contact(_)).then_some(contact.rests_closed);
            (Condition::High(input), rests)
        }
        InputKind::Pair(pair) => (Condition::High(input), Some(pair.rests_closed)),
        InputKind::Detector(_) => (Condition::High(input), None),
        InputKind::Key(_) => {
            let free = !matches!(plan.roles[input], Role::ModeKey(_) | Role::BypassKey(_));
            (Condition::High(input), free.then_some(false))
        }
        InputKind::Gauge(gauge) => {
            let nominal = plan.nominal - gauge.lowest;
            if rng.chance(30) {
                let above = Condition::AtLeast(input, limit(nominal + rng.within(2, 5)));
                let between =
                    vec![Condition::AtLeast(input, limit(nominal - rng.within(2, 5))), Condition::Not(Box::new(above))];
                return (Condition::All(between), Some(true));
            }
            let above = rng.chance(50);
            let slack = rng.within(2, 5);
            let steps = if above { nominal + slack } else { nominal - slack };
            (Condition::AtLeast(input, limit(steps)), Some(!above))
        }
        InputKind::Pace(pace) => match rng.below(3) {
            0 => {
                let fast = limit((plan.speed + 1) * plan.span + 1);
                (Condition::Faster(input, fast), Some(false))
            }
            1 if pace.signed => (Condition::Back(input, pace.still + 1), Some(false)),
            _ => (Condition::Faster(input, pace.still + 1), None),
        },
        InputKind::Link(_) => (Condition::Faulty(input), Some(false)),
    }
}
