//! Runs a plan on the host, in any of its readings.

use crate::sample::{Health, Sample};
use logic_rules::plan::Plan;
use logic_rules::step::{self, Bound, Frame, Inputs, Moved, Reading};
use logic_rules::{Algebra, Eager, Inverted, Lanes, Plain, Sliced, Slices, Upright};

/// A reading whose results can be looked at.
pub trait Legible: Algebra {
    /// The bit, in the first case.
    fn truth(bit: Self::Bit) -> bool;
    /// The word, in the first case.
    fn number(word: Self::Word) -> u32;
}
impl Legible for Plain {
    fn truth(bit: bool) -> bool {
        bit
    }
    fn number(word: u32) -> u32 {
        word
    }
}
impl Legible for Upright {
    fn truth(bit: u32) -> bool {
        bit != 0
    }
    fn number(word: u32) -> u32 {
        word
    }
}
impl Legible for Inverted {
    fn truth(bit: u32) -> bool {
        bit == 0
    }
    fn number(word: u32) -> u32 {
        !word
    }
}
impl<A: Legible> Legible for Eager<A> {
    fn truth(bit: A::Bit) -> bool {
        A::truth(bit)
    }
    fn number(word: A::Word) -> u32 {
        A::number(word)
    }
}
impl Legible for Sliced<Lanes> {
    fn truth(bit: u64) -> bool {
        bit & 1 == 1
    }
    fn number(word: Slices<u64>) -> u32 {
        Lanes::value(&word, 0)
    }
}

/// State and work, as many cells as the plan needs.
#[derive(Clone)]
struct Cells<A: Algebra> {
    bits: Vec<A::Bit>,
    words: Vec<A::Word>,
    work_bits: Vec<A::Bit>,
    work_words: Vec<A::Word>,
}

impl<A: Algebra> Cells<A> {
    fn power_up(a: &mut A, plan: &Plan<'_>) -> Option<Self> {
        let (needs, no, zero) = (plan.needs(), a.bit(false), a.word(0));
        let mut cells = Self {
            bits: vec![no; needs.bits],
            words: vec![zero; needs.words],
            work_bits: vec![no; needs.work_bits],
            work_words: vec![zero; needs.work_words],
        };
        step::power_up(a, plan, &mut cells.bits, &mut cells.words)?;
        Some(cells)
    }
    fn bind<'s, 'p>(&'s mut self, plan: &'p Plan<'p>) -> Option<Bound<'s, 'p, A>> {
        Bound::over(plan, &mut self.bits, &mut self.words, &mut self.work_bits, &mut self.work_words)
    }
}

/// A plan with its state, in one reading.
#[derive(Clone)]
pub struct Machine<'p, A: Algebra> {
    algebra: A,
    plan: &'p Plan<'p>,
    cells: Cells<A>,
    channels: Vec<A::Bit>,
    gauges: Vec<Reading<A>>,
    sources: Vec<Moved<A>>,
    links: Vec<Frame<A>>,
}

/// What a scan published, beside the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Published {
    /// Rank of the most severe answer.
    pub answer: u32,
    /// The start permit is on.
    pub permit: bool,
    /// The reset acted.
    pub reset: bool,
    /// Something trips.
    pub trips: bool,
}

impl<'p, A: Algebra> Machine<'p, A> {
    /// Powers a plan up; `None` only if the plan does not fit its own needs.
    pub fn power_up(mut algebra: A, plan: &'p Plan<'p>) -> Option<Self> {
        let cells = Cells::power_up(&mut algebra, plan)?;
        Some(Self {
            algebra,
            plan,
            cells,
            channels: Vec::new(),
            gauges: Vec::new(),
            sources: Vec::new(),
            links: Vec::new(),
        })
    }
    /// Its plan.
    pub fn plan(&self) -> &'p Plan<'p> {
        self.plan
    }
    /// Bits of its state.
    pub fn bits(&self) -> &[A::Bit] {
        &self.cells.bits
    }
    /// Words of its state.
    pub fn words(&self) -> &[A::Word] {
        &self.cells.words
    }
    /// Takes other words of state; whatever is too much of them is left out.
    pub fn put(&mut self, words: &[A::Word]) {
        for (cell, word) in self.cells.words.iter_mut().zip(words) {
            *cell = *word;
        }
    }
    /// Turns these bits of its state; what is none of it is left out.
    pub fn turn(&mut self, bits: &[usize])
    where
        A::Bit: std::ops::Not<Output = A::Bit>,
    {
        for bit in bits {
            if let Some(cell) = self.cells.bits.get_mut(*bit) {
                *cell = !*cell;
            }
        }
    }
    /// Starts again as at power-up.
    pub fn restart(&mut self) {
        if let Some(cells) = Cells::power_up(&mut self.algebra, self.plan) {
            self.cells = cells;
        }
    }
    /// One scan. `None` if the sample is not one of this station.
    pub fn scan(&mut self, sample: &Sample) -> Option<Published>
    where
        A: Legible,
    {
        lift(&mut self.algebra, sample, &mut self.channels, &mut self.gauges, &mut self.sources, &mut self.links);
        let inputs =
            Inputs { channels: &self.channels, gauges: &self.gauges, sources: &self.sources, links: &self.links };
        let mut bound = self.cells.bind(self.plan)?;
        let verdict = bound.scan(&mut self.algebra, &inputs)?;
        Some(Published {
            answer: A::number(verdict.answer),
            permit: A::truth(verdict.permit),
            reset: A::truth(verdict.reset),
            trips: A::truth(verdict.trips),
        })
    }
    /// Begins to judge a recording of a running lift; see `Bound::adopt`.
    pub fn adopt(&mut self) {
        if let Some(mut bound) = self.cells.bind(self.plan) {
            bound.adopt(&mut self.algebra);
        }
    }
    /// Looks at the cells after a scan.
    pub fn look<T>(&mut self, at: impl FnOnce(&Bound<'_, '_, A>) -> T) -> Option<T> {
        self.cells.bind(self.plan).map(|bound| at(&bound))
    }
}

/// A sample in a reading's own bits and words.
pub fn lift<A: Algebra>(
    a: &mut A,
    sample: &Sample,
    channels: &mut Vec<A::Bit>,
    gauges: &mut Vec<Reading<A>>,
    sources: &mut Vec<Moved<A>>,
    links: &mut Vec<Frame<A>>,
) {
    channels.clear();
    channels.extend(sample.channels.iter().map(|&level| a.bit(level)));
    gauges.clear();
    gauges.extend(sample.gauges.iter().map(|reading| Reading {
        value: a.word(reading.steps),
        good: a.bit(reading.health == Health::Good),
        broken: a.bit(reading.health == Health::Broken),
    }));
    sources.clear();
    sources.extend(sample.travel.iter().map(|&mm| Moved {
        forward: a.word(u32::try_from(mm).unwrap_or(0)),
        back: a.word(if mm < 0 { mm.unsigned_abs() } else { 0 }),
    }));
    links.clear();
    links.extend(
        sample.links.iter().map(|frame| Frame { fresh: a.bit(frame.fresh), order: a.word(u32::from(frame.order)) }),
    );
}
