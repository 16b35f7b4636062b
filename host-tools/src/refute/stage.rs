//! A run that has come somewhere, from which many trials can start; and what a trial came to.

use super::acts::Act;
use super::history::History;
use super::world::{Rate, World};
use crate::monitor::Monitors;
use crate::runner::PlainRunner;
use crate::sample::Sample;
use crate::station::{Rank, Station};
use crate::told::{Runner, Scanned};

/// Scans before a stage that are judged again before each trial: enough for a speed, and for the rope that a
/// requirement wants to have seen.
const TAIL: usize = 640;

/// See the module.
pub(super) struct Stage<'p> {
    runner: PlainRunner<'p>,
    world: World<'p>,
    /// Of its last scan.
    pub(super) told: Scanned,
    /// All of its scans.
    pub(super) history: History,
    tail: Vec<(Sample, Scanned)>,
    /// Scans in which all spans begin anew.
    period: usize,
    first_stop: Rank,
}

impl<'p> Stage<'p> {
    /// Power-up.
    pub(super) fn new(station: &Station, runner: PlainRunner<'p>, world: World<'p>, period: usize) -> Self {
        let told = Scanned { off: u64::MAX, answer: station.worst(), ..Scanned::default() };
        let history = History::default();
        Self { runner, world, told, history, tail: Vec::new(), period, first_stop: station.first_stop() }
    }
    /// Another one that goes on from here.
    pub(super) fn fork(&self) -> Self {
        Self {
            runner: self.runner.fork(),
            world: self.world.clone(),
            told: self.told.clone(),
            history: self.history.clone(),
            tail: self.tail.clone(),
            ..*self
        }
    }
    /// Goes on with these acts; whether a stop stood in one of its scans.
    pub(super) fn play(&mut self, acts: &[Act]) -> bool {
        let (mut stopped, first_stop) = (false, self.first_stop);
        self.play_while(acts, |_, told| {
            stopped |= told.answer >= first_stop;
            true
        });
        stopped
    }
    /// Goes on with these acts for as long as `see` says so.
    pub(super) fn play_while(&mut self, acts: &[Act], mut see: impl FnMut(&Sample, &Scanned) -> bool) {
        let Self { runner, world, told, history, tail, period, first_stop } = self;
        run(acts, runner, world, told, *first_stop, |sample, told| {
            history.push(sample, 1);
            // Twice as much before it is cut, so that the cut is cheap.
            if tail.len() >= 2 * TAIL {
                let goes = (tail.len() - TAIL) / *period * *period;
                tail.drain(..goes);
            }
            tail.push((sample.clone(), told.clone()));
            see(sample, told)
        });
    }
    /// The speed of everything.
    pub(super) fn rate(&self) -> Rate {
        self.world.rate()
    }
    /// The detector rose in the last scan.
    pub(super) fn rises(&self, detector: usize) -> bool {
        self.world.rises(detector)
    }
    /// Scans of the tail that need not be judged again if so many must be.
    fn skipped(&self, lead: usize) -> usize {
        self.tail.len().saturating_sub(lead) / self.period * self.period
    }
}

/// What a trial came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Came {
    /// Scans that it took.
    pub(super) scans: u64,
    /// The requirement was missed.
    pub(super) missed: bool,
    /// It was met, after so many scans.
    pub(super) met: Option<u32>,
    /// An assumption was broken.
    pub(super) broken: bool,
    /// The act in which it ended before its time, and the scans of that act.
    pub(super) ended: Option<(usize, u32)>,
}

/// How a trial is judged.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted {
    /// Once an answer so severe stands, nothing more can come of the trial.
    pub(super) least: Rank,
    /// Scans before the stage that the monitors must have seen.
    pub(super) lead: usize,
    /// Assumptions may be broken.
    pub(super) broken: bool,
}

/// Plays acts from a stage under the eyes of monitors that judge one requirement.
pub(super) fn trial(
    stage: &Stage<'_>,
    station: &Station,
    monitors: &mut Monitors<'_>,
    acts: &[Act],
    wanted: Wanted,
    mut history: Option<&mut History>,
) -> Came {
    let mut scratch = Scanned::default();
    monitors.restart(station, true);
    for (sample, told) in stage.tail.iter().skip(stage.skipped(wanted.lead)) {
        scratch.clone_from(told);
        monitors.scan(sample, &mut scratch);
    }
    let (mut runner, mut world, mut told) = (stage.runner.fork(), stage.world.clone(), stage.told.clone());
    let again = acts.iter().any(|act| matches!(act, Act::Free(_)));
    let mut came = Came::default();
    let ended = run(acts, &mut runner, &mut world, &mut told, stage.first_stop, |sample, told| {
        if let Some(history) = &mut history {
            history.push(sample, 1);
        }
        came.scans += 1;
        monitors.scan(sample, told);
        came.missed |= !told.missed.is_empty();
        came.met = told.met.iter().map(|met| met.1).chain(came.met).max();
        came.broken |= !told.broken.is_empty() && !came.missed && !wanted.broken;
        !(came.missed || came.broken || (told.answer >= wanted.least && !again))
    });
    came.ended = ended;
    came
}

/// The scans of some acts, until `see` has seen enough; in which act that was, and in which of its scans.
fn run(
    acts: &[Act],
    runner: &mut PlainRunner<'_>,
    world: &mut World<'_>,
    told: &mut Scanned,
    first_stop: Rank,
    mut see: impl FnMut(&Sample, &mut Scanned) -> bool,
) -> Option<(usize, u32)> {
    for (at, act) in acts.iter().enumerate() {
        let Some(mut waits) = act.does(world) else { continue };
        let mut scans = 0;
        while waits.goes_on(world, told, first_stop) {
            let sample = world.next(told.off);
            told.clone_from(runner.scan(sample));
            scans += 1;
            if !see(sample, told) {
                return Some((at, scans));
            }
        }
    }
    None
}
