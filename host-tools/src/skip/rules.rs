//! The rules over scans that are not stepped.

use super::noting::place as numbered;
use super::{After, Bit, Given, Noted, Noting, Unit, levels};
use crate::run::{Legible, Machine};
use crate::sample::Health;
use crate::told::Scanned;
use logic_rules::plan::Plan;
use logic_rules::step::{Bound, Frame, Inputs, Moved, Reading};
use logic_rules::{Algebra, Plain};

impl Unit for Machine<'_, Plain> {
    type Told = Scanned;

    fn bits(&mut self, given: &Given<'_>, into: &mut Vec<u8>) {
        into.extend(Machine::bits(self).iter().map(|bit| u8::from(*bit)));
        levels(given.sample, into);
    }
    fn words(&mut self, into: &mut Vec<u32>) {
        into.clear();
        into.extend_from_slice(Machine::words(self));
    }
    fn put(&mut self, words: &[u32]) {
        Machine::put(self, words);
    }
    fn turn(&mut self, bits: &[usize]) {
        Machine::turn(self, bits);
    }
    fn note(&mut self, noting: &mut Noting, given: &Given<'_>) -> Option<After> {
        let words = noted(Machine::words(self))?;
        let from = From { plan: self.plan(), bits: Machine::bits(self), words: &words, all: words.len() };
        let mut judged = false;
        let look = |_: &mut Noting, bound: &Bound<'_, '_, Noting>| {
            judged = bound.work.judged.iter().any(|[judged]| Noting::truth(*judged));
        };
        let channels: Vec<_> = given.sample.channels.iter().map(|level| noting.bit(*level)).collect();
        let (words, bits) = from.scan(noting, given, &channels, look)?;
        let turned = turned(Machine::bits(self), &bits);
        (!judged).then_some(After { words, turned })
    }
}

/// Bits that are others than before.
pub(crate) fn turned(before: &[bool], after: &[bool]) -> Vec<usize> {
    let both = before.iter().zip(after).enumerate();
    both.filter(|(_, (before, after))| before != after).map(|(bit, _)| bit).collect()
}

/// Words that stand at their own places.
pub(crate) fn noted(words: &[u32]) -> Option<Vec<Noted>> {
    let at = |(place, word): (usize, &u32)| Some(Noted::at(numbered(place)?, *word));
    words.iter().enumerate().map(at).collect()
}

/// A plan, and the state that a scan is noted from.
pub(crate) struct From<'f, 'p> {
    pub(crate) plan: &'f Plan<'p>,
    pub(crate) bits: &'f [bool],
    pub(crate) words: &'f [Noted],
    /// All words of the unit: inputs have the places behind them.
    pub(crate) all: usize,
}

impl From<'_, '_> {
    /// One scan; the words and bits behind it.
    pub(crate) fn scan(
        &self,
        noting: &mut Noting,
        given: &Given<'_>,
        channels: &[Bit],
        look: impl FnOnce(&mut Noting, &Bound<'_, '_, Noting>),
    ) -> Option<(Vec<Noted>, Vec<bool>)> {
        let (needs, zero) = (self.plan.needs(), noting.word(0));
        let no = noting.bit(false);
        let (mut work_bits, mut work_words) = (vec![no; needs.work_bits], vec![zero; needs.work_words]);
        let mut words = self.words.to_vec();
        let mut bits: Vec<_> = self.bits.iter().map(|bit| noting.bit(*bit)).collect();
        let mut inputs = Vec::new();
        for (input, now) in given.inputs.iter().enumerate() {
            inputs.push(Noted::at(numbered(self.all.checked_add(input)?)?, *now));
        }
        let sample = given.sample;
        let (steps, travel) = inputs.split_at_checked(sample.gauges.len())?;
        let gauge = |(value, reading): (&Noted, &crate::sample::Reading)| Reading {
            value: *value,
            good: noting.bit(reading.health == Health::Good),
            broken: noting.bit(reading.health == Health::Broken),
        };
        let gauges: Vec<Reading<Noting>> = steps.iter().zip(&sample.gauges).map(gauge).collect();
        let sources: Vec<Moved<Noting>> =
            travel.iter().map(|forward| Moved { forward: *forward, back: zero }).collect();
        let frame = |frame: &crate::sample::Frame| Frame {
            fresh: noting.bit(frame.fresh),
            order: Noted::fixed(u32::from(frame.order)),
        };
        let links: Vec<Frame<Noting>> = sample.links.iter().map(frame).collect();
        let read = Inputs { channels, gauges: &gauges, sources: &sources, links: &links };
        let mut bound = Bound::over(self.plan, &mut bits, &mut words, &mut work_bits, &mut work_words)?;
        let verdict = bound.scan(noting, &read)?;
        look(noting, &bound);
        // Whatever is told or goes on must be so again.
        for bit in work_bits.iter().chain(&[verdict.permit, verdict.reset, verdict.trips]) {
            noting.decides(*bit);
        }
        let decided = bits.iter().map(|bit| noting.decides(*bit)).collect();
        Some((words, decided))
    }
}
