//! The search for an inductive set of lemmas: the property first, then one question for each lemma
//! that an answer needed.

use super::circuit::System;
use super::frames::{Answer, Begin, Frames};
use super::graph::Wire;
use super::lemma::{CellId, Lemma, Value};
use batsat::Lit;
use logic_rules::{Cut, Plain, Sliced, Slices};
use std::collections::VecDeque;

/// What is to be shown, and with what.
pub struct Task<'t> {
    /// Never holds, if the requirement is met.
    pub bad: Wire,
    /// Hold in every scan: assumptions.
    pub given: &'t [Wire],
    /// Lemmas to try, with their wires over the cells now.
    pub lemmas: &'t [(Lemma, Wire)],
    /// Cuts that are closed.
    pub keep: &'t dyn Fn(Cut) -> bool,
    /// Scans in a row that an induction step may look at; at least 1.
    pub depth: usize,
    /// Conflicts of the solver after which the search gives up.
    pub conflicts: u64,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// Proved, with these lemmas.
    Proved {
        /// Their places in the task.
        lemmas: Vec<usize>,
        /// Cells the questions needed.
        cells: usize,
    },
    /// Not proved with these lemmas.
    Open {
        /// Lemmas that no question dropped.
        left: Vec<usize>,
        /// A case in which the lemmas hold and the requirement is missed: cells that matter, and what they are.
        case: Vec<(CellId, u32)>,
    },
    /// The solver took more conflicts than [`CONFLICTS`].
    GaveUp,
}

/// Conflicts of the solver after which a search gives up; a proof of a demo station took at
/// most 33 216.
pub const CONFLICTS: u64 = 1_000_000;

/// Wires of lemmas over the cells of a system.
pub fn wires(system: &mut System, lemmas: Vec<Lemma>) -> Vec<(Lemma, Wire)> {
    let mut a = Sliced(std::mem::take(&mut system.graph));
    let cells = &system.cells;
    let value = |id: CellId| cells.get(id).map(value);
    let out = lemmas.into_iter().map(|lemma| {
        let wire = lemma.holds(&mut a, &value);
        (lemma, wire)
    });
    let out = out.collect();
    system.graph = a.0;
    out
}

fn value(cell: &super::circuit::Cell) -> Value<super::circuit::Circuit> {
    match (cell.is_bit, cell.now.as_slice()) {
        (true, [bit]) => Value::Bit(*bit),
        (_, bits) => Value::Word(Slices::from_bits(bits, Wire::FALSE)),
    }
}

/// A lemma holds at power-up.
pub fn holds_at_first(system: &System, lemma: &Lemma) -> bool {
    lemma.holds(&mut Plain, &|id| {
        system.cells.get(id).map(|cell| if cell.is_bit { Value::Bit(cell.first == 1) } else { Value::Word(cell.first) })
    })
}

/// A lemma on trial.
struct Trial {
    live: bool,
    /// On: it holds in the frames that are looked at.
    switch: Lit,
    /// It holds in the frame after those.
    after: Lit,
    /// Lemmas its own question needed.
    core: Option<Vec<usize>>,
}

/// Tries to prove a task.
pub fn search(system: &System, task: &Task<'_>) -> Outcome {
    let depth = task.depth.max(1);
    let mut frames = Frames::new(system, task.keep, Begin::Anywhere);
    frames.limit(task.conflicts);
    // As the checker does: what is granted of the scan that follows says nothing yet.
    for frame in 0..depth {
        for &given in task.given {
            frames.hold(frame, given);
        }
    }
    // On: the bad thing has not happened in the frames that are looked at.
    let (earlier, never) = (frames.switch(), frames.switch());
    for frame in 0..depth {
        if frame + 1 < depth {
            frames.under(earlier, frame, task.bad.opposite());
        }
        frames.under(never, frame, task.bad.opposite());
    }
    let bad = frames.lit(depth - 1, task.bad);
    let mut trials: Vec<Trial> = Vec::new();
    for (lemma, wire) in task.lemmas {
        let live = holds_at_first(system, lemma);
        let switch = frames.switch();
        let mut after = switch;
        if live {
            for frame in 0..depth {
                frames.under(switch, frame, *wire);
            }
            after = frames.lit(depth, *wire);
        }
        trials.push(Trial { live, switch, after, core: None });
    }
    loop {
        let live = |trials: &[Trial]| -> Vec<Lit> { trials.iter().filter(|t| t.live).map(|t| t.switch).collect() };
        let mut all = live(&trials);
        all.push(earlier);
        all.push(bad);
        match frames.ask(&all) {
            Answer::None => {}
            Answer::Found => return open(&frames, system, &trials),
            Answer::Unknown => return Outcome::GaveUp,
        }
        let core = core(&frames, &trials);
        let mut wanted: VecDeque<usize> = core.iter().copied().collect();
        let mut reached: Vec<bool> = vec![false; trials.len()];
        for &i in &core {
            mark(&mut reached, i);
        }
        let mut again = false;
        while let Some(i) = wanted.pop_front() {
            if trials.get(i).is_none_or(|t| t.core.is_none()) {
                let Some(after) = trials.get(i).map(|t| t.after) else { continue };
                let mut all = live(&trials);
                all.push(never);
                all.push(!after);
                match frames.ask(&all) {
                    Answer::None => {
                        let own = self::core(&frames, &trials);
                        if let Some(trial) = trials.get_mut(i) {
                            trial.core = Some(own);
                        }
                    }
                    Answer::Found => {
                        drop_violated(&frames, &mut trials, i);
                        again = true;
                        break;
                    }
                    Answer::Unknown => return Outcome::GaveUp,
                }
            }
            let own = trials.get(i).and_then(|t| t.core.clone()).unwrap_or_default();
            for next in own {
                if mark(&mut reached, next) {
                    wanted.push_back(next);
                }
            }
        }
        if !again {
            let lemmas = (0..trials.len()).filter(|&i| reached.get(i) == Some(&true)).collect();
            return Outcome::Proved { lemmas, cells: frames.asked };
        }
    }
}

fn open(frames: &Frames<'_>, system: &System, trials: &[Trial]) -> Outcome {
    let mut case = Vec::new();
    for (id, cell) in system.cells.iter().enumerate() {
        let bits: Vec<Option<bool>> = cell.now.iter().map(|&wire| frames.value(0, wire)).collect();
        if bits.iter().any(Option::is_some) {
            let set = (0_u32..).zip(&bits).filter(|(_, bit)| **bit == Some(true));
            case.push((id, set.fold(0, |sum, (i, _)| sum | 1_u32.checked_shl(i).unwrap_or(0))));
        }
    }
    Outcome::Open { case, left: (0..trials.len()).filter(|&i| trials.get(i).is_some_and(|t| t.live)).collect() }
}

/// Marks a place; true if it was not marked.
fn mark(reached: &mut [bool], at: usize) -> bool {
    reached.get_mut(at).is_some_and(|cell| !std::mem::replace(cell, true))
}

fn core(frames: &Frames<'_>, trials: &[Trial]) -> Vec<usize> {
    let needed = trials.iter().enumerate().filter(|(_, t)| t.live && frames.needed(t.switch));
    needed.map(|(i, _)| i).collect()
}

/// Drops a lemma that the case at hand violates, with every other that it violates, and forgets what rested on them.
fn drop_violated(frames: &Frames<'_>, trials: &mut [Trial], asked: usize) {
    let mut dropped = Vec::new();
    for (i, trial) in trials.iter_mut().enumerate() {
        if trial.live && (i == asked || !frames.holds(trial.after)) {
            trial.live = false;
            dropped.push(i);
        }
    }
    for trial in trials.iter_mut() {
        if trial.core.as_ref().is_some_and(|core| core.iter().any(|i| dropped.contains(i))) {
            trial.core = None;
        }
    }
}

/// Whether the bad thing cannot happen, and all lemmas hold, in the first scans after power-up: what an
/// induction over more than one scan begins with.
pub fn begins(system: &System, task: &Task<'_>, lemmas: &[usize]) -> bool {
    let mut frames = Frames::new(system, task.keep, Begin::PowerUp);
    frames.limit(CONFLICTS);
    for frame in 0..task.depth {
        for (_, wire) in lemmas.iter().filter_map(|&i| task.lemmas.get(i)) {
            let holds = frames.lit(frame, *wire);
            if frames.ask(&[!holds]) != Answer::None {
                return false;
            }
        }
        for &given in task.given {
            frames.hold(frame, given);
        }
        let bad = frames.lit(frame, task.bad);
        if frames.ask(&[bad]) != Answer::None {
            return false;
        }
    }
    true
}
