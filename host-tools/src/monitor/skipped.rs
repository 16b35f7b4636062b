//! Judging over scans that are not stepped; see [`crate::skip`].

use super::judge::{Judge, Visit};
use super::{Monitors, Published, Scene};
use crate::skip::{After, Bit, From, Given, Noted, Noting, Unit, levels, noted, turned};
use crate::station::Rank;
use logic_rules::monitor::Apart;
use logic_rules::step::Bound;
use logic_rules::{Algebra, Plain};

/// What is told of a scan in which nothing is met.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Judgement {
    pub(crate) missed: Vec<u16>,
    pub(crate) broken: Vec<u16>,
}

/// Copies bits and words out.
struct Out<'o> {
    bits: Option<&'o mut Vec<u8>>,
    words: Option<&'o mut Vec<u32>>,
}

impl Visit<Plain> for Out<'_> {
    fn bit(&mut self, cell: &mut bool) {
        if let Some(bits) = &mut self.bits {
            bits.push(u8::from(*cell));
        }
    }
    fn word(&mut self, cell: &mut u32) {
        if let Some(words) = &mut self.words {
            words.push(*cell);
        }
    }
}

/// Copies bits and words in.
struct In<B, W> {
    bits: B,
    words: W,
}

impl<A: Algebra, B: Iterator<Item = A::Bit>, W: Iterator<Item = A::Word>> Visit<A> for In<B, W> {
    fn bit(&mut self, cell: &mut A::Bit) {
        if let Some(bit) = self.bits.next() {
            *cell = bit;
        }
    }
    fn word(&mut self, cell: &mut A::Word) {
        if let Some(word) = self.words.next() {
            *cell = word;
        }
    }
}

/// Turns bits, of which these numbers are given in order.
struct Turning<'t> {
    bit: usize,
    turned: &'t [usize],
}

impl Visit<Plain> for Turning<'_> {
    fn bit(&mut self, cell: &mut bool) {
        if self.turned.first() == Some(&self.bit) {
            *cell = !*cell;
            self.turned = self.turned.get(1..).unwrap_or_default();
        }
        self.bit += 1;
    }
    fn word(&mut self, _: &mut u32) {}
}

/// Gathers what the noting reading left.
#[derive(Default)]
struct Left {
    bits: Vec<Bit>,
    words: Vec<Noted>,
}

impl Visit<Noting> for Left {
    fn bit(&mut self, cell: &mut Bit) {
        self.bits.push(*cell);
    }
    fn word(&mut self, cell: &mut Noted) {
        self.words.push(*cell);
    }
}

impl Monitors<'_> {
    fn visit(&mut self, visit: &mut impl Visit<Plain>) {
        visit_all(&mut self.judges, &mut self.distances, visit);
    }
}

impl Unit for Monitors<'_> {
    type Told = Judgement;

    fn bits(&mut self, given: &Given<'_>, into: &mut Vec<u8>) {
        into.extend(self.machine.bits().iter().map(|bit| u8::from(*bit)));
        self.visit(&mut Out { bits: Some(into), words: None });
        into.extend(self.turns.iter().map(|turn| u8::try_from(*turn).unwrap_or(u8::MAX)));
        let before = [u64::from(self.before.answer), self.before.off, self.before.active];
        into.extend(before.iter().chain(&given.published).flat_map(|number| number.to_le_bytes()));
        levels(given.sample, into);
    }
    fn words(&mut self, into: &mut Vec<u32>) {
        into.clear();
        into.extend_from_slice(self.machine.words());
        self.visit(&mut Out { bits: None, words: Some(into) });
    }
    fn put(&mut self, words: &[u32]) {
        let (own, judges) = words.split_at_checked(self.machine.words().len()).unwrap_or((words, &[]));
        self.machine.put(own);
        self.visit(&mut In { bits: std::iter::empty(), words: judges.iter().copied() });
    }
    fn turn(&mut self, bits: &[usize]) {
        let own = self.machine.bits().len();
        let (first, turned) = bits.split_at(bits.partition_point(|bit| *bit < own));
        self.machine.turn(first);
        self.visit(&mut Turning { bit: own, turned });
    }
    fn note(&mut self, noting: &mut Noting, given: &Given<'_>) -> Option<After> {
        let [answer, off, active, permit] = given.published;
        let now = Published { answer: Rank::try_from(answer).ok()?, off, active, permit: permit != 0 };
        if now != self.before {
            return None;
        }
        let (mut words, mut bits) = (Vec::new(), Vec::new());
        self.words(&mut words);
        self.visit(&mut Out { bits: Some(&mut bits), words: None });
        let all = noted(&words)?;
        let (own, others) = all.split_at_checked(self.machine.words().len())?;
        let (mut judges, mut distances) = (self.plan.judges(noting, self.station, true), self.plan.distances(noting));
        let known: Vec<_> = bits.iter().map(|bit| noting.bit(*bit != 0)).collect();
        let mut into = In { bits: known.into_iter(), words: others.iter().copied() };
        visit_all(&mut judges, &mut distances, &mut into);

        let mut scene = Scene::<Noting>::default();
        scene.hears(noting, self.plan, self.before, now, &given.sample.links);
        let levels: Vec<_> = given.sample.channels.iter().map(|level| noting.bit(*level)).collect();
        let mut channels = Vec::new();
        self.plan.channels(noting, &levels, &scene.published(), &mut channels);
        let from = From { plan: self.machine.plan(), bits: self.machine.bits(), words: own, all: words.len() };
        let look = |noting: &mut Noting, bound: &Bound<'_, '_, Noting>| {
            scene.looks(noting, self.plan, bound, &mut distances);
        };
        let (mut words, decided) = from.scan(noting, given, &channels, look)?;
        let mut turned_bits = turned(self.machine.bits(), &decided);
        for (judge, turn) in judges.iter_mut().zip(&self.turns) {
            let mut to = *turn;
            let outcome = scene.asks(noting, judge, &mut to);
            noting.decides(outcome.missed);
            if noting.decides(outcome.met) || to != *turn {
                return None;
            }
        }
        for broken in scene.all_broken() {
            noting.decides(*broken);
        }
        let mut left = Left::default();
        visit_all(&mut judges, &mut distances, &mut left);
        words.extend(left.words);
        let (before, decided): (Vec<bool>, Vec<bool>) =
            bits.iter().zip(&left.bits).map(|(before, bit)| (*before != 0, noting.decides(*bit))).unzip();
        let own = self.machine.bits().len();
        turned_bits.extend(turned(&before, &decided).into_iter().map(|bit| own + bit));
        Some(After { words, turned: turned_bits })
    }
}

/// Goes through the cells of judges and distances.
fn visit_all<A: Algebra>(judges: &mut [Judge<A>], distances: &mut [Apart<A>], visit: &mut impl Visit<A>) {
    for judge in judges {
        judge.visit(visit);
    }
    for distance in distances {
        visit.bit(&mut distance.known);
        visit.word(&mut distance.since);
    }
}
