//! What only requirements speak of, asked of the scans before.

use std::collections::BTreeMap;

use host_tools::station::{Backing, Claim, Condition, Form, InputId, InputKind, Observed, Rank, Settle, Tally};

use super::super::bits::Bits;
use super::super::timing::Channel;
use super::{Past, Record, raw};

impl Past<'_> {
    /// Adds to each view what the requirements ask.
    pub(super) fn observe(&mut self) {
        let mut asked = Vec::new();
        for requirement in &self.station.requirements {
            let form = match &requirement.form {
                Form::Whenever { condition, .. }
                | Form::Never { condition, .. }
                | Form::Effect { condition, .. }
                | Form::NeverReleasedBut { condition, .. } => Some(condition),
                _ => None,
            };
            for condition in form.into_iter().chain(&requirement.unless) {
                find(condition, &mut asked);
            }
        }
        let mut all: Vec<BTreeMap<Observed, Bits>> = vec![BTreeMap::new(); self.records.len()];
        for observed in asked {
            let found = match observed {
                Observed::Closer(detector, pace, mm) => self.closer(detector, pace, mm),
                Observed::Pressed(key, scans) => self.pressed(key, scans),
                // They depend on the answer as well.
                Observed::Farther(..) | Observed::Stray(_) | Observed::Crowded(..) => continue,
                Observed::Distrusted(pair, scans) => self.distrusted(pair, scans),
                Observed::Miscounting(tally) => self.miscounting(tally),
                _ => (0..self.records.len()).map(|scan| self.bits(scan, observed)).collect(),
            };
            for (scan, bits) in found.into_iter().enumerate() {
                all[scan].insert(observed, bits);
            }
        }
        for (view, all) in self.views.iter_mut().zip(all) {
            view.observed = all;
        }
    }

    /// Rises that are closer behind the one before than an assumption of this distance would allow.
    fn closer(&self, detector: InputId, pace: InputId, least: u32) -> Vec<Bits> {
        let (_, broken) = self.claim(&Claim::RopeApart(detector, pace, least));
        let rises = self.settled_rises(detector);
        // Judging begins with nobody known.
        let known = |scan: usize| rises.iter().any(|rise| (self.from..scan).contains(rise));
        (0..self.records.len()).map(|scan| Bits::known(broken.contains(&scan) && known(scan))).collect()
    }

    /// Scans in which a key is held, each of its channels settling by so many scans.
    fn held(&self, key: InputId, scans: u32) -> Vec<bool> {
        let InputKind::Key(of) = &self.station.inputs[key].kind else { panic!("no key") };
        let settle = Settle { up: scans, down: scans };
        let mut held = vec![true; self.records.len()];
        for channel in [Some(of.channels.0), of.channels.1].into_iter().flatten() {
            let mut own = Channel::default();
            for (held, record) in held.iter_mut().zip(self.records) {
                *held &= own.scan(record.sample.channels[channel], settle).level;
            }
        }
        held
    }

    /// Scans in which it comes to be held.
    fn pressed(&self, key: InputId, scans: u32) -> Vec<Bits> {
        let held = self.held(key, scans);
        (0..held.len()).map(|scan| Bits::known(scan > self.from && held[scan] && !held[scan - 1])).collect()
    }

    /// Scans in which a count of carriers says that there are too many, that one leaves of none, or another number than its key does.
    fn miscounting(&self, tally: Tally) -> Vec<Bits> {
        let rises = |detector: InputId| self.settled_rises(detector);
        let (enters, leaves) = (rises(tally.from), rises(tally.to));
        let comes = |(key, scans): (InputId, u32)| {
            let held = self.held(key, scans);
            move |scan: usize| scan > 0 && held[scan] && !held[scan - 1]
        };
        let (confirms, forgets) = (comes(tally.key), tally.unknown.map(comes));
        let mut inside: Option<i64> = None;
        let mut found = Vec::new();
        for scan in 0..self.records.len() {
            let mut wrong = false;
            if let Some(number) = &mut inside {
                let leaves = leaves.binary_search(&scan).is_ok();
                wrong |= leaves && *number == 0;
                *number = (*number - i64::from(leaves)).max(0) + i64::from(enters.binary_search(&scan).is_ok());
            }
            if confirms(scan) {
                wrong |= inside.is_some_and(|number| number != i64::from(tally.confirmed));
                inside = Some(i64::from(tally.confirmed));
            }
            wrong |= inside.is_some_and(|number| number > i64::from(tally.most));
            if forgets.as_ref().is_some_and(|forgets| forgets(scan)) {
                inside = None;
            }
            found.push(Bits::known(wrong));
        }
        found
    }

    /// The first scans after a rise in which more than this has run, unless by then the rope ran back, the next rise came or the
    /// answer stood.
    pub(super) fn farther(&self, detector: InputId, pace: InputId, most: u32, least: Rank) -> Vec<usize> {
        let rises = self.settled_rises(detector);
        let mut found = Vec::new();
        for (i, &rise) in rises.iter().enumerate() {
            let next = rises.get(i + 1).copied().unwrap_or(self.records.len());
            let mut run = 0;
            for scan in rise..next {
                if self.views[scan].backward(pace) > 0 || scan > rise && self.published(scan) >= least {
                    break;
                }
                run += if scan > rise { self.views[scan].forward(pace) } else { 0 };
                if run > i64::from(most) {
                    found.extend((rise >= self.from).then_some(scan));
                    break;
                }
            }
        }
        found
    }

    /// Scans in which both channels of a pair, as they settle, have not been trusted again since they differed for too long.
    fn distrusted(&self, pair: InputId, scans: u32) -> Vec<Bits> {
        let InputKind::Pair(pair) = &self.station.inputs[pair].kind else { panic!("no pair") };
        let settled = |channel: usize, inverted: bool| {
            let mut line = Channel::default();
            let level = |record: &Record| line.scan(record.sample.channels[channel] != inverted, pair.settle).level;
            self.records.iter().map(level).collect::<Vec<bool>>()
        };
        let levels = [settled(pair.channels[0], false), settled(pair.channels[1], pair.opposed)];
        let differ = |scan: usize| levels[0][scan] != levels[1][scan];
        let changed = |channel: usize, scan: usize| levels[channel][scan] != levels[channel][scan - 1];
        let long = scans as usize;
        let mut since = None;
        let mut found = Vec::new();
        for scan in 0..self.records.len() {
            match since {
                Some(from) => {
                    let both = (0..2).all(|channel| (from + 1..=scan).any(|scan| changed(channel, scan)));
                    since = since.filter(|_| differ(scan) || !both);
                }
                None => since = (scan >= long && (scan - long..=scan).all(differ)).then_some(scan),
            }
            found.push(Bits::known(since.is_some()));
        }
        found
    }

    fn bits(&self, scan: usize, observed: Observed) -> Bits {
        match observed {
            Observed::Stands(rank) => Bits::known(scan >= self.from && self.published(scan) == rank),
            Observed::Released(output) if scan > self.from => Bits::known(self.records[scan - 1].off[output]),
            Observed::Released(_) => Bits::known(self.power_up),
            Observed::Differing(pair) => {
                let InputKind::Pair(pair) = &self.station.inputs[pair].kind else { panic!("no pair") };
                let [one, other] = pair.channels.map(|channel| self.records[scan].sample.channels[channel]);
                Bits::known(one != (other != pair.opposed))
            }
            Observed::Silent(link) => {
                let InputKind::Link(link) = &self.station.inputs[link].kind else { panic!("no link") };
                Bits::known(!self.records[scan].sample.links[link.terminal].fresh)
            }
            Observed::Covered(detector, pace, mm) => {
                let InputKind::Detector(of) = &self.station.inputs[detector].kind else { panic!("no detector") };
                let covered = |scan: usize| self.records[scan].sample.channels[of.channel];
                let clear = (0..=scan).rev().find(|&scan| !covered(scan));
                // After the scan of the rise; without one, from power-up on.
                let counted = clear.map_or(0, |clear| clear + 2);
                let run: i64 = (counted..=scan).map(|scan| self.views[scan].inputs[pace].travel.abs()).sum();
                Bits::known(covered(scan) && run > i64::from(mm))
            }
            Observed::Changing(contact, most) => {
                let InputKind::Contact(of) = &self.station.inputs[contact].kind else { panic!("no contact") };
                let second = (1_000_000 / self.station.scan_us).max(1) as usize;
                let level = |scan: usize| self.records[scan].sample.channels[of.channel];
                let changes = |from: usize, to: usize| {
                    (from.max(1)..=to).filter(|&scan| level(scan) != level(scan - 1)).count() > most as usize
                };
                let begun = scan / second * second;
                let is_last = scan + 1 == begun + second;
                let before = begun > 0 && changes(begun - second, begun - 1);
                Bits::known(changes(begun, scan) || before && !is_last)
            }
            Observed::Leaping(gauge, steps) => {
                let at = |scan: usize| self.views[scan].inputs[gauge].steps;
                // The first judged scan has none before it.
                let moved = (scan > self.from).then(|| at(scan).zip(at(scan - 1))).flatten();
                Bits::known(moved.is_some_and(|(now, before)| (now - before).abs() > i64::from(steps)))
            }
            Observed::Sources(pace, by) => {
                let InputKind::Pace(of) = &self.station.inputs[pace].kind else { panic!("no pace") };
                let Backing::Source(second, _) = of.backing else { panic!("one source") };
                let [one, other] = [of.source, second].map(|source| raw::speed(of, source, self.records, scan));
                Bits::known(one.zip(other).is_some_and(|(one, other)| (one - other).abs() > i64::from(by)))
            }
            Observed::Closer(..)
            | Observed::Farther(..)
            | Observed::Distrusted(..)
            | Observed::Pressed(..)
            | Observed::Stray(_)
            | Observed::Miscounting(_)
            | Observed::Crowded(..) => {
                panic!("told of a whole history")
            }
            Observed::Apart([one, other], by) => match (self.value(scan, one), self.value(scan, other)) {
                (Some(one), Some(other)) => Bits::known((one - other).abs() > i64::from(by)),
                _ => Bits::UNKNOWN,
            },
        }
    }

    fn value(&self, scan: usize, input: InputId) -> Option<i64> {
        let seen = &self.views[scan].inputs[input];
        match &self.station.inputs[input].kind {
            InputKind::Gauge(gauge) => seen.steps.map(|steps| gauge.lowest + steps),
            _ => seen.speed,
        }
    }
}

fn find(condition: &Condition, out: &mut Vec<Observed>) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter().for_each(|part| find(part, out)),
        Condition::Not(part) => find(part, out),
        Condition::Observed(observed) => out.push(*observed),
        _ => {}
    }
}
