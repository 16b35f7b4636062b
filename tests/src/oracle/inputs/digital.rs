//! Contacts, pairs, detectors and keys.

use host_tools::sample::Sample;
use host_tools::station::ways::Way;
use host_tools::station::{Contact, Detector, Key, Pair};

use super::super::bits::Bits;
use super::super::conditions::{Seen, View};
use super::super::timing::{Channel, Hold};

/// A contact.
#[derive(Debug, Clone, Default)]
pub(super) struct ContactState {
    channel: Channel,
    /// Raw sample of the scan before.
    last: Option<bool>,
    /// Raw changes in the current span of a second.
    changes: i64,
    chatter: bool,
}

impl ContactState {
    pub(super) fn scan(&mut self, contact: &Contact, at: i64, one_second: i64, sample: &Sample) -> Seen {
        let raw = sample.channels[contact.channel];
        let step = self.channel.scan(raw, contact.settle);
        if at == 0 {
            self.changes = 0;
        }
        if self.last.is_some_and(|last| last != raw) {
            self.changes += 1;
        }
        self.last = Some(raw);
        if let Some(most) = contact.most_changes {
            if self.changes > i64::from(most) {
                self.chatter = true;
            } else if at == one_second - 1 {
                self.chatter = false;
            }
        }
        Seen {
            high: if self.chatter { Bits::UNKNOWN } else { Bits::known(step.level) },
            changes: step.rose || step.fell,
            faulty: self.chatter,
            ways: if self.chatter { vec![Way::Chatter] } else { Vec::new() },
            ..Seen::default()
        }
    }
}

/// Two channels that say the same thing.
#[derive(Debug, Clone, Default)]
pub(super) struct PairState {
    channels: [Channel; 2],
    differing: Hold,
    fault: bool,
    /// Each channel has changed its level in a scan after the one in which the fault was set.
    changed: [bool; 2],
}

impl PairState {
    pub(super) fn scan(&mut self, pair: &Pair, sample: &Sample) -> Seen {
        let raw_a = sample.channels[pair.channels[0]];
        let raw_b = sample.channels[pair.channels[1]] != pair.opposed;
        let a = self.channels[0].scan(raw_a, pair.settle);
        let b = self.channels[1].scan(raw_b, pair.settle);
        let too_long = self.differing.longer(a.level != b.level, pair.differing);
        if self.fault {
            // A fault that is already there is not set again: only the first scan counts.
            self.changed[0] |= a.rose || a.fell;
            self.changed[1] |= b.rose || b.fell;
            if a.level == b.level && self.changed[0] && self.changed[1] {
                self.fault = false;
            }
        } else if too_long {
            self.fault = true;
            self.changed = [false, false];
        }
        let high = Bits { may: a.level || b.level, must: a.level && b.level };
        Seen {
            high: if self.fault { Bits::UNKNOWN } else { high },
            changes: a.rose || a.fell || b.rose || b.fell,
            faulty: self.fault,
            ways: if self.fault { vec![Way::Differs] } else { Vec::new() },
            ..Seen::default()
        }
    }
}

/// A detector.
#[derive(Debug, Clone, Default)]
pub(super) struct DetectorState {
    channel: Channel,
    /// Rope, both directions, since the level rose or since power-up.
    covered: i64,
    /// Rope, both directions, since the last rise, power-up or judgement.
    without_rise: i64,
}

impl DetectorState {
    pub(super) fn scan(&mut self, detector: &Detector, sample: &Sample, view: &View) -> Seen {
        let step = self.channel.scan(sample.channels[detector.channel], detector.settle);
        let mut ways = Vec::new();
        let mut stuck = false;
        if let Some((pace, rope)) = detector.covered_at_most {
            self.covered += view.inputs[pace].travel.abs();
            if step.rose {
                self.covered = 0;
            }
            stuck = step.level && self.covered > i64::from(rope);
            if stuck {
                ways.push(Way::Stuck);
            }
        }
        if let Some((pace, rope)) = detector.rises_every {
            self.without_rise += view.inputs[pace].travel.abs();
            if step.rose {
                self.without_rise = 0;
            } else if self.without_rise > i64::from(rope) {
                ways.push(Way::Missing);
                self.without_rise = 0;
            }
        }
        Seen {
            high: if stuck { Bits::UNKNOWN } else { Bits::known(step.level) },
            rises: step.rose,
            falls: step.fell,
            changes: step.rose || step.fell,
            // Missing is an event of one scan and no state that the detector is in.
            faulty: stuck,
            ways,
            ..Seen::default()
        }
    }
}

/// A key of one or two channels.
#[derive(Debug, Clone, Default)]
pub(super) struct KeyState {
    channels: [Channel; 2],
    /// must(held) of the scan before; none before the first scan.
    held: Option<bool>,
}

impl KeyState {
    pub(super) fn scan(&mut self, key: &Key, sample: &Sample) -> Seen {
        let first = self.channels[0].scan(sample.channels[key.channels.0], key.settle);
        let second = match key.channels.1 {
            Some(channel) => self.channels[1].scan(sample.channels[channel], key.settle),
            None => first,
        };
        let must = first.level && second.level;
        let pressed = must && self.held == Some(false);
        self.held = Some(must);
        Seen {
            high: Bits { may: first.level || second.level, must },
            changes: first.rose || first.fell || second.rose || second.fell,
            pressed,
            ..Seen::default()
        }
    }
}
