//! The reading of the controller's first copy: as plain as [`Plain`](super::plain::Plain), but with bits as wide as
//! words. A cell of memory in which a bit has turned is then still a value of its type, whichever bit it was,
//! and every bit of it can be held against the complement that [`Inverted`](super::inverted::Inverted) keeps.

use super::Algebra;

/// A bit is all ones for true and 0 for false; a word is stored as it is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Upright;

impl Algebra for Upright {
    type Bit = u32;
    type Word = u32;
    #[inline(always)]
    fn bit(&mut self, value: bool) -> u32 {
        if value { u32::MAX } else { 0 }
    }
    #[inline(always)]
    fn not(&mut self, a: u32) -> u32 {
        !a
    }
    #[inline(always)]
    fn and(&mut self, a: u32, b: u32) -> u32 {
        a & b
    }
    #[inline(always)]
    fn or(&mut self, a: u32, b: u32) -> u32 {
        a | b
    }
    #[inline(always)]
    fn xor(&mut self, a: u32, b: u32) -> u32 {
        a ^ b
    }
    #[inline(always)]
    fn word(&mut self, value: u32) -> u32 {
        value
    }
    #[inline(always)]
    fn add(&mut self, a: u32, b: u32, top: u32) -> u32 {
        a.saturating_add(b).min(top)
    }
    #[inline(always)]
    fn sub(&mut self, a: u32, b: u32) -> u32 {
        a.saturating_sub(b)
    }
    #[inline(always)]
    fn difference(&mut self, a: u32, b: u32) -> u32 {
        a.abs_diff(b)
    }
    #[inline(always)]
    fn at_least(&mut self, a: u32, limit: u32) -> u32 {
        self.bit(a >= limit)
    }
    #[inline(always)]
    fn more_than(&mut self, a: u32, limit: u32) -> u32 {
        self.bit(a > limit)
    }
    #[inline(always)]
    fn set_bit(&mut self, when: u32, cell: &mut u32, new: u32) {
        *cell = (new & when) | (*cell & !when);
    }
    #[inline(always)]
    fn set_word(&mut self, when: u32, cell: &mut u32, new: u32) {
        *cell = (new & when) | (*cell & !when);
    }
    #[inline(always)]
    fn possible(&mut self, a: u32) -> bool {
        a != 0
    }
}
