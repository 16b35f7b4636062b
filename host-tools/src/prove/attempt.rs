//! From a requirement to a proof: first with its own rules alone and nothing assumed, then with more.

use super::circuit::System;
use super::claim::{Claimed, Subject};
use super::graph::Wire;
use super::lemma::Lemma;
use super::model::Model;
use super::search::{Outcome, Task, begins, search, wires};
use super::templates::{self, by_name, lemmas, own_cuts, own_watches};
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

/// Tries to prove a requirement; `None` is no verdict.
pub fn attempt(model: &Model<'_>, system: &mut System, requirement: usize) -> Option<Proof> {
    let asked = model.station.requirements.get(requirement)?;
    let bad = system.told.bad(Subject::Requirement(requirement))?;
    let cells = by_name(system);
    let watches = own_watches(model, asked);
    let own = own_cuts(model, asked, &watches);
    let offered = wires(system, lemmas(model, &cells, asked, &watches));
    let channels: BTreeSet<usize> =
        asked.inputs().into_iter().flat_map(|input| model.station.channels_of(input)).collect();
    let signals: Vec<usize> = (0..model.signals.len())
        .filter(|&i| model.signals.get(i).is_some_and(|s| channels.contains(&s.channel)))
        .collect();
    for stage in STAGES {
        let signals: Vec<usize> = if stage.signals { signals.clone() } else { Vec::new() };
        let assumptions: Vec<usize> =
            if stage.assumptions { (0..model.station.assumptions.len()).collect() } else { Vec::new() };
        if (stage.signals && signals.is_empty()) || (stage.assumptions && assumptions.is_empty()) {
            continue;
        }
        let given = given(system, &signals, &assumptions);
        let keep = |cut: Cut| stage.whole || own.contains(&cut);
        let task = Task { bad, given: &given, lemmas: &offered, keep: &keep, depth: stage.depth };
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

/// Tries to prove a property of every station; the rules are whole, and nothing is taken for granted.
pub fn attempt_standing(model: &Model<'_>, system: &mut System, standing: usize) -> Option<Proof> {
    let subject = Subject::Standing(standing);
    let bad = system.told.bad(subject)?;
    let cells = by_name(system);
    let offered = wires(system, templates::standing::lemmas(model, &cells));
    let task = Task { bad, given: &[], lemmas: &offered, keep: &|_| true, depth: 1 };
    let Outcome::Proved { lemmas, cells } = search(system, &task) else { return None };
    let lemmas = used(&offered, &lemmas);
    let claimed = Claimed { subject, depth: 1, signals: Vec::new(), assumptions: Vec::new(), lemmas };
    Some(Proof { claimed, whole: true, cells, offered: offered.len() })
}

/// Tries to prove a subject with lemmas like those of an earlier proof, and with what that took for granted.
pub fn attempt_like(model: &Model<'_>, system: &mut System, earlier: &Claimed) -> Option<Proof> {
    let subject = earlier.subject;
    let bad = system.told.bad(subject)?;
    let cells = by_name(system);
    let (lemmas, own) = match subject {
        Subject::Standing(_) => (templates::standing::lemmas(model, &cells), BTreeSet::new()),
        Subject::Requirement(requirement) => {
            let asked = model.station.requirements.get(requirement)?;
            let watches = own_watches(model, asked);
            (lemmas(model, &cells, asked, &watches), own_cuts(model, asked, &watches))
        }
    };
    let like = |lemma: &Lemma| earlier.lemmas.iter().any(|known| known.is_like(lemma));
    let offered = wires(system, lemmas.into_iter().filter(like).collect());
    let given = given(system, &earlier.signals, &earlier.assumptions);
    let whole = matches!(subject, Subject::Standing(_));
    for whole in [false, true].into_iter().filter(|&all| all || !whole) {
        let keep = |cut: Cut| whole || own.contains(&cut);
        let task = Task { bad, given: &given, lemmas: &offered, keep: &keep, depth: earlier.depth };
        if let Outcome::Proved { lemmas, cells } = search(system, &task)
            && (task.depth == 1 || begins(system, &task, &lemmas))
        {
            let claimed = Claimed { lemmas: used(&offered, &lemmas), ..earlier.clone() };
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
