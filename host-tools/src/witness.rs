//! Whether a requirement is ever asked: a history in which it arises while the lift runs with passengers. Without one it may
//! hold for want of a question. That a history is found is certain, for it is replayed; that none is found proves nothing.

use crate::lower::lower;
use crate::monitor::MonitorPlan;
use crate::refute::{History, with_trials};
use crate::runner::PlainRunner;
use crate::station::Station;
use crate::told::Runner;
use logic_rules::plan::Fault;

mod asked;
pub mod excludes;
mod keeper;
pub mod ordinary;
mod words;

use asked::{Eye, Facts, asking};

/// Scans of trials for each requirement.
const SCANS: u64 = 200_000;

/// Something that had to be given up for a requirement to arise, the lightest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Concession {
    /// The rope stands.
    Standstill,
    /// Another mode than that in which passengers ride is selected.
    Mode(usize),
    /// Not exactly one mode is selected, or it changes just then.
    NoMode,
    /// A bypass is active.
    Bypass(usize),
    /// Something else trips as well, before the requirement has arisen: this way.
    Also(u16),
    /// A stop stands already.
    Stopped,
}

/// When a requirement arises, and what had to be given up for it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// The scan, counting from 0, in which it asks for its answer.
    pub scan: u64,
    /// In order; none where it arises in passenger mode, with the rope running, unbypassed, with nothing else tripped.
    pub concessions: Vec<Concession>,
}

impl Asked {
    /// The fewest concessions, the lightest, the earliest.
    fn rank(&self) -> (usize, &[Concession], u64) {
        (self.concessions.len(), &self.concessions, self.scan)
    }
}

/// A history in which a requirement arises.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Witness {
    /// Index of the requirement.
    pub requirement: usize,
    /// From power-up to the scan in which it arises.
    pub history: History,
    /// What a replay of it shows.
    pub asked: Asked,
}

/// Whether a requirement arises.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Arises {
    /// It does.
    Found(Box<Witness>),
    /// Its author says why it need not, and no history is looked for.
    NeedNot(String),
    /// No history was found.
    NotFound,
}

/// Whether each of these requirements arises.
///
/// # Errors
/// None that a verified plan can cause.
pub fn arise(station: &Station, wanted: &[usize]) -> Result<Vec<(usize, Arises)>, Fault> {
    let need_not = |i: &usize| station.requirements.get(*i).and_then(|r| r.need_not_arise.clone());
    let open: Vec<usize> = wanted.iter().copied().filter(|i| need_not(i).is_none()).collect();
    let mut found = witnesses(station, &open)?.into_iter();
    let all = wanted.iter().map(|i| {
        let arises = match need_not(i) {
            Some(because) => Arises::NeedNot(because),
            None => found.next().flatten().map_or(Arises::NotFound, |witness| Arises::Found(Box::new(witness))),
        };
        (*i, arises)
    });
    Ok(all.collect())
}

/// Looks for a witness of each of these requirements.
///
/// # Errors
/// None that a verified plan can cause.
pub fn witnesses(station: &Station, wanted: &[usize]) -> Result<Vec<Option<Witness>>, Fault> {
    let questions = asking(station);
    let monitors = MonitorPlan::new(&questions);
    let raw = monitors.plan()?;
    let facts = Facts::new(station);
    let eye = Eye::open(&facts, &questions, &monitors, &raw).ok_or(Fault::TooMany("cells"))?;
    let mut all = vec![None; wanted.len()];
    let found = with_trials(station, eye.clone(), |trials| {
        for (&requirement, witness) in wanted.iter().zip(&mut all) {
            let Some(asked) = station.requirements.get(requirement) else { continue };
            let mut best: Option<Witness> = None;
            trials.search(
                asked,
                SCANS,
                |eye| eye.waits_for(requirement),
                |history, eye| {
                    if let Some(seen) = eye.seen(requirement)
                        && best.as_ref().is_none_or(|best| seen.rank() < best.asked.rank())
                        && let history = history.first(seen.scan + 1)
                        && history.is_clean(station, true)
                    {
                        best = Some(Witness { requirement, history, asked: seen.clone() });
                    }
                    best.as_ref().is_some_and(|best| facts.is_enough(requirement, &best.asked))
                },
            );
            *witness = best;
        }
    })?;
    if found.is_none() {
        return Ok(all);
    }
    for witness in &mut all {
        if let Some(found) = witness
            && confirm(station, &found.history, found.requirement, &eye)?.as_ref() != Some(&found.asked)
        {
            *witness = None;
        }
    }
    Ok(all)
}

/// What a replay of a history from power-up, by the plain reading of the whole plan, shows of a requirement.
fn confirm(station: &Station, history: &History, requirement: usize, eye: &Eye<'_>) -> Result<Option<Asked>, Fault> {
    let program = lower(station);
    let plan = program.plan()?;
    let mut runner = PlainRunner::power_up(&program, &plan).ok_or(Fault::TooMany("cells"))?;
    let mut eye = eye.clone();
    for sample in history.samples() {
        let told = runner.scan(sample);
        eye.look(sample, told);
    }
    Ok(eye.seen(requirement).cloned())
}
