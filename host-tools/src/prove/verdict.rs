//! What is said of each requirement, and on what grounds.

use super::attempt::{Proof, attempt, attempt_like, attempt_standing, own_slice};
use super::cells::channel;
use super::circuit::System;
use super::claim::{Claimed, Subject};
use super::closer;
use super::known::Earlier;
use super::model::Model;
use super::recheck::{Checker, Refused};
use super::search::CONFLICTS;
use crate::refute::{Effort, Refutation, Sought, seek};
use logic_rules::plan::Fault;
use std::time::{Duration, Instant};

/// A verdict.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// For all histories: an invariant was found, and the checker accepted it.
    Proved(Claimed),
    /// A history misses the stop; it was replayed.
    Refuted(Box<Refutation>),
    /// Neither.
    Undecided(String),
}

/// What came of a requirement, or of a property of every station.
#[derive(Debug, Clone)]
pub struct Judgement {
    /// What was judged.
    pub subject: Subject,
    /// The verdict.
    pub verdict: Verdict,
    /// The checker had answered all of this in an earlier run.
    pub known: bool,
    /// Time of the search for a proof.
    pub searched: Duration,
    /// Time of the check.
    pub checked: Duration,
    /// Cells in its slice.
    pub cells: usize,
}

/// Judges one requirement: proof, check, and where there is no proof, the hunt for a history. Of what must hold of every
/// station no history is hunted for: without a proof it is undecided.
///
/// # Errors
/// None that a verified plan can cause.
pub fn judge(
    model: &Model<'_>,
    system: &mut System,
    checker: &mut Checker<'_>,
    subject: Subject,
    effort: Effort,
) -> Result<Judgement, Fault> {
    let start = Instant::now();
    let proof = attempt_any(model, system, subject);
    conclude(model, system, checker, subject, (proof, start.elapsed()), effort)
}

/// As [`judge`], after an earlier run: its proof is tried first, and believed without a check where the checker would be
/// asked what it had answered then. What was checked is the slice in which the proof was found. Gives with the judgement the
/// digest of what the checker has answered, to be kept.
///
/// # Errors
/// As [`judge`].
pub fn judge_again(
    model: &Model<'_>,
    system: &mut System,
    checker: &mut Checker<'_>,
    subject: Subject,
    effort: Effort,
    earlier: Option<&Earlier>,
) -> Result<(Judgement, Option<String>), Fault> {
    let start = Instant::now();
    let own = own_slice(model, subject);
    if let Some(Earlier { claimed, asked: Some(asked) }) = earlier
        && [Some(&own), None].into_iter().any(|closed| checker.same(claimed, closed).as_ref() == Ok(asked))
    {
        let verdict = Verdict::Proved(claimed.clone());
        let (searched, checked) = (Duration::ZERO, start.elapsed());
        let judgement = Judgement { subject, verdict, known: true, searched, checked, cells: 0 };
        return Ok((judgement, Some(asked.clone())));
    }
    let like = earlier.and_then(|earlier| attempt_like(model, system, &earlier.claimed));
    let proof = like.or_else(|| attempt_any(model, system, subject));
    let whole = proof.as_ref().is_none_or(|proof| proof.whole);
    let judgement = conclude(model, system, checker, subject, (proof, start.elapsed()), effort)?;
    let Verdict::Proved(claimed) = &judgement.verdict else { return Ok((judgement, None)) };
    let asked = checker.same(claimed, (!whole).then_some(&own)).ok();
    Ok((judgement, asked))
}

fn attempt_any(model: &Model<'_>, system: &mut System, subject: Subject) -> Option<Proof> {
    match subject {
        Subject::Requirement(requirement) => attempt(model, system, requirement),
        Subject::Standing(standing) => attempt_standing(model, system, standing),
    }
}

/// The verdict, once it is known whether there is a proof. A proof is checked in the slice in which it was found.
fn conclude(
    model: &Model<'_>,
    system: &mut System,
    checker: &mut Checker<'_>,
    subject: Subject,
    (proof, searched): (Option<Proof>, Duration),
    effort: Effort,
) -> Result<Judgement, Fault> {
    let start = Instant::now();
    let cells = proof.as_ref().map_or(0, |proof| proof.cells);
    let settled = match proof {
        None => Err(format!("no lemmas that are known here prove it within {CONFLICTS} conflicts of the solver")),
        Some(Proof { claimed, whole, .. }) => {
            let own = own_slice(model, subject);
            match checker.check_slice(&claimed, (!whole).then_some(&own)) {
                Ok(()) => Ok(claimed),
                Err(refused) => Err(format!("a proof was found, but the checker refused it: {}", why(&refused))),
            }
        }
    };
    let checked = start.elapsed();
    let verdict = match (settled, subject) {
        (Ok(claimed), _) => Verdict::Proved(claimed),
        (Err(reason), Subject::Requirement(requirement)) => match refute(model, system, requirement, effort)? {
            Some(refutation) => Verdict::Refuted(Box::new(refutation)),
            None => Verdict::Undecided(format!("{reason}, and no history of those that were tried misses it")),
        },
        (Err(reason), Subject::Standing(_)) => {
            Verdict::Undecided(format!("{reason}; this must hold of every station: do not use these rules"))
        }
    };
    Ok(Judgement { subject, verdict, known: false, searched, checked, cells })
}

/// Checks a claim of which it is not known in what slice it was found: in that of its subject, and if it is refused there, in
/// the whole. What holds of the slice holds of the whole.
///
/// # Errors
/// Why it is not accepted of the whole.
pub fn check(model: &Model<'_>, checker: &mut Checker<'_>, claimed: &Claimed) -> Result<(), Refused> {
    let own = own_slice(model, claimed.subject);
    checker.check_slice(claimed, Some(&own)).or_else(|_| checker.check(claimed))
}

/// A history that misses a requirement: by trials, and where none of those does, by the solver.
///
/// # Errors
/// None that a verified plan can cause.
pub fn refute(
    model: &Model<'_>,
    system: &mut System,
    requirement: usize,
    effort: Effort,
) -> Result<Option<Refutation>, Fault> {
    match seek(model.station, &[requirement], effort)?.into_iter().next() {
        Some(Sought::Missed(refutation)) => Ok(Some(refutation)),
        Some(Sought::Near(starts)) => closer::hunt(model, system, requirement, &starts, effort),
        None => Ok(None),
    }
}

/// Why the checker refused, in words.
pub fn why(refused: &Refused) -> String {
    match refused {
        Refused::NotAtFirst(i) => format!("lemma {} does not hold at power-up", i + 1),
        Refused::MissedAtFirst => "the requirement is missed right after power-up".into(),
        Refused::NotKept(i) => format!("lemma {} is not kept by every scan", i + 1),
        Refused::NotSafe => "the lemmas do not exclude that the requirement is missed".into(),
        Refused::Unknown(what) => format!("the solver gave up: {what}"),
        Refused::Plan(fault) => format!("the plan is no plan: {fault:?}"),
        Refused::TooNarrow => "a cell can hold more than the proof allows for".into(),
        Refused::Circular => "what holds an assumption is to be proved without any".into(),
        Refused::Nonsense => "it speaks of a requirement, signal, assumption or depth that is not there".into(),
    }
}

/// What a proof takes for granted, in words.
pub fn taken_for_granted(model: &Model<'_>, claimed: &Claimed) -> Vec<String> {
    let station = model.station;
    let ms = |scans: u32| station.ms(scans);
    let signals = claimed.signals.iter().filter_map(|&i| model.signals.get(i)).map(|signal| {
        let name = channel(station, signal.channel);
        match (signal.low, signal.high) {
            (low, 1) => format!("{name} is low for at least {} ms whenever it goes low", ms(low)),
            (1, high) => format!("{name} is high for at least {} ms whenever it goes high", ms(high)),
            (low, high) => {
                format!("{name} stays low for at least {} ms and high for at least {} ms", ms(low), ms(high))
            }
        }
    });
    let assumptions = claimed.assumptions.iter().filter_map(|&i| station.assumptions.get(i));
    signals.chain(assumptions.map(|a| format!("{}: {}", a.name.text, a.title))).collect()
}
