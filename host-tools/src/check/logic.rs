//! Whether a condition can hold, and whether it can fail: exact, by looking through every valuation
//! of its simple conditions that is possible at all.

use std::collections::BTreeSet;

use super::pace;
use crate::station::{Condition, InputKind, Mm, Observed, Pace, Station};

/// Most simple conditions that are looked through.
pub(super) const MOST: usize = 12;

/// A simple condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Atom {
    High(usize),
    AtLeast(usize, u32),
    Faster(usize, u32),
    Back(usize, u32),
    Faulty(usize),
    SeenOff(usize),
    Bypassed(usize),
    Observed(Observed),
}

/// What can be said of a condition on known inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Can {
    /// Some possible valuation makes it true.
    pub(super) hold: bool,
    /// Some possible valuation makes it false.
    pub(super) fail: bool,
}

/// Looks a condition through; None if it has more simple conditions than [`MOST`].
pub(super) fn can(station: &Station, condition: &Condition) -> Option<Can> {
    let mut atoms = BTreeSet::new();
    condition.each(&mut |simple| atoms.extend(atom(simple)));
    let atoms: Vec<Atom> = atoms.into_iter().collect();
    if atoms.len() > MOST {
        return None;
    }
    let bits = |test: &dyn Fn(&Atom) -> bool| {
        atoms.iter().enumerate().filter(|(_, atom)| test(atom)).fold(0_u32, |mask, (i, _)| mask | 1 << i)
    };
    let always = bits(&|atom| fixed(station, *atom) == Some(true));
    let never = bits(&|atom| fixed(station, *atom) == Some(false));
    let implied: Vec<u32> = atoms.iter().map(|atom| bits(&|other| implies(*atom, *other))).collect();
    let mut can = Can { hold: false, fail: false };
    for valuation in 0..1_u32 << atoms.len() {
        let possible = valuation & always == always
            && valuation & never == 0
            && implied.iter().enumerate().all(|(i, mask)| valuation >> i & 1 == 0 || valuation & mask == *mask);
        if possible {
            if holds(condition, &atoms, valuation) {
                can.hold = true;
            } else {
                can.fail = true;
            }
        }
    }
    Some(can)
}

fn atom(condition: &Condition) -> Option<Atom> {
    Some(match *condition {
        Condition::High(at) => Atom::High(at),
        Condition::AtLeast(at, steps) => Atom::AtLeast(at, steps),
        Condition::Faster(at, mm) => Atom::Faster(at, mm),
        Condition::Back(at, mm) => Atom::Back(at, mm),
        Condition::Faulty(at) => Atom::Faulty(at),
        Condition::SeenOff(at) => Atom::SeenOff(at),
        Condition::Bypassed(at) => Atom::Bypassed(at),
        Condition::Observed(at) => Atom::Observed(at),
        Condition::All(_) | Condition::Any(_) | Condition::Not(_) => return None,
    })
}

/// What a simple condition always is, if its input leaves it no choice.
fn fixed(station: &Station, atom: Atom) -> Option<bool> {
    match atom {
        Atom::AtLeast(_, 0) | Atom::Faster(_, 0) | Atom::Back(_, 0) => Some(true),
        Atom::AtLeast(at, steps) => match station.inputs.get(at).map(|input| &input.kind) {
            Some(InputKind::Gauge(gauge)) if steps > gauge.top => Some(false),
            _ => None,
        },
        Atom::Faster(at, mm) => pace(station, at).filter(|pace| mm > most(pace)).map(|_| false),
        Atom::Back(at, mm) => pace(station, at).filter(|pace| mm > most(pace) || !pace.signed).map(|_| false),
        Atom::SeenOff(at) => station.outputs.get(at).filter(|output| output.read_back.is_none()).map(|_| false),
        Atom::Faulty(at) => (!can_fail(station, at)).then_some(false),
        // The press that confirms it makes it unknown at once.
        Atom::Observed(Observed::Miscounting(tally)) if tally.unknown == Some(tally.key) => {
            (tally.confirmed <= tally.most).then_some(false)
        }
        Atom::High(_) | Atom::Bypassed(_) | Atom::Observed(_) => None,
    }
}

/// The most that a pace counts in its span, in mm: a count over what it declares is a fault, but is read.
fn most(pace: &Pace) -> Mm {
    pace.top_scan.saturating_mul(pace.span)
}

/// Whether anything is ever a fault of an input.
fn can_fail(station: &Station, at: usize) -> bool {
    match station.inputs.get(at).map(|input| &input.kind) {
        Some(InputKind::Contact(contact)) => contact.most_changes.is_some(),
        Some(InputKind::Detector(detector)) => detector.covered_at_most.is_some(),
        Some(InputKind::Key(_)) => false,
        Some(InputKind::Pair(_) | InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_)) | None => true,
    }
}

/// Whether the second holds wherever the first does.
fn implies(first: Atom, second: Atom) -> bool {
    match (first, second) {
        (Atom::AtLeast(a, high), Atom::AtLeast(b, low))
        | (Atom::Faster(a, high), Atom::Faster(b, low))
        | (Atom::Back(a, high), Atom::Back(b, low) | Atom::Faster(b, low)) => a == b && high >= low,
        _ => false,
    }
}

fn holds(condition: &Condition, atoms: &[Atom], valuation: u32) -> bool {
    match condition {
        Condition::All(parts) => parts.iter().all(|part| holds(part, atoms, valuation)),
        Condition::Any(parts) => parts.iter().any(|part| holds(part, atoms, valuation)),
        Condition::Not(inner) => !holds(inner, atoms, valuation),
        simple => {
            atom(simple).and_then(|atom| atoms.binary_search(&atom).ok()).is_some_and(|i| valuation >> i & 1 == 1)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::station::Tally;

    fn empty() -> Station {
        Station {
            title: String::new(),
            revision: 1,
            temporary: None,
            scan_us: 10_000,
            on_fault: 1,
            modes: vec![],
            outputs: vec![],
            slows: vec![],
            stops: vec![],
            inputs: vec![],
            channels: vec![],
            gauge_terminals: vec![],
            sources: vec![],
            link_terminals: vec![],
            watches: vec![],
            reset: None,
            restart: 0,
            refills: vec![],
            bypasses: vec![],
            hazards: vec![],
            requirements: vec![],
            entries: vec![],
            assumptions: vec![],
            lane: None,
        }
    }

    fn not(condition: Condition) -> Condition {
        Condition::Not(Box::new(condition))
    }

    #[test]
    fn orders_comparisons_of_one_input() {
        let above = |steps| Condition::AtLeast(0, steps);
        let never = Condition::All(vec![above(9), not(above(4))]);
        assert_eq!(can(&empty(), &never), Some(Can { hold: false, fail: true }));
        let always = Condition::Any(vec![above(4), not(above(9))]);
        assert_eq!(can(&empty(), &always), Some(Can { hold: true, fail: false }));
        let either = Condition::All(vec![above(4), not(above(9))]);
        assert_eq!(can(&empty(), &either), Some(Can { hold: true, fail: true }));
        let back = Condition::All(vec![Condition::Back(0, 9), not(Condition::Faster(0, 4))]);
        assert_eq!(can(&empty(), &back), Some(Can { hold: false, fail: true }));
        let two = Condition::All(vec![Condition::Faster(0, 9), not(Condition::Faster(1, 4))]);
        assert_eq!(can(&empty(), &two), Some(Can { hold: true, fail: true }));
    }

    #[test]
    fn a_count_that_is_forgotten_by_the_press_that_confirms_it_says_nothing() {
        let counts = |confirmed: u32, unknown: Option<(usize, u32)>| {
            let tally = Tally { from: 0, to: 1, most: 2, confirmed, key: (2, 2), unknown };
            can(&empty(), &Condition::Observed(Observed::Miscounting(tally))).map(|can| can.hold)
        };
        assert_eq!(counts(0, Some((2, 2))), Some(false));
        assert_eq!(counts(0, None), Some(true));
        // By a longer press it is forgotten later, and too many are too many at once.
        assert_eq!(counts(0, Some((2, 3))), Some(true));
        assert_eq!(counts(3, Some((2, 2))), Some(true));
    }

    #[test]
    fn gives_up_beyond_the_most() {
        let many = Condition::All((0..=MOST).map(Condition::High).collect());
        assert_eq!(can(&empty(), &many), None);
    }
}
