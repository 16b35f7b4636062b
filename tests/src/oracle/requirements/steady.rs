//! A history as it reads without bounces: each channel of contacts, pairs, detectors and keys settles.

use host_tools::station::{InputKind, Observed, Settle};

use super::super::bits::Bits;
use super::super::timing::{Channel, Step};
use super::Past;

impl Past<'_> {
    /// The same history, in which channels settle by so many scans, either way.
    pub(super) fn steady(&self, scans: u32) -> Past<'_> {
        let settle = Settle { up: scans, down: scans };
        let mut views = self.views.clone();
        for (number, input) in self.station.inputs.iter().enumerate() {
            let (first, second, opposed) = match &input.kind {
                InputKind::Contact(contact) => (contact.channel, None, false),
                InputKind::Detector(detector) => (detector.channel, None, false),
                InputKind::Pair(pair) => (pair.channels[0], Some(pair.channels[1]), pair.opposed),
                InputKind::Key(key) => (key.channels.0, key.channels.1, false),
                InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_) => continue,
            };
            let steps = |channel: usize, inverted: bool| -> Vec<Step> {
                let mut line = Channel::default();
                let samples = self.records.iter().map(|record| record.sample.channels[channel] != inverted);
                samples.map(|sample| line.scan(sample, settle)).collect()
            };
            let one = steps(first, false);
            let other = second.map_or_else(|| one.clone(), |second| steps(second, opposed));
            for ((view, one), other) in views.iter_mut().zip(one).zip(other) {
                let seen = &mut view.inputs[number];
                seen.high = Bits { may: one.level || other.level, must: one.level && other.level };
                seen.rises = matches!(input.kind, InputKind::Detector(_)) && one.rose;
                if let Some(differing) = view.observed.get_mut(&Observed::Differing(number)) {
                    *differing = Bits::known(one.level != other.level);
                }
            }
        }
        Past { station: self.station, records: self.records, views, from: self.from, power_up: self.power_up }
    }
}
