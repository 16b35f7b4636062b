//! A mutant against what is required: which requirement is lost, what is nearest to the change first.

use super::make::Mutant;
use super::{Held, Original, Tries};
use crate::prove::attempt::{attempt, attempt_like};
use crate::prove::certificate;
use crate::prove::circuit::System;
use crate::prove::model::Model;
use crate::prove::recheck::Checker;
use crate::prove::verdict::{check, refute};
use crate::refute::{Effort, History, hunt};
use crate::runner::with_runner;
use logic_rules::plan::Fault;

/// A requirement that is missed on the mutant, in a history that was replayed.
pub(super) struct Missed {
    pub(super) by: String,
    pub(super) history: History,
}

/// What is known of a mutant so far.
pub(super) struct Judge<'m, 'o> {
    model: &'m Model<'m>,
    checker: Checker<'m>,
    system: System,
    /// Requirements of which the checker would be asked something else than of the rules as they are, and that were not
    /// looked at yet; the nearest last.
    waiting: Vec<(&'o Held, usize)>,
    /// Requirements that are not proved with the lemmas that proved them of the rules as they are.
    open: Vec<(&'o Held, usize)>,
    tries: Tries,
}

impl<'m, 'o> Judge<'m, 'o> {
    pub(super) fn new(
        original: &'o Original<'_>,
        model: &'m Model<'m>,
        mutant: &Mutant,
        tries: Tries,
    ) -> Result<Self, Fault> {
        let mut checker = Checker::new(model);
        let mut waiting = Vec::new();
        for held in &original.held {
            let number = model.station.requirements.iter().position(|r| r.name.text == held.name);
            if let Some(number) = number.filter(|_| !held.stands(model, &mut checker)) {
                waiting.push((held, number));
            }
        }
        waiting.sort_by_key(|(held, _)| std::cmp::Reverse(held.distance(mutant)));
        let system = System::new(model)?;
        Ok(Self { model, checker, system, waiting, open: Vec::new(), tries })
    }
    /// Looks at so many requirements more, the nearest first: the earlier proof, and a short hunt where it does not do.
    pub(super) fn soon(&mut self, most: usize) -> Result<Option<Missed>, Fault> {
        for _ in 0..most {
            let Some((held, number)) = self.waiting.pop() else { break };
            let claimed = certificate::recall(self.model, &held.certificate).ok();
            let like = claimed.and_then(|claimed| attempt_like(self.model, &mut self.system, &claimed));
            if like.is_some_and(|proof| check(self.model, &mut self.checker, &proof.claimed).is_ok()) {
                continue;
            }
            if let Some(missed) = self.hunted(held, number, self.tries.soon)? {
                return Ok(Some(missed));
            }
            self.open.push((held, number));
        }
        Ok(None)
    }
    /// All that is left to be tried with what is open: proofs of any kind, and long hunts where there is none. Otherwise the
    /// first that is proved no longer.
    pub(super) fn late(&mut self) -> Result<Result<Missed, Option<String>>, Fault> {
        let mut unproved = Vec::new();
        for (held, number) in std::mem::take(&mut self.open) {
            let proof = attempt(self.model, &mut self.system, number);
            if proof.is_some_and(|proof| check(self.model, &mut self.checker, &proof.claimed).is_ok()) {
                continue;
            }
            let full = effort(self.tries.scans, self.tries.conflicts);
            if let Some(found) = refute(self.model, &mut self.system, number, full)? {
                return Ok(Ok(Missed { by: held.name.clone(), history: found.history }));
            }
            unproved.push((held, number));
        }
        // What is proved no longer is likely to be missed.
        for (held, number) in &unproved {
            let longer = effort(self.tries.last, self.tries.longer);
            if let Some(found) = refute(self.model, &mut self.system, *number, longer)? {
                return Ok(Ok(Missed { by: held.name.clone(), history: found.history }));
            }
        }
        Ok(Err(unproved.first().map(|(held, _)| held.name.clone())))
    }
    fn hunted(&self, held: &Held, number: usize, scans: u64) -> Result<Option<Missed>, Fault> {
        let found = hunt(self.model.station, &[number], effort(scans, 0))?.into_iter().flatten().next();
        Ok(found.map(|found| Missed { by: held.name.clone(), history: found.history }))
    }
    /// A history in which the mutant is milder goes on as it ended: a requirement may be missed by then.
    pub(super) fn goes_on(&self, original: &Original<'_>, history: &History) -> Result<Option<Missed>, Fault> {
        let (station, mut history) = (self.model.station, history.clone());
        if let Some(last) = history.stays().last().map(|stay| stay.sample.clone()) {
            history.push(&last, AFTER);
        }
        if !history.is_clean(station, false) {
            return Ok(None);
        }
        let name = |number: u16| station.requirements.get(usize::from(number)).map(|r| r.name.text.as_str());
        let found = with_runner(station, |runner| {
            for (scan, sample) in (1..).zip(history.samples()) {
                let told = runner.scan(sample);
                let mut missed = told.missed.iter().filter_map(|number| name(*number));
                if let Some(by) = missed.find(|name| original.held.iter().any(|held| held.name == *name)) {
                    return Some((by, scan));
                }
                if !told.broken.is_empty() {
                    break;
                }
            }
            None
        })?;
        Ok(found.map(|(by, scans)| Missed { by: by.to_string(), history: history.first(scans) }))
    }
}

/// Scans for which a history goes on as it ended.
const AFTER: u32 = 50;

fn effort(scans: u64, conflicts: u64) -> Effort {
    Effort { scans, clean: true, seed: 1, threads: 1, replays: 0, conflicts }
}
