//! Judges requirements and assumptions in a run.
//!
//! Their conditions are formed on raw inputs. What forms them is the step itself, over a second
//! plan that is lowered from the same station with everything taken away that would hide a raw
//! input: settling, faults, refills, modes and the watches. Bypasses are inputs of that plan, fed with
//! what the rules published. The obligations are those of `logic_rules::monitor`.

use crate::run::Machine;
use crate::sample::Sample;
use crate::station::{Form, InputId, InputKind, Measured, Station, WatchKind};
use crate::told::Scanned;
use logic_rules::Plain;
use logic_rules::monitor::{Deadline, Follower, Obligation, Passing, Window};
use logic_rules::plan::Plan;

mod raw;

pub use raw::MonitorPlan;
use raw::Shape;

/// How a requirement is judged: index of its guard (or measure) in the raw station, and its own state.
enum Judge {
    Obligation { bit: usize, unless: Option<usize>, deadline: Deadline, least: u8, state: Obligation<Plain> },
    Follow(Box<Follow>),
    Never { bit: usize, least: u8 },
    Released { bit: usize, since: u32, longest: u32, stopped: bool },
    Together(usize, usize),
}

/// A requirement that follows carriers, as many at once as it says.
struct Follow {
    rises: [usize; 2],
    pace: usize,
    rope: bool,
    band: Option<usize>,
    unless: Option<usize>,
    window: Window,
    least: u8,
    deadline: Deadline,
    state: Obligation<Plain>,
    followers: Vec<Follower<Plain>>,
    inside: u32,
    turn: usize,
    run: u32,
}

/// Judges a run, scan by scan.
pub struct Monitors<'p> {
    machine: Machine<'p, Plain>,
    raw_trips: Vec<bool>,
    plan: &'p MonitorPlan,
    judges: Vec<Judge>,
    sample: Sample,
    active_before: u64,
    rises: Vec<bool>,
    travel: Vec<[u32; 2]>,
    worst_before: u8,
    first_stop: u8,
}

impl<'p> Monitors<'p> {
    /// Starts to judge; `None` only if the plan does not fit its own needs.
    pub fn start(station: &Station, monitors: &'p MonitorPlan, plan: &'p Plan<'p>) -> Option<Self> {
        let mut a = Plain;
        let judges = station
            .requirements
            .iter()
            .zip(&monitors.requirements)
            .map(|(r, shape)| judge(&mut a, station, &r.form, *shape, true))
            .collect();
        Some(Self {
            machine: Machine::power_up(Plain, plan)?,
            raw_trips: vec![false; monitors.station.watches.len()],
            plan: monitors,
            judges,
            sample: Sample::default(),
            active_before: 0,
            rises: Vec::new(),
            travel: Vec::new(),
            worst_before: station.worst(),
            first_stop: station.first_stop(),
        })
    }
    /// Begins anew: after a power-up, when the most severe stop stands, or at the start of a field recording, when none does.
    pub fn restart(&mut self, station: &Station, power_up: bool) {
        let mut a = Plain;
        if power_up {
            self.machine.restart();
        }
        self.active_before = 0;
        self.worst_before = if power_up { station.worst() } else { 0 };
        self.judges = station
            .requirements
            .iter()
            .zip(&self.plan.requirements)
            .map(|(r, shape)| judge(&mut a, station, &r.form, *shape, power_up))
            .collect();
    }
    /// Judges one scan: `told` is what the rules published for this sample, and gets what was met, missed or broken.
    pub fn scan(&mut self, sample: &Sample, told: &mut Scanned) {
        told.met.clear();
        told.missed.clear();
        told.broken.clear();
        self.sample.clone_from(sample);
        let bypasses = self.plan.station.channels.len().saturating_sub(sample.channels.len());
        for i in 0..bypasses {
            let active = u32::try_from(i).ok().and_then(|i| self.active_before.checked_shr(i)).unwrap_or(0) & 1 == 1;
            self.sample.channels.push(active);
        }
        let trips = &mut self.raw_trips;
        let program = &self.plan.program;
        let scanned = self.machine.scan(&self.sample);
        let (rises, travel) = (&mut self.rises, &mut self.travel);
        rises.clear();
        travel.clear();
        let looked = self.machine.look(|bound| {
            trips.fill(false);
            for ([trip], &way) in bound.work.trip.iter().zip(&program.by_severity) {
                if let Some(crate::station::ways::Source::Watch(watch)) = program.ways.get(way).map(|w| w.source)
                    && let Some(cell) = trips.get_mut(watch)
                {
                    *cell |= *trip;
                }
            }
            rises.extend(bound.work.rise.iter().map(|[rise]| *rise));
            travel.extend(bound.levels.travel.iter().copied());
        });
        let sound = scanned.is_some() && looked.is_some();
        for (i, judge) in self.judges.iter_mut().enumerate() {
            let (met, missed) = if sound {
                step(judge, trips, rises, travel, self.worst_before, told, self.first_stop)
            } else {
                (None, true)
            };
            let number = u16::try_from(i).unwrap_or(u16::MAX);
            if let Some(waited) = met {
                told.met.push((number, waited));
            }
            if missed {
                told.missed.push(number);
            }
        }
        for (i, &watch) in self.plan.assumptions.iter().enumerate() {
            let tripped = trips.get(watch).copied().unwrap_or(false);
            let guard = matches!(self.plan.station.watches.get(watch).map(|w| &w.kind), Some(WatchKind::Guard(_)));
            // A claim's guard trips while the claim may hold.
            if tripped != guard {
                told.broken.push(u16::try_from(i).unwrap_or(u16::MAX));
            }
        }
        self.worst_before = told.answer;
        self.active_before = told.active;
    }
}

fn judge(a: &mut Plain, station: &Station, form: &Form, shape: Shape, stopped: bool) -> Judge {
    let deadline = |lasting, within| Deadline { lasting, within };
    match form {
        Form::Whenever { lasting, least, within, .. } => Judge::Obligation {
            bit: shape.bit,
            unless: shape.unless,
            deadline: deadline(*lasting, *within),
            least: *least,
            state: Obligation::new(a),
        },
        Form::WhenRises { least, within, .. } => Judge::Obligation {
            bit: shape.bit,
            unless: shape.unless,
            deadline: deadline(0, *within),
            least: *least,
            state: Obligation::new(a),
        },
        Form::Never { least, .. } => Judge::Never { bit: shape.bit, least: *least },
        Form::NeverReleased { key } => {
            let settle = match station.inputs.get(*key).map(|i| &i.kind) {
                Some(InputKind::Key(k)) => k.settle.up.max(k.settle.down),
                _ => 0,
            };
            let press = station.reset.as_ref().map_or(0, |r| r.longest);
            Judge::Released {
                bit: shape.bit,
                since: u32::MAX,
                longest: press.saturating_add(settle).saturating_add(2),
                stopped,
            }
        }
        Form::NeverTogether(x, y) => Judge::Together(*x, *y),
        Form::After { from, to, measured, earliest, latest, capacity, least, within } => {
            let channel = |detector: &InputId| match station.inputs.get(*detector).map(|i| &i.kind) {
                Some(InputKind::Detector(d)) => d.channel,
                _ => usize::MAX,
            };
            let (Measured::Rope(pace) | Measured::Time { pace, .. }) = measured;
            let number = station.inputs.iter().take(*pace).filter(|i| matches!(i.kind, InputKind::Pace(_))).count();
            Judge::Follow(Box::new(Follow {
                rises: [channel(from), channel(to)],
                pace: number,
                rope: matches!(measured, Measured::Rope(_)),
                band: shape.band,
                unless: shape.unless,
                window: Window { earliest: *earliest, latest: *latest },
                least: *least,
                deadline: deadline(0, *within),
                state: Obligation::new(a),
                followers: (0..*capacity).map(|_| Follower::new(a)).collect(),
                inside: 0,
                turn: 0,
                run: 0,
            }))
        }
    }
}

/// One scan of a requirement: the scans it took to be met, and whether it was missed.
fn step(
    judge: &mut Judge,
    trips: &[bool],
    rises: &[bool],
    travel: &[[u32; 2]],
    worst_before: u8,
    told: &Scanned,
    first_stop: u8,
) -> (Option<u32>, bool) {
    let mut a = Plain;
    let bit = |i: usize| trips.get(i).copied().unwrap_or(true);
    let stands = |told: &Scanned, least: u8| told.answer >= least;
    match judge {
        Judge::Obligation { bit: own, unless, deadline, least, state } => {
            // The guard of an `unless` trips while it is not known to hold.
            let asked = bit(*own) && unless.is_none_or(bit);
            let outcome = state.scan(&mut a, *deadline, asked, worst_before >= *least, stands(told, *least));
            (outcome.met.then_some(outcome.waited.saturating_sub(1)), outcome.missed)
        }
        Judge::Never { bit: own, least } => (None, bit(*own) && !stands(told, *least)),
        Judge::Released { bit: own, since, longest, stopped } => {
            *since = if bit(*own) { 0 } else { since.saturating_add(1) };
            let stops = told.answer >= first_stop;
            let released = *stopped && !stops;
            *stopped = stops;
            (None, released && *since > *longest)
        }
        Judge::Together(x, y) => {
            let off = |i: usize| u32::try_from(i).ok().and_then(|i| told.off.checked_shr(i)).unwrap_or(0) & 1 == 1;
            (None, off(*x) && off(*y))
        }
        Judge::Follow(follow) => follow.step(&mut a, rises, travel, &bit, worst_before, told.answer),
    }
}

impl Follow {
    fn step(
        &mut self,
        a: &mut Plain,
        rises: &[bool],
        travel: &[[u32; 2]],
        bit: &dyn Fn(usize) -> bool,
        worst_before: u8,
        answer: u8,
    ) -> (Option<u32>, bool) {
        let [from, to] = self.rises.map(|channel| rises.get(channel).copied().unwrap_or(false));
        let [forward, back] = travel.get(self.pace).copied().unwrap_or_default();
        let served = worst_before >= self.least;
        // The guard of an `unless` trips while it is not known to hold; that of a band trips while the speed may be outside.
        let excused = self.unless.is_some_and(|u| !bit(u)) || self.band.is_some_and(bit);
        let lost = served || excused;
        if served {
            self.inside = 0;
            self.run = 0;
        }
        // Until the rope has run the stretch once, nobody can say who was parked on it.
        if !self.rope && excused {
            self.run = 0;
        }
        let grows = if self.rope { forward } else { 1 };
        self.run = self.run.saturating_add(grows).min(self.window.latest.saturating_add(1));
        let known = self.run > self.window.latest;
        let passing = if self.rope {
            Passing { starts: from, arrives: to, forward, back, lost }
        } else {
            Passing { starts: from, arrives: to, forward: 1, back: 0, lost }
        };
        let count = self.followers.len().max(1);
        let mut wrong = false;
        for (i, follower) in self.followers.iter_mut().enumerate() {
            wrong |= follower.scan(a, self.window, &passing, self.inside, known && i == self.turn);
        }
        if from {
            self.turn = (self.turn + 1) % count;
        }
        self.inside = self.inside.saturating_sub(u32::from(to)).saturating_add(u32::from(from));
        let outcome = self.state.scan(a, self.deadline, wrong, served, answer >= self.least);
        (outcome.met.then_some(outcome.waited.saturating_sub(1)), outcome.missed)
    }
}
