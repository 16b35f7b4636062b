//! One value of one carrier over all its passings, in a fixed number of bins that widen as days are added.

/// Bins of a day before two become one, as a power of two; a day is divided by the number of a carrier's passings.
const POWER: i32 = 5;
const OF_A_DAY: usize = 1 << POWER;
/// Bins of a strip; when they are full, two become one.
const MOST: usize = 64;

/// What lies in a bin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bin {
    /// The least value.
    pub least: f64,
    /// The greatest.
    pub most: f64,
    sum: f64,
    count: u32,
}

impl Bin {
    /// The mean of its values.
    pub fn mean(&self) -> f64 {
        self.sum / f64::from(self.count)
    }
    fn and(self, other: Self) -> Self {
        let (least, most) = (self.least.min(other.least), self.most.max(other.most));
        Self { least, most, sum: self.sum + other.sum, count: self.count.saturating_add(other.count) }
    }
}

/// The strip.
#[derive(Debug, Clone, Default)]
pub struct Strip {
    bins: Vec<Option<Bin>>,
    /// How often two became one.
    halved: i32,
}

impl Strip {
    /// Takes the values of a day, in their order; days count from 0.
    pub fn day(&mut self, day: usize, values: &[f64]) {
        for (at, value) in values.iter().enumerate() {
            self.add(day * OF_A_DAY + at * OF_A_DAY / values.len(), *value);
        }
    }
    fn add(&mut self, at: usize, value: f64) {
        while at >> self.halved >= MOST {
            let joined = |two: &[Option<Bin>]| two.iter().flatten().copied().reduce(Bin::and);
            self.bins = self.bins.chunks(2).map(joined).collect();
            self.halved += 1;
        }
        let at = at >> self.halved;
        if self.bins.len() <= at {
            self.bins.resize(at + 1, None);
        }
        let one = Bin { least: value, most: value, sum: value, count: 1 };
        if let Some(bin) = self.bins.get_mut(at) {
            *bin = Some(bin.map_or(one, |bin| bin.and(one)));
        }
    }
    /// Each bin that holds anything, with the days, from 0, at which it begins and ends.
    pub fn bins(&self) -> impl Iterator<Item = (f64, f64, Bin)> {
        let wide = 2_f64.powi(self.halved - POWER);
        (0_u32..)
            .zip(&self.bins)
            .filter_map(move |(at, bin)| Some((f64::from(at) * wide, f64::from(at + 1) * wide, (*bin)?)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_lost_when_bins_widen() {
        let mut strip = Strip::default();
        for day in 0..150 {
            // It was out for a while.
            if !(40..60).contains(&day) {
                let of_day = f64::from(u32::try_from(day).unwrap());
                strip.day(day, &[of_day, of_day + 0.5, of_day - 0.5]);
            }
        }
        let all: Vec<_> = strip.bins().collect();
        assert!(all.len() <= MOST && all.len() > MOST / 4, "{}", all.len());
        assert_eq!(all.iter().map(|(_, _, bin)| bin.count).sum::<u32>(), 130 * 3);
        let ends = |all: &[(f64, f64, Bin)]| (all[0].2.least, all[all.len() - 1].2.most);
        assert_eq!(ends(&all), (-0.5, 149.5));
        // A value lies in the days that its bin tells.
        assert!(all.iter().all(|(from, to, bin)| *from <= bin.mean() + 0.5 && bin.mean() < *to), "{all:?}");
        assert!(all.iter().all(|(from, to, _)| *to <= 40.0 || *from >= 60.0 - (to - from)));
    }

    #[test]
    fn a_day_alone_is_told_passing_by_passing() {
        let mut strip = Strip::default();
        strip.day(0, &[3.0, 1.0, 2.0]);
        let means: Vec<f64> = strip.bins().map(|(_, _, bin)| bin.mean()).collect();
        assert_eq!(means, [3.0, 1.0, 2.0]);
    }
}
