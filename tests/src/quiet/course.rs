//! What a station will sample: what stands, what runs, and the moves that are laid down for scans to come.

use std::collections::BTreeMap;

use host_tools::sample::{Frame, Health, Reading, Sample};
use host_tools::station::{InputKind, Station};
use host_tools::told::Scanned;

/// A gauge that reads so many steps.
pub(super) fn reads(steps: u32) -> Reading {
    Reading { steps, health: Health::Good }
}

/// Steps of the gauges that are as they should be.
pub(super) const GRIP: u32 = 600;
/// What the other station sends when all is well.
pub(super) const WELL: Frame = Frame { fresh: true, order: 0 };

/// Something that changes at the begin of a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Move {
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
pub(super) struct Course {
    pub(super) now: u64,
    pub(super) sample: Sample,
    pub(super) rope: i32,
    /// The rope's speed is not quite even.
    uneven: bool,
    sticks: bool,
    slips: i32,
    /// Channel and output that are read back.
    read_back: Option<(usize, usize)>,
    to_come: BTreeMap<u64, Vec<Move>>,
}

/// Channel of the key of each mode.
pub(super) fn mode_keys(station: &Station) -> Vec<usize> {
    let key = |id: usize| match &station.inputs[id].kind {
        InputKind::Key(key) => key.channels.0,
        _ => panic!("a mode has a key"),
    };
    station.modes.iter().map(|mode| key(mode.key)).collect()
}

impl Course {
    /// All at rest, with the first mode selected and so much rope in each scan.
    pub(super) fn at_rest(station: &Station, rope: i32, uneven: bool) -> Self {
        let mut sample = Sample {
            channels: vec![false; station.channels.len()],
            gauges: vec![reads(GRIP); station.gauge_terminals.len()],
            travel: vec![0; station.sources.len()],
            links: vec![WELL; station.link_terminals.len()],
        };
        for input in &station.inputs {
            match &input.kind {
                InputKind::Contact(contact) => sample.channels[contact.channel] = contact.rests_closed,
                InputKind::Pair(pair) => {
                    for at in pair.channels {
                        sample.channels[at] = pair.rests_closed;
                    }
                }
                _ => {}
            }
        }
        sample.channels[mode_keys(station)[0]] = true;
        let read_back = station.outputs.iter().enumerate().find_map(|(id, output)| Some((output.read_back?.0, id)));
        let to_come = BTreeMap::new();
        Self { now: 0, sample, rope, uneven, sticks: false, slips: 0, read_back, to_come }
    }
    pub(super) fn lay(&mut self, at: u64, what: Move) {
        self.to_come.entry(at.max(self.now)).or_default().push(what);
    }
    /// Rope in a scan, while its speed stays.
    fn travel(&self, scan: u64) -> i32 {
        let uneven = self.uneven && self.rope > 1;
        self.rope + if uneven { [0, 1, 0, -1, 1, -1, 0][usize::try_from(scan * scan % 7).expect("small")] } else { 0 }
    }
    /// Scans behind this one in which so much rope runs.
    pub(super) fn scans_for(&self, rope: u32, behind: u64) -> u64 {
        let (mut ran, mut scans) = (0, 0);
        while ran < i64::from(rope) && scans < 200 {
            scans += 1;
            ran += i64::from(self.travel(behind + scans));
        }
        scans
    }
    /// The next sample behind what was told.
    pub(super) fn next(&mut self, last: &Scanned) -> &Sample {
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
