//! Bounces aside: what a requirement reads of contacts, pairs, detectors and keys, it reads of copies that settle.

use super::translate::copied;
use crate::station::{Input, InputId, InputKind, Name, Requirement, Scans, Settle, Station};

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
    steady.each_settling(&mut of);
    steady
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
