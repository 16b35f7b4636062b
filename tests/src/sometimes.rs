//! A reading that takes only some of its shortcuts.

use logic_rules::Algebra;

use crate::generate::Rng;

/// Where the reading would skip a block, it does so at random.
#[derive(Debug)]
pub struct Sometimes<'r, A> {
    a: A,
    percent: u64,
    rng: &'r mut Rng,
}

impl<'r, A> Sometimes<'r, A> {
    /// Skips so many of a hundred blocks that may be skipped.
    pub fn new(a: A, percent: u64, rng: &'r mut Rng) -> Self {
        Self { a, percent, rng }
    }
}

impl<A: Algebra> Algebra for Sometimes<'_, A> {
    type Bit = A::Bit;
    type Word = A::Word;
    fn bit(&mut self, value: bool) -> A::Bit {
        self.a.bit(value)
    }
    fn not(&mut self, a: A::Bit) -> A::Bit {
        self.a.not(a)
    }
    fn and(&mut self, a: A::Bit, b: A::Bit) -> A::Bit {
        self.a.and(a, b)
    }
    fn or(&mut self, a: A::Bit, b: A::Bit) -> A::Bit {
        self.a.or(a, b)
    }
    fn xor(&mut self, a: A::Bit, b: A::Bit) -> A::Bit {
        self.a.xor(a, b)
    }
    fn word(&mut self, value: u32) -> A::Word {
        self.a.word(value)
    }
    fn add(&mut self, a: A::Word, b: A::Word, top: u32) -> A::Word {
        self.a.add(a, b, top)
    }
    fn sub(&mut self, a: A::Word, b: A::Word) -> A::Word {
        self.a.sub(a, b)
    }
    fn difference(&mut self, a: A::Word, b: A::Word) -> A::Word {
        self.a.difference(a, b)
    }
    fn at_least(&mut self, a: A::Word, limit: u32) -> A::Bit {
        self.a.at_least(a, limit)
    }
    fn set_bit(&mut self, when: A::Bit, cell: &mut A::Bit, new: A::Bit) {
        self.a.set_bit(when, cell, new);
    }
    fn set_word(&mut self, when: A::Bit, cell: &mut A::Word, new: A::Word) {
        self.a.set_word(when, cell, new);
    }
    fn possible(&mut self, a: A::Bit) -> bool {
        self.a.possible(a) || !self.rng.chance(self.percent)
    }
}
