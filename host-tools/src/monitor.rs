//! Judges requirements and assumptions in a run.
//!
//! Their conditions are formed on raw inputs. What forms them is the step itself, over a second
//! plan that is lowered from the same station with everything taken away that would hide a raw
//! input: settling, faults, refills, modes and the watches. Bypasses are inputs of that plan, fed with
//! what the rules published. The obligations are those of `logic_rules::monitor`.

use crate::run::Machine;
use crate::sample::Sample;
use crate::station::{Rank, Station};
use crate::told::Scanned;
use logic_rules::Plain;
use logic_rules::monitor::Apart;
use logic_rules::plan::Plan;

mod judge;
mod raw;
mod scene;
mod skipped;

pub use judge::{Counted, Effect, Follow, Judge, Seen, Visit, pace_number};
pub use raw::{Before, MonitorPlan, steady_name};
use scene::Scene;
pub(crate) use skipped::Judgement;

/// Judges a run, scan by scan.
#[derive(Clone)]
pub struct Monitors<'p> {
    machine: Machine<'p, Plain>,
    station: &'p Station,
    plan: &'p MonitorPlan,
    judges: Vec<Judge<Plain>>,
    distances: Vec<Apart<Plain>>,
    /// Which follower takes the next carrier, for each requirement.
    turns: Vec<usize>,
    sample: Sample,
    before: Published,
    scene: Scene<Plain>,
}

/// What the rules published in a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Published {
    answer: Rank,
    off: u64,
    active: u64,
    permit: bool,
}

impl<'p> Monitors<'p> {
    /// Starts to judge; `None` only if the plan does not fit its own needs.
    pub fn start(station: &'p Station, monitors: &'p MonitorPlan, plan: &'p Plan<'p>) -> Option<Self> {
        Some(Self {
            machine: Machine::power_up(Plain, plan)?,
            station,
            plan: monitors,
            judges: monitors.judges(&mut Plain, station, true),
            distances: monitors.distances(&mut Plain),
            turns: vec![0; station.requirements.len()],
            sample: Sample::default(),
            before: Published { answer: station.worst(), off: u64::MAX, active: 0, permit: false },
            scene: Scene::default(),
        })
    }
    /// Begins anew: after a power-up, when the most severe stop stands, or at the start of a field recording, when none does.
    pub fn restart(&mut self, station: &Station, power_up: bool) {
        if power_up {
            self.machine.restart();
            self.distances = self.plan.distances(&mut Plain);
        }
        // A recording begins on a lift that runs.
        let (answer, off) = if power_up { (station.worst(), u64::MAX) } else { (0, 0) };
        self.before = Published { answer, off, active: 0, permit: false };
        self.judges = self.plan.judges(&mut Plain, station, power_up);
        self.turns.fill(0);
    }
    /// Judges one scan: `told` is what the rules published for this sample, and gets what was met, missed or broken.
    pub fn scan(&mut self, sample: &Sample, told: &mut Scanned) {
        told.met.clear();
        told.missed.clear();
        told.broken.clear();
        let (mut a, plan, scene) = (Plain, self.plan, &mut self.scene);
        let now = Published { answer: told.answer, off: told.off, active: told.active, permit: told.permit };
        scene.hears(&mut a, plan, self.before, now, &sample.links);
        self.sample.clone_from(sample);
        plan.channels(&mut a, &sample.channels, &scene.published(), &mut self.sample.channels);
        let scanned = self.machine.scan(&self.sample);
        let looked = self.machine.look(|bound| scene.looks(&mut a, plan, bound, &mut self.distances));
        let sound = scanned.is_some() && looked.is_some();
        for (i, (judge, turn)) in self.judges.iter_mut().zip(&mut self.turns).enumerate() {
            let mut missed = true;
            let number = u16::try_from(i).unwrap_or(u16::MAX);
            if sound {
                let outcome = scene.asks(&mut a, judge, turn);
                if outcome.met {
                    told.met.push((number, outcome.waited.saturating_sub(1)));
                }
                missed = outcome.missed;
            }
            if missed {
                told.missed.push(number);
            }
        }
        told.broken.extend(scene.broken());
        self.before = now;
    }
}

fn bit(bits: u64, at: usize) -> bool {
    u32::try_from(at).ok().and_then(|at| bits.checked_shr(at)).unwrap_or(0) & 1 == 1
}
