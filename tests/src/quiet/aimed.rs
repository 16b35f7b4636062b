//! Histories on small stations that are aimed: what runs out next is looked for ahead, and something moves in that very scan, or in one
//! beside it; carriers come as soon as they may, or as late.

use std::collections::BTreeMap;

use super::bench::{For, bench};
use super::{Ties, side_by_side};
use crate::generate::Rng;
use host_tools::runner::{Counts, PlainRunner};
use host_tools::sample::{Frame, Health, Reading, Sample};
use host_tools::station::ways::{Way, ways};
use host_tools::station::{InputKind, Measured, Settle, Spacing, Station, Travel, WatchKind};
use host_tools::told::{Runner, Scanned};

/// Something that changes at the begin of a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Move {
    /// Level of a channel.
    Channel(usize, bool),
    /// Rope in each scan, mm.
    Rope(i32),
    /// What a gauge reads.
    Gauge(usize, Reading),
    /// What the other station sends in each scan.
    Link(Frame),
    /// The second opinion on the rope is so much less, mm.
    Slips(i32),
    /// The read-back of the output stays as it is.
    Sticks(bool),
}

/// What is sampled, as far as it is laid down.
#[derive(Debug, Clone)]
struct Course {
    now: u64,
    sample: Sample,
    rope: i32,
    /// The rope's speed is not quite even.
    uneven: bool,
    sticks: bool,
    slips: i32,
    /// Channel and output that are read back.
    read_back: Option<(usize, usize)>,
    to_come: BTreeMap<u64, Vec<Move>>,
}

impl Course {
    fn lay(&mut self, at: u64, what: Move) {
        self.to_come.entry(at.max(self.now)).or_default().push(what);
    }
    /// Rope in a scan, while its speed stays.
    fn travel(&self, scan: u64) -> i32 {
        let uneven = self.uneven && self.rope > 1;
        self.rope + if uneven { [0, 1, 0, -1, 1, -1, 0][usize::try_from(scan * scan % 7).expect("small")] } else { 0 }
    }
    /// Scans behind this one in which so much rope runs.
    fn scans_for(&self, rope: u32, behind: u64) -> u64 {
        let (mut ran, mut scans) = (0, 0);
        while ran < i64::from(rope) && scans < 200 {
            scans += 1;
            ran += i64::from(self.travel(behind + scans));
        }
        scans
    }
    /// The next sample behind what was told.
    fn next(&mut self, last: &Scanned) -> &Sample {
        while let Some(entry) = self.to_come.first_entry().filter(|entry| *entry.key() <= self.now) {
            for what in entry.remove() {
                match what {
                    Move::Channel(channel, level) => self.sample.channels[channel] = level,
                    Move::Rope(rope) => self.rope = rope,
                    Move::Gauge(gauge, reading) => self.sample.gauges[gauge] = reading,
                    Move::Link(frame) => self.sample.links[0] = frame,
                    Move::Slips(slips) => self.slips = slips,
                    Move::Sticks(sticks) => self.sticks = sticks,
                }
            }
        }
        let travel = self.travel(self.now);
        for (source, cell) in self.sample.travel.iter_mut().enumerate() {
            *cell = if source == 0 { travel } else { (travel - self.slips).max(0) };
        }
        if let (Some((channel, output)), false) = (self.read_back, self.sticks) {
            self.sample.channels[channel] = last.off >> output & 1 == 1;
        }
        self.now += 1;
        &self.sample
    }
}

/// Something that can be moved and put back.
#[derive(Debug, Clone)]
struct Lever {
    moved: Vec<Move>,
    back: Vec<Move>,
    /// Scans until it is taken, there and back.
    settle: Settle,
}

/// A station with what can be done to it.
struct Aimed<'s> {
    station: &'s Station,
    rng: Rng,
    course: Course,
    levers: Vec<(u64, Lever)>,
    reset: Lever,
    what: For,
    /// What trips while a pair is faulty, and what heals it.
    differs: Option<(u16, Lever)>,
    /// Channel of the contact that may change so often, and its changes.
    chatter: Option<(usize, u32)>,
    /// The contact that confirms a count.
    confirms: Option<Lever>,
    /// Nothing new is laid down before this scan.
    until: u64,
}

/// A gauge that reads so many steps.
fn reads(steps: u32) -> Reading {
    Reading { steps, health: Health::Good }
}

/// Steps of the gauges that are as they should be.
const GRIP: u32 = 600;
/// What the other station sends when all is well.
const WELL: Frame = Frame { fresh: true, order: 0 };

impl<'s> Aimed<'s> {
    fn new(station: &'s Station, what: For, seed: u64) -> Self {
        let mut sample = Sample {
            channels: vec![false; station.channels.len()],
            gauges: vec![reads(GRIP); station.gauge_terminals.len()],
            travel: vec![0; station.sources.len()],
            links: vec![WELL; station.link_terminals.len()],
        };
        for input in &station.inputs {
            match &input.kind {
                InputKind::Contact(contact) => sample.channels[contact.channel] = contact.rests_closed,
                InputKind::Pair(pair) => pair.channels.iter().for_each(|at| sample.channels[*at] = pair.rests_closed),
                _ => {}
            }
        }
        let weigh = |[carriers, keys, signals]: [u64; 3]| match what {
            For::Carriers => carriers,
            For::Keys => keys,
            For::Signals => signals,
        };
        let (mut levers, mut reset, mut chatter, mut differs, mut confirms) = (Vec::new(), None, None, None, None);
        let way = ways(station).iter().position(|way| way.way == Way::Differs).and_then(|way| u16::try_from(way).ok());
        for (id, input) in station.inputs.iter().enumerate() {
            let moved = |channels: &[usize], settle: Settle| {
                let to = |turned: bool| {
                    channels.iter().map(|at| Move::Channel(*at, sample.channels[*at] != turned)).collect::<Vec<_>>()
                };
                Lever { moved: to(true), back: to(false), settle }
            };
            match &input.kind {
                InputKind::Contact(contact) => {
                    levers.push((weigh([5, 22, 4]), moved(&[contact.channel], contact.settle)));
                    // It is the last one.
                    confirms = Some(moved(&[contact.channel], contact.settle));
                    chatter = chatter.or(contact.most_changes.map(|most| (contact.channel, most)));
                }
                InputKind::Pair(pair) if what == For::Keys => {
                    levers.push((6, moved(&pair.channels, pair.settle)));
                    differs = way.map(|way| (way, moved(&pair.channels, pair.settle)));
                    levers.push((220, moved(&pair.channels[..1], pair.settle)));
                }
                InputKind::Detector(detector) => {
                    levers.push((weigh([12, 2, 1]), moved(&[detector.channel], detector.settle)));
                }
                InputKind::Key(key) => {
                    let channels: Vec<usize> = std::iter::once(key.channels.0).chain(key.channels.1).collect();
                    let lever = moved(&channels, key.settle);
                    if station.reset.as_ref().is_some_and(|reset| reset.key == id) {
                        reset = Some(lever);
                    } else if station.refills.iter().any(|refill| refill.key == id) {
                        levers.push((3, lever));
                    } else if station.bypasses.iter().any(|bypass| bypass.key == id) {
                        levers.push((weigh([16, 80, 16]), lever));
                    }
                }
                _ => {}
            }
        }
        let keys: Vec<usize> = station
            .modes
            .iter()
            .map(|mode| match &station.inputs[mode.key].kind {
                InputKind::Key(key) => key.channels.0,
                _ => unreachable!("a mode has a key"),
            })
            .collect();
        sample.channels[keys[0]] = true;
        let (run, service) = (|on| Move::Channel(keys[0], on), |on| Move::Channel(keys[1], on));
        let at_once = Settle::default();
        let mut rng = Rng::new(seed ^ 0xA13D);
        // Not above 1 m/s in some of them, where a slow order is kept.
        let even =
            if what == For::Carriers { rng.pick(&[7, 8, 9, 11, 12, 15]) } else { rng.pick(&[8, 11, 12, 13, 15]) };
        levers.push((
            weigh([2, 64, 4]),
            Lever { moved: vec![run(false), service(true)], back: vec![run(true), service(false)], settle: at_once },
        ));
        levers.push((weigh([1, 54, 2]), Lever { moved: vec![run(false)], back: vec![run(true)], settle: at_once }));
        for (weight, rope) in [(4, 0), (4, 6), (4, 16), (weigh([1, 60, 4]), 33)] {
            levers
                .push((weight, Lever { moved: vec![Move::Rope(rope)], back: vec![Move::Rope(even)], settle: at_once }));
        }
        if what == For::Signals {
            let mut pull = |weight, moved, back| {
                levers.push((weight, Lever { moved: vec![moved], back: vec![back], settle: at_once }))
            };
            pull(60, Move::Slips(6), Move::Slips(0));
            pull(70, Move::Link(Frame { fresh: false, order: 0 }), Move::Link(WELL));
            for order in 1..=station.worst() {
                pull(18, Move::Link(Frame { fresh: true, order }), Move::Link(WELL));
            }
            for gauge in 0..2 {
                for (weight, steps, health) in [
                    (3, 500, Health::Good),
                    (8, 300, Health::Good),
                    (24, 60, Health::Good),
                    (24, GRIP, Health::Doubtful),
                    (22, GRIP, Health::Broken),
                ] {
                    pull(weight, Move::Gauge(gauge, Reading { steps, health }), Move::Gauge(gauge, reads(GRIP)));
                }
            }
        }
        let read_back = station.outputs.iter().enumerate().find_map(|(id, output)| Some((output.read_back?.0, id)));
        let course = Course {
            now: 0,
            sample,
            rope: even,
            uneven: rng.chance(50),
            sticks: false,
            slips: 0,
            read_back,
            to_come: BTreeMap::new(),
        };
        Self {
            station,
            rng,
            course,
            levers,
            reset: reset.expect("a reset key"),
            what,
            differs,
            chatter,
            confirms,
            until: 20,
        }
    }
    fn next(&mut self, last: &Scanned, runner: &PlainRunner<'_>) -> Sample {
        if self.course.now >= self.until {
            let (train, chatter) = match self.what {
                For::Carriers => (62, 1),
                For::Keys => (0, 14),
                For::Signals => (0, 0),
            };
            let differs = self.differs.as_ref().is_some_and(|(way, _)| last.trips.contains(way));
            match self.rng.below(100) {
                _ if differs && self.rng.chance(80) => self.heal(),
                0..28 if last.latched_any => self.reset(last, runner),
                draw if draw >= 100 - train => self.train(),
                draw if draw >= 100 - train - chatter => self.chatter(),
                _ => self.pull(last, runner),
            }
        }
        self.course.next(last).clone()
    }
    /// A little while from now.
    fn soon(&mut self) -> u64 {
        self.course.now + 2 + self.rng.below(9)
    }
    fn lever(&mut self) -> Lever {
        let all: u64 = self.levers.iter().map(|(weight, _)| weight).sum();
        let mut left = self.rng.below(all);
        for (weight, lever) in &self.levers {
            if left < *weight {
                return lever.clone();
            }
            left -= weight;
        }
        unreachable!("some lever is drawn")
    }
    fn lay(&mut self, at: u64, moves: &[Move]) {
        moves.iter().for_each(|what| self.course.lay(at, *what));
    }
    /// Scans ahead, behind one, in which something is told that was not told in the scan before.
    fn due(&self, last: &Scanned, runner: &PlainRunner<'_>, behind: u64) -> Vec<u64> {
        let (mut ahead, mut course, mut told, mut due) = (runner.fork(), self.course.clone(), last.clone(), Vec::new());
        while course.now < self.course.now + 80 && due.len() < 4 {
            let scan = course.now;
            let next = ahead.scan(course.next(&told));
            if *next != told {
                told.clone_from(next);
                if scan > behind {
                    due.push(scan);
                }
            }
        }
        due
    }
    /// When a lever is to be pulled so that it is taken about that scan.
    fn about(&mut self, due: u64, settle: u32) -> u64 {
        let beside = self.rng.pick(&[0, 1, 1, 2, 2, 2, 2, 3]);
        (due + beside).saturating_sub(2 + u64::from(settle))
    }
    /// One lever is pulled, and another when something runs out behind it.
    fn pull(&mut self, last: &Scanned, runner: &PlainRunner<'_>) {
        let (first, second) = (self.lever(), self.lever());
        let mut begins = self.course.now;
        if self.rng.chance(80) {
            begins = self.soon();
            self.lay(begins, &first.moved);
        }
        let sticks = self.what != For::Carriers && self.rng.chance(15);
        if sticks {
            // What it releases is not seen to go.
            self.lay(begins, &[Move::Sticks(true)]);
        }
        let due = self.due(last, runner, begins + 4);
        // The last one mostly is what the lever has begun.
        let then = match due.last() {
            Some(last) if self.rng.chance(50) => *last,
            Some(_) => self.rng.pick(&due),
            None => begins + 8 + self.rng.below(24),
        };
        let (mut ends, back) = (then + 3 + self.rng.below(12), self.rng.chance(35));
        if back {
            ends = self.about(then, first.settle.up.max(first.settle.down));
        } else if self.rng.chance(70) {
            let at = self.about(then, second.settle.up.max(second.settle.down));
            self.lay(at, &second.moved);
            let ends = at + 6 + self.rng.below(12);
            self.lay(ends, &second.back);
        }
        if sticks {
            self.lay(then + 2, &[Move::Sticks(false)]);
        }
        self.lay(ends, &first.back);
        self.until = ends.max(then) + 2 + self.rng.below(8);
    }
    /// Both channels of the pair move.
    fn heal(&mut self) {
        let Some((_, lever)) = self.differs.clone() else { return };
        let begins = self.soon();
        self.lay(begins, &lever.moved);
        self.until = begins + 10 + u64::from(lever.settle.up.max(lever.settle.down));
        self.lay(self.until, &lever.back);
        self.until += 12;
    }
    /// Whether a reset acts before this scan.
    fn resets(&self, last: &Scanned, runner: &PlainRunner<'_>, course: &mut Course, before: u64) -> bool {
        let (mut ahead, mut told) = (runner.fork(), last.clone());
        while course.now < before && !told.reset {
            told.clone_from(ahead.scan(course.next(&told)));
        }
        told.reset
    }
    /// The reset key is pressed, and let go when it begins to count, or when something runs out.
    fn reset(&mut self, last: &Scanned, runner: &PlainRunner<'_>) {
        let mut begins = self.soon();
        let (key, settle) = (self.reset.clone(), self.reset.settle);
        if self.course.rope > 10 && self.what != For::Carriers && self.rng.chance(50) {
            // A stop slows the rope, and that is seen.
            let even = self.course.rope;
            self.lay(begins, &[Move::Rope(8)]);
            begins += 10 + self.rng.below(20);
            self.lay(begins + 16, &[Move::Rope(even)]);
        }
        let sticks = self.what != For::Carriers && self.rng.chance(40);
        if sticks {
            // What was released comes back, and is not seen to.
            self.lay(begins, &[Move::Sticks(true)]);
        }
        self.lay(begins, &key.moved);
        let shortest = 10 + u64::from(settle.up).saturating_sub(u64::from(settle.down));
        let due = self.due(last, runner, begins + shortest);
        let mut ends = begins;
        // Mostly it acts, if it can.
        for _ in 0..3 {
            ends = match due.first() {
                Some(due) if self.rng.chance(40) => self.about(*due, settle.down).max(begins + 4),
                _ => (begins + shortest + self.rng.below(8)).saturating_sub(1),
            };
            let mut course = self.course.clone();
            key.back.iter().for_each(|what| course.lay(ends, *what));
            if self.resets(last, runner, &mut course, ends + u64::from(settle.down) + 2) || self.rng.chance(10) {
                break;
            }
        }
        self.lay(ends, &key.back);
        self.until = ends + 4 + self.rng.below(12);
        if sticks {
            let due = self.due(last, runner, ends + 4);
            let moves = due.last().map_or(self.until, |due| self.about(*due + 1, 0));
            self.lay(moves, &[Move::Sticks(false)]);
            self.until = self.until.max(moves + 3);
        }
    }
    /// One contact changes once too often, or nearly so.
    fn chatter(&mut self) {
        let Some((channel, most)) = self.chatter else { return };
        let (mut at, mut level) = (self.soon(), self.course.sample.channels[channel]);
        for _ in 0..u64::from(most) + self.rng.below(3) {
            level = !level;
            self.course.lay(at, Move::Channel(channel, level));
            at += 5 + self.rng.below(6);
        }
        self.course.lay(at, Move::Channel(channel, true));
        self.until = at + 5;
    }
    /// Scans behind one in which something comes about as early as it may, or as late.
    fn window(&mut self, behind: u64, measured: Measured, least: u32, most: u32) -> u64 {
        let scans = |limit: u32| match measured {
            Measured::Rope(_) => self.course.scans_for(limit, behind),
            Measured::Time { .. } => u64::from(limit),
        };
        let (least, most) = (scans(least), scans(most + 1) - 1);
        match self.rng.below(10) {
            0 | 1 => least,
            2 | 3 => least - 1,
            4 | 5 => most,
            6 => most - 1,
            7 | 8 => most + 1,
            _ => least + self.rng.below(most.saturating_sub(least) + 1),
        }
    }
    /// Scans behind one in which somebody follows as close as may be, or as far.
    fn apart(&mut self, behind: u64, spacing: &Spacing) -> u64 {
        self.window(behind, spacing.measured, spacing.least, spacing.most.unwrap_or(spacing.least + 300))
    }
    fn passes(&mut self, channel: usize, at: u64, settle: Settle) {
        self.course.lay(at, Move::Channel(channel, true));
        // Soon, so that all is quiet again; or not for long.
        let covers = if self.rng.chance(84) { 1 + self.rng.below(2) } else { 10 + self.rng.below(60) };
        let gone = at + u64::from(settle.up) + covers;
        self.course.lay(gone, Move::Channel(channel, false));
    }
    /// A carrier, or a few, from one detector to the next.
    fn train(&mut self) {
        let (station, grip) = (self.station, 0);
        let travels: Vec<&Travel> = station
            .watches
            .iter()
            .filter_map(|watch| match &watch.kind {
                WatchKind::Travel(travel) => Some(travel),
                _ => None,
            })
            .collect();
        let detector = |id: usize| match &station.inputs[id].kind {
            InputKind::Detector(detector) => (detector.channel, detector.settle),
            _ => unreachable!("a detector"),
        };
        let spacing = |at: usize| {
            station.watches.iter().find_map(|watch| match &watch.kind {
                WatchKind::Spacing(spacing) if spacing.detector == at => Some(spacing),
                _ => None,
            })
        };
        let mut enters = self.soon();
        let mut left = None;
        if let (Some(seen), true) = (self.confirms.clone(), self.rng.chance(85)) {
            // Nobody is said to be under way.
            let (open, shut) = (enters + self.rng.below(60), 3 + self.rng.below(6));
            self.lay(open, &seen.moved);
            self.lay(open + shut, &seen.back);
        }
        self.until = enters;
        for _ in 0..self.rng.size(2, 5) {
            let mut at = enters;
            let (first, settle) = detector(travels[0].from);
            // Now and then one comes out of nowhere.
            if self.rng.chance(75) {
                self.passes(first, at, settle);
            }
            for travel in &travels {
                let ((_, settle), (to, settle_to)) = (detector(travel.from), detector(travel.to));
                let seen = at + u64::from(settle.up);
                let arrives = match (spacing(travel.to), left) {
                    // As far behind the one ahead as it may be, or as its own way lets it.
                    (Some(spacing), Some(left)) if self.rng.chance(50) => left + self.apart(left, spacing),
                    _ => seen + self.window(seen, travel.measured, travel.earliest, travel.latest),
                };
                at = arrives.saturating_sub(u64::from(settle_to.up)).max(at + 6);
                self.until = self.until.max(at + 4);
                if self.rng.chance(8) {
                    // It is lost.
                    self.until += 30;
                    break;
                }
                self.passes(to, at, settle_to);
            }
            if self.rng.chance(95) {
                let (slips, lasts) = (at + self.rng.below(16) - 2, 4 + self.rng.below(12));
                self.lay(slips, &[Move::Gauge(grip, reads(300))]);
                self.lay(slips + lasts, &[Move::Gauge(grip, reads(GRIP))]);
                self.until = self.until.max(slips);
            }
            left = Some(at);
            let Some(spacing) = spacing(travels[0].from) else { break };
            enters += self.apart(enters, spacing).max(8);
        }
    }
}

/// An aimed history of the station of a seed.
///
/// # Panics
/// If the two runs differ.
pub fn aimed(seed: u64, scans: usize, ties: &mut Ties) -> [Counts; 2] {
    let (station, what) = bench(seed);
    let mut aimed = Aimed::new(&station, what, seed);
    let mut rng = Rng::new(seed ^ 0xAD07);
    side_by_side(&station, scans, |last, runner| (aimed.next(last, runner), rng.once_in(3_000)), ties)
}
