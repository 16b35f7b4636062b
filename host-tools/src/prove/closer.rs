//! Histories that trials did not find: a solver chooses the inputs, from power-up on and from where trials have come to.
//!
//! It starts in a state that is known, so that most of the circuit is constant. Few inputs are left to it first, those that
//! the requirement speaks of; then those of the rules that answer it; then all. What it finds is replayed from power-up.

use super::bounded::{Bound, Kept, Question, search};
use super::circuit::{System, values};
use super::frames::Begin;
use super::model::{Given, Memory, Model};
use super::templates::own_watches;
use crate::refute::{Effort, History, Refutation, Stay, calm, missed_by};
use crate::run::lift;
use crate::sample::Sample;
use crate::station::{Form, InputId, InputKind, Requirement, Station, When};
use logic_rules::Plain;
use logic_rules::plan::Fault;

/// From power-up: so many scans, and so many literals.
const SCANS: usize = 60;
const LITERALS: usize = 1_000_000;
/// From elsewhere no more than this.
const FAR: usize = 100;
/// A first stay as long as this is not gone through again.
const LONG: u32 = 10_000;
/// Conflicts of the questions from power-up.
const FIRST: u64 = 20_000;
/// Rounds of questions from elsewhere.
const ROUNDS: [Round; 4] = [
    Round { starts: 12, conflicts: 3_000, levels: 2, steady: 3 },
    Round { starts: usize::MAX, conflicts: 1_000, levels: 2, steady: 3 },
    Round { starts: 12, conflicts: 8_000, levels: 3, steady: 1 },
    Round { starts: usize::MAX, conflicts: 8_000, levels: 3, steady: 3 },
];
/// What a question takes beside its conflicts, counted as some.
const ASKING: u64 = 100;

/// What is easy anywhere comes before what is hard somewhere.
struct Round {
    /// So many of the starts.
    starts: usize,
    /// Conflicts of a question.
    conflicts: u64,
    /// So many levels of freedom.
    levels: usize,
    /// Speeds change only after each so many scans.
    steady: usize,
}

/// Looks for a history that misses a requirement, from power-up and from the ends of these.
///
/// # Errors
/// None that a verified plan can cause.
pub fn hunt(
    model: &Model<'_>,
    system: &mut System,
    requirement: usize,
    starts: &[History],
    effort: Effort,
) -> Result<Option<Refutation>, Fault> {
    let Some(asked) = model.station.requirements.get(requirement).filter(|_| effort.conflicts > 0) else {
        return Ok(None);
    };
    let kept = Kept::new(model, system, !matches!(asked.form, Form::Held { .. }));
    let mut closer = Closer { model, system, kept, requirement, left: effort.conflicts, rested: None };
    let found = match closer.after_power_up()? {
        None => closer.after_starts(asked, starts)?,
        found => found,
    };
    found.map(|found| found.shorten(model.station, effort.clean, effort.replays)).transpose()
}

struct Closer<'s, 'p> {
    model: &'s Model<'p>,
    system: &'s System,
    kept: Kept,
    requirement: usize,
    left: u64,
    /// What a first stay led to that many histories begin with.
    rested: Option<(Stay, Memory<Plain>)>,
}

impl Closer<'_, '_> {
    fn after_power_up(&mut self) -> Result<Option<Refutation>, Fault> {
        let calm = calm(self.model.station);
        // More than the sources can deliver counts as well, but something plainer is looked for first.
        for racing in [false, true] {
            let question = Question { racing, ..self.question(Begin::PowerUp, &calm) };
            let bound = Bound { scans: SCANS, conflicts: self.left.min(FIRST), literals: LITERALS };
            let (found, spent) = search(&question, bound);
            self.left = self.left.saturating_sub(spent);
            if let Some(refutation) = self.judged(&History::default(), found)? {
                return Ok(Some(refutation));
            }
        }
        Ok(None)
    }
    fn after_starts(&mut self, asked: &Requirement, starts: &[History]) -> Result<Option<Refutation>, Fault> {
        let station = self.model.station;
        let spoken = asked.inputs();
        let mut answering = spoken.clone();
        for watch in own_watches(self.model, asked) {
            answering.extend(station.watches.get(watch).into_iter().flat_map(|watch| watch.kind.inputs()));
        }
        let levels = [Some(&spoken), Some(&answering), None];
        let scans = far(station, asked);
        let mut cells: Vec<Option<Vec<u32>>> = vec![None; starts.len()];
        for round in ROUNDS {
            for (start, cells) in starts.iter().zip(&mut cells).take(round.starts) {
                for free in levels.into_iter().take(round.levels) {
                    let (most, Some(last)) = (self.left.min(round.conflicts), start.stays().last()) else { continue };
                    if most == 0 {
                        return Ok(None);
                    }
                    let cells = match cells {
                        Some(cells) => cells,
                        None => cells.insert(self.after(start)?),
                    };
                    let free = free.map(|free| (station, free));
                    let question =
                        Question { free, steady: round.steady, ..self.question(Begin::In(cells), &last.sample) };
                    let bound = Bound { scans, conflicts: most, literals: usize::MAX };
                    let (found, spent) = search(&question, bound);
                    self.left = self.left.saturating_sub(spent + ASKING);
                    if let Some(refutation) = self.judged(start, found)? {
                        return Ok(Some(refutation));
                    }
                }
            }
        }
        Ok(None)
    }
    fn question<'q>(&'q self, begin: Begin<'q>, calm: &'q Sample) -> Question<'q> {
        let (system, kept, requirement) = (self.system, &self.kept, self.requirement);
        Question { system, kept, requirement, begin, calm, free: None, racing: false, steady: 1 }
    }
    /// What was found, replayed from power-up.
    fn judged(&self, start: &History, found: Option<Vec<Sample>>) -> Result<Option<Refutation>, Fault> {
        let Some(found) = found else { return Ok(None) };
        let mut history = start.clone();
        for sample in &found {
            history.push(sample, 1);
        }
        missed_by(self.model.station, &history, self.requirement)
    }
    /// The cells after a history.
    fn after(&mut self, history: &History) -> Result<Vec<u32>, Fault> {
        let mut memory = self.model.power_up(&mut Plain)?;
        for (at, stay) in history.stays().iter().enumerate() {
            match &self.rested {
                Some((rested, then)) if at == 0 && rested == stay => memory = then.clone(),
                _ => {
                    self.goes_on(&mut memory, stay)?;
                    if at == 0 && stay.scans >= LONG {
                        self.rested = Some((stay.clone(), memory.clone()));
                    }
                }
            }
        }
        Ok(values(&mut memory))
    }
    /// Each carrier is followed that comes while none is.
    fn goes_on(&self, memory: &mut Memory<Plain>, stay: &Stay) -> Result<(), Fault> {
        let picks = vec![true; self.model.station.requirements.len()];
        let mut given = Given { channels: vec![], gauges: vec![], sources: vec![], links: vec![], picks };
        let Given { channels, gauges, sources, links, .. } = &mut given;
        lift(&mut Plain, &stay.sample, channels, gauges, sources, links);
        for _ in 0..stay.scans {
            self.model.scan(&mut Plain, memory, &given)?;
        }
        Ok(())
    }
}

/// Scans after which a requirement can be missed that begins to ask soon.
fn far(station: &Station, asked: &Requirement) -> usize {
    let span = |input: &InputId| match station.inputs.get(*input).map(|input| &input.kind) {
        Some(InputKind::Pace(pace)) => pace.span,
        _ => 0,
    };
    let span = asked.inputs().iter().map(span).max().unwrap_or(0);
    let (lasting, within) = match &asked.form {
        Form::Whenever { lasting, within, .. } | Form::Effect { lasting, within, .. } => (*lasting, *within),
        Form::WhenRises { when: When::Scans(scans), within, .. } => (*scans, *within),
        // As fast as the rope may run, and half as fast.
        Form::WhenRises { when: When::Rope(pace, mm), within, .. } => {
            let most = match station.inputs.get(*pace).map(|input| &input.kind) {
                Some(InputKind::Pace(pace)) => pace.top_scan,
                _ => 1,
            };
            ((mm / most.max(1)).saturating_mul(2), *within)
        }
        Form::WhenRises { lasting, within, .. } => (*lasting, *within),
        Form::After { within, .. } | Form::Held { within, .. } => (0, *within),
        Form::Never { .. }
        | Form::NeverReleased { .. }
        | Form::NeverReleasedBut { .. }
        | Form::NeverPermitted { .. }
        | Form::NeverTogether(..) => (0, 0),
    };
    let scans = lasting.saturating_add(within).saturating_add(span.saturating_mul(2)).saturating_add(16);
    usize::try_from(scans).unwrap_or(FAR).min(FAR)
}
