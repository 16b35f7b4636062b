//! The two bits of a condition.

/// *May be* and *must be*.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Bits {
    /// It cannot be ruled out; counts in a trip.
    pub(crate) may: bool,
    /// It is certain; counts in a permission.
    pub(crate) must: bool,
}

impl Bits {
    /// Nothing is known.
    pub(crate) const UNKNOWN: Self = Self { may: true, must: false };

    /// Something known: both bits are equal.
    pub(crate) fn known(value: bool) -> Self {
        Self { may: value, must: value }
    }

    /// The opposite: swapped and inverted.
    pub(crate) fn not(self) -> Self {
        Self { may: !self.must, must: !self.may }
    }

    /// Both, bit by bit.
    pub(crate) fn and(self, other: Self) -> Self {
        Self { may: self.may && other.may, must: self.must && other.must }
    }

    /// Either, bit by bit.
    pub(crate) fn or(self, other: Self) -> Self {
        Self { may: self.may || other.may, must: self.must || other.must }
    }
}
