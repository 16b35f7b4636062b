//! Random conditions whose value in health is known.

use host_tools::station::{Condition, InputKind, Station};

use super::inputs::limit;
use super::{Plan, Rng, Role};

/// Value of a condition while everything is in health; none if it comes and goes.
type Nominal = Option<bool>;

/// False in health: for trips.
pub(super) fn a_trip(rng: &mut Rng, plan: &Plan, station: &Station) -> Condition {
    let (condition, nominal) = tree(rng, plan, station, 2);
    match nominal {
        Some(false) => condition,
        Some(true) => Condition::Not(Box::new(condition)),
        None => Condition::All(vec![condition, fixed(rng, plan, station, false)]),
    }
}

/// True in health: for permissions.
pub(super) fn a_permission(rng: &mut Rng, plan: &Plan, station: &Station) -> Condition {
    let (condition, nominal) = tree(rng, plan, station, 1);
    match nominal {
        Some(true) => condition,
        Some(false) => Condition::Not(Box::new(condition)),
        None => Condition::Any(vec![condition, fixed(rng, plan, station, true)]),
    }
}

/// A simple condition with a certain value in health.
fn fixed(rng: &mut Rng, plan: &Plan, station: &Station, wanted: bool) -> Condition {
    loop {
        let (condition, nominal) = simple(rng, plan, station);
        match nominal {
            Some(value) if value == wanted => return condition,
            Some(_) => return Condition::Not(Box::new(condition)),
            None => {}
        }
    }
}

fn tree(rng: &mut Rng, plan: &Plan, station: &Station, depth: u32) -> (Condition, Nominal) {
    if depth == 0 || rng.chance(40) {
        return simple(rng, plan, station);
    }
    if rng.chance(20) {
        let (part, nominal) = tree(rng, plan, station, depth - 1);
        return (Condition::Not(Box::new(part)), nominal.map(|value| !value));
    }
    let parts: Vec<(Condition, Nominal)> = (0..rng.size(2, 3)).map(|_| tree(rng, plan, station, depth - 1)).collect();
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

fn simple(rng: &mut Rng, plan: &Plan, station: &Station) -> (Condition, Nominal) {
    if rng.chance(10) {
        return (Condition::SeenOff(rng.index(station.outputs.len())), None);
    }
    let input = rng.index(station.inputs.len());
    if rng.chance(30) {
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
            1 => (Condition::Back(input, pace.still + 1), Some(false)),
            _ => (Condition::Faster(input, pace.still + 1), None),
        },
        InputKind::Link(_) => (Condition::Faulty(input), Some(false)),
    }
}
