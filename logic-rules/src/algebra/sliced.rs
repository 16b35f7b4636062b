//! Words as rows of bits over any gates: one word implementation for the lanes and, on the host,
//! the circuit.

use super::{Algebra, Cut};

/// Two-input gates.
pub trait Gates {
    /// A wire.
    type Bit: Copy;
    /// A constant.
    fn constant(&mut self, value: bool) -> Self::Bit;
    /// Not.
    fn not(&mut self, a: Self::Bit) -> Self::Bit;
    /// Both.
    fn and(&mut self, a: Self::Bit, b: Self::Bit) -> Self::Bit;
    /// Either.
    fn or(&mut self, a: Self::Bit, b: Self::Bit) -> Self::Bit;
    /// Exactly one.
    fn xor(&mut self, a: Self::Bit, b: Self::Bit) -> Self::Bit;
    /// `t` where `c` holds, else `e`.
    fn mux(&mut self, c: Self::Bit, t: Self::Bit, e: Self::Bit) -> Self::Bit;
    /// May `a` hold?
    fn possible(&mut self, a: Self::Bit) -> bool;
    /// `a` itself, unless a prover cuts here.
    #[inline(always)]
    fn cut(&mut self, _place: Cut, a: Self::Bit) -> Self::Bit {
        a
    }
    /// From here on cuts are taken, or not.
    #[inline(always)]
    fn cutting(&mut self, _on: bool) {}
}

/// Bits of a word.
pub const WIDTH: usize = 32;

/// A word, least bit first. Bits at and above `width` are constant false; `width` follows from
/// how the word was made, never from a range that states are only believed to keep.
#[derive(Debug, Clone, Copy)]
pub struct Slices<B> {
    bits: [B; WIDTH],
    width: usize,
}

impl<B: Copy> Slices<B> {
    /// Bits below the width.
    pub fn bits(&self) -> &[B] {
        self.bits.get(..self.width).unwrap_or(&self.bits)
    }
    /// A word from its bits; bits beyond 32 are dropped, missing ones are `no`.
    pub fn from_bits(given: &[B], no: B) -> Self {
        let mut bits = [no; WIDTH];
        for (cell, bit) in bits.iter_mut().zip(given) {
            *cell = *bit;
        }
        Self { bits, width: given.len().min(WIDTH) }
    }
    fn wide(&self, width: usize) -> &[B] {
        self.bits.get(..width).unwrap_or(&self.bits)
    }
}

/// Bits needed for values up to `top`.
pub fn width(top: u32) -> usize {
    usize::try_from(u32::BITS.saturating_sub(top.leading_zeros())).unwrap_or(WIDTH)
}

/// A reading over gates.
#[derive(Debug, Clone, Copy, Default)]
pub struct Sliced<G>(pub G);

impl<G: Gates> Sliced<G> {
    /// `a - b` in two's complement over `width` bits, and the borrow.
    fn minus(&mut self, a: &Slices<G::Bit>, b: &Slices<G::Bit>, width: usize) -> (Slices<G::Bit>, G::Bit) {
        let no = self.0.constant(false);
        let mut out = Slices { bits: [no; WIDTH], width };
        let mut borrow = no;
        for ((cell, &x), &y) in out.bits.iter_mut().zip(a.wide(width)).zip(b.wide(width)) {
            let differ = self.0.xor(x, y);
            *cell = self.0.xor(differ, borrow);
            borrow = self.0.mux(differ, y, borrow);
        }
        (out, borrow)
    }
}

impl<G: Gates> Algebra for Sliced<G> {
    type Bit = G::Bit;
    type Word = Slices<G::Bit>;
    fn bit(&mut self, value: bool) -> G::Bit {
        self.0.constant(value)
    }
    fn not(&mut self, a: G::Bit) -> G::Bit {
        self.0.not(a)
    }
    fn and(&mut self, a: G::Bit, b: G::Bit) -> G::Bit {
        self.0.and(a, b)
    }
    fn or(&mut self, a: G::Bit, b: G::Bit) -> G::Bit {
        self.0.or(a, b)
    }
    fn xor(&mut self, a: G::Bit, b: G::Bit) -> G::Bit {
        self.0.xor(a, b)
    }
    fn word(&mut self, value: u32) -> Slices<G::Bit> {
        let no = self.0.constant(false);
        let yes = self.0.constant(true);
        let mut bits = [no; WIDTH];
        for (i, bit) in (0_u32..).zip(bits.iter_mut()) {
            if value.checked_shr(i).unwrap_or(0) & 1 == 1 {
                *bit = yes;
            }
        }
        Slices { bits, width: width(value) }
    }
    fn add(&mut self, a: Slices<G::Bit>, b: Slices<G::Bit>, top: u32) -> Slices<G::Bit> {
        let no = self.0.constant(false);
        let wide = a.width.max(b.width);
        let mut sum = Slices { bits: [no; WIDTH], width: wide };
        let mut carry = no;
        for ((cell, &x), &y) in sum.bits.iter_mut().zip(a.wide(wide)).zip(b.wide(wide)) {
            let differ = self.0.xor(x, y);
            *cell = self.0.xor(differ, carry);
            carry = self.0.mux(differ, carry, x);
        }
        let overflow = match sum.bits.get_mut(wide) {
            Some(cell) => {
                *cell = carry;
                sum.width = wide.saturating_add(1);
                no
            }
            None => carry,
        };
        // Folding by width is exact in every state: a sum that has no bits for more than `top` cannot exceed it.
        if sum.width < WIDTH && width(top) > sum.width {
            return sum;
        }
        let beyond = self.at_least(sum, top);
        let over = self.0.or(overflow, beyond);
        let full = self.word(top);
        for (cell, &f) in sum.bits.iter_mut().zip(&full.bits) {
            *cell = self.0.mux(over, f, *cell);
        }
        // What is not `over` is below `top`, and `top` itself needs `width(top)` bits.
        for cell in sum.bits.iter_mut().skip(width(top)) {
            *cell = no;
        }
        sum.width = width(top);
        sum
    }
    fn sub(&mut self, a: Slices<G::Bit>, b: Slices<G::Bit>) -> Slices<G::Bit> {
        let (mut out, borrow) = self.minus(&a, &b, a.width.max(b.width));
        let keep = self.0.not(borrow);
        for cell in out.bits.iter_mut().take(out.width) {
            *cell = self.0.and(*cell, keep);
        }
        // The result never exceeds `a`.
        let no = self.0.constant(false);
        for cell in out.bits.iter_mut().skip(a.width) {
            *cell = no;
        }
        out.width = a.width;
        out
    }
    fn difference(&mut self, a: Slices<G::Bit>, b: Slices<G::Bit>) -> Slices<G::Bit> {
        let wide = a.width.max(b.width);
        let (mut forth, borrow) = self.minus(&a, &b, wide);
        let (back, _) = self.minus(&b, &a, wide);
        for (cell, &other) in forth.bits.iter_mut().zip(&back.bits) {
            *cell = self.0.mux(borrow, other, *cell);
        }
        forth
    }
    fn at_least(&mut self, a: Slices<G::Bit>, limit: u32) -> G::Bit {
        if width(limit) > a.width {
            return self.0.constant(false);
        }
        let mut so_far = self.0.constant(true);
        for (i, &x) in (0_u32..).zip(a.bits()) {
            so_far =
                if limit.checked_shr(i).unwrap_or(0) & 1 == 1 { self.0.and(x, so_far) } else { self.0.or(x, so_far) };
        }
        so_far
    }
    fn at_most(&mut self, a: Slices<G::Bit>, b: Slices<G::Bit>) -> G::Bit {
        let (_, borrow) = self.minus(&b, &a, a.width.max(b.width));
        self.0.not(borrow)
    }
    fn set_bit(&mut self, when: G::Bit, cell: &mut G::Bit, new: G::Bit) {
        *cell = self.0.mux(when, new, *cell);
    }
    fn set_word(&mut self, when: G::Bit, cell: &mut Slices<G::Bit>, new: Slices<G::Bit>) {
        cell.width = cell.width.max(new.width);
        for (c, &n) in cell.bits.iter_mut().zip(new.wide(cell.width)) {
            *c = self.0.mux(when, n, *c);
        }
    }
    fn possible(&mut self, a: G::Bit) -> bool {
        self.0.possible(a)
    }
    fn cut(&mut self, place: Cut, a: G::Bit) -> G::Bit {
        self.0.cut(place, a)
    }
    fn cutting(&mut self, on: bool) {
        self.0.cutting(on);
    }
}
