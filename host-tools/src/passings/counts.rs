//! Whole numbers, each with how often it came.

use std::collections::BTreeMap;

/// Counts of whole numbers. Its size is that of the window in which they lie.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Counts {
    by: BTreeMap<u32, u64>,
    sum: u64,
}

impl Counts {
    /// One more.
    pub fn add(&mut self, value: u32) {
        *self.by.entry(value).or_default() += 1;
        self.sum += 1;
    }
    /// How many there are.
    pub fn sum(&self) -> u64 {
        self.sum
    }
    /// All of them, in order.
    pub fn all(&self) -> impl Iterator<Item = (u32, u64)> {
        self.by.iter().map(|(value, count)| (*value, *count))
    }
    /// Those that are measurements, and how many are not.
    pub fn split(&self, is_measured: impl Fn(u32) -> bool) -> (Self, u64) {
        let by: BTreeMap<u32, u64> = self.all().filter(|(value, _)| is_measured(*value)).collect();
        let sum = by.values().sum();
        (Self { by, sum }, self.sum - sum)
    }
    /// The least and the greatest.
    pub fn ends(&self) -> Option<(u32, u32)> {
        self.by.keys().next().copied().zip(self.by.keys().next_back().copied())
    }
    /// How many are less.
    pub fn below(&self, value: u32) -> u64 {
        self.by.range(..value).map(|(_, count)| count).sum()
    }
    /// How many are more.
    pub fn above(&self, value: u32) -> u64 {
        self.by.range(value..).filter(|(one, _)| **one > value).map(|(_, count)| count).sum()
    }
}

/// The least of some values in order that at least so many millionths of all do not exceed.
pub fn quantile<T>(values: impl Iterator<Item = (T, u64)>, sum: u64, millionths: u32) -> Option<T> {
    let wanted = (u128::from(sum) * u128::from(millionths)).div_ceil(1_000_000).max(1);
    let mut so_far = 0_u128;
    for (value, count) in values {
        so_far += u128::from(count);
        if so_far >= wanted {
            return Some(value);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantile_is_one_of_the_values() {
        let mut counts = Counts::default();
        for value in [7, 3, 9, 3, 5] {
            counts.add(value);
        }
        let at = |millionths| quantile(counts.all(), counts.sum(), millionths);
        assert_eq!([0, 400_000, 400_001, 500_000, 1_000_000].map(at), [3, 3, 5, 5, 9].map(Some));
        assert_eq!((counts.below(5), counts.above(5), counts.ends()), (2, 2, Some((3, 9))));
        assert_eq!(quantile(std::iter::empty::<(u32, u64)>(), 0, 500_000), None);
    }
}
