//! A station in which nothing is amiss: what a row departs from.

use crate::bench::inputs::current;
use crate::sample::{Health, Reading};
use crate::station::{Backing, Condition, Gauge, InputId, InputKind, Key, Pace, Scans, Station, WatchKind};

/// The field of a calm station.
#[derive(Debug, Clone)]
pub(super) struct Calm<'s> {
    station: &'s Station,
    /// Levels of channels at rest, with no key held.
    pub(super) channels: Vec<bool>,
    /// Steps of each gauge, by its terminal.
    pub(super) steps: Vec<u32>,
    /// Millimetres a scan at which no limit of speed is near, in whole pulses of every source.
    pub(super) cruise: i32,
    /// Smallest travel of every source at once, mm.
    pub(super) pulse: u32,
}

impl<'s> Calm<'s> {
    pub(super) fn new(station: &'s Station) -> Self {
        let paces = || station.inputs.iter().filter_map(|input| as_pace(&input.kind));
        let pulse = paces().fold(1, |all, pace| lcm(all, pace.mm_a_pulse.max(1)));
        let mut calm = Self {
            station,
            channels: vec![false; station.channels.len()],
            steps: vec![0; station.gauge_terminals.len()],
            cruise: 0,
            pulse,
        };
        for input in &station.inputs {
            match &input.kind {
                InputKind::Contact(c) => calm.level(c.channel, c.rests_closed),
                InputKind::Pair(p) => {
                    let [a, b] = p.channels;
                    calm.level(a, p.rests_closed);
                    calm.level(b, p.rests_closed != p.opposed);
                }
                _ => {}
            }
        }
        calm.settle_gauges();
        let fastest = paces().map(|pace| pace.top).chain(calm.limits()).min().unwrap_or(0);
        let span = paces().map(|pace| pace.span.max(1)).max().unwrap_or(1);
        calm.cruise = calm.whole(u64::from(fastest) * 4 / 5 / u64::from(span));
        calm
    }
    fn level(&mut self, channel: usize, level: bool) {
        if let Some(cell) = self.channels.get_mut(channel) {
            *cell = level;
        }
    }
    /// The nearest whole number of pulses below.
    pub(super) fn whole(&self, mm: u64) -> i32 {
        i32::try_from(mm - mm % u64::from(self.pulse)).unwrap_or(0)
    }
    /// Travels in a span that some guard finds too fast.
    fn limits(&self) -> Vec<u32> {
        let mut all = Vec::new();
        for watch in &self.station.watches {
            if let WatchKind::Guard(guard) = &watch.kind {
                leaves(&guard.when, &mut |leaf| {
                    if let Condition::Faster(_, mm) = leaf {
                        all.push(*mm);
                    }
                });
            }
        }
        all
    }
    /// Puts each gauge where the fewest guards mind.
    fn settle_gauges(&mut self) {
        for _ in 0..2 {
            for (id, input) in self.station.inputs.iter().enumerate() {
                let InputKind::Gauge(gauge) = &input.kind else { continue };
                let mut marks = vec![0, gauge.top];
                for watch in &self.station.watches {
                    if let WatchKind::Guard(guard) = &watch.kind {
                        leaves(&guard.when, &mut |leaf| match leaf {
                            Condition::AtLeast(of, step) if *of == id => marks.push(*step),
                            _ => {}
                        });
                    }
                }
                marks.sort_unstable();
                let middles = marks.windows(2).filter_map(|pair| match pair {
                    [low, high] => Some((low.midpoint(*high), high - low)),
                    _ => None,
                });
                // Or where one lies that it must agree with.
                let with = self.station.watches.iter().filter_map(|watch| match &watch.kind {
                    WatchKind::Agree(agree) if agree.between.contains(&id) => {
                        agree.between.into_iter().find(|other| *other != id).and_then(|other| self.step_of(other))
                    }
                    _ => None,
                });
                let best = middles.chain(with.map(|step| (step.min(gauge.top), 0))).min_by_key(|(step, width)| {
                    let mut tried = self.clone();
                    tried.put(gauge, *step);
                    (tried.minded(), u32::MAX - width)
                });
                if let Some((step, _)) = best {
                    self.put(gauge, step);
                }
            }
        }
    }
    fn put(&mut self, gauge: &Gauge, step: u32) {
        if let Some(cell) = self.steps.get_mut(gauge.terminal) {
            *cell = step;
        }
    }
    /// Guards whose condition holds, and pairs of gauges that do not agree.
    fn minded(&self) -> usize {
        let minds = |kind: &WatchKind| match kind {
            WatchKind::Guard(guard) => self.holds(&guard.when, None),
            WatchKind::Agree(agree) => {
                let [a, b] = agree.between.map(|id| self.step_of(id));
                a.zip(b).is_some_and(|(a, b)| a.abs_diff(b) > agree.within)
            }
            _ => false,
        };
        self.station.watches.iter().filter(|watch| minds(&watch.kind)).count()
    }
    fn step_of(&self, id: InputId) -> Option<u32> {
        match self.station.inputs.get(id).map(|input| &input.kind) {
            Some(InputKind::Gauge(gauge)) => self.steps.get(gauge.terminal).copied(),
            _ => None,
        }
    }
    /// Whether a condition holds while everything is calm and known, but for one leaf that is the opposite.
    pub(super) fn holds(&self, condition: &Condition, flipped: Option<&Condition>) -> bool {
        let is = match condition {
            Condition::All(parts) => return parts.iter().all(|part| self.holds(part, flipped)),
            Condition::Any(parts) => return parts.iter().any(|part| self.holds(part, flipped)),
            Condition::Not(part) => return !self.holds(part, flipped),
            Condition::High(id) => match self.station.inputs.get(*id).map(|input| &input.kind) {
                Some(InputKind::Contact(c)) => c.rests_closed,
                Some(InputKind::Pair(p)) => p.rests_closed,
                _ => false,
            },
            Condition::AtLeast(id, step) => self.step_of(*id).is_some_and(|is| is >= *step),
            Condition::Faster(id, mm) => {
                let span = self.pace(*id).map_or(0, |pace| pace.span);
                u64::from(self.cruise.unsigned_abs()) * u64::from(span) >= u64::from(*mm)
            }
            Condition::Back(..)
            | Condition::Faulty(_)
            | Condition::SeenOff(_)
            | Condition::Bypassed(_)
            | Condition::Observed(_) => false,
        };
        is != (flipped == Some(condition))
    }
    pub(super) fn pace(&self, id: InputId) -> Option<&'s Pace> {
        self.station.inputs.get(id).and_then(|input| as_pace(&input.kind))
    }
    pub(super) fn gauge(&self, id: InputId) -> Option<&'s Gauge> {
        match self.station.inputs.get(id).map(|input| &input.kind) {
            Some(InputKind::Gauge(gauge)) => Some(gauge),
            _ => None,
        }
    }
    pub(super) fn key(&self, id: InputId) -> Option<&'s Key> {
        match self.station.inputs.get(id).map(|input| &input.kind) {
            Some(InputKind::Key(key)) => Some(key),
            _ => None,
        }
    }
    /// A current that means these steps, nanoampere.
    pub(super) fn current(gauge: &Gauge, steps: u32) -> Option<i32> {
        current(gauge, Reading { steps, health: Health::Good })
    }
    /// Contacts that are closed while the drive runs.
    pub(super) fn running(&self) -> impl Iterator<Item = usize> {
        self.station.inputs.iter().filter_map(|input| match &input.kind {
            InputKind::Pace(Pace { backing: Backing::Running(by), .. }) => {
                match self.station.inputs.get(*by).map(|input| &input.kind) {
                    Some(InputKind::Contact(contact)) => Some(contact.channel),
                    _ => None,
                }
            }
            _ => None,
        })
    }
}

fn as_pace(kind: &InputKind) -> Option<&Pace> {
    match kind {
        InputKind::Pace(pace) => Some(pace),
        _ => None,
    }
}

/// Goes through the simple conditions of a condition.
pub(super) fn leaves<'c>(condition: &'c Condition, each: &mut dyn FnMut(&'c Condition)) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter().for_each(|part| leaves(part, each)),
        Condition::Not(part) => leaves(part, each),
        leaf => each(leaf),
    }
}

fn lcm(a: u32, b: u32) -> u32 {
    let (mut x, mut y) = (a, b);
    while y != 0 {
        (x, y) = (y, x % y);
    }
    a / x.max(1) * b
}

/// Scans in which a stop, or anything else that is slow, has ended.
pub(super) const AFTERWARDS: Scans = 8;
