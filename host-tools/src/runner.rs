//! The plain reading as a [`Runner`]: what the controller would do, told scan by scan.

use crate::lower::{Program, lower};
use crate::monitor::{MonitorPlan, Monitors};
use crate::run::Machine;
use crate::sample::Sample;
use crate::station::{Rank, Station};
use crate::told::{Judged, Runner, Scanned};
use logic_rules::Plain;
use logic_rules::plan::{Fault, Plan};

/// A plan in the plain reading.
pub struct PlainRunner<'p> {
    machine: Machine<'p, Plain>,
    program: &'p Program,
    told: Scanned,
    judging: Option<(&'p Station, Monitors<'p>)>,
}

impl<'p> PlainRunner<'p> {
    /// Powers a plan up; `None` only if the plan does not fit its own needs.
    pub fn power_up(program: &'p Program, plan: &'p Plan<'p>) -> Option<Self> {
        Some(Self { machine: Machine::power_up(Plain, plan)?, program, told: Scanned::default(), judging: None })
    }
    /// Another run that goes on from this state on its own, judging nothing.
    #[must_use]
    pub fn fork(&self) -> Self {
        Self { machine: self.machine.clone(), program: self.program, told: self.told.clone(), judging: None }
    }
    /// Judges the requirements and assumptions of the station as well.
    #[must_use]
    pub fn judging(mut self, station: &'p Station, monitors: Monitors<'p>) -> Self {
        self.judging = Some((station, monitors));
        self
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
    let mut runner = PlainRunner::power_up(&program, &plan).ok_or(no_room)?.judging(station, monitors);
    Ok(run(&mut runner))
}

fn set_bits<const N: usize>(cells: &[[bool; N]]) -> u64 {
    let on = (0_u32..64).zip(cells).filter(|(_, cell)| cell.first() == Some(&true));
    on.fold(0, |bits, (i, _)| bits | 1_u64.checked_shl(i).unwrap_or(0))
}

impl Runner for PlainRunner<'_> {
    fn scan(&mut self, sample: &Sample) -> &Scanned {
        let Self { machine, program, told, judging } = self;
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
        if let Some((_, monitors)) = judging {
            monitors.scan(sample, told);
        }
        told
    }
    fn restart(&mut self) {
        self.machine.restart();
        if let Some((station, monitors)) = &mut self.judging {
            monitors.restart(station, true);
        }
    }
    fn adopt(&mut self) {
        self.machine.adopt();
        if let Some((station, monitors)) = &mut self.judging {
            monitors.restart(station, false);
        }
    }
}
