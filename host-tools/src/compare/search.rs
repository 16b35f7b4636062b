//! The search for what stays between the two sides as long as nothing that they publish has differed: which cells are equal,
//! and where they are not, which is the greater one.
//!
//! All cells of a name are taken to be equal, and what the next scan does not keep is dropped, until all that is left is
//! kept. Where an equality goes, weaker relations are tried in its place.

use super::product::Product;
use super::side::Difference;
use super::twin::Twin;
use crate::prove::frames::{Answer, Frames};
use crate::prove::graph::Wire;
use crate::prove::lemma::{CellId, Claim, Lemma, Sum};
use batsat::Lit;
use logic_rules::plan::Fault;
use std::collections::BTreeSet;

/// Conflicts that a single question may take.
const CONFLICTS: u64 = 20_000;
/// Rounds in which equalities may go.
const ROUNDS: usize = 60;

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Found {
    /// What stays between the two sides.
    pub lemmas: Vec<Lemma>,
    /// Differences that never are the first.
    pub never: Vec<Difference>,
    /// Cells of the old rules that are equal to those of the new ones.
    pub equal: usize,
    /// Questions that were put to the solver.
    pub questions: usize,
}

/// That a cell of the old rules is equal to one of the new ones.
pub fn same(old: CellId, new: CellId) -> Lemma {
    Lemma::always(Claim::Same(Sum::cell(old), Sum::cell(new)))
}

/// What may stay of two cells that are not always equal.
fn weaker(twin: &Twin<'_>, old: CellId, new: CellId, numbers: &[u32]) -> Vec<Lemma> {
    let (a, b) = (|| Sum::cell(old), || Sum::cell(new));
    let mut out =
        vec![Lemma::always(Claim::AtMost(a(), b())), Lemma::always(Claim::AtMost(b(), a()))];
    if !twin.is_bit(old) {
        for &number in numbers {
            // Equal below a number: a count that ends sooner on one side.
            let same = || Claim::Same(a(), b());
            out.push(Lemma::when(&[], &[same(), Claim::from(old, number)]));
            out.push(Lemma::when(&[], &[same(), Claim::from(new, number)]));
        }
    }
    out
}

/// What stays of a cell that only one side has: what it is at power-up.
fn alone(twin: &Twin<'_>, id: CellId) -> Lemma {
    Lemma::always(match twin.first.get(id) {
        Some(crate::prove::lemma::Value::Bit(true)) => Claim::Is(id),
        Some(crate::prove::lemma::Value::Word(value)) => Claim::Same(Sum::cell(id), Sum::number(*value)),
        _ => Claim::Not(id),
    })
}

/// A relation on trial.
struct Trial {
    lemma: Lemma,
    /// Both cells, if it says that they are equal.
    cells: Option<(CellId, CellId)>,
}

/// Searches; numbers are those at which counts may end.
///
/// # Errors
/// None that verified plans can cause.
pub fn search(twin: &Twin<'_>, numbers: &[u32]) -> Result<Found, Fault> {
    let mut trials: Vec<Trial> = Vec::new();
    let mated: BTreeSet<CellId> = twin.mates.iter().flatten().copied().collect();
    for (old, mate) in twin.mates.iter().enumerate() {
        match mate {
            Some(new) => trials.push(Trial { lemma: same(old, *new), cells: Some((old, *new)) }),
            None => trials.push(Trial { lemma: alone(twin, old), cells: None }),
        }
    }
    for id in (twin.olds..twin.names.len()).filter(|id| !mated.contains(id)) {
        trials.push(Trial { lemma: alone(twin, id), cells: None });
    }
    let mut begun = Vec::new();
    for trial in trials {
        begun.extend(stand(twin, trial, numbers));
    }
    let (mut trials, mut questions) = (begun, 0);
    for _ in 0..ROUNDS {
        let (kept, asked) = round(twin, &trials)?;
        questions += asked;
        if kept.iter().all(|kept| *kept) {
            return settled(twin, trials, questions);
        }
        let mut next = Vec::new();
        for (trial, kept) in trials.into_iter().zip(kept) {
            match trial.cells {
                _ if kept => next.push(trial),
                Some((old, new)) => next.extend(weakened(twin, old, new, numbers)),
                None => {}
            }
        }
        trials = next;
    }
    Ok(Found { questions, ..Found::default() })
}

/// A trial that holds at power-up, or what may stay in its place.
fn stand(twin: &Twin<'_>, trial: Trial, numbers: &[u32]) -> Vec<Trial> {
    match trial.cells {
        _ if twin.begins(&trial.lemma) => vec![trial],
        Some((old, new)) => weakened(twin, old, new, numbers),
        None => Vec::new(),
    }
}

fn weakened(twin: &Twin<'_>, old: CellId, new: CellId, numbers: &[u32]) -> Vec<Trial> {
    let all = weaker(twin, old, new, numbers).into_iter().filter(|lemma| twin.begins(lemma));
    all.map(|lemma| Trial { lemma, cells: None }).collect()
}

fn equal(trials: &[Trial]) -> BTreeSet<CellId> {
    trials.iter().filter_map(|trial| trial.cells).map(|(old, _)| old).collect()
}

/// Which trials the next scan keeps, as far as all of them are taken to hold before it.
fn round(twin: &Twin<'_>, trials: &[Trial]) -> Result<(Vec<bool>, usize), Fault> {
    let mut product = Product::new(twin, &equal(trials))?;
    let wires: Vec<[Wire; 2]> = trials.iter().map(|trial| product.lemma(&trial.lemma)).collect();
    let mut frames = Frames::free(&product.graph);
    frames.hold(0, product.parted.opposite());
    let switches: Vec<Lit> = wires
        .iter()
        .map(|[now, _]| {
            let switch = frames.switch();
            if *now != Wire::TRUE {
                frames.under(switch, 0, *now);
            }
            switch
        })
        .collect();
    let open: Vec<usize> = (0..wires.len()).filter(|&i| wires.get(i).is_some_and(|w| w[1] != Wire::TRUE)).collect();
    let after: Vec<(usize, Lit)> =
        open.iter().filter_map(|&i| wires.get(i).map(|w| (i, frames.lit(0, w[1])))).collect();
    let mut kept = vec![true; trials.len()];
    let (mut questions, mut again) = (0, true);
    while again {
        again = false;
        for &(i, lit) in &after {
            if kept.get(i) != Some(&true) {
                continue;
            }
            let mut all: Vec<Lit> = Vec::new();
            for ((switch, kept), trial) in switches.iter().zip(&kept).zip(trials) {
                // An equality that went is built into this circuit; the next round is without it.
                if *kept || trial.cells.is_some() {
                    all.push(*switch);
                }
            }
            all.push(!lit);
            frames.limit(CONFLICTS);
            questions += 1;
            match frames.ask(&all) {
                Answer::None => {}
                Answer::Found => {
                    for &(j, lit) in &after {
                        if !frames.holds(lit)
                            && let Some(cell) = kept.get_mut(j)
                        {
                            *cell = false;
                        }
                    }
                    again = true;
                }
                Answer::Unknown => {
                    if let Some(cell) = kept.get_mut(i) {
                        *cell = false;
                    }
                    again = true;
                }
            }
        }
    }
    Ok((kept, questions))
}

/// What the relations that stay exclude.
fn settled(twin: &Twin<'_>, trials: Vec<Trial>, mut questions: usize) -> Result<Found, Fault> {
    let mut product = Product::new(twin, &equal(&trials))?;
    let wires: Vec<Wire> = trials.iter().map(|trial| product.lemma(&trial.lemma)[0]).collect();
    let mut frames = Frames::free(&product.graph);
    for wire in wires {
        frames.hold(0, wire);
    }
    let mut never = Vec::new();
    for (difference, wire) in &product.differences {
        let lit = frames.lit(0, *wire);
        frames.limit(CONFLICTS);
        questions += 1;
        if *wire == Wire::FALSE || frames.ask(&[lit]) == Answer::None {
            never.push(*difference);
        }
    }
    let equal = equal(&trials).len();
    Ok(Found { lemmas: trials.into_iter().map(|trial| trial.lemma).collect(), never, equal, questions })
}
