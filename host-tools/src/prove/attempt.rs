//! From a requirement to a proof: first with its own rules alone and nothing assumed, then with more.

use super::circuit::System;
use super::claim::{Claimed, Subject};
use super::graph::Wire;
use super::lemma::Lemma;
use super::model::Model;
use super::search::{CONFLICTS, Outcome, Task, begins, search, wires};
use super::templates::{self, by_name, lemmas, own_cuts, own_watches};
use crate::station::Form;
use logic_rules::Cut;
use std::collections::BTreeSet;

/// A proof that was found; a certificate is made of it, and only its check counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proof {
    /// What is to be checked.
    pub claimed: Claimed,
    /// All cuts stayed closed, not only those of its own rules.
    pub whole: bool,
    /// Cells that the questions needed.
    pub cells: usize,
    /// Lemmas that were offered.
    pub offered: usize,
}

/// What an attempt may use.
#[derive(Debug, Clone, Copy)]
struct Stage {
    depth: usize,
    signals: bool,
    assumptions: bool,
    whole: bool,
}

/// In this order: what is proved with less is the better proof.
const STAGES: [Stage; 8] = [
    Stage { depth: 1, signals: false, assumptions: false, whole: false },
    Stage { depth: 2, signals: false, assumptions: false, whole: false },
    Stage { depth: 1, signals: true, assumptions: false, whole: false },
    Stage { depth: 3, signals: true, assumptions: false, whole: false },
    Stage { depth: 1, signals: false, assumptions: false, whole: true },
    Stage { depth: 3, signals: true, assumptions: false, whole: true },
    Stage { depth: 3, signals: true, assumptions: true, whole: false },
    Stage { depth: 3, signals: true, assumptions: true, whole: true },
];

/// Conflicts after which a proof like an earlier one is given up: three times the most that a proof of a demo station is known to have taken. What is
/// lost is seldom seen at once, and what is not proved so may still be proved by a whole attempt.
const LIKE: u64 = 100_000;

/// Tries to prove a requirement; `None` is no verdict.
pub fn attempt(model: &Model<'_>, system: &mut System, requirement: usize) -> Option<Proof> {
    let asked = model.station.requirements.get(requirement)?;
    let bad = system.told.bad(Subject::Requirement(requirement))?;
    let cells = by_name(system);
    let watches = own_watches(model, asked);
    let own = own_slice(model, Subject::Requirement(requirement));
    let offered = wires(system, lemmas(model, &cells, asked, &watches));
    let channels: BTreeSet<usize> =
        asked.inputs().into_iter().flat_map(|input| model.station.channels_of(input)).collect();
    let signals: Vec<usize> = (0..model.signals.len())
        .filter(|&i| model.signals.get(i).is_some_and(|s| channels.contains(&s.channel)))
        .collect();
    let free = is_held(model, Subject::Requirement(requirement));
    for stage in STAGES.into_iter().filter(|stage| !(free && stage.assumptions)) {
        let signals: Vec<usize> = if stage.signals { signals.clone() } else { Vec::new() };
        let assumptions: Vec<usize> =
            if stage.assumptions { (0..model.station.assumptions.len()).collect() } else { Vec::new() };
        if (stage.signals && signals.is_empty()) || (stage.assumptions && assumptions.is_empty()) {
            continue;
        }
        let given = given(system, &signals, &assumptions);
        let keep = |cut: Cut| stage.whole || own.contains(&cut);
        let task = Task { bad, given: &given, lemmas: &offered, keep: &keep, depth: stage.depth, conflicts: CONFLICTS };
        if let Outcome::Proved { lemmas, cells } = search(system, &task)
            && (stage.depth == 1 || begins(system, &task, &lemmas))
        {
            let lemmas = used(&offered, &lemmas);
            let (depth, whole, offered) = (stage.depth, stage.whole, offered.len());
            let claimed = Claimed { subject: Subject::Requirement(requirement), depth, signals, assumptions, lemmas };
            return Some(Proof { claimed, whole, cells, offered });
        }
    }
    None
}

/// Tries to prove a property of every station, first with all rules as free to trip or not as they like; nothing is taken
/// for granted.
pub fn attempt_standing(model: &Model<'_>, system: &mut System, standing: usize) -> Option<Proof> {
    let cells = by_name(system);
    let lemmas = templates::standing::lemmas(model, &cells);
    let subject = Subject::Standing(standing);
    let granted = Claimed { subject, depth: 1, signals: Vec::new(), assumptions: Vec::new(), lemmas: Vec::new() };
    slice_then_whole(model, system, &granted, lemmas)
}

/// Tries to prove a subject with lemmas like those of an earlier proof, and with what that took for granted.
pub fn attempt_like(model: &Model<'_>, system: &mut System, earlier: &Claimed) -> Option<Proof> {
    if is_held(model, earlier.subject) && !earlier.assumptions.is_empty() {
        return None;
    }
    let cells = by_name(system);
    let all = match earlier.subject {
        Subject::Standing(_) => templates::standing::lemmas(model, &cells),
        Subject::Requirement(requirement) => {
            let asked = model.station.requirements.get(requirement)?;
            lemmas(model, &cells, asked, &own_watches(model, asked))
        }
    };
    let like = |lemma: &Lemma| earlier.lemmas.iter().any(|known| known.is_like(lemma));
    slice_then_whole(model, system, earlier, all.into_iter().filter(like).collect())
}

/// It is that a watch holds an assumption: proved without any, else one could hold the other up.
fn is_held(model: &Model<'_>, subject: Subject) -> bool {
    let Subject::Requirement(requirement) = subject else { return false };
    model.station.requirements.get(requirement).is_some_and(|asked| matches!(asked.form, Form::Held { .. }))
}

/// The cuts that are closed in the slice of a subject: those of its own rules.
pub fn own_slice(model: &Model<'_>, subject: Subject) -> BTreeSet<Cut> {
    match subject {
        Subject::Standing(_) => BTreeSet::new(),
        Subject::Requirement(requirement) => model
            .station
            .requirements
            .get(requirement)
            .map_or_else(BTreeSet::new, |asked| own_cuts(model, asked, &own_watches(model, asked))),
    }
}

fn slice_then_whole(model: &Model<'_>, system: &mut System, granted: &Claimed, lemmas: Vec<Lemma>) -> Option<Proof> {
    let bad = system.told.bad(granted.subject)?;
    let own = own_slice(model, granted.subject);
    let offered = wires(system, lemmas);
    let given = given(system, &granted.signals, &granted.assumptions);
    for whole in [false, true] {
        let keep = |cut: Cut| whole || own.contains(&cut);
        let task = Task { bad, given: &given, lemmas: &offered, keep: &keep, depth: granted.depth, conflicts: LIKE };
        if let Outcome::Proved { lemmas, cells } = search(system, &task)
            && (task.depth == 1 || begins(system, &task, &lemmas))
        {
            let claimed = Claimed { lemmas: used(&offered, &lemmas), ..granted.clone() };
            return Some(Proof { claimed, whole, cells, offered: offered.len() });
        }
    }
    None
}

/// The lemmas that a proof needed, of those that were offered.
fn used(offered: &[(Lemma, Wire)], places: &[usize]) -> Vec<Lemma> {
    places.iter().filter_map(|&i| offered.get(i)).map(|(lemma, _)| lemma.clone()).collect()
}

fn given(system: &System, signals: &[usize], assumptions: &[usize]) -> Vec<Wire> {
    let kept = signals.iter().filter_map(|&i| system.told.kept.get(i)).copied();
    let unbroken = assumptions.iter().filter_map(|&i| system.told.broken.get(i)).map(|broken| broken.opposite());
    kept.chain(unbroken).collect()
}
