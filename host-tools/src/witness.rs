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
mod run;
mod simulated;
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
    let mut all: Vec<Best<'_>> =
        wanted.iter().map(|&requirement| Best { facts: &facts, requirement, found: None }).collect();
    let speed = with_trials(station, eye.clone(), |trials| {
        for best in &mut all {
            let requirement = best.requirement;
            let Some(asked) = station.requirements.get(requirement) else { continue };
            trials.search(asked, SCANS, |eye| eye.waits_for(requirement), |history, eye| best.takes(history, eye));
        }
        trials.cruise()
    })?;
    if let Some(speed) = speed
        && !all.iter().all(Best::is_enough)
    {
        simulated::faults(station, speed, eye.clone(), |history, eye| {
            for best in all.iter_mut().filter(|best| !best.is_enough()) {
                best.takes(history, eye);
            }
            all.iter().all(Best::is_enough)
        })?;
    }
    let confirmed = |best: Best<'_>| {
        let Some(found) = best.found else { return Ok(None) };
        let asked = confirm(station, &found.history, found.requirement, &eye)?;
        Ok((asked.as_ref() == Some(&found.asked)).then_some(found))
    };
    all.into_iter().map(confirmed).collect()
}

/// The best witness so far.
struct Best<'f> {
    facts: &'f Facts<'f>,
    requirement: usize,
    found: Option<Witness>,
}

impl Best<'_> {
    /// Takes what was seen in a history if it is better; whether it is enough.
    fn takes(&mut self, history: &History, eye: &Eye<'_>) -> bool {
        if let Some(seen) = eye.seen(self.requirement)
            && self.found.as_ref().is_none_or(|found| seen.rank() < found.asked.rank())
            && let history = history.first(seen.scan + 1)
            && history.is_clean(self.facts.station, true)
        {
            self.found = Some(Witness { requirement: self.requirement, history, asked: seen.clone() });
        }
        self.is_enough()
    }
    fn is_enough(&self) -> bool {
        self.found.as_ref().is_some_and(|found| self.facts.is_enough(self.requirement, &found.asked))
    }
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
