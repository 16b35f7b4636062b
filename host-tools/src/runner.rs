//! The plain reading as a [`Runner`]: what the controller would do, told scan by scan.

use crate::lower::Program;
use crate::run::Machine;
use crate::sample::Sample;
use crate::station::Rank;
use crate::told::{Judged, Runner, Scanned};
use logic_rules::Plain;
use logic_rules::plan::Plan;

/// A plan in the plain reading.
pub struct PlainRunner<'p> {
    machine: Machine<'p, Plain>,
    program: &'p Program,
    told: Scanned,
}

impl<'p> PlainRunner<'p> {
    /// Powers a plan up; `None` only if the plan does not fit its own needs.
    pub fn power_up(program: &'p Program, plan: &'p Plan<'p>) -> Option<Self> {
        Some(Self { machine: Machine::power_up(Plain, plan)?, program, told: Scanned::default() })
    }
}

fn set_bits<const N: usize>(cells: &[[bool; N]]) -> u64 {
    let on = (0_u32..64).zip(cells).filter(|(_, cell)| cell.first() == Some(&true));
    on.fold(0, |bits, (i, _)| bits | 1_u64.checked_shl(i).unwrap_or(0))
}

impl Runner for PlainRunner<'_> {
    fn scan(&mut self, sample: &Sample) -> &Scanned {
        let Self { machine, program, told } = self;
        let published = machine.scan(sample);
        let looked = machine.look(|bound| {
            let (bits, work) = (bound.bits(), &bound.work);
            told.trips.clear();
            told.first.clear();
            let mut latched = false;
            let cells = work.trip.iter().zip(bits.latch.iter()).zip(bits.first.iter());
            for ((([trip], [latch]), [first]), &way) in cells.zip(&program.by_severity) {
                let way = u16::try_from(way).unwrap_or(u16::MAX);
                latched |= *latch;
                if *trip {
                    told.trips.push(way);
                }
                if *first {
                    told.first.push(way);
                }
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
        match (published, looked) {
            (Some(published), Some(())) => {
                told.answer = Rank::try_from(published.answer).unwrap_or(Rank::MAX);
                told.permit = published.permit;
                told.reset = published.reset;
            }
            // A sample that is not one of this station: every doubt stops.
            _ => {
                let worst = Rank::try_from(program.tables().ranks.len()).unwrap_or(Rank::MAX);
                *told = Scanned { answer: worst, off: u64::MAX, stands: u64::MAX, latched_any: true, ..Scanned::default() };
            }
        }
        told
    }
    fn restart(&mut self) {
        self.machine.restart();
    }
    fn adopt(&mut self) {
        self.machine.adopt();
    }
}
