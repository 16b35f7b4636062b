//! 64 cases to a machine word.

use super::sliced::{Gates, Slices};

/// Bit `i` of a wire belongs to case `i`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Lanes;

impl Lanes {
    /// A word that has `values[i]` in case `i`; cases beyond the slice are 0.
    pub fn word(values: &[u32]) -> Slices<u64> {
        let mut bits = [0_u64; super::sliced::WIDTH];
        for (i, bit) in (0_u32..).zip(bits.iter_mut()) {
            for (lane, value) in (0_u32..64).zip(values) {
                let on = u64::from(value.checked_shr(i).unwrap_or(0) & 1);
                *bit |= on.checked_shl(lane).unwrap_or(0);
            }
        }
        Slices::from_bits(&bits, 0)
    }
    /// The value of a word in one case.
    pub fn value(word: &Slices<u64>, lane: u32) -> u32 {
        let mut value = 0;
        for (i, bit) in (0_u32..).zip(word.bits()) {
            if bit.checked_shr(lane).unwrap_or(0) & 1 == 1 {
                value |= 1_u32.checked_shl(i).unwrap_or(0);
            }
        }
        value
    }
}

impl Gates for Lanes {
    type Bit = u64;
    #[inline(always)]
    fn constant(&mut self, value: bool) -> u64 {
        if value { u64::MAX } else { 0 }
    }
    #[inline(always)]
    fn not(&mut self, a: u64) -> u64 {
        !a
    }
    #[inline(always)]
    fn and(&mut self, a: u64, b: u64) -> u64 {
        a & b
    }
    #[inline(always)]
    fn or(&mut self, a: u64, b: u64) -> u64 {
        a | b
    }
    #[inline(always)]
    fn xor(&mut self, a: u64, b: u64) -> u64 {
        a ^ b
    }
    #[inline(always)]
    fn mux(&mut self, c: u64, t: u64, e: u64) -> u64 {
        (c & t) | (!c & e)
    }
    #[inline(always)]
    fn possible(&mut self, a: u64) -> bool {
        a != 0
    }
}
