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

pub use judge::{Counted, Follow, Judge, Seen, pace_number};
pub use raw::{Before, MonitorPlan};

/// Judges a run, scan by scan.
#[derive(Clone)]
pub struct Monitors<'p> {
    machine: Machine<'p, Plain>,
    plan: &'p MonitorPlan,
    judges: Vec<Judge<Plain>>,
    distances: Vec<Apart<Plain>>,
    /// Which follower takes the next carrier, for each requirement.
    turns: Vec<usize>,
    sample: Sample,
    active_before: u64,
    off_before: u64,
    answer_before: Rank,
    scene: Scene,
}

/// What the judges see, in vectors that are used again.
#[derive(Clone, Default)]
struct Scene {
    trips: Vec<bool>,
    rises: Vec<bool>,
    travel: Vec<[u32; 2]>,
    before: Vec<bool>,
    now: Vec<bool>,
    off: Vec<bool>,
    broken: Vec<bool>,
    active: Vec<bool>,
    were_off: Vec<bool>,
    picks: Vec<bool>,
}

impl<'p> Monitors<'p> {
    /// Starts to judge; `None` only if the plan does not fit its own needs.
    pub fn start(station: &Station, monitors: &'p MonitorPlan, plan: &'p Plan<'p>) -> Option<Self> {
        Some(Self {
            machine: Machine::power_up(Plain, plan)?,
            plan: monitors,
            judges: monitors.judges(&mut Plain, station, true),
            distances: monitors.distances(&mut Plain),
            turns: vec![0; station.requirements.len()],
            sample: Sample::default(),
            active_before: 0,
            off_before: u64::MAX,
            answer_before: station.worst(),
            scene: Scene::default(),
        })
    }
    /// Begins anew: after a power-up, when the most severe stop stands, or at the start of a field recording, when none does.
    pub fn restart(&mut self, station: &Station, power_up: bool) {
        if power_up {
            self.machine.restart();
            self.distances = self.plan.distances(&mut Plain);
        }
        self.active_before = 0;
        // A recording begins on a lift that runs.
        self.off_before = if power_up { u64::MAX } else { 0 };
        self.answer_before = if power_up { station.worst() } else { 0 };
        self.judges = self.plan.judges(&mut Plain, station, power_up);
        self.turns.fill(0);
    }
    /// Judges one scan: `told` is what the rules published for this sample, and gets what was met, missed or broken.
    pub fn scan(&mut self, sample: &Sample, told: &mut Scanned) {
        told.met.clear();
        told.missed.clear();
        told.broken.clear();
        self.sample.clone_from(sample);
        let ranks = self.plan.worst.saturating_add(1);
        let scene = &mut self.scene;
        scene.before.clear();
        scene.before.extend((0..ranks).map(|rank| self.answer_before >= rank));
        scene.active.clear();
        scene.active.extend((0..self.plan.bypasses).map(|i| bit(self.active_before, i)));
        scene.were_off.clear();
        scene.were_off.extend((0..self.plan.outputs).map(|i| bit(self.off_before, i)));
        let before = Before { active: &scene.active, answer: &scene.before, off: &scene.were_off };
        self.plan.channels(&mut Plain, &sample.channels, &before, &mut self.sample.channels);
        let scanned = self.machine.scan(&self.sample);
        let (scene, plan, distances) = (&mut self.scene, self.plan, &mut self.distances);
        let looked = self.machine.look(|bound| {
            plan.trips(&mut Plain, bound.work.trip, &mut scene.trips);
            scene.rises.clear();
            scene.rises.extend(bound.work.rise.iter().map(|[rise]| *rise));
            scene.travel.clear();
            scene.travel.extend(bound.levels.travel.iter().copied());
            let (rises, travel) = (&*bound.work.rise, &*bound.levels.travel);
            plan.broken(&mut Plain, &scene.trips, rises, travel, distances, &mut scene.broken);
        });
        scene.now.clear();
        scene.now.extend((0..ranks).map(|rank| told.answer >= rank));
        scene.off.clear();
        scene.off.extend((0..plan.outputs).map(|i| bit(told.off, i)));
        let sound = scanned.is_some() && looked.is_some();
        for (i, (judge, turn)) in self.judges.iter_mut().zip(&mut self.turns).enumerate() {
            let mut missed = true;
            let number = u16::try_from(i).unwrap_or(u16::MAX);
            if sound {
                scene.picks.clear();
                if let Judge::Follow(follow) = judge {
                    let count = follow.followers.len().max(1);
                    scene.picks.extend((0..count).map(|i| i == *turn));
                    if follow.starts(&scene.rises) {
                        *turn = (*turn + 1) % count;
                    }
                }
                let seen = Seen {
                    trips: &scene.trips,
                    rises: &scene.rises,
                    travel: &scene.travel,
                    before: &scene.before,
                    now: &scene.now,
                    off: &scene.off,
                    permit: told.permit,
                    broken: &scene.broken,
                };
                let outcome = judge.scan(&mut Plain, &seen, &scene.picks);
                if outcome.met {
                    told.met.push((number, outcome.waited.saturating_sub(1)));
                }
                missed = outcome.missed;
            }
            if missed {
                told.missed.push(number);
            }
        }
        let broken = (0..).zip(&scene.broken).filter(|(_, broken)| **broken);
        told.broken.extend(broken.map(|(i, _)| i));
        self.answer_before = told.answer;
        self.active_before = told.active;
        self.off_before = told.off;
    }
}

fn bit(bits: u64, at: usize) -> bool {
    u32::try_from(at).ok().and_then(|at| bits.checked_shr(at)).unwrap_or(0) & 1 == 1
}
