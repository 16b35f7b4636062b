//! Sixty-four histories at once: a lively one, and others about it that stray from it now and then, each on its own.

use host_tools::prove::model::{Given, Model};
use host_tools::sample::{Health, Sample};
use logic_rules::step::{Frame, Moved, Reading};
use logic_rules::{Algebra, Lanes, Sliced, Slices};

use super::cells::{LANES, Many};
use crate::generate::Rng;

/// What strays from a leader, by input; bit 0 belongs to the leader and never strays.
pub struct Swarm {
    rng: Rng,
    /// Once in so many scans an input begins to stray, in some of the cases.
    calm: u64,
    channels: Vec<u64>,
    gauges: Vec<(u64, Reading<Many>)>,
    sources: Vec<(u64, Moved<Many>)>,
    links: Vec<(u64, Frame<Many>)>,
    /// Channels of the reset key, who holds it, and for how many scans.
    key: Vec<usize>,
    press: (u64, u32),
}

impl Swarm {
    /// A swarm about histories of a model.
    pub fn new(model: &Model<'_>, seed: u64) -> Self {
        let mut a = Sliced(Lanes);
        let (no, zero) = (a.bit(false), a.word(0));
        let tables = model.plan.tables();
        let mut rng = Rng::new(seed);
        let key = model.station.reset.as_ref().map_or_else(Vec::new, |reset| model.station.channels_of(reset.key));
        Self {
            key,
            press: (0, 0),
            calm: rng.pick(&[60, 200, 600, 2_000]),
            rng,
            channels: vec![0; usize::from(tables.head.lines)],
            gauges: vec![(0, Reading { value: zero, good: no, broken: no }); tables.gauges.len()],
            sources: vec![(0, Moved { forward: zero, back: zero }); usize::from(tables.head.sources)],
            links: vec![(0, Frame { fresh: no, order: zero }); tables.links.len()],
        }
    }
    /// Who stands still gives up straying now and then, and presses the key of the reset.
    fn operates(&mut self, model: &Model<'_>, standing: u64) {
        let (who, left) = self.press;
        self.press = (who, left.saturating_sub(1));
        let Some(reset) = &model.station.reset else { return };
        if left == 0 && self.rng.once_in(20) {
            self.press = (standing & !1 & self.rng.bits(), reset.shortest + 4 + self.rng.small(0, 4));
            let who = self.press.0;
            self.channels.iter_mut().for_each(|mask| *mask &= !who);
            self.gauges.iter_mut().for_each(|(mask, _)| *mask &= !who);
            self.sources.iter_mut().for_each(|(mask, _)| *mask &= !who);
            self.links.iter_mut().for_each(|(mask, _)| *mask &= !who);
        }
    }
    /// Who strays from now on: some, or nobody; now and then only.
    fn strays(&mut self, mask: u64) -> Option<u64> {
        if mask != 0 {
            return self.rng.once_in(8).then_some(0);
        }
        let some = self.rng.once_in(self.calm).then(|| self.rng.bits() & self.rng.bits() & !1);
        some.filter(|some| *some != 0)
    }
    fn words(&mut self, most: u32) -> Slices<u64> {
        let values: Vec<u32> = (0..LANES).map(|_| self.rng.small(0, most)).collect();
        Lanes::word(&values)
    }
    /// The inputs of a scan in which the leader sees this; a stop stood in these cases.
    pub fn given(&mut self, model: &Model<'_>, leader: &Sample, standing: u64) -> Given<Many> {
        let mut a = Sliced(Lanes);
        self.operates(model, standing);
        for i in 0..self.channels.len() {
            self.channels[i] = self.strays(self.channels[i]).unwrap_or(self.channels[i]);
        }
        for i in 0..self.gauges.len() {
            if let Some(mask) = self.strays(self.gauges[i].0) {
                let good = self.rng.bits();
                let reading = Reading { value: self.words(model.gauge_top(i)), good, broken: !good & self.rng.bits() };
                self.gauges[i] = (mask, reading);
            }
        }
        for i in 0..self.sources.len() {
            if let Some(mask) = self.strays(self.sources[i].0) {
                let moved = self.words(model.source_top(i));
                let (back, mut forward) = (self.rng.bits() & self.rng.bits(), a.word(0));
                let mut backward = a.word(0);
                a.set_word(!back, &mut forward, moved);
                a.set_word(back, &mut backward, moved);
                self.sources[i] = (mask, Moved { forward, back: backward });
            }
        }
        for i in 0..self.links.len() {
            if let Some(mask) = self.strays(self.links[i].0) {
                let order = self.words(u32::from(model.station.worst()) + 1);
                self.links[i] = (mask, Frame { fresh: self.rng.bits(), order });
            }
        }
        let all = |on: bool| if on { u64::MAX } else { 0 };
        let mut or = |mask: u64, own: u32, other: Slices<u64>| {
            let mut word = a.word(own);
            a.set_word(mask, &mut word, other);
            word
        };
        let bit = |mask: u64, own: bool, other: u64| all(own) & !mask | other & mask;
        Given {
            channels: (self.channels.iter().zip(&leader.channels).enumerate())
                .map(|(channel, (mask, own))| match self.press {
                    (who, 1..) if self.key.contains(&channel) => all(*own) ^ mask | who,
                    _ => all(*own) ^ mask,
                })
                .collect(),
            gauges: (self.gauges.iter().zip(&leader.gauges))
                .map(|((mask, other), own)| Reading {
                    value: or(*mask, own.steps, other.value),
                    good: bit(*mask, own.health == Health::Good, other.good),
                    broken: bit(*mask, own.health == Health::Broken, other.broken),
                })
                .collect(),
            sources: (self.sources.iter().zip(&leader.travel))
                .map(|((mask, other), own)| Moved {
                    forward: or(*mask, u32::try_from(*own).unwrap_or(0), other.forward),
                    back: or(*mask, if *own < 0 { own.unsigned_abs() } else { 0 }, other.back),
                })
                .collect(),
            links: (self.links.iter().zip(&leader.links))
                .map(|((mask, other), own)| Frame {
                    fresh: bit(*mask, own.fresh, other.fresh),
                    order: or(*mask, u32::from(own.order), other.order),
                })
                .collect(),
            picks: model.station.requirements.iter().map(|_| self.rng.bits()).collect(),
        }
    }
}
