//! Control charts: the sum of what exceeds an allowance (CUSUM, E. S. Page, 1954; the head start after J. M. Lucas and
//! R. B. Crosier, 1982), and the exponentially weighted mean (EWMA, S. W. Roberts, 1959).

/// A two-sided tabular CUSUM, in the units of its values.
#[derive(Debug, Clone, PartialEq)]
pub struct Cusum {
    target: f64,
    allowance: f64,
    limit: f64,
    high: f64,
    low: f64,
}

/// To which side of its target something has moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Above it.
    High,
    /// Below it.
    Low,
}

impl Cusum {
    /// Both sums at 0. A shift of less than the allowance is no shift; a sum beyond the limit is an alarm.
    pub fn new(target: f64, allowance: f64, limit: f64) -> Self {
        Self { target, allowance, limit, high: 0.0, low: 0.0 }
    }
    /// Both sums begin here and not at 0: an alarm comes sooner where the first values are off already.
    #[must_use]
    pub fn head_start(mut self, at: f64) -> Self {
        (self.high, self.low) = (at, at);
        self
    }
    /// Takes a value; the side to which it now stands beyond the limit.
    pub fn add(&mut self, value: f64) -> Option<Side> {
        let above = value - self.target;
        self.high = (self.high + above - self.allowance).max(0.0);
        self.low = (self.low - above - self.allowance).max(0.0);
        if self.high > self.limit {
            Some(Side::High)
        } else if self.low > self.limit {
            Some(Side::Low)
        } else {
            None
        }
    }
    /// The sums above and below.
    pub fn sums(&self) -> (f64, f64) {
        (self.high, self.low)
    }
}

/// An exponentially weighted mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Ewma {
    weight: f64,
    value: f64,
}

impl Ewma {
    /// Begins at a value; each new one counts with this weight, above 0 and at most 1.
    pub fn new(weight: f64, start: f64) -> Self {
        Self { weight, value: start }
    }
    /// Takes a value; the mean that it makes.
    pub fn add(&mut self, value: f64) -> f64 {
        self.value += self.weight * (value - self.value);
        self.value
    }
    /// The mean.
    pub fn value(&self) -> f64 {
        self.value
    }
    /// How far from its start it may come, in the long run, if values scatter with this standard deviation: so many
    /// of its own standard deviations.
    pub fn reach(&self, deviation: f64, width: f64) -> f64 {
        width * deviation * (self.weight / (2.0 - self.weight)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(all: &[f64], expected: &[f64], by: f64) {
        assert_eq!(all.len(), expected.len());
        for (a, b) in all.iter().zip(expected) {
            assert!((a - b).abs() <= by, "{all:?}\n{expected:?}");
        }
    }

    /// Example of the NIST/SEMATECH handbook of statistical methods, 6.3.2.4 (the data from memory, the sequence recomputed).
    #[test]
    fn the_mean_of_the_handbook() {
        let data = [
            52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4,
            53.6, 52.1,
        ];
        let printed = [
            50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,
            49.92, 50.73, 51.23, 51.94, 51.99,
        ];
        let mut mean = Ewma::new(0.3, 50.0);
        let reach = mean.reach(2.0539, 3.0);
        near(&[50.0 + reach, 50.0 - reach], &[52.5884, 47.4116], 5e-5);
        let means: Vec<f64> = data.iter().map(|value| mean.add(*value)).collect();
        near(&means, &printed, 0.005_001);
        assert!(means.iter().all(|mean| (mean - 50.0).abs() < reach));
    }

    /// The same handbook, 6.3.2.3 (from memory, recomputed): target 325, allowance 0.3175, limit 4.1959.
    #[test]
    fn the_sum_of_the_handbook() {
        let data = [
            324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150,
            328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
        ];
        let mut sum = Cusum::new(325.0, 0.3175, 4.1959);
        let told: Vec<(Option<Side>, (f64, f64))> = data.iter().map(|value| (sum.add(*value), sum.sums())).collect();
        let high: Vec<f64> = told.iter().skip(12).map(|told| told.1.0).collect();
        near(&high, &[3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.03], 0.01);
        assert!(told.iter().all(|told| told.1.1 < 0.73) && (told[7].1.1 - 0.72).abs() < 0.01);
        assert_eq!(told.iter().position(|told| told.0 == Some(Side::High)), Some(13));
        assert!(told.iter().all(|told| told.0 != Some(Side::Low)));
    }

    /// The table of a six-sigma text book after the paper on head starts: limit 5, allowance 0.5.
    #[test]
    fn the_sum_with_a_head_start() {
        let data = [0.8, 1.9, 1.4, 2.0, 1.1, 0.7, 2.6];
        for (start, printed, alarm) in
            [(0.0, [0.3, 1.7, 2.6, 4.1, 4.7, 4.9, 7.0], 6), (2.5, [2.8, 4.2, 5.1, 6.6, 7.2, 7.4, 9.5], 2)]
        {
            let mut sum = Cusum::new(0.0, 0.5, 5.0).head_start(start);
            let told: Vec<(Option<Side>, f64)> = data.iter().map(|value| (sum.add(*value), sum.sums().0)).collect();
            near(&told.iter().map(|told| told.1).collect::<Vec<_>>(), &printed, 1e-9);
            assert_eq!(told.iter().position(|told| told.0.is_some()), Some(alarm));
        }
    }

    /// A plain cumulative sum of a statistics text book (table 16-7, target 99; signs recomputed) is the difference of the two
    /// sums of a CUSUM without allowance, as long as neither has come back to 0: here its size at the first values.
    #[test]
    fn without_allowance_it_sums_the_differences() {
        let mut sum = Cusum::new(99.0, 0.0, f64::INFINITY);
        let lows: Vec<f64> = [94.8, 98.3, 98.4, 102.0, 98.5]
            .iter()
            .map(|value| {
                sum.add(*value);
                sum.sums().1
            })
            .collect();
        // Its second to sixth row, less the first (3.0).
        near(&lows, &[4.2, 4.9, 5.5, 2.5, 3.0], 1e-9);
    }
}
