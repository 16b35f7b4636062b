//! The benign surroundings of a station: what its inputs read when nothing is wrong, and how a carrier
//! goes from detector to detector.

use super::acts::Act;
use super::history::scans;
use super::solve::{Gauged, benign_gauges, ways_to};
use crate::sample::{Frame, Health, Reading, Sample};
use crate::station::signals::{Signal, signals};
use crate::station::{Backing, Form, InputId, InputKind, Measured, Station, Travel, WatchKind};

/// What is left of a leg.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Left {
    /// Millimetres of rope.
    Rope(i64),
    /// Scans.
    Scans(i64),
}
impl Left {
    pub(super) fn amount(self) -> i64 {
        let (Self::Rope(left) | Self::Scans(left)) = self;
        left
    }
    pub(super) fn runs(&mut self, mm: i64) {
        match self {
            Self::Rope(left) => *left -= mm,
            Self::Scans(left) => *left -= 1,
        }
    }
}

/// The way from one detector to the next.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leg {
    /// Number of the detector among the detectors.
    pub(super) to: usize,
    /// What a carrier needs.
    pub(super) left: Left,
}

/// A detector as carriers meet it.
#[derive(Debug, Clone)]
pub(super) struct Stand {
    pub(super) input: InputId,
    pub(super) channel: usize,
    pub(super) pulse: u32,
    pub(super) covered: i64,
    pub(super) legs: Vec<Leg>,
    /// Gauges that read so from a rise on.
    pub(super) shows: Vec<(usize, Reading)>,
}

/// A channel that stays away from rest for so long, if it leaves it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Excursion {
    pub(super) channel: usize,
    pub(super) rest: bool,
    pub(super) least: u32,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub(super) struct Routes {
    /// Benign levels; nothing moves.
    pub(super) base: Sample,
    pub(super) detectors: Vec<Stand>,
    /// Channel that reads an output's being off.
    pub(super) read_backs: Vec<(usize, u32)>,
    /// Channels that show a stop's effect, as a confirm expects them, while all outputs that the stop releases at once are off.
    pub(super) effects: Vec<(u64, usize, bool)>,
    /// Channels that do not come back to rest at once.
    pub(super) excursions: Vec<Excursion>,
    /// Channels that are high while the rope runs.
    pub(super) turning: Vec<usize>,
    /// Millimetres a pulse of each source.
    pub(super) pulses: Vec<i64>,
    /// Source of the rope.
    pub(super) rope: usize,
}

/// A carrier's length, where no lane says it, mm.
const CARRIER: u32 = 450;

impl Routes {
    /// The surroundings of a station, with its gauges where their conditions leave most room.
    pub(super) fn of(station: &Station, clean: bool) -> Self {
        let mut routes = Self {
            base: Sample {
                channels: vec![false; station.channels.len()],
                gauges: vec![Reading::default(); station.gauge_terminals.len()],
                travel: vec![0; station.sources.len()],
                links: vec![Frame { fresh: true, order: 0 }; station.link_terminals.len()],
            },
            pulses: vec![1; station.sources.len()],
            ..Self::default()
        };
        routes.rests(station);
        let gauged = benign_gauges(station);
        for Gauged { terminal, steps } in gauged {
            if let Some(cell) = routes.base.gauges.get_mut(terminal) {
                *cell = Reading { steps, health: Health::Good };
            }
        }
        routes.lane(station);
        routes.effects(station);
        if clean {
            routes.excursions = excursions(station);
        }
        routes
    }
    fn high(&mut self, channel: usize, level: bool) {
        if let Some(cell) = self.base.channels.get_mut(channel) {
            *cell = level;
        }
    }
    fn rests(&mut self, station: &Station) {
        let mut rope = None;
        for input in &station.inputs {
            match &input.kind {
                InputKind::Contact(c) => self.high(c.channel, c.rests_closed),
                InputKind::Pair(p) => {
                    let [first, second] = p.channels;
                    self.high(first, p.rests_closed);
                    self.high(second, p.rests_closed != p.opposed);
                }
                InputKind::Pace(p) => {
                    rope = rope.or(Some(p.source));
                    let second = if let Backing::Source(second, _) = p.backing { Some(second) } else { None };
                    for source in [Some(p.source), second].into_iter().flatten() {
                        if let Some(cell) = self.pulses.get_mut(source) {
                            *cell = i64::from(p.mm_a_pulse.max(1));
                        }
                    }
                    if let Backing::Running(contact) = p.backing
                        && let Some(InputKind::Contact(c)) = station.inputs.get(contact).map(|i| &i.kind)
                    {
                        self.turning.push(c.channel);
                    }
                }
                _ => {}
            }
        }
        self.rope = rope.unwrap_or(usize::MAX);
        if let Some(mode) = station.modes.first() {
            for channel in station.channels_of(mode.key) {
                self.high(channel, true);
            }
        }
        let outputs = (0_u32..).zip(&station.outputs);
        self.read_backs = outputs.filter_map(|(i, o)| o.read_back.map(|(channel, _)| (channel, i))).collect();
    }
    fn effects(&mut self, station: &Station) {
        for watch in &station.watches {
            let WatchKind::Confirm(confirm) = &watch.kind else { continue };
            let Some(way) = ways_to(station, &confirm.see, true).into_iter().next() else { continue };
            let stop = confirm.after.checked_sub(station.first_stop()).map(usize::from);
            let Some(stop) = stop.and_then(|number| station.stops.get(number)) else { continue };
            let bit = |output: &usize| u32::try_from(*output).ok().and_then(|output| 1_u64.checked_shl(output));
            let released = stop.releases.iter().filter_map(bit).fold(0, |all, bit| all | bit);
            for act in way {
                if let Act::Channel(channel, Some(level)) = act {
                    self.effects.push((released, channel, level));
                }
            }
        }
    }
    /// The detector's number.
    pub(super) fn number(&self, input: InputId) -> Option<usize> {
        self.detectors.iter().position(|d| d.input == input)
    }
    fn lane(&mut self, station: &Station) {
        let carrier = station.lane.as_ref().map_or(CARRIER, |lane| lane.carrier);
        let mut places = Vec::new();
        for (i, input) in station.inputs.iter().enumerate() {
            if let InputKind::Detector(d) = &input.kind {
                places.push((d.at, self.detectors.len()));
                self.detectors.push(Stand {
                    input: i,
                    channel: d.channel,
                    pulse: scans(station, d.pulse_us).max(d.settle.up + 1).max(d.settle.down + 1),
                    covered: i64::from(carrier),
                    legs: Vec::new(),
                    shows: shows(station, i),
                });
            }
        }
        for (from, to, left) in legs(station) {
            if let (Some(from), Some(to)) = (self.number(from), self.number(to)) {
                self.leg(from, to, left);
            }
        }
        // Who is on no leg comes from the detector before it, at rope speed.
        places.sort_unstable();
        for pair in places.windows(2) {
            if let [(before, from), (at, to)] = pair {
                self.leg(*from, *to, Left::Rope(i64::from(at.saturating_sub(*before)).max(1)));
            }
        }
    }
    fn leg(&mut self, from: usize, to: usize, left: Left) {
        let reached = self.detectors.iter().any(|d| d.legs.iter().any(|leg| leg.to == to));
        if let Some(stand) = self.detectors.get_mut(from)
            && !reached
        {
            stand.legs.push(Leg { to, left });
        }
    }
}

/// Channels that are declared to stay away from rest for some time.
fn excursions(station: &Station) -> Vec<Excursion> {
    let of = |signal: Signal| match signal {
        Signal { channel, low, high: 1 } => Some(Excursion { channel, rest: true, least: low }),
        Signal { channel, low: 1, high } => Some(Excursion { channel, rest: false, least: high }),
        // A detector lasts either way.
        Signal { .. } => None,
    };
    signals(station).into_iter().filter_map(of).collect()
}

fn left(measured: Measured, earliest: u32, latest: u32) -> Left {
    let middle = i64::midpoint(i64::from(earliest), i64::from(latest));
    match measured {
        Measured::Rope(_) => Left::Rope(middle),
        Measured::Time { .. } => Left::Scans(middle),
    }
}

/// Legs by travels, then by requirements, in the middle of their windows.
fn legs(station: &Station) -> Vec<(InputId, InputId, Left)> {
    let mut all = Vec::new();
    for watch in &station.watches {
        if let WatchKind::Travel(Travel { from, to, measured, earliest, latest, .. }) = &watch.kind {
            all.push((*from, *to, left(*measured, *earliest, *latest)));
        }
    }
    for requirement in &station.requirements {
        if let Form::After { from, to, measured, earliest, latest, .. } = &requirement.form {
            all.push((*from, *to, left(*measured, *earliest, *latest)));
        }
    }
    all
}

/// What gauges read from a rise of the detector on.
fn shows(station: &Station, detector: InputId) -> Vec<(usize, Reading)> {
    let mut all: Vec<(usize, Reading)> = Vec::new();
    let mut add = |gauge: InputId, least: u32, most: u32| {
        if let Some(InputKind::Gauge(g)) = station.inputs.get(gauge).map(|i| &i.kind)
            && !all.iter().any(|(terminal, _)| *terminal == g.terminal)
        {
            all.push((g.terminal, Reading { steps: u32::midpoint(least, most), health: Health::Good }));
        }
    };
    for (i, input) in station.inputs.iter().enumerate() {
        if let InputKind::Gauge(g) = &input.kind
            && let Some((at, least, most)) = g.rests
            && at == detector
        {
            add(i, least, most);
        }
    }
    for watch in &station.watches {
        if let WatchKind::Measure(m) = &watch.kind
            && m.detector == detector
        {
            add(m.gauge, m.least, m.most);
        }
    }
    for requirement in &station.requirements {
        if let Form::WhenRises { detector: at, gauge, lowest, highest, .. } = &requirement.form
            && *at == detector
        {
            add(*gauge, *lowest, *highest);
        }
    }
    all
}
