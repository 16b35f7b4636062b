//! Histories in which the two sides differ: trials around what the changed statements watch, on a lift that runs, and then a
//! solver from power-up and from where the lift runs.

use super::Both;
use super::plain::{Lead, Parted, Ties, parted};
use super::questions::{bits, question};
use super::side::{Difference, What};
use super::solve::{Asked, Solver};
use crate::lower::lower;
use crate::refute::{History, Stay, Watch, calm, with_trials};
use crate::runner::PlainRunner;
use crate::sample::Sample;
use crate::station::Requirement;
use crate::told::{Runner, Scanned};
use logic_rules::plan::Fault;

/// A history in which the sides differ, replayed through both.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// As the old rules and the new ones read it, from power-up to the scan in which they differ.
    pub histories: [History; 2],
    /// Where they differ, and in what.
    pub parted: Parted,
}

/// How much is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Scans of trials around each changed statement, on each side.
    pub scans: u64,
    /// Replays by which a history may be shortened.
    pub replays: usize,
    /// Conflicts that a solver may take.
    pub conflicts: u64,
}
impl Default for Effort {
    fn default() -> Self {
        Self { scans: 150_000, replays: 60, conflicts: 20_000 }
    }
}

/// Requirements around which trials are made on one side, at most.
const MOST_AROUND: usize = 8;
/// Few trials are so many times fewer.
const FEW: u64 = 8;

/// Counts that end after more scans than this are not waited for by a solver.
const FAR: u32 = 100;
/// Conflicts of one question to the solver, and what asking takes beside them.
const ONCE: u64 = 2_000;
const ASKING: u64 = 300;

/// What looks at both sides in each scan of a trial.
struct Eyes<'r, 'p> {
    ties: &'r Ties<'r>,
    other: PlainRunner<'p>,
    scans: u64,
    parted: Option<Parted>,
}

impl Clone for Eyes<'_, '_> {
    fn clone(&self) -> Self {
        Self { ties: self.ties, other: self.other.fork(), scans: self.scans, parted: self.parted.clone() }
    }
}

impl Watch for Eyes<'_, '_> {
    fn scan(&mut self, sample: &Sample, told: &Scanned) -> bool {
        if self.parted.is_some() {
            return false;
        }
        let other = self.other.scan(&self.ties.other(sample));
        let (old, new) = if self.ties.lead == Lead::Old { (told, other) } else { (other, told) };
        self.parted = self.ties.parted(self.scans, old, new);
        if self.parted.is_some() {
            return false;
        }
        self.scans += 1;
        true
    }
}

/// Whether a history counts; none where it cannot be told.
pub type Admits<'a> = dyn Fn(&History) -> Option<bool> + 'a;

/// What is still looked for, and what was found.
pub struct Hunt<'b> {
    both: &'b Both,
    wanted: Vec<Difference>,
    effort: Effort,
    /// Histories by the first difference that each was the first to show; a visible one is better.
    found: Vec<(Difference, Lead, History, Parted)>,
    /// Where trials have come to without a difference: a solver may go on from there.
    starts: Vec<(Lead, History)>,
    /// Only histories for which this holds count, as the new rules read them; none where it cannot be told.
    admits: Option<&'b Admits<'b>>,
    /// What was looked for was seen, in a history for which that is known not to hold.
    strained: bool,
}

/// So many starts are kept of each side.
const STARTS: usize = 3;

impl<'b> Hunt<'b> {
    /// Looks for a history of each of these.
    pub fn new(both: &'b Both, wanted: Vec<Difference>, effort: Effort) -> Self {
        Self { both, wanted, effort, found: Vec::new(), starts: Vec::new(), admits: None, strained: false }
    }
    /// Counts only histories for which this holds, as the new rules read them; none where it cannot be told.
    #[must_use]
    pub fn admitting(self, admits: &'b Admits<'b>) -> Self {
        Self { admits: Some(admits), ..self }
    }
    /// What was looked for was seen, in a history that is known not to count.
    pub fn is_strained(&self) -> bool {
        self.strained
    }
    /// Whether a history counts; none where it cannot be told.
    fn counts(&self, lead: Lead, history: &History) -> Option<bool> {
        let Some(admits) = self.admits else { return Some(true) };
        let [_, new] = Ties::new(self.both, lead).histories(history);
        admits(&new)
    }
    /// Takes a history, if it shows something that none so far does, or shows it better.
    fn take(&mut self, lead: Lead, history: &History, parted: &Parted) {
        let is_wanted = parted.differences.iter().any(|difference| self.wanted.contains(difference));
        if is_wanted {
            let counts = self.counts(lead, &history.first(parted.scan + 1));
            self.strained |= counts == Some(false);
            if counts != Some(true) {
                return;
            }
        }
        for difference in &parted.differences {
            if !self.wanted.contains(difference) {
                continue;
            }
            let better = |(_, _, _, known): &(Difference, Lead, History, Parted)| {
                (known.visible, std::cmp::Reverse(known.scan)) < (parted.visible, std::cmp::Reverse(parted.scan))
            };
            let this = (*difference, lead, history.first(parted.scan + 1), parted.clone());
            match self.found.iter_mut().find(|(known, ..)| known == difference) {
                Some(known) if better(known) => *known = this,
                Some(_) => {}
                None => self.found.push(this),
            }
        }
    }
    /// Keeps where a trial has come to.
    fn start(&mut self, lead: Lead, history: &History) {
        let known = self.starts.iter().filter(|(of, _)| *of == lead);
        if known.clone().count() < STARTS && known.clone().all(|(_, other)| other != history) {
            self.starts.push((lead, history.clone()));
        }
    }
    /// Answers that nothing has shown yet, by a solver: from where the lift runs, and from power-up.
    ///
    /// # Errors
    /// None that stations which were checked can cause.
    pub fn solve(&mut self) -> Result<(), Fault> {
        let open = self.targets();
        if self.effort.conflicts == 0 || open.iter().all(|d| self.found.iter().any(|(known, ..)| known == d)) {
            return Ok(());
        }
        let both = self.both;
        let mut left = self.effort.conflicts;
        // What the changes look at first, then everything.
        let [concerned, other] = [both.concerned(Lead::Old), both.concerned(Lead::New)];
        let levels = [Some([&concerned, &other]), None];
        let longest = both.numbers().into_iter().filter(|scans| *scans <= FAR).max().unwrap_or(0);
        let from = usize::try_from(longest).unwrap_or(0);
        let scans = from + 24;
        let mut starts = std::mem::take(&mut self.starts);
        starts.reverse();
        starts.push((Lead::Old, History::default()));
        both.with_twin(|twin| {
            let solver = Solver::new(twin)?;
            for (lead, start) in starts {
                let ties = Ties::new(both, lead);
                let histories = ties.histories(&start);
                // What does not matter goes on as it was.
                let last = |history: &History, station| {
                    history.stays().last().map_or_else(|| calm(station), |stay| stay.sample.clone())
                };
                let [old, new] = [last(&histories[0], &both.old), last(&histories[1], &both.new)];
                for (wanted, free) in open.iter().flat_map(|wanted| levels.map(|free| (wanted, free))) {
                    if left == 0 || self.found.iter().any(|(known, ..)| known == wanted) {
                        continue;
                    }
                    let (calm, conflicts) = ([&old, &new], left.min(ONCE));
                    let asked = Asked { histories: &histories, calm, wanted: *wanted, free, scans, from, conflicts };
                    let (chosen, spent) = solver.after(&asked)?;
                    left = left.saturating_sub(spent.saturating_add(ASKING));
                    let mut history = start.clone();
                    for [old, new] in chosen.into_iter().flatten() {
                        history.push(if lead == Lead::Old { &old } else { &new }, 1);
                    }
                    if let Some(parted) = replayed(&ties, &history)? {
                        self.take(lead, &history, &parted);
                    }
                }
            }
            Ok(())
        })?
    }
    /// What histories are looked for: answers; what else differs follows from them, and is looked for only where no answer
    /// differs in its direction.
    fn targets(&self) -> Vec<Difference> {
        let is_answer = |d: &Difference| matches!(d.what, What::Answer(_));
        let all = self.wanted.iter().copied();
        all.filter(|d| is_answer(d) || !self.wanted.iter().any(|other| other.milder == d.milder && is_answer(other)))
            .collect()
    }
    /// Every target is shown, an answer by what is published.
    fn is_done(&self) -> bool {
        self.targets().iter().all(|wanted| {
            let found = self.found.iter().find(|(known, ..)| known == wanted);
            found.is_some_and(|(.., parted)| parted.visible || !matches!(wanted.what, What::Answer(_)))
        })
    }
    /// Trials around the statements that differ, few on each side and then more, with those that requirements of the same
    /// inputs lead to.
    ///
    /// # Errors
    /// None that stations which were checked can cause.
    pub fn trials(&mut self, requirements: [&[Requirement]; 2]) -> Result<(), Fault> {
        let mut sides: Vec<_> = [Lead::Old, Lead::New].into_iter().zip(requirements).collect();
        // What is more severe is what the new rules look for.
        if self.wanted.iter().all(|wanted| !wanted.milder) {
            sides.reverse();
        }
        for few in [true, false] {
            for (lead, asked) in sides.iter().copied() {
                if !self.is_done() {
                    self.around(lead, if few { None } else { Some(asked) })?;
                }
            }
        }
        Ok(())
    }
    /// Trials on one side; without requirements only few.
    fn around(&mut self, lead: Lead, asked: Option<&[Requirement]>) -> Result<(), Fault> {
        let both = self.both;
        let (station, other) = if lead == Lead::Old { (&both.old, &both.new) } else { (&both.new, &both.old) };
        let ties = Ties::new(both, lead);
        let program = lower(other);
        let plan = program.plan()?;
        let runner = PlainRunner::power_up(&program, &plan).ok_or(Fault::TooMany("cells"))?;
        let mut around: Vec<Requirement> = Vec::new();
        for watch in both.touched(lead) {
            around.extend(question(station, watch));
            let watched = station.watches.get(watch).map(|w| w.kind.inputs()).unwrap_or_default();
            let related = asked.unwrap_or_default().iter();
            around.extend(related.filter(|r| r.inputs().iter().any(|input| watched.contains(input))).cloned());
        }
        for input in both.rewired(lead) {
            around.extend(bits(station, input));
        }
        if around.is_empty() {
            around.extend(asked.unwrap_or_default().iter().cloned());
        }
        let scans = if asked.is_none() { self.effort.scans / FEW } else { self.effort.scans };
        let eyes = Eyes { ties: &ties, other: runner, scans: 0, parted: None };
        with_trials(station, eyes, |trials| {
            // What is told of the changed statements themselves comes first; all share what may be tried.
            let each = (scans / u64::try_from(around.len()).unwrap_or(1).max(1)).max(scans / 4);
            for requirement in around.iter().take(MOST_AROUND) {
                trials.search(
                    requirement,
                    each,
                    |_| {},
                    |history, eyes| {
                        match &eyes.parted {
                            Some(parted) => self.take(lead, history, parted),
                            None => self.start(lead, history),
                        }
                        self.is_done()
                    },
                );
                if self.is_done() {
                    return;
                }
            }
        })?;
        Ok(())
    }
    /// What was found, shortened, with what it shows: a history for each answer. What outputs, the permit and the reset do
    /// follows, and has a history of its own only where no answer differs that way.
    ///
    /// # Errors
    /// None that stations which were checked can cause.
    pub fn shown(self) -> Result<Vec<Shown>, Fault> {
        let (both, admits) = (self.both, self.admits);
        let (a, b) = (lower(&both.old), lower(&both.new));
        let (old, new) = (a.plan()?, b.plan()?);
        let power_up = |program, plan| PlainRunner::power_up(program, plan).ok_or(Fault::TooMany("cells"));
        let mut sides = [power_up(&a, &old)?, power_up(&b, &new)?];
        let mut out: Vec<Shown> = Vec::new();
        let answers = |milder: bool, all: &[(Difference, Lead, History, Parted)]| {
            all.iter().any(|(d, ..)| d.milder == milder && matches!(d.what, What::Answer(_)))
        };
        let told = [answers(false, &self.found), answers(true, &self.found)];
        for (difference, lead, history, before) in self.found {
            let follows =
                !matches!(difference.what, What::Answer(_)) && told.get(usize::from(difference.milder)) == Some(&true);
            if follows
                || out.iter().any(|shown| {
                    shown.parted.differences.contains(&difference) && shown.parted.visible >= before.visible
                })
            {
                continue;
            }
            let ties = Ties::new(both, lead);
            let mut best = history;
            let Some(mut shows) = parted(&ties, &mut sides, &best) else { continue };
            let mut budget = (self.effort.replays, 2_000_000_u64);
            let mut fits = |candidate: &History, best: &mut History, shows: &mut Parted| {
                if budget.0 == 0 || budget.1 < candidate.scans() {
                    return false;
                }
                budget = (budget.0 - 1, budget.1 - candidate.scans());
                match parted(&ties, &mut sides, candidate) {
                    Some(found)
                        if found.differences.contains(&difference)
                            && found.visible >= shows.visible
                            && admits.is_none_or(|admits| admits(&ties.histories(candidate)[1]) == Some(true)) =>
                    {
                        *best = candidate.first(found.scan + 1);
                        *shows = found;
                        true
                    }
                    _ => false,
                }
            };
            shorten(&mut best, &mut shows, &mut fits);
            out.push(Shown { histories: ties.histories(&best), parted: shows });
        }
        Ok(out)
    }
}

/// Where a history parts the sides, if it does.
fn replayed(ties: &Ties<'_>, history: &History) -> Result<Option<Parted>, Fault> {
    let (a, b) = (lower(&ties.both.old), lower(&ties.both.new));
    let (old, new) = (a.plan()?, b.plan()?);
    let power_up = |program, plan| PlainRunner::power_up(program, plan).ok_or(Fault::TooMany("cells"));
    Ok(parted(ties, &mut [power_up(&a, &old)?, power_up(&b, &new)?], history))
}

/// Leaves out stays, and parts of long ones, as long as the difference is still shown.
fn shorten(best: &mut History, shows: &mut Parted, fits: &mut impl FnMut(&History, &mut History, &mut Parted) -> bool) {
    let mut block = best.stays().len() / 2;
    while block > 0 {
        let mut at = 0;
        while at < best.stays().len() {
            let kept = best.stays().iter().take(at).chain(best.stays().iter().skip(at + block));
            let candidate = History::of(kept.cloned());
            if !fits(&candidate, best, shows) {
                at += block;
            }
        }
        block /= 2;
    }
    for at in 0..best.stays().len() {
        let mut part = best.stays().get(at).map_or(0, |stay| stay.scans);
        while part > 1 {
            part /= 2;
            let change = |(i, stay): (usize, &Stay)| {
                let scans = if i == at { stay.scans.saturating_sub(part) } else { stay.scans };
                Stay { scans, sample: stay.sample.clone() }
            };
            let candidate = History::of(best.stays().iter().enumerate().map(change));
            fits(&candidate, best, shows);
        }
    }
}
