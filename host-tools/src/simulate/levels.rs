//! Levels of the digital channels: detectors, contacts, keys and read-backs.

use super::faults::Faults;
use super::scenario::{Follow, Scenario, While};
use super::train::Train;
use crate::lane::Course;
use crate::station::{Backing, InputKind, Station, Stop};

/// A channel that is high while a carrier is between two runs.
#[derive(Debug, Clone)]
struct Window {
    channel: usize,
    level: bool,
    from: f64,
    to: f64,
}

/// Something that is so since a time; `None` is since ever.
#[derive(Debug, Clone, Copy, Default)]
struct Since {
    so: bool,
    at: Option<u64>,
}

impl Since {
    fn set(&mut self, now: u64, so: bool) {
        if self.so != so {
            *self = Self { so, at: Some(now) };
        }
    }
    /// Whether it was so that long ago.
    fn after(self, now: u64, delay: u64) -> bool {
        self.so == self.at.is_none_or(|at| now - at >= delay)
    }
}

#[derive(Debug, Clone)]
struct Switched {
    off: Since,
    read_back: Option<usize>,
    /// Time until its read-back shows the change.
    within: u64,
    sticks: u64,
}

/// Everything that decides on a channel.
#[derive(Debug, Clone)]
pub(super) struct Levels {
    rest: Vec<bool>,
    windows: Vec<Window>,
    follows: Vec<Follow>,
    outputs: Vec<Switched>,
    /// Outputs to release at standstill.
    then: Vec<usize>,
    moves: Since,
    /// Channels of the keys, mode by mode.
    modes: Vec<Vec<usize>>,
    mode: usize,
}

impl Levels {
    /// Everything at rest, the first mode selected.
    pub(super) fn new(station: &Station, scenario: &Scenario, course: &Course) -> Self {
        let mut rest = vec![false; station.channels.len()];
        let mut set = |channel: usize, level| {
            if let Some(to) = rest.get_mut(channel) {
                *to = level;
            }
        };
        let length = station.lane.as_ref().map_or(0.0, |l| f64::from(l.carrier));
        let mut windows = Vec::new();
        let mut follows = Vec::new();
        for input in &station.inputs {
            match &input.kind {
                InputKind::Contact(c) => set(c.channel, c.rests_closed),
                InputKind::Pair(p) => {
                    set(p.channels[0], p.rests_closed);
                    set(p.channels[1], p.rests_closed != p.opposed);
                }
                InputKind::Detector(d) => {
                    let at = f64::from(d.at);
                    let (from, to) = (course.run_to(at), course.run_to(at + length));
                    windows.push(Window { channel: d.channel, level: true, from, to });
                }
                InputKind::Pace(p) => {
                    if let Backing::Running(contact) = p.backing
                        && let Some(InputKind::Contact(c)) = station.inputs.get(contact).map(|i| &i.kind)
                    {
                        follows.push(Follow { channel: c.channel, level: true, when: While::Moves(true, 0) });
                    }
                }
                InputKind::Gauge(_) | InputKind::Link(_) | InputKind::Key(_) => {}
            }
        }
        for follow in &scenario.follows {
            if let While::Carrier(from, to) = follow.when {
                let (from, to) = (course.run_to(from), course.run_to(to));
                windows.push(Window { channel: follow.channel, level: follow.level, from, to });
                set(follow.channel, !follow.level);
            } else {
                follows.push(*follow);
            }
        }
        let outputs = station.outputs.iter().map(|o| Switched {
            off: Since { so: scenario.powers_up, at: None },
            read_back: o.read_back.map(|r| r.0),
            within: u64::from(o.off_within_us),
            sticks: 0,
        });
        let modes = station.modes.iter().map(|m| station.channels_of(m.key));
        Self {
            windows,
            follows,
            outputs: outputs.collect(),
            then: Vec::new(),
            moves: Since { so: scenario.speed != 0.0, at: None },
            modes: modes.collect(),
            mode: 0,
            rest,
        }
    }
    /// Selects a mode.
    pub(super) fn select(&mut self, mode: usize) {
        self.mode = mode;
    }
    /// Switches an output, unless it sticks.
    pub(super) fn switch(&mut self, now: u64, output: usize, off: bool) {
        if let Some(output) = self.outputs.get_mut(output)
            && now >= output.sticks
        {
            output.off.set(now, off);
        }
    }
    /// Switches all outputs; bit `i` is output `i`.
    pub(super) fn switch_all(&mut self, now: u64, off: u64) {
        self.then.clear();
        for i in 0..self.outputs.len().min(64) {
            self.switch(now, i, off >> i & 1 == 1);
        }
    }
    /// Every output off: there is no power.
    pub(super) fn all_off(&mut self, now: u64) {
        (0..self.outputs.len()).for_each(|i| self.switch(now, i, true));
    }
    /// Every output on, for a start.
    pub(super) fn all_on(&mut self, now: u64) {
        self.then.clear();
        (0..self.outputs.len()).for_each(|i| self.switch(now, i, false));
    }
    /// Releases what a stop releases, at once and at standstill.
    pub(super) fn release(&mut self, now: u64, stop: &Stop) {
        stop.releases.iter().for_each(|o| self.switch(now, *o, true));
        self.then = stop.then.as_ref().map_or_else(Vec::new, |t| t.outputs.clone());
    }
    /// Releases the rest of a stop once the rope stands.
    pub(super) fn settle(&mut self, now: u64, stands: bool) {
        if stands {
            for output in std::mem::take(&mut self.then) {
                self.switch(now, output, true);
            }
        }
    }
    /// An output stays as it is until a time.
    pub(super) fn stick(&mut self, output: usize, until: u64) {
        if let Some(output) = self.outputs.get_mut(output) {
            output.sticks = until;
        }
    }
    /// Tells whether the rope moves.
    pub(super) fn tell(&mut self, now: u64, moves: bool) {
        self.moves.set(now, moves);
    }
    /// Reads every channel.
    pub(super) fn read(&self, now: u64, train: Option<&Train>, faults: &Faults, into: &mut [bool]) {
        into.copy_from_slice(&self.rest);
        let mut set = |channel: usize, level| {
            if let Some(to) = into.get_mut(channel) {
                *to = level;
            }
        };
        for carrier in train.into_iter().flat_map(Train::carriers) {
            for window in &self.windows {
                if carrier.run >= window.from && carrier.run < window.to {
                    set(window.channel, window.level);
                }
            }
        }
        for output in &self.outputs {
            if let Some(channel) = output.read_back {
                set(channel, output.off.after(now, output.within));
            }
        }
        for follow in &self.follows {
            let holds = match follow.when {
                While::Output(output, off, delay) => {
                    self.outputs.get(output).is_some_and(|o| o.off.after(now, delay) == off)
                }
                While::Moves(moves, delay) => self.moves.after(now, delay) == moves,
                While::Carrier(..) => continue,
            };
            set(follow.channel, follow.level == holds);
        }
        for channel in self.modes.get(self.mode).into_iter().flatten() {
            set(*channel, true);
        }
        faults.level(now, into);
    }
}
