//! The plain reading as a [`Runner`]: what the controller would do, told scan by scan.

use crate::lower::{Program, lower};
use crate::monitor::{Judgement, MonitorPlan, Monitors};
use crate::run::Machine;
use crate::sample::Sample;
pub use crate::skip::Counts;
use crate::skip::{Before, Given, Skip, Went};
use crate::station::{Rank, Station};
use crate::stays::{Room, Stays};
use crate::told::{Judged, Runner, Scanned};
use logic_rules::Plain;
use logic_rules::plan::{Fault, Plan};

/// A plan in the plain reading.
pub struct PlainRunner<'p> {
    machine: Machine<'p, Plain>,
    program: &'p Program,
    told: Scanned,
    judging: Option<(&'p Station, Monitors<'p>)>,
    skipping: Option<Box<Skipping<'p>>>,
}

/// What skips over scans of the rules and of those who judge them.
#[derive(Default)]
struct Skipping<'p> {
    before: Before,
    rules: Skip<Machine<'p, Plain>>,
    judges: Skip<Monitors<'p>>,
    published: [u64; 4],
}

impl<'p> PlainRunner<'p> {
    /// Powers a plan up; `None` only if the plan does not fit its own needs.
    pub fn power_up(program: &'p Program, plan: &'p Plan<'p>) -> Option<Self> {
        let machine = Machine::power_up(Plain, plan)?;
        Some(Self { machine, program, told: Scanned::default(), judging: None, skipping: None })
    }
    /// Another run that goes on from this state on its own, judging nothing.
    #[must_use]
    pub fn fork(&self) -> Self {
        let (mut machine, told) = (self.machine.clone(), self.told.clone());
        if let Some(skipping) = &self.skipping {
            skipping.rules.catch_up(&mut machine);
        }
        Self { machine, program: self.program, told, judging: None, skipping: None }
    }
    /// Judges the requirements and assumptions of the station as well.
    #[must_use]
    pub fn judging(mut self, station: &'p Station, monitors: Monitors<'p>) -> Self {
        self.judging = Some((station, monitors));
        self
    }
    /// Skips over scans that go as scans before them did; all are told the same as without.
    #[must_use]
    pub fn skipping(mut self) -> Self {
        self.skipping = Some(Box::default());
        self
    }
    /// What the last scan told.
    pub fn told(&self) -> &Scanned {
        &self.told
    }
    /// What was stepped and skipped so far, of the rules and of those who judge them.
    pub fn counts(&self) -> [Counts; 2] {
        self.skipping.as_ref().map_or_else(Default::default, |all| [all.rules.counts(), all.judges.counts()])
    }
    /// Whatever is ahead of the state is written back to it.
    fn leave(&mut self) {
        if let Some(skipping) = &mut self.skipping {
            skipping.rules.leave(&mut self.machine);
            if let Some((_, monitors)) = &mut self.judging {
                skipping.judges.leave(monitors);
            }
        }
    }
}

impl<'p> Skipping<'p> {
    fn scan(
        &mut self,
        machine: &mut Machine<'p, Plain>,
        judging: Option<&mut Monitors<'p>>,
        program: &Program,
        sample: &Sample,
        told: &mut Scanned,
    ) {
        let Some(same) = self.before.same(sample) else {
            self.rules.leave(machine);
            step(machine, program, sample, told);
            if let Some(monitors) = judging {
                self.judges.leave(monitors);
                monitors.scan(sample, told);
            }
            return;
        };
        let mut given = Given { sample, inputs: self.before.inputs(), published: [0; 4] };
        match self.rules.scan(machine, &given, same) {
            Went::Same => {}
            Went::Told(rules) => {
                let judgement = (std::mem::take(&mut told.missed), std::mem::take(&mut told.broken));
                told.clone_from(rules);
                (told.missed, told.broken) = judgement;
            }
            Went::Step => {
                let judgement = (std::mem::take(&mut told.missed), std::mem::take(&mut told.broken));
                told.met.clear();
                step(machine, program, sample, told);
                self.rules.stepped(machine, &given, told);
                (told.missed, told.broken) = judgement;
            }
        }
        let Some(monitors) = judging else { return };
        given.published = [u64::from(told.answer), told.off, told.active, u64::from(told.permit)];
        let same = same && given.published == self.published;
        self.published = given.published;
        match self.judges.scan(monitors, &given, same) {
            Went::Same => {}
            Went::Told(judgement) => {
                told.met.clear();
                told.missed.clone_from(&judgement.missed);
                told.broken.clone_from(&judgement.broken);
            }
            Went::Step => {
                monitors.scan(sample, told);
                let judgement = Judgement { missed: told.missed.clone(), broken: told.broken.clone() };
                self.judges.stepped(monitors, &given, &judgement);
            }
        }
    }
}

impl Skipping<'_> {
    /// For how many scans both go on at once, and the rooms that both leave.
    fn stays(&mut self, rooms: &mut Vec<Room>, judging: bool) -> Stays {
        if !self.before.runs_on() {
            return Stays::default();
        }
        let inputs = self.before.inputs();
        rooms.clear();
        rooms.resize(inputs.len(), Room::ALL);
        let rules = self.rules.stays(inputs, rooms);
        if judging && rules != Stays::default() { rules.and(self.judges.stays(inputs, rooms)) } else { rules }
    }
    /// Takes so many scans, in the last of which this was read.
    fn again(&mut self, scans: u32, last: &Sample, judging: bool) {
        // It differs in what moves within its room, if at all.
        self.before.same(last);
        let inputs = self.before.inputs();
        self.rules.again(inputs, scans);
        if judging {
            self.judges.again(inputs, scans);
        }
    }
}

/// Hands a running, judging station to `run`: lowering, verification and power-up in one.
///
/// # Errors
/// As [`Program::plan`].
pub fn with_runner<T>(station: &Station, run: impl FnOnce(&mut dyn Runner) -> T) -> Result<T, Fault> {
    let (program, monitor_plan) = (lower(station), MonitorPlan::new(station));
    let (plan, raw_plan) = (program.plan()?, monitor_plan.plan()?);
    let no_room = Fault::TooMany("cells");
    let monitors = Monitors::start(station, &monitor_plan, &raw_plan).ok_or(no_room)?;
    let runner = PlainRunner::power_up(&program, &plan).ok_or(no_room)?.skipping();
    // Where nothing is required and nothing assumed there is nothing to judge.
    let judged = !station.requirements.is_empty() || !station.assumptions.is_empty();
    let mut runner = if judged { runner.judging(station, monitors) } else { runner };
    Ok(run(&mut runner))
}

fn set_bits<const N: usize>(cells: &[[bool; N]]) -> u64 {
    let on = (0_u32..64).zip(cells).filter(|(_, cell)| cell.first() == Some(&true));
    on.fold(0, |bits, (i, _)| bits | 1_u64.checked_shl(i).unwrap_or(0))
}

/// Steps one scan, and tells what it published.
fn step(machine: &mut Machine<'_, Plain>, program: &Program, sample: &Sample, told: &mut Scanned) {
    let published = machine.scan(sample);
    let looked = machine.look(|bound| {
        let (bits, work) = (bound.bits(), &bound.work);
        told.trips.clear();
        told.first.clear();
        told.doubtful.clear();
        told.unknown.clear();
        let mut latched = false;
        // Most scans trip nothing while nothing is latched: then there is no row to look at.
        let any = |cells: &[[bool; 1]]| cells.iter().any(|[cell]| *cell);
        let quiet = !any(work.trip) && !any(bits.latch) && !any(bits.first);
        let cells = work.trip.iter().zip(bits.latch.iter()).zip(bits.first.iter());
        let rows = if quiet { 0 } else { usize::MAX };
        for (row, ((([trip], [latch]), [first]), &way)) in cells.zip(&program.by_severity).enumerate().take(rows) {
            let way = u16::try_from(way).unwrap_or(u16::MAX);
            latched |= *latch;
            if *trip {
                told.trips.push(way);
                if program.doubts.way(row, work.may) {
                    told.doubtful.push(way);
                }
            }
            if *first {
                told.first.push(way);
            }
        }
        if !told.trips.is_empty() || !told.first.is_empty() {
            told.unknown.extend(program.doubts.inputs(work.may, work.trusted));
        }
        told.trips.sort_unstable();
        told.first.sort_unstable();
        told.latched_any = latched;
        told.stands = set_bits(work.stands) << 1;
        told.off = set_bits(bits.output);
        told.active = set_bits(work.active);
        told.judged.clear();
        let judged = work.judged.iter().zip(bound.levels.measured.iter()).zip(&program.judged);
        for (([is], [measured]), &watch) in judged {
            if *is {
                told.judged.push(Judged { watch: u16::try_from(watch).unwrap_or(u16::MAX), measured: *measured });
            }
        }
    });
    if let (Some(published), Some(())) = (published, looked) {
        told.answer = Rank::try_from(published.answer).unwrap_or(Rank::MAX);
        told.permit = published.permit;
        told.reset = published.reset;
    } else {
        // A sample that is not one of this station: every doubt stops.
        let answer = Rank::try_from(program.tables().ranks.len()).unwrap_or(Rank::MAX);
        *told = Scanned { answer, off: u64::MAX, stands: u64::MAX, latched_any: true, ..Scanned::default() };
    }
}

impl Runner for PlainRunner<'_> {
    fn scan(&mut self, sample: &Sample) -> &Scanned {
        let Self { machine, program, told, judging, skipping } = self;
        if let Some(skipping) = skipping {
            let monitors = judging.as_mut().map(|(_, monitors)| monitors);
            skipping.scan(machine, monitors, program, sample, told);
        } else {
            step(machine, program, sample, told);
            if let Some((_, monitors)) = judging {
                monitors.scan(sample, told);
            }
        }
        told
    }
    fn stays(&mut self, rooms: &mut Vec<Room>) -> Stays {
        let judging = self.judging.is_some();
        self.skipping.as_mut().map_or_else(Stays::default, |skipping| skipping.stays(rooms, judging))
    }
    fn again(&mut self, scans: u32, last: &Sample) -> Option<&Scanned> {
        self.skipping.as_mut()?.again(scans, last, self.judging.is_some());
        Some(&self.told)
    }
    fn restart(&mut self) {
        self.leave();
        self.machine.restart();
        if let Some((station, monitors)) = &mut self.judging {
            monitors.restart(station, true);
        }
    }
    fn adopt(&mut self) {
        self.leave();
        self.machine.adopt();
        if let Some((station, monitors)) = &mut self.judging {
            monitors.restart(station, false);
        }
    }
}
