//! Any reading with its shortcuts taken away. It must give the same results, which is tested and proved.

use super::Algebra;

/// `possible` always answers true.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Eager<A>(pub A);

impl<A: Algebra> Algebra for Eager<A> {
    type Bit = A::Bit;
    type Word = A::Word;
    #[inline(always)]
    fn bit(&mut self, value: bool) -> A::Bit {
        self.0.bit(value)
    }
    #[inline(always)]
    fn not(&mut self, a: A::Bit) -> A::Bit {
        self.0.not(a)
    }
    #[inline(always)]
    fn and(&mut self, a: A::Bit, b: A::Bit) -> A::Bit {
        self.0.and(a, b)
    }
    #[inline(always)]
    fn or(&mut self, a: A::Bit, b: A::Bit) -> A::Bit {
        self.0.or(a, b)
    }
    #[inline(always)]
    fn xor(&mut self, a: A::Bit, b: A::Bit) -> A::Bit {
        self.0.xor(a, b)
    }
    #[inline(always)]
    fn word(&mut self, value: u32) -> A::Word {
        self.0.word(value)
    }
    #[inline(always)]
    fn add(&mut self, a: A::Word, b: A::Word, top: u32) -> A::Word {
        self.0.add(a, b, top)
    }
    #[inline(always)]
    fn sub(&mut self, a: A::Word, b: A::Word) -> A::Word {
        self.0.sub(a, b)
    }
    #[inline(always)]
    fn difference(&mut self, a: A::Word, b: A::Word) -> A::Word {
        self.0.difference(a, b)
    }
    #[inline(always)]
    fn at_least(&mut self, a: A::Word, limit: u32) -> A::Bit {
        self.0.at_least(a, limit)
    }
    #[inline(always)]
    fn more_than(&mut self, a: A::Word, limit: u32) -> A::Bit {
        self.0.more_than(a, limit)
    }
    #[inline(always)]
    fn set_bit(&mut self, when: A::Bit, cell: &mut A::Bit, new: A::Bit) {
        self.0.set_bit(when, cell, new);
    }
    #[inline(always)]
    fn set_word(&mut self, when: A::Bit, cell: &mut A::Word, new: A::Word) {
        self.0.set_word(when, cell, new);
    }
    #[inline(always)]
    fn possible(&mut self, _: A::Bit) -> bool {
        true
    }
}
