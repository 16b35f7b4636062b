//! The reading of the controller and the replay: one case, machine integers.

use super::Algebra;

/// Bits are `bool`, words are `u32`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Plain;

impl Algebra for Plain {
    type Bit = bool;
    type Word = u32;
    #[inline(always)]
    fn bit(&mut self, value: bool) -> bool {
        value
    }
    #[inline(always)]
    fn not(&mut self, a: bool) -> bool {
        !a
    }
    #[inline(always)]
    fn and(&mut self, a: bool, b: bool) -> bool {
        a & b
    }
    #[inline(always)]
    fn or(&mut self, a: bool, b: bool) -> bool {
        a | b
    }
    #[inline(always)]
    fn xor(&mut self, a: bool, b: bool) -> bool {
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
    fn at_least(&mut self, a: u32, limit: u32) -> bool {
        a >= limit
    }
    #[inline(always)]
    fn more_than(&mut self, a: u32, limit: u32) -> bool {
        a > limit
    }
    #[inline(always)]
    fn set_bit(&mut self, when: bool, cell: &mut bool, new: bool) {
        *cell = if when { new } else { *cell };
    }
    #[inline(always)]
    fn set_word(&mut self, when: bool, cell: &mut u32, new: u32) {
        *cell = if when { new } else { *cell };
    }
    #[inline(always)]
    fn possible(&mut self, a: bool) -> bool {
        a
    }
}
