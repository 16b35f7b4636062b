//! Histories on small stations that are aimed: what runs out next is looked for ahead, and something moves in that very scan, or in one
//! beside it; carriers come as soon as they may, or as late.

use super::bench::{For, bench};
use super::course::{Course, GRIP, Move, reads};
use super::levers::Levers;
use super::{Ties, side_by_side};
use crate::generate::Rng;
use host_tools::runner::{Counts, PlainRunner};
use host_tools::sample::Sample;
use host_tools::station::{InputKind, Measured, Settle, Spacing, Station, Travel, WatchKind};
use host_tools::told::{Runner, Scanned};

/// A station with what can be done to it.
struct Aimed<'s> {
    station: &'s Station,
    rng: Rng,
    course: Course,
    levers: Levers,
    what: For,
    /// Nothing new is laid down before this scan.
    until: u64,
}

impl<'s> Aimed<'s> {
    fn new(station: &'s Station, what: For, seed: u64) -> Self {
        let mut rng = Rng::new(seed ^ 0xA13D);
        // Not above 1 m/s in some of them, where a slow order is kept.
        let even =
            if what == For::Carriers { rng.pick(&[7, 8, 9, 11, 12, 15]) } else { rng.pick(&[8, 11, 12, 13, 15]) };
        let course = Course::at_rest(station, even, rng.chance(50));
        let levers = Levers::new(station, what, &course);
        Self { station, rng, course, levers, what, until: 20 }
    }
    fn next(&mut self, last: &Scanned, runner: &PlainRunner<'_>) -> Sample {
        if self.course.now >= self.until {
            let (train, chatter) = match self.what {
                For::Carriers => (62, 1),
                For::Keys => (0, 14),
                For::Signals => (0, 12),
            };
            let differs = self.levers.differs.as_ref().is_some_and(|(way, _)| last.trips.contains(way));
            let flickers = self.what == For::Signals;
            match self.rng.below(100) {
                _ if differs && self.rng.chance(80) => self.heal(),
                0..28 if last.latched_any => self.reset(last, runner),
                draw if draw >= 100 - train => self.train(),
                draw if draw >= 100 - train - chatter && flickers => self.flickers(),
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
    fn lay(&mut self, at: u64, moves: &[Move]) {
        for what in moves {
            self.course.lay(at, *what);
        }
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
        let (first, second) = (self.levers.draw(&mut self.rng), self.levers.draw(&mut self.rng));
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
        let Some((_, lever)) = self.levers.differs.clone() else { return };
        let begins = self.soon();
        self.lay(begins, &lever.moved);
        self.until = begins + 10 + u64::from(lever.settle.up.max(lever.settle.down));
        self.lay(self.until, &lever.back);
        self.until += 12;
    }
    /// Whether a reset acts before this scan.
    fn resets(last: &Scanned, runner: &PlainRunner<'_>, course: &mut Course, before: u64) -> bool {
        let (mut ahead, mut told) = (runner.fork(), last.clone());
        while course.now < before && !told.reset {
            told.clone_from(ahead.scan(course.next(&told)));
        }
        told.reset
    }
    /// The reset key is pressed, and let go when it begins to count, or when something runs out.
    fn reset(&mut self, last: &Scanned, runner: &PlainRunner<'_>) {
        let mut begins = self.soon();
        let (key, settle) = (self.levers.reset.clone(), self.levers.reset.settle);
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
            for what in &key.back {
                course.lay(ends, *what);
            }
            if Self::resets(last, runner, &mut course, ends + u64::from(settle.down) + 2) || self.rng.chance(10) {
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
        let Some((channel, most)) = self.levers.chatter else { return };
        let (mut at, mut level) = (self.soon(), self.course.sample.channels[channel]);
        for _ in 0..u64::from(most) + self.rng.below(3) {
            level = !level;
            self.course.lay(at, Move::Channel(channel, level));
            at += 5 + self.rng.below(6);
        }
        self.course.lay(at, Move::Channel(channel, true));
        self.until = at + 5;
    }
    /// A gauge leaves its bounds for a scan or two, again and again, and then for long.
    fn flickers(&mut self) {
        let (gauge, mut at) = (self.rng.index(2), self.soon());
        for _ in 0..3 + self.rng.below(10) {
            self.lay(at, &[Move::Gauge(gauge, reads(300))]);
            at += 1 + self.rng.below(3);
            self.lay(at, &[Move::Gauge(gauge, reads(GRIP))]);
            at += 2 + self.rng.below(6);
        }
        self.lay(at, &[Move::Gauge(gauge, reads(300))]);
        self.until = at + 32;
        self.lay(self.until, &[Move::Gauge(gauge, reads(GRIP))]);
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
            _ => panic!("a travel is between detectors"),
        };
        let spacing = |at: usize| {
            station.watches.iter().find_map(|watch| match &watch.kind {
                WatchKind::Spacing(spacing) if spacing.detector == at => Some(spacing),
                _ => None,
            })
        };
        let mut enters = self.soon();
        let mut left = None;
        if let (Some(seen), true) = (self.levers.confirms.clone(), self.rng.chance(85)) {
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
