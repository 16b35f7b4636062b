//! Middles and spreads that a few wild values do not move.

/// The median; none of nothing.
pub(super) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut all: Vec<f64> = values.collect();
    let middle = all.len() / 2;
    all.sort_unstable_by(f64::total_cmp);
    let high = all.get(middle).copied()?;
    if all.len() % 2 == 1 {
        return Some(high);
    }
    all.get(middle.checked_sub(1)?).map(|low| f64::midpoint(*low, high))
}

/// The standard deviation that values around 0 would have if they were normal: 1.4826 times the median of their sizes.
pub(super) fn spread(values: impl Iterator<Item = f64>) -> Option<f64> {
    median(values.map(f64::abs)).map(|size| 1.4826 * size)
}

/// The mean; none of nothing.
pub(super) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / real(values.len()))
}

/// A count as a real number.
#[expect(clippy::cast_precision_loss, reason = "counts stay far below two to the power of 53")]
pub(super) fn real(count: usize) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn middles() {
        assert_eq!(median([3.0, 1.0, 2.0].into_iter()), Some(2.0));
        assert_eq!(median([4.0, 1.0, 2.0, 3.0].into_iter()), Some(2.5));
        assert_eq!(median(std::iter::empty()), None);
        assert_eq!(spread([-1.0, 1.0, 1e9].into_iter()), Some(1.4826));
        assert_eq!((mean(&[1.0, 2.0]), mean(&[])), (Some(1.5), None));
    }
}
