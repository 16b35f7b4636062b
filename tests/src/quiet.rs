//! Histories with stretches in which nothing changes but rope and gauges, run with and without skipping over scans. What ends such a stretch
//! is often aimed: the lines of one watch move, or another mode is selected, so that every kind of tie comes often enough.

use crate::generate::{Case, History, Rng};
use crate::machines::Stepped;
use crate::reading::Reading;
use host_tools::lower::lower;
use host_tools::monitor::{MonitorPlan, Monitors};
use host_tools::runner::{Counts, PlainRunner};
use host_tools::sample::Sample;
use host_tools::station::ways::ways;
use host_tools::station::{InputId, InputKind, Station, WatchKind};
use host_tools::stays::Room;
use host_tools::told::{Runner, Scanned};
use logic_rules::Plain;

mod aimed;
mod bench;
mod course;
mod levers;
mod ties;

pub use aimed::aimed;
pub use ties::Ties;

/// Two runs of a station, one of which skips; they must tell the same of every scan.
pub struct Twice<'p> {
    steps: PlainRunner<'p>,
    skips: PlainRunner<'p>,
    scans: u64,
    /// By which the same sample is given again and again now and then.
    repeats: Option<Rng>,
    /// Scans that the one that skips took at once.
    at_once: u64,
    /// Gauges that were free to move in them.
    moved: u64,
}

/// A step within a room: one of its ends, or between them.
fn within(room: Room, rng: &mut Rng) -> u32 {
    match rng.below(4) {
        0 => room.least,
        1 => room.most,
        _ => u32::try_from(u64::from(room.least) + rng.below(1 << 32) % (u64::from(room.most - room.least) + 1))
            .unwrap_or(room.most),
    }
}

/// Powers a station up twice and lets it run.
pub fn twice<T>(station: &Station, run: impl FnOnce(&mut Twice<'_>) -> T) -> T {
    let (program, monitors) = (lower(station), MonitorPlan::new(station));
    let (plan, raw) = (program.plan().expect("a plan"), monitors.plan().expect("a plan"));
    let start = || {
        let judges = Monitors::start(station, &monitors, &raw).expect("room");
        PlainRunner::power_up(&program, &plan).expect("room").judging(station, judges)
    };
    run(&mut Twice { steps: start(), skips: start().skipping(), scans: 0, repeats: None, at_once: 0, moved: 0 })
}

impl Twice<'_> {
    /// What was stepped and skipped so far by the one that skips.
    pub fn counts(&self) -> [Counts; 2] {
        self.skips.counts()
    }
    /// Scans that the one that skips took at once, and gauges that were free to move in them.
    pub fn at_once(&self) -> [u64; 2] {
        [self.at_once, self.moved]
    }
}

impl Runner for Twice<'_> {
    /// # Panics
    /// If the two tell something different.
    fn scan(&mut self, sample: &Sample) -> &Scanned {
        let (told, mine) = (self.steps.scan(sample), self.skips.scan(sample));
        assert_eq!(told, mine, "scan {}", self.scans);
        self.scans += 1;
        let mut again = 0;
        if let Some(rng) = &mut self.repeats
            && rng.below(300) == 0
        {
            let mut rooms = Vec::new();
            let (stays, mut last) = (self.skips.stays(&mut rooms), sample.clone());
            let moves = rng.below(2) == 0;
            for scan in 0..stays.most(rng.small(1, 400)) {
                for (gauge, room) in last.gauges.iter_mut().zip(&rooms).filter(|_| moves) {
                    gauge.steps = within(*room, rng);
                    self.moved += u64::from(room.least < room.most);
                }
                let told = self.steps.scan(&last);
                assert_eq!(told, self.skips.told(), "scan {} and {scan} more", self.scans);
                again += 1;
            }
            if again > 0 {
                let mine = self.skips.again(again, &last);
                assert_eq!(Some(self.steps.told()), mine, "scan {} and {again} more", self.scans);
            }
            self.at_once += u64::from(again);
        }
        // It told the same in all of them.
        self.steps.told()
    }
    fn restart(&mut self) {
        self.steps.restart();
        self.skips.restart();
    }
    fn adopt(&mut self) {
        self.steps.adopt();
        self.skips.adopt();
    }
}

/// A station runs twice. The next sample is made behind what was told last, from the run that does not skip; with it comes
/// whether a recording is adopted behind it.
pub fn side_by_side(
    station: &Station,
    scans: usize,
    mut next: impl FnMut(&Scanned, &PlainRunner<'_>) -> (Sample, bool),
    ties: &mut Ties,
) -> [Counts; 2] {
    let all = ways(station);
    let (mut last, mut before) = (Scanned::default(), Sample::default());
    let (mut skipped, mut behind) = ([0; 2], [false; 2]);
    twice(station, |runs| {
        runs.repeats = Some(Rng::new(0xA6A1));
        for _ in 0..scans {
            let (sample, adopts) = next(&last, &runs.steps);
            let told = runs.scan(&sample).clone();
            let count = std::mem::replace(&mut skipped, runs.counts().map(|counts| counts.skipped));
            let went = [0, 1].map(|unit: usize| skipped[unit] > count[unit]);
            // The scan before was skipped, this one was not.
            let ends = [0, 1].map(|unit: usize| behind[unit] && !went[unit]);
            behind = went;
            if ends != [false; 2] {
                ties.take(station, &all, [(&last, &before), (&told, &sample)], ends);
            }
            (last, before) = (told, sample);
            if adopts {
                runs.adopt();
            }
        }
        ties.at_once(runs.at_once());
        runs.counts()
    })
}

/// Channels that turn over, one move after the other.
type Aim = Vec<Vec<usize>>;

/// What a history can be aimed at: carriers that come early, one too many, or too close, and another mode.
fn aims(station: &Station) -> Vec<Aim> {
    let channels = |input: InputId| match station.inputs.get(input).map(|input| &input.kind) {
        Some(InputKind::Detector(detector)) => vec![detector.channel],
        Some(InputKind::Key(key)) => std::iter::once(key.channels.0).chain(key.channels.1).collect(),
        _ => Vec::new(),
    };
    let (mut early, mut crowded, mut closer, mut modes) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for watch in &station.watches {
        match &watch.kind {
            WatchKind::Travel(travel) => {
                let (from, to) = (channels(travel.from), channels(travel.to));
                early.push(vec![from.clone(), from.clone(), to.clone(), to]);
                crowded.push(vec![from]);
            }
            WatchKind::Spacing(spacing) => closer.push(vec![channels(spacing.detector)]),
            _ => {}
        }
    }
    for (mode, next) in station.modes.iter().zip(station.modes.iter().skip(1)) {
        modes.push(vec![[channels(mode.key), channels(next.key)].concat()]);
    }
    // Each kind has its share, whatever there is of it.
    let all = [early, crowded, closer, modes];
    let most = all.iter().map(Vec::len).max().unwrap_or(0);
    all.iter().flat_map(|kind| kind.iter().cycle().take(if kind.is_empty() { 0 } else { most }).cloned()).collect()
}

/// A lively history that holds its channels still for a while now and then.
///
/// # Panics
/// If the two runs differ.
pub fn held_still(case: &Case, seed: u64, scans: usize, ties: &mut Ties) -> [Counts; 2] {
    let mut rng = Rng::new(seed ^ 0x5717);
    let mut history = History::new(case, seed);
    let mut stepped = Stepped::<Plain>::power_up(&case.station);
    let aims = aims(&case.station);
    let (mut told, mut held, mut left) = (None, None::<Sample>, 0_u64);
    let (mut aim, mut moves) = (0, 0..0);
    let next = |_: &Scanned, _: &PlainRunner<'_>| {
        let mut sample = history.next_sample(told.as_ref());
        if let Some(held) = &held
            && (left > 0 || !moves.is_empty())
        {
            sample.channels.clone_from(&held.channels);
            sample.links.clone_from(&held.links);
        }
        if left > 0 {
            left -= 1;
        } else if let (Some(number), Some(aim)) = (moves.next(), aims.get(aim)) {
            for channel in aim.get(number % aim.len()).into_iter().flatten() {
                sample.channels[*channel] ^= true;
            }
            left = rng.below(24);
        } else if rng.once_in(6) {
            left = rng.below(90);
            aim = rng.index(aims.len().max(1));
            moves = if rng.once_in(3) { 0..rng.index(20) } else { 0..0 };
        }
        held = Some(sample.clone());
        let adopts = rng.once_in(2_000);
        told = Some(stepped.scan(&sample));
        if adopts {
            stepped.adopt();
        }
        (sample, adopts)
    };
    side_by_side(&case.station, scans, next, ties)
}
