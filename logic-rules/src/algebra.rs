//! What a step may do: bits, and unsigned words with a known greatest value.

pub mod eager;
pub mod inverted;
pub mod lanes;
pub mod plain;
pub mod sliced;
pub mod upright;

/// A place where a prover may cut: what follows it is then judged for every value it could have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Cut {
    /// A way trips, after modes and bypasses have had their say.
    Way(usize),
    /// A bypass is active.
    Bypass(usize),
    /// The reset acts.
    Reset,
}

/// One reading of the step.
///
/// Two laws hold for every reading. State is written only through [`set_bit`](Algebra::set_bit) and
/// [`set_word`](Algebra::set_word). [`possible`](Algebra::possible) may answer true at any time without
/// changing any result: a block may be skipped only if it would leave every cell as it is, in any state, wherever the
/// bit that was asked for does not hold.
pub trait Algebra {
    /// A truth value.
    type Bit: Copy;
    /// An unsigned word of at most 32 bits.
    type Word: Copy;

    /// A constant bit.
    fn bit(&mut self, value: bool) -> Self::Bit;
    /// Not.
    fn not(&mut self, a: Self::Bit) -> Self::Bit;
    /// Both.
    fn and(&mut self, a: Self::Bit, b: Self::Bit) -> Self::Bit;
    /// Either.
    fn or(&mut self, a: Self::Bit, b: Self::Bit) -> Self::Bit;
    /// Exactly one.
    fn xor(&mut self, a: Self::Bit, b: Self::Bit) -> Self::Bit;
    /// `a` without `b`.
    #[inline(always)]
    fn but(&mut self, a: Self::Bit, b: Self::Bit) -> Self::Bit {
        let other = self.not(b);
        self.and(a, other)
    }

    /// A constant word.
    fn word(&mut self, value: u32) -> Self::Word;
    /// `min(a + b, top)`.
    fn add(&mut self, a: Self::Word, b: Self::Word, top: u32) -> Self::Word;
    /// `max(a - b, 0)`.
    fn sub(&mut self, a: Self::Word, b: Self::Word) -> Self::Word;
    /// The greater less the smaller.
    fn difference(&mut self, a: Self::Word, b: Self::Word) -> Self::Word;
    /// `a >= limit`.
    fn at_least(&mut self, a: Self::Word, limit: u32) -> Self::Bit;

    /// `a > limit`.
    #[inline(always)]
    fn more_than(&mut self, a: Self::Word, limit: u32) -> Self::Bit {
        match limit.checked_add(1) {
            Some(least) => self.at_least(a, least),
            None => self.bit(false),
        }
    }

    /// `a <= b`.
    #[inline(always)]
    fn at_most(&mut self, a: Self::Word, b: Self::Word) -> Self::Bit {
        let more = self.sub(a, b);
        let some = self.at_least(more, 1);
        self.not(some)
    }

    /// `cell = new` where `when` holds; nothing changes elsewhere.
    fn set_bit(&mut self, when: Self::Bit, cell: &mut Self::Bit, new: Self::Bit);
    /// `cell = new` where `when` holds; nothing changes elsewhere.
    fn set_word(&mut self, when: Self::Bit, cell: &mut Self::Word, new: Self::Word);

    /// May `a` hold? A hint.
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
