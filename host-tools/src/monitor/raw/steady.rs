//! Bounces aside: what a requirement reads of contacts, pairs, detectors and keys, it reads of copies that settle.

use super::translate::copied;
use crate::station::{Condition, Form, Input, InputId, InputKind, Name, Observed, Requirement, Scans, Settle, Station};

/// Copies that are there: of which input, by how much they settle, and where they are.
pub(super) type Steady = Vec<(InputId, Scans, InputId)>;

/// Name of a copy of an input that settles by so many scans.
pub fn steady_name(name: &str, scans: Scans) -> String {
    format!("{name}.steady-{scans}")
}

/// The requirement, of copies that settle if it sets bounces aside.
pub(super) fn steady(
    raw: &mut Station,
    requirement: &Requirement,
    copies: &mut Vec<usize>,
    known: &mut Steady,
) -> Requirement {
    let mut steady = requirement.clone();
    let scans = requirement.bounces;
    if scans == 0 {
        return steady;
    }
    let mut of = |input: &mut InputId| *input = copy(raw, *input, scans, copies, known);
    match &mut steady.form {
        Form::Whenever { condition, .. }
        | Form::Never { condition, .. }
        | Form::Effect { condition, .. }
        | Form::NeverReleasedBut { condition, .. } => each(condition, &mut of),
        Form::WhenRises { detector, .. } => of(detector),
        Form::After { from, to, .. } => {
            of(from);
            of(to);
        }
        Form::NeverReleased { .. } | Form::NeverPermitted { .. } | Form::NeverTogether(..) | Form::Held { .. } => {}
    }
    if let Some(unless) = &mut steady.unless {
        each(unless, &mut of);
    }
    steady
}

/// Each input whose level a condition reads, or whose rises it counts. What else requirements speak of has a settling of its own, or none.
fn each(condition: &mut Condition, of: &mut impl FnMut(&mut InputId)) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter_mut().for_each(|part| each(part, of)),
        Condition::Not(part) => each(part, of),
        Condition::High(input) | Condition::Observed(Observed::Differing(input)) => of(input),
        Condition::Observed(Observed::Stray(way) | Observed::Crowded(way, _)) => {
            of(&mut way.from);
            of(&mut way.to);
        }
        _ => {}
    }
}

fn copy(raw: &mut Station, input: InputId, scans: Scans, copies: &mut Vec<usize>, known: &mut Steady) -> InputId {
    if let Some((.., copy)) = known.iter().find(|(of, by, _)| (*of, *by) == (input, scans)) {
        return *copy;
    }
    let Some(Input { name, mut kind }) = raw.inputs.get(input).cloned() else { return input };
    let by = Settle { up: scans, down: scans };
    let mut again = |channel: usize| {
        let text = raw.channels.get(channel).cloned().unwrap_or_default();
        copied(raw, &Name { text, ..name.clone() }, channel, copies)
    };
    match &mut kind {
        InputKind::Contact(c) => (c.channel, c.settle) = (again(c.channel), by),
        InputKind::Detector(d) => (d.channel, d.settle) = (again(d.channel), by),
        InputKind::Pair(p) => (p.channels, p.settle) = (p.channels.map(again), by),
        InputKind::Key(k) => {
            let first = again(k.channels.0);
            (k.channels, k.settle) = ((first, k.channels.1.map(again)), by);
        }
        InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_) => return input,
    }
    let name = Name { text: steady_name(&name.text, scans), ..name };
    raw.inputs.push(Input { name, kind });
    known.push((input, scans, raw.inputs.len() - 1));
    raw.inputs.len() - 1
}
