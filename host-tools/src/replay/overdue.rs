//! Answers that did not come in time: for how long a missed requirement stays without one.
//!
//! A requirement is missed in the last scan in which its answer might have come. From there on the
//! scans are counted until the answer stands, or until nobody waits for it any longer.

use crate::station::{Form, Rank, Requirement};

/// What is known of each requirement's answer.
#[derive(Debug)]
pub(super) struct Overdue {
    all: Vec<Awaited>,
}

#[derive(Debug)]
struct Awaited {
    /// Least rank of the answer; none where no answer is asked for.
    least: Option<Rank>,
    /// It is asked for only while its condition holds.
    momentary: bool,
    missed: Option<Missed>,
}

#[derive(Debug, Clone, Copy)]
struct Missed {
    scan: u64,
    counterfactual: bool,
}

/// The end of a wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Waited {
    /// Number of the requirement.
    pub(super) requirement: u16,
    /// Scans beyond its time.
    pub(super) scans: u64,
    /// The answer stands now.
    pub(super) answered: bool,
    /// It was missed while what happened was counterfactual.
    pub(super) counterfactual: bool,
}

impl Overdue {
    pub(super) fn new(requirements: &[Requirement]) -> Self {
        let all = requirements.iter().map(|requirement| {
            let least = match requirement.form {
                Form::Whenever { least, .. }
                | Form::WhenRises { least, .. }
                | Form::After { least, .. }
                | Form::Effect { least, .. }
                | Form::Never { least, .. }
                | Form::Held { least, .. } => Some(least),
                Form::NeverReleased { .. }
                | Form::NeverReleasedBut { .. }
                | Form::NeverPermitted { .. }
                | Form::NeverTogether(..) => None,
            };
            let momentary = matches!(requirement.form, Form::Never { .. });
            Awaited { least, momentary, missed: None }
        });
        Self { all: all.collect() }
    }

    /// A requirement is missed in this scan. Gives whether that is news: while it waits it is the same miss.
    pub(super) fn misses(&mut self, requirement: u16, scan: u64, counterfactual: bool) -> bool {
        let Some(of) = self.all.get_mut(usize::from(requirement)) else { return true };
        let news = of.missed.is_none();
        if news && of.least.is_some() {
            of.missed = Some(Missed { scan, counterfactual });
        }
        news
    }

    /// Waits that end in this scan, with its answer and the requirements that are missed in it.
    pub(super) fn scan(&mut self, scan: u64, answer: Rank, missed: &[u16]) -> Vec<Waited> {
        self.ends(scan, |requirement, of| {
            let answered = of.least.is_some_and(|least| answer >= least);
            let over = answered || of.momentary && !missed.contains(&requirement);
            over.then_some(answered)
        })
    }

    /// Nobody waits any longer: all waits end without an answer.
    pub(super) fn end(&mut self, scan: u64) -> Vec<Waited> {
        self.ends(scan, |_, _| Some(false))
    }

    fn ends(&mut self, scan: u64, over: impl Fn(u16, &Awaited) -> Option<bool>) -> Vec<Waited> {
        let mut ended = Vec::new();
        for (of, requirement) in self.all.iter_mut().zip(0..) {
            if let Some(missed) = of.missed
                && let Some(answered) = over(requirement, of)
            {
                of.missed = None;
                let (scans, counterfactual) = (scan.saturating_sub(missed.scan), missed.counterfactual);
                ended.push(Waited { requirement, scans, answered, counterfactual });
            }
        }
        ended
    }
}
