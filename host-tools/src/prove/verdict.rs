//! What is said of each requirement, and on what grounds.

use super::attempt::{Proof, attempt, attempt_like, attempt_standing};
use super::cells::channel;
use super::circuit::System;
use super::claim::{Claimed, Subject};
use super::known::Earlier;
use super::model::Model;
use super::recheck::{Checker, Refused};
use crate::refute::{Effort, Refutation, hunt};
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
/// station no history is hunted for: without a proof it is undecided. A proof of an earlier run is tried first, and believed
/// without a check where the checker would be asked what it was asked then.
///
/// # Errors
/// None that a verified plan can cause.
pub fn judge(
    model: &Model<'_>,
    system: &mut System,
    checker: &mut Checker<'_>,
    subject: Subject,
    effort: Effort,
    earlier: Option<&Earlier>,
) -> Result<Judgement, Fault> {
    let start = Instant::now();
    if let Some(Earlier { claimed, asked: Some(asked) }) = earlier
        && checker.same(claimed).as_ref() == Ok(asked)
    {
        let verdict = Verdict::Proved(claimed.clone());
        let (searched, checked) = (Duration::ZERO, start.elapsed());
        return Ok(Judgement { subject, verdict, known: true, searched, checked, cells: 0 });
    }
    let proof = earlier.and_then(|earlier| attempt_like(model, system, &earlier.claimed));
    let proof = proof.or_else(|| match subject {
        Subject::Requirement(requirement) => attempt(model, system, requirement),
        Subject::Standing(standing) => attempt_standing(model, system, standing),
    });
    let searched = start.elapsed();
    let start = Instant::now();
    let cells = proof.as_ref().map_or(0, |proof| proof.cells);
    let settled = settle(proof, checker);
    let checked = start.elapsed();
    let verdict = match (settled, subject) {
        (Ok(claimed), _) => Verdict::Proved(claimed),
        (Err(reason), Subject::Requirement(requirement)) => {
            match hunt(model.station, &[requirement], effort)?.into_iter().flatten().next() {
                Some(refutation) => Verdict::Refuted(Box::new(refutation)),
                None => Verdict::Undecided(format!("{reason}, and no history of those that were tried misses it")),
            }
        }
        (Err(reason), Subject::Standing(_)) => {
            Verdict::Undecided(format!("{reason}; this must hold of every station: do not use these rules"))
        }
    };
    Ok(Judgement { subject, verdict, known: false, searched, checked, cells })
}

/// A proof that the checker accepts, or why there is none.
fn settle(proof: Option<Proof>, checker: &mut Checker<'_>) -> Result<Claimed, String> {
    let proof = proof.ok_or("no lemmas that are known here prove it")?;
    match checker.check(&proof.claimed) {
        Ok(()) => Ok(proof.claimed),
        Err(refused) => Err(format!("a proof was found, but the checker refused it: {}", why(&refused))),
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
