//! The search for what stays between the two sides as long as nothing that they publish has differed: which cells are equal,
//! and where they are not, which is the greater one.
//!
//! All cells of a name are taken to be equal, and what the next scan does not keep is dropped, until all that is left is
//! kept. Where an equality goes, weaker relations are tried in its place.

use super::product::Product;
use super::side::Difference;
use super::twin::Twin;
use crate::prove::frames::{Answer, Frames};
use crate::prove::graph::{Node, Wire};
use crate::prove::lemma::{CellId, Claim, Lemma, Sum};
use batsat::Lit;
use logic_rules::plan::Fault;
use std::collections::{BTreeSet, HashMap};

/// Conflicts that a single question may take.
const CONFLICTS: u64 = 3_000;
/// Samples of sixty-four random cases in a round.
const SAMPLES: usize = 20;
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
    let mut out = vec![Lemma::always(Claim::AtMost(a(), b())), Lemma::always(Claim::AtMost(b(), a()))];
    if !twin.is_bit(old) {
        for &number in numbers {
            // Equal below a number: a count that ends sooner on one side.
            let same = || Claim::Same(a(), b());
            out.push(Lemma::when(&[], &[same(), Claim::from(old, number)]));
            out.push(Lemma::when(&[], &[same(), Claim::from(new, number)]));
            // No count goes further than where it ends, which is less than its bits could hold.
            out.push(Lemma::always(Claim::below(old, number)));
            out.push(Lemma::always(Claim::below(new, number)));
        }
        // Equal while the statement is busy, on the side on which it is busy for less long.
        for busy in beside(twin, old).into_iter().chain(beside(twin, new)) {
            out.push(Lemma::when(&[Claim::Is(busy)], &[Claim::Same(a(), b())]));
        }
    }
    out
}

/// Bits of the same row of the same statement.
fn beside(twin: &Twin<'_>, id: CellId) -> Vec<CellId> {
    let row = |id: CellId| twin.names.get(id).and_then(|name| name.rsplit_once('.')).map(|(row, _)| row);
    let own = row(id);
    (0..twin.names.len()).filter(|&other| own.is_some() && row(other) == own && twin.is_bit(other)).collect()
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
    trials.extend(twin.orders().into_iter().map(|lemma| Trial { lemma, cells: None }));
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
    if let Some(kept) = sampled(&product, trials, &wires) {
        return Ok((kept, 0));
    }
    let mut frames = Frames::free(&product.graph);
    frames.hold(0, product.parted.opposite());
    // What is built into the circuit needs no switch.
    let mut switches: Vec<(usize, Lit)> = Vec::new();
    for (i, [now, _]) in wires.iter().enumerate().filter(|(_, [now, _])| *now != Wire::TRUE) {
        let switch = frames.switch();
        frames.under(switch, 0, *now);
        switches.push((i, switch));
    }
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
            let live = switches.iter().filter(|(i, _)| kept.get(*i) == Some(&true));
            let mut all: Vec<Lit> = live.map(|(_, switch)| *switch).collect();
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
                // No answer in time counts as not kept.
                Answer::Unknown => {
                    if let Some(cell) = kept.get_mut(i) {
                        *cell = false;
                    }
                    again = true;
                }
            }
        }
        // Without an equality that is built in, another circuit is made, and everything is asked anew.
        again &= kept.iter().zip(trials).all(|(kept, trial)| *kept || trial.cells.is_none());
    }
    Ok((kept, questions))
}

/// Random cases, sixty-four at a time, show soon which equalities go; none, if they show no such thing.
fn sampled(product: &Product, trials: &[Trial], wires: &[[Wire; 2]]) -> Option<Vec<bool>> {
    let variables: Vec<usize> =
        (0..product.graph.len()).filter(|at| product.graph.node(*at) == Node::Variable).collect();
    let mut random = 0x9E37_79B9_7F4A_7C15_u64;
    let mut next = || {
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        random
    };
    let mut kept = vec![true; trials.len()];
    for sample in 0..SAMPLES {
        let given: HashMap<usize, u64> = variables
            .iter()
            .map(|at| {
                // Fewer and fewer bits, so that not everything trips.
                let bits = (0..sample % 5).fold(next(), |bits, _| bits & next());
                (*at, bits)
            })
            .collect();
        let values = product.graph.evaluate(&given);
        let value = |wire: Wire| {
            let value = values.get(wire.node()).copied().unwrap_or(0);
            if wire.inverted() { !value } else { value }
        };
        let cases = wires.iter().fold(!value(product.parted), |cases, [now, _]| cases & value(*now));
        for (kept, [_, after]) in kept.iter_mut().zip(wires) {
            *kept &= cases & !value(*after) == 0;
        }
    }
    let gone = kept.iter().zip(trials).any(|(kept, trial)| !kept && trial.cells.is_some());
    gone.then_some(kept)
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
