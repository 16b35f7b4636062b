//! Where something stands in the rule files that were read together.

/// A stretch of one file, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Place {
    /// Which file of the reading, from 0.
    pub file: u16,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

/// A value with the place it was written at.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Placed<T> {
    /// What was written.
    pub value: T,
    /// Where it was written.
    pub place: Place,
}

impl<T> Placed<T> {
    /// Puts a value at a place.
    pub fn new(value: T, place: Place) -> Self {
        Self { value, place }
    }
}
